"""Which class of lens suits which eye and which wish: why, how well that is known, what is first.

The worst effect of the rules that fire is the verdict, and every rule that fired is shown.
Thresholds are prompts, not laws. Classes are generic: what a lens's labelling says comes first.

Sources
-------
Beside each rule, in ``rules.toml``. Where sources disagree, the sides are shown together.
"""

from dataclasses import dataclass

from shared_utils import CAUTION
from shared_utils.choice.findings import Patient
from shared_utils.choice.rules import AGAINST, EFFECTS, Book, Rule, book
from shared_utils.choice.vocabulary import WISHES
from shared_utils.optics.lenses import LENS_CLASSES

VERDICTS = ("suits", *reversed(AGAINST))
"""From best to worst."""


@dataclass(frozen=True)
class Advice:
    """What the rules say of one class of lens for one patient.

    Attributes
    ----------
    lens_class : str
        One of ``lenses.LENS_CLASSES``, or what is planned: "monovision" or "toric".
    verdict : str
        "suits", "with care" or "not advised".
    reasons : tuple of rules.Reason
        Every rule that fired, by weight: what it does, then how well it is founded.
    would_change : tuple of str
        What to treat, measure again or ask again, and so perhaps change a reason.
    conflicts : tuple of rules.Conflict
        Where sources disagree about a reason.
    examine_first : tuple of str
        What is not known and comes before the choice.
    borderline : tuple of str
        Measurements so near to a threshold that they may lie on its other side.
    caution : str
        For learning, not for patient care.
    eye_verdict, wish_verdict : str
        What the eye allows, and what the wishes cost, each alone; ``verdict`` is the worse.
    """

    lens_class: str
    verdict: str
    reasons: tuple
    would_change: tuple
    conflicts: tuple
    examine_first: tuple
    borderline: tuple
    caution: str = CAUTION
    eye_verdict: str = "suits"
    wish_verdict: str = "suits"

    def __str__(self):
        lines = [f"{self.lens_class}: {self.verdict}"]
        lines += [f"  {reason.effect}: {_founded(reason)}" for reason in self.reasons]
        for title, sentences in (
            ("would change it", self.would_change),
            ("examine first", self.examine_first),
            ("borderline", self.borderline),
        ):
            lines += [f"  {title}: {sentence}" for sentence in sentences]
        for conflict in self.conflicts:
            lines.append(f"  sources disagree on {conflict.topic}:")
            lines += [f"    {_founded(side)}" for side in conflict.sides]
        return "\n".join([*lines, f"  {self.caution}"])


def assess(patient: Patient) -> tuple[Advice, ...]:
    """Return what the rules say of each class of lens for a patient.

    Parameters
    ----------
    patient : findings.Patient
        What is unknown is never taken for normal: the advice says what to examine first.

    Returns
    -------
    tuple of Advice
        One for each class, from one focus to three. A monofocal is never refused.

    Raises
    ------
    ValueError
        If it is not given a patient.

    Sources
    -------
    Beside each reason.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> for advice in assess(otherwise_healthy({"glaucoma": "moderate"})):
    ...     print(advice.lens_class, "-", advice.verdict)
    monofocal - suits
    enhanced monofocal - suits
    extended depth of focus - with care
    bifocal - not advised
    trifocal - not advised
    """
    if not isinstance(patient, Patient):
        raise ValueError(
            "assess takes a Patient; make one with shared_utils.choice.findings.from_dict."
        )
    return advise(book(), patient.values, LENS_CLASSES)


def advise(rules: Book, values: dict, subjects: tuple) -> tuple[Advice, ...]:
    """Return what rules say of each class of lens, or of each plan, for these values.

    Parameters
    ----------
    rules : rules.Book
        `rules.book`, or its ``plans``.
    values : dict of str to (str or float)
        Every name that a rule asks for.
    subjects : tuple of str
        Classes of lens, or plans.

    Returns
    -------
    tuple of Advice
        One for each.
    """
    fired = rules.fired(values)
    near = [
        threshold for threshold in rules.thresholds if threshold.borders(values[threshold.name])
    ]
    return tuple(_advice(rules, subject, fired, near, values) for subject in subjects)


def speaks_of_wishes(rule: Rule) -> bool:
    """Return whether a rule rests on what the patient wishes, and not on the eye alone.

    Parameters
    ----------
    rule : rules.Rule

    Returns
    -------
    bool
    """
    return not WISHES.keys().isdisjoint((*rule.when, *rule.findings))


def _advice(rules, lens_class, fired, near, values):
    by_effect = {effect: [] for effect in EFFECTS}
    for rule in fired:  # best founded first, and so within each effect
        if lens_class in rule.effect:
            by_effect[rule.effect[lens_class]].append(rule)
    here = [rule for those in by_effect.values() for rule in those]
    keys = {rule.key for rule in here}
    of_wishes, of_eye = (
        {
            effect
            for effect in AGAINST
            if any(speaks_of_wishes(rule) == wishes for rule in by_effect[effect])
        }
        for wishes in (True, False)
    )
    return Advice(
        lens_class=lens_class,
        verdict=_worst(of_wishes | of_eye),
        eye_verdict=_worst(of_eye),
        wish_verdict=_worst(of_wishes),
        reasons=tuple(rule.reason(lens_class, values) for rule in here),
        would_change=_each_once(rule.change for rule in here),
        conflicts=tuple(
            conflict
            for conflict in rules.conflicts
            if lens_class in conflict.classes and not conflict.rules.isdisjoint(keys)
        ),
        examine_first=_each_once(rule.do for rule in here),
        borderline=_each_once(
            threshold.sentence(values[threshold.name])
            for threshold in near
            if lens_class in threshold.classes
        ),
    )


def _worst(effects):
    return next((effect for effect in AGAINST if effect in effects), "suits")


def _each_once(sentences):
    return tuple(dict.fromkeys(sentence for sentence in sentences if sentence))


def _founded(reason):
    if reason.source.startswith(reason.strength):  # "common practice, no source"
        return f"{reason.text} [{reason.source}]"
    return f"{reason.text} [{reason.strength}: {reason.source}]"

"""The words of a sheet that a patient takes home: one page, for a reader of about twelve years.

What the sheet says follows from the advice, from the glasses that remain and from ``wording.toml``,
which holds every word; this module only chooses. ``show`` adds the pictures.

Sources
-------
Beside each trade-off, in ``wording.toml``; numbers of people come from ``evidence.toml``.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import cache
from os import PathLike
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.choice import candidacy, evidence, gate, outlook, plans, tasks
from shared_utils.choice.findings import Patient
from shared_utils.choice.rules import AGAINST, LIGHT_SPLITTING, book
from shared_utils.choice.vocabulary import FINDINGS, UNKNOWN, VOCABULARY, WISHES, Graded
from shared_utils.optics import domain

if TYPE_CHECKING:
    from typing import Any

FILE = Path(__file__).parent / "wording.toml"

_HINT = "Myopia is negative."

MAX_REASONS = 3
"""A page has no room for more; the first weigh most."""

UNSURE_FROM_D = 0.3
"""Added spread from which the sheet says that the power may well miss: assumed."""

GLASSES_ASKED = 1
"""Place of the question about glasses among those for everybody."""

EITHER_WAY_OF_100 = (20, 80)
"""A task that so many of 100 such people do without glasses has a question mark: assumed."""

NEAR_FROM_D, FAR_UP_TO_D = -0.5, 0.5
"""An eye aimed at the first or less is set for closer up, at more than the second beyond far."""

FAR_FROM_D = -0.75
"""The eye for far of two that differ has this at least, as the rules of monovision say."""

TREATED = frozenset(
    {
        *("dry_eye", "surface_treatment", "tear_osmolarity_mosm", "surface_lesion", "uveitis"),
        *("endothelial_dystrophy", "corneal_opacity", "irregular_astigmatism", "corneal_graft"),
        *("corneal_hoa_4mm_um", "corneal_hoa_6mm_um", "contact_lens_wear", "vitrectomy"),
        *("epiretinal_membrane", "macular_oedema", "diabetes", "diabetic_retinopathy"),
        *("glaucoma_course", "ectasia_course"),
    }
)
"""Findings that can be treated before a lens is chosen, where a rule names the change: common
practice, no source. What can only be measured or mapped again is not among them."""

HAS_A_LENS = ("pseudophakic monofocal", "pseudophakic light-splitting")

SHARES_LIGHT = ("extended depth of focus", *LIGHT_SPLITTING)


@dataclass(frozen=True)
class LensPart:
    """What the sheet says of one class of lens.

    Attributes
    ----------
    lens_class : str
    name, trade_name, what, verdict, wish : str
        Plain name, the trade's name, what it does; what the eye allows; what the wishes cost.
    lines : tuple of str
        What in the eye speaks against it, then what most such people do without glasses, and what
        with which; a question mark where it could go either way.
    """

    lens_class: str
    name: str
    trade_name: str
    what: str
    verdict: str
    wish: str
    lines: tuple


@dataclass(frozen=True)
class Sheet:
    """The words of the sheet, in the order in which they are read.

    Attributes
    ----------
    language : str
        As in a web page, such as "en".
    title, for_whom : str
    intro, check, plan, notes, trade, night, questions, sources : tuple of str
        Sentences; ``check`` is what is still unknown, ``notes`` how sure the list is.
    headings : dict of str to str
    lenses, not_advised : tuple of LensPart
        Classes that could be chosen, and those that the rules advise against.
    none_refused : str
        What stands where none is advised against.
    caution : str
    """

    language: str
    title: str
    for_whom: str
    intro: tuple
    check: tuple
    plan: tuple
    notes: tuple
    trade: tuple
    night: tuple
    questions: tuple
    sources: tuple
    headings: dict
    lenses: tuple
    not_advised: tuple
    none_refused: str
    caution: str

    def sections(self) -> list[tuple[str, str, tuple]]:
        """Return the headings with what stands under each, in order.

        Returns
        -------
        list of (str, str, tuple)
            Key, heading, and sentences or `LensPart`.
        """
        refused = self.not_advised or (self.none_refused,)
        parts = (
            ("first", self.check),
            ("lenses", (*self.plan, *self.lenses, *self.notes)),
            ("not_advised", refused),
            ("trade", self.trade),
            ("night", self.night),
            ("ask", self.questions),
        )
        return [(key, self.headings[key], lines) for key, lines in parts if lines]

    def plain_text(self) -> str:
        """Return all that the patient reads, without sources and the caution."""
        lines = [self.title, *self.intro]
        for _, heading, parts in self.sections():
            lines.append(f"{heading}:")
            for part in parts:
                if isinstance(part, LensPart):
                    lines += [
                        f"{part.name}. {part.what}",
                        f"{part.verdict} {part.wish}".rstrip(),
                        *part.lines,
                    ]
                else:
                    lines.append(part)
        return "\n".join(lines)

    def __str__(self):
        return f"{self.caution}\n{self.plain_text()}\n{self.caution}"


def wording(path: str | PathLike[str] | None = None) -> dict[str, Any]:
    """Return every word of the sheet, in English or as a translation says it.

    Parameters
    ----------
    path : str or pathlib.Path, optional
        A file made as ``wording.toml``, whose head says how to translate; English unless given.

    Returns
    -------
    dict

    Raises
    ------
    ValueError
        If the file cannot be read, a translation lacks a word or a place for a number, or a
        sentence states a ratio without its base and interval, naming it.

    Examples
    --------
    >>> wording()["lens"]["bifocal"]["name"]
    'Two-distance lens'
    """
    if path is not None and not isinstance(path, (str, PathLike)):
        raise ValueError(f"wording takes the path of a translation, not {domain.shown(path)}.")
    return _read_wording(FILE if path is None else Path(path))


@cache
def _read_wording(path):
    try:
        words = tomllib.loads(path.read_text(encoding="utf-8-sig"))  # some editors put a mark
    except OSError as error:
        raise ValueError(f"{path.name} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise ValueError(
            f"{path.name}, line {line}: a letter is not UTF-8; save the file as UTF-8."
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise ValueError(f"{path.name} is no TOML: {error}.") from error
    if path != FILE:
        _hold_alike(wording(), words, path.name)
    for entry in words["trade"] + words["night"]:
        for bare in evidence.bare_ratios(entry["text"]):
            raise ValueError(f"{path.name}: give base and interval beside the ratio in {bare!r}.")
    return words


def source_of(entry: dict) -> str:
    """Return where the numbers of a trade-off or of a night sentence come from.

    Parameters
    ----------
    entry : dict
        Of ``trade`` or ``night`` in `wording`.

    Returns
    -------
    str

    Examples
    --------
    >>> source_of({"source": "computed"})
    'computed'
    """
    cited = evidence.cited(entry.get("evidence", ()))
    # how much of each was read stands once, in the heading of the sources
    parts = [*(one.study.reference for one in cited), entry.get("source")]
    return "; ".join(part for part in dict.fromkeys(parts) if part)


def sheet(
    patient: Patient,
    target_d: float = 0.0,
    fellow_target_d: float | None = None,
    words: dict[str, Any] | None = None,
    invented: bool = False,
) -> Sheet:
    """Return the words of the sheet for a patient.

    Parameters
    ----------
    patient : findings.Patient
    target_d : float
        Refraction aimed at, −4 to 2 D; myopia negative.
    fellow_target_d : float, optional
        That of the other eye, which is counted with the same lens; as the first unless given.
    words : dict, optional
        From `wording`; English unless given.
    invented : bool
        Whether the patient is invented; then the sheet says so.

    Returns
    -------
    Sheet

    Raises
    ------
    ValueError
        If it is not given a patient, or a refraction is out of range.

    Examples
    --------
    >>> from shared_utils.choice.findings import otherwise_healthy
    >>> made = sheet(otherwise_healthy({"glaucoma": "severe"}))
    >>> [part.name for part in made.not_advised]
    ['Stretched lens', 'Two-distance lens', 'Three-distance lens']
    >>> made.not_advised[0].lines
    ("Why: glaucoma, a disease of the eye's nerve.",)
    """
    if not isinstance(patient, Patient):
        raise ValueError(
            "sheet takes a Patient; make one with shared_utils.choice.findings.from_dict."
        )
    target_d = domain.require_one("target_d", target_d, *plans.TARGET_RANGE_D, hint=_HINT)
    if fellow_target_d is not None:
        name = "fellow_target_d"
        fellow_target_d = domain.require_one(
            name, fellow_target_d, *plans.TARGET_RANGE_D, hint=_HINT
        )
    domain.require_instance("invented", invented, bool, "True or False")
    if words is None:
        words = wording()
    else:
        _hold_alike(wording(), words, "words")
    fellow_target_d = target_d if fellow_target_d is None else fellow_target_d
    values = patient.values
    alone = tasks.only_eye(patient)
    possible, refused = [], []
    eyes_d = (target_d,) if alone else (target_d, fellow_target_d)
    what = "what" if any(_for_far(eye_d) for eye_d in eyes_d) else "what_not_far"
    advised = candidacy.assess(patient)
    for advice in advised:
        lines = _why(advice, values, words)
        if advice.verdict == "not advised":
            refused.append(_part(advice, values, lines, words, what))
            continue
        lens = tasks.LENS_OF[advice.lens_class]
        plan = (patient, lens, target_d, fellow_target_d, patient.everyday_tasks)
        glasses, numbers = tasks.glasses_for(*plan), outlook.outlook_for(*plan)
        lines = (*lines, *_glasses_in_words(glasses, numbers, words))
        possible.append(_part(advice, values, lines, words, what))
    shown = {part.lens_class for part in possible}
    check = _to_check(advised, patient, words)
    trade = [entry for entry in words["trade"] if shown & set(entry["classes"])]
    night = [entry for entry in words["night"] if shown & set(entry["classes"])]
    asking = words["questions"]
    questions = _always_asked(patient, target_d, fellow_target_d, asking)
    questions.append(asking[_of_other_eye(values, alone)])
    questions += [asking["split"]] if shown & set(SHARES_LIGHT) else []
    questions += [asking["check"]] if check else []
    questions += [asking["drive"]] if values["night_driving"] != "never" else []
    say = words["say"]
    return Sheet(
        language=words["language"],
        title=words["title"],
        for_whom=words["for_whom"].format(label=patient.label),
        intro=(*words["intro"], *((words["invented"],) if invented else ())),
        check=check,
        plan=_plan(patient, target_d, fellow_target_d, words),
        notes=(
            *_who_is_counted(values, alone, say),
            *_power_unsure(patient, words),
            say["power_note"],
            say["edge_note"],
            *((say["treat"],) if _can_be_treated(advised, values) else ()),
        ),
        trade=tuple(_numbered(entry) for entry in trade),
        night=tuple(_numbered(entry) for entry in night),
        questions=tuple(questions),
        sources=_sources(trade + night),
        headings=words["heading"],
        lenses=tuple(possible),
        not_advised=tuple(refused),
        none_refused=say["none"],
        caution=words["caution"],
    )


def _part(advice, values, lines, words, what):
    lens = words["lens"][advice.lens_class]
    verdict = words["verdict"][advice.eye_verdict]
    wish = _wish(advice, values, words)
    return LensPart(
        advice.lens_class, lens["name"], lens["trade"], lens[what], verdict, wish, lines
    )


def _names_against(advice, values, wishes=None):
    """Findings and wishes that speak against a class, those of most weight first.

    Of wishes alone, or of the eye alone, where ``wishes`` says so.
    """
    rules = _rules()
    against = [rules[reason.rule] for reason in advice.reasons if reason.effect in AGAINST]
    if wishes is not None:
        against = [rule for rule in against if candidacy.speaks_of_wishes(rule) == wishes]
    names = dict.fromkeys(name for rule in against for name in rule.when)
    return [name for name in names if _speaks(name, values.get(name))]


def _speaks(name, value):
    """Whether a value can be a reason against: a rule's conditions may also be good news."""
    if name in WISHES or name not in VOCABULARY:  # a wish may be in the way whatever it is
        return value != UNKNOWN
    kind = VOCABULARY[name]
    return value != UNKNOWN and not (isinstance(kind, Graded) and value == kind.best)


def _can_be_treated(advised, values):
    """Whether a rule against a class says what would change it, of something that is treated."""
    rules = _rules()
    against = [rules[r.rule] for a in advised for r in a.reasons if r.effect in AGAINST]
    names = {name for rule in against if rule.change for name in rule.when}
    return any(_speaks(name, values[name]) for name in names & TREATED)


def _things(names, values, words):
    because = words["because"] | words["because_plan"]
    things = [
        words["because_if"].get(name, {}).get(values.get(name), because[name]) for name in names
    ]
    return "; ".join(list(dict.fromkeys(things))[:MAX_REASONS])


def _why(advice, values, words):
    """What in the eye speaks against a class."""
    if advice.eye_verdict == "suits":
        return ()
    names = _names_against(advice, values, wishes=False)
    things = _things(names, values, words) or words["say"]["not_checked"]
    return (words["say"]["because"].format(things=things),)


def _wish(advice, values, words):
    """What the wishes cost with a class, if anything; what was not asked costs nothing so far."""
    things = _things(_names_against(advice, values, wishes=True), values, words)
    return words["wish"][advice.wish_verdict].format(things=things) if things else ""


def _power_unsure(patient, words):
    """What was found that makes the power less certain, as the gate says, the most first."""
    found = [e for e in gate.of_patient(patient).unsure if e.adds_sd_d >= UNSURE_FROM_D]
    values = patient.values
    names = dict.fromkeys(
        name
        for entry in found
        if entry.when.keys() <= set(FINDINGS)  # a measurement has no plain words
        for name in entry.when
        if _speaks(name, values[name])
    )
    things = _things(names, values, words)
    return (words["say"]["power_unsure"].format(things=things),) if things else ()


def _who_is_counted(values, alone, say):
    """Which eye the list leaves out."""
    if alone:
        return (say["one_eye"],)
    best = values["potential_acuity_logmar"]
    return (say["this_eye"],) if best != UNKNOWN and best >= tasks.BLIND_LOGMAR else ()


def _always_asked(patient, target_d, fellow_target_d, asking):
    """The questions for everybody; where the target takes reading away, the one that says so."""
    advice = plans.assess_target(patient, target_d, fellow_target_d)
    names = _names_against(advice, patient.values)
    loses = patient.values["glasses_before"] != UNKNOWN and "glasses_before" in names
    return [
        asking["reading"] if loses and place == GLASSES_ASKED else question
        for place, question in enumerate(asking["always"])
    ]


def _of_other_eye(values, alone):
    if alone:
        return "one_eye"
    return "other_lens" if values["fellow_eye"] in HAS_A_LENS else "other_eye"


def _glasses_in_words(glasses, numbers, words):
    """Where each task stands, by how many of 100 do it without glasses; in between with a mark."""
    say, called = words["say"], words["task"]
    parts = {"clear": [], "glasses": [], "untold": [], "hard": []}
    few, most = EITHER_WAY_OF_100
    for found, of_these in zip(glasses, numbers, strict=True):
        place = "glasses" if found.clear_with else "hard"
        place = "clear" if of_these.of_100 >= 50 else place
        place = place if found.known else "untold"
        way = "with_power" if place == "glasses" and found.comfortable_reader_d else ""
        if found.known and few <= of_these.of_100 <= most:
            way = f"edge_{way}".rstrip("_")
        powers = {
            "weakest": _power(found.reader_d),
            "comfortable": _power(found.comfortable_reader_d),
        }
        thing = called[found.task.name]
        parts[place].append(say[way].format(thing=thing, **powers) if way else thing)
    return tuple(
        say[key].format(things=", ".join(things)) for key, things in parts.items() if things
    )


def _to_check(advised, patient, words):
    """What is not known although a rule asks for it."""
    reasons = dict.fromkeys(reason.rule for advice in advised for reason in advice.reasons)
    names = [name for key in reasons for name in _rules()[key].findings]
    names = sorted((name for name in names if patient.values[name] == UNKNOWN), key=_order)
    things = dict.fromkeys(words["check"][name] for name in names)
    return (words["say"]["check"].format(things=", ".join(things)),) if things else ()


@cache
def _rules():
    return {rule.key: rule for rule in (*book().rules, *book().plans.rules)}


def _order(name):
    """Findings before wishes, as in the vocabulary."""
    return list(VOCABULARY).index(name)


def _for_far(eye_d):
    return NEAR_FROM_D < eye_d <= FAR_UP_TO_D


def _plan(patient, target_d, fellow_target_d, words):
    """What the eyes are set for, where that is not far alone."""
    say = words["say"]
    one_eye = tasks.only_eye(patient)
    high, low = (f(target_d, target_d if one_eye else fellow_target_d) for f in (max, min))
    powers = {"far": _power(high), "near": _power(low), "beyond": _power(high)}
    if high - low >= 0.5 and low <= FAR_UP_TO_D:
        if high > FAR_UP_TO_D:
            powers["far"] = powers["near"]
            key = "one_eye_beyond" if low > NEAR_FROM_D else "near_and_beyond"
        elif low > NEAR_FROM_D:
            key = ""
        elif high >= FAR_FROM_D:
            key = "one_eye_near"
        else:
            key = "two_near_plan"
    elif low > FAR_UP_TO_D:
        key = "beyond_plan_one_eye" if one_eye else "beyond_plan"
    elif high <= NEAR_FROM_D:
        key = "near_plan_one_eye" if one_eye else "near_plan"
    else:
        key = ""
    planned = (say[key].format(**powers),) if key else ()
    return (*planned, *_monovision(patient, target_d, fellow_target_d, words))


def _monovision(patient, target_d, fellow_target_d, words):
    """What the rules say against one eye for near, of an eye that has another one."""
    advice = plans.assess_monovision(patient, target_d, fellow_target_d)
    if tasks.only_eye(patient) or advice is None or advice.verdict == "suits":
        return ()
    names = _names_against(advice, patient.values)
    against = [_rules()[r.rule].when for r in advice.reasons if r.effect in AGAINST]
    beyond = any("above" in when.get("far_target_d", ()) for when in against)
    names = ["beyond_target_d" if n == "far_target_d" and beyond else n for n in names]
    if any(_found_in_other_eye(reason) for reason in advice.reasons):
        names.append("fellow_eye")
    things = _things(names, patient.values, words) or words["say"]["not_checked"]
    return (words["monovision"][advice.verdict].format(things=things),)


def _found_in_other_eye(reason):
    against = reason.effect in AGAINST and reason.text.startswith(plans.OTHER_EYE)
    return against and not _rules()[reason.rule].missing


def _power(power_d):
    rounded = round(float(power_d), 2) + 0.0
    return (f"{rounded:+.2f}" if rounded else "0").replace("-", "−")


def _sources(entries):
    """Where the numbers come from, each publication once."""
    parts = [part for entry in entries for part in source_of(entry).split("; ")]
    return tuple(dict.fromkeys(parts))


def _numbered(entry):
    """A sentence with its numbers: parts of the light, people of a hundred."""
    numbers = _light(entry)
    for name, key in entry.get("of_100", {}).items():
        for end, people in evidence.effect(key).of_100().items():
            slot = name if end == "value" else f"{name}_{end}"
            numbers[slot] = f"{people:.0f}"
    return entry["text"].format(**numbers)


def _light(entry):
    """Parts in a hundred of the light that each focus of the class gets."""
    budget = tasks.LENS_OF[entry["classes"][0]].energy_budget()
    return {name: f"{100.0 * share:.0f}" for name, share in budget.items()}


def _hold_alike(own, other, where, path=""):
    """Every name and every place for a number of the English words is in the translation."""
    if type(own) is not type(other):
        raise ValueError(f"{where}: {path or 'the file'} is not made as in the English wording.")
    if isinstance(own, dict):
        lacking = [name for name in own if name not in other]
        if lacking:
            raise ValueError(f"{where} lacks {f'{path}.{lacking[0]}'.lstrip('.')}; translate it.")
        for name in own:
            _hold_alike(own[name], other[name], where, f"{path}.{name}".lstrip("."))
    elif isinstance(own, list):
        if len(own) != len(other):
            raise ValueError(f"{where}: {path} has {len(other)} entries; give {len(own)}.")
        for number, (one, two) in enumerate(zip(own, other, strict=True), start=1):
            _hold_alike(one, two, where, f"{path}[{number}]")
    elif isinstance(own, str):
        slots = set(re.findall(r"{\w+}", own))
        if slots != set(re.findall(r"{\w+}", other)):
            raise ValueError(
                f"{where}: {path} has other words in braces; give {', '.join(sorted(slots))}."
            )

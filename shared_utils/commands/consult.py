"""The command for one patient: a short answer first, then all reasons, and the sheet."""

from __future__ import annotations

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table

from shared_utils import CAUTION
from shared_utils.clinic.plain_text import shown
from shared_utils.commands.power import ADJUSTED_IN, LONG_MM

if TYPE_CHECKING:
    import argparse

    from shared_utils.clinic.patient_file import Consultation

PIPED_WIDTH = 120
"""Wide enough that no row of a table is broken in a file or a pipe."""

MAX_LINES = 25
"""Of the short answer, the caution first and last included."""

MAX_TASKS = 4
SEPARATED_BY = 10  # of 100 people
NO_LENS_FOR = ("phakic", "pseudophakic monofocal", "pseudophakic light-splitting", "none or blind")
"""States of the other eye in which no lens is chosen for it."""

SHORT_WIDTH = 100
LEGEND = "Of 100 such people, so many do it without glasses (lowest–highest). Which glasses: --why."
ROOM = ((3, 3), (2, 3), (2, 2), (2, 1), (1, 2), (1, 1), (1, 0), (0, 1), (0, 0))
"""Reasons and next steps of the short answer, as many as there is room for."""
ENOUGH = 4  # of these, the first so many have two reasons and a next step


def add_to(commands: argparse._SubParsersAction) -> None:
    """Add the parser of this group."""
    says = "talk a patient through: the gate, powers, classes of lens, glasses, a sheet"
    parser = commands.add_parser(
        "consult",
        help=says,
        description=f"{says.capitalize()}.",
        epilog=f"Example: lens-course consult night_driver --sheet sheet.html. {CAUTION}",
    )
    parser.add_argument("patient", metavar="PATIENT", help="a TOML file, or an example's name")
    parser.add_argument("--why", action="store_true", help="give all reasons, each once")
    parser.add_argument("--sheet", metavar="FILE", help="write the patient's sheet as HTML")
    parser.add_argument("--wording", metavar="TOML", help="a translation of the sheet's words")
    parser.set_defaults(run=_consult)


def _consult(arguments):
    from shared_utils.clinic import patient_file

    if arguments.wording and not arguments.sheet:
        raise ValueError("--wording translates the patient's sheet: give --sheet FILE as well.")
    consultation = patient_file.read(patient_file.find(arguments.patient))
    console = Console(highlight=False, emoji=False)
    if not console.is_terminal:
        console = Console(highlight=False, emoji=False, width=PIPED_WIDTH)
    if arguments.sheet:  # first: a reader of the output, such as head, may leave early
        _write_sheet(consultation, Path(arguments.sheet), arguments.wording)
    if arguments.why:
        _everything(console, consultation)
    else:
        width = min(console.width, SHORT_WIDTH)
        for paragraph in short_answer(consultation, width, MAX_LINES - bool(arguments.sheet)):
            _print(console, paragraph)
    if arguments.sheet:
        message = f"Wrote the patient's sheet to {arguments.sheet}; print it from a browser."
        _print(console, message)
    _print(console, CAUTION)
    return 0


# --- the short answer --------------------------------------------------------------------------


def short_answer(
    consultation: Consultation, width: int = SHORT_WIDTH, max_lines: int = MAX_LINES
) -> list[str]:
    """Return the short answer as paragraphs, all but the caution that comes last.

    Parameters
    ----------
    consultation : patient_file.Consultation
    width : int
        Columns of the screen, 100 or more for the promise to hold.
    max_lines : int
        Of the answer and the caution that follows, broken at ``width``.

    Returns
    -------
    list of str

    Examples
    --------
    >>> from shared_utils.clinic import patient_file
    >>> answer = short_answer(patient_file.read(patient_file.find("laser_long_ago")))
    >>> answer[2].partition(":")[2][:30]
    ' withheld; after corneal laser'
    """
    from shared_utils.choice.candidacy import assess

    advised = assess(consultation.patient)
    other = _other_eye(consultation)
    gate = _gate(consultation)
    power = _power_in_short(consultation, gate)
    of_eyes = (advised, () if other is None else assess(other.patient))
    matrix, alike = _matrix(consultation, *of_eyes, width)
    reasons = [*_plans_refused(consultation), *_deciding(advised)]
    plans = [f"{_plans_in_short(consultation)} {alike}".strip()]
    of_other = _other_eye_in_short(consultation, other)
    terse = _power_in_short(consultation, gate, terse=True)
    brief = [f"{text.partition('. ')[0]}." for text in of_other[:1]]
    sizes = ((power, of_other), (power, of_other[:1]), (terse, of_other[:1]))
    groups = _rooms(bool(gate.withheld))
    rooms = [(*size, room) for group in groups for size in sizes for room in group]
    # only where there is no other way: the other eye without its measurements
    shortest = [" ".join([*terse, *brief])]
    rooms += [(shortest, [], room) for group in groups for room in group]
    rooms += [(shortest, [], (0, ROOM[-1]))]
    for powers, others, (detailed, (deciding, steps)) in rooms:
        answer = [
            *(CAUTION, _title(consultation), *_gate_in_short(gate, detailed), *powers, *matrix),
            *others,
            *plans,
            *reasons[:deciding],
            _next_in_short(gate, advised, detailed, steps),
        ]
        if sum(_lines(text, width) for text in (*answer, CAUTION)) <= max_lines:
            break
    return answer


def _other_eye(consultation):
    """The same consultation for the other eye, if it is described and may still get a lens."""
    from dataclasses import replace

    patient = consultation.patient
    if not patient.fellow_given or patient.values["fellow_eye"] in NO_LENS_FOR:
        return None
    return replace(
        consultation,
        patient=patient.exchanged(),
        target_d=consultation.fellow_target_d,
        fellow_target_d=consultation.target_d,
    )


def _other_eye_in_short(consultation, other):
    """Gate, power and interval of the other eye, and how the two measurements compare."""
    if not consultation.patient.fellow_given:
        return []
    compared = _eyes_compared(consultation.patient)
    if other is None:
        state = consultation.patient.values["fellow_eye"]
        return [f"Other eye: {state}, so no lens is chosen for it. {compared}".rstrip()]
    gate = _gate(other)
    first, rest = gate.withheld[:1], (*gate.withheld[1:], *gate.named_warnings)
    outcome = ", ".join([gate.outcome, *(entry.title for entry in first)])
    named = [entry.title for entry in rest]
    more = [f"{len(named) - 2} more"] if len(named) > 2 else []
    unknown = [f"{len(gate.not_known)} not known"] if gate.not_known else []
    why = ", ".join([*named[:2], *more, *unknown])
    text = f"Other eye: gate {outcome}; {_interval_in_short(other, gate)} {compared}".rstrip()
    return [text, f"Its gate: {'also ' if first else ''}{why}."] if why else [text]


def _interval_in_short(consultation, gate):
    """The lens by SRK/T and where 95 of 100 such eyes end, in a few words."""
    from shared_utils.power.lens_constants import LensConstants

    eye = consultation.patient.eye
    if eye is None:
        return "not measured, so no power."
    if gate.withheld:
        return "no power."
    lens = LensConstants.from_a_constant(consultation.a_constant)
    powers, left, sd_d = _powers_of(eye, lens, consultation.target_d)
    if left is None or sd_d is None:
        return "no power by SRK/T; measure again."
    wide_d = gate.widened(sd_d)
    return (
        f"SRK/T {powers['SRK/T']:.1f} D, 95 of 100 at {_signed(left - 1.96 * wide_d)} to "
        f"{_signed(left + 1.96 * wide_d)} D."
    )


def _eyes_compared(patient):
    """The differences of length and keratometry, where both eyes were measured."""
    one, other = patient.eye, patient.fellow_biometry
    if one is None or other is None:
        return ""
    length_mm = _signed(other.axial_length_mm - one.axial_length_mm)
    return (
        f"Its length {length_mm} mm, mean K {_signed(other.mean_k_d - one.mean_k_d)} D against "
        "this eye."
    )


def _rooms(withheld):
    """What to try, in groups: the heaviest entry of the gate in full or not, reasons and steps.

    Why a power is withheld is told before anything else; a warning's name may do.
    """
    good, poor = ROOM[:ENOUGH], ROOM[ENOUGH:]
    if withheld:
        return [[(1, room) for room in ROOM]]
    enough = [[(detailed, room) for room in good] for detailed in (1, 0)]
    return [*enough, [(detailed, room) for room in poor for detailed in (1, 0)]]


def _lines(text, width):
    return sum(len(textwrap.wrap(line, width)) or 1 for line in text.splitlines())


def _title(consultation):
    """The label, and that the patient is invented only if so and not yet said."""
    label = shown(consultation.patient.label)
    if consultation.invented and "invented" not in label.casefold():
        return f"{label}, an invented patient"
    return label


def _gate(consultation):
    from shared_utils.choice import gate

    return gate.of_patient(consultation.patient, consultation.a_constant, consultation.target_d)


def _found(gate):
    return (*gate.withheld, *gate.named_warnings)


def _gate_in_short(gate, detailed):
    """Every warning by name; why and what comes first of the heaviest, if there is room."""
    entries = _found(gate)
    text = f"Gate: {gate.outcome}."
    if detailed and entries:
        text = f"Gate: {gate.outcome}; {entries[0]}"
    names = {
        "Withheld": [entry.title for entry in entries[detailed:] if entry in gate.withheld],
        "Warnings": [entry.title for entry in entries[detailed:] if entry in gate.warnings],
        "Unknown": [entry.title for entry in gate.not_known],
    }
    rest = " ".join(f"{word}: {', '.join(titles)}." for word, titles in names.items() if titles)
    return [text, rest] if rest else [text]


def _power_in_short(consultation, gate, terse=False):
    eye = consultation.patient.eye
    if eye is None:
        return ["Lens power: no biometry in the file, so no power."]
    if gate.withheld:
        return ["Lens power: withheld."]
    from shared_utils.power.lens_constants import LensConstants

    lens = LensConstants.from_a_constant(consultation.a_constant)
    powers, left, sd_d = _powers_of(eye, lens, consultation.target_d)
    if not powers:
        return ["Lens power: no formula has an answer for this eye; measure again."]
    named = ", ".join(f"{title} {power_d:.1f}" for title, power_d in powers.items())
    sentences = [
        f"Lens power: {named} D (A {consultation.a_constant:g}, target "
        f"{_signed(consultation.target_d)} D)."
    ]
    if terse:
        return [f"{sentences[0]} {_interval_in_short(consultation, gate)}"]
    if sd_d is not None:
        wide_d = gate.widened(sd_d)
        low_d, high_d = left - 1.96 * wide_d, left + 1.96 * wide_d
        within = _within(left - consultation.target_d, wide_d)
        sentences.append(
            f"SRK/T's leaves {_signed(left)} D; 95 of 100 such eyes end at {_signed(low_d)} to "
            f"{_signed(high_d)} D, about {within:.0f} within 0.50 D of the target "
            f"({_spread_in_short(sd_d, gate)})."
        )
    adjusted = _adjusted(eye, lens, consultation.target_d)
    if adjusted:
        sentences.append(adjusted)
    not_measured = consultation.patient.fellow_biometry is None
    if not_measured and consultation.fellow_target_d != consultation.target_d:
        sentences.append("The other eye needs its own measurements.")
    return [" ".join(sentences)]


def _spread_in_short(sd_d, gate):
    """Which spread the interval has: with what the warnings add, in quadrature."""
    if not gate.adds_sd_d:
        wider = "; wider where not known" if gate.not_known else ""
        return f"spread {sd_d:.2f} D, assumed{wider}"
    return (
        f"spread √({sd_d:.2f}² + warnings' {gate.adds_sd_d:.2f}²) = {gate.widened(sd_d):.2f} D, "
        "assumed"
    )


def _powers_of(eye, lens, target_d):
    """Half steps by formula, what SRK/T's leaves, and the spread of its prediction."""
    from shared_utils.power.error_budget import error_budget
    from shared_utils.power.registry import FORMULAS
    from shared_utils.power.report import side_by_side

    names = FORMULAS.advised_first(FORMULAS.where("in_consultations"))
    try:
        results, _ = side_by_side(eye, lens, names, target_d=target_d)
    except ValueError:
        return {}, None, None
    powers = {FORMULAS[found.formula].title: found.nearest_d for found in results}
    by_name = {found.formula: found for found in results}
    if "srk_t" not in by_name:
        return powers, None, None
    found = by_name["srk_t"]
    try:
        sd_d = error_budget(eye, found.elp_mm).sd_d
    except ValueError:
        sd_d = None
    return powers, found.predicted_d, sd_d


def _within(miss_d, sd_d, limit_d=0.5):
    """Of 100 eyes, how many end within so many D of the target."""
    from scipy.stats import norm

    return 100.0 * float(norm.cdf(limit_d, miss_d, sd_d) - norm.cdf(-limit_d, miss_d, sd_d))


def _adjusted(eye, lens, target_d):
    """A sentence with the powers for the adjusted length, of a long eye only."""
    from shared_utils.power import long_eyes
    from shared_utils.power.formulas import iol_power
    from shared_utils.power.lens_steps import nearest_power

    if eye.axial_length_mm < LONG_MM:
        return ""
    try:
        adjusted = long_eyes.adjusted_eye(eye, "srk_t", ADJUSTED_IN)
        power_d = nearest_power(iol_power(adjusted, "srk_t", lens, target_d))
    except ValueError:
        return ""
    return f"SRK/T with the length adjusted for long eyes ({ADJUSTED_IN}): {power_d:.1f} D."


def _plan_advice(consultation):
    """What the rules say of monovision, where it is planned, of a toric lens and of the target."""
    from shared_utils.choice import plans

    monovision = plans.assess_monovision(
        consultation.patient, consultation.target_d, consultation.fellow_target_d
    )
    toric = plans.assess_toric(consultation.patient)
    target = plans.assess_target(
        consultation.patient, consultation.target_d, consultation.fellow_target_d
    )
    return [advice for advice in (monovision, toric, target) if advice is not None]


def _plans_in_short(consultation):
    """What the rules say of each plan, in one line; why is for ``--why``."""
    plans = _plan_advice(consultation)
    return " ".join(f"{plan.lens_class.capitalize()}: {plan.verdict}." for plan in plans)


def _plans_refused(consultation):
    """Why the target or monovision is not advised; a toric lens that nobody needs is no harm."""
    return [
        f"- not advised ({plan.lens_class}): {reason.text}"
        for plan in _plan_advice(consultation)
        if plan.verdict == "not advised" and plan.lens_class != "toric"
        for reason in plan.reasons
        if reason.effect == "not advised"
    ][:1]


def _matrix(consultation, advised, of_other, width):
    """Classes by verdict, of the other eye too, and by the tasks in which they differ here.

    As many tasks as there is room for, since a row that is broken cannot be read.
    """
    numbers = list(zip(*_numbers_by_class(consultation).values(), strict=True))
    rows = [[found.in_short for found in row] for row in numbers]
    names = [row[0].task.name for row in numbers]
    people = [[found.of_100 for found in row] for row in numbers]
    separating = [at for at, row in enumerate(people) if max(row) - min(row) >= SEPARATED_BY]
    telling = separating or list(range(len(names)))
    verdicts = [[advice.verdict for advice in eye] for eye in (advised, of_other) if eye]
    heads = [("", "class"), ("", "verdict"), ("other", "eye")][: 1 + len(verdicts)]
    for most in range(MAX_TASKS - bool(of_other), 0, -1):
        columns = _evenly(telling, most)
        titles = [*heads, *(_two_lines(names[at]) for at in columns)]
        body = [
            [
                advice.lens_class,
                *(eye[place] for eye in verdicts),
                *(rows[at][place] for at in columns),
            ]
            for place, advice in enumerate(advised)
        ]
        lines = _in_columns(titles, body)
        if max(map(len, lines)) <= width:
            break
    return [*lines, LEGEND], "" if separating else "No task separates the classes."


def _evenly(items, most):
    """So many of them at most, from the first to the last."""
    if len(items) <= most:
        return items
    if most == 1:
        return items[len(items) // 2 :][:1]
    step = (len(items) - 1) / (most - 1)
    return [items[round(n * step)] for n in range(most)]


def _in_columns(titles, body):
    """Lines of text, the titles in two of them."""
    widths = [
        max(map(len, (*title, *(row[at] for row in body)))) for at, title in enumerate(titles)
    ]
    table = [[title[line] for title in titles] for line in (0, 1)] + body
    return [
        "  ".join(cell.ljust(room) for cell, room in zip(row, widths, strict=True)).rstrip()
        for row in table
    ]


def _two_lines(name):
    words = name.split()
    cuts = range(1, len(words)) or [0]
    pairs = [(" ".join(words[:cut]), " ".join(words[cut:])) for cut in cuts]
    return min(pairs, key=lambda pair: max(map(len, pair)))


def _deciding(advised):
    """The heaviest reasons that come from something known, each once with its classes."""
    from shared_utils.choice.rules import AGAINST, EFFECTS, book

    examinations = {rule.key for rule in book().rules if rule.missing}
    grouped = _each_reason(advised)
    against = [
        (effect, text, classes)
        for (effect, text), (reason, classes) in grouped.items()
        if effect in AGAINST and reason.rule not in examinations
    ]
    against.sort(key=lambda found: EFFECTS.index(found[0]))
    if not against:
        against = [
            (effect, text, classes)
            for (effect, text), (_, classes) in grouped.items()
            if effect == "for"
        ]
    return [f"- {effect} ({', '.join(classes)}): {text}" for effect, text, classes in against]


def _next_in_short(gate, advised, detailed, count):
    steps = dict.fromkeys(entry.do for entry in _found(gate)[detailed:])
    steps |= dict.fromkeys(do for advice in advised for do in advice.would_change)
    steps |= dict.fromkeys(do for advice in advised for do in advice.examine_first)
    steps |= dict.fromkeys(entry.do for entry in gate.not_known)
    shown, more = list(steps)[:count], max(len(steps) - count, 0)
    if not steps:
        return "Next: nothing more to examine by these rules. All reasons: --why."
    rest = f"{more} more steps and all reasons" if more else "All reasons"
    return f"Next: {' '.join([*shown, rest])}: --why."


# --- everything --------------------------------------------------------------------------------


def _everything(console, consultation):
    _print(console, CAUTION)
    _print(console, _title(consultation))
    gate = _gate(consultation)
    _head(console, f"Gate: the power is {gate.outcome}")
    _entries(console, gate.entries)
    _powers(console, consultation, gate)
    _candidacy(console, consultation.patient)
    _plans(console, consultation)
    _numbers(console, consultation)
    _glasses(console, consultation)
    _other_in_full(console, consultation, gate)
    _print(console, "")


def _entries(console, entries):
    for entry in entries:
        adds = f"; adds {entry.adds_sd_d:.2f} D: {entry.adds_source}" if entry.adds_sd_d else ""
        _print(console, f"- {entry.outcome}, {entry} [{entry.source}{adds}]")


def _other_in_full(console, consultation, gate):
    """The other eye: gate, power and verdicts, and of the reasons those not yet given."""
    from shared_utils.choice.candidacy import assess

    if not consultation.patient.fellow_given:
        return
    other = _other_eye(consultation)
    _head(console, "The other eye")
    for sentence in _other_eye_in_short(consultation, other):
        _print(console, sentence)
    if other is None:
        return
    shown = set(map(str, gate.entries))
    of_other = _gate(other)
    _entries(console, [entry for entry in of_other.entries if str(entry) not in shown])
    if not of_other.withheld:
        for sentence in _power_in_short(other, of_other):
            _print(console, sentence)
    advised = assess(other.patient)
    for advice in advised:
        _print(console, f"{advice.lens_class}, other eye: {advice.verdict}")
    of_this = assess(consultation.patient)
    shown = {reason.text for advice in of_this for reason in advice.reasons}
    new = {
        text: reason
        for (_, text), (reason, _) in _each_reason(advised).items()
        if text not in shown
    }
    _head(console, "Why, of the other eye, as far as it is not the same")
    classes = {
        text: [a.lens_class for a in advised if any(r.text == text for r in a.reasons)]
        for text in new
    }
    for text, reason in new.items():
        _print(console, f"- {reason.effect} ({', '.join(classes[text])}): {text} [{reason.source}]")
    if not new:
        _print(console, "The same reasons as above.")


def _powers(console, consultation, gate):
    from shared_utils.power import lens_steps
    from shared_utils.power.lens_constants import LensConstants
    from shared_utils.power.registry import FORMULAS

    _head(console, "Lens power")
    eye = consultation.patient.eye
    if eye is None or gate.withheld:
        for sentence in _power_in_short(consultation, gate):
            _print(console, sentence)
        return
    lens = LensConstants.from_a_constant(consultation.a_constant)
    table = _table(
        console, "formula", "lens (D)", "leaves (D)", "half a dioptre weaker", "stronger"
    )
    names = FORMULAS.advised_first(FORMULAS.where("in_consultations"))
    for formula, title in FORMULAS.titles(names).items():
        try:
            found = lens_steps.choices(eye, formula, lens, consultation.target_d)
        except ValueError:
            continue  # said below when no formula has an answer
        near = found.nearest
        leaves = [_signed(power) for power in found.predicted_d]
        table.add_row(title, f"{found.iol_power_d[near]:.1f}", leaves[near], leaves[0], leaves[2])
    console.print(table)
    for sentence in _power_in_short(consultation, gate):
        _print(console, sentence)
    _print(console, "Formulas differ in where they expect the lens to lie.")


def _each_reason(advised):
    """Effect and text of every reason → the reason and the classes that it concerns."""
    grouped = {}
    for advice in advised:
        for reason in advice.reasons:
            _, classes = grouped.setdefault((reason.effect, reason.text), (reason, []))
            classes.append(advice.lens_class)
    return grouped


def _candidacy(console, patient):
    from shared_utils.choice.candidacy import assess
    from shared_utils.choice.rules import EFFECTS
    from shared_utils.optics.lenses import LENS_CLASSES

    advised = assess(patient)
    _head(console, "Classes of lens")
    for advice in advised:
        _print(console, f"{advice.lens_class}: {advice.verdict}")
    by_text = {}
    for (effect, text), (reason, classes) in _each_reason(advised).items():
        by_text.setdefault(text, (reason, {}))[1][effect] = classes
    _head(console, "Why")
    for text, (reason, effects) in by_text.items():
        founded = reason.source
        if not founded.startswith(reason.strength):
            founded = f"{reason.strength}: {founded}"
        effect = "; ".join(
            f"{e} ({'all' if len(effects[e]) == len(LENS_CLASSES) else ', '.join(effects[e])})"
            for e in EFFECTS
            if e in effects
        )
        _print(console, f"- {effect}: {text} [{founded}]")
    for title, part in (
        ("Examine first", "examine_first"),
        ("Near a prompt", "borderline"),
        ("What would change it", "would_change"),
    ):
        sentences = dict.fromkeys(s for advice in advised for s in getattr(advice, part))
        if sentences:
            _head(console, title)
        for sentence in sentences:
            _print(console, f"- {sentence}")
    conflicts = {conflict.topic: conflict for a in advised for conflict in a.conflicts}
    for topic, conflict in conflicts.items():
        _head(console, f"Sources disagree on {topic}")
        for side in conflict.sides:
            _print(console, f"- {side.text} [{side.source}]")


def _glasses_by_class(consultation):
    """Class of lens → what each task needs with it."""
    from shared_utils.choice import tasks

    patient, targets_d = consultation.patient, (consultation.target_d, consultation.fellow_target_d)
    return {
        name: tasks.glasses_for(patient, lens, *targets_d, patient.everyday_tasks)
        for name, lens in tasks.LENS_OF.items()
    }


def _numbers_by_class(consultation):
    """Class of lens → of 100 such people, how many do each task without glasses."""
    from shared_utils.choice import outlook, tasks

    patient, targets_d = consultation.patient, (consultation.target_d, consultation.fellow_target_d)
    return {
        name: outlook.outlook_for(patient, lens, *targets_d, patient.everyday_tasks)
        for name, lens in tasks.LENS_OF.items()
    }


def _plans(console, consultation):
    for advice in _plan_advice(consultation):
        _head(console, f"{advice.lens_class.capitalize()}: {advice.verdict}")
        for reason in advice.reasons:
            if reason.effect != "note":
                _print(console, f"- {reason.effect}: {reason.text} [{reason.source}]")
        for sentence in advice.examine_first:
            _print(console, f"- examine first: {sentence}")


def _numbers(console, consultation):
    from shared_utils.choice import outlook, tasks, two_eyes

    _head(console, "Of 100 such people, how many do it without glasses")
    table = _table(console, "task", *(name.replace(" ", "\n") for name in tasks.LENS_OF))
    for row in zip(*_numbers_by_class(consultation).values(), strict=True):
        table.add_row(row[0].task.name, *(found.in_short for found in row))
    console.print(table)
    difference_d = abs(consultation.target_d - consultation.fellow_target_d)
    _print(
        console,
        f"In brackets: if such eyes see a line less, or more, than the model predicts; of an eye "
        f"of unknown potential, nothing and all. The refraction spreads as in the European "
        f"registry ({_share(outlook, 0.5)} of 100 eyes within 0.5 D, {_share(outlook, 1.0)} within "
        f"1 D), the cylinder by {outlook.CYLINDER_SD_D} D in each component (assumed). "
        f"{two_eyes.stereo_of(consultation.patient, difference_d)}",
    )


def _share(outlook, limit_d):
    return f"{100.0 * outlook.share_within(limit_d):.0f}"


def _glasses(console, consultation):
    from shared_utils.choice import tasks
    from shared_utils.optics.through_focus import LIMITS

    pupils = tasks.pupils_of(consultation.patient)
    rows = list(zip(*_glasses_by_class(consultation).values(), strict=True))
    for kind in ("weakest", "comfortable"):
        _head(console, f"Glasses that remain: {kind}")
        table = _table(console, "task", *(name.replace(" ", "\n") for name in tasks.LENS_OF))
        for row in rows:
            if kind == "weakest" or any(found.clear_with and not found.clear for found in row):
                table.add_row(row[0].task.name, *(_glass(found, kind) for found in row))
        console.print(table)
    plan = f"target {_signed(consultation.target_d)} D"
    if consultation.fellow_target_d != consultation.target_d:
        plan += f", other eye {_signed(consultation.fellow_target_d)} D"
    eyes = "Both eyes with the same lens, of which the better counts"
    if tasks.only_eye(consultation.patient):
        eyes = "This eye alone, for the other does not help"
    _print(
        console,
        f"Glasses in D: the weakest with which a task is just clear, and the comfortable ones, "
        f"which leave the depth of focus in reserve. none: clear without; ?: so near that the "
        f"model cannot tell; x: not clear even so; cyl: for the astigmatism alone; unknown: an "
        f"eye's potential acuity decides. "
        f"{eyes}, {plan}. Pupils "
        f"{', '.join(f'{mm:.1f} mm ({light})' for light, mm in pupils.items())}.",
    )
    _print(console, f"{LIMITS} An eye with disease sees less than that.")


def _glass(found, kind="both"):
    """Glasses of one task: the weakest, the comfortable ones, or both."""
    if not found.known:
        return "unknown"
    weakest, comfortable = (
        "cyl" if found.cylinder_d and not power_d else _signed(power_d)
        for power_d in (found.reader_d, found.comfortable_reader_d)
    )
    power = "none" if found.clear else comfortable if kind == "comfortable" else weakest
    if kind == "both" and found.clear_with and found.comfortable_reader_d:
        power += f"/{comfortable}"
    return power + ("" if found.clear_with else " x") + (" ?" if found.borderline else "")


def _write_sheet(consultation, path, translation):
    from shared_utils.choice import counselling
    from shared_utils.show import sheet

    words = counselling.wording(translation) if translation else None
    page = sheet.as_html(
        consultation.patient,
        consultation.target_d,
        consultation.fellow_target_d,
        words,
        invented=consultation.invented,
    )
    try:
        path.write_text(page, encoding="utf-8")
    except OSError as error:
        raise ValueError(f"The sheet cannot be written to {path}: {error.strerror}.") from error


def _table(console, first, *others):
    table = Table(
        box=box.SIMPLE_HEAD if console.is_terminal else None, pad_edge=False, show_edge=False
    )
    table.add_column(first, no_wrap=True)
    for title in others:
        table.add_column(title, justify="right", min_width=max(map(len, title.split())))
    return table


def _head(console, text):
    console.print(f"\n{text}", style="bold", markup=False, soft_wrap=not console.is_terminal)


def _print(console, text):
    # to a file or a pipe each sentence on one line, so that it can be searched
    console.print(text, markup=False, soft_wrap=not console.is_terminal)


def _signed(power_d):
    rounded = round(float(power_d), 2) + 0.0
    return f"{rounded:+.2f}".replace("-", "−") if rounded else "0.00"

"""The command for one patient: power table, candidacy, glasses that remain, and the sheet."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rich import box
from rich.console import Console
from rich.table import Table

from shared_utils import CAUTION

if TYPE_CHECKING:
    from typing import Any

UNSTEADY = {
    "surface_treatment": ("treated, not yet stable", "untreated"),
    "surface_lesion": ("untreated",),
    "irregular_astigmatism": ("marked",),
    "ectasia": ("manifest",),
}
"""Findings that make keratometry, and with it the power, uncertain."""

PIPED_WIDTH = 120
"""Wide enough that no row of a table is broken in a file or a pipe."""


def add_to(commands: Any) -> None:
    """Add the parser of this group."""
    says = "talk an invented patient through: powers, classes of lens, glasses, a sheet"
    parser = commands.add_parser(
        "consult",
        help=says,
        description=f"{says.capitalize()}.",
        epilog=f"Example: lens-course consult night_driver --sheet sheet.html. {CAUTION}",
    )
    parser.add_argument("patient", metavar="PATIENT", help="a TOML file, or an example's name")
    parser.add_argument("--sheet", metavar="FILE", help="write the patient's sheet as HTML")
    parser.add_argument("--wording", metavar="TOML", help="a translation of the sheet's words")
    parser.set_defaults(run=_consult)


def _consult(arguments):
    from shared_utils.clinic import patient_file

    consultation = patient_file.read(patient_file.find(arguments.patient))
    console = Console(highlight=False)
    if not console.is_terminal:
        console = Console(highlight=False, width=PIPED_WIDTH)
    if arguments.sheet:  # first: a reader of the output, such as head, may leave early
        _write_sheet(consultation, Path(arguments.sheet), arguments.wording)
    _print(console, f"{consultation.patient.label}, an invented patient")
    _powers(console, consultation)
    _candidacy(console, consultation.patient)
    _plans(console, consultation)
    _glasses(console, consultation)
    if arguments.sheet:
        message = f"Wrote the patient's sheet to {arguments.sheet}; print it from a browser."
        _print(console, f"\n{message}")
    _print(console, f"\n{CAUTION}")
    return 0


def _powers(console, consultation):
    from shared_utils.choice.findings import FINDINGS
    from shared_utils.power import biometry, lens_steps
    from shared_utils.power.lens_constants import LensConstants
    from shared_utils.power.registry import FORMULAS

    _head(console, "Lens power")
    eye, values = consultation.patient.eye, consultation.patient.values
    if eye is None:
        _print(console, "No biometry in the file, so no power.")
        return
    if values["corneal_surgery"] not in ("none", "unknown"):
        _print(
            console,
            f"Earlier surgery of the cornea ({values['corneal_surgery']}): keratometry misleads "
            "these formulas, so no power is shown. Use methods made for such eyes, and compare "
            "several.",
        )
        return
    lens = LensConstants.from_a_constant(consultation.a_constant)
    table = _table(
        console, "formula", "lens (D)", "leaves (D)", "half a dioptre weaker", "stronger"
    )
    for formula, title in FORMULAS.titles(FORMULAS.where("in_consultations")).items():
        found = lens_steps.choices(eye, formula, lens, consultation.target_d)
        near = found.nearest
        leaves = [_signed(power) for power in found.predicted_d]
        table.add_row(title, f"{found.iol_power_d[near]:.1f}", leaves[near], leaves[0], leaves[2])
    console.print(table)
    _print(
        console,
        f"A-constant {consultation.a_constant:g}, target {_signed(consultation.target_d)} D. "
        "Formulas differ in where they expect the lens to lie.",
    )
    if consultation.fellow_target_d != consultation.target_d:
        _print(console, "The other eye needs its own measurements and its own table.")
    if values["corneal_surgery"] == "unknown":
        _print(console, "Ask about earlier laser: it would make this table wrong.")
    for name, grades in UNSTEADY.items():
        if values[name] in grades:
            _print(
                console,
                f"{FINDINGS[name].title}: {values[name]}. Keratometry may mislead; measure again "
                "once it repeats.",
            )
    for finding in biometry.screening(eye):
        if finding.holds:
            _print(console, f"Measure again: {finding.advice}")


def _candidacy(console, patient):
    from shared_utils.choice.candidacy import assess

    advised = assess(patient)
    _head(console, "Classes of lens")
    for advice in advised:
        _print(console, f"{advice.lens_class}: {advice.verdict}")
    for advice in advised:
        _head(console, f"Why {advice.lens_class}: {advice.verdict}")
        for reason in advice.reasons:
            founded = reason.source
            if not founded.startswith(reason.strength):
                founded = f"{reason.strength}: {founded}"
            _print(console, f"- {reason.effect}: {reason.text} [{founded}]")
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


def _plans(console, consultation):
    from shared_utils.choice import plans

    monovision = plans.assess_monovision(
        consultation.patient, consultation.target_d, consultation.fellow_target_d
    )
    for advice in (monovision, plans.assess_toric(consultation.patient)):
        if advice is None:
            continue
        _head(console, f"{advice.lens_class.capitalize()}: {advice.verdict}")
        for reason in advice.reasons:
            if reason.effect != "note":
                _print(console, f"- {reason.effect}: {reason.text} [{reason.source}]")
        for sentence in advice.examine_first:
            _print(console, f"- examine first: {sentence}")


def _glasses(console, consultation):
    from shared_utils.choice import tasks
    from shared_utils.optics.through_focus import LIMITS

    pupils = tasks.pupils_of(consultation.patient)
    _head(console, "Glasses that remain")
    table = _table(console, "task", *(name.replace(" ", "\n") for name in tasks.LENS_OF))
    columns = [
        tasks.glasses_for(
            consultation.patient, lens, consultation.target_d, consultation.fellow_target_d
        )
        for lens in tasks.LENS_OF.values()
    ]
    for row in zip(*columns, strict=True):
        table.add_row(row[0].task.name, *(_glass(found) for found in row))
    console.print(table)
    plan = f"target {_signed(consultation.target_d)} D"
    if consultation.fellow_target_d != consultation.target_d:
        plan += f", other eye {_signed(consultation.fellow_target_d)} D; the better eye counts"
    eyes = "Both eyes with the same lens"
    if tasks.only_eye(consultation.patient):
        eyes = "This eye alone, for the other does not help"
    _print(
        console,
        f"Glasses in D; none: clear without; ?: so near that the model cannot tell; x: not clear "
        f"even so; cyl: for the astigmatism alone; unknown: an eye's potential acuity decides. "
        f"{eyes}, {plan}. Pupils "
        f"{', '.join(f'{mm:.1f} mm ({light})' for light, mm in pupils.items())}.",
    )
    _print(console, f"{LIMITS} An eye with disease sees less than that.")


def _glass(found):
    if not found.known:
        return "unknown"
    power = "none" if found.clear else _signed(found.reader_d)
    if not found.reader_d and found.cylinder_d:
        power = "cyl"
    return power + ("" if found.clear_with else " x") + (" ?" if found.borderline else "")


def _write_sheet(consultation, path, translation):
    from shared_utils.choice import counselling
    from shared_utils.show import sheet

    words = counselling.wording(translation) if translation else None
    page = sheet.as_html(
        consultation.patient, consultation.target_d, consultation.fellow_target_d, words
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
        table.add_column(title, justify="right")
    return table


def _head(console, text):
    console.print(f"\n{text}", style="bold", markup=False, soft_wrap=not console.is_terminal)


def _print(console, text):
    # to a file or a pipe each sentence on one line, so that it can be searched
    console.print(text, markup=False, soft_wrap=not console.is_terminal)


def _signed(power_d):
    rounded = round(float(power_d), 2) + 0.0
    return f"{rounded:+.2f}".replace("-", "−") if rounded else "0.00"

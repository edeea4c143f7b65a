"""An invented patient in a file: read, or refused with the line, the field and what was wanted.

A file is TOML: ``label``, the list ``tasks``, and the tables ``[findings]``, ``[wishes]``,
``[biometry]``, ``[fellow_findings]``, ``[fellow_biometry]`` and ``[plan]``. What is left out is
unknown; nothing but the label is needed. Examples lie in the folder ``patients`` beside this
module.
"""

from __future__ import annotations

import difflib
import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.choice.findings import Patient, from_dict
from shared_utils.choice.tasks import TARGET_RANGE_D
from shared_utils.optics.domain import require
from shared_utils.power.lens_constants import DEMO_A_CONSTANT
from shared_utils.power.thin_lens import A_CONSTANT_HINT, A_CONSTANT_RANGE

if TYPE_CHECKING:
    from os import PathLike

EXAMPLES = Path(__file__).parent / "patients"

PLAN = {
    "target_d": (*TARGET_RANGE_D, "Myopia is negative."),
    "fellow_target_d": (*TARGET_RANGE_D, "Myopia is negative."),
    "a_constant": (*A_CONSTANT_RANGE, A_CONSTANT_HINT),
}
USUAL_A_CONSTANT = DEMO_A_CONSTANT

TABLES = ("findings", "wishes", "biometry", "fellow_findings", "fellow_biometry", "plan")


@dataclass(frozen=True)
class Consultation:
    """A patient and what is planned.

    Attributes
    ----------
    patient : findings.Patient
    target_d : float
        Refraction aimed at, D.
    fellow_target_d : float
        That of the other eye, D; the same unless the file tells another.
    a_constant : float
        Of the lens for the power table.
    invented : bool
        Whether the patient is one of the examples, or the label says that it is invented.
    """

    patient: Patient
    target_d: float = 0.0
    fellow_target_d: float = 0.0
    a_constant: float = USUAL_A_CONSTANT
    invented: bool = True


def examples() -> list[str]:
    """Return the names of the example patients.

    Returns
    -------
    list of str

    Examples
    --------
    >>> "night_driver" in examples()
    True
    """
    return sorted(path.stem for path in EXAMPLES.glob("*.toml"))


def find(wanted: str | PathLike[str]) -> Path:
    """Return the path of a patient's file, or of an example by its name.

    Parameters
    ----------
    wanted : str or pathlib.Path

    Returns
    -------
    pathlib.Path

    Raises
    ------
    ValueError
        If there is neither; the message lists the examples.
    """
    path = Path(wanted)
    if path.is_file():
        return path
    if str(wanted) in examples():
        return EXAMPLES / f"{wanted}.toml"
    raise ValueError(
        f"There is no file {str(wanted)!r}; give a patient's TOML file, or an example: "
        f"{', '.join(examples())}."
    )


def read(path: str | PathLike[str]) -> Consultation:
    """Return the consultation that a file describes.

    Parameters
    ----------
    path : str or pathlib.Path

    Returns
    -------
    Consultation

    Raises
    ------
    ValueError
        One sentence for each field that cannot be used, with the file, the line and what was
        expected.

    Examples
    --------
    >>> read(find("night_driver")).patient.values["night_driving"]
    'professional'
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")  # some editors put a mark in front
    except OSError as error:
        raise ValueError(f"{path.name} cannot be read: {error.strerror}.") from error
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise ValueError(
            f"{path.name}, line {line}: a letter is not UTF-8; save the file as UTF-8."
        ) from error
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        where = f"line {found[1]}" if found else f"line {len(text.splitlines())}"
        problem = re.sub(r" \(at .*\)", "", str(error))
        typed = text.splitlines()[int(found[1]) - 1 if found else -1 :][:1]
        raise ValueError(
            f'{path.name}, {where}: {problem}; write NAME = NUMBER or NAME = "grade" under a table '
            f"such as [findings].{_slip_of_typing(''.join(typed))}"
        ) from error
    wrong = _wrong_fields(data, text)
    if wrong:
        raise ValueError(" ".join(f"{path.name}, {sentence}" for sentence in wrong))
    plan = data.pop("plan", {})
    data.setdefault("label", path.stem)  # a file of someone's own is not called invented
    try:
        patient = from_dict(data)
    except ValueError as error:  # each field is right, but two do not go together
        line = _line_of(text, "", str(error).split()[0])
        raise ValueError(f"{path.name}, line {line}: {error}") from error
    target_d = float(plan.get("target_d", 0.0))
    return Consultation(
        patient,
        target_d,
        float(plan.get("fellow_target_d", target_d)),
        float(plan.get("a_constant", USUAL_A_CONSTANT)),
        path.resolve().parent == EXAMPLES.resolve() or "invented" in patient.label.casefold(),
    )


def _slip_of_typing(typed):
    """What a word processor or another country's way to write numbers left in a line."""
    comma = re.search(r"\d+,\d+", typed)
    if comma:
        return f" Is {comma[0]} a decimal number? Write {comma[0].replace(',', '.')}, with a point."
    if re.search("[“”„‟«»‘’]", typed):
        return ' Quotation marks are straight: "grade".'
    if re.search(r"[−–—]\s*\d", typed):
        return " The sign of a negative number is a hyphen: -0.5."
    return ""


def _wrong_fields(data, text):
    """A sentence for each field that cannot be used, with its line."""
    wrong = []
    for table, given in data.items():
        if table in ("label", "tasks"):
            fields = [("", table, {table: given})]
        elif table not in TABLES or not isinstance(given, dict):
            known = f"a patient has label, tasks, [{'], ['.join(TABLES)}]"
            problem = "is no table" if table in TABLES else "is not known"
            wrong.append(f"line {_line_of(text, '', table)}, {table}: {problem}; {known}.")
            continue
        else:
            fields = [(table, name, {table: {name: value}}) for name, value in given.items()]
        for inside, name, alone in fields:
            try:
                _check(inside, name, alone)
            except ValueError as error:
                field = f"{inside}.{name}".lstrip(".")
                value = alone[inside][name] if inside else ""
                comma = isinstance(value, str) and re.fullmatch(r"\s*[-+]?\d+,\d+\s*", value)
                hint = _slip_of_typing(value) if comma else ""
                wrong.append(f"line {_line_of(text, inside, name)}, {field}: {error}{hint}")
    needed = ("axial_length_mm", "k1_d")
    for table in ("biometry", "fellow_biometry"):
        measured = data.get(table)
        lacking = [n for n in needed if isinstance(measured, dict) and n not in measured]
        if lacking:
            line = _line_of(text, "", table)
            wrong.append(
                f"line {line}, {table}: lacks {' and '.join(lacking)}; give it in mm or D."
            )
    return wrong


def _check(table, name, alone):
    if table == "plan":
        if name not in PLAN:
            close = difflib.get_close_matches(name, PLAN, n=1)
            hint = f"did you mean {close[0]}?" if close else f"give any of: {', '.join(PLAN)}."
            raise ValueError(f"plan has no {name!r}; {hint}")
        low, high, hint = PLAN[name]
        if require(name, alone["plan"][name], low, high, hint=hint).ndim:
            raise ValueError(f"{name} holds more than one number; give one.")
    elif table.endswith("biometry"):
        whole = {"axial_length_mm": 23.5, "k1_d": 43.0} | alone[table]
        from_dict({table: whole})
    else:
        from_dict(alone)


def _line_of(text, table, name):
    """Number of the line on which a field stands, else of its table, else the first."""
    header = re.compile(r"^\s*\[\s*([\w.\"']+)\s*\]")
    field = re.compile(rf"^\s*[\"']?{re.escape(name)}[\"']?\s*[=.]")
    dotted = re.compile(rf"^\s*{re.escape(table)}\s*\.\s*[\"']?{re.escape(name)}[\"']?\s*=")
    now, of_table = "", 1
    for number, line in enumerate(text.splitlines(), start=1):
        found = header.match(line)
        if found:
            now = found[1].strip("\"'")
            if now == table or (not table and now == name):
                of_table = number
            continue
        inside = field.match(line) and (now == table or not table)
        if inside or (table and not now and dotted.match(line)):
            return number
    return of_table

"""The numbers that a set gives to a learner, and those that are right for them.

The instructor's own cells are run here, with the instructor's own answers: nothing of a learner's.
"""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import math
import os
import warnings
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from shared_utils.course.learner import LEARNER_VARIABLE
from shared_utils.pages import cells
from shared_utils.problems import checks, numbers

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from typing import Any

    from shared_utils.classroom.folder import ClassFolder


@dataclass(frozen=True)
class DrawnValues:
    """The numbers of one learner in one problem.

    Attributes
    ----------
    drawn : dict of str to (float, int)
        Name of the quantity → the learner's number, and how many could have been drawn.
    right : dict of str to float
        Name of the step → the number that is right for this learner.
    """

    drawn: dict[str, tuple[float, int]] = field(default_factory=dict)
    right: dict[str, float] = field(default_factory=dict)


def values_of(folder: ClassFolder, name: str, learner: str) -> dict[str, DrawnValues]:
    """Return a learner's numbers in a released set: problem → numbers; computed once and kept.

    Parameters
    ----------
    folder : ClassFolder
    name : str
        A released set.
    learner : str
    """
    from shared_utils.grading.supervisor.records import Records

    text = folder.source(name).read_text(encoding="utf-8")
    digest = hashlib.sha256(text.encode()).hexdigest()
    records = Records(folder.path)
    query = "SELECT value FROM drawn WHERE source = ? AND learner = ?"
    kept = records.rows(query, (digest, learner))
    if kept:
        return {p: DrawnValues(**v) for p, v in json.loads(kept[0]["value"]).items()}
    found = run(json.loads(text), learner)
    plain = {p: {"drawn": v.drawn, "right": v.right} for p, v in found.items()}
    with records.opened() as database:
        database.execute(
            "INSERT OR REPLACE INTO drawn VALUES (?, ?, ?)", (digest, learner, json.dumps(plain))
        )
    return found


def run(source: Mapping[str, Any], learner: str) -> dict[str, DrawnValues]:
    """Run a set with its own answers for a learner, and return the learner's numbers.

    Parameters
    ----------
    source : dict
        The notebook with answers and tests.
    learner : str

    Returns
    -------
    dict of str to DrawnValues
        By problem. A cell that does not run gives none.
    """
    found: dict[str, DrawnValues] = {}
    where: list[str] = [""]

    def numbers_here():
        return found.setdefault(where[0], DrawnValues())

    space: dict[str, Any] = {"__name__": "__main__"}
    with _as_learner(learner), _watched(numbers_here):
        for cell in source["cells"]:
            problem, kind = cells.grade_id_parts(cell)
            if cell["cell_type"] != "code" or kind not in ("given", "answer", "check"):
                continue
            where[0] = problem or ""
            with contextlib.suppress(Exception):
                exec("".join(cell["source"]), space)
    found.pop("setup", None)
    return found


@contextlib.contextmanager
def _as_learner(learner) -> Iterator[None]:
    before, seed = os.environ.get(LEARNER_VARIABLE), numbers._seed
    os.environ[LEARNER_VARIABLE] = learner
    try:
        with (
            contextlib.redirect_stdout(io.StringIO()),
            contextlib.redirect_stderr(io.StringIO()),
            warnings.catch_warnings(),
        ):
            warnings.simplefilter("ignore")
            yield
    finally:
        numbers.use_seed(seed)
        if before is None:
            os.environ.pop(LEARNER_VARIABLE, None)
        else:
            os.environ[LEARNER_VARIABLE] = before


@contextlib.contextmanager
def _watched(numbers_here) -> Iterator[None]:
    """Note what is drawn and what is checked against, while cells run."""
    pick = numbers.Draw.pick
    originals = {name: getattr(checks, name) for name in ("number", "axis", "lens_power")}

    def watched_pick(draw, name, low, high, step=1):
        value = pick(draw, name, low, high, step)
        numbers_here().drawn[name] = float(value), int((high - low) / step + 1e-9) + 1
        return value

    def watched(original):
        def check(what, answer, want, *rest, **more):
            with contextlib.suppress(TypeError, ValueError):
                if math.isfinite(float(want)):
                    numbers_here().right[str(what)] = float(want)
            return original(what, answer, want, *rest, **more)

        return check

    numbers.Draw.pick = watched_pick  # type: ignore[method-assign]
    for name, original in originals.items():
        setattr(checks, name, watched(original))
    try:
        yield
    finally:
        numbers.Draw.pick = pick  # type: ignore[method-assign]
        for name, original in originals.items():
            setattr(checks, name, original)

"""A problem set sat through in this process, cell by cell, with every check and draw recorded.

No kernel is started, so that a set can be sat by hundreds of learners in seconds.
"""

import ast
import contextlib
import io
import warnings
from dataclasses import dataclass, field
from functools import cache

from shared_utils.course import learner as learner_ids
from shared_utils.pages import build
from shared_utils.problems import checks, numbers
from tests import filling

KINDS_OF_CHECK = ("number", "axis", "lens_power", "choice")


@dataclass
class Check:
    """One call of a check: what it was asked, of which cell."""

    problem: str
    cell_kind: str
    check: str
    what: str
    answer: object
    want: object
    options: dict

    def right(self, other):
        """Whether another answer would hold, and what is said if not."""
        record = self.record(other)
        return (True, "") if record is None else (False, record.sentence)

    def record(self, other):
        """Return the record of a slip if another answer would not hold, else None."""
        try:
            with contextlib.redirect_stdout(io.StringIO()):
                getattr(checks, self.check)(self.what, other, self.want, **self.options)
        except checks.NotRight as error:
            return error.record
        return None


@dataclass
class Sitting:
    """What came of it."""

    earned: dict = field(default_factory=dict)  # (problem, kind) → points, for graded cells
    errors: dict = field(default_factory=dict)  # (problem, kind) → the error, where there was one
    made: list = field(default_factory=list)  # every check, in order
    drawn: dict = field(default_factory=dict)  # problem → the numbers drawn
    message: str = ""


@cache
def _cells(name, blank):
    notebook = filling.release(name) if blank == "blank" else filling.solution(name)
    if blank == "tested":
        empty = {build.grade_id_parts(cell): cell.source for cell in filling.release(name).cells}
        for cell in notebook.cells:
            if build.grade_id_parts(cell)[1] == "answer":
                cell.source = empty[build.grade_id_parts(cell)]
    cells = []
    for cell in notebook.cells:
        if cell.cell_type != "code":
            continue
        problem, kind = build.grade_id_parts(cell)
        tree = ast.parse(cell.source)
        last = None
        if tree.body and isinstance(tree.body[-1], ast.Expr):
            last = compile(ast.Expression(tree.body.pop().value), f"{problem}-{kind}", "eval")
        body = compile(tree, f"{problem}-{kind}", "exec")
        cells.append((problem, kind, body, last, cell.metadata.get("nbgrader", {}).get("points")))
    return cells


def sit(name, learner, monkeypatch, *, blank=False, swap=None):
    """Sit a set through as a learner.

    ``blank``: True for the released notebook as it is, ``"tested"`` for one that was handed in so
    and meets the hidden tests.
    ``swap``: number of a check, counted over the set, → the answer that it meets instead.
    """
    sitting = Sitting()
    spaces = {"__name__": "__main__"}
    place = [None, None]
    real = {kind: getattr(checks, kind) for kind in KINDS_OF_CHECK}

    def recorded(kind):
        def check(what, answer, want, **options):
            made = Check(*place, kind, what, answer, want, options)
            sitting.made.append(made)
            if swap and len(sitting.made) - 1 in swap:
                answer = swap[len(sitting.made) - 1]
            return real[kind](what, answer, want, **options)

        return check

    real_pick = numbers.Draw._hash

    def hashed(draw, name, count):
        value = real_pick(draw, name, count)
        sitting.drawn.setdefault(draw.problem, {})[name] = value
        return value

    with monkeypatch.context() as patch, contextlib.redirect_stdout(io.StringIO()) as out:
        patch.setenv(learner_ids.LEARNER_VARIABLE, learner)
        patch.setattr(numbers.Draw, "_hash", hashed)
        for kind in KINDS_OF_CHECK:
            patch.setattr(checks, kind, recorded(kind))
        for problem, kind, body, last, points in _cells(
            name, {True: "blank", False: "model"}.get(blank, blank)
        ):
            place[:] = problem, kind
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("error")
                    exec(body, spaces)
                    value = eval(last, spaces) if last else None
            except Exception as error:
                sitting.errors[problem, kind] = error
                value = 0.0
            if points is not None:
                earned = value if isinstance(value, float) else points
                sitting.earned[problem, kind] = earned, points
    sitting.message = out.getvalue()
    return sitting

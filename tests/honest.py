"""Honest submissions over the course's sets, as every class hands them in.

The sets are the course's first three, or as many as a test wants; ``SMALL`` is for tests that
want less.
"""

import ast
import re
from contextlib import contextmanager

import nbformat
import pytest

from shared_utils.classroom import folder as class_folder
from shared_utils.classroom import release
from shared_utils.course import place
from shared_utils.pages import build, source
from tests.marking import empty_class, write_course

HOW = ("right", "half right", "wrong", "blank", "crashing")
BLOCK = re.compile(r"^( *)### BEGIN SOLUTION\n.*?### END SOLUTION", re.DOTALL | re.MULTILINE)
SMALL = {
    "98_lists": """\
# %% [markdown] question="start"
# # Small problems with lists

# %% given="setup"
import numpy as np
from shared_utils.problems import checks
from shared_utils.problems.numbers import Draw

# %% given="sum"
count = Draw("98_lists/sum").pick("count", 3, 9)


# %% answer="sum"
def vergences_d(distances_m):
    ### BEGIN SOLUTION
    return 1 / np.asarray(distances_m)
    ### END SOLUTION


# %% check="sum" points=2
assert np.allclose(vergences_d([0.5, 0.25]), [2.0, 4.0])

# %% hidden="sum" points=3
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
marks = checks.Marks(3)
for shown in range(1, count + 1):
    marks.step(f"case {shown}", lambda shown=shown: float(vergences_d([shown])[0]) * shown == 1)
marks.score()
### END HIDDEN TESTS

# %% answer="table"
### BEGIN SOLUTION
table = {"near": [3.0, 2], "far": (0.0, "clear")}
### END SOLUTION

# %% check="table" points=1
assert table["near"][0] + table["far"][0] == 3.0
""",
    "99_words": """\
# %% [markdown] question="start"
# # Small problems with words

# %% given="setup"
from shared_utils.problems import checks

# %% answer="side"
def side(refraction_d):
    ### BEGIN SOLUTION
    return "short-sighted" if refraction_d < 0 else "long-sighted"
    ### END SOLUTION


# %% check="side" points=1
assert side(-2.0) == "short-sighted", side(-2.0)
print("✓ the side")

# %% hidden="side" points=2
# The class runs hidden tests of this problem here.
### BEGIN HIDDEN TESTS
assert side(3.0).startswith("long")
### END HIDDEN TESTS

# %% answer="power"
### BEGIN SOLUTION
power_d = 43.0
print("a power of", power_d)
### END SOLUTION

# %% check="power" points=2
checks.number("the power", power_d, 43.0, unit="D", within=0.01, expect="a power")

# %% [markdown] written="why" points=4
# ### BEGIN MARK SCHEME
# Because.
# ### END MARK SCHEME
""",
}


@contextmanager
def first_sets(folder, count):
    """Teach classes from a course with the first problem sets alone: their names."""
    root = folder / "course"
    write_course(root, {name: source.set_text(name) for name in place.set_names()[:count]})
    for built in build.build_all(root):
        built.path.parent.mkdir(parents=True, exist_ok=True)
        built.path.write_text(built.content, encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(place, "course_root", lambda: root)
        for module in (class_folder, release):
            patch.setattr(module, "course_root", lambda: root)
        yield place.set_names(root)


@contextmanager
def honest_class(folder, count, max_sets=3):
    """Give a class in which that many handed in each set, and the names of the sets.

    ``max_sets=None`` is all of them.
    """
    learners = [f"learner{number:03}" for number in range(count)]
    with first_sets(folder, max_sets) as names, empty_class(folder, learners) as room:
        for name in names:
            room.release(name)
            source = nbformat.read(place.course_root() / "solutions" / name / "problems.ipynb", 4)
            for number, learner in enumerate(learners):
                target = room.folder / "submitted" / learner / name / "problems.ipynb"
                target.parent.mkdir(parents=True)
                how = HOW[number % len(HOW)]
                nbformat.write(submission(source, how, number // len(HOW)), target)
        yield room, names


def submission(source, how, number):
    """Return a set filled in: right, half right, wrong, blank or crashing, each in several ways."""
    notebook = build.released(source)
    model = {cell.metadata.nbgrader.grade_id: cell.source for cell in source.cells}
    place_of = 0
    for cell in notebook.cells:
        _, kind = build.grade_id_parts(cell)
        answer = model.get(cell.metadata.nbgrader.grade_id)
        if kind == "written" and how != "blank":
            cell.source = f"Because of the {how} answer."
        elif kind == "answer" and how != "blank":
            place_of += 1
            good = how == "right" or (how == "half right" and (place_of + number) % 2)
            if good:
                cell.source = BLOCK.sub(_as_written, answer)
            elif how != "half right" or number % 2:
                spoil = _crash if how == "crashing" else _wrong
                cell.source = BLOCK.sub(lambda found, n=number, f=spoil: f(found, n), answer)
    return notebook


def _as_written(found):
    lines = found[0].splitlines()[1:-1]
    return "\n".join(lines)


def _wrong(found, number):
    value = ("12345.0", "'many'", "None", "[1.0, 2.0]")[number % 4]
    return _instead(found, value)


def _crash(found, number):
    value = ("1 / 0", "missing_name", "int('x')", "{}['gone']")[number % 4]
    return _instead(found, value)


def _instead(found, value):
    indent = found[1]
    if indent:
        return f"{indent}return {value}"
    names = []
    for node in ast.walk(ast.parse(_as_written(found))):
        if isinstance(node, ast.Name) and isinstance(node.ctx, ast.Store):
            names.append(node.id)
    return "\n".join(f"{name} = {value}" for name in dict.fromkeys(names)) or value

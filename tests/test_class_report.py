"""The class's report: figures as pandas has them, quick and small for a big class."""

import math
import resource
import subprocess
import sys
import time
from datetime import datetime

import numpy as np
import pandas as pd
import pytest
import sqlalchemy
from nbgrader import api

from shared_utils.authoring import coverage
from shared_utils.classroom import marks
from shared_utils.classroom.slips import LearnerSlip
from shared_utils.course import place
from shared_utils.pages import build
from shared_utils.problems.check_records import CheckRecord
from shared_utils.reports import class_report
from tests import filling

SETS = place.set_names()


def gradebook(file, learners, sets, seed=1, url=None):
    """A gradebook of nbgrader's own tables, filled by chance; the same in a frame of pandas."""
    chance = np.random.default_rng(seed)
    url = url or f"sqlite:///{file}"
    engine = sqlalchemy.create_engine(url)
    api.Base.metadata.create_all(engine)
    tables = api.Base.metadata.tables
    people = [f"learner{n:03d}" for n in range(learners)]
    able = chance.normal(0.0, 1.0, learners)
    rows = {name: [] for name in tables}
    rows["course"].append({"id": "c"})
    rows["student"] = [
        {"id": p, "first_name": f"Given{n}", "last_name": "Invented", "email": None}
        for n, p in enumerate(people)
    ]
    frame = []
    for name in sets:
        rows["assignment"].append({"id": f"a{name}", "name": name, "course_id": "c"})
        rows["notebook"].append({"id": f"n{name}", "name": "problems", "assignment_id": f"a{name}"})
        cells = []
        for cell in filling.solution(name.split("#")[0]).cells:
            problem, kind = build.grade_id_parts(cell)
            if kind in ("check", "hidden", "written"):
                cells.append((f"{problem}-{kind}", cell.metadata.nbgrader.points, kind))
        for cell, most, kind in cells:
            key = f"{name}{cell}"[:32]
            rows["base_cell"].append(
                {"id": key, "name": cell, "notebook_id": f"n{name}", "type": "GradeCell"}
            )
            type_ = "markdown" if kind == "written" else "code"
            rows["grade_cells"].append({"id": key, "max_score": most, "cell_type": type_})
        for n, person in enumerate(people):
            if chance.random() < 0.05:
                continue
            rows["submitted_assignment"].append(
                {
                    "id": f"s{name[:20]}-{n}",
                    "assignment_id": f"a{name}",
                    "student_id": person,
                    "timestamp": datetime(2026, 11, 1),
                }
            )
            rows["submitted_notebook"].append(
                {
                    "id": f"b{name[:20]}-{n}",
                    "assignment_id": f"s{name[:20]}-{n}",
                    "notebook_id": f"n{name}",
                    "flagged": False,
                }
            )
            for m, (cell, most, kind) in enumerate(cells):
                by_hand = kind == "written"
                got = most * (able[n] + chance.normal(0, 1.5) > -1 + m % 3)
                rows["grade"].append(
                    {
                        "id": f"g{name}-{n}-{m}",
                        "notebook_id": f"b{name[:20]}-{n}",
                        "cell_id": f"{name}{cell}"[:32],
                        "auto_score": None if by_hand else got,
                        "manual_score": got / 2 if by_hand else None,
                        "needs_manual_grade": by_hand and n % 7 == 0,
                    }
                )
                problem = cell.rpartition("-")[0]
                frame.append((name, person, problem, most, got / 2 if by_hand else got))
    with engine.begin() as connection:
        for table in api.Base.metadata.sorted_tables:
            if rows[table.name]:
                connection.execute(sqlalchemy.insert(table), rows[table.name])
    engine.dispose()
    columns = ["set", "learner", "problem", "most", "marks"]
    return url, pd.DataFrame(frame, columns=columns)


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    file = tmp_path_factory.mktemp("marks") / "gradebook.db"
    url, frame = gradebook(file, 40, SETS[:2])
    return class_report.make(marks.read(url)), frame


def by_problem(frame, name):
    here = frame[frame["set"] == name]
    return here.pivot_table(index="learner", columns="problem", values="marks", aggfunc="sum")


def test_sets_problems_and_learners_agree_with_pandas(small):
    report, frame = small
    for row in report.sets:
        table = by_problem(frame, row.name)
        most = frame[frame["set"] == row.name].groupby(["learner", "problem"])["most"].sum()
        most = most.groupby("problem").first()
        assert row.handed_in == len(table)
        assert row.mean_share == pytest.approx(table.sum(axis=1).mean() / most.sum())
        items = len(table.columns)
        alpha = items / (items - 1) * (1 - table.var().sum() / table.sum(axis=1).var())
        assert row.reliability == pytest.approx(alpha)
        for problem in (p for p in report.problems if p.name == row.name):
            rest = table.drop(columns=problem.problem).sum(axis=1)
            assert problem.difficulty == pytest.approx(
                table[problem.problem].mean() / most[problem.problem]
            )
            assert problem.discrimination == pytest.approx(table[problem.problem].corr(rest))
    whole = frame.groupby("learner")[["marks", "most"]].sum()
    for person in report.learners:
        if not math.isnan(person.share):
            marks_of, max_of = whole.loc[person.learner]
            assert person.share == pytest.approx(marks_of / max_of)
            assert person.at_risk == (marks_of / max_of < 0.5 or len(person.missing) >= 2)
            assert ("sets missing" in person.talk) == (len(person.missing) >= 2)


def test_goals_are_computed_from_the_problems_that_serve_them(small):
    report, frame = small
    goals = [goal for goal in report.goals if goal.set == "01_vergence"]
    assert len(goals) == len(coverage.of_lesson("vergence"))
    first = frame[
        (frame["set"] == "01_vergence") & frame.problem.isin(["page", "aqueous", "points"])
    ]
    assert goals[0].share == pytest.approx(first.marks.sum() / first.most.sum())


def test_the_report_is_a_page_and_tables(small, tmp_path):
    report, _ = small
    page = class_report.write(report, tmp_path / "report")
    text = page.read_text(encoding="utf-8")
    assert "<script" not in text
    assert text.count("not for patient care") == 2  # first and last
    learners = pd.read_csv(tmp_path / "report" / "learners.csv")
    assert sorted(learners["id"]) == [p.learner for p in report.learners]
    assert learners["talk, for"].isna().is_monotonic_increasing  # who needs a word comes first
    totals = pd.read_csv(tmp_path / "report" / "marks.csv", index_col="id")
    _, frame = small
    expected = frame.pivot_table(index="learner", columns="set", values="marks", aggfunc="sum")
    found = totals.drop(columns="name").dropna(how="all")
    assert found.to_numpy() == pytest.approx(expected.to_numpy(), nan_ok=True)
    assert list(found.columns) == list(expected.columns)
    for name in ("sets", "goals", "problems", "slips"):
        assert (tmp_path / "report" / f"{name}.csv").is_file()


def test_what_nobody_has_marked_yet_is_neither_earned_nor_lost():
    """3 marks by the tests, and 4 for a written answer that is marked for one learner alone."""
    one = marks.SetMarks(
        "01_vergence",
        ("ada", "bob", "cat"),
        ("page", "reflection"),
        np.array([3.0, 4.0]),
        np.array([[3.0, 0.0], [3.0, 1.0], [1.0, 0.0]]),
        np.array([True, False, True]),
        (None, None, None),
        unmarked=np.array([[0.0, 4.0], [0.0, 0.0], [0.0, 4.0]]),
    )
    people = {"ada": "Ada", "bob": "Bob", "cat": "Cat"}
    report = class_report.make(marks.ClassMarks(people, (one,)))
    ada, bob, cat = report.learners
    assert (ada.share, ada.unmarked, ada.talk) == (1.0, 4.0, "")
    assert (bob.share, bob.unmarked, bob.talk) == (pytest.approx(4 / 7), 0.0, "")
    assert cat.share == pytest.approx(1 / 3)
    assert cat.talk == "under 50 % of what is marked so far"
    page, reflection = report.problems
    assert (page.unmarked, reflection.unmarked) == (0, 2)
    assert reflection.difficulty == 1 / 4
    assert report.sets[0].mean_share == pytest.approx(8 / 13)


def test_a_set_of_which_nothing_is_marked_has_no_share(tmp_path):
    one = marks.SetMarks(
        *("01_vergence", ("ada",), ("page",), np.array([3.0]), np.array([[0.0]])),
        *(np.array([True]), (None,)),
        unmarked=np.array([[3.0]]),
    )
    report = class_report.make(marks.ClassMarks({"ada": "Ada"}, (one,)))
    assert math.isnan(report.sets[0].mean_share)
    assert report.learners[0].talk == ""
    text = class_report.write(report, tmp_path).read_text("utf-8")
    assert "3 marks wait to be given by hand" in text
    assert "not marked yet" in text
    assert pd.read_csv(tmp_path / "learners.csv")["unmarked"].tolist() == [3.0]


def test_an_answer_that_waits_is_read_as_unmarked_from_the_gradebook(tmp_path):
    url, _ = gradebook(tmp_path / "gradebook.db", 8, SETS[:1])
    engine = sqlalchemy.create_engine(url)
    with engine.begin() as connection:
        connection.execute(
            sqlalchemy.text(
                "UPDATE grade SET manual_score = NULL, needs_manual_grade = 1 "
                "WHERE auto_score IS NULL"
            )
        )
    engine.dispose()
    (found,) = marks.read(url).sets
    column = found.problems.index("why")
    here = found.handed_in()
    assert here.any()
    assert (np.asarray(found.unmarked)[here, column] == found.most[column]).all()
    assert np.delete(np.asarray(found.unmarked), column, axis=1).sum() == 0


def slip(name, learner, problem, kind, advice="", step="far point", lost=1.0):
    record = CheckRecord(step, False, kind, f"{step}: no. {advice}", advice, 0.0, lost, "", problem)
    return LearnerSlip(name, learner, record)


def test_slips_are_counted_by_set_and_problem_the_worst_first():
    made = [
        slip("02_eye", "a", "curve", "sign", "the sign."),
        slip("01_vergence", "a", "page", "stopped", "stopped with TypeError"),
        slip("01_vergence", "a", "page", "sign", "the sign."),
        slip("01_vergence", "b", "page", "sign", "the sign.", lost=0.5),
        slip("01_vergence", "b", "image", "radians", "in radians."),
        *(slip("01_vergence", who, "image", "sign", "the sign.") for who in "abc"),
        slip("01_vergence", "a", "image", "sign", "the sign.", step="near point"),
    ]
    rows = class_report.make(marks.ClassMarks({}, ()), made).slips
    assert [(r.name, r.problem, r.step, r.slip, r.learners, r.times, r.lost) for r in rows] == [
        ("01_vergence", "image", "far point", "sign", 3, 3, 3.0),
        ("01_vergence", "image", "far point", "radians", 1, 1, 1.0),
        ("01_vergence", "image", "near point", "sign", 1, 1, 1.0),
        ("01_vergence", "page", "far point", "sign", 2, 2, 1.5),
        ("01_vergence", "page", "far point", "stopped", 1, 1, 1.0),
        ("02_eye", "curve", "far point", "sign", 1, 1, 1.0),
    ]
    assert rows[0].sentence == "the sign."


def test_no_gradebook_is_said(tmp_path):
    with pytest.raises(ValueError, match="no gradebook"):
        marks.read(f"sqlite:///{tmp_path / 'none.db'}")


def test_alpha_has_no_value_where_nothing_varies():
    assert math.isnan(class_report.alpha([[1, 2], [1, 2]]))
    assert math.isnan(class_report.alpha([[1, 2]]))


@pytest.mark.long
@pytest.mark.service
def test_a_gradebook_in_postgresql_gives_the_same_report(small, tmp_path, database):
    address = database.replace("postgresql:", "postgresql+psycopg:")
    url, _ = gradebook(None, 40, SETS[:2], url=address)
    there = class_report.write(class_report.make(marks.read(url)), tmp_path / "there")
    here = class_report.write(small[0], tmp_path / "here")
    for name in ("sets", "goals", "learners", "marks", "problems"):
        assert (there.parent / f"{name}.csv").read_text() == (
            here.parent / f"{name}.csv"
        ).read_text()


@pytest.mark.benchmark
@pytest.mark.long
def test_three_hundred_learners_in_sixteen_sets_take_ten_seconds_and_500_mb(tmp_path):
    sets = [f"{SETS[n % len(SETS)]}#{n}" for n in range(16)]
    url, _ = gradebook(tmp_path / "gradebook.db", 300, sets)
    script = (
        "import sys\nfrom shared_utils.classroom import marks\n"
        "from shared_utils.reports import class_report\n"
        "class_report.write(class_report.make(marks.read(sys.argv[1])), sys.argv[2])\n"
    )
    begun = time.perf_counter()
    subprocess.run(
        [sys.executable, "-c", script, url, str(tmp_path / "out")],
        check=True,
        cwd=place.course_root(),
    )
    seconds = time.perf_counter() - begun
    megabytes = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
    print(f"\n300 learners, 16 sets: {seconds:.1f} s, {megabytes:.0f} MB")
    assert megabytes < 500
    assert seconds < 60  # a guard; the stated 10 s are read off a quiet machine

"""What is written by open standards, read back by readers of its own kind: csv, pandas, XML, JSON.

The marks must be those of the gradebook to the last digit, the verdicts those of the bank.
"""

import csv
import io
import json
import re
import shutil
import sqlite3
import tomllib
import uuid
import zipfile
from datetime import date, datetime
from pathlib import Path
from xml.etree import ElementTree

import pandas as pd
import pytest

from shared_utils import CAUTION, cli
from shared_utils.bank.items import bank
from shared_utils.bank.posed import pose
from shared_utils.classroom import marks
from shared_utils.practice import exam, review
from shared_utils.practice.progress import Progress
from shared_utils.standards import oneroster, qti, xapi
from tests.test_class_report import SETS, gradebook

OUTSIDE = Path(__file__).parent / "outside"
ROSTER, QTI, XAPI = (
    tomllib.loads((OUTSIDE / f"{name}.toml").read_text("utf-8"))
    for name in ("oneroster", "qti", "xapi")
)
NAME = re.compile(QTI["type"]["NCName"])
SEED = 3
ONE = ("learner001",)


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A class's folder with a gradebook that chance filled; its marks by set and learner."""
    folder = tmp_path_factory.mktemp("room") / "class_2027"
    for name in SETS[:2]:
        (folder / "release" / name).mkdir(parents=True)
        (folder / "release" / name / "problems.ipynb").touch()
    (folder / "nbgrader_config.py").touch()
    url, frame = gradebook(folder / "gradebook.db", 40, SETS[:2])
    with sqlite3.connect(folder / "gradebook.db") as book:  # one whose time was not noted
        book.execute("UPDATE submitted_assignment SET timestamp = NULL WHERE student_id = ?", ONE)
    book.close()
    return folder, url, frame.groupby(["set", "learner"])["marks"].sum()


@pytest.fixture(scope="module")
def roster(room):
    """The files that the command writes, by name."""
    folder = room[0]
    line = ["class", "export", "--as", "oneroster", "--folder", str(folder), "--term-id", "t1"]
    assert cli.main(line) == 0
    with zipfile.ZipFile(folder / "oneroster.zip") as opened:
        assert opened.testzip() is None
        return {name: opened.read(name).decode("utf-8") for name in opened.namelist()}


def rows_of(text):
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    return reader.fieldnames, list(reader)


def test_oneroster_files_have_the_columns_of_the_standard_filled_as_it_wants(roster):
    assert sorted(roster) == sorted(f"{name}.csv" for name in ROSTER["columns"])
    for name, columns in ROSTER["columns"].items():
        found, rows = rows_of(roster[f"{name}.csv"])
        assert found == columns
        assert rows  # a file without a row is not allowed
        assert not any(re.search(r"[\r\n]", cell) for row in rows for cell in row.values())
        for row in rows:
            assert all(row[column] for column in ROSTER["required"].get(name, ())), row
            assert not any(row.get(column) for column in ROSTER["blank"]["bulk"]), row
            for column, cell in row.items():
                kind = ROSTER["type"].get(column)
                assert not cell or not kind or re.fullmatch(ROSTER["pattern"][kind], cell), row


def test_the_oneroster_manifest_names_every_file_of_the_standard(roster):
    rows = rows_of(roster["manifest.csv"])[1]
    reply = {row["propertyName"]: row["value"] for row in rows}
    assert len(reply) == len(rows)
    for name in ("manifest.version", "oneroster.version"):
        assert reply.pop(name) == ROSTER["manifest"][name]
    files = {name[5:]: reply.pop(name) for name in list(reply) if name.startswith("file.")}
    assert list(files) == ROSTER["manifest"]["files"]
    assert set(reply) <= set(ROSTER["manifest"]["may"])
    assert {name for name, value in files.items() if value == "bulk"} == {
        *("categories", "lineItems", "results")
    }
    assert set(files.values()) <= set(ROSTER["words"]["file"])


def frame_of(text):
    return pd.read_csv(io.StringIO(text))


def test_oneroster_results_are_the_gradebook_to_the_last_digit(room, roster):
    _, url, totals = room
    items = frame_of(roster["lineItems.csv"]).set_index("sourcedId")
    categories = frame_of(roster["categories.csv"])
    results = frame_of(roster["results.csv"])
    assert results["sourcedId"].is_unique
    assert len(results) == 2 * 40
    assert set(results["lineItemSourcedId"]) == set(items.index)
    assert set(items["categorySourcedId"]) == set(categories["sourcedId"])
    assert set(items["classSourcedId"]) == set(results["classSourcedId"]) == {"class_2027"}
    assert set(results["scoreStatus"]) == {"fully graded", "partially graded", "not submitted"}
    waiting = {
        (one.name, learner)
        for one in marks.read(url).sets
        for learner, by_hand in zip(one.learners, one.by_hand, strict=True)
        if by_hand
    }
    assert waiting
    found = {}
    for row in results.itertuples():
        name = row.lineItemSourcedId.removeprefix("class_2027.")
        key = name, row.studentSourcedId
        assert (row.scoreStatus == "not submitted") == (key not in totals.index)
        assert (row.scoreStatus == "partially graded") == (key in waiting)
        if key in totals.index:
            found[key] = row.score
            assert 0 <= row.score <= items.loc[row.lineItemSourcedId, "resultValueMax"]
            noted = row.studentSourcedId not in ONE
            assert (row.scoreDate == "2026-11-01") == noted
        else:
            assert pd.isna(row.score)
    assert found == totals.to_dict()
    assert items["title"].iloc[0] == "Problem set 01: Vergence"


def test_oneroster_is_the_same_when_written_again_and_refuses_what_has_no_name(room, tmp_path):
    of_class = marks.read(room[1])
    for folder in ("one", "two"):
        oneroster.write(of_class, tmp_path / folder, "c", day=date(2026, 11, 2))
    for path in (tmp_path / "one").iterdir():
        assert path.read_bytes() == (tmp_path / "two" / path.name).read_bytes()
    with pytest.raises(ValueError, match="id"):
        oneroster.write(of_class, tmp_path, "")
    with pytest.raises(ValueError, match="no set"):
        oneroster.write(marks.ClassMarks({}, ()), tmp_path, "c")
    with pytest.raises(ValueError, match="no learner"):  # else a file would have no row
        oneroster.write(marks.ClassMarks({}, of_class.sets), tmp_path, "c")
    for id_ in ("two words", "class:1", "größe", "x" * 256):
        with pytest.raises(ValueError, match="--class-id"):
            oneroster.write(of_class, tmp_path, id_)
        with pytest.raises(ValueError, match="id of a learner"):
            oneroster.write(marks.ClassMarks({id_: id_}, of_class.sets), tmp_path, "c")


def test_a_oneroster_zip_is_the_folder(room, tmp_path, capsys):
    line = ["class", "export", "--as", "oneroster", "--folder", str(room[0]), "--to"]
    for name in ("one", "two.zip"):
        assert cli.main([*line, str(tmp_path / name), "--class-id", "c-1"]) == 0
    assert "--school-id, --term-id" in capsys.readouterr().out
    with zipfile.ZipFile(tmp_path / "two.zip") as opened:
        assert {path.name: path.read_bytes() for path in (tmp_path / "one").iterdir()} == {
            name: opened.read(name) for name in opened.namelist()
        }


# marks that no few digits hold: a third, and the sum of a tenth and a fifth
AWKWARD = (1 / 3, 0.1 + 0.2)


@pytest.fixture
def awkward(room, tmp_path):
    """The class with awkward marks in the first set."""
    folder = tmp_path / "class_2027"
    shutil.copytree(room[0], folder)
    with sqlite3.connect(folder / "gradebook.db") as book:
        people = [row[0] for row in book.execute("SELECT id FROM student ORDER BY id")]
        rows = "\n".join(f"{person},Given,Invented," for person in people)
        (folder / "roster.csv").write_text(f"id,first_name,last_name,email\n{rows}\n", "utf-8")
        there = book.execute(
            "SELECT student_id, notebook.id FROM submitted_assignment AS here "
            "JOIN submitted_notebook AS notebook ON notebook.assignment_id = here.id "
            "WHERE here.assignment_id = ? ORDER BY student_id LIMIT 2",
            (f"a{SETS[0]}",),
        ).fetchall()
        given = {}
        for (person, notebook), mark in zip(there, AWKWARD, strict=True):
            change = "UPDATE grade SET auto_score = 0, manual_score = ? WHERE notebook_id = ?"
            book.execute(change, (0.0, notebook))
            first = "SELECT min(id) FROM grade WHERE notebook_id = ?"
            book.execute(
                f"UPDATE grade SET manual_score = ? WHERE id = ({first})", (mark, notebook)
            )
            given[person] = mark
    book.close()
    return folder, given


def test_every_export_has_awkward_marks_to_the_last_digit(awkward):
    folder, given = awkward
    for kind in ("csv", "oneroster", "xapi"):
        assert cli.main(["class", "export", "--as", kind, "--folder", str(folder)]) == 0
    grades = pd.read_csv(folder / "grades.csv")
    here = grades[(grades["set"] == SETS[0]) & grades["id"].isin(given)]
    assert dict(zip(here["id"], here["marks"], strict=True)) == given
    with zipfile.ZipFile(folder / "oneroster.zip") as opened:
        results = frame_of(opened.read("results.csv").decode("utf-8"))
    here = results[results["lineItemSourcedId"] == f"class_2027.{SETS[0]}"]
    here = here[here["studentSourcedId"].isin(given)]
    assert dict(zip(here["studentSourcedId"], here["score"], strict=True)) == given
    found = {
        one["actor"]["account"]["name"]: one["result"]["score"]["raw"]
        for one in statements_in(folder / "statements.jsonl")
        if one["object"]["id"].endswith(SETS[0])
    }
    assert {person: found[person] for person in given} == given


def test_the_table_of_grades_is_the_gradebook_as_pandas_reads_it(awkward, room):
    folder, given = awkward
    assert cli.main(["class", "export", "--folder", str(folder)]) == 0
    grades = pd.read_csv(folder / "grades.csv")
    marked = grades.dropna(subset=["marks"]).set_index(["set", "id"])["marks"].to_dict()
    expected = room[2].to_dict() | {(SETS[0], person): mark for person, mark in given.items()}
    assert marked == expected
    assert len(grades) == 2 * 40


def statements_in(path):
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def holds_to_the_standard(statements):
    assert len({one["id"] for one in statements}) == len(statements)
    for one in statements:
        assert set(XAPI["needs"]["statement"]) <= set(one) <= set(XAPI["may"]["statement"])
        assert str(uuid.UUID(one["id"])) == one["id"]
        assert uuid.UUID(one["id"]).variant == uuid.RFC_4122
        assert set(one["actor"]) == {"objectType", "account"}  # one identifier, and no e-mail
        assert set(one["actor"]["account"]) == set(XAPI["needs"]["account"])
        assert all(one["actor"]["account"].values())
        is_iri(one["actor"]["account"]["homePage"])
        assert set(one["verb"]) <= set(XAPI["may"]["verb"])
        assert one["verb"]["id"] in XAPI["verbs"]
        is_language_map(one["verb"]["display"])
        activity_holds(one["object"])
        result_holds(one)
        context = one.get("context", {})
        assert set(context) <= set(XAPI["may"]["context"])
        if context:
            assert str(uuid.UUID(context["registration"])) == context["registration"]
        for kind, activities in context.get("contextActivities", {}).items():
            assert kind in XAPI["contexts"]
            for activity in activities:
                activity_holds(activity)
        if "timestamp" in one:
            assert re.fullmatch(XAPI["pattern"]["timestamp"], one["timestamp"])
            assert datetime.fromisoformat(one["timestamp"]).tzinfo is not None
        assert is_filled(one)


def is_filled(value):
    """Nothing is null and no object or list is empty."""
    if isinstance(value, dict):
        return bool(value) and all(is_filled(inner) for inner in value.values())
    if isinstance(value, list):
        return bool(value) and all(is_filled(inner) for inner in value)
    return value is not None


def is_iri(text):
    assert re.fullmatch(XAPI["pattern"]["iri"], text), text


def is_language_map(words):
    assert all(re.fullmatch(XAPI["pattern"]["language"], language) for language in words)
    assert all(isinstance(text, str) for text in words.values())


def activity_holds(activity):
    assert set(activity) <= set(XAPI["may"]["activity"])
    assert activity["objectType"] == "Activity"
    is_iri(activity["id"])
    definition = activity.get("definition", {})
    assert set(definition) <= set(XAPI["may"]["definition"])
    assert definition.get("type", XAPI["activities"][0]) in XAPI["activities"]
    for words in ("name", "description"):
        is_language_map(definition.get(words, {}))
    kind = definition.get("interactionType")
    assert (kind is not None) == definition.get("type", "").endswith("cmi.interaction")
    assert kind is None or kind in XAPI["interactions"]
    components = definition.get("choices", [])
    assert not components or XAPI["components"][kind] == "choices"
    names = [component["id"] for component in components]
    assert len(set(names)) == len(names)
    assert not any(re.search(r"\s", name) for name in names)
    for component in components:
        assert set(component) <= set(XAPI["may"]["component"])
        is_language_map(component.get("description", {}))
    for pattern in definition.get("correctResponsesPattern", []):
        parts = pattern.split(XAPI["delimiter"])
        assert set(parts) <= set(names)
        assert len(parts) == (len(names) if kind == "sequencing" else 1)


def result_holds(statement):
    result, definition = statement["result"], statement["object"].get("definition", {})
    assert set(result) <= set(XAPI["may"]["result"])
    score = result["score"]
    assert set(score) <= set(XAPI["may"]["score"])
    assert score.get("min", score["raw"]) <= score["raw"] <= score.get("max", score["raw"])
    assert score.get("min", 0) < score.get("max", 1)
    assert -1 <= score.get("scaled", 0) <= 1
    for flag in ("success", "completion"):
        assert isinstance(result.get(flag, True), bool)
    assert re.fullmatch(XAPI["pattern"]["duration"], result.get("duration", "PT0S"))
    for key in result.get("extensions", {}):
        is_iri(key)
    if definition.get("interactionType") == "numeric":
        assert str(float(result["response"])) == result["response"]
    elif definition.get("interactionType"):
        names = {component["id"] for component in definition["choices"]}
        assert set(result["response"].split(XAPI["delimiter"])) <= names


def test_xapi_statements_of_a_class_are_the_gradebook_to_the_last_digit(room, tmp_path, capsys):
    folder, url, totals = room
    file = tmp_path / "statements.jsonl"
    line = ["class", "export", "--as", "xapi", "--folder", str(folder), "--to", str(file)]
    assert cli.main(line) == 0
    assert f"Wrote {len(totals)} statements" in capsys.readouterr().out
    statements = statements_in(file)
    holds_to_the_standard(statements)
    found = {}
    for one in statements:
        learner = one["actor"]["account"]["name"]
        found[one["object"]["id"].removeprefix(f"{xapi.BASE}sets/"), learner] = one
        assert ("timestamp" in one) == (learner not in ONE)
    assert {key: one["result"]["score"]["raw"] for key, one in found.items()} == totals.to_dict()
    for one in marks.read(url).sets:
        for learner, by_hand in zip(one.learners, one.by_hand, strict=True):
            if (one.name, learner) in found:
                result = found[one.name, learner]["result"]
                assert result["completion"]  # by the learner, whoever has yet to mark it
                waits = f"{xapi.BASE}waits-to-be-marked"
                assert result.get("extensions", {}) == ({waits: True} if by_hand else {})
    assert statements == list(xapi.of_class(marks.read(url)))


@pytest.mark.parametrize(
    ("raw", "most", "score"),
    [
        (3.0, 4.0, {"raw": 3.0, "min": 0, "max": 4.0, "scaled": 0.75}),
        (5.0, 4.0, {"raw": 5.0, "min": 0, "scaled": 1.0}),  # with a mark to spare
        (-5.0, 4.0, {"raw": -5.0, "max": 4.0, "scaled": -1.0}),
        (0.0, 0.0, {"raw": 0.0, "min": 0}),  # a maximum must lie above the minimum
    ],
)
def test_no_xapi_score_breaks_its_own_ends(raw, most, score):
    assert xapi._score(raw, most) == score


def test_an_activity_whose_name_has_a_blank_still_has_an_address():
    is_iri(xapi._activity("sets/my set", XAPI["activities"][0], "x")["id"])
    is_iri(xapi._item("gone and <lost>")["id"])


def wrong_to(asked):
    if asked.item.kind == "number":
        return f"{asked.right + 50:.2f}"
    if asked.item.kind == "order":
        return asked.right[::-1]
    return "A" if asked.right != "A" else "B"


def test_xapi_statements_of_practice_say_what_was_answered(tmp_path, monkeypatch, capsys):
    file = tmp_path / "progress.sqlite"
    kept = Progress(file)
    learning = review.Review(kept)
    kinds = {item.kind: item for item in bank().values()}
    expected = []
    for n, item in enumerate(kinds.values()):
        for right in (True, False):
            asked = pose(item, n)
            learning.answer(asked, str(asked.right) if right else wrong_to(asked), 2.5)
            expected.append((item.key, right))
    with kept.opened() as connection:  # from an earlier edition of the bank
        connection.execute(
            "INSERT INTO answer (at, item, seed, given, held, slip, seconds) VALUES "
            "('2026-11-01T09:00:00+00:00', 'gone', 1, 'B', 1, '', 1)"
        )
    sitting = exam.Exam.begin(kept, 10, (4, 0, 0, 0))
    for place, asked in enumerate(sitting.questions[:3]):
        sitting.answer(place, str(asked.right) if place else wrong_to(asked), 1)
    report = sitting.end()
    exam.Exam.begin(kept, 10, (4, 0, 0, 0))  # still runs: nothing is said of it
    monkeypatch.setenv("LENS_COURSE_LEARNER", "ada")
    target = tmp_path / "statements.jsonl"
    assert cli.main(["practice", "--file", str(file), "--as-xapi", str(target)]) == 0
    assert "11 statements" in capsys.readouterr().out
    statements = statements_in(target)
    holds_to_the_standard(statements)
    assert {one["actor"]["account"]["name"] for one in statements} == {"ada"}
    reply = [(s["object"]["id"].rpartition("/")[2], s["result"]["success"]) for s in statements[:7]]
    assert reply == [*expected, ("gone", True)]
    for one in statements[:6]:
        pattern = one["object"]["definition"].get("correctResponsesPattern")
        if pattern:
            assert (one["result"]["response"] in pattern) == one["result"]["success"]
    *answers, whole = statements[7:]
    assert whole["verb"]["id"].endswith("completed")
    score = whole["result"]["score"]
    assert (score["raw"], score["max"]) == (report.whole.right, report.whole.asked) == (2, 4)
    assert [one["result"]["success"] for one in answers] == [False, True, True]
    for one in answers:
        assert one["context"]["registration"] == whole["context"]["registration"]
        assert one["context"]["contextActivities"]["parent"][0]["id"] == whole["object"]["id"]


def of_an_earlier_edition(kept, item, number):
    """Change what an examination asked, so that the bank holds its first question no longer."""
    with kept.opened() as connection:
        row = connection.execute("SELECT plan FROM exam WHERE number = ?", (number,)).fetchone()
        plan = [[item, 1], *json.loads(row["plan"])[1:]]
        connection.execute("UPDATE exam SET plan = ? WHERE number = ?", (json.dumps(plan), number))


def sat(kept):
    sitting = exam.Exam.begin(kept, 10, (4, 0, 0, 0))
    for place, asked in enumerate(sitting.questions):
        sitting.answer(place, str(asked.right), 1)
    return sitting


def test_what_the_bank_no_longer_holds_breaks_neither_statements_nor_examinations(
    tmp_path, monkeypatch, capsys
):
    file, target = tmp_path / "progress.sqlite", tmp_path / "statements.jsonl"
    kept = Progress(file)
    number = next(item for item in bank().values() if item.kind == "number")
    choice = next(item for item in bank().values() if item.kind == "choice")
    with kept.opened() as connection:  # an item that is gone, and one that was a choice once
        for key in ("gone", number.key):
            connection.execute(
                "INSERT INTO answer (at, item, seed, given, held, slip, seconds) VALUES "
                "('2026-11-01T09:00:00+00:00', ?, 1, 'B', 1, '', 1)",
                (key,),
            )
    begun = {}
    for name, key in (("gone", "gone"), ("changed", choice.key), ("whole", None)):
        sitting = sat(kept)
        sitting.end()
        if key:
            of_an_earlier_edition(kept, key, sitting.number)
        begun[name] = sitting.number
    begun["left"] = sat(kept).number
    of_an_earlier_edition(kept, "gone", begun["left"])
    with kept.opened() as connection:  # answered by a number, and a choice now
        change = "UPDATE exam_answer SET given = '−1.25' WHERE place = 0 AND exam = ?"
        connection.execute(change, (begun["changed"],))
    for name in ("gone", "changed", "left"):
        with pytest.raises(exam.EarlierEdition, match="begin a new one"):
            exam.Exam(kept, begun[name])
    assert exam.Exam.unfinished(kept) is None
    goes_on = exam.Exam.begin(kept, 10, (4, 0, 0, 0))
    of_an_earlier_edition(kept, "gone", exam.Exam.begin(kept, 10, (4, 0, 0, 0)).number)
    assert exam.Exam.unfinished(kept).number == goes_on.number
    monkeypatch.setenv("LENS_COURSE_LEARNER", "ada")
    assert cli.main(["practice", "--file", str(file), "--as-xapi", str(target)]) == 0
    assert "7 statements" in capsys.readouterr().out
    statements = statements_in(target)
    gone, changed, *rest = statements
    assert "definition" not in gone["object"]
    assert gone["result"]["response"] == changed["result"]["response"] == "B"
    holds_to_the_standard([gone, *rest])
    assert [one["verb"]["id"].rpartition("/")[2] for one in rest] == [
        *["answered"] * 4,
        "completed",
    ]
    assert {one["context"]["registration"] for one in rest} == {rest[-1]["context"]["registration"]}


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    file = tmp_path_factory.mktemp("items") / "items.zip"
    assert cli.main(["items", "--qti", str(file), "--seed", str(SEED)]) == 0
    with zipfile.ZipFile(file) as opened:
        assert opened.testzip() is None
        return {name: opened.read(name) for name in opened.namelist()}


def plain(tag):
    namespace, _, name = tag.rpartition("}")
    return namespace.lstrip("{"), name


def test_the_qti_manifest_lists_every_file_and_every_item(package):
    root = ElementTree.fromstring(package["imsmanifest.xml"])
    space = {"c": QTI["namespace"]["package"]}
    assert root.tag == f"{{{space['c']}}}manifest"
    assert NAME.fullmatch(root.get("identifier"))
    assert [plain(child.tag)[1] for child in root] == QTI["package"]["manifest"]
    about = root.find("c:metadata", space)
    assert [plain(child.tag)[1] for child in about] == QTI["package"]["metadata"]
    for name in QTI["package"]["metadata"]:
        assert about.findtext(f"c:{name}", namespaces=space) in QTI["package"][name]
    organizations = root.find("c:organizations", space)
    assert (organizations.text, organizations.attrib, list(organizations)) == (None, {}, [])
    resources = root.findall("c:resources/c:resource", space)
    assert len(resources) == len(bank())
    for one in resources:
        assert set(one.attrib) == {"identifier", "type", "href"}
        assert one.get("type") in QTI["package"]["resource_types"]
        assert one.get("type").startswith("imsqti_item")
    names = [root.get("identifier"), *(one.get("identifier") for one in resources)]
    assert len(set(names)) == len(names)
    listed = [one.get("href") for one in root.iterfind(".//c:file", space)]
    assert sorted(["imsmanifest.xml", *listed]) == sorted(package)
    for one in resources:
        assert NAME.fullmatch(one.get("identifier"))
        assert one.get("href") in [file.get("href") for file in one]


def parsed(package):
    for item in bank().values():
        yield item, ElementTree.fromstring(package[f"items/{item.key}.xml"])


def test_qti_items_are_built_as_the_standard_has_it(package):
    for item, root in parsed(package):
        assert plain(root.tag)[1] == "assessmentItem"
        ids, references = [], []
        for element in root.iter():
            namespace, name = plain(element.tag)
            assert namespace == QTI["namespace"]["item"]
            about = QTI["element"][name]
            needs, may = about.get("needs", {}), about.get("may", {})
            attributes = {plain(key)[1]: value for key, value in element.attrib.items()}
            assert set(needs) <= set(attributes) <= {*needs, *may}, (item.key, name)
            for key, value in attributes.items():
                kind = {**needs, **may}[key]
                assert re.fullmatch(QTI["type"][kind], value), (item.key, name, key)
                ids += [value] if kind == "ID" else []
                references += [value] if kind == "IDREF" else []
            children = "".join(f"{plain(child.tag)[1]} " for child in element)
            assert re.fullmatch(pattern_of(about), children), (item.key, name)
            texts = [element.text or "", *(child.tail or "" for child in element)]
            if "text" not in about:  # an empty one has no blank either
                message = "".join(texts)
                assert not (message.strip() if "holds" in about else message), (item.key, name)
        assert len(set(ids)) == len(ids)
        assert set(references) <= set(ids)
        text = "".join(root.itertext())
        assert CAUTION in text
        assert pose(item, SEED).stem in text
        pictures = [f"items/{one.get('src')}" for one in root.iter() if plain(one.tag)[1] == "img"]
        assert bool(pictures) == bool(item.figure)
        assert all(package[one].startswith(b"\x89PNG") for one in pictures)
        if item.kind == "number":
            declared = root.find("q:responseDeclaration", {"q": QTI["namespace"]["item"]})
            assert declared.get("baseType") in QTI["text_entry"]["base_types"]


def pattern_of(about):
    """A pattern that the names of an element's children match, each with a blank after it."""
    held = (re.fullmatch(r"([\w|]+)(.*)", one).groups() for one in about.get("holds", ()))
    return "".join(f"(?:(?:{names}) ){times}" for names, times in held)


class Delivery:
    """The processing of responses as QTI 2.1 tells it, for what our items use."""

    def __init__(self, root):
        self.root, self.space = root, {"q": QTI["namespace"]["item"]}

    def of(self, response):
        """Score and what is said to a response."""
        self.response = response
        self.outcomes = {"SCORE": "0"}
        for rule in self.root.find("q:responseProcessing", self.space):
            self.run(rule)
        message = [
            "".join(one.itertext()).strip()
            for one in self.root.iterfind("q:modalFeedback", self.space)
            if one.get("identifier") == self.outcomes.get(one.get("outcomeIdentifier"))
        ]
        return float(self.outcomes["SCORE"]), message

    def run(self, rule):
        kind = plain(rule.tag)[1]
        if kind == "setOutcomeValue":
            self.outcomes[rule.get("identifier")] = self.value(rule[0])
            return
        assert kind == "responseCondition"
        for branch in rule:
            rules = list(branch)
            if plain(branch.tag)[1] == "responseElse" or self.holds(rules.pop(0)):
                for inner in rules:
                    self.run(inner)
                return

    def value(self, element):
        kind = plain(element.tag)[1]
        if kind == "variable":
            return self.response
        if kind == "baseValue":
            return element.text
        values = self.root.iterfind("q:responseDeclaration/q:correctResponse/q:value", self.space)
        values = [one.text for one in values]
        ordered = (
            self.root.find("q:responseDeclaration", self.space).get("cardinality") == "ordered"
        )
        return values if ordered else values[0]

    def holds(self, test):
        one, other = (self.value(child) for child in test)
        if plain(test.tag)[1] == "match":
            return one == other
        assert test.get("toleranceMode") == "absolute"
        return abs(float(one) - float(other)) <= float(test.get("tolerance"))


def test_qti_items_mark_and_answer_as_the_bank_does(package):
    for item, root in parsed(package):
        asked, delivery = pose(item, SEED), Delivery(root)
        space = delivery.space
        shown = {e.get("identifier"): e.text for e in root.iterfind(".//q:simpleChoice", space)}
        if item.kind == "choice":
            assert sorted(shown.values()) == sorted(option.text for option in asked.options)
            for name, text in shown.items():
                option = next(option for option in asked.options if option.text == text)
                assert delivery.of(name) == (float(option.key), [option.feedback])
        elif item.kind == "order":
            names = {text: name for name, text in shown.items()}
            right = [names[step] for step in item.steps]
            assert delivery.of(right) == (1.0, [asked.mark(asked.right).message])
            assert delivery.of(right[::-1])[0] == 0.0
        else:
            tried = [asked.right, asked.right + 0.9 * item.within, asked.right + 1.5 * item.within]
            tried += [asked.numbers[slip.name] for slip in item.slips] + [asked.right + 1000]
            for value in tried:
                verdict = asked.mark(f"{value:.12f}")
                assert delivery.of(f"{value:.12f}") == (float(verdict.right), [verdict.message])


def test_a_qti_package_of_named_lessons_is_the_same_twice(tmp_path, capsys):
    for name in ("one.zip", "two.zip"):
        line = ["items", "--qti", str(tmp_path / name), "--lessons", "02"]
        assert cli.main(line) == 0
    here = [item for item in bank().values() if item.lesson == "eye"]
    assert f"{len(here)} questions are in one.zip" in capsys.readouterr().out
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with pytest.raises(ValueError, match="no item"):
        qti.write([], tmp_path / "none.zip")


@pytest.fixture
def places(tmp_path):
    """Places that a command cannot use, and the class without marks."""
    (tmp_path / "plain").mkdir()
    (tmp_path / "file").write_text("", "utf-8")
    (tmp_path / "class" / "release" / SETS[0]).mkdir(parents=True)
    (tmp_path / "class" / "release" / SETS[0] / "problems.ipynb").touch()
    (tmp_path / "class" / "nbgrader_config.py").touch()
    (tmp_path / "new").mkdir()
    (tmp_path / "new" / "nbgrader_config.py").touch()
    return tmp_path


@pytest.mark.parametrize("kind", ["csv", "oneroster", "xapi"])
@pytest.mark.parametrize(
    ("folder", "says"),
    [
        ("none", "is not the folder of a class"),
        ("plain", "is not the folder of a class"),
        ("new", "No set was released"),
        ("class", "There is no"),  # gradebook, and for the table no roster
    ],
)
def test_an_export_that_cannot_be_is_said_in_a_sentence(places, capsys, kind, folder, says):
    before = sorted(path for path in places.rglob("*") if path.suffix != ".log")
    line = ["class", "export", "--as", kind, "--folder", str(places / folder)]
    assert cli.main(line) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert says in err
    if kind != "csv":  # and nothing is left behind
        assert sorted(path for path in places.rglob("*") if path.suffix != ".log") == before


@pytest.mark.parametrize("target", ["none/out", "plain", "file/out"])
@pytest.mark.parametrize("command", ["items", "practice", "oneroster", "xapi"])
def test_a_file_that_cannot_be_written_is_said_in_a_sentence(places, room, capsys, command, target):
    path = str(places / target) + (".zip" if command == "oneroster" else "")
    if command == "oneroster" and target == "plain":
        (places / "plain.zip").mkdir()
    line = {
        "items": ["items", "--lessons", "02", "--qti", path],
        "practice": ["practice", "--file", str(places / "kept.sqlite"), "--as-xapi", path],
        "oneroster": ["class", "export", "--as", "oneroster", "--to", path],
        "xapi": ["class", "export", "--as", "xapi", "--to", path],
    }[command]
    if command in ("oneroster", "xapi"):
        line += ["--folder", str(room[0])]
    assert cli.main(line) == 2
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    says = "is there already; give the name of a new file." if target == "plain" else "cannot be"
    assert f"{path} {says}" in err
    assert "Errno" not in err


def test_an_unknown_lesson_and_a_damaged_progress_are_said(tmp_path, monkeypatch, capsys):
    assert cli.main(["items", "--qti", str(tmp_path / "x.zip"), "--lessons", "77"]) == 2
    assert "There is no lesson '77'" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())
    monkeypatch.setenv("LENS_COURSE_DATA", str(tmp_path))
    (tmp_path / "progress.sqlite").write_text("nothing that SQLite knows", "utf-8")
    target = tmp_path / "out.jsonl"
    assert cli.main(["practice", "--as-xapi", str(target)]) == 0
    assert "was damaged" in capsys.readouterr().out
    assert target.read_text("utf-8") == ""


def test_items_take_the_place_of_nothing(tmp_path, capsys):
    there = tmp_path / "slides.zip"
    there.write_text("mine", "utf-8")
    assert cli.main(["items", "--qti", str(there), "--lessons", "02"]) == 2
    message = f"lens-course: {there} is there already; give the name of a new file.\n"
    assert capsys.readouterr().err == message
    assert there.read_text("utf-8") == "mine"


KINDS = ["csv", "oneroster", "xapi"]


@pytest.mark.parametrize("kind", KINDS)
def test_an_export_of_a_class_takes_the_place_of_nothing(awkward, tmp_path, capsys, kind):
    folder, _ = awkward
    full = tmp_path / "full"
    full.mkdir()
    there = full / "letter"
    there.write_text("mine", "utf-8")
    line = ["class", "export", "--as", kind, "--folder", str(folder)]
    for target in (there, full):
        assert cli.main([*line, "--to", str(target)]) == 2
        message = f"lens-course: {target} is there already; give the name of a new file.\n"
        assert capsys.readouterr().err == message
    assert list(full.iterdir()) == [there]
    assert there.read_text("utf-8") == "mine"
    default = {"csv": "grades.csv", "oneroster": "oneroster.zip", "xapi": "statements.jsonl"}[kind]
    for again in ([], [], ["--to", str(folder / default)]):
        assert cli.main([*line, *again]) == 0
    assert (folder / default).stat().st_size


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize(
    "own",
    ["", "roster.csv", "gradebook.db", "hidden.secret", "source/new", "release", "submitted/x"],
)
def test_an_export_never_goes_into_what_is_the_class_s_own(awkward, capsys, kind, own):
    folder, _ = awkward
    before = {path: path.is_file() and path.read_bytes() for path in folder.rglob("*")}
    line = ["class", "export", "--as", kind, "--folder", str(folder), "--to", str(folder / own)]
    assert cli.main(line) == 2
    message = f"lens-course: {folder / own} belongs to the class itself; give another name.\n"
    assert capsys.readouterr().err == message
    assert {path: path.is_file() and path.read_bytes() for path in folder.rglob("*")} == before


def test_oneroster_goes_into_an_empty_folder(awkward, tmp_path):
    (tmp_path / "empty").mkdir()
    line = ["class", "export", "--as", "oneroster", "--folder", str(awkward[0]), "--to"]
    assert cli.main([*line, str(tmp_path / "empty")]) == 0
    assert (tmp_path / "empty" / "results.csv").is_file()

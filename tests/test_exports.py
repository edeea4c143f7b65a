"""What is written by open standards, read back by readers of its own kind: csv, pandas, XML, JSON.

The marks must be those of the gradebook to the last digit, the verdicts those of the bank.
"""

import csv
import json
import re
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
from shared_utils.coursework import marks
from shared_utils.practice import exam, review
from shared_utils.practice.items import bank
from shared_utils.practice.posed import pose
from shared_utils.practice.progress import Progress
from shared_utils.practice.standards import oneroster, qti, xapi
from tests.test_class_report import SETS, gradebook

OUTSIDE = Path(__file__).parent / "outside"
ROSTER, QTI, XAPI = (
    tomllib.loads((OUTSIDE / f"{name}.toml").read_text("utf-8"))
    for name in ("oneroster", "qti", "xapi")
)
NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
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
    folder = room[0]
    line = ["class", "export", "--as", "oneroster", "--folder", str(folder), "--term-id", "t1"]
    assert cli.main(line) == 0
    return folder / "oneroster"


def rows_of(path):
    with open(path, encoding="utf-8", newline="") as file:
        reader = csv.DictReader(file)
        return reader.fieldnames, list(reader)


def test_oneroster_files_have_the_columns_and_the_words_of_the_standard(roster):
    assert sorted(path.stem for path in roster.iterdir()) == sorted(ROSTER["columns"])
    for name, columns in ROSTER["columns"].items():
        assert rows_of(roster / f"{name}.csv")[0] == columns
    told = {row["propertyName"]: row["value"] for row in rows_of(roster / "manifest.csv")[1]}
    for name in ("manifest.version", "oneroster.version"):
        assert told[name] == ROSTER["manifest"][name]
    files = {name[5:]: value for name, value in told.items() if name.startswith("file.")}
    assert sorted(files) == sorted(ROSTER["manifest"]["files"])
    assert {name for name, value in files.items() if value == "bulk"} == {
        *("categories", "lineItems", "results")
    }
    assert set(files.values()) <= set(ROSTER["words"]["file"])
    for name in ("categories", "lineItems", "results"):
        # both are for changes alone, not for the whole
        assert {
            row["status"] + row["dateLastModified"] for row in rows_of(roster / f"{name}.csv")[1]
        } == {""}


def test_oneroster_results_are_the_gradebook_to_the_last_digit(room, roster):
    _, url, totals = room
    items = pd.read_csv(roster / "lineItems.csv", index_col="sourcedId")
    categories = pd.read_csv(roster / "categories.csv")
    results = pd.read_csv(roster / "results.csv")
    assert results["sourcedId"].is_unique
    assert len(results) == 2 * 40
    assert set(results["lineItemSourcedId"]) == set(items.index)
    assert set(items["categorySourcedId"]) == set(categories["sourcedId"])
    assert set(items["classSourcedId"]) == set(results["classSourcedId"]) == {"class_2027"}
    assert set(results["scoreStatus"]) == {"fully graded", "partially graded", "not submitted"}
    assert set(results["scoreStatus"]) <= set(ROSTER["words"]["score_status"])
    waiting = {
        (one.name, learner)
        for one in marks.read(url).sets
        for learner, by_hand in zip(one.learners, one.by_hand, strict=True)
        if by_hand
    }
    assert waiting
    found = {}
    for row in results.itertuples():
        name = row.lineItemSourcedId.removeprefix("class_2027:")
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


def statements_in(path):
    return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]


def holds_to_the_standard(statements):
    assert len({one["id"] for one in statements}) == len(statements)
    for one in statements:
        assert set(XAPI["needs"]["statement"]) <= set(one) <= set(XAPI["may"]["statement"])
        assert str(uuid.UUID(one["id"])) == one["id"]
        assert set(one["actor"]) == {"objectType", "account"}
        assert set(one["actor"]["account"]) == set(XAPI["needs"]["account"])
        assert "mbox" not in json.dumps(one)
        assert one["verb"]["id"] in XAPI["verbs"]
        assert re.match(r"https://\S+$", one["object"]["id"])
        definition = one["object"].get("definition", {})
        assert definition.get("type", XAPI["activities"][0]) in XAPI["activities"]
        if definition.get("type", "").endswith("cmi.interaction"):
            assert definition["interactionType"] in XAPI["interactions"]
        assert set(one["result"]) <= set(XAPI["may"]["result"])
        score = one["result"]["score"]
        assert set(score) <= set(XAPI["may"]["score"])
        assert score["min"] <= score["raw"] <= score.get("max", score["raw"])
        assert -1 <= score.get("scaled", 0) <= 1
        assert set(one.get("context", {})) <= set(XAPI["may"]["context"])
        assert re.fullmatch(r"PT\d+(\.\d+)?S", one["result"].get("duration", "PT0S"))
        if "timestamp" in one:
            assert datetime.fromisoformat(one["timestamp"]).tzinfo is not None


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
                assert found[one.name, learner]["result"]["completion"] == (not by_hand)
    assert statements == list(xapi.of_class(marks.read(url)))


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
    told = [(s["object"]["id"].rpartition("/")[2], s["result"]["success"]) for s in statements[:7]]
    assert told == [*expected, ("gone", True)]
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
    assert [plain(child.tag)[1] for child in root] == ["metadata", "organizations", "resources"]
    assert root.findtext("c:metadata/c:schema", namespaces=space) == QTI["package"]["schema"]
    resources = root.findall("c:resources/c:resource", space)
    assert {one.get("type") for one in resources} == {QTI["package"]["resource_type"]}
    assert len({one.get("identifier") for one in resources}) == len(resources) == len(bank())
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
        for element in root.iter():
            namespace, name = plain(element.tag)
            assert namespace == QTI["namespace"]["item"]
            about = QTI["element"][name]
            attributes = {plain(key)[1] for key in element.attrib}
            assert set(about.get("needs", ())) <= attributes, (item.key, name)
            assert attributes <= {*about.get("needs", ()), *about.get("may", ())}
            children = " ".join(plain(child.tag)[1] for child in element)
            if "holds" in about:
                marks_ = (
                    (one.rstrip("?+*"), one[len(one.rstrip("?+*")) :]) for one in about["holds"]
                )
                pattern = "".join(f"(?:{one} ){mark}" for one, mark in marks_)
                assert re.fullmatch(pattern, f"{children} " if children else ""), (item.key, name)
            else:
                assert set(children.split()) <= set(about.get("any", ())), (item.key, name)
            for key in ("identifier", "responseIdentifier", "outcomeIdentifier"):
                assert NAME.fullmatch(element.get(key, "x"))
        text = "".join(root.itertext())
        assert CAUTION in text
        assert pose(item, SEED).stem in text
        pictures = [f"items/{one.get('src')}" for one in root.iter() if plain(one.tag)[1] == "img"]
        assert bool(pictures) == bool(item.figure)
        assert all(package[one].startswith(b"\x89PNG") for one in pictures)


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
        said = [
            "".join(one.itertext()).strip()
            for one in self.root.iterfind("q:modalFeedback", self.space)
            if one.get("identifier") == self.outcomes.get(one.get("outcomeIdentifier"))
        ]
        return float(self.outcomes["SCORE"]), said

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
            assert delivery.of(right) == (1.0, [asked.mark(asked.right).said])
            assert delivery.of(right[::-1])[0] == 0.0
        else:
            tried = [asked.right, asked.right + 0.9 * item.within, asked.right + 1.5 * item.within]
            tried += [asked.numbers[slip.name] for slip in item.slips] + [asked.right + 1000]
            for value in tried:
                verdict = asked.mark(f"{value:.12f}")
                assert delivery.of(f"{value:.12f}") == (float(verdict.right), [verdict.said])


def test_a_qti_package_of_named_lessons_is_the_same_twice(tmp_path, capsys):
    for name in ("one.zip", "two.zip"):
        line = ["items", "--qti", str(tmp_path / name), "--lessons", "02"]
        assert cli.main(line) == 0
    here = [item for item in bank().values() if item.lesson.startswith("02")]
    assert f"{len(here)} questions are in one.zip" in capsys.readouterr().out
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    with pytest.raises(ValueError, match="no item"):
        qti.write([], tmp_path / "none.zip")

"""A small class from the release to its export: the sample of test_class.py in the default run."""

import csv

import pytest

from tests.filling import filled, release
from tests.marking import SET, class_of
from tests.test_class import FAR_RIGHT_NEAR_WRONG, WRONG

pytestmark = pytest.mark.grading


def test_three_learners_go_from_release_to_feedback_and_export(tmp_path):
    handed_in = {
        "right": filled(SET),
        # page 2, aqueous 2, image 3, surface 2; one of two steps of the points: 1 of 2 and 1 of 2
        "half": filled(SET, {**{p: WRONG[p] for p in HALF_LOST}, "points": FAR_RIGHT_NEAR_WRONG}),
        "blank": release(SET),
    }
    with class_of(tmp_path, handed_in) as room:
        results = {result.learner: result for result in room.grade(SET)}
        assert {learner: result.marks for learner, result in results.items()} == {
            "right": 26,
            "half": 11,
            "blank": 0,
        }
        assert all((result.of, result.notes) == (30, []) for result in results.values())
        pages = {learner: page.read_text("utf-8") for learner, page in room.feedback(SET)}
        assert "near point: you have +3.000 cm." in pages["half"]
        with open(room.export(), encoding="utf-8", newline="") as file:
            marks = {row["id"]: float(row["marks"]) for row in csv.DictReader(file)}
        assert marks == {"right": 26, "half": 11, "blank": 0}


HALF_LOST = ("vertex", "thick", "pair")

"""Keys of the items of lessons 01, 04 and 09, reckoned again by hand formulas."""

import collections
import math
import re

import pytest

from shared_utils.practice import items
from shared_utils.practice.posed import pose

BANK = items.bank()
SEEDS = (1, 2, 3, 4)
LESSONS = ("01_vergence", "04_astigmatism", "09_toric")
DEGREE = math.pi / 180.0  # in radians


def carried(vergence_d, way_m):
    """What becomes of vergence on a way in air."""
    return vergence_d / (1.0 - way_m * vergence_d)


def apart(first_d, second_d, angle_deg):
    """The third side of a triangle, by the law of cosines."""
    product = 2.0 * first_d * second_d * math.cos(angle_deg * DEGREE)
    return math.sqrt(first_d**2 + second_d**2 - product)


BY_HAND = {
    "page-in-numbers": lambda n: -100.0 / n["distance_cm"],
    "image-in-numbers": lambda n: 100.0 / (n["lens_d"] - 100.0 / n["distance_cm"]),
    "contact-lens-in-numbers": lambda n: carried(n["spectacle_d"], n["vertex_mm"] / 1000.0),
    "two-lenses-in-numbers": lambda n: carried(n["first_d"], n["way_cm"] / 100.0) + n["second_d"],
    "light-inside-the-eye": lambda n: 1336.0 / n["distance_mm"],
    "near-point-of-a-myope": lambda n: 100.0 / (n["accommodation_d"] - n["refraction_d"]),
    "image-in-aqueous-in-numbers": lambda n: 1336.0 / (n["surface_d"] - 100.0 / n["distance_cm"]),
    "back-vertex-in-numbers": lambda n: (
        carried(n["front_d"], n["thickness_mm"] / 1500.0) + n["back_d"]
    ),
    "along-in-numbers": lambda n: (
        n["sphere_d"] + n["cylinder_d"] * math.sin(n["gap_deg"] * DEGREE) ** 2
    ),
    "circle-in-numbers": lambda n: n["sphere_d"] + n["cylinder_d"] / 2.0,
    "arrow-in-numbers": lambda n: -2.0 * math.sqrt(n["j0_d"] ** 2 + n["j45_d"] ** 2),
    "crossed-in-numbers": lambda n: -apart(n["first_d"], n["second_d"], 180 - 2 * n["gap_deg"]),
    "circle-width-in-numbers": lambda n: (
        1000.0 * n["pupil_mm"] * n["more_d"] / (n["weak_d"] + n["strong_d"])
    ),
    "j0-in-numbers": lambda n: -n["cylinder_d"] / 2.0 * math.cos(2 * n["axis_deg"] * DEGREE),
    "axis-from-vector-in-numbers": lambda n: (
        90.0 - math.atan(n["j45_d"] / -n["j0_d"]) / DEGREE / 2.0
    ),
    "total-in-numbers": lambda n: 0.926 * n["size_d"] - 0.508,
    "at-the-cornea-in-numbers": lambda n: (
        n["lens_d"] * (1.0 - n["elp_mm"] * n["cornea_d"] / 1336.0) ** 2
    ),
    "turn-in-numbers": lambda n: 2.0 * n["cylinder_d"] * math.sin(n["turn_deg"] * DEGREE),
    "centroid-in-numbers": lambda n: n["size_d"] * math.cos(2 * n["meridian_deg"] * DEGREE),
    "turn-of-weaker-in-numbers": lambda n: apart(n["cornea_d"], n["lens_d"], 2 * n["turn_deg"]),
}

KEYED = {
    "reciprocal": (1 / 0.25,),
    "parallel-behind-the-lens": (100 / 8.0,),
    "sign-of-near-light": (-1 / 0.50,),
    "lens-adds": (100 / (-2.0 + 2.5),),
    "which-way-weaker": (round(2 * carried(-12.0, 0.012)) / 2,),
    "when-it-matters": (round(2 * math.sqrt(0.25 / 0.012)) / 2,),
    "virtual-image": (100 / (1 / 0.20 - 3.0),),
    "front-of-cornea": (0.376 / 0.008,),
    "plus-to-cornea": (carried(12.0, 0.012),),
    "two-touching": (100 / (4 + 6),),
    "two-apart": (carried(5.0, 0.10) + 5.0,),
    "past-the-focus": (carried(4.0, 0.40),),
    "converging-in-aqueous": (1.336 / 0.020,),
    "plus-and-minus-apart": (carried(10.0, 0.05) - 10.0,),
    "read-a-lens": (1 / 0.25 + 1 / 0.50,),
    "transpose-to-plus": (1.5 - 2.25, 2.25, 70 + 90),
    "axis-has-no-power": (3.0, 180 - 90),
    "thirty-from-axis": (-4.0 * math.sin(30 * DEGREE) ** 2,),
    "sphere-for-the-circle": (1.0 - 3.0 / 2,),
    "chart-to-vector": (-1.0, 1.0, 0.0),
    "vector-to-chart": (-1.0 + 0.5, -2 * 0.5, 90 / 2),
    "forty-five-apart": (-apart(1.0, 1.0, 90.0),),
    "mean-of-axes": (180,),
    "square-cross": (-1.0,),
    "strong-lens-to-cornea": (
        carried(-8.0, 0.012),
        carried(-12.0, 0.012) - carried(-8.0, 0.012),
        180,
    ),
    "read-a-toric-lens": (0.50, -1.00 - 0.50, 60),
    "axis-from-180-to-90": (0.50 * math.cos(180 * DEGREE),),
    "crossed-cylinder-held-up": (-0.50 / 2,),
    "error-and-sign": (0.50 + 0.25,),
    "implanted-lens": (-0.39 + 0.14,),
    "cylinder-counts-half": (0.75 - 1.50 / 2 + 0.25,),
    "how-far-to-move": (0.25 / 0.83,),
    "middle-size": (sorted([1.00, 0.25, 0.00, 0.25, 0.50])[2],),
    "sd-and-within": (100 * math.erf(1 / math.sqrt(2)),),
    "half-the-difference": (100 * (0.06 / 0.03) ** 2,),
    "another-lens-than-planned": (-0.60 + 0.77,),
    "read-a-series": (100 * (3 + 8 + 10 + 7 + 4) / 40,),
    "measured-total": (0.90,),
    "made-by-surgery": (1.00 - 0.50, 180),
    "label-to-cornea": (3.0 * (1 - 5.2 * 43.0 / 1336) ** 2,),
    "ten-degrees-off": (2 * 3.0 * math.sin(10 * DEGREE),),
    "nothing-gained": (math.asin(0.5) / DEGREE,),
    "back-left-out": (1.00 - (0.926 * 0.60 - 0.508), 180),
    "step-on-a-ladder": (min((0.75, 1.50, 2.25, 3.00), key=lambda d: abs(d - 1.60 * 1.44)),),
    "read-a-double-angle": (1.00, 120 / 2),
}


def of_lessons(kind):
    return [item for item in BANK.values() if item.lesson in LESSONS and item.kind == kind]


def key_of(item):
    return next(option.text for option in item.options if option.key)


def test_every_numeric_item_is_reckoned_here():
    assert {item.key for item in of_lessons("number")} == set(BY_HAND)


@pytest.mark.parametrize("key", BY_HAND)
def test_the_key_of_a_numeric_item_is_what_a_hand_formula_gives(key):
    for seed in SEEDS:
        posed = pose(BANK[key], seed)
        assert posed.right == pytest.approx(BY_HAND[key](posed.numbers), abs=1e-6), posed.stem


@pytest.mark.parametrize("key", KEYED)
def test_the_numbers_of_a_keyed_option_are_right(key):
    found = re.findall(r"[+−]?\d+(?:\.\d+)?", key_of(BANK[key]))
    assert len(found) >= len(KEYED[key])
    for text, value in zip(found, KEYED[key], strict=False):
        digits = len(text.partition(".")[2])
        assert abs(float(text.replace("−", "-")) - value) <= 0.5001 * 10**-digits, (text, value)


def test_every_choice_among_numbers_is_reckoned_here():
    for item in of_lessons("choice"):
        if all(re.match(r"[+−]?\d", option.text) for option in item.options):
            assert item.key in KEYED


@pytest.mark.parametrize("stem", LESSONS)
def test_a_lesson_has_items_enough_of_each_kind_and_for_each_goal(stem):
    own = [item for item in BANK.values() if item.lesson == stem]
    kinds = collections.Counter(item.kind for item in own)
    assert len(own) >= 20
    assert kinds["number"] >= 5
    assert kinds["order"] >= 1
    assert any(item.figure for item in own)
    assert min(collections.Counter(item.goal for item in own).values()) >= 4
    assert {item.difficulty for item in own} == {1, 2, 3}
    places = collections.Counter(
        [option.key for option in item.options].index(True) for item in own if item.kind == "choice"
    )
    assert max(places.values()) <= 0.4 * kinds["choice"], places


def test_a_page_that_asks_about_a_figure_shows_it():
    assert "<img" in items.ask("read-a-lens").data
    assert "<img" not in items.ask("reciprocal").data


def test_the_figures_to_read_do_not_give_the_answer_away():
    for item in of_lessons("choice"):
        if item.figure:
            assert key_of(item) not in pose(item).shown_figure().alt

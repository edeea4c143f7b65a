"""Keys of the items of lessons 08 and 10 to 12, reckoned again by hand formulas."""

import collections
import math
import re

import pytest

from shared_utils.optics import through_focus
from shared_utils.optics.lenses import monofocal
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import LensConstants
from shared_utils.power.formulas import iol_power
from shared_utils.practice import items
from shared_utils.practice.posed import pose
from shared_utils.show.range_of_focus import acuity_curve, usable_parts

BANK = items.bank()
SEEDS = (1, 2, 3, 4)
DEGREE = math.pi / 180.0  # in radians
MRAD = 0.06 / DEGREE  # in arcminutes
LESSONS = ("08_difficult_eyes", "10_one_focus", "11_two_foci", "12_range_of_focus")


def at_cornea(refraction_d):
    """A refraction 12 mm in front of the cornea, carried to it."""
    return refraction_d / (1.0 - 0.012 * refraction_d)


def at_lens(behind_cornea_d, position_mm):
    """What light of this vergence behind the cornea has at the lens."""
    return 1336.0 / (1336.0 / behind_cornea_d - position_mm)


def second_lens(n):
    position_mm = n.get("position_mm", 5.0)
    now_d = n["k_d"] + at_cornea(n["refraction_d"])
    change_d = at_lens(now_d, position_mm) - at_lens(n["k_d"], position_mm)
    return n.get("old_d", 0.0) + change_d


def modulation(bright, dark):
    return (bright - dark) / (bright + dark)


def ideal_contrast(part_of_cut_off):
    """Contrast that diffraction alone leaves (Goodman, in closed form)."""
    s = part_of_cut_off
    return 2.0 / math.pi * (math.acos(s) - s * math.sqrt(1.0 - s * s))


def sinc2(x):
    return (math.sin(math.pi * x) / (math.pi * x)) ** 2


def near_of_printed(n):
    ratio = 1.0 - n["position_mm"] / 1336.0 * n["cornea_d"]
    return 100.0 / (n["lens_add_d"] * ratio**2)


BY_HAND = {
    "misplaced-in-numbers": lambda n: n["per_mm"] * n["shift_mm"],
    "adjusted-length-in-numbers": lambda n: 0.8289 * n["length_mm"] + 4.2663,
    "unadjusted-in-numbers": lambda n: n["per_mm"] * (0.1456 * n["length_mm"] - 3.7222),
    "history-in-numbers": lambda n: (
        n["k_before_d"] + at_cornea(n["before_d"]) - at_cornea(n["after_d"])
    ),
    "added-lens-in-numbers": second_lens,
    "exchange-in-numbers": second_lens,
    "airy-in-numbers": lambda n: 1.22 * n["wavelength_nm"] / 1000 / n["pupil_mm"] * MRAD,
    "cut-off-in-numbers": lambda n: n["pupil_mm"] / n["wavelength_nm"] * 1e6 * DEGREE,
    "contrast-in-numbers": lambda n: n["passed"] * modulation(n["bright"], n["dark"]),
    "blur-disc-in-numbers": lambda n: n["pupil_mm"] * n["defocus_d"] * MRAD,
    "acuity-with-blur-in-numbers": lambda n: n["best_logmar"] + math.log10(1 + n["blur_d"] ** 2),
    "margin-in-numbers": lambda n: (
        0.6625 * (n["cornea_um"] + n["lens_um"]) * n["pupil_mm"] ** 2 / 4
    ),
    "colour-share-in-numbers": lambda n: 100 * sinc2(n["step"] * 555 / n["wavelength_nm"] - 1),
    "printed-add-in-numbers": near_of_printed,
    "near-with-residual-in-numbers": lambda n: 100 / (n["add_d"] - n["refraction_d"]),
    "log-units-in-numbers": lambda n: math.log10(n["share"]) + math.log10(n["haze"]),
    "halo-in-numbers": lambda n: n["pupil_mm"] * n["add_d"] * MRAD,
    "chart-lens-in-numbers": lambda n: -100 / n["distance_cm"],
    "range-between-points-in-numbers": lambda n: (
        n["start_d"] + 0.5 * (0.2 - n["good"]) / (n["bad"] - n["good"])
    ),
    "gain-over-monofocal-in-numbers": lambda n: 100 / n["stretched_cm"] - 100 / n["plain_cm"],
    "range-by-pupil-in-numbers": lambda n: n["range_d"] * n["small_mm"] / n["wide_mm"],
    "monovision-reach-in-numbers": lambda n: 100 / (n["range_d"] + n["target_d"]),
    "monovision-gap-in-numbers": lambda n: n["target_d"] - n["beyond_d"] - n["range_d"],
}


# key → the number in the keyed option, reckoned by hand
KEYED = {
    "below-its-threshold": [0.8544 * 24.0 + 3.7222],
    "history-by-hand": [44.0 - 5.0],
    "adds-at-its-place": [73.0 - 52.0],
    "surprise-of-two": [round(second_lens({"k_d": 43.5, "refraction_d": 2.0}) * 4) / 4],
    "small-minus-factor": [round(second_lens({"k_d": 43.5, "refraction_d": -2.0}) * 4) / 4],
    "laser-powers-to-read": [0.7 * (21.5 - 18.5)],
    "cut-off-of-pupil": [3.0 / 0.000555 * DEGREE],
    "pupil-for-twenty-twenty": [30.0 / DEGREE * 0.000555],
    "modulation": [0.5 * modulation(90.0, 10.0)],
    "perfect-is-not-one": [100 * ideal_contrast(1 / 3)],
    "contrast-to-read": [0.4 * float(through_focus.mtf(monofocal(-0.27), 3.0, 0.25, 15.0))],
    "blur-disc": [4.0 * 1.0 * MRAD],
    "sa-and-pupil": [2.0 * (3.0 / 6.0) ** 2],
    "half-and-half": [100 * sinc2(0.5), 100 * (1 - 2 * sinc2(0.5))],
    "blue-and-near": [0.5 * 555 / 450],
    "printed-add": [100 / (3.0 * 0.82**2)],
    "add-to-distance": [100 / 3.0],
    "intermediate-focus": [100 / 1.25],
    "log-units-of-half": [math.log10(0.25)],
    "gap-between": [100 / 67 - 0.0, 2.5 - 100 / 67],
    "drusen-behind-two-foci": [0.5 * 0.4, math.log10(0.2)],
    "halo-width": [6.0 * 2.0 * MRAD],
    "read-66": [round(-100 / 66 * 4) / 4],
    "how-measured": [-1.5, 100 / 1.5],
    "half-dioptre-more": [1.6 - 1.3],
    "monovision-reach": [100 / (1.3 + 1.0)],
    "gap-of-monovision": [2.25 - 0.9 - 1.0, 100 / 1.0, 100 / 1.35],
    "halo-of-two-adds": [3.0 / 2.0, (3.0 / 2.0) ** 2],
}


def of_lessons(kind):
    return [i for i in BANK.values() if i.lesson in LESSONS and i.kind == kind]


def test_every_numeric_item_is_reckoned_here():
    assert {item.key for item in of_lessons("number")} == set(BY_HAND)


@pytest.mark.parametrize("key", BY_HAND)
def test_the_key_of_a_numeric_item_is_what_a_hand_formula_gives(key):
    item = BANK[key]
    for seed in SEEDS:
        posed = pose(item, seed)
        by_hand = BY_HAND[key](posed.numbers)
        assert posed.right == pytest.approx(by_hand, abs=item.within / 4), posed.stem


@pytest.mark.parametrize("key", KEYED)
def test_the_number_of_a_keyed_option_is_right(key):
    text = next(option.text for option in BANK[key].options if option.key)
    numbers = [float(found.replace("−", "-")) for found in re.findall(r"[+−]?\d+(?:\.\d+)?", text)]
    places = [len(n.partition(".")[2]) for n in re.findall(r"[+−]?\d+(?:\.\d+)?", text)]
    for value in KEYED[key]:
        assert any(
            abs(number - value) <= 0.5001 * 10**-digits
            for number, digits in zip(numbers, places, strict=True)
        ), (text, value)


@pytest.mark.parametrize("stem", LESSONS)
def test_a_lesson_has_items_enough_of_each_kind_and_for_each_goal(stem):
    own = [item for item in BANK.values() if item.lesson == stem]
    kinds = collections.Counter(item.kind for item in own)
    goals = collections.Counter(item.goal for item in own)
    assert len(own) >= 20
    assert kinds["number"] >= 5
    assert kinds["order"] >= 1
    assert any(item.figure for item in own)
    assert min(goals.values()) >= 4
    assert {item.difficulty for item in own} == {1, 2, 3}


def test_a_shallower_chamber_weakens_haigis_alone():
    lens, formulas = LensConstants.from_a_constant(118.4), ("srk_t", "hoffer_q", "holladay_1")
    deep, shallow = (Eye(23.5, 43.5, acd_mm=acd_mm) for acd_mm in (3.3, 2.8))
    assert iol_power(shallow, "haigis", lens) < iol_power(deep, "haigis", lens) - 0.1
    for formula in formulas:
        assert math.isclose(iol_power(shallow, formula, lens), iol_power(deep, formula, lens))


def test_the_methods_after_laser_say_what_the_item_reads_off_them():
    alt = pose(BANK["laser-powers-to-read"]).shown_figure().alt
    read = {name: float(power) for name, power in re.findall(r"([\w-]+) \+(\d+\.\d+)", alt)}
    plain = read.pop("uncorrected")
    assert sorted(read.values())[len(read) // 2] == 21.5
    assert plain == 18.5
    assert "2.1 D" not in alt


def test_the_shares_of_the_figure_are_those_of_steps_of_0_30():
    alt = pose(BANK["step-from-shares"]).shown_figure().alt
    read = [float(share) for share in re.findall(r"(\d+) %", alt)]
    assert read == [round(100 * sinc2(0.3 - order)) for order in (-1, 0, 1, 2)]
    assert "0.3" not in alt


def test_the_curve_to_read_ends_where_the_item_says_and_hides_it():
    parts = usable_parts(acuity_curve("bifocal", 3.0))
    assert [round(-place, 1) for part in parts for place in part] == [0.0, 0.8, 2.1, 3.5]
    alt = pose(BANK["curve-to-read"]).shown_figure().alt
    assert "0.8" not in alt
    assert "bifocal" not in alt

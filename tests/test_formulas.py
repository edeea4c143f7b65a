"""Published formulas against closed forms and ray roots written here, tables, and their hazards."""

import math
import time
import tomllib
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from shared_utils.power import core, formulas
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from tests.absurd import ANYTHING
from tests.sampling import examples

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "formulas.toml").read_text(encoding="utf-8")
)

NAMES = tuple(formulas.FORMULAS)
REGRESSIONS = ("srk_1", "srk_2")
THIN_LENS = tuple(name for name in NAMES if name not in REGRESSIONS)
TABLE = [
    (lens["a_constant"], case) for lens in OUTSIDE["emmetropia"]["lens"] for case in lens["cases"]
]


def held_by(*cases):
    """Return the registered formulas of which a table has numbers; a gap fails where it is."""
    return tuple(name for name in NAMES if any(name in case for case in cases))


IN_TABLE = held_by(*(case for _, case in TABLE))
# those that three_numbers and printed_power code a second time
SECOND_ROUTE = (
    *("fyodorov", "colenbrander", "binkhorst_1", "binkhorst_2"),
    *("srk_t", "t2", "holladay_1", "hoffer_q", "haigis"),
)
LENS = LensConstants.from_a_constant(118.4)


def eye_of(case):
    return Eye(case["axial_length_mm"], case["k_d"], acd_mm=case.get("acd_mm"))


def case_id(value):
    return value["eye"] if isinstance(value, dict) else str(value)


# --- the second route: closed forms as the papers print them, and rays -----------------------


def three_numbers(name, length, k, lens, acd=3.0):
    """Corneal power, optical length and lens position, coded a second time with plain floats."""
    r = 337.5 / k
    c = lens.pacd_mm
    if name in ("fyodorov", "colenbrander"):
        return k, length, c + (0.05 if name == "colenbrander" else 0.0)
    if name in ("binkhorst_1", "binkhorst_2"):
        return 1336 / (4 * r), length, c * (min(length, 26) / 23.45 if name[-1] == "2" else 1.0)
    if name in ("srk_t", "t2"):
        if name == "t2":
            height = -10.326 + 0.32630 * length + 0.13533 * k
        else:
            lc = length if length <= 24.2 else -3.446 + 1.716 * length - 0.0237 * length**2
            half = (-5.41 + 0.58412 * lc + 0.098 * k) / 2
            height = r - math.sqrt(r * r - half * half) if half < r else r
        elp = height + 0.62467 * lens.a_constant - 68.747 - 3.336
        return 333 / r, length * 0.97971 + 0.65696, elp
    if name == "holladay_1":
        rag, ag = max(r, 7.0), min(12.5 * length / 23.45, 13.5)
        elp = 0.56 + rag - math.sqrt(rag * rag - ag * ag / 4) + lens.surgeon_factor_mm
        return 1000 / 3 / r, length + 0.2, elp
    if name == "hoffer_q":
        a = max(18.5, min(31.0, length))
        m, g = (1, 28) if a <= 23 else (-1, 23.5)
        elp = c + 0.3 * (a - 23.5) + math.tan(math.radians(k)) ** 2 - 0.99166 + 0.05
        elp += 0.1 * m * (23.5 - a) ** 2 * math.tan(math.radians(0.1 * (g - a) ** 2))
        return k, length, elp
    assert name == "haigis"
    return 331.5 / r, length, lens.a0 + lens.a1 * acd + lens.a2 * length


def printed_power(name, length, k, lens, acd, rx, v=12.0):
    """Lens power by the closed form of each paper."""
    r = 337.5 / k
    rc = rx / (1 - v / 1000 * rx)
    cornea, lo, d = three_numbers(name, length, k, lens, acd)
    if name in ("srk_t", "t2", "holladay_1"):
        n, nc = (1.336, 0.333) if name != "holladay_1" else (1.336, 1 / 3)
        a, b = n * r - nc * lo, n * r - nc * d
        top = 1000 * n * (a - 0.001 * rx * (v * a + lo * r))
        return top / ((lo - d) * (b - 0.001 * rx * (v * b + d * r)))
    if name == "hoffer_q":
        return 1336 / (length - d) - 1.336 / (1.336 / (k + rc) - d / 1000)
    if name == "haigis":
        n, z = 1.336, 331.5 / r + rc
        return n / ((length - d) / 1000) - n / (n / z - d / 1000)
    if name in ("binkhorst_1", "binkhorst_2"):
        focus = 1336 / (334 / r + rc)  # 4 R for emmetropia
        return 1336 * (focus - length) / ((length - d) * (focus - d))
    z = cornea + rc
    if name == "fyodorov":
        return (1336 - length * z) / ((length - d) * (1 - d * z / 1336))
    return 1336 / (length - d) - 1336 / (1336 / z - d)


def printed_srk(name, length, k, a, rx):
    if name == "srk_2":
        a += 3 if length < 20 else 2 if length < 21 else 1 if length < 22 else 0
        a -= 0.5 if length >= 24.5 else 0
    power = a - 2.5 * length - 0.9 * k
    return power - rx * (1.25 if power > 14 else 1.0)


def height_at_retina(power, rx, cornea, lo, d, v=12.0):
    """Height at which a ray from the far point through the cornea's edge meets the retina."""
    y, slope = 1.0, 0.0  # in front of the spectacles of power rx
    slope -= rx / 1000 * y
    y += v * slope
    slope -= cornea / 1000 * y  # behind the cornea: index × slope
    y += d / 1.336 * slope
    slope -= power / 1000 * y
    return y + (lo - d) / 1.336 * slope


def ray_power(rx, *three, v=12.0):
    return brentq(lambda p: height_at_retina(p, rx, *three, v=v), -400, 400, xtol=1e-12)


def ray_refraction(power, *three, v=12.0):
    return brentq(lambda rx: height_at_retina(power, rx, *three, v=v), -45, 45, xtol=1e-12)


# --- numbers from outside ---------------------------------------------------------------------


def without_outside_numbers():
    """Return a sentence for each registered formula that nothing from outside is held against."""
    sentences = [
        f"{name} has no numbers from outside; add them to the cases of emmetropia in "
        "tests/outside/formulas.toml, with their source."
        for name in NAMES
        if name not in IN_TABLE
    ]
    return sentences + [
        f"{name} has no second route; code its closed form in three_numbers and printed_power."
        for name in THIN_LENS
        if name not in SECOND_ROUTE
    ]


def test_every_formula_has_numbers_from_outside():
    missing = without_outside_numbers()
    assert not missing, "\n".join(missing)


@pytest.mark.parametrize("name", IN_TABLE)
@pytest.mark.parametrize(("a_constant", "case"), TABLE, ids=case_id)
def test_emmetropic_power_of_the_table(name, a_constant, case):
    found = formulas.iol_power(eye_of(case), name, LensConstants.from_a_constant(a_constant))
    assert found == pytest.approx(case[name], abs=OUTSIDE["emmetropia"]["tolerance_d"])


@pytest.mark.parametrize("name", held_by(*OUTSIDE["detail"]["cases"]))
@pytest.mark.parametrize("case", OUTSIDE["detail"]["cases"], ids=case_id)
def test_position_targets_and_prediction_of_the_table(name, case):
    measured = next(c for a, c in TABLE if a == 118.4 and c["eye"] == case["eye"])
    eye, tolerance_d = eye_of(measured), OUTSIDE["detail"]["tolerance_d"]
    elp_mm, half_d, two_d, rounded_d, predicted_d = case[name]
    tolerance_mm = OUTSIDE["detail"]["tolerance_mm"]
    assert formulas.steps(eye, name, LENS).elp_mm == pytest.approx(elp_mm, abs=tolerance_mm)
    powers_d = formulas.iol_power(eye, name, LENS, np.array([-0.5, -2.0]))
    assert powers_d == pytest.approx([half_d, two_d], abs=tolerance_d)
    found_d = formulas.predicted_refraction(eye, name, LENS, rounded_d)
    assert found_d == pytest.approx(predicted_d, abs=tolerance_d)


@pytest.mark.parametrize("name", held_by(*OUTSIDE["double_k"]["cases"]))
@pytest.mark.parametrize("case", OUTSIDE["double_k"]["cases"], ids=lambda c: f"L{c['k_d']}")
def test_double_k_of_the_table(name, case):
    eye = eye_of(case)
    found = [
        formulas.iol_power(eye, name, LENS),
        formulas.iol_power(eye, name, LENS, elp_k_d=case["k_before_d"]),
    ]
    assert found == pytest.approx(case[name], abs=OUTSIDE["double_k"]["tolerance_d"])


@pytest.mark.parametrize("name", SECOND_ROUTE)
@pytest.mark.parametrize(("a_constant", "case"), TABLE, ids=case_id)
def test_closed_form_and_ray_root_agree_with_the_core(name, a_constant, case):
    lens = LensConstants.from_a_constant(a_constant)
    length, k, acd = case["axial_length_mm"], case["k_d"], case["acd_mm"]
    three = three_numbers(name, length, k, lens, acd)
    for target_d in (0.0, -0.5, -2.0, 1.5):
        for vertex_mm in (12.0, 14.0):
            found = formulas.iol_power(eye_of(case), name, lens, target_d, vertex_mm)
            closed = printed_power(name, length, k, lens, acd, target_d, vertex_mm)
            assert found == pytest.approx(closed, abs=1e-9)
            assert found == pytest.approx(ray_power(target_d, *three, v=vertex_mm), abs=1e-9)
            back = formulas.predicted_refraction(eye_of(case), name, lens, found + 1.0, vertex_mm)
            assert back == pytest.approx(ray_refraction(found + 1.0, *three, v=vertex_mm), abs=1e-9)


@pytest.mark.parametrize("name", ["srk_t", "t2", "holladay_1"])
def test_the_printed_inverse_of_retzlaff_and_holladay(name):
    """Rx = {1000 n a − P (L − d) b} / {n (v a + L R) − 0.001 P (L − d)(v b + d R)}."""
    length, k, power, v = 22.0, 44.0, 24.0, 12.0
    r, n = 337.5 / k, 1.336
    nc = 1 / 3 if name == "holladay_1" else 0.333
    _, lo, d = three_numbers(name, length, k, LENS)
    a, b = n * r - nc * lo, n * r - nc * d
    below = n * (v * a + lo * r) - 0.001 * power * (lo - d) * (v * b + d * r)
    printed = (1000 * n * a - power * (lo - d) * b) / below
    found = formulas.predicted_refraction(Eye(length, k), name, LENS, power)
    assert found == pytest.approx(printed, abs=1e-9)


@pytest.mark.parametrize("name", REGRESSIONS)
@pytest.mark.parametrize(("a_constant", "case"), TABLE, ids=case_id)
def test_regressions_with_a_target_by_hand(name, a_constant, case):
    lens = LensConstants.from_a_constant(a_constant)
    for target_d in (0.0, -2.0, 1.0):
        wanted = printed_srk(name, case["axial_length_mm"], case["k_d"], a_constant, target_d)
        found = formulas.iol_power(eye_of(case), name, lens, target_d)
        assert found == pytest.approx(wanted, abs=1e-9)


# --- there and back, shapes, what comes out -------------------------------------------------

usual_eyes = {
    "length": st.floats(18.0, 34.0),
    "k": st.floats(36.0, 52.0),
    "acd": st.floats(2.0, 4.5),
    "a": st.floats(117.0, 120.0),
    "target": st.floats(-6.0, 4.0),
    "vertex": st.floats(0.0, 16.0),
}


@given(**usual_eyes)
@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=40, deadline=None)
def test_there_and_back(name, length, k, acd, a, target, vertex):
    eye, lens = Eye(length, k, acd_mm=acd), LensConstants.from_a_constant(a)
    power = formulas.iol_power(eye, name, lens, target, vertex)
    assert formulas.predicted_refraction(eye, name, lens, power, vertex) == pytest.approx(
        target, abs=1e-9
    )
    stronger = formulas.predicted_refraction(eye, name, lens, power + 0.5, vertex)
    assert stronger < target  # a stronger lens leaves more myopia


@pytest.mark.parametrize("name", NAMES)
def test_a_longer_eye_and_a_steeper_cornea_want_less_and_a_larger_constant_more(name):
    def power(length=23.4, k=43.5, a=118.4):
        lens = LensConstants.from_a_constant(a)
        return formulas.iol_power(Eye(length, k, acd_mm=3.1), name, lens)

    assert power(length=23.6) < power() > power(k=43.7)
    assert power(a=118.9) > power()


@pytest.mark.parametrize("name", NAMES)
def test_arrays_broadcast_and_agree_with_one_eye_at_a_time(name):
    lengths, targets = np.array([21.0, 23.5, 27.0]), np.array([[0.0], [-1.0]])
    eye = Eye(lengths, np.array([45.0, 43.5, 42.0]), acd_mm=3.1)
    found = formulas.iol_power(eye, name, LENS, targets)
    assert found.shape == (2, 3)
    one = formulas.iol_power(eye.take(2), name, LENS, -1.0)
    assert type(one) is float
    assert one == pytest.approx(found[1, 2], abs=1e-12)
    back = formulas.predicted_refraction(eye, name, LENS, found)
    assert back == pytest.approx(np.broadcast_to(targets, (2, 3)), abs=1e-9)
    found += 0.0  # not a read-only view


@pytest.mark.parametrize("name", NAMES)
def test_a_k_for_the_position_counts_where_the_position_takes_one(name):
    eye, shape = Eye(26.0, 38.0, acd_mm=3.4), (2,)
    trace = formulas.trace_power(eye, name, LENS, elp_k_d=np.array([43.0, 44.0]))
    assert np.shape(trace.answer_d) == shape
    uses_it = formulas.FORMULAS[name].position_uses_k
    assert ("elp_k_unused" in trace.flags) != uses_it
    assert (trace.answer_d[0] != trace.answer_d[1]) == uses_it
    own = formulas.iol_power(eye, name, LENS, elp_k_d=38.0)
    assert own == pytest.approx(formulas.iol_power(eye, name, LENS), abs=1e-12)


@pytest.mark.parametrize("name", NAMES)
def test_the_trace_names_every_step_with_its_unit_and_ends_with_the_answer(name):
    eye = Eye(23.5, 43.0, 44.0, acd_mm=3.1)
    there = formulas.trace_power(eye, name, LENS, -0.5)
    back = formulas.trace_refraction(eye, name, LENS, there.answer_d)
    assert list(there.named)[-1] == "iol_power_d"
    assert list(back.named)[-1] == "refraction_d"
    for trace in (there, back):
        assert all(type(value) is float for value in trace.named.values())
        assert all(type(flag) is bool for flag in trace.flags.values())
        unitless = {"refraction_factor", "adjusted_a_constant"}
        assert all(n.rsplit("_", 1)[1] in ("d", "mm") for n in set(trace.named) - unitless)
    if name in THIN_LENS:
        # the trace's own numbers, put together by hand
        n = there.named
        assert n["behind_lens_d"] == pytest.approx(1336 / (n["optical_length_mm"] - n["elp_mm"]))
        assert n["at_lens_d"] == pytest.approx(1336 / (1336 / n["behind_cornea_d"] - n["elp_mm"]))
        assert n["behind_cornea_d"] == pytest.approx(n["cornea_d"] + n["target_at_cornea_d"])
        assert n["iol_power_d"] == pytest.approx(n["behind_lens_d"] - n["at_lens_d"])


# --- hazards ----------------------------------------------------------------------------------


@pytest.mark.parametrize(("k", "first_mm"), OUTSIDE["hazards"]["root_clamped_from"])
def test_srk_t_says_where_its_root_is_clamped(k, first_mm):
    lengths = np.array([first_mm - 0.011, first_mm + 0.011])
    found = formulas.steps(Eye(lengths, k), "srk_t", LENS)
    assert found.flags["root_clamped"].tolist() == [False, True]
    assert found.named["corneal_height_mm"][1] == pytest.approx(337.5 / k)


def test_srk_t_is_never_clamped_in_flat_corneas():
    found = formulas.steps(Eye(np.linspace(15, 40, 101), 44.6), "srk_t", LENS)
    assert not found.flags["root_clamped"].any()


@pytest.mark.parametrize(("length", "k", "slope"), OUTSIDE["hazards"]["height_slope"])
def test_srk_t_has_a_cusp_that_t2_has_not(length, k, slope):
    eye = Eye(length, np.array([k - 0.01, k + 0.01]))
    found = [
        float(np.diff(formulas.steps(eye, name, LENS).elp_mm)[0] / 0.02) for name in ("srk_t", "t2")
    ]
    assert found[0] == pytest.approx(slope, abs=0.006)
    assert found[1] == pytest.approx(0.13533, abs=1e-9)


def test_srk_t_corrects_the_length_from_24_2_mm_with_a_tiny_jump():
    eye = Eye(np.array([24.2, np.nextafter(24.2, 25)]), 43.5)
    corrected = formulas.steps(eye, "srk_t", LENS).named["corrected_length_mm"]
    wanted = OUTSIDE["hazards"]["corrected_length_jump_mm"]
    assert np.diff(corrected)[0] == pytest.approx(wanted, abs=5e-6)
    assert np.diff(formulas.iol_power(eye, "srk_t", LENS))[0] == pytest.approx(0.0012, abs=1e-4)
    long = formulas.steps(Eye(np.linspace(30, 40, 1001), 43.5), "srk_t", LENS)
    peak = np.argmax(long.named["corrected_length_mm"])
    assert np.linspace(30, 40, 1001)[peak] == pytest.approx(36.2, abs=0.011)


def test_hoffer_q_is_neutral_at_its_middle_and_steps_at_23():
    k = OUTSIDE["hazards"]["hoffer_q_neutral_k_d"]
    depth = formulas.steps(Eye(23.5, k), "hoffer_q", LENS).named["chamber_depth_mm"]
    assert depth == pytest.approx(LENS.pacd_mm, abs=5e-5)
    eye = Eye(np.array([23.0, np.nextafter(23.0, 24)]), 43.5)
    step = np.diff(formulas.steps(eye, "hoffer_q", LENS).elp_mm)[0]
    assert step == pytest.approx(OUTSIDE["hazards"]["hoffer_q_step_mm"], abs=5e-5)


def test_hoffer_q_squares_its_tangent_away_from_45_d():
    for k, unsquared_is_more in ((40.0, 0.135), (48.0, -0.123)):
        term = formulas.steps(Eye(23.0, k), "hoffer_q", LENS).named["k_term_mm"]
        assert math.tan(math.radians(k)) - term == pytest.approx(unsquared_is_more, abs=5e-4)


def test_hoffer_q_clamps_the_length_for_the_position_only():
    eye = Eye(np.array([18.5, 18.0, 31.0, 33.0]), 44.0)
    found = formulas.steps(eye, "hoffer_q", LENS)
    assert found.flags["length_clamped"].tolist() == [False, True, False, True]
    assert found.elp_mm[0] == found.elp_mm[1]
    assert found.elp_mm[2] == found.elp_mm[3]
    assert np.all(found.optical_length_mm == eye.axial_length_mm)


def test_holladay_caps_are_flagged_and_continuous():
    corner_mm = OUTSIDE["hazards"]["holladay_corner_length_mm"]
    eye = Eye(np.array([corner_mm - 1e-3, corner_mm + 1e-3]), 43.5)
    found = formulas.steps(eye, "holladay_1", LENS)
    assert found.flags["width_capped"].tolist() == [False, True]
    assert np.diff(found.elp_mm)[0] == pytest.approx(0.0, abs=1e-3)
    corner_d = OUTSIDE["hazards"]["holladay_corner_k_d"]
    found = formulas.steps(
        Eye(23.0, np.array([corner_d - 1e-3, corner_d + 1e-3])), "holladay_1", LENS
    )
    assert found.flags["radius_capped"].tolist() == [False, True]
    assert np.diff(found.elp_mm)[0] == pytest.approx(0.0, abs=1e-3)


def test_holladay_has_a_real_root_over_the_whole_domain():
    lengths, ks = np.meshgrid(np.linspace(15, 40, 51), np.linspace(30, 65, 51))
    found = formulas.steps(Eye(lengths, ks), "holladay_1", LENS)
    square = found.named["elp_radius_mm"] ** 2 - found.named["chamber_width_mm"] ** 2 / 4
    assert square.min() == pytest.approx(3.4375)


def test_the_position_hardly_matters_for_a_weak_lens_and_is_flagged():
    eye = Eye(np.array([23.5, 30.0]), np.array([43.5, 44.0]))
    trace = formulas.trace_power(eye, "holladay_1", LENS)
    assert trace.flags["elp_undetermined"].tolist() == [False, True]
    three = [three_numbers("holladay_1", length, k, LENS) for length, k in ((23.5, 43.5), (30, 44))]
    slopes = []
    for power, (cornea, lo, d) in zip(trace.answer_d, three, strict=True):
        ends = [ray_refraction(power, cornea, lo, d + h) for h in (-1e-4, 1e-4)]
        slopes.append((ends[1] - ends[0]) / 2e-4)
    wanted = OUTSIDE["hazards"]["refraction_per_mm_of_position"]
    assert slopes[0] == pytest.approx(wanted, abs=5e-4)
    assert 0 < slopes[1] < 0.1


def test_srk_2_steps_and_says_when_near_one():
    lengths = np.array([19.99, 20.0, 20.99, 21.0, 21.99, 22.0, 24.49, 24.5, 23.0])
    trace = formulas.trace_power(Eye(lengths, 43.5), "srk_2", LENS)
    jumps = np.diff(trace.answer_d)[::2] + 2.5 * 0.01
    assert jumps == pytest.approx([-1.0, -1.0, -1.0, -0.5])
    assert trace.flags["near_length_step"].tolist() == [True] * 8 + [False]


def test_srk_2_factor_steps_at_14_d():
    length = (118.4 - 0.5 - 0.9 * 43.5 - 14.0) / 2.5  # 14 D for emmetropia
    eye = Eye(np.array([length - 1e-6, length + 1e-6]), 43.5)
    trace = formulas.trace_power(eye, "srk_2", LENS, -2.0)
    assert -np.diff(trace.answer_d)[0] == pytest.approx(0.5, abs=1e-4)
    assert trace.flags["near_factor_step"].all()


def test_exactly_14_d_takes_the_factor_of_the_weaker_lens():
    lens = LensConstants.from_a_constant(115.0)  # 115 − 2.5 × 26 − 0.9 × 40 = 14
    assert formulas.iol_power(Eye(26.0, 40.0), "srk_1", lens, -2.0) == 16.0


def test_srk_t_with_the_longer_constant_in_circulation_differs_by_nothing_of_note():
    length, k = 23.5, 43.5
    r = 337.5 / k
    cornea, lo, _ = three_numbers("srk_t", length, k, LENS)
    half = (-5.40948 + 0.58412 * length + 0.098 * k) / 2
    elp = r - math.sqrt(r**2 - half**2) + 0.62467 * 118.4 - 68.747 - 3.336
    found = formulas.iol_power(Eye(length, k), "srk_t", LENS)
    assert 0.0 < abs(ray_power(0.0, cornea, lo, elp) - found) < 0.001


def test_a_negative_power_is_legitimate_and_flagged():
    trace = formulas.trace_power(Eye(33.0, 45.0), "t2", LENS)
    assert trace.answer_d < 0
    assert trace.flags["negative_power"]
    assert not formulas.trace_power(Eye(23.5, 43.5), "t2", LENS).flags["negative_power"]


def test_a_vertex_of_14_mm_hardly_changes_a_prediction():
    # in print as common knowledge: the vertex distance matters little for small refractions
    power = formulas.iol_power(Eye(22.0, 44.0), "srk_t", LENS, -2.2)
    at_14 = formulas.predicted_refraction(Eye(22.0, 44.0), "srk_t", LENS, power, 14.0)
    assert abs(at_14 + 2.2) == pytest.approx(0.010, abs=5e-4)


# --- the position an outcome asks for ---------------------------------------------------------


@pytest.mark.parametrize("name", THIN_LENS)
@pytest.mark.parametrize("achieved_d", [0.0, -1.0, 2.0])
def test_the_back_solved_position_is_the_one_that_went_in(name, achieved_d):
    eye = Eye(np.array([21.0, 23.5, 26.0]), 43.0, acd_mm=3.1)
    found = formulas.steps(eye, name, LENS)
    power = formulas.iol_power(eye, name, LENS, achieved_d)
    assert core.back_solved_elp(found, power, achieved_d) == pytest.approx(found.elp_mm, abs=1e-7)


def test_back_solving_says_why_it_cannot():
    found = formulas.steps(Eye(28.0, 43.0), "t2", LENS)
    with pytest.raises(ValueError, match=r"iol_power_d of 2 D is too weak"):
        core.back_solved_elp(found, 2.0, 0.0)
    with pytest.raises(ValueError, match=r"No lens position inside the eye lets 6 D"):
        core.back_solved_elp(found, 6.0, 20.0)


# --- bad input ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: formulas.iol_power(Eye(23.5, 43.5), "haigis", LENS), "haigis needs acd_mm"),
        (lambda: formulas.iol_power(Eye(23.5, 43.5), "srkt", LENS), "write 'srk_t'"),
        (lambda: formulas.iol_power(Eye(23.5, 43.5), ["t2"], LENS), "give one of: srk_1, srk_2"),
        (lambda: formulas.iol_power(Eye(23.5, 43.5), "t2", LENS, 83.3), "target_d is 83.3 D"),
        (lambda: formulas.iol_power(Eye(23.5, 43.5), "t2", LENS, 0, 0.012e6), "Usually 12 mm"),
        (lambda: formulas.iol_power(Eye(23.5, 43.5), "t2", LENS, elp_k_d=7.8), "337.5 / radius"),
        (
            lambda: formulas.predicted_refraction(Eye(30, 44), "t2", LENS, 90),
            "iol_power_d of 90 D leaves this eye with a refraction outside -40 to 40 D",
        ),
        (
            lambda: formulas.iol_power(Eye(23.5, 43.5), "fyodorov", LensConstants(118, 0, 1, 1)),
            "elp_mm comes out at 0 mm, which lies outside the eye",
        ),
        (
            lambda: formulas.iol_power(Eye([23.0, 24.0], 43.5), "t2", LENS, [0.0, 1.0, 2.0]),
            r"These shapes do not go together: .*given_d|target_d",
        ),
    ],
)
def test_bad_input_gets_one_clear_sentence(call, sentence):
    with pytest.raises(ValueError, match=sentence) as caught:
        call()
    assert "\n" not in str(caught.value)


def answer_or_sentence(call):
    try:
        return call(), None
    except ValueError as error:
        return None, str(error)


@given(
    name=st.sampled_from(NAMES),
    values=st.lists(ANYTHING, min_size=7, max_size=7),
    absurd_places=st.sets(st.integers(0, 6), min_size=1, max_size=2),
)
@settings(max_examples=examples(600), deadline=None)
def test_anything_gives_a_number_or_one_sentence(name, values, absurd_places):
    usual = [23.5, 43.5, 3.1, 118.4, 0.0, 12.0, 43.5]
    length, k, acd, a, target, vertex, elp_k = (
        values[i] if i in absurd_places else usual[i] for i in range(7)
    )

    def there_and_back():
        eye, lens = Eye(length, k, acd_mm=acd), LensConstants.from_a_constant(a)
        power = formulas.iol_power(eye, name, lens, target, vertex, elp_k)
        return power, formulas.predicted_refraction(eye, name, lens, power, vertex, elp_k)

    found, sentence = answer_or_sentence(there_and_back)
    if sentence:
        assert "\n" not in sentence
        assert "nan D" not in sentence.split(";")[-1]
        assert sentence.endswith((".", "?")), sentence
        assert len(sentence) < 300
    else:
        power, back = found
        assert np.all(np.isfinite(power))
        assert back == pytest.approx(np.broadcast_to(target, np.shape(back)), abs=1e-6)


@given(
    length=st.floats(15, 40),
    k=st.floats(30, 65),
    a=st.floats(110, 125),
    target=st.floats(-30, 30),
    vertex=st.floats(0, 20),
    acd=st.floats(1, 6),
    name=st.sampled_from(SECOND_ROUTE),
)
@settings(max_examples=examples(500), deadline=None)
def test_the_whole_domain_gives_the_ray_s_number_or_one_sentence(
    length, k, a, target, vertex, acd, name
):
    lens = LensConstants.from_a_constant(a)
    power, sentence = answer_or_sentence(
        lambda: formulas.iol_power(Eye(length, k, acd_mm=acd), name, lens, target, vertex)
    )
    if sentence:
        assert "elp_mm comes out at" in sentence or "outside -200 to 200 D" in sentence
    else:
        three = three_numbers(name, length, k, lens, acd)
        assert power == pytest.approx(ray_power(target, *three, v=vertex), abs=1e-6)


# --- speed -------------------------------------------------------------------------------------


def cohort(count):
    rng = np.random.default_rng(7)
    return Eye(
        rng.uniform(21, 27, count), rng.uniform(41, 46, count), acd_mm=rng.uniform(2.5, 3.8, count)
    )


@pytest.mark.benchmark
@pytest.mark.parametrize("name", NAMES)
def test_a_million_eyes_at_once_beat_a_loop_a_hundredfold(name):
    eyes, sample = cohort(1_000_000), 200
    single = [eyes.take(i) for i in range(sample)]
    for way, given_d in ((formulas.iol_power, -0.5), (formulas.predicted_refraction, 20.0)):
        way(single[0], name, LENS, given_d)  # warm
        best_loop = best_array = math.inf
        for _ in range(3):
            start = time.perf_counter()
            looped = [way(eye, name, LENS, given_d) for eye in single]
            best_loop = min(best_loop, (time.perf_counter() - start) / sample)
            start = time.perf_counter()
            at_once = way(eyes, name, LENS, given_d)
            best_array = min(best_array, (time.perf_counter() - start) / 1_000_000)
        assert at_once[:sample] == pytest.approx(looped, abs=1e-12)
        ratio = best_loop / best_array
        print(f"{name} {way.__name__}: {best_array * 1e6:.3f} s per million, ratio {ratio:.0f}")
        assert ratio >= 100


@pytest.mark.benchmark
def test_memory_for_a_million_eyes_stays_below_a_gigabyte_and_grows_linearly():
    peaks = []
    for count in (250_000, 1_000_000):
        eyes = cohort(count)
        tracemalloc.start()
        formulas.iol_power(eyes, "hoffer_q", LENS)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    print(f"peak for a million eyes: {peaks[1] / 1e6:.0f} MB")
    assert peaks[1] < 1e9
    assert peaks[1] < 4.4 * peaks[0]

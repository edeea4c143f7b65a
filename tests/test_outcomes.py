"""Outcomes against identities of the normal distribution, peers, and hand-worked derivatives."""

import tomllib
from pathlib import Path
from time import perf_counter
from unittest import mock

import numpy as np
import pytest
import sympy
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy import special, stats
from statsmodels.stats.contingency_tables import mcnemar
from statsmodels.stats.multitest import multipletests

from shared_utils.power import (
    error_budget,
    formula_comparison,
    prediction_errors,
    pseudophakia,
    sample_size,
)
from shared_utils.power.biometry import Eye
from tests.absurd import ANYTHING, answer

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "outcomes.toml").read_text(encoding="utf-8")
)

AVERAGE = Eye(23.5, 43.5)
series = arrays(float, st.integers(2, 40), elements=st.floats(-5, 5))


def holladay_position_mm(eye, surgeon_factor_mm):
    """The published chamber depth formula, written out here once more."""
    radius = max(337.5 / eye.mean_k_d, 7.0)
    width = min(12.5 * eye.axial_length_mm / 23.45, 13.5)
    return 0.56 + radius - np.sqrt(radius**2 - width**2 / 4.0) + surgeon_factor_mm


# --- summary ---------------------------------------------------------------------------------


@pytest.mark.parametrize("row", OUTSIDE["gaussian"]["rows"], ids=lambda row: str(row["sd"]))
def test_gaussian_errors_follow_from_their_sd(row):
    found = prediction_errors.if_gaussian(row["sd"])
    close = {"abs": OUTSIDE["gaussian"]["tolerance_d"]}
    assert found.mae_d == pytest.approx(row["mae"], **close)
    assert found.medae_d == pytest.approx(row["medae"], **close)
    percent = [100.0 * fraction for fraction in found.within.values()]
    assert percent == pytest.approx(row["percent"], abs=OUTSIDE["gaussian"]["tolerance_percent"])
    # the second route: the error function
    for limit, fraction in found.within.items():
        assert fraction == pytest.approx(special.erf(limit / row["sd"] / np.sqrt(2.0)), abs=1e-12)


def test_real_errors_have_longer_tails_than_a_gaussian():
    """Of a service's 8 943 eyes more fell within 0.50 D than their SD would have it."""
    sheet = OUTSIDE["glasgow_2019"]
    wanted = prediction_errors.if_gaussian(sheet["sd_d"])
    assert sheet["mae_d"] < wanted.mae_d
    assert sheet["within_half"] > wanted.within[0.50] + 0.05


def test_many_gaussian_errors_are_summed_up_as_the_distribution_says():
    errors = np.random.default_rng(8).normal(0.0, 0.4, 200_000)
    found, wanted = prediction_errors.summary(errors), prediction_errors.if_gaussian(0.4)
    for name in ("mean_d", "sd_d", "mae_d", "medae_d"):
        assert getattr(found, name) == pytest.approx(getattr(wanted, name), abs=0.004)
    for limit in prediction_errors.WITHIN_D:
        assert found.within[limit] == pytest.approx(wanted.within[limit], abs=0.004)


@given(errors=series)
def test_summary_by_a_second_route(errors):
    found = prediction_errors.summary(errors)
    values = errors.tolist()
    mean = sum(values) / len(values)
    assert found.n == len(values)
    assert found.mean_d == pytest.approx(mean, abs=1e-9)
    assert found.sd_d**2 == pytest.approx(
        sum((v - mean) ** 2 for v in values) / (len(values) - 1), abs=1e-9
    )
    sizes = sorted(abs(v) for v in values)
    middle = (sizes[(len(sizes) - 1) // 2] + sizes[len(sizes) // 2]) / 2.0
    assert found.medae_d == pytest.approx(middle)
    assert found.mae_d == pytest.approx(sum(sizes) / len(sizes))
    fractions = list(found.within.values())
    assert fractions == sorted(fractions)
    assert 0.0 <= fractions[0] <= fractions[-1] <= 1.0


@given(errors=series, shift=st.floats(-3, 3))
def test_zeroing_takes_out_the_mean_and_nothing_else(errors, shift):
    left = prediction_errors.summary(prediction_errors.zeroed(errors + shift))
    assert left.mean_d == pytest.approx(0.0, abs=1e-9)
    assert left.sd_d == pytest.approx(prediction_errors.summary(errors).sd_d, abs=1e-9)


@pytest.mark.parametrize("limit", prediction_errors.WITHIN_D)
def test_an_error_on_the_limit_is_within_it(limit):
    """0.50 D that subtraction left at 0.5000000000000004 is still 0.50 D."""
    achieved = np.array([0.1 + limit, 0.1 - limit])
    found = prediction_errors.summary(prediction_errors.prediction_error(achieved, 0.1))
    assert found.within[limit] == 1.0


def test_the_sign_says_hyperopic_surprise():
    assert prediction_errors.prediction_error(achieved_d=1.0, predicted_d=-0.25) == 1.25
    assert prediction_errors.prediction_error([0.0, 1.0], 0.5).tolist() == [-0.5, 0.5]


# --- comparing formulas ------------------------------------------------------------------------


def correlated(rng, n, sd_first, sd_second, r=0.8):
    z = rng.standard_normal((2, n))
    return sd_first * z[0], sd_second * (r * z[0] + np.sqrt(1 - r * r) * z[1])


@pytest.mark.peer
@given(p=arrays(float, st.integers(1, 12), elements=st.floats(0, 1)))
@settings(max_examples=50)
def test_holm_agrees_with_statsmodels(p):
    with mock.patch("gc.collect"):  # it does so in every call: seconds among many tests
        theirs = multipletests(p, method="holm")[1]
    np.testing.assert_allclose(formula_comparison.holm(p), theirs, atol=1e-12)


@pytest.mark.peer
@given(first=series, seed=st.integers(0, 100))
@settings(max_examples=50)
def test_mcnemar_agrees_with_statsmodels(first, seed):
    second = np.random.default_rng(seed).permutation(first)
    (pair,) = formula_comparison.compare_within({"a": first, "b": second}, limit_d=0.5)
    a, b = np.abs(first) <= 0.5, np.abs(second) <= 0.5
    table = [[np.sum(a & b), np.sum(a & ~b)], [np.sum(~a & b), np.sum(~a & ~b)]]
    wanted = mcnemar(table, exact=True).pvalue if pair.first_only + pair.second_only else 1
    assert pair.p == pytest.approx(wanted, abs=1e-9)


def test_mcnemar_by_hand():
    """One eye for, six against: p = 2 (1 + 7) / 2⁷."""
    first = np.array([0.1] + [0.9] * 6 + [0.1] * 5)
    second = np.array([0.9] + [0.1] * 6 + [0.2] * 5)
    (pair,) = formula_comparison.compare_within({"a": first, "b": second})
    assert (pair.first_only, pair.second_only, pair.p) == (1, 6, 0.125)


@pytest.mark.parametrize("seed", range(4))
def test_comparing_sds_agrees_with_the_pitman_morgan_test(seed):
    """Peer for Gaussian pairs: SDs differ where sums and differences of the pairs correlate."""
    rng = np.random.default_rng(seed)
    first, second = correlated(rng, 300, 0.42, 0.38)
    (pair,) = formula_comparison.compare({"a": first, "b": second})
    peer = stats.pearsonr(first + second, first - second)
    assert np.sign(pair.difference_d) == np.sign(peer.statistic)
    assert pair.p == pytest.approx(peer.pvalue, abs=max(0.03, 0.4 * peer.pvalue))


def test_the_test_of_sds_raises_the_false_alarm_as_often_as_it_says():
    """250 pairs of equal SD: 5 % alarms, to within three standard errors and the small sample."""
    rng = np.random.default_rng(21)
    alarms = sum(
        formula_comparison.compare(
            dict(zip("ab", correlated(rng, 120, 0.4, 0.4), strict=True)), resamples=399
        )[0].p
        < 0.05
        for _ in range(250)
    )
    assert alarms / 250 == pytest.approx(0.055, abs=0.042)


@pytest.mark.parametrize("statistic", ["sd", "mae", "medae"])
def test_a_plainly_better_formula_is_found(statistic):
    good, poor = correlated(np.random.default_rng(2), 400, 0.3, 0.6)
    (pair,) = formula_comparison.compare({"good": good, "poor": poor}, statistic)
    assert pair.high_d < 0.0
    assert pair.p_holm < 0.01
    direct = {
        "sd": lambda e: prediction_errors.summary(e).sd_d,
        "mae": lambda e: prediction_errors.summary(e).mae_d,
        "medae": lambda e: prediction_errors.summary(e).medae_d,
    }[statistic]
    assert pair.difference_d == pytest.approx(direct(good) - direct(poor))
    assert pair.low_d < pair.difference_d < pair.high_d


@pytest.mark.parametrize("statistic", ["sd", "mae", "medae"])
def test_a_formula_does_not_differ_from_itself(statistic):
    errors = np.random.default_rng(2).normal(0, 0.4, 50)
    (pair,) = formula_comparison.compare({"a": errors, "b": errors}, statistic)
    assert (pair.difference_d, pair.low_d, pair.high_d, pair.p) == (0.0, 0.0, 0.0, 1.0)


def test_three_formulas_make_three_pairs_and_pay_for_it():
    rng = np.random.default_rng(6)
    base = rng.normal(0, 0.4, 100)
    errors = {name: base * k for name, k in (("a", 1.0), ("b", 1.02), ("c", 1.5))}
    for pairs in (formula_comparison.compare(errors), formula_comparison.compare_within(errors)):
        assert [(p.first, p.second) for p in pairs] == [("a", "b"), ("a", "c"), ("b", "c")]
        assert all(p.p_holm >= p.p for p in pairs)
        np.testing.assert_allclose(
            [p.p_holm for p in pairs], formula_comparison.holm([p.p for p in pairs])
        )


def test_the_same_seed_gives_the_same_answer():
    errors = dict(zip("ab", correlated(np.random.default_rng(0), 60, 0.4, 0.45), strict=True))
    assert formula_comparison.compare(errors, seed=5) == formula_comparison.compare(errors, seed=5)
    assert formula_comparison.compare(errors, seed=5) != formula_comparison.compare(errors, seed=6)


# --- sensitivities -----------------------------------------------------------------------------


# --- how many eyes ----------------------------------------------------------------------------


@pytest.mark.peer
@pytest.mark.parametrize("rho", [0.0, 0.5, 0.95])
@pytest.mark.parametrize(("first", "second"), [(0.40, 0.45), (0.55, 0.40), (0.50, 0.48)])
def test_eyes_for_a_comparison_agree_with_statsmodels(first, second, rho):
    """Its sample size for a mean, given the SD of one eye's part in the difference of two SDs."""
    from statsmodels.stats import power

    per_eye = np.sqrt((first**2 + second**2) / 2 - rho**2 * first * second)
    wanted = power.normal_sample_size_one_tail(abs(first - second), 0.80, 0.025, std_null=per_eye)
    assert sample_size.eyes_for_comparison(first, second, rho) == max(2, np.ceil(wanted))


@pytest.mark.parametrize("rho", [0.0, 0.9])
def test_that_many_eyes_find_the_difference_as_often_as_they_should(rho):
    """By chance: 2 000 studies, two-sided at 5 % with the true spread; 80 % to within 3 %."""
    first, second = 0.40, 0.50
    n = int(sample_size.eyes_for_comparison(first, second, rho))
    rng = np.random.default_rng(8)
    shared, one, other = rng.standard_normal((3, 2000, n))
    own = np.sqrt(1 - rho)
    one, other = np.sqrt(rho) * shared + own * one, np.sqrt(rho) * shared + own * other
    apart = second * other.std(axis=1, ddof=1) - first * one.std(axis=1, ddof=1)
    spread = np.sqrt(((first**2 + second**2) / 2 - rho**2 * first * second) / n)
    found = np.mean(np.abs(apart) > 1.959964 * spread)
    assert found == pytest.approx(0.80, abs=0.03)


def test_eyes_for_a_mean_by_hand():
    """(1.96 × 0.45 / 0.10)² = 77.8; half the width takes four times as many."""
    assert sample_size.eyes_for_mean(0.45, 0.10) == 78
    assert sample_size.eyes_for_mean(0.45, 0.05) == pytest.approx(4 * 77.8, abs=1)
    assert sample_size.eyes_for_mean(0.45, 5.0) == 2
    np.testing.assert_array_equal(sample_size.eyes_for_mean([0.45, 0.90], 0.10), [78, 312])


def test_equal_scatter_cannot_be_told_apart():
    with pytest.raises(ValueError, match=r"do not differ by 0\.001 D"):
        sample_size.eyes_for_comparison(0.40, 0.40, 0.9)


@pytest.mark.parametrize("row", OUTSIDE["sensitivity"]["rows"], ids=lambda row: str(row["eye"]))
def test_sensitivities_as_recomputed_by_central_differences(row):
    sheet = OUTSIDE["sensitivity"]
    eye = Eye(*row["eye"])
    position = holladay_position_mm(eye, sheet["surgeon_factor_mm"])
    assert pseudophakia.emmetropic_power(eye, position) == pytest.approx(
        row["power"], abs=sheet["lens_power_tolerance_d"]
    )
    found = pseudophakia.sensitivities(eye, position)
    for name, wanted in zip(sheet["columns"], row["refraction"], strict=True):
        assert getattr(found, name) == pytest.approx(wanted, abs=sheet["tolerance"])
    at_lens = found.in_lens_power()
    for name, wanted in zip(("axial_length_mm", "k_d", "elp_mm"), row["lens"], strict=True):
        assert getattr(at_lens, name) == pytest.approx(wanted, abs=sheet["tolerance"])
    assert at_lens.iol_power_d == -1.0


def test_sensitivities_lie_where_textbooks_put_them():
    sheet = OUTSIDE["textbook_slopes"]
    found = pseudophakia.sensitivities(AVERAGE, 5.19)
    for value, (low, high) in (
        (-found.axial_length_mm, sheet["axial_length"]),
        (-found.k_d, sheet["k"]),
        (found.elp_mm, sheet["lens_position"]),
    ):
        assert low <= value <= high


@pytest.fixture(scope="module")
def symbolic():
    """Second route: the whole eye as one expression, differentiated by sympy."""
    length, k, elp, lens = names = sympy.symbols("length k elp lens")
    cornea = k * sympy.Rational(1000, 3) / sympy.Rational(675, 2)
    before = 1336 / (length + sympy.Rational(1, 5) - elp) - lens
    ocular = 1336 / (1336 / before + elp) - cornea
    refraction = ocular / (1 + sympy.Rational(12, 1000) * ocular)
    return [sympy.lambdify(names, refraction.diff(name)) for name in names]


@given(length=st.floats(20, 30), k=st.floats(38, 48), elp=st.floats(3.5, 6.5), off=st.floats(-3, 3))
def test_sensitivities_agree_with_symbolic_derivatives(symbolic, length, k, elp, off):
    eye = Eye(length, k)
    lens = pseudophakia.emmetropic_power(eye, elp) + off
    found = pseudophakia.sensitivities(eye, elp, lens)
    by_length, by_k, by_elp, by_lens = (slope(length, k, elp, lens) for slope in symbolic)
    assert found.axial_length_mm == pytest.approx(by_length, rel=1e-8)
    assert found.k_d == pytest.approx(by_k, rel=1e-8)
    assert found.elp_mm == pytest.approx(by_elp, rel=1e-7, abs=1e-9)
    assert found.iol_power_d == pytest.approx(by_lens, rel=1e-8)
    assert found.radius_mm == pytest.approx(-by_k * k * k / 337.5, rel=1e-8)


@given(length=st.floats(19, 32), k=st.floats(36, 50), elp=st.floats(3, 7))
def test_the_emmetropic_lens_leaves_no_refraction(length, k, elp):
    power = pseudophakia.emmetropic_power(Eye(length, k), elp)
    cornea = k * (1000.0 / 3.0) / 337.5
    if -30.0 <= power <= 80.0:
        left = pseudophakia.pseudophakic_refraction(length, cornea, elp, power)
        assert left == pytest.approx(0.0, abs=1e-9)


@given(length=st.floats(20, 29), k=st.floats(40, 47), elp=st.floats(4, 6), power=st.floats(5, 30))
def test_directions_every_resident_knows(length, k, elp, power):
    def rx(length_mm=length, k_d=k, elp_mm=elp, power_d=power):
        return pseudophakia.pseudophakic_refraction(length_mm, k_d, elp_mm, power_d)

    try:
        here = rx()
        longer, steeper, deeper, stronger = (
            rx(length + 0.1),
            rx(k_d=k + 0.1),
            rx(elp_mm=elp + 0.1),
            rx(power_d=power + 0.1),
        )
    except ValueError as error:  # so far from emmetropia that no spectacles would do
        sentence = str(error)
        here = None
    if here is None:
        assert "refraction_d" in sentence
    else:
        assert longer < here  # more myopic
        assert steeper < here
        assert stronger < here
        assert deeper > here  # a lens farther back loses effect


def test_sensitivities_of_a_cohort():
    found = pseudophakia.sensitivities(Eye(np.array([22.0, 26.0]), 43.5), np.array([5.0, 5.5]))
    one = pseudophakia.sensitivities(Eye(26.0, 43.5), 5.5)
    assert found.axial_length_mm.shape == (2,)
    assert found.axial_length_mm[1] == pytest.approx(one.axial_length_mm)
    assert type(one.k_d) is float


# --- error budget ------------------------------------------------------------------------------


def test_budget_as_worked_by_hand():
    sheet = OUTSIDE["budget"]
    budget = error_budget.error_budget(AVERAGE, 5.19)
    for name, share in sheet["shares"].items():
        assert budget.shares[name] == pytest.approx(share, abs=sheet["share_tolerance"])
    assert budget.sd_d == pytest.approx(sheet["sd_d"], abs=sheet["tolerance_d"])
    assert budget.mae_d == pytest.approx(sheet["mae_d"], abs=sheet["tolerance_d"])
    assert sum(budget.shares.values()) == pytest.approx(1.0)


def test_norrby_s_figures_as_published():
    sheet = OUTSIDE["norrby"]
    assert sheet["shares"] == error_budget.NORRBY_2008
    assert sum(error_budget.NORRBY_2008.values()) < 1.0  # the rest: many small ones


def test_optical_biometry_comes_to_what_norrby_held_within_reach():
    budget = error_budget.error_budget(AVERAGE, 5.19)
    assert budget.mae_d == pytest.approx(OUTSIDE["norrby"]["mae_within_reach_d"], abs=0.05)
    assert next(iter(error_budget.NORRBY_2008)) == max(budget.shares, key=budget.shares.get)


@pytest.mark.parametrize("length", [21.0, 23.5, 27.0])
def test_chance_agrees_with_derivatives(length):
    """For small errors the simulation, which knows no derivative, gives the budget's SD."""
    eye = Eye(length, 43.5)
    budget = error_budget.error_budget(eye, 5.2)
    errors = error_budget.simulated_errors(eye, 5.2, n=200_000, seed=3)
    assert errors.std() == pytest.approx(budget.sd_d, rel=0.02)
    assert errors.mean() == pytest.approx(0.0, abs=0.02)
    only_length = error_budget.Spread(0.0, 0.3, 0.0, 0.0)
    alone = error_budget.simulated_errors(eye, 5.2, only_length, n=50_000)
    slope = pseudophakia.sensitivities(eye, 5.2).axial_length_mm
    assert alone.std() == pytest.approx(0.3 * -slope, rel=0.02)


def test_short_eyes_pay_most_for_lens_position():
    short, long = (error_budget.error_budget(Eye(length, 43.5), 5.0) for length in (21.0, 28.0))
    assert short.sd_by_source_d["lens position"] > 2 * long.sd_by_source_d["lens position"]
    assert short.sd_d > long.sd_d


# --- what cannot be --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: prediction_errors.summary([0.1]), "2 or more eyes"),
        (lambda: prediction_errors.summary([]), "2 or more eyes"),
        (lambda: prediction_errors.summary(0.1), "2 or more eyes"),
        (lambda: prediction_errors.summary([0.1, float("nan")]), "prediction_error_d[1] is nan D"),
        (lambda: prediction_errors.summary([[0.1, 0.2]]), "in one row"),
        (lambda: prediction_errors.summary(["a", "b"]), "not a number"),
        (lambda: prediction_errors.if_gaussian(0.0), "sd_d is 0 D"),
        (lambda: formula_comparison.compare({"a": [0.1, 0.2]}), "two or more formulas"),
        (lambda: formula_comparison.compare([0.1, 0.2]), "two or more formulas"),
        (
            lambda: formula_comparison.compare({"a": [0.1, 0.2], "b": [0.1] * 3}),
            "different numbers of eyes",
        ),
        (
            lambda: formula_comparison.compare({"a": [0.1, 0.2], "b": [0.1, np.nan]}),
            "b: errors_d[1]",
        ),
        (
            lambda: formula_comparison.compare({"a": [0.1] * 3, "b": [0.1] * 3}, "iqr"),
            "statistic is 'iqr'",
        ),
        (
            lambda: formula_comparison.compare({"a": [0.1] * 3, "b": [0.1] * 3}, confidence=95),
            "not 95",
        ),
        (lambda: formula_comparison.holm([0.5, 5.0]), "p[1] is 5"),
        (lambda: error_budget.error_budget(AVERAGE, 0.005), "elp_mm is 0.005 mm"),
        (lambda: error_budget.error_budget(Eye([22.0, 23.0], 43.5), 5.0), "one eye"),
        (
            lambda: error_budget.error_budget(AVERAGE, 5.0, error_budget.Spread(0, 0, 0, 0)),
            "0 throughout",
        ),
        (lambda: error_budget.Spread(elp_mm=-0.1), "elp_mm is -0.1 mm"),
        (lambda: error_budget.Spread(elp_mm=[0.1, 0.2]), "one standard deviation"),
        (lambda: error_budget.simulated_errors(Eye([22.0, 23.0], 43.5), 5.0), "one eye"),
        (lambda: pseudophakia.pseudophakic_refraction(23.5, 7.7, 5.0, 20.0), "not a radius"),
        (lambda: pseudophakia.pseudophakic_refraction(0.0235, 43.0, 5.0, 20.0), "In metres?"),
    ],
)
def test_bad_input_is_answered_in_one_sentence(call, words):
    assert words in answer(call)


@given(values=st.lists(ANYTHING, max_size=4), number=ANYTHING)
def test_absurd_input_gives_right_numbers_or_a_sentence(values, number):
    for call in (
        lambda: prediction_errors.summary(values).sd_d,
        lambda: prediction_errors.zeroed(values).sum(),
        lambda: prediction_errors.if_gaussian(number).mae_d,
        lambda: pseudophakia.pseudophakic_refraction(23.5, 43.0, number, 20.0),
        lambda: pseudophakia.pseudophakic_refraction(23.5, 43.0, 5.0, number),
        lambda: pseudophakia.sensitivities(AVERAGE, 5.0, number).elp_mm,
    ):
        answer(call)


@pytest.mark.benchmark
def test_sensitivities_of_a_cohort_beat_a_loop():
    """2000 eyes in one call must be at least 50 times as fast as eye by eye."""
    lengths = np.linspace(21.0, 28.0, 2000)
    start = perf_counter()
    for length in lengths[:200].tolist():
        pseudophakia.sensitivities(Eye(length, 43.5), 5.0)
    loop_s = 10.0 * (perf_counter() - start)
    array_s = np.inf
    for _ in range(5):
        start = perf_counter()
        pseudophakia.sensitivities(Eye(lengths, 43.5), 5.0)
        array_s = min(array_s, perf_counter() - start)
    assert loop_s > 50 * array_s

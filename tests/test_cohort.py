"""Invented cohorts against published populations; files against everything a clinic may send."""

import io
import tomllib
from pathlib import Path
from time import perf_counter

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from shared_utils.clinic import cohort, cohort_file
from shared_utils.power import prediction_errors, pseudophakia, toric
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from tests.sampling import examples

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "cohorts.toml").read_text(encoding="utf-8")
)
N = 20_000


@pytest.fixture(scope="module")
def many():
    return cohort.invent(N, seed=7)


def measure(invented, name):
    if name == "age_years":
        return invented.age_years
    return getattr(invented.eye, {"k_d": "mean_k_d"}.get(name, name))


# --- resemblance -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("population", "name"),
    [(p, name) for p in ("germany_2010", "nine_cities_2021") for name in OUTSIDE[p]["own"]],
)
def test_marginals_as_published(many, population, name):
    """Means to 0.03 of their SD and SDs to 3 %: four standard errors of 20 000 eyes, and the
    cut-off tails."""
    mean, sd = OUTSIDE[population]["own"][name]
    found = measure(many, name)
    assert found.mean() == pytest.approx(mean, abs=0.03 * sd)
    assert found.std() == pytest.approx(sd, rel=0.03)


@pytest.mark.parametrize(
    ("first", "second", "rho"),
    OUTSIDE["nine_cities_2021"]["spearman"] + OUTSIDE["west_china_2018"]["spearman"],
)
def test_rank_correlations_as_published(many, first, second, rho):
    """Three standard errors of a rank correlation at 20 000 eyes: 0.02."""
    found = stats.spearmanr(measure(many, first), measure(many, second)).statistic
    assert found == pytest.approx(rho, abs=0.02)


@pytest.mark.parametrize(("pair", "rho"), cohort.SPEARMAN_ASSUMED.items())
def test_assumed_correlations_come_out_as_stated(many, pair, rho):
    found = stats.spearmanr(*(measure(many, name) for name in pair)).statistic
    assert found == pytest.approx(rho, abs=0.03)


def test_every_pair_is_published_or_assumed_and_none_is_both():
    pairs = [frozenset(p) for p in (*cohort.SPEARMAN_PUBLISHED, *cohort.SPEARMAN_ASSUMED)]
    size = len(cohort.MEASURES)
    assert len(pairs) == len(set(pairs)) == size * (size - 1) // 2


def test_the_correlation_matrix_is_one():
    matrix = cohort.correlation_matrix()
    np.testing.assert_allclose(matrix, matrix.T)
    np.testing.assert_allclose(np.diag(matrix), 1.0)
    assert np.linalg.eigvalsh(matrix).min() > 0.1


def test_length_is_a_mixture_of_two_gaussians():
    """Second route: quantiles by root finding in the cut-off mixture, and a sample by choice."""
    low, high = cohort.LENGTH_LIMITS_MM

    def below(x):
        return sum(w * stats.norm.cdf((x - m) / s) for w, m, s in cohort.LENGTH_MIXTURE)

    for rank in (1e-4, 0.01, 0.3, 0.5, 0.9, 0.999):
        wanted = below(low) + rank * (below(high) - below(low))
        root = optimize.brentq(lambda x, level=wanted: below(x) - level, low, high)
        assert cohort._length_at(np.array(rank)) == pytest.approx(root, abs=1e-4)


def test_length_percentiles_and_skew(many):
    """Mixture moments by hand: mean 23.43, variance 1.485² before the cut-off."""
    length = many.eye.axial_length_mm
    mean = sum(w * m for w, m, _ in cohort.LENGTH_MIXTURE)
    variance = sum(w * (s**2 + (m - mean) ** 2) for w, m, s in cohort.LENGTH_MIXTURE)
    assert length.mean() == pytest.approx(mean, abs=0.04)
    assert length.std() == pytest.approx(np.sqrt(variance), rel=0.03)
    assert stats.skew(length) > 0.5  # long eyes make the tail


def test_shares_of_short_and_long_eyes_are_those_of_a_clinic(many):
    """Populations differ: to a factor of two of a series that was not used."""
    sheet = OUTSIDE["swept_source_2024"]
    length = many.eye.axial_length_mm
    for share, published in (
        (np.mean(length < 22.0), sheet["below_22_mm"]),
        (np.mean(length > 26.0), sheet["above_26_mm"]),
    ):
        assert published / 2.0 < share < published * 2.0


def test_astigmatism_as_published(many):
    sheet = OUTSIDE["germany_2010"]
    corneal = toric.corneal_astigmatism(many.eye)
    size = corneal.cylinder_d
    assert np.mean(size > 2.0) == pytest.approx(sheet["more_than_2_d"], abs=0.008)
    assert np.mean(size > 3.0) == pytest.approx(sheet["more_than_3_d"], abs=0.005)
    rule = toric.rule_class(corneal)
    reply = rule != "none"
    for name, published in (
        ("with", sheet["with_the_rule"]),
        ("against", sheet["against_the_rule"]),
        ("oblique", sheet["oblique"]),
    ):
        assert np.mean(rule[reply] == name) == pytest.approx(published, abs=0.012)


def test_astigmatism_resembles_populations_that_were_not_used(many):
    size = many.eye.k2_d - many.eye.k1_d
    sheet = OUTSIDE["hebei_2020"]
    assert size.mean() == pytest.approx(sheet["cylinder_mean_d"], abs=0.15)
    assert size.std() == pytest.approx(sheet["cylinder_sd_d"], abs=0.15)


def test_corneal_axes_are_whole_degrees_from_1_to_180(many):
    axis = many.eye.k1_axis_deg
    assert axis.min() >= 1.0
    assert axis.max() == 180.0
    np.testing.assert_array_equal(axis, np.round(axis))
    assert (many.eye.k2_d >= many.eye.k1_d).all()


def test_outcomes_resemble_those_of_a_service_that_was_not_used(many):
    """SD and mean error to 0.1 D, percentages to 6 points, and above the benchmark."""
    predicted = predicted_refraction(
        many.eye, "srk_t", LensConstants.from_a_constant(118.8), many.iol_power_d
    )
    found = prediction_errors.summary(prediction_errors.zeroed(many.achieved_d - predicted))
    sheet = OUTSIDE["glasgow_2019"]
    assert found.sd_d == pytest.approx(sheet["sd_d"], abs=0.10)
    assert found.mae_d == pytest.approx(sheet["mae_d"], abs=0.10)
    assert found.within[0.50] == pytest.approx(sheet["within_half"], abs=0.06)
    assert found.within[1.00] == pytest.approx(sheet["within_one"], abs=0.06)
    assert found.within[0.50] >= OUTSIDE["benchmark_2009"]["within_half_at_least"]
    assert found.within[1.00] >= OUTSIDE["benchmark_2009"]["within_one_at_least"]


def test_lenses_come_in_half_dioptres(many):
    assert (many.iol_power_d % 0.5 == 0.0).all()


def test_the_hidden_truth_explains_all_but_the_noise(many):
    """Told the lens position, one is left with the refraction's 0.25 D (and rounding)."""
    reply = pseudophakia.pseudophakic_refraction(
        many.eye.axial_length_mm,
        331.5 / many.eye.corneal_radius_mm,
        many.lens_position_mm,
        many.iol_power_d,
        retinal_thickness_mm=0.0,
    )
    left = many.achieved_d - reply
    assert left.mean() == pytest.approx(0.0, abs=0.01)
    assert left.std() == pytest.approx(0.25, rel=0.03)
    place = many.lens_position_mm - many.eye.acd_mm - 0.39 * many.eye.lens_thickness_mm
    assert place.std() == pytest.approx(0.20, rel=0.03)


def test_without_noise_the_truth_comes_out_to_the_last_printed_digit():
    still = cohort.invent(200, 5, position_sd_mm=0.0, refraction_sd_d=0.0)
    position_mm = still.eye.acd_mm + 0.39 * still.eye.lens_thickness_mm
    np.testing.assert_allclose(still.lens_position_mm, position_mm)
    reply = pseudophakia.pseudophakic_refraction(
        still.eye.axial_length_mm,
        331.5 / still.eye.corneal_radius_mm,
        position_mm,
        still.iol_power_d,
        retinal_thickness_mm=0.0,
    )
    np.testing.assert_allclose(still.achieved_d, reply, atol=0.0051)


def test_marginals_stop_at_their_limits():
    for mean, sd, low, high in cohort.NORMALS.values():
        ends = cohort._normal_at(np.array([0.0, 1.0]), mean, sd, low, high)
        np.testing.assert_allclose(ends, [low, high])
    ends = cohort._length_at(np.array([0.0, 1.0]))
    np.testing.assert_allclose(ends, cohort.LENGTH_LIMITS_MM)
    largest = cohort._cylinder_at(np.array([0.0, 1.0]))
    np.testing.assert_allclose(largest, [0.0, cohort.CYLINDER_LIMIT_D])


def test_same_seed_same_eyes_and_a_larger_cohort_begins_with_the_smaller():
    small, large, other = cohort.invent(10, 3), cohort.invent(500, 3), cohort.invent(10, 4)
    assert large.label[:10] == small.label
    np.testing.assert_array_equal(large.eye.axial_length_mm[:10], small.eye.axial_length_mm)
    np.testing.assert_array_equal(large.achieved_d[:10], small.achieved_d)
    assert not np.array_equal(small.eye.axial_length_mm, other.eye.axial_length_mm)


@given(n=st.integers(1, 60), seed=st.integers(0, 10**9), target=st.floats(-5, 5))
@settings(max_examples=40)
def test_every_seed_makes_possible_eyes(n, seed, target):
    found = cohort.invent(n, seed, target_d=target)
    assert found.n == n == len(set(found.label))
    for values in (found.achieved_d, found.iol_power_d, found.age_years, found.lens_position_mm):
        assert values.shape == (n,)
        assert np.isfinite(values).all()


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"n": 0}, "n is 0"),
        ({"n": 5, "seed": -1}, "seed is -1"),
        ({"n": 5, "target_d": 20}, "target_d is 20 D"),
        ({"n": 5, "position_sd_mm": float("nan")}, "position_sd_mm is nan mm"),
        ({"n": 5, "a_constant": 20}, "a_constant is 20"),
    ],
)
def test_impossible_wishes_are_answered_in_one_sentence(arguments, words):
    with pytest.raises(ValueError, match=words):
        cohort.invent(**{"seed": 1, **arguments})


# --- files ---------------------------------------------------------------------------------------


def same(first, second):
    assert first.label == second.label
    for name in cohort_file.COLUMNS:
        one, other = (
            getattr(c.eye if name in cohort_file.OF_THE_EYE else c, name) for c in (first, second)
        )
        np.testing.assert_array_equal(one, other)


def test_a_cohort_comes_back_as_it_was_written(tmp_path):
    invented = cohort.invent(300, seed=2)
    cohort_file.write(tmp_path / "eyes.csv", invented)
    found = cohort_file.read(tmp_path / "eyes.csv")
    assert found.problems == found.notes == ()
    same(found.cohort, invented)
    assert found.cohort.lens_position_mm is None


def test_the_hidden_truth_stays_out_of_the_file(tmp_path):
    cohort_file.write(tmp_path / "eyes.csv", cohort.invent(3, seed=2))
    text = (tmp_path / "eyes.csv").read_text(encoding="utf-8-sig")
    assert text.splitlines()[0] == ",".join([cohort_file.LABEL_INVENTED, *cohort_file.COLUMNS])
    assert "position" not in text


def test_labels_in_other_scripts_come_back(tmp_path):
    labels = ("Åsa Öberg, OD", "山田 花子", "مريم", 'Иван "Ваня"', "two\nlines")
    eye = Eye(np.linspace(22, 26, 5), 43.5)
    cohort_file.write(tmp_path / "eyes.csv", cohort.Cohort(eye=eye, label=labels))
    found = cohort_file.read(tmp_path / "eyes.csv")
    assert found.cohort.label == labels
    assert found.cohort.eye.k1_d.tolist() == [43.5] * 5
    assert found.cohort.eye.k2_d is None


ROWS = [["Ana", 23.5, 43.25, 44.0], ["Bo", 22.1, 44.5, 45.0], ["Chi", 26.85, 42.0, 42.5]]


HEADER = "label axial_length_mm k1_d k2_d"


def text_of(rows, separator=",", decimal=".", header=HEADER):
    lines = [separator.join(header.split())]
    lines += [separator.join(str(cell).replace(".", decimal) for cell in row) for row in rows]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    "content",
    [
        text_of(ROWS).encode(),
        text_of(ROWS).encode("utf-8-sig"),
        text_of(ROWS).encode("utf-16"),
        text_of(ROWS).replace("\n", "\r\n").encode(),
        text_of(ROWS).replace("\n", "\r").encode(),
        text_of(ROWS, ";").encode(),
        text_of(ROWS, ";", ",").encode(),
        text_of(ROWS, "\t", ",").encode(),
        text_of(ROWS, ";", "٫").encode(),
        text_of(ROWS).translate(str.maketrans("0123456789", "٠١٢٣٤٥٦٧٨٩"))
        .replace("k١", "k1").replace("k٢", "k2").encode(),
        text_of(ROWS, header="LABEL Axial-Length-MM K1_D k2_d").encode(),
        ("\n\n" + text_of(ROWS).replace("\n", "\n,,,\n")).encode(),
        text_of([r[::-1] for r in ROWS], header="k2_d k1_d axial_length_mm label").encode(),
        text_of([[*r, "left, calm"] for r in ROWS], ";", header=HEADER + " remark").encode(),
    ],
    ids=["plain", "bom", "utf16", "crlf", "cr", "semicolon", "decimal-comma", "tab", "arabic-point",
         "arabic-digits", "header-case", "blank-lines", "column-order", "extra-column"],
)  # fmt: skip
def test_the_same_eyes_whatever_the_dress(content):
    found = cohort_file.parse(content)
    assert found.problems == ()
    assert found.cohort.label == ("Ana", "Bo", "Chi")
    assert found.cohort.eye.axial_length_mm.tolist() == [23.5, 22.1, 26.85]
    assert found.cohort.eye.k2_d.tolist() == [44.0, 45.0, 42.5]


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (["x", 23.5, 7.8, 44.0], "k1_d", "A radius in mm? 337.5 / 7.8 = 43.27 D"),
        (["x", 23.5, 43.0, 7.8], "k2_d", "A radius in mm?"),
        (["x", 0.0235, 43.0, 44.0], "axial_length_mm", "In metres? Multiply by 1000"),
        (["x", 2.35, 43.0, 44.0], "axial_length_mm", "In centimetres? Multiply by 10"),
        (["x", 23500, 43.0, 44.0], "axial_length_mm", "In micrometres? Divide by 1000"),
        (["x", 235, 43.0, 44.0], "axial_length_mm", "decimal point lost? 23.5 would do"),
        (["x", 2350, 43.0, 44.0], "axial_length_mm", "decimal point lost? 23.5 would do"),
        (["x", "", 43.0, 44.0], "axial_length_mm", "blank; give 15 to 40 mm"),
        (["x", 23.5, "  ", 44.0], "k1_d", "blank"),
        (["x", 23.5], "k1_d", "blank"),
        (["x", "n/a", 43.0, 44.0], "axial_length_mm", "'n/a' is not a number"),
        (["x", "nan", 43.0, 44.0], "axial_length_mm", "'nan' is not a number"),
        (["x", "inf", 43.0, 44.0], "axial_length_mm", "'inf' is not a number"),
        (["x", "2_3", 43.0, 44.0], "axial_length_mm", "'2_3' is not a number"),
        (["x", -23.5, 43.0, 44.0], "axial_length_mm", "-23.5 mm is outside 15 to 40 mm"),
        (["x", "−23.5", 43.0, 44.0], "axial_length_mm", "-23.5 mm is outside"),
        (["x", 23.5, 43.0, 64.0], "k2_d", "more than 12 D from k1_d"),
        (["x", "23", "5", "43", "0", "44"], "whole row", "decimal commas between commas"),
    ],
)
def test_a_bad_row_is_named_and_takes_no_good_one_with_it(row, column, words):
    found = cohort_file.parse(text_of([ROWS[0], row, *ROWS[1:]]).encode())
    assert found.cohort.label == ("Ana", "Bo", "Chi")
    assert {problem.row for problem in found.problems} == {3}
    first = found.problems[0]
    assert first.column == column
    assert words in str(first)
    assert f"Row 3, {column}" in found.report()


def test_a_lens_that_does_not_fit_is_an_impossible_eye():
    content = b"axial_length_mm,k1_d,acd_mm,lens_thickness_mm\n16,43,4,6\n23.5,43,3.1,4.5\n"
    found = cohort_file.parse(content)
    assert found.cohort.n == 1
    assert "do not fit into an eye of 16 mm" in found.report()


def test_columns_that_are_not_needed_may_be_blank():
    content = b"axial_length_mm,k1_d,acd_mm\n23.5,43,\n22.5,44,3.1\n"
    all_columns = cohort_file.parse(content)
    assert all_columns.cohort.n == 1
    assert "or read without this column" in all_columns.report()
    fewer = cohort_file.parse(content, needed=["axial_length_mm", "k1_d"])
    assert fewer.cohort.n == 2
    assert fewer.cohort.eye.acd_mm is None
    assert "Columns not used: acd_mm." in fewer.report()


def test_columns_that_tell_who_a_patient_is_are_pointed_out():
    text = b"axial_length_mm,k1_d,Patient Name,date_of_birth\n23.5,43.5,Nobody,1950-01-01\n"
    report = cohort_file.parse(text).report()
    assert "may tell who a patient is: patient_name, date_of_birth." in report
    assert "Nobody" not in report
    assert "tell who" not in cohort_file.parse(b"axial_length_mm,k1_d\n23.5,43.5\n").report()


@pytest.mark.parametrize(
    ("content", "needed", "words"),
    [
        (b"", None, "empty"),
        (b"\n , ,\n", None, "empty"),
        (b"label,k1_d\nx,43\n", None, "Column axial_length_mm is missing; the header has: label"),
        (b"axial_length_m,k1_d\n0.02,43\n", None, "Is 'axial_length_m' it? The unit is part"),
        (b"axial_length_mm,k1_d\n23,43\n", ["achieved_d"], "Column achieved_d is missing"),
        (b"axial_length_mm,k1_d\n23,43\n", ["sex"], "needed has 'sex'"),
        (b"axial_length_mm,k1_d,k1_d\n23,43,44\n", None, "k1_d is there 2 times"),
        (b"23.5,43\n22.5,44\n", None, "Column axial_length_mm is missing"),
        (b"PK\x03\x04 and so on", None, "save it as CSV"),
        (b",".join([b"column"] * 5000), None, "and so on"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(content, needed, words):
    with pytest.raises(ValueError) as caught:
        cohort_file.parse(content, needed)
    assert words in str(caught.value)
    assert len(str(caught.value)) < 400


def test_letters_of_an_old_encoding_cost_a_note_and_no_eye():
    found = cohort_file.parse(text_of([["Åsa", 23.5, 43.0, 44.0]]).encode("cp1252"))
    assert found.cohort.label == ("Åsa",)
    assert "not UTF-8" in found.report()


def test_a_header_alone_is_no_eye_and_no_problem():
    found = cohort_file.parse(b"axial_length_mm,k1_d\n")
    assert (found.cohort.n, found.problems) == (0, ())
    assert found.report() == "0 eyes read, 0 rows set aside."


def test_a_long_report_is_cut():
    found = cohort_file.parse(text_of([["x", 0.02, 43, 44]] * 30).encode())
    assert found.report(at_most=5).count("Row ") == 5
    assert "And 25 more." in found.report(at_most=5)


def test_a_huge_cell_costs_its_row_alone():
    content = text_of([ROWS[0], ["x" * 200_000, "y" * 200_000, 43, 44], *ROWS[1:]]).encode()
    found = cohort_file.parse(content)
    assert found.cohort.label == ("Ana", "Bo", "Chi")
    assert len(found.report()) < 400


junk = st.text(
    st.characters(exclude_categories=["Cs"], exclude_characters="\n\r"), min_size=1, max_size=30
).map(lambda s: s + ",x")  # never a good row by chance


@given(where=st.lists(st.tuples(st.integers(0, 3), st.one_of(junk, st.just('"'))), max_size=4))
@settings(max_examples=examples(150))
def test_good_rows_are_never_lost_whatever_stands_between_them(where):
    lines = text_of(ROWS).rstrip("\n").split("\n")
    for at, line in where:
        lines.insert(1 + at, line)
    found = cohort_file.parse("\n".join(lines).encode())
    assert [label for label in found.cohort.label if label in ("Ana", "Bo", "Chi")] == [
        "Ana",
        "Bo",
        "Chi",
    ]


@given(content=st.binary(max_size=200))
def test_any_bytes_get_a_sentence(content):
    with pytest.raises(ValueError, match=r"\.$|\?"):
        cohort_file.parse(content)


@given(content=st.text(max_size=120))
def test_any_text_below_a_header_is_read_or_set_aside(content):
    found = cohort_file.parse(("axial_length_mm,k1_d\n" + content).encode("utf-8", "replace"))
    assert found.cohort.n == len(found.cohort.eye.axial_length_mm)


cells = st.one_of(
    st.floats(-1e6, 1e6).map(repr), st.integers(-99, 99).map(str), st.text(max_size=4)
)


@given(rows=st.lists(st.lists(cells, min_size=10, max_size=10), max_size=6))
@settings(max_examples=examples(150), suppress_health_check=[HealthCheck.too_slow])
def test_what_is_read_is_within_the_ranges(rows):
    import csv

    text = io.StringIO()
    csv.writer(text).writerows([list(cohort_file.COLUMNS), *rows])
    found = cohort_file.parse(text.getvalue().encode("utf-8", "replace"))
    for name, (low, high) in cohort_file.COLUMNS.items():
        owner = found.cohort.eye if name in cohort_file.OF_THE_EYE else found.cohort
        values = np.asarray(getattr(owner, name))
        assert ((values >= low) & (values <= high)).all()


@pytest.mark.parametrize("name", cohort_file.OF_THE_EYE)
@pytest.mark.parametrize("end", [0, 1])
def test_files_and_eyes_have_the_same_ranges(name, end):
    """What a file lets in an eye accepts, and no more."""
    usual = {"axial_length_mm": 23.5, "k1_d": 43.5}
    bound = cohort_file.COLUMNS[name][end]
    assert getattr(Eye(**{**usual, name: bound}), name) == bound
    with pytest.raises(ValueError):
        Eye(**{**usual, name: bound + (0.01 if end else -0.01)})


@pytest.mark.benchmark
def test_inventing_many_eyes_is_nearly_as_quick_as_a_few():
    """Vectorised: 100 times the eyes in less than 25 times the time."""
    cohort.invent(10, 1)

    def seconds(n):
        best = np.inf
        for _ in range(3):
            start = perf_counter()
            cohort.invent(n, 1)
            best = min(best, perf_counter() - start)
        return best

    assert seconds(10_000) < 25.0 * seconds(100)


def test_a_file_of_invented_eyes_says_so_in_its_header(tmp_path):
    path = tmp_path / "eyes.csv"
    invented = cohort.invent(3, seed=1)
    cohort_file.write(path, invented)
    assert "invented" in path.read_text(encoding="utf-8-sig").splitlines()[0]
    again = cohort_file.read(path).cohort
    assert again.label == invented.label
    cohort_file.write(path, again)  # what was read may be anybody's
    assert "invented" not in path.read_text(encoding="utf-8-sig").splitlines()[0]

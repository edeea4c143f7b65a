"""Lesson 07: its numbers, its demos, its figure, and the page's way into a file of one's own."""

import numpy as np
import pytest
from scipy import stats

from shared_utils.cases import outcomes as cases
from shared_utils.clinic import cohort, cohort_file
from shared_utils.explore import outcomes as demos
from shared_utils.power import sample_size
from shared_utils.power.biometry import Eye
from shared_utils.power.formulas import iol_power, predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.show import outcomes as figures
from tests.prose import says

STEM = "outcomes"
OPTIMISED = cases.compute_series(cases.optimised_constants().a_constant, "all").summary
LABEL = cases.compute_series(cases.LABEL_A, "all").summary


def test_the_prose_gives_what_the_series_gives():
    long = cases.compute_series(cases.optimised_constants().a_constant, "long").summary
    says(STEM, "The surgeon's 120 eyes lean by +0.45 D.", LABEL.mean_d)
    says(STEM, "The SD goes from 0.59 to 0.55 D,", LABEL.sd_d, OPTIMISED.sd_d)
    says(STEM, "instead of 52 in a hundred", 100 * LABEL.within[0.5], digits=0)
    assert OPTIMISED.within[0.5] == pytest.approx(2 / 3, abs=0.02)
    says(STEM, "still lean to the myopic side, by 0.20 D", long.mean_d)
    assert long.mean_d < 0
    assert pytest.approx(120) == LABEL.n


def test_the_prose_gives_what_chance_gives():
    near = [1.96 * OPTIMISED.sd_d / np.sqrt(n) for n in (15, 120)]
    says(STEM, "by 0.28 D with 15 eyes, by 0.10 D with 120", *near)
    says(STEM, "moves an SD of 0.40 D by 0.04 D", 0.40 / np.sqrt(2 * 40))
    needed = [
        sample_size.eyes_for_comparison(0.40, 0.45, rho) for rho in (0.0, cases.ERROR_CORRELATION)
    ]
    says(STEM, "what needed 570 eyes for each formula needs 112 eyes in all", *needed, digits=0)


def test_the_patient_is_answered():
    values = [value for _, _, value, _ in cases.patient_steps()]
    achieved_d, before_d, error_d, after_d, own_d, old_d, new_d = values
    says(STEM, "+1.00 −0.50 × 90", cases.PATIENT_SPHERE_D, cases.PATIENT_CYLINDER_D)
    says(STEM, "her surprise of +0.75 D the constant made", error_d)
    says(STEM, "the constant made about 0.5 D", after_d - before_d, digits=1)
    says(STEM, "The rest, +0.29 D, is her eye's own", own_d)
    assert achieved_d - before_d == pytest.approx(own_d + (after_d - before_d))
    assert new_d - old_d == 0.5
    label = LensConstants.from_a_constant(cases.LABEL_A)
    planned_d = iol_power(cases.PATIENT, "srk_t", label)
    assert pytest.approx(planned_d, abs=0.25) == cases.PATIENT_LENS_D


def test_a_constant_moves_a_dioptre_s_worth_as_the_items_say():
    """0.83 D of refraction and about 1.2 D of lens for 1 of A, in an average eye."""
    eye, lens = Eye(23.5, 43.5), LensConstants.from_a_constant
    reply = [predicted_refraction(eye, "srk_t", lens(a), 20.5) for a in (118.39, 118.41)]
    says(STEM, "One more of A moves every prediction by +0.83 D", 50 * (reply[1] - reply[0]))
    asked = [iol_power(eye, "srk_t", lens(a)) for a in (118.0, 119.0)]
    says(STEM, "about 1.2 D for 1 of A", asked[1] - asked[0], digits=1)
    assert pytest.approx(50 * (reply[1] - reply[0]), abs=0.005) == cases.PER_A_D


@pytest.mark.parametrize("which", ["all", "short", "long"])
def test_a_larger_constant_lowers_every_error(which):
    means = [cases.compute_series(a, which).summary.mean_d for a in (118.0, 118.5, 119.0)]
    assert means == sorted(means, reverse=True)


def test_the_series_counts_each_eye_once():
    data = [cases.compute_series(118.4, which) for which in ("short", "long")]
    assert not np.any(data[0].counts & data[1].counts)
    assert all(10 < s.summary.n < 60 for s in data)


def test_clinics_scatter_as_large_sample_theory_says():
    """SD of a difference of two SDs: σ √((1 − ρ²)/n), Kendall & Stuart (from memory)."""
    for paired, rho in ((False, 0.0), (True, cases.ERROR_CORRELATION)):
        spread_d = np.std(cases.compute_clinics(200, 0.0200, paired).found_d)
        # 60 clinics know an SD to 9 %
        assert spread_d == pytest.approx(0.41 * np.sqrt((1 - rho**2) / 200), rel=0.3)


def test_more_eyes_mislead_fewer_clinics():
    wrong = [cases.compute_clinics(n, 0.05, False).wrong for n in (10, 100, 400)]
    assert wrong == sorted(wrong, reverse=True)
    assert cases.compute_clinics(40, 0.05, False).wrong / cases.CLINICS == 1 / 5  # as it says
    few, many = (cases.compute_clinics(40, 0.05, paired).wrong for paired in (False, True))
    assert many < few


def test_the_figure_says_what_to_conclude():
    shown = figures.lean_and_scatter()
    assert "A new constant mends the second, not the third." in shown.alt
    for kind, mean_d, sd_d in cases.KINDS:
        share = stats.norm.cdf((0.5 - mean_d) / sd_d) - stats.norm.cdf((-0.5 - mean_d) / sd_d)
        assert f"{kind}: mean" in shown.alt
        assert f"{share:.0%} within 0.50 D" in shown.alt


def test_bars_say_their_heights_and_refuse_what_does_not_fit():
    shown = figures.error_bars([0.25, 0.25, -0.5, 0.0])
    assert "1 at −0.50 D, 1 at 0.00 D, 2 at +0.25 D" in shown.alt
    with pytest.raises(ValueError, match="beyond −2 to 2 D"):
        figures.error_bars([0.0, 2.5])


# --- a file of one's own ----------------------------------------------------------------------


@pytest.fixture
def own():
    return demos.OwnSeries()


def test_the_example_is_written_and_audited(own, tmp_path):
    own.write_example(tmp_path)
    own.audit()
    assert "120 eyes read, 0 rows set aside." in own.reply.value
    assert f"<td>{cases.optimised_constants().a_constant:.2f}</td>" in own.reply.value
    assert "not for patient care" in own.reply.value
    assert "Haigis" in own.reply.value
    errors_d = cases.compute_errors(cases.optimised_constants().a_constant)
    worst = cases.invented_series().label[np.abs(errors_d).argmax()]
    assert f"Look up the largest errors by SRK/T: {worst}" in own.reply.value


def test_few_eyes_are_said_to_be_few(own, tmp_path):
    path = tmp_path / "few.csv"
    cohort_file.write(path, cohort.invent(12, seed=3))
    own.name.value = str(path)
    own.audit()
    assert "With fewer than 30 eyes hardly anything can be told apart." in own.reply.value


def test_rows_that_are_bad_are_named_and_the_rest_is_audited(own, tmp_path):
    path = tmp_path / "mine.csv"
    cohort_file.write(path, cases.invented_series())
    lines = path.read_text(encoding="utf-8-sig").splitlines()
    lines[0] += ",patient_name"
    lines[5] = lines[5].replace(lines[5].split(",")[1], "0.0235")
    path.write_text("\n".join(f"{line}," if n else line for n, line in enumerate(lines)))
    own.name.value = str(path)
    own.audit()
    assert "119 eyes read, 1 rows set aside." in own.reply.value
    assert "In metres? Multiply by 1000." in own.reply.value
    assert "Columns that may tell who a patient is: patient_name." in own.reply.value


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (None, "There is no file"),
        ("", "The file is empty"),
        ("axial_length_mm,k1_d,achieved_d\n23.5,43.5,0.1\n", "Column iol_power_d is missing"),
        ("axial_length_mm,k1_d,iol_power_d,achieved_d\n23.5,7.7,20,0.1\n", "A radius in mm?"),
    ],
)
def test_a_bad_file_is_answered_in_a_clear_sentence(own, tmp_path, content, words):
    path = tmp_path / "bad.csv"
    if content is not None:
        path.write_text(content)
    own.name.value = str(path)
    own.audit()
    assert "Not audited." in own.reply.value
    assert words in own.reply.value


def test_no_name_and_a_folder_are_answered_too(own, tmp_path):
    own.audit()
    assert "No file is named yet" in own.reply.value
    own.name.value = str(tmp_path)
    own.audit()
    assert "cannot be read" in own.reply.value


def test_a_constant_outside_is_answered(own, tmp_path):
    own.write_example(tmp_path)
    own.a_constant.value = 18.4
    own.audit()
    assert "a_constant is 18.4" in own.reply.value

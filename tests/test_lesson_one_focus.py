"""Lesson one_focus: what its text says, what its sliders must obey, and its figure."""

import numpy as np
import pytest

from shared_utils.cases import one_focus as cases
from shared_utils.explore import one_focus as demos
from shared_utils.optics import acuity, retina, through_focus
from shared_utils.optics.lenses import aberration_um, monofocal
from shared_utils.show import one_focus as figures
from tests.prose import says

STEM = "one_focus"
ASPHERIC = monofocal(-0.20)
BARE = monofocal()
SPHERICAL = monofocal(0.10)
AIRY = 1.2197 * 0.555 * 3.4377  # arcmin · mm; Born & Wolf, by hand


def test_the_text_gives_the_diffraction_that_the_model_computes():
    says(STEM, "For 3 mm in green light it is 0.78 arcmin", AIRY / 3.0)
    says(STEM, "before the cut-off at 94 cycles per degree", cases.cut_off_cpd(3.0), digits=0)
    says(STEM, "0.58 to 1.16 arcmin in green light", AIRY / 4.0, AIRY / 2.0)
    says(STEM, "and a 6-mm pupil could pass 189 cycles/degree", cases.cut_off_cpd(6.0), digits=0)
    says(STEM, "with s = 1/3 is 0.58", 2 / np.pi * (np.arccos(1 / 3) - np.sqrt(8) / 9))


def test_the_text_gives_the_cost_of_half_a_dioptre():
    sharp = 100 * through_focus.mtf(BARE, 3.0, 0.0, 15.0, corneal_sa_um=0.0)
    blurred = 100 * through_focus.mtf(BARE, 3.0, 0.5, 15.0, corneal_sa_um=0.0)
    says(STEM, "had 62 % of their contrast, now 19 %", sharp, blurred, digits=0)
    says(STEM, "says 0.10 logMAR, one line", acuity.blendowske_logmar(0.5))
    coarse = [through_focus.mtf(BARE, 3.0, d, 5.0, corneal_sa_um=0.0) for d in (0.0, 0.5)]
    assert coarse[1] / coarse[0] == pytest.approx(0.8, abs=0.05)  # "keep four fifths"
    assert acuity.blur_circle_arcmin(0.5, 3.0) / (2 * AIRY / 3) == pytest.approx(3, abs=0.5)


def test_the_text_gives_the_night_of_the_case():
    assert through_focus.acuity_logmar(SPHERICAL, 2.5, 0.0) == pytest.approx(-0.125, abs=0.05)
    night, with_glasses = through_focus.acuity_logmar(SPHERICAL, 6.0, [0.0, -0.75])
    assert night - with_glasses == pytest.approx(0.2, abs=0.05)  # "two lines of acuity"
    day, dark, helped = (
        through_focus.mtf(SPHERICAL, p, d, 6.0) for p, d in ((2.5, 0), (6.0, 0), (6.0, -0.75))
    )
    assert (helped - dark) / (day - dark) == pytest.approx(1 / 3, abs=0.05)  # "a third"
    says(STEM, "aberration: 0.4 D between", cases.margin_excess_d(0.37, 2.5), digits=1)
    says(STEM, "At night it is 2.2 D", cases.margin_excess_d(0.37, 6.0), digits=1)


def test_the_aspheric_lens_is_sharper_and_less_forgiving():
    at = {sa: cases.compute_letters(6.0, 0.0, sa).acuity_logmar for sa in (0.10, -0.20)}
    assert at[-0.20].max() < 0.0
    best = {sa: cases.acuity_by_pupil(sa)[20] for sa in (0.10, -0.20)}  # 6 mm
    assert cases.PUPILS_MM[20] == 6.0
    for sa, sharper in ((-0.20, True), (0.10, False)):
        middle = int(np.argmin(best[sa]))
        lost = best[sa][[middle - 2, middle + 2]] - best[sa][middle]  # half a dioptre
        assert np.all(lost > 0.10) == sharper
    assert best[-0.20].min() < best[0.10].min()
    # with positive aberration the wide pupil wants minus: it sees best when left hyperopic
    assert cases.REFRACTIONS_D[np.argmin(best[0.10])] == pytest.approx(0.75, abs=0.26)


def test_the_small_pupil_wins_as_soon_as_there_is_an_error():
    data = cases.compute_letters(3.0, -0.5, -0.20)
    assert data.best_pupil_mm == 1.5
    assert 2.0 <= cases.compute_letters(3.0, 0.0, -0.20).best_pupil_mm <= 3.0


def test_contrast_in_focus_is_the_closed_form():
    """Goodman's closed form, written out here."""
    for pupil_mm in (1.0, 3.0, 7.0):
        data = cases.compute_contrast_passed(pupil_mm, 0.0, "green")
        s = np.minimum(cases.FINENESS_CPD / data.cut_off_cpd, 1.0)
        closed = 2 / np.pi * (np.arccos(s) - s * np.sqrt(1 - s**2))
        assert data.curve == pytest.approx(closed, abs=1e-4)
        assert data.perfect == pytest.approx(closed, abs=1e-4)


def test_blur_takes_contrast_and_turns_it():
    fine = [cases.compute_contrast_passed(3.0, d, "green").coarse for d in (0.0, 0.25, 0.5, 0.75)]
    assert np.all(np.diff(fine) < 0)
    assert fine[-1] < 0
    assert "exchanged" in demos.contrast_and_fineness().sentence(
        cases.compute_contrast_passed(3.0, 0.75, "green")
    )


def test_the_letters_are_those_of_the_retinal_image():
    """The page's own sum of cosines against the course's retinal image."""
    from shared_utils.optics import letters

    paper = letters.chart(cases.ROWS_LOGMAR, cases.PIXEL_DEG, cases.PAPER_PX, letters_per_row=3)
    theirs = retina.image(paper, cases.PIXEL_DEG, ASPHERIC, 3.0, 2.0)
    ours = cases.compute_letters(3.0, 0.5, -0.20).image
    assert np.abs(ours - theirs).max() < 0.01


def test_the_excess_of_the_margin_is_the_slope_of_the_path():
    r, step = 1.7, 1e-5
    slope = (aberration_um((r + step) ** 2, 0.3) - aberration_um((r - step) ** 2, 0.3)) / (2 * step)
    assert cases.margin_excess_d(0.3, 2 * r) == pytest.approx(slope / r, rel=1e-6)
    assert cases.margin_excess_d(0.3, 6.0) == pytest.approx(8 * np.sqrt(5) / 27 * 0.3 * 9.0)
    assert cases.margin_excess_d(0.3, 3.0) == pytest.approx(cases.margin_excess_d(0.3, 6.0) / 4)


def test_the_figure_says_what_is_left():
    shown = figures.contrast_left()
    assert "blur 0.5 D leaves" in shown.alt
    assert "19 % at 15" in shown.alt
    assert shown.figure.get_size_inches()[0] * shown.figure.dpi <= 700

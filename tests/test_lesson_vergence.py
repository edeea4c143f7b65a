"""Lesson vergence: what its page, its sliders and its figure say is what the code computes."""

import pytest

from shared_utils.cases import vergence as cases
from shared_utils.optics import vergence
from shared_utils.show import vergence as figures
from tests.prose import says

STEM = "vergence"


def test_the_numbers_in_the_prose_are_the_codes():
    says(STEM, "it is 1 / (−0.40 m) = −2.50 D", vergence.vergence(-0.40))
    says(
        STEM,
        "The rest, +2.50 D, brings the light together 40 cm behind",
        vergence.refract(vergence.vergence(-0.40), 5.0),
    )
    says(STEM, "brings the light together 40 cm", 100 * vergence.focus_distance(2.5), digits=0)
    says(STEM, "the far point of an eye with −4.00 D at the cornea lies at", 4.0)
    far_cm = -100 * vergence.far_point(-4.0, vertex_mm=0.0)
    says(STEM, "1 / (−4.00 D), 25 cm in front", far_cm, digits=0)
    says(STEM, "the near point to 1 / (−6.00 D)", vergence.vergence(-1 / 6.0))
    says(STEM, "+12.00 D moved 12 mm to the cornea", 12.0)
    says(STEM, "−10 / 1.12 = −8.93 D", vergence.at_vertex(-10.0, 12.0, 0.0))


def test_the_change_on_the_way_is_what_the_page_says_of_it():
    assert abs(vergence.at_vertex(-10.0, 12.0, 0.0) + 10.0) > 1.0  # “over a dioptre at 10 D”
    assert abs(vergence.at_vertex(-1.0, 12.0, 0.0) + 1.0) == pytest.approx(0.012, abs=0.001)


def test_the_sliders_compute_what_their_sentences_say():
    data = cases.compute_point_image(25.0, 4.0, 1.336)
    assert data.object_vergence_d == -4.0
    assert data.image_vergence_d == 0.0
    data = cases.compute_vergence_at_plane(10.0, 20.0)
    assert data.arriving_d == pytest.approx(12.5)


def test_the_figure_says_three_kinds_of_light():
    alt = figures.three_kinds_of_light().alt
    for words in ("diverging light has −2.00 D", "parallel light has 0.00 D", "+2.00 D"):
        assert words in alt

"""Sound's time and light's path: published mean speeds and indices, round trips, and slips."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils.power import axial_length as ruler
from shared_utils.power import long_eyes

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "axial_length.toml").read_text(encoding="utf-8")
)
LENGTHS = st.floats(20.0, 34.0)
LENSES = st.floats(3.0, 6.0)


@pytest.mark.parametrize(("length_mm", "speed"), OUTSIDE["mean_speed"]["cases"])
def test_mean_speed_of_a_phakic_eye(length_mm, speed):
    data = OUTSIDE["mean_speed"]
    time_us = ruler.echo_time(length_mm, data["lens_thickness_mm"])
    assert 2000.0 * length_mm / time_us == pytest.approx(speed, abs=data["tolerance_m_per_s"])


def test_what_a_lens_adds_to_a_length_at_the_speed_of_the_humours():
    data = OUTSIDE["lens_correction"]
    time_us = ruler.echo_time(23.5, data["lens_thickness_mm"])
    read_mm = ruler.length_by_sound(time_us, 1532.0)
    assert 23.5 - read_mm == pytest.approx(data["add_mm"], abs=data["tolerance_mm"])


def test_one_index_is_the_mean_of_the_segments():
    data = OUTSIDE["mean_index"]
    segments = data["segments_mm"]
    path_mm = sum(ruler.GROUP_INDEX[name] * mm for name, mm in segments.items())
    mean = path_mm / sum(segments.values())
    assert mean == pytest.approx(data["index"], abs=data["tolerance"])
    assert ruler.GROUP_INDEX["phakic eye"] == data["index"]


def test_light_by_one_index_differs_from_the_segments_as_a_published_regression_says():
    data = OUTSIDE["segments_and_regression"]
    length_mm, lens_mm = np.meshgrid(data["axial_length_mm"], data["lens_thickness_mm"])
    shown_mm = ruler.length_by_light(ruler.optical_path(length_mm, lens_mm))
    by_segments_mm = long_eyes.segmented_length(shown_mm, lens_mm)
    np.testing.assert_allclose(by_segments_mm, length_mm, atol=data["tolerance_mm"])


def test_silicone_oil_makes_an_eye_look_long():
    data = OUTSIDE["silicone_oil"]
    time_us = ruler.echo_time(data["axial_length_mm"], data["lens_thickness_mm"], "silicone oil")
    read_mm = ruler.length_by_sound(time_us)
    assert read_mm == pytest.approx(data["read_mm"], abs=data["tolerance_mm"])


@given(LENGTHS, LENSES)
def test_a_millimetre_more_is_a_millimetre_of_vitreous(length_mm, lens_mm):
    more_us = ruler.echo_time(length_mm + 1.0, lens_mm) - ruler.echo_time(length_mm, lens_mm)
    assert ruler.length_by_sound(more_us, 1532.0) == pytest.approx(1.0)
    more_mm = ruler.optical_path(length_mm + 1.0, lens_mm) - ruler.optical_path(length_mm, lens_mm)
    assert more_mm == pytest.approx(1.3445)


@given(LENGTHS, LENSES)
def test_one_speed_reads_long_eyes_longer(length_mm, lens_mm):
    """Relative to the segments; a thicker lens makes an eye read shorter by sound."""
    lengths_mm = np.array([length_mm, length_mm + 0.5])
    error_mm = ruler.length_by_sound(ruler.echo_time(lengths_mm, lens_mm)) - lengths_mm
    assert error_mm[1] > error_mm[0]
    thicker_us = ruler.echo_time(length_mm, lens_mm + 0.5)
    assert thicker_us < ruler.echo_time(length_mm, lens_mm)
    assert ruler.optical_path(length_mm, lens_mm + 0.5) > ruler.optical_path(length_mm, lens_mm)


def test_scalars_arrays_and_slips():
    assert isinstance(ruler.echo_time(23.5, 4.6), float)
    assert ruler.echo_time(np.full((3, 1), 23.5), np.full(2, 4.6)).shape == (3, 2)
    with pytest.raises(ValueError, match="In metres"):
        ruler.echo_time(0.0235, 4.6)
    with pytest.raises(ValueError, match="both ways"):
        ruler.length_by_sound(3e-5)
    with pytest.raises(ValueError, match="silicone oil"):
        ruler.echo_time(23.5, 4.6, "gas")

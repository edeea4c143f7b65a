"""Figures on light: nothing clipped, nothing hidden, and words that follow the data."""

import io
import itertools
import re

import matplotlib as mpl
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text
from PIL import Image

from shared_utils.cases.light import class_lenses
from shared_utils.cases.rays import foci
from shared_utils.optics import lenses, retina, through_focus
from shared_utils.show import light, rays, simulated_view, style
from tests.sampling import sample

FIGURES = {
    "energy": light.energy_split,
    "contrast": light.contrast_through_focus,
    "acuity": light.defocus_acuity,
    "halo": simulated_view.night_halo,
    "letters": simulated_view.letter_charts,
    "rays": rays.ray_diagram,
}
OTHERS = {
    "energy": {"lenses": [lenses.diffractive_bifocal(step=0.3), lenses.monofocal()]},
    "contrast": {"pupils_mm": 5.0},
    "acuity": {"pupil_mm": 4.5},
    "halo": {"pupil_mm": 3.0},
    "letters": {"distances_m": (np.inf, 0.3), "lenses": [lenses.monofocal()]},
    "rays": {"distance_m": 0.4},
}
UNUSUAL = [lenses.small_aperture(), lenses.apodised_bifocal(), lenses.extended_depth_smooth()]
NEAR = lenses.diffractive_trifocal(add_d=6.0)
EXTREMES = [
    ("energy", {"pupil_mm": 0.5, "wavelength_nm": 450.0}),
    ("energy", {"pupil_mm": 9.0, "lenses": UNUSUAL, "wavelength_nm": None}),
    ("energy", {"lenses": lenses.monofocal()}),
    ("energy", {"lenses": [lenses.diffractive_trifocal(near_step=0.02)]}),
    ("contrast", {"frequency_cpd": 1.0}),
    ("contrast", {"frequency_cpd": 60.0, "pupils_mm": (0.5, 2.0)}),
    ("contrast", {"lenses": UNUSUAL, "pupils_mm": 2.0}),
    ("contrast", {"lenses": NEAR}),
    ("acuity", {"pupil_mm": 0.5}),
    ("acuity", {"lenses": UNUSUAL, "pupil_mm": 2.0}),
    ("acuity", {"lenses": lenses.monofocal()}),
    ("acuity", {"lenses": NEAR}),
    ("halo", {"pupil_mm": 2.0}),
    ("halo", {"lenses": UNUSUAL}),
    ("halo", {"lenses": NEAR, "pupil_mm": 9.0}),
    ("halo", {"lenses": [lenses.diffractive_bifocal(0.25)], "pupil_mm": 2.0}),
    ("letters", {"pupil_mm": 6.0, "distances_m": (0.125,)}),
    ("letters", {"lenses": UNUSUAL}),
    ("rays", {"lens": lenses.monofocal(), "distance_m": 0.125}),
    ("rays", {"lens": NEAR, "pupil_mm": 9.0}),
    ("rays", {"lens": NEAR, "distance_m": 0.25}),
    ("rays", {"lens": lenses.diffractive_bifocal(0.25), "pupil_mm": 0.5}),
    ("rays", {"lens": lenses.extended_depth(), "distance_m": 0.6}),
]
SLOW = [
    ("contrast", {"frequency_cpd": 60.0, "pupils_mm": (0.5, 9.0)}),
    ("acuity", {"pupil_mm": 9.0}),
    ("halo", {"pupil_mm": 9.0}),
]
SHOWN = [
    *((name, {}) for name in FIGURES),
    *sample(OTHERS.items(), 3),
    *sample(EXTREMES, 8),
    *(pytest.param(case, marks=pytest.mark.long) for case in SLOW),
]


def name_of(case):
    name, given = case
    return name + " " + ", ".join(f"{k}={v}"[:30] for k, v in given.items())


def drawn_texts(figure):
    """Text, size and extent of whatever text is really drawn, ticks out of view left out."""
    drawn, draw = [], Text.draw

    def noting(self, renderer, *args, **kwargs):
        if self.get_visible() and self.get_text().strip():
            extent = Text.get_window_extent(self, renderer)
            drawn.append((self.get_text(), self.get_fontsize(), extent))
        return draw(self, renderer, *args, **kwargs)

    with pytest.MonkeyPatch.context() as patched, style.applied():
        patched.setattr(Text, "draw", noting)
        FigureCanvasAgg(figure).draw()
    return drawn


@pytest.mark.parametrize("case", SHOWN, ids=name_of)
def test_no_text_is_clipped_small_or_hidden_and_alt_text_concludes(case):
    name, given = case
    shown = FIGURES[name](**given)
    width, height = shown.figure.get_size_inches() * shown.figure.dpi
    assert width <= style.WIDTH_PX + 1e-6
    assert height <= 1150
    texts = drawn_texts(shown.figure)
    assert len(texts) > 5
    for words, size, box in texts:
        assert size >= 12, words
        assert box.x0 >= -0.5, words
        assert box.y0 >= -0.5, words
        assert box.x1 <= width + 0.5, words
        assert box.y1 <= height + 0.5, words
    for (one, _, a), (two, _, b) in itertools.combinations(texts, 2):
        across = min(a.x1, b.x1) - max(a.x0, b.x0)
        down = min(a.y1, b.y1) - max(a.y0, b.y0)
        assert across < 3 or down < 4, f"{one!r} lies on {two!r}"
    assert 60 < len(shown.alt) < 1200
    assert shown.alt.endswith(".")
    for slip in ("nan", "None", "inf ", "array", "  "):
        assert slip not in shown.alt.replace("None is sharp", "").replace("None of", "")


@pytest.mark.parametrize("name", sample(FIGURES, 5))
def test_alt_text_and_picture_follow_the_data(name):
    usual, other = FIGURES[name](), FIGURES[name](**OTHERS[name])
    assert usual.alt != other.alt
    assert usual.png() != other.png()
    assert FIGURES[name]().alt == usual.alt


@pytest.mark.parametrize("name", sample(FIGURES, 2))
def test_a_figure_is_a_picture_with_alt_text_and_leaves_no_trace(name):
    before = dict(mpl.rcParams)
    shown = FIGURES[name]()
    picture = Image.open(io.BytesIO(shown.png()))
    assert picture.size[0] == style.WIDTH_PX
    assert 'alt="' in shown._repr_html_()
    assert dict(mpl.rcParams) == before


@pytest.mark.parametrize("name", sample(["acuity", "halo", "contrast", "letters", "energy"], 3))
def test_limits_stand_under_every_curve(name):
    words = " ".join(text for text, _, _ in drawn_texts(FIGURES[name]().figure))
    assert through_focus.LIMITS in " ".join(words.split())


@pytest.mark.parametrize("name", sample(["acuity", "contrast", "halo"], 3))
def test_every_class_has_its_colour_its_line_and_its_name(name):
    figure = FIGURES[name]().figure
    axes = figure.axes[-1]
    named = " ".join(text.get_text() for text in axes.texts)
    drawn = {(line.get_color(), str(line._dash_pattern)) for line in axes.lines}
    for lens in class_lenses():
        assert lens.name in named
        assert style.LENS_LINES[lens.lens_class].colour in {colour for colour, _ in drawn}
    assert len(drawn) >= 5


@pytest.mark.parametrize("name", sample(["acuity", "contrast", "halo"], 3))
def test_a_name_stands_nearer_to_its_own_curve_than_to_others(name):
    """Where curves lie on each other no place is better, so monofocals are left out."""
    given = [lenses.monofocal(), lenses.extended_depth_smooth(), lenses.diffractive_bifocal()]
    figure = FIGURES[name](lenses=given).figure
    figure.draw_without_rendering()
    axes = figure.axes[-1]
    curves = {line.get_color(): line for line in axes.lines if len(line.get_xdata()) > 100}
    texts = {text.get_text(): text for text in axes.texts}
    for lens in given:
        if lens.name not in texts:  # it is named at the arrow
            assert any(words.startswith(lens.name) for words in texts)
            continue
        text = texts[lens.name]
        box = text.get_window_extent()
        away = {}
        for colour, line in curves.items():
            x, y = axes.transData.transform(line.get_xydata()).T
            beside = np.maximum.reduce([box.x0 - x, x - box.x1, box.y0 - y, y - box.y1])
            away[colour] = beside.min()
        assert away[text.get_color()] == min(away.values()), lens.name
        assert -2.0 < away[text.get_color()] < 20.0


def test_energy_bars_are_the_budget():
    shown = light.energy_split(lenses.diffractive_bifocal())
    widths = [patch.get_width() for patch in shown.figure.axes[0].patches]
    budget = lenses.diffractive_bifocal().energy_budget()
    np.testing.assert_allclose(widths, [100.0 * energy for energy in budget.values()])
    assert "far 41 %, near 41 %, lost 19 %" in shown.alt


def test_acuity_is_better_upwards_and_near_is_to_the_right():
    axes = light.defocus_acuity().figure.axes[0]
    low, high = axes.get_ylim()
    assert low > high
    left, right = axes.get_xlim()
    assert left > 0 > right
    black = next(line for line in axes.lines if line.get_color() == style.BLACK)
    np.testing.assert_allclose(
        black.get_ydata(), through_focus.acuity_logmar(lenses.monofocal(), 3.0, black.get_xdata())
    )


def test_the_range_at_the_arrow_is_the_usable_range():
    shown = light.defocus_acuity()
    words = " ".join(text.get_text() for text in shown.figure.axes[0].texts)
    reach = through_focus.usable_range_d(lenses.extended_depth(), 3.0)
    assert f"{reach:.1f} D" in words
    assert f"{100 / reach / 2.54:.0f} in" in words


def test_distances_stand_on_top():
    """40 cm over −2.5 D, and 1 m over −1 D."""
    axes = light.defocus_acuity().figure.axes[0]
    top = next(child for child in axes.child_axes if child.get_xlabel())
    labels = {
        t.get_text(): at for t, at in zip(top.get_xticklabels(), top.get_xticks(), strict=True)
    }
    assert labels["40"] == -2.5
    assert labels["100"] == -1.0
    assert labels["far"] == 0.0


def test_the_halo_at_the_arrow_is_pupil_times_add():
    """Worked by hand: 5 mm · 2.5 D = 12.5 mrad across, 6.25 mrad = 21.5 arcmin from the middle."""
    figure = simulated_view.night_halo().figure
    axes = figure.axes[-1]
    assert any("5 mm · 2.5 D" in t.get_text() for t in axes.texts)
    straight = next(line for line in axes.lines if len(line.get_xdata()) == 2)
    assert straight.get_xdata()[0] == pytest.approx(21.49, abs=0.01)


def test_one_scale_for_all_lamps_and_for_all_letters():
    lamps = [im for axes in simulated_view.night_halo().figure.axes for im in axes.images]
    assert {im.get_clim() for im in lamps} == {(simulated_view.DIMMEST, simulated_view.BRIGHTEST)}
    charts = [im for axes in simulated_view.letter_charts().figure.axes for im in axes.images]
    assert {im.get_clim() for im in charts} == {(0.0, 1.0)}
    assert len(charts) == 15


def test_letters_show_what_the_curve_says():
    """Contrast of the biggest row: at 40 cm the bifocal beats the monofocal, at far it does not."""
    figure = simulated_view.letter_charts(
        [lenses.monofocal(), lenses.diffractive_bifocal()], distances_m=(np.inf, 0.4)
    ).figure
    contrast = [np.ptp(axes.images[0].get_array()) for axes in figure.axes]
    assert contrast[0] > contrast[2]
    assert contrast[3] > contrast[1]


@pytest.mark.parametrize("add_d", [1.0, 2.5, 4.0])
def test_rays_meet_where_vergence_says(add_d):
    """Independent route: matrices of two thin powers, heights of one ray."""
    lens = lenses.diffractive_bifocal(add_d)
    for distance_m in (np.inf, 1.0, 0.4):
        far, near = foci(lens, distance_m)
        if np.isinf(distance_m):
            assert far.behind_mm == pytest.approx(0.0, abs=1e-9)
        elif distance_m == pytest.approx(1.0 / add_d):
            assert near.behind_mm == pytest.approx(0.0, abs=0.02)
        assert near.place_mm < far.place_mm


def test_the_foci_of_a_bifocal_lie_most_of_a_millimetre_apart():
    """Worked by hand: 2.5 D / 0.704 = 3.55 D on 72.2 D; 1336 / 72.2 − 1336 / 75.8 = 0.87 mm."""
    far, near = foci(lenses.diffractive_bifocal(2.5))
    assert far.place_mm - near.place_mm == pytest.approx(0.87, abs=0.01)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: light.energy_split("bifocal"), "lens is 'bifocal'"),
        (lambda: light.energy_split([]), "lenses holds 0"),
        (lambda: light.energy_split([lenses.monofocal()] * 6), "lenses holds 6"),
        (lambda: light.energy_split(pupil_mm=30.0), "pupil_mm is 30 mm"),
        (lambda: light.energy_split(wavelength_nm=0.555), "wavelength_nm is 0.555 nm"),
        (lambda: light.contrast_through_focus(pupils_mm=(1, 2, 3)), "pupils_mm holds 3"),
        (lambda: light.contrast_through_focus(pupils_mm=[]), "pupils_mm holds 0"),
        (lambda: light.contrast_through_focus(frequency_cpd=0.0), "frequency_cpd is 0"),
        (lambda: light.contrast_through_focus(frequency_cpd=[5, 6]), "frequency_cpd holds 2"),
        (lambda: light.defocus_acuity(pupil_mm=[3.0, 4.0]), "pupil_mm holds 2"),
        (lambda: light.defocus_acuity(lenses=[None]), "lens is None"),
        (lambda: simulated_view.night_halo(pupil_mm=0.5), "pupil_mm is 0.5 mm"),
        (lambda: simulated_view.letter_charts(distances_m=0.0), "distances_m is 0 m"),
        (lambda: simulated_view.letter_charts(distances_m=-0.4), "distances_m is -0.4 m"),
        (lambda: simulated_view.letter_charts(distances_m=(1, 2, 3, 4)), "distances_m holds 4"),
        (lambda: rays.ray_diagram("bifocal"), "lens is 'bifocal'"),
        (lambda: rays.ray_diagram(distance_m=np.nan), "distance_m is nan m"),
        (lambda: rays.ray_diagram(pupil_mm=(3, 4)), "pupil_mm holds 2"),
    ],
)
def test_what_cannot_be_drawn_gets_one_clear_sentence(call, words):
    with pytest.raises(ValueError, match=re.escape(words)) as caught:
        call()
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith(".")


def test_the_geometry_of_the_halo_is_that_of_the_optics():
    assert retina.geometric_halo_arcmin(5.0, 2.5) == pytest.approx(42.97, abs=0.01)

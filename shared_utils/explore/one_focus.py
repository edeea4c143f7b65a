"""Sliders on one focus: the contrast that an eye passes, and letters through its pupil."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.figure import Figure
from scipy import fft
from scipy.interpolate import CubicSpline

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics import letters, through_focus
from shared_utils.optics.acuity import blur_circle_arcmin, convert
from shared_utils.optics.domain import unwrap_scalar
from shared_utils.optics.lenses import DESIGN_WAVELENGTH_NM, aberration_um, monofocal
from shared_utils.show import style
from shared_utils.show.figure_parts import line_of
from shared_utils.show.one_focus import COARSE_CPD, FINE_CPD, cut_off_cpd, grating, on_screen
from shared_utils.show.style import signed

FINENESS_CPD = np.linspace(0.0, 60.0, 121)
CANCELS_CORNEA_UM = -0.27
BODIES = {
    "spherical, +0.10 µm": 0.10,
    "neutral, 0 µm": 0.0,
    "aspheric, −0.27 µm": CANCELS_CORNEA_UM,
}
LIGHTS = {"green, 555 nm": "green", "white": "white"}


# --- contrast against fineness -----------------------------------------------------------------


@dataclass(frozen=True)
class Passed:
    """Contrast that an eye passes: signed at two finenesses, and its curve."""

    pupil_mm: float
    defocus_d: float
    light: str
    curve: np.ndarray
    perfect: np.ndarray
    coarse: float
    fine: float

    @property
    def cut_off_cpd(self):
        """Fineness beyond which nothing passes in green light, cycles/degree."""
        return cut_off_cpd(self.pupil_mm)


def contrast_passed(pupil_mm, defocus_d, light):
    """Return the contrast that an eye without aberration passes.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    defocus_d : float
        Blur left over, D, 0 or more.
    light : str
        ``green`` (555 nm) or ``white``.

    Returns
    -------
    Passed

    Examples
    --------
    A perfect eye of 3 mm passes 60 % at 30 cycles/degree, a third of its cut-off.

    >>> round(contrast_passed(3.0, 0.0, "green").fine, 2)
    0.6
    """
    lens = monofocal(CANCELS_CORNEA_UM)
    nm = DESIGN_WAVELENGTH_NM if light == "green" else None
    passed = through_focus.transfer(lens, pupil_mm, defocus_d, FINENESS_CPD, nm)
    perfect = through_focus.mtf(lens, pupil_mm, 0.0, FINENESS_CPD, DESIGN_WAVELENGTH_NM)
    coarse, fine = np.interp([COARSE_CPD, FINE_CPD], FINENESS_CPD, passed).tolist()
    return Passed(pupil_mm, defocus_d, light, np.abs(passed), perfect, coarse, fine)


def _build_contrast():
    figure = Figure(figsize=(7.0, 3.5), dpi=style.DPI, layout="constrained")
    grid = figure.add_gridspec(2, 2, width_ratios=(2.3, 1.0))
    axes = figure.add_subplot(grid[:, 0])
    axes.set(
        xlim=(0, 60),
        ylim=(0, 1.04),
        xlabel="fineness of the lines, cycles/degree",
        ylabel="contrast passed",
    )
    for cpd, letter in ((COARSE_CPD, "20/40"), (FINE_CPD, "20/20")):
        axes.axvline(cpd, color=style.GREY, linewidth=0.8, zorder=0)
        axes.text(cpd + 0.8, 1.03, letter, color=style.GREY, va="top")
    artists = {}
    (artists["perfect"],) = axes.plot([], [], color=style.SKY, linewidth=5.0, alpha=0.6)
    (artists["curve"],) = axes.plot([], [], **line_of(monofocal()))
    (artists["dots"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=9, zorder=4)
    axes.text(43, 1.03, "sky blue, broad:\nperfect, in focus", color="#2b7aa8", va="top")
    for row, (name, cpd, letter) in enumerate(
        (("coarse", COARSE_CPD, "20/40"), ("fine", FINE_CPD, "20/20"))
    ):
        strip = figure.add_subplot(grid[row, 1])
        strip.set(xticks=[], yticks=[16, 48], title=f"strokes of {letter}")
        strip.set_yticklabels(["object", "image"])
        strip.tick_params(length=0)
        strip.spines[:].set_visible(False)
        artists[name] = strip.imshow(
            _strips(cpd, 1.0), cmap="gray", vmin=0.0, vmax=1.0, aspect="auto"
        )
    return figure, artists


def _strips(cpd, passed):
    return on_screen(
        np.vstack([np.tile(grating(cpd, 1.0), (32, 1)), np.tile(grating(cpd, passed), (32, 1))])
    )


def _move_contrast(artists, seen):
    artists["perfect"].set_data(FINENESS_CPD, seen.perfect)
    artists["curve"].set_data(FINENESS_CPD, seen.curve)
    artists["dots"].set_data([COARSE_CPD, FINE_CPD], np.abs([seen.coarse, seen.fine]))
    artists["coarse"].set_data(_strips(COARSE_CPD, seen.coarse))
    artists["fine"].set_data(_strips(FINE_CPD, seen.fine))


def _percent(passed):
    size = 100.0 * abs(passed)
    if size < 1.0:
        return "less than 1 %" if size > 0.0 else "nothing"
    return f"{size:.0f} %" + (", black and white exchanged" if passed < 0 else "")


def _say_contrast(seen):
    return (
        f"Pupil {seen.pupil_mm:.1f} mm, blur {seen.defocus_d:.2f} D, {seen.light} light. Contrast "
        f"left of strokes of 20/40: {_percent(seen.coarse)}; of 20/20: {_percent(seen.fine)}. "
        f"Cut-off {seen.cut_off_cpd:.0f} cycles/degree."
    )


def _describe_contrast(seen):
    lost = seen.perfect[np.argmin(np.abs(FINENESS_CPD - COARSE_CPD))] - abs(seen.coarse)
    against = "as good as perfect" if lost < 0.02 else "below the perfect curve"
    return (
        f"Contrast passed against fineness of lines, pupil {seen.pupil_mm:.1f} mm, blur "
        f"{seen.defocus_d:.2f} D, {seen.light} light: at strokes of 20/40 {_percent(seen.coarse)}, "
        f"{against}; at 20/20 {_percent(seen.fine)}."
    )


def contrast_and_fineness():
    """Return the demo: pupil, blur and light against the contrast of fine lines."""
    return Demo(
        title="contrast of fine lines on the retina",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 1.0, 7.0, 0.5, 3.0, "mm"),
            Slider("defocus_d", "Blur left over, D", 0.0, 2.0, 0.25, 0.0, "D"),
            Choice("light", "Light:", LIGHTS, "green"),
        ),
        build=_build_contrast,
        compute=contrast_passed,
        move=_move_contrast,
        sentence=_say_contrast,
        alt=_describe_contrast,
    )


# --- letters and the pupil ---------------------------------------------------------------------

PUPILS_MM = np.arange(1.0, 7.01, 0.25)
REFRACTIONS_D = np.arange(-2.0, 2.01, 0.25)
ROWS_LOGMAR = (0.5, 0.3, 0.1, 0.0)
_PIXEL_DEG = 0.3 / 60.0
_PAPER = (244, 312)
# square roots of finenesses: dense among coarse ones, where blur makes contrast fall
_ROOT_CPD = np.linspace(0.0, 12.0, 61)
_FINE_ROOT_CPD = np.linspace(0.0, 12.0, 1201)


@dataclass(frozen=True)
class Letters:
    """A distant chart on the retina, and acuity against the pupil."""

    pupil_mm: float
    refraction_d: float
    total_sa_um: float
    image: np.ndarray
    acuity_logmar: np.ndarray

    @property
    def here_logmar(self):
        """Predicted acuity at this pupil."""
        return float(np.interp(self.pupil_mm, PUPILS_MM, self.acuity_logmar))

    @property
    def best_pupil_mm(self):
        """Pupil that sees best."""
        return float(PUPILS_MM[np.argmin(self.acuity_logmar)])

    @property
    def blur_arcmin(self):
        """Diameter of the disc that the refraction left over makes."""
        return blur_circle_arcmin(self.refraction_d, self.pupil_mm)


@cache
def acuity_by_pupil(lens_sa_um):
    """Return predicted acuity of a distant chart through a monofocal lens.

    Parameters
    ----------
    lens_sa_um : float
        Spherical aberration of the lens over 6 mm, µm.

    Returns
    -------
    numpy.ndarray
        logMAR, a row for each of ``PUPILS_MM``, a column for each of ``REFRACTIONS_D``.
    """
    # an eye of refraction R sees far as an eye without error sees an object of vergence −R
    lens = monofocal(lens_sa_um)
    return np.array([through_focus.acuity_logmar(lens, p, -REFRACTIONS_D) for p in PUPILS_MM])


@cache
def _waves():
    """The chart as a sum of cosines, and the root of the fineness of each, in cycles/degree."""
    paper = letters.chart(ROWS_LOGMAR, _PIXEL_DEG, _PAPER, letters_per_row=3)
    rows, columns = (np.arange(n) / (2.0 * n * _PIXEL_DEG) for n in _PAPER)
    return fft.dctn(paper), np.sqrt(np.hypot(rows[:, None], columns))


def letters_through(pupil_mm, refraction_d, lens_sa_um):
    """Return a distant chart on the retina of an eye with a monofocal lens.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    refraction_d : float
        Refraction left uncorrected, D, myopia negative.
    lens_sa_um : float
        Spherical aberration of the lens over 6 mm, µm.

    Returns
    -------
    Letters

    Examples
    --------
    The aspheric lens cancels the cornea; at 3 mm half a dioptre makes a disc of 5 arcmin.

    >>> seen = letters_through(3.0, -0.5, -0.27)
    >>> round(seen.blur_arcmin, 1), seen.total_sa_um
    (5.2, 0.0)
    """
    waves, root_cpd = _waves()
    lens = monofocal(lens_sa_um)
    passed = through_focus.transfer(lens, pupil_mm, -refraction_d, _ROOT_CPD**2)
    curve = CubicSpline(_ROOT_CPD, passed)(_FINE_ROOT_CPD)
    image = fft.idctn(waves * np.interp(root_cpd, _FINE_ROOT_CPD, curve))
    column = int(np.argmin(np.abs(REFRACTIONS_D - refraction_d)))
    return Letters(
        pupil_mm,
        refraction_d,
        round(through_focus.AVERAGE_CORNEA_SA_UM + lens_sa_um, 9),
        image,
        acuity_by_pupil(lens_sa_um)[:, column],
    )


def _build_letters():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    chart, axes = figure.subplots(1, 2, width_ratios=(1.0, 1.35))
    chart.set(xticks=[], title="chart on the retina")
    chart.spines[:].set_visible(False)
    high = 5.0 * 10.0 ** np.array(ROWS_LOGMAR) / 60.0 / _PIXEL_DEG
    whole = high.sum() + high[1:].sum()
    tops = (_PAPER[0] - whole) / 2.0 + np.concatenate([[0.0], np.cumsum(high[:-1] + high[1:])])
    lines = [f"20/{convert(row, 'logmar', 'snellen_20'):.0f}" for row in ROWS_LOGMAR]
    chart.set_yticks(tops + high / 2.0, lines)
    chart.tick_params(length=0)
    artists = {}
    artists["image"] = chart.imshow(np.ones(_PAPER), cmap="gray", vmin=0.0, vmax=1.0)
    axes.set(
        xlim=(0.8, 7.2),
        ylim=(1.35, -0.25),
        title=" ",
        xticks=range(1, 8),
        xlabel="pupil, mm",
        ylabel="acuity (logMAR), better upwards",
    )
    axes.yaxis.set_major_formatter(lambda v, _: signed(v, "", 1).lstrip("+"))
    axes.axhline(0.0, color=style.GREY, linewidth=0.8, zorder=0)
    axes.text(7.15, 0.01, "20/20", color=style.GREY, ha="right", va="top")
    (artists["curve"],) = axes.plot([], [], **line_of(monofocal()))
    (artists["here"],) = axes.plot([], [], "o", color=style.PURPLE, markersize=10, zorder=4)
    artists["words"] = axes.text(
        0.5, 1.01, "", ha="center", va="bottom", fontsize=13, transform=axes.transAxes
    )
    return figure, artists


def _move_letters(artists, seen):
    artists["image"].set_data(on_screen(seen.image))
    artists["curve"].set_data(PUPILS_MM, seen.acuity_logmar)
    artists["here"].set_data([seen.pupil_mm], [seen.here_logmar])
    artists["words"].set_text(f"this pupil: {_logmar(seen.here_logmar)}")


def _logmar(value):
    words = signed(value, "logMAR").lstrip("+")
    return f"{words} or worse" if value > 1.29 else words


def _say_letters(seen):
    return (
        f"Pupil {seen.pupil_mm:.1f} mm, {signed(seen.refraction_d)} left over: a blur disc of "
        f"{seen.blur_arcmin:.0f} arcmin. Cornea and lens together {signed(seen.total_sa_um, 'µm')} "
        f"at 6 mm. Predicted {_logmar(seen.here_logmar)}; sharpest at "
        f"{seen.best_pupil_mm:.1f} mm."
    )


def _describe_letters(seen):
    worse = seen.acuity_logmar[-1] - seen.acuity_logmar.min()
    wide = "a wide pupil sees as well" if worse < 0.1 else f"a 7-mm pupil loses {worse:.1f} logMAR"
    return (
        f"Letters on the retina and acuity against the pupil. With {signed(seen.refraction_d)} "
        f"left over and {signed(seen.total_sa_um, 'µm')} of spherical aberration a pupil of "
        f"{seen.pupil_mm:.1f} mm sees {_logmar(seen.here_logmar)}; best at "
        f"{seen.best_pupil_mm:.1f} mm; {wide}."
    )


def letters_and_pupil():
    """Return the demo: pupil, refraction and lens against letters on the retina."""
    return Demo(
        title="a distant chart through the pupil",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 1.0, 7.0, 0.5, 3.0, "mm"),
            Slider("refraction_d", "Refraction left over, D", -2.0, 2.0, 0.25, 0.0, "D", True),
            Choice("lens_sa_um", "Lens:", BODIES, CANCELS_CORNEA_UM),
        ),
        build=_build_letters,
        compute=letters_through,
        move=_move_letters,
        sentence=_say_letters,
        alt=_describe_letters,
    )


# --- steps of the worked example ---------------------------------------------------------------


def margin_excess_d(sa_um, pupil_mm):
    """Return how much stronger the margin of a pupil is than its centre.

    Parameters
    ----------
    sa_um : scalar or array
        Spherical aberration of the whole eye, Z(4,0) over 6 mm, µm.
    pupil_mm : scalar or array
        Pupil diameter, mm.

    Returns
    -------
    float or array
        D; the path 6√5 c (r/3)⁴ bends light by its slope, and slope over radius is power.

    Examples
    --------
    >>> round(margin_excess_d(0.37, 6.0), 1), round(margin_excess_d(0.37, 3.0), 2)
    (2.2, 0.55)
    """
    square = (np.asarray(pupil_mm) / 2.0) ** 2
    return unwrap_scalar(4.0 * aberration_um(square, sa_um) / square)


def perfect_eye_steps(pupil_mm, defocus_d):
    """Return the steps from a pupil to its finest detail and its blur, for a worked example.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, mm.
    defocus_d : float
        Blur left over, D.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> round(perfect_eye_steps(3.0, 0.5)[0][2], 2)
    0.78
    """
    arcmin = 180.0 * 60.0 / np.pi / 1000.0  # of a mrad
    return [
        (
            "radius of the Airy disc",
            f"1.22 · 0.555 µm / {pupil_mm:g} mm, in mrad, times 3.44",
            1.2197 * 0.555 / pupil_mm * arcmin,
            "arcmin",
        ),
        (
            "cut-off",
            f"{pupil_mm:g} mm / 0.555 µm per mrad, times 17.45 mrad/degree",
            cut_off_cpd(pupil_mm),
            "cycles/degree",
        ),
        (
            "diameter of the blur disc",
            f"{pupil_mm:g} mm · {defocus_d:g} D, in mrad, times 3.44",
            blur_circle_arcmin(defocus_d, pupil_mm),
            "arcmin",
        ),
        (
            "in strokes of a 20/20 letter",
            "a stroke is 1 arcmin",
            blur_circle_arcmin(defocus_d, pupil_mm),
            "strokes",
        ),
    ]


def night_steps(cornea_um, lens_um, day_mm, night_mm):
    """Return the steps from cornea and lens to the change of power over the pupil.

    Parameters
    ----------
    cornea_um, lens_um : float
        Spherical aberration over 6 mm, µm.
    day_mm, night_mm : float
        Pupil diameters, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> round(night_steps(0.27, 0.10, 2.5, 6.0)[0][2], 2)
    0.37
    """
    total = cornea_um + lens_um
    return [
        ("cornea and lens add", f"{cornea_um:.2f} + ({lens_um:.2f})", total, "µm"),
        (
            "margin against centre by day",
            f"8√5/27 · {total:.2f} · ({day_mm:g}/2)²",
            margin_excess_d(total, day_mm),
            "D",
        ),
        (
            "margin against centre at night",
            f"8√5/27 · {total:.2f} · ({night_mm:g}/2)²",
            margin_excess_d(total, night_mm),
            "D",
        ),
    ]

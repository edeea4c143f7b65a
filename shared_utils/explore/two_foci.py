"""Sliders on two foci: how steps share the light, what contrast is left, and the halo at night."""

from dataclasses import dataclass
from functools import cache

import numpy as np
from matplotlib.colors import LogNorm
from matplotlib.figure import Figure
from matplotlib.patches import Circle

from shared_utils.explore.engine import Choice, Demo, Slider
from shared_utils.optics import retina, through_focus
from shared_utils.optics.chromatic import refraction
from shared_utils.optics.lenses import (
    DESIGN_WAVELENGTH_NM,
    Lens,
    apodised_bifocal,
    corneal_add_d,
    diffractive_bifocal,
    diffractive_trifocal,
    extended_depth,
    monofocal,
)
from shared_utils.show import style
from shared_utils.show.figure_parts import distance_axis, line_of
from shared_utils.show.style import signed
from shared_utils.show.two_foci import ORDERS, few_distances, focus_words, name_of_order

CANCELS_CORNEA_UM = -0.27


# --- steps and orders --------------------------------------------------------------------------

DESIGNS = {
    "bifocal": lambda step: diffractive_bifocal(step=step),
    "trifocal": lambda step: diffractive_trifocal(near_step=step, intermediate_step=step),
    "extended depth": lambda step: extended_depth(step=step),
}
_NEAREST_D, _FARTHEST_D = -6.2, 3.4
_BAR_POINTS = 13


@dataclass(frozen=True)
class Shares:
    """Where the orders of a lens are in focus in one colour, and what each gets."""

    lens: Lens
    wavelength_nm: float
    step: float
    place_d: dict
    energy: dict

    @property
    def of_foci(self):
        """Share of each focus by name, and what is lost."""
        return self.lens.energy_budget(self.wavelength_nm)


def shares(step, wavelength_nm, design):
    """Return where the light of a lens goes in one colour, in an eye focused in green.

    Parameters
    ----------
    step : float
        Height of the steps, wavelengths of 555 nm.
    wavelength_nm : float
        Colour of the light, nm.
    design : str
        ``bifocal``, ``trifocal`` or ``extended depth``.

    Returns
    -------
    Shares

    Examples
    --------
    >>> seen = shares(0.5, 555.0, "bifocal")
    >>> round(seen.energy[1], 3), seen.place_d[1]
    (0.405, -2.5)
    """
    lens = DESIGNS[design](step)
    energy = lens.order_energies(wavelength_nm, orders=ORDERS)
    eye_d = refraction(wavelength_nm, in_focus_nm=DESIGN_WAVELENGTH_NM)
    place_d = {m: eye_d - lens.order_power_d(m, wavelength_nm) for m in ORDERS}
    return Shares(lens, wavelength_nm, step, place_d, energy)


def _build_steps():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(_FARTHEST_D, _NEAREST_D),
        ylim=(0, 1.25),
        yticks=np.arange(0, 1.01, 0.2),
        xlabel="vergence of the object that is in focus, D",
        ylabel="share of the light",
    )
    style.signed_ticks(axes.xaxis, 0)
    few_distances(axes)
    axes.axvline(0.0, color=style.GREY, linewidth=0.8, zorder=0)
    artists = {}
    for m in ORDERS:
        (artists[f"order {m}"],) = axes.plot([], [], solid_capstyle="butt")
    for n in range(3):
        artists[f"words {n}"] = axes.text(
            0,
            0,
            "",
            ha="center",
            va="bottom",
            linespacing=1.0,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.5},
        )
    artists["lost"] = axes.text(
        0.99, 0.98, "", ha="right", va="top", color=style.GREY, transform=axes.transAxes
    )
    return figure, artists


def _move_steps(artists, seen):
    colour = line_of(seen.lens)["color"]
    for m in ORDERS:
        place, used = seen.place_d[m], name_of_order(seen.lens, m)
        bar = artists[f"order {m}"]
        bar.set_visible(_NEAREST_D < place < _FARTHEST_D)
        bar.set_data([place, place], [0.0, seen.energy[m]])
        bar.set_color(colour if used else style.GREY)
        bar.set_linewidth(_BAR_POINTS if used else _BAR_POINTS / 2)
    foci = list(seen.lens.foci.items())
    for n in range(3):
        words = artists[f"words {n}"]
        words.set_visible(n < len(foci))
        if n < len(foci):
            name, m = foci[n]
            words.set_position((seen.place_d[m], seen.energy[m] + 0.02))
            words.set_text(f"{focus_words(name)}\n{100 * seen.energy[m]:.0f} %")
    artists["lost"].set_text(f"in no focus {100 * seen.of_foci['lost']:.0f} %")


def _cm(place_d):
    """A place of focus in words."""
    if place_d > -0.125:
        return "in the distance" if place_d < 0.125 else "beyond far"
    return f"{-100.0 / place_d:.0f} cm"


def _each(seen):
    return ", ".join(
        f"{name} {100 * seen.energy[m]:.0f} % ({_cm(seen.place_d[m])})"
        for name, m in seen.lens.foci.items()
    )


def _say_steps(seen):
    return (
        f"{seen.lens.name.capitalize()}, steps of {seen.step:.2f} wavelengths of green, light of "
        f"{seen.wavelength_nm:.0f} nm: {_each(seen)}; in no focus "
        f"{100 * seen.of_foci['lost']:.0f} %."
    )


def _describe_steps(seen):
    best = max(seen.lens.foci, key=lambda name: seen.energy[seen.lens.foci[name]])
    return (
        f"Bars at the vergence that each order brings into focus, as high as its share of the "
        f"light. {best.capitalize()} gets most. {_say_steps(seen)}"
    )


def steps_and_orders():
    """Return the demo: height of the steps, colour and design against the share of each focus."""
    return Demo(
        title="where the steps of a lens send the light",
        controls=(
            Slider("step", "Height of the steps, wavelengths", 0.0, 2.0, 0.05, 0.5),
            Slider("wavelength_nm", "Light, nm", 450, 650, 5, 555, "nm"),
            Choice("design", "Lens:", {name: name for name in DESIGNS}, "bifocal"),
        ),
        build=_build_steps,
        compute=shares,
        move=_move_steps,
        sentence=_say_steps,
        alt=_describe_steps,
    )


# --- contrast through focus --------------------------------------------------------------------

THROUGH_D = np.linspace(0.625, -3.375, 65)
LINES_CPD = 15.0
ADD_D = 2.5


@dataclass(frozen=True)
class Halves:
    """Contrast through focus of a bifocal lens beside a monofocal one."""

    step: float
    pupil_mm: float
    light: str
    bifocal: np.ndarray
    monofocal: np.ndarray
    share: tuple  # far, near
    left: tuple  # contrast at far and near over the monofocal's at far


def contrast_of_halves(step, pupil_mm, light):
    """Return the contrast of strokes of 20/40 through focus, with a bifocal lens of 2.5 D.

    Parameters
    ----------
    step : float
        Height of the steps, wavelengths of 555 nm.
    pupil_mm : float
        Pupil diameter, mm.
    light : str
        ``green`` (555 nm) or ``white``.

    Returns
    -------
    Halves

    Examples
    --------
    >>> seen = contrast_of_halves(0.5, 3.0, "green")
    >>> round(seen.share[0], 2), round(seen.left[0], 1)
    (0.41, 0.4)
    """
    nm = DESIGN_WAVELENGTH_NM if light == "green" else None
    lens = diffractive_bifocal(ADD_D, step, CANCELS_CORNEA_UM)
    curve = through_focus.mtf(lens, pupil_mm, THROUGH_D, LINES_CPD, nm)
    whole = _monofocal(pupil_mm, nm)
    at = np.array([np.interp(-place, -THROUGH_D, curve) for place in (0.0, -ADD_D)])
    energy = lens.order_energies(nm, orders=(0, 1))
    far = np.interp(0.0, -THROUGH_D, whole)
    return Halves(
        step,
        pupil_mm,
        light,
        curve,
        whole,
        (energy[0], energy[1]),
        tuple((at / far).tolist()),
    )


@cache
def _monofocal(pupil_mm, nm):
    return through_focus.mtf(monofocal(CANCELS_CORNEA_UM), pupil_mm, THROUGH_D, LINES_CPD, nm)


def _build_halves():
    figure = Figure(figsize=(7.0, 3.6), dpi=style.DPI, layout="constrained")
    axes = figure.add_subplot()
    axes.set(
        xlim=(0.625, -3.375),
        ylim=(0, 1.2),
        xticks=(0, -1, -2, -3),
        yticks=np.arange(0, 1.01, 0.2),
        xlabel="vergence of the object, D",
        ylabel="contrast, strokes of 20/40",
    )
    style.signed_ticks(axes.xaxis, 0)
    distance_axis(axes)
    artists = {}
    (artists["whole"],) = axes.plot([], [], **line_of(monofocal()))
    (artists["halves"],) = axes.plot([], [], **line_of(diffractive_bifocal()))
    for name, place in (("far", 0.0), ("near", -ADD_D)):
        axes.axvline(place, color=style.GREY, linewidth=0.8, zorder=0)
        artists[name] = axes.text(
            place - 0.06,
            1.18,
            "",
            ha="left",
            va="top",
            linespacing=1.25,
            color=style.VERMILION,
        )
    axes.text(-1.25, 0.72, "monofocal", ha="center", va="center")
    axes.text(-1.25, 0.61, "bifocal", ha="center", va="center", color=style.VERMILION)
    for height, lens in ((0.72, monofocal()), (0.61, diffractive_bifocal())):
        axes.plot([-0.62, -0.86], [height, height], **line_of(lens))
    return figure, artists


def _move_halves(artists, seen):
    artists["whole"].set_data(THROUGH_D, seen.monofocal)
    artists["halves"].set_data(THROUGH_D, seen.bifocal)
    for n, name in enumerate(("far", "near")):
        artists[name].set_text(
            f"light {100 * seen.share[n]:.0f} %\ncontrast {100 * seen.left[n]:.0f} %"
        )


def _say_halves(seen):
    return (
        f"Steps {seen.step:.2f}, pupil {seen.pupil_mm:.1f} mm, {seen.light} light. Far gets "
        f"{100 * seen.share[0]:.0f} % of the light and {100 * seen.left[0]:.0f} % of the "
        f"monofocal's far contrast; near {100 * seen.share[1]:.0f} % and "
        f"{100 * seen.left[1]:.0f} %."
    )


def _describe_halves(seen):
    peaks = "one peak" if min(seen.share) < 0.05 else "two peaks, far and 40 cm"
    return (
        f"Contrast of strokes of 20/40 against the vergence of the object; the bifocal lens has "
        f"{peaks}, each about as high as its share of the light. {_say_halves(seen)}"
    )


def contrast_and_share():
    """Return the demo: steps, pupil and light against the contrast of a bifocal lens."""
    return Demo(
        title="contrast of a bifocal lens through focus",
        controls=(
            Slider("step", "Height of the steps, wavelengths", 0.0, 1.0, 0.05, 0.5),
            Slider("pupil_mm", "Pupil, mm", 2.5, 4.5, 0.5, 3.0, "mm"),
            Choice("light", "Light:", {"green, 555 nm": "green", "white": "white"}, "green"),
        ),
        build=_build_halves,
        compute=contrast_of_halves,
        move=_move_halves,
        sentence=_say_halves,
        alt=_describe_halves,
    )


# --- a lamp at night ---------------------------------------------------------------------------

MOON_ARCMIN = 31.0
NIGHT_PUPILS_MM = np.arange(3.0, 6.01, 0.5)
NIGHT_ADDS_D = np.arange(1.5, 3.51, 0.5)
NIGHT_LENSES = {
    "bifocal": lambda add_d: diffractive_bifocal(add_d, lens_sa_um=CANCELS_CORNEA_UM),
    "bifocal, steps shrink outwards": lambda add_d: apodised_bifocal(
        add_d, lens_sa_um=CANCELS_CORNEA_UM
    ),
    "monofocal": lambda add_d: monofocal(CANCELS_CORNEA_UM),
}
_AWAY_ARCMIN = np.arange(0.0, 65.0, 0.5)  # out to the corners of the picture
_HALF_WIDTH_ARCMIN = 45.0
_DIMMEST, _BRIGHTEST = 1e-6, 0.3
_PIXELS = 141


@dataclass(frozen=True)
class Lamp:
    """A green lamp at night through a lens."""

    pupil_mm: float
    add_d: float
    design: str
    profile: np.ndarray
    around: float  # share of the light farther than 5 arcmin from the lamp

    @property
    def splits(self):
        """Whether the lens makes a halo at all."""
        return self.design != "monofocal"

    @property
    def halo_arcmin(self):
        """Diameter of the halo by geometry."""
        return retina.geometric_halo_arcmin(self.pupil_mm, self.add_d)


@cache
def _lamps():
    """Profile and share of light around the lamp of every setting, computed once."""
    inner = np.maximum(_AWAY_ARCMIN - 0.5, 0.0)
    outer = _AWAY_ARCMIN + 0.5
    area = np.pi * (outer**2 - inner**2)
    edges, inverse = np.unique(np.concatenate([inner, outer, [5.0]]), return_inverse=True)
    known = {}
    for design, make in NIGHT_LENSES.items():
        for pupil in NIGHT_PUPILS_MM.tolist():
            for add in NIGHT_ADDS_D.tolist():
                if design == "monofocal" and add > NIGHT_ADDS_D[0]:
                    known[design, pupil, add] = known[design, pupil, float(NIGHT_ADDS_D[0])]
                    continue
                within = retina.encircled_energy(
                    make(add), pupil, edges, wavelength_nm=DESIGN_WAVELENGTH_NM
                )[inverse]
                n = len(inner)
                light = np.maximum(within[n : 2 * n] - within[:n], 0.0) / area
                known[design, pupil, add] = light, float(1.0 - within[-1])
    return known


def lamp(pupil_mm, add_d, design):
    """Return a distant green lamp at night as the retina gets it.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 3 to 6 mm in halves.
    add_d : float
        Add at the corneal plane, 1.5 to 3.5 D in halves.
    design : str
        A key of ``NIGHT_LENSES``.

    Returns
    -------
    Lamp

    Examples
    --------
    5 mm times 2.5 D is 12.5 mrad.

    >>> round(lamp(5.0, 2.5, "bifocal").halo_arcmin)
    43
    """
    profile, around = _lamps()[design, pupil_mm, add_d]
    return Lamp(pupil_mm, add_d, design, profile, around)


@cache
def _away_in_picture():
    x = (np.arange(_PIXELS) - (_PIXELS - 1) / 2) / _PIXELS * 2 * _HALF_WIDTH_ARCMIN
    return np.hypot(x[:, None], x)


def _build_lamp():
    _lamps()
    figure = Figure(figsize=(7.0, 3.3), dpi=style.DPI, layout="constrained")
    picture, axes = figure.subplots(1, 2, width_ratios=(1.0, 1.25))
    artists = {}
    half = _HALF_WIDTH_ARCMIN
    artists["picture"] = picture.imshow(
        np.full((_PIXELS, _PIXELS), _DIMMEST),
        cmap="cividis",
        norm=LogNorm(_DIMMEST, _BRIGHTEST),
        extent=(-half, half, -half, half),
    )
    picture.set(xticks=[], yticks=[], xlabel="width 90 arcmin")
    moon = Circle((0, 0), MOON_ARCMIN / 2, fill=False, edgecolor="white", linestyle=(0, (2, 2)))
    artists["moon"] = picture.add_patch(moon)
    artists["moon name"] = picture.text(
        0, -43, "dashed: the full Moon", color="white", ha="center", va="bottom"
    )
    axes.set(
        yscale="log",
        xlim=(0, half),
        ylim=(_DIMMEST, 1.0),
        xlabel="angle from the lamp, arcmin",
        ylabel="light per arcmin²",
    )
    (artists["profile"],) = axes.plot([], [])
    (artists["edge"],) = axes.plot([], [], color=style.PURPLE, linewidth=1.6)
    artists["words"] = axes.text(
        0.98, 0.98, "", ha="right", va="top", color="#8a4672", transform=axes.transAxes
    )
    return figure, artists


def _move_lamp(artists, seen):
    light = np.interp(_away_in_picture(), _AWAY_ARCMIN, np.log(seen.profile + 1e-12))
    artists["picture"].set_data(np.exp(light))
    line = line_of(NIGHT_LENSES[seen.design](seen.add_d))
    artists["profile"].set_data(_AWAY_ARCMIN, np.maximum(seen.profile, _DIMMEST / 10))
    artists["profile"].set_color(line["color"])
    artists["profile"].set_linestyle(line["linestyle"])
    edge = seen.halo_arcmin / 2
    artists["edge"].set_visible(seen.splits)
    artists["edge"].set_data([edge, edge], [_DIMMEST, 0.02])
    artists["words"].set_text(
        f"½ · {seen.pupil_mm:g} mm · {seen.add_d:g} D = {edge:.0f} arcmin"
        if seen.splits
        else "one focus: no edge"
    )


def _say_lamp(seen):
    around = f"{100 * seen.around:.0f} % of the light falls more than 5 arcmin from the lamp"
    if not seen.splits:
        return f"Pupil {seen.pupil_mm:.1f} mm, monofocal: no second focus, no halo; {around}."
    wide = "the halo is" if seen.design == "bifocal" else "the halo, dimmer outwards, is at most"
    return (
        f"Pupil {seen.pupil_mm:.1f} mm, add {signed(seen.add_d)}: {wide} {seen.halo_arcmin:.0f} "
        f"arcmin wide, {seen.halo_arcmin / MOON_ARCMIN:.1f} full Moons; {around}."
    )


def _describe_lamp(seen):
    return (
        "A distant green lamp on the retina and its light against the angle, both logarithmic, "
        f"{seen.design}. {_say_lamp(seen)}"
    )


def lamp_at_night():
    """Return the demo: pupil, add and lens against the halo around a lamp."""
    return Demo(
        title="a green lamp at night",
        controls=(
            Slider("pupil_mm", "Pupil, mm", 3.0, 6.0, 0.5, 5.0, "mm"),
            Slider("add_d", "Add at the cornea, D", 1.5, 3.5, 0.5, 2.5, "D"),
            Choice("design", "Lens:", {name: name for name in NIGHT_LENSES}, "bifocal"),
        ),
        build=_build_lamp,
        compute=lamp,
        move=_move_lamp,
        sentence=_say_lamp,
        alt=_describe_lamp,
    )


# --- steps of the worked example ---------------------------------------------------------------


def add_steps(lens_add_d, position_mm, cornea_d, night_pupil_mm):
    """Return the steps from a printed add to a reading distance and a halo.

    Parameters
    ----------
    lens_add_d : float
        Add in the plane of the lens, D.
    position_mm : float
        Effective lens position, mm.
    cornea_d : float
        Power of the cornea, D.
    night_pupil_mm : float
        Pupil at night, mm.

    Returns
    -------
    list of (str, str, float, str)

    Examples
    --------
    >>> round(add_steps(3.5, 5.4, 43.0, 5.0)[1][2], 2)
    2.39
    """
    ratio = 1.0 - position_mm / 1000.0 / 1.336 * cornea_d
    add = corneal_add_d(lens_add_d, position_mm, cornea_d)
    half = diffractive_bifocal(add).order_energies()[1]
    return [
        (
            "how far the beam has narrowed at the lens",
            f"1 − {position_mm / 1000:.4f}/1.336 · {cornea_d:g}",
            ratio,
            "",
        ),
        ("the add at the cornea", f"{lens_add_d:g} · ratio²", add, "D"),
        ("the near focus", "100 / add", 100.0 / add, "cm"),
        ("its share of the light", "sinc²(½ − 1) = (2/π)²", 100.0 * half, "%"),
        (
            "the halo at night",
            f"{night_pupil_mm:g} mm · add, in mrad, times 3.44",
            retina.geometric_halo_arcmin(night_pupil_mm, add),
            "arcmin",
        ),
    ]

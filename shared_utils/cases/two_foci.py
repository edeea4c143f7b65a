"""The numbers of two foci: how lenses split the light, the contrast left, the halo at night."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics import retina, through_focus
from shared_utils.optics.chromatic import refraction
from shared_utils.optics.glare import scattered_light
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

if TYPE_CHECKING:
    from collections.abc import Sequence

    from shared_utils.optics.lenses import Lens
    from shared_utils.optics.types import FloatOrArray

# --- steps and orders --------------------------------------------------------------------------

ORDERS = range(-2, 6)
SHOWN_ORDERS = range(-1, 3)  # in the figure to be read
_SHOWN_MM = 1.75
READ_CPD, READ_PUPIL_MM = 15.0, 3.0


def name_of_order(lens: Lens, order: int) -> str:
    """Return what the patient uses an order for, or an empty string."""
    return {number: focus for focus, number in lens.foci.items()}.get(order, "")


@dataclass(frozen=True)
class OrderShare:
    """Where one order of a lens is in focus, and its share of the light."""

    order: int
    place_d: float
    energy: float
    focus: str  # what the patient uses it for, or empty


def order_shares(lens: Lens, orders: Sequence[int] = ORDERS) -> tuple[OrderShare, ...]:
    """Return the orders of a lens in the light it is made for.

    Parameters
    ----------
    lens : Lens
    orders : sequence of int

    Returns
    -------
    tuple of OrderShare

    Examples
    --------
    Two foci with 4/π² of the light each.

    >>> far, near = order_shares(diffractive_bifocal(2.5), orders=(0, 1))
    >>> near.focus, near.place_d, round(near.energy, 3)
    ('near', -2.5, 0.405)
    """
    return tuple(
        OrderShare(
            order, float(-lens.order_power_d(order)), float(energy), name_of_order(lens, order)
        )
        for order, energy in lens.order_energies(orders=orders).items()
    )


@dataclass(frozen=True)
class SteppedLens:
    """The steps of a lens from the middle outwards, and where they send the light."""

    lens: Lens
    radius_mm: np.ndarray
    path_waves: np.ndarray  # the smooth far power left out
    orders: tuple
    budget: dict  # focus → share of the light, and what is lost


def stepped_lenses() -> tuple[SteppedLens, ...]:
    """Return three lenses with steps: two foci, three foci, stretched focus.

    Returns
    -------
    tuple of SteppedLens

    Examples
    --------
    >>> [stepped.lens.lens_class for stepped in stepped_lenses()]
    ['bifocal', 'trifocal', 'extended depth of focus']
    """
    radius_mm = np.linspace(0.0, _SHOWN_MM, 2001)
    found = []
    for lens in (diffractive_bifocal(), diffractive_trifocal(), extended_depth()):
        path_um = lens.opd_um(radius_mm**2) - 0.5 * lens.base_d * radius_mm**2
        waves = path_um / (DESIGN_WAVELENGTH_NM / 1000.0)
        found.append(SteppedLens(lens, radius_mm, waves, order_shares(lens), lens.energy_budget()))
    return tuple(found)


def shares_of_steps(step: float = 0.3, add_d: float = 2.5) -> tuple[Lens, tuple[OrderShare, ...]]:
    """Return a bifocal lens and its four orders around far and near.

    Parameters
    ----------
    step : float
        Height of the steps, wavelengths.
    add_d : float
        Near add at the corneal plane, 1 to 3 D.

    Returns
    -------
    lens : Lens
    tuple of OrderShare

    Examples
    --------
    >>> [round(order.energy, 2) for order in shares_of_steps(0.3)[1]]
    [0.04, 0.74, 0.14, 0.02]
    """
    lens = diffractive_bifocal(add_d, step)
    return lens, order_shares(lens, SHOWN_ORDERS)


@dataclass(frozen=True)
class ContrastPeaks:
    """Contrast of a bifocal lens in an eye that is not quite in focus for far."""

    lens: Lens
    object_d: np.ndarray
    contrast: np.ndarray
    places_d: tuple  # of the far and the near focus


def contrast_peaks(add_d: float = 2.25, refraction_d: float = -0.5) -> ContrastPeaks:
    """Return contrast against the vergence of the object, with a peak for each of two foci.

    Parameters
    ----------
    add_d : float
        Near add at the corneal plane, 1.5 to 3 D.
    refraction_d : float
        Of the eye for far, −1 to 0 D.

    Returns
    -------
    ContrastPeaks

    Examples
    --------
    >>> contrast_peaks(2.0, -0.5).places_d
    (-0.5, -2.5)
    """
    object_d = np.linspace(1.0, -5.0, 241)
    lens = diffractive_bifocal(add_d, lens_sa_um=-through_focus.AVERAGE_CORNEA_SA_UM)
    contrast = through_focus.mtf(
        lens,
        READ_PUPIL_MM,
        object_d - refraction_d,
        READ_CPD,
        wavelength_nm=DESIGN_WAVELENGTH_NM,
    )
    return ContrastPeaks(lens, object_d, np.asarray(contrast), (refraction_d, refraction_d - add_d))


DESIGNS = {
    "bifocal": lambda step: diffractive_bifocal(step=step),
    "trifocal": lambda step: diffractive_trifocal(near_step=step, intermediate_step=step),
    "extended depth, high steps": lambda step: extended_depth(step=step),
}


@dataclass(frozen=True)
class Shares:
    """Where the orders of a lens are in focus in one colour, and what each gets."""

    lens: Lens
    wavelength_nm: float
    step: float
    place_d: dict
    energy: dict

    @property
    def of_foci(self) -> dict[str, FloatOrArray]:
        """Share of each focus by name, and what is lost."""
        return self.lens.energy_budget(self.wavelength_nm)


def shares(step: float, wavelength_nm: float, design: str) -> Shares:
    """Return where the light of a lens goes in one colour, in an eye focused in green.

    Parameters
    ----------
    step : float
        Height of the steps, wavelengths of 555 nm.
    wavelength_nm : float
        Colour of the light, nm.
    design : str
        ``bifocal``, ``trifocal`` or ``extended depth, high steps``.

    Returns
    -------
    Shares

    Examples
    --------
    >>> data = shares(0.5, 555.0, "bifocal")
    >>> round(data.energy[1], 3), data.place_d[1]
    (0.405, -2.5)
    """
    lens = DESIGNS[design](step)
    energy = lens.order_energies(wavelength_nm, orders=ORDERS)
    eye_d = refraction(wavelength_nm, in_focus_nm=DESIGN_WAVELENGTH_NM)
    place_d = {m: eye_d - lens.order_power_d(m, wavelength_nm) for m in ORDERS}
    return Shares(lens, wavelength_nm, step, place_d, energy)


# --- contrast through focus --------------------------------------------------------------------

THROUGH_D = np.linspace(0.625, -3.375, 65)
LINES_CPD = 15.0
ADD_D = 2.5
NO_SA_UM = 0.0  # a cornea without spherical aberration, for contrast and halo by themselves


@dataclass(frozen=True)
class BifocalContrast:
    """Contrast through focus of a bifocal lens beside a monofocal one."""

    step: float
    pupil_mm: float
    light: str
    bifocal: np.ndarray
    monofocal: np.ndarray
    share: tuple  # far, near
    left: tuple  # contrast at far and near over the monofocal's at far


def bifocal_contrast(step: float, pupil_mm: float, light: str) -> BifocalContrast:
    """Return the contrast of strokes of 20/40 through focus, with a bifocal lens of 2.5 D.

    The eye has no spherical aberration.

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
    BifocalContrast

    Examples
    --------
    >>> data = bifocal_contrast(0.5, 3.0, "green")
    >>> round(data.share[0], 2), round(data.left[0], 1)
    (0.41, 0.4)
    """
    nm = DESIGN_WAVELENGTH_NM if light == "green" else None
    lens = diffractive_bifocal(ADD_D, step)
    curve = through_focus.mtf(lens, pupil_mm, THROUGH_D, LINES_CPD, nm, NO_SA_UM)
    whole = _monofocal(pupil_mm, nm)
    at = np.array([np.interp(-place, -THROUGH_D, curve) for place in (0.0, -ADD_D)])
    energy = lens.order_energies(nm, orders=(0, 1))
    far = np.interp(0.0, -THROUGH_D, whole)
    return BifocalContrast(
        step,
        pupil_mm,
        light,
        np.asarray(curve),
        whole,
        (energy[0], energy[1]),
        tuple((at / far).tolist()),
    )


@cache
def _monofocal(pupil_mm, nm):
    return through_focus.mtf(monofocal(), pupil_mm, THROUGH_D, LINES_CPD, nm, NO_SA_UM)


# --- a lamp at night ---------------------------------------------------------------------------

NIGHT_PUPILS_MM = np.arange(3.0, 6.01, 0.5)
NIGHT_ADDS_D = np.arange(1.5, 3.51, 0.5)

NIGHT_LENSES = {
    "bifocal": lambda add_d: diffractive_bifocal(add_d),
    "bifocal, steps shrink outwards": lambda add_d: apodised_bifocal(add_d),
    "monofocal": lambda add_d: monofocal(),
}

AWAY_ARCMIN = np.arange(0.0, 65.0, 0.5)  # out to the corners of the picture
HALF_WIDTH_ARCMIN = 45.0
PIXELS = 141


@dataclass(frozen=True)
class Lamp:
    """A green lamp at night through a lens."""

    pupil_mm: float
    add_d: float
    design: str
    straylight_log: float | None
    by_lens: np.ndarray  # light per arcmin² along AWAY_ARCMIN, where the lens sends it
    around: float  # share of that farther than 5 arcmin from the lamp

    @property
    def scattered(self) -> np.ndarray:
        """Light per arcmin² that the eye scatters, along ``AWAY_ARCMIN``; 0 if left out."""
        if self.straylight_log is None:
            return np.zeros_like(AWAY_ARCMIN)
        return np.asarray(scattered_light(self.straylight_log, AWAY_ARCMIN))

    @property
    def profile(self) -> np.ndarray:
        """Light per arcmin² of both along ``AWAY_ARCMIN``."""
        return self.by_lens + self.scattered

    @property
    def halo_over_scattered(self) -> float:
        """How many times as bright as the scattered light the halo is, half way to its edge."""
        half_way = self.halo_arcmin / 4.0
        halo, scattered = (
            np.interp(half_way, AWAY_ARCMIN, light) for light in (self.by_lens, self.scattered)
        )
        return float(halo / scattered)

    @property
    def splits(self) -> bool:
        """Whether the lens makes a halo at all."""
        return self.design != "monofocal"

    @property
    def halo_arcmin(self) -> float:
        """Diameter of the halo by geometry."""
        return float(retina.geometric_halo_arcmin(self.pupil_mm, self.add_d))

    @property
    def lens_class(self) -> str:
        """Class of the lens."""
        return NIGHT_LENSES[self.design](self.add_d).lens_class

    @property
    def picture(self) -> np.ndarray:
        """Light per arcmin² around the lamp, rows and columns."""
        return np.exp(np.interp(_away_in_picture(), AWAY_ARCMIN, np.log(self.profile + 1e-12)))


@cache
def lamp_profiles() -> dict[tuple[str, float, float], tuple[np.ndarray, float]]:
    """Return profile and share of light around the lamp of every setting, computed once.

    Returns
    -------
    dict of (str, float, float) to (numpy.ndarray, float)
        Design, pupil (mm) and add (D) → light per arcmin² along ``AWAY_ARCMIN``, and the share of
        the light farther than 5 arcmin from the lamp.
    """
    inner = np.maximum(AWAY_ARCMIN - 0.5, 0.0)
    outer = AWAY_ARCMIN + 0.5
    area = np.pi * (outer**2 - inner**2)
    edges, inverse = np.unique(np.concatenate([inner, outer, [5.0]]), return_inverse=True)
    known: dict[tuple[str, float, float], tuple[np.ndarray, float]] = {}
    for design, make in NIGHT_LENSES.items():
        for pupil in NIGHT_PUPILS_MM.tolist():
            for add in NIGHT_ADDS_D.tolist():
                if design == "monofocal" and add > NIGHT_ADDS_D[0]:
                    known[design, pupil, add] = known[design, pupil, float(NIGHT_ADDS_D[0])]
                    continue
                within = np.asarray(
                    retina.encircled_energy(
                        make(add),
                        pupil,
                        edges,
                        wavelength_nm=DESIGN_WAVELENGTH_NM,
                        corneal_sa_um=NO_SA_UM,
                    )
                )[inverse]
                n = len(inner)
                light = np.maximum(within[n : 2 * n] - within[:n], 0.0) / area
                known[design, pupil, add] = light, float(1.0 - within[-1])
    return known


def lamp(pupil_mm: float, add_d: float, design: str, straylight_log: float | None = None) -> Lamp:
    """Return a distant green lamp at night as the retina gets it, without spherical aberration.

    Parameters
    ----------
    pupil_mm : float
        Pupil diameter, 3 to 6 mm in halves.
    add_d : float
        Add at the corneal plane, 1.5 to 3.5 D in halves.
    design : str
        A key of ``NIGHT_LENSES``.
    straylight_log : float, optional
        Logarithm of the eye's straylight parameter, 0.3 to 3, 0.9 in youth; left out if not given.

    Returns
    -------
    Lamp

    Examples
    --------
    5 mm times 2.5 D is 12.5 mrad.

    >>> round(lamp(5.0, 2.5, "bifocal").halo_arcmin)
    43
    """
    profile, around = lamp_profiles()[design, pupil_mm, add_d]
    return Lamp(pupil_mm, add_d, design, straylight_log, profile, around)


def lamp_in_eye(straylight_log: float, pupil_mm: float, design: str) -> Lamp:
    """Return a distant green lamp at night through an add of 2.5 D in an eye that scatters light.

    Parameters
    ----------
    straylight_log : float
        Logarithm of the eye's straylight parameter, 0.3 to 3; 0.9 in youth.
    pupil_mm, design
        As for ``lamp``.

    Returns
    -------
    Lamp

    Examples
    --------
    0.3 more on the logarithm is twice the light, and so half the distance between the two.

    >>> young, old = (lamp_in_eye(s, 5.0, "bifocal").halo_over_scattered for s in (0.9, 1.2))
    >>> round(young / old, 2)
    2.0
    """
    return lamp(pupil_mm, 2.5, design, straylight_log)


@cache
def _away_in_picture():
    x = (np.arange(PIXELS) - (PIXELS - 1) / 2) / PIXELS * 2 * HALF_WIDTH_ARCMIN
    return np.hypot(x[:, None], x)


# --- steps of the worked example ---------------------------------------------------------------


def add_steps(
    lens_add_d: float, position_mm: float, cornea_d: float, night_pupil_mm: float
) -> list[tuple[str, str, float, str]]:
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
    half = diffractive_bifocal(float(add)).order_energies()[1]
    return [
        (
            "how far the beam has narrowed at the lens",
            f"1 − {position_mm / 1000:.4f}/1.336 · {cornea_d:g}",
            ratio,
            "",
        ),
        ("the add at the cornea", f"{lens_add_d:g} · ratio²", float(add), "D"),
        ("the near focus", "100 / add", float(100.0 / add), "cm"),
        ("its share of the light", "sinc²(½ − 1) = (2/π)²", float(100.0 * half), "%"),
        (
            "the halo at night",
            f"{night_pupil_mm:g} mm · add, in mrad, times 3.44",
            float(retina.geometric_halo_arcmin(night_pupil_mm, add)),
            "arcmin",
        ),
    ]

"""Generic intraocular lenses as data: optical path and transmission over the pupil.

A lens is what it does to light at each place of the pupil: a path difference (µm) and an
amplitude transmission, both as functions of u = r², r being the distance from the axis in the
entrance pupil. Everything else follows, colour included: the path is fixed, so the phase is
2π · path / wavelength. A positive path that grows towards the margin converges light, so an
object at −2.5 D is in focus through a part of the lens with an add of 2.5 D.

Powers count at the corneal plane, where they cancel the vergence of an object; far focus is 0 D.
An add printed for the lens itself is larger: `corneal_add_d`. Efficiencies are those of scalar
theory. All designs are generic, with every parameter stated; they stand for classes of lens, not
for products.

Sources
-------
Goodman, *Introduction to Fourier Optics* (blazed gratings and zone plates); Swanson, *Binary
Optics Technology*, MIT Lincoln Laboratory TR-854 (1989); Davison & Simpson, J Cataract Refract
Surg 2006;32:849 (apodisation by the cube of the radius, from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics.domain import (
    require,
    require_instance,
    require_one,
    require_one_of,
    unwrap_scalar,
)
from shared_utils.optics.luminosity import WAVELENGTH_HINT, WAVELENGTH_RANGE_NM, luminosity

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

DESIGN_WAVELENGTH_NM = 555.0
LENS_CLASSES = (
    "monofocal",
    "enhanced monofocal",
    "extended depth of focus",
    "bifocal",
    "trifocal",
)
ADD_RANGE_D = (0.25, 6.0)
ADD_HINT = "Adds count at the corneal plane; an add of the lens itself is about 1.5 times as large."
PUPIL_RANGE_MM = (0.5, 9.0)
PUPIL_HINT = "The pupil's diameter as seen from in front, in millimetres."

_DESIGN_UM = DESIGN_WAVELENGTH_NM / 1000.0
_WHITE_NM = np.arange(400.0, 701.0, 5.0)


def corneal_add_d(
    lens_add_d: ArrayLike, lens_position_mm: ArrayLike = 5.4, corneal_power_d: ArrayLike = 43.0
) -> FloatOrArray:
    """Return what an add in the plane of the lens is worth at the cornea.

    The beam has narrowed on its way from the cornea to the lens. The path difference that an add
    makes is add · r² / 2, and it is the same light in both planes, so the add shrinks with the
    square of the ratio of the two heights: by a factor of 0.66 to 0.70 in usual eyes.

    Parameters
    ----------
    lens_add_d : scalar or array
        Add in the plane of the lens, 0 to 10 D.
    lens_position_mm : scalar or array
        Effective lens position behind the cornea, 2 to 9 mm.
    corneal_power_d : scalar or array
        Power of the cornea, 30 to 60 D.

    Returns
    -------
    float or array
        Add at the corneal plane, D.

    Sources
    -------
    Effectivity (Keating): height ratio 1 − (d/n) K, n = 1.336. Castignoles et al., J Opt 2010,
    count 3 D in the lens as 2.4 D at the spectacles, a factor of 0.8: say which plane you mean.

    Examples
    --------
    1 − 0.0054 / 1.336 · 43 = 0.826, and 0.826² = 0.683: 3.5 D in the lens read at 42 cm.

    >>> round(corneal_add_d(3.5), 2)
    2.39
    """
    lens_add_d = require("lens_add_d", lens_add_d, 0.0, 10.0)
    position_mm = require("lens_position_mm", lens_position_mm, 2.0, 9.0)
    cornea_d = require("corneal_power_d", corneal_power_d, 30.0, 60.0)
    return unwrap_scalar(lens_add_d * (1.0 - position_mm / 1000.0 / 1.336 * cornea_d) ** 2)


@dataclass(frozen=True)
class Lens:
    """A lens with one focus; the classes below bend, split or stop the light besides.

    Parameters
    ----------
    name : str
        What a legend says.
    lens_class : str
        One of `LENS_CLASSES`.
    lens_sa_um : float
        Fourth-order spherical aberration of the lens, µm of Z(4,0) over a 6-mm pupil, −1 to 1;
        spherical +0.1, neutral 0; −0.2 takes away most of the cornea's.
    lens_sa6_um : float
        Sixth-order spherical aberration, µm of Z(6,0) over a 6-mm pupil, −1 to 1.

    Of each Zernike term only the highest power of r is taken, so the paraxial focus stays at 0 D.
    """

    name: str
    lens_class: str
    lens_sa_um: float = 0.0
    lens_sa6_um: float = 0.0

    def __post_init__(self):
        require_instance("name", self.name, str, "what the lens is called, in words")
        require_one_of("lens_class", self.lens_class, LENS_CLASSES)
        hint = "In micrometres over a 6-mm pupil; the average cornea has +0.27."
        self._check("lens_sa_um", -1.0, 1.0, hint=hint)
        self._check("lens_sa6_um", -1.0, 1.0, hint=hint)

    def _check(self, field, low, high, hint=""):
        value = require(field, getattr(self, field), low, high, hint=hint)
        if value.ndim:
            raise ValueError(f"{field} holds {value.size} numbers; give one number for one lens.")
        object.__setattr__(self, field, float(value))

    @property
    def foci(self) -> dict[str, int]:
        """What the orders that a patient uses are called: {"far": 0} for one focus."""
        return {"far": 0}

    def opd_um(self, u_mm2: ArrayLike) -> FloatOrArray:
        """Return the path that the lens adds at each place of the pupil.

        Parameters
        ----------
        u_mm2 : scalar or array
            Square of the distance from the axis in the entrance pupil, mm², 0 or more.

        Returns
        -------
        float or array
            µm; the same for every wavelength.
        """
        u = require("u_mm2", u_mm2, 0.0, hint="The square of the radius.")
        return unwrap_scalar(
            self._profile_um(u) + aberration_um(u, self.lens_sa_um, self.lens_sa6_um)
        )

    def transmission(self, u_mm2: ArrayLike) -> FloatOrArray:
        """Return the amplitude that passes at each place of the pupil, 0 to 1.

        Parameters
        ----------
        u_mm2 : scalar or array
            Square of the distance from the axis in the entrance pupil, mm², 0 or more.

        Returns
        -------
        float or array
        """
        return unwrap_scalar(np.ones_like(require("u_mm2", u_mm2, 0.0)))

    def zone_radii_mm(self, pupil_mm: float) -> ndarray:
        """Return the radii inside a pupil at which the lens changes abruptly.

        Parameters
        ----------
        pupil_mm : float
            Pupil diameter, 0.5 to 9 mm.

        Returns
        -------
        numpy.ndarray
            mm, rising; empty for a lens without zones.
        """
        pupil_mm = _one_pupil(pupil_mm)
        return np.sqrt(self._edges_mm2(pupil_mm**2 / 4.0))

    def order_energies(
        self,
        wavelength_nm: ArrayLike | None = DESIGN_WAVELENGTH_NM,
        pupil_mm: float = 3.0,
        orders: Iterable[int] = range(-3, 5),
    ) -> dict[int, FloatOrArray]:
        """Return which part of the light that enters the pupil each order of the lens carries.

        Parameters
        ----------
        wavelength_nm : scalar, array or None
            380 to 780 nm; None for white light, weighted by the eye's luminosity.
        pupil_mm : float
            Pupil diameter, 0.5 to 9 mm; matters where the lens's zones are not all alike.
        orders : iterable of int
            Which orders of a light-splitting lens to list; the rest of the light goes to others.

        Returns
        -------
        dict of int to float or array
            Fractions, 0 to 1. A lens that only refracts has its foci for orders.

        Sources
        -------
        Scalar theory: an order carries the square of the lens's Fourier coefficient over one
        zone; for a blazed step of α wavelengths, sinc²(α − order) (Swanson 1989).

        Examples
        --------
        The square of 2/π is 0.405: half a wavelength of step halves what can be used of the light.

        >>> energies = diffractive_bifocal(add_d=2.5, step=0.5).order_energies()
        >>> round(energies[0], 3), round(energies[1], 3)
        (0.405, 0.405)
        """
        pupil_mm = _one_pupil(pupil_mm)
        orders = [_whole(order) for order in orders]
        white = wavelength_nm is None
        wavelength_nm = require(
            "wavelength_nm",
            _WHITE_NM if wavelength_nm is None else wavelength_nm,
            *WAVELENGTH_RANGE_NM,
            hint=WAVELENGTH_HINT,
        )
        if wavelength_nm.size == 0:
            raise ValueError("wavelength_nm holds no number; give at least one, in nm.")
        energies = self._energies(wavelength_nm / 1000.0, pupil_mm**2 / 4.0, orders)
        if white:
            weight = luminosity(wavelength_nm)
            energies = {m: np.average(e, weights=weight) for m, e in energies.items()}
        return {m: unwrap_scalar(e) for m, e in energies.items()}

    def energy_budget(
        self, wavelength_nm: ArrayLike | None = DESIGN_WAVELENGTH_NM, pupil_mm: float = 3.0
    ) -> dict[str, FloatOrArray]:
        """Return where the light goes: to each focus by name, and what no focus gets.

        Parameters
        ----------
        wavelength_nm, pupil_mm
            As for `order_energies`.

        Returns
        -------
        dict of str to float or array
            Fractions of the light that enters the pupil, with "lost" last; their sum is 1. Lost
            light is stopped by a mask, or reaches the retina in orders that are never in focus.

        Examples
        --------
        >>> {k: round(v, 3) for k, v in diffractive_bifocal().energy_budget().items()}
        {'far': 0.405, 'near': 0.405, 'lost': 0.189}
        """
        energies = self.order_energies(wavelength_nm, pupil_mm, tuple(self.foci.values()))
        budget = {focus: energies[order] for focus, order in self.foci.items()}
        return budget | {"lost": 1.0 - sum(budget.values())}

    def order_power_d(
        self, order: int, wavelength_nm: ArrayLike = DESIGN_WAVELENGTH_NM
    ) -> FloatOrArray:
        """Return the power that an order adds to the far focus, at the corneal plane.

        The eye's own chromatic focus is not in it; it comes on top.

        Parameters
        ----------
        order : int
            Of the orders that `order_energies` lists.
        wavelength_nm : scalar or array
            380 to 780 nm.

        Returns
        -------
        float or array
            D; an object of the opposite vergence is in focus.

        Examples
        --------
        Diffraction bends red more than blue: 2.5 D of green are 2.03 D of 450 nm.

        >>> round(diffractive_bifocal(add_d=2.5).order_power_d(1, 450.0), 2)
        2.03
        """
        wavelength_nm = require(
            "wavelength_nm", wavelength_nm, *WAVELENGTH_RANGE_NM, hint=WAVELENGTH_HINT
        )
        return unwrap_scalar(self._order_power_d(order, wavelength_nm / DESIGN_WAVELENGTH_NM))

    # what a class of lens adds to the above; u is an array already checked

    def _profile_um(self, u):
        return np.zeros_like(u)

    def _edges_mm2(self, u_max):
        return np.empty(0)

    def _energies(self, wavelength_um, u_max, orders):
        return {0: np.ones_like(wavelength_um)}

    def _order_power_d(self, order, relative_wavelength):
        powers = self._focus_powers_d()
        if _whole(order) not in powers:
            raise ValueError(
                f"order is {order!r}, which the {self.name} lens does not have; "
                f"give one of {', '.join(map(str, powers))}."
            )
        return np.full_like(relative_wavelength, powers[order])

    def _focus_powers_d(self):
        return {0: 0.0}


@dataclass(frozen=True)
class CentralElement(Lens):
    """A lens whose centre bulges smoothly: more power there, far power outside, no steps.

    Parameters
    ----------
    centre_d : float
        Power that the very centre adds, 0 to 6 D at the corneal plane.
    width_mm : float
        Radius at which the added power has fallen to 1/e, 0.1 to 3 mm.
    """

    centre_d: float = 2.5
    width_mm: float = 0.75

    def __post_init__(self):
        super().__post_init__()
        self._check("centre_d", 0.0, ADD_RANGE_D[1], hint=ADD_HINT)
        self._check("width_mm", 0.1, 3.0)

    def _profile_um(self, u):
        width2 = self.width_mm**2
        return -0.5 * self.centre_d * width2 * np.expm1(-u / width2)


@dataclass(frozen=True)
class Diffractive(Lens):
    """Rings of equal area whose steps split the light into orders.

    Parameters
    ----------
    spacing_d : float
        Power from one order to the next at 555 nm, 0.25 to 6 D at the corneal plane.
    steps : tuple of one or two floats
        Heights of the sawtooth of each ring, in wavelengths of 555 nm, 0 to 3; a second one
        stands twice per ring.
    base_d : float
        Power of order 0 at the corneal plane, −6 to 6 D; refraction puts it where it is wanted.
    apodised_mm : float or None
        Radius at which steps have shrunk to nothing, as 1 − (r / radius)³, 0.5 to 5 mm; None for
        steps all alike.
    focus_orders : tuple of (str, int)
        The orders that a patient uses, and what they are called.
    """

    spacing_d: float = 2.5
    steps: tuple = (0.5,)
    base_d: float = 0.0
    apodised_mm: float | None = None
    focus_orders: tuple = (("far", 0), ("near", 1))

    def __post_init__(self):
        super().__post_init__()
        self._check("spacing_d", *ADD_RANGE_D, hint=ADD_HINT)
        self._check("base_d", -ADD_RANGE_D[1], ADD_RANGE_D[1])
        hint = "In wavelengths: half a wavelength is 0.5."
        steps = require("steps", self.steps, 0.0, 3.0, hint=hint).ravel().tolist()
        if len(steps) not in (1, 2):
            raise ValueError(f"steps holds {len(steps)} heights; give one or two, in wavelengths.")
        object.__setattr__(self, "steps", tuple(steps))
        if self.apodised_mm is not None:
            self._check("apodised_mm", 0.5, 5.0, hint="A radius in the entrance pupil, in mm.")
        pairs = require_instance(
            "focus_orders", self.focus_orders, tuple, "pairs such as (('far', 0), ('near', 1))"
        )
        for pair in pairs:
            require_instance("one of focus_orders", pair, tuple, "a pair, such as ('far', 0)")

    @property
    def foci(self) -> dict[str, int]:
        return dict(self.focus_orders)

    @property
    def ring_mm2(self) -> float:
        """Area of a ring divided by π, mm²: u from one step to the next."""
        return 2.0 * _DESIGN_UM / self.spacing_d

    def _step_left(self, ring):
        """Which part of its step a ring keeps; judged at the middle of the ring's area."""
        if self.apodised_mm is None:
            return np.ones_like(ring)
        radius = np.sqrt((ring + 0.5) * self.ring_mm2)
        return np.clip(1.0 - (radius / self.apodised_mm) ** 3, 0.0, 1.0)

    def _profile_um(self, u):
        place = u / self.ring_mm2
        ring = np.floor(place)
        sawtooth = sum(
            step * (times * place - np.floor(times * place))
            for times, step in enumerate(self.steps, start=1)
        )
        if self.apodised_mm is not None:
            # shrinking steps turn about their middle: else far light would lag from ring to ring
            sawtooth = self._step_left(ring) * (sawtooth - 0.5 * sum(self.steps))
        return _DESIGN_UM * sawtooth + 0.5 * self.base_d * u

    def _edges_mm2(self, u_max):
        width = self.ring_mm2 / len(self.steps)
        return width * np.arange(1, np.ceil(u_max / width))

    def _energies(self, wavelength_um, u_max, orders):
        waves = _DESIGN_UM / wavelength_um
        if self.apodised_mm is None:
            return {m: self._ring_energy(waves, m) for m in orders}
        rings = np.arange(np.ceil(u_max / self.ring_mm2))
        area = np.minimum(1.0, u_max / self.ring_mm2 - rings)
        left = self._step_left(rings)
        return {
            m: np.average(self._ring_energy(waves[..., None] * left, m), axis=-1, weights=area)
            for m in orders
        }

    def _ring_energy(self, waves, order):
        """Square of the Fourier coefficient of one ring; the path is a straight ramp per tooth."""
        teeth = len(self.steps)
        ramp = waves * sum(times * step for times, step in enumerate(self.steps, start=1)) - order
        amplitude = sum(
            np.exp(2j * np.pi * (ramp * (tooth + 0.5) / teeth - waves * self.steps[-1] * tooth))
            for tooth in range(teeth)
        )
        return (np.abs(amplitude) * np.sinc(ramp / teeth) / teeth) ** 2

    def _order_power_d(self, order, relative_wavelength):
        return self.base_d + _whole(order) * self.spacing_d * relative_wavelength


@dataclass(frozen=True)
class Zonal(Lens):
    """A lens with rings of near power among far power; the path has kinks, but no steps.

    Parameters
    ----------
    add_d : float
        Power of the near rings, 0.25 to 6 D at the corneal plane.
    near_rings_mm : tuple of (float, float)
        Inner and outer radius of each near ring in the entrance pupil, mm, from inside outwards.
    """

    add_d: float = 2.5
    near_rings_mm: tuple = ((0.6, 1.1), (1.6, 1.9))

    def __post_init__(self):
        super().__post_init__()
        self._check("add_d", *ADD_RANGE_D, hint=ADD_HINT)
        radii = require("near_rings_mm", self.near_rings_mm, 0.0, 5.0)
        if radii.ndim != 2 or radii.shape[1] != 2 or np.any(np.diff(radii.ravel()) <= 0):
            raise ValueError(
                "near_rings_mm does not hold rings; give (inner, outer) radii in mm that rise "
                "from the centre outwards, such as ((0.6, 1.1), (1.6, 1.9))."
            )
        object.__setattr__(self, "near_rings_mm", tuple(map(tuple, radii.tolist())))

    @property
    def foci(self) -> dict[str, int]:
        return {"far": 0, "near": 1}

    def _near_mm2(self, u):
        """How much of the area out to u (over π) has near power, mm²."""
        return sum(np.clip(u, r0**2, r1**2) - r0**2 for r0, r1 in self.near_rings_mm)

    def _profile_um(self, u):
        return 0.5 * self.add_d * self._near_mm2(u)

    def _edges_mm2(self, u_max):
        edges = np.ravel(self.near_rings_mm) ** 2
        return edges[(edges > 0) & (edges < u_max)]

    def _energies(self, wavelength_um, u_max, orders):
        near = np.full_like(wavelength_um, self._near_mm2(u_max) / u_max)
        return {0: 1.0 - near, 1: near}

    def _focus_powers_d(self):
        return {0: 0.0, 1: self.add_d}


@dataclass(frozen=True)
class SmallAperture(Lens):
    """A lens with an opaque ring around a small hole: less light, more depth.

    Parameters
    ----------
    hole_mm, mask_mm : float
        Inner and outer diameter of the ring as seen in the entrance pupil, 0.5 to 9 mm; a wider
        pupil lets light pass around it.
    """

    hole_mm: float = 1.6
    mask_mm: float = 3.6

    def __post_init__(self):
        super().__post_init__()
        self._check("hole_mm", 0.5, 9.0, hint="A diameter, in mm.")
        self._check("mask_mm", self.hole_mm, 9.0, hint="The ring lies outside the hole.")

    def transmission(self, u_mm2: ArrayLike) -> FloatOrArray:
        u = require("u_mm2", u_mm2, 0.0)
        return unwrap_scalar(
            np.where((u < self.hole_mm**2 / 4) | (u > self.mask_mm**2 / 4), 1.0, 0.0)
        )

    def _edges_mm2(self, u_max):
        edges = np.array([self.hole_mm, self.mask_mm]) ** 2 / 4.0
        return edges[edges < u_max]

    def _energies(self, wavelength_um, u_max, orders):
        hole, mask = (min(d**2 / 4.0, u_max) for d in (self.hole_mm, self.mask_mm))
        return {0: np.full_like(wavelength_um, (u_max - mask + hole) / u_max)}


def aberration_um(u_mm2: ArrayLike, sa_um: ArrayLike, sa6_um: ArrayLike = 0.0) -> FloatOrArray:
    """Return the path of spherical aberration, of which only the highest power of r is kept.

    Parameters
    ----------
    u_mm2 : scalar or array
        Square of the distance from the axis in the entrance pupil, mm².
    sa_um, sa6_um : scalar or array
        Zernike coefficients Z(4,0) and Z(6,0) over a 6-mm pupil, µm.

    Returns
    -------
    float or array
        µm; positive where margins converge light more than the centre.

    Sources
    -------
    Thibos et al., OSA standard, J Refract Surg 2002;18:S652 (ISO 24157): Z(4,0) = √5 (6ρ⁴ − …),
    Z(6,0) = √7 (20ρ⁶ − …).

    Examples
    --------
    At the margin of a 6-mm pupil, +0.1 µm make 0.1 · 6√5 µm.

    >>> round(aberration_um(9.0, 0.1), 3)
    1.342
    """
    u = require("u_mm2", u_mm2, 0.0) / 9.0
    sa_um, sa6_um = require("sa_um", sa_um), require("sa6_um", sa6_um)
    return unwrap_scalar(6.0 * np.sqrt(5.0) * sa_um * u**2 + 20.0 * np.sqrt(7.0) * sa6_um * u**3)


def _one_add(add_d, low=ADD_RANGE_D[0]):
    add_d = require("add_d", add_d, low, ADD_RANGE_D[1], hint=ADD_HINT)
    if add_d.ndim:
        raise ValueError(f"add_d holds {add_d.size} numbers; give one add in D for one lens.")
    return float(add_d)


def _one_pupil(pupil_mm):
    pupil_mm = require("pupil_mm", pupil_mm, *PUPIL_RANGE_MM, hint=PUPIL_HINT)
    if pupil_mm.ndim:
        raise ValueError(f"pupil_mm holds {pupil_mm.size} numbers; give one diameter in mm.")
    return float(pupil_mm)


def _whole(order):
    value = require("order", order)
    if value.ndim or value % 1:
        raise ValueError(f"order is {order!r}; give one whole number, such as 0 or 1.")
    return int(value)


def monofocal(lens_sa_um: float = 0.0) -> Lens:
    """Return a lens with one focus.

    Parameters
    ----------
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm: spherical +0.1, neutral 0; −0.2, as the
        examples have it, takes away most of the average cornea's.

    Returns
    -------
    Lens

    Examples
    --------
    >>> monofocal().energy_budget()
    {'far': 1.0, 'lost': 0.0}
    """
    return Lens("monofocal", "monofocal", lens_sa_um)


def enhanced_monofocal(
    centre_d: float = 2.0, width_mm: float = 0.6, lens_sa_um: float = 0.0
) -> CentralElement:
    """Return a monofocal whose very centre adds power, for a quarter of a dioptre more depth.

    Far contrast pays for it, in fine detail above all.

    Parameters
    ----------
    centre_d : float
        Power that the centre adds, 0 to 6 D at the corneal plane.
    width_mm : float
        Radius at which it has fallen to 1/e, 0.1 to 3 mm.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    CentralElement
    """
    return CentralElement(
        "enhanced monofocal",
        "enhanced monofocal",
        lens_sa_um,
        centre_d=centre_d,
        width_mm=width_mm,
    )


def extended_depth(add_d: float = 1.35, step: float = 1.4, lens_sa_um: float = 0.0) -> Diffractive:
    """Return an extended-depth lens with high steps: its orders 1 and 2 carry the light.

    Refraction puts order 1 at the far focus; order 2 lies an add nearer. Because far light is
    diffracted too, part of the eye's chromatic difference of focus is cancelled. Add and step
    are chosen among those whose range ends near 43 cm, the range that the trade names.

    Parameters
    ----------
    add_d : float
        From order 1 to order 2, 0.25 to 6 D at the corneal plane.
    step : float
        Height of the steps in wavelengths of 555 nm; 1.5 shares evenly, 1.4 favours far.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    Diffractive

    Examples
    --------
    >>> extended_depth().order_power_d(1), extended_depth().order_power_d(2)
    (0.0, 1.35)
    """
    return Diffractive(
        "extended depth, high steps",
        "extended depth of focus",
        lens_sa_um,
        spacing_d=_one_add(add_d),
        steps=(step,),
        base_d=-_one_add(add_d),
        focus_orders=(("far", 1), ("intermediate", 2)),
    )


def extended_depth_smooth(
    centre_d: float = 2.5, width_mm: float = 0.75, lens_sa_um: float = 0.0
) -> CentralElement:
    """Return an extended-depth lens with a smooth central bulge: one stretched focus, no rings.

    Parameters
    ----------
    centre_d : float
        Power that the centre adds, 0 to 6 D at the corneal plane.
    width_mm : float
        Radius at which it has fallen to 1/e, 0.1 to 3 mm.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    CentralElement
    """
    return CentralElement(
        "extended depth",
        "extended depth of focus",
        lens_sa_um,
        centre_d=centre_d,
        width_mm=width_mm,
    )


def extended_depth_by_aberration(lens_sa_um: float = 0.5, lens_sa6_um: float = -0.05) -> Lens:
    """Return an extended-depth lens that smears its focus by spherical aberration alone.

    Parameters
    ----------
    lens_sa_um, lens_sa6_um : float
        Z(4,0) and Z(6,0) of the lens over a 6-mm pupil, µm.

    Returns
    -------
    Lens
    """
    return Lens("extended depth, aberration", "extended depth of focus", lens_sa_um, lens_sa6_um)


def diffractive_bifocal(
    add_d: float = 2.5, step: float = 0.5, lens_sa_um: float = 0.0
) -> Diffractive:
    """Return a bifocal lens whose steps split the light between far and near.

    Parameters
    ----------
    add_d : float
        Near add, 0.25 to 6 D at the corneal plane.
    step : float
        Height of the steps in wavelengths of 555 nm; 0.5 shares evenly, less favours far.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    Diffractive

    Examples
    --------
    >>> diffractive_bifocal().foci
    {'far': 0, 'near': 1}
    """
    return Diffractive("bifocal", "bifocal", lens_sa_um, spacing_d=_one_add(add_d), steps=(step,))


def apodised_bifocal(
    add_d: float = 2.5, step: float = 0.5, apodised_mm: float = 2.5, lens_sa_um: float = 0.0
) -> Diffractive:
    """Return a bifocal lens whose steps shrink outwards: a wide pupil gives its light to far.

    Parameters
    ----------
    add_d : float
        Near add, 0.25 to 6 D at the corneal plane.
    step : float
        Height of a step at the very centre, in wavelengths of 555 nm.
    apodised_mm : float
        Radius in the entrance pupil at which no step is left, 0.5 to 5 mm.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    Diffractive

    Examples
    --------
    >>> lens = apodised_bifocal()
    >>> lens.order_energies(pupil_mm=5.0)[0] > lens.order_energies(pupil_mm=3.0)[0]
    True
    """
    apodised_mm = require_one("apodised_mm", apodised_mm)
    return Diffractive(
        "apodised bifocal",
        "bifocal",
        lens_sa_um,
        spacing_d=_one_add(add_d),
        steps=(step,),
        apodised_mm=apodised_mm,
    )


def diffractive_trifocal(
    add_d: float = 2.5,
    near_step: float = 0.3,
    intermediate_step: float = 0.3,
    lens_sa_um: float = 0.0,
) -> Diffractive:
    """Return a trifocal lens: far, an intermediate focus at half the add, and near.

    Parameters
    ----------
    add_d : float
        Near add, 0.5 to 6 D at the corneal plane.
    near_step, intermediate_step : float
        Heights in wavelengths of 555 nm of the steps that stand twice and once per ring.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    Diffractive

    Examples
    --------
    >>> {k: round(v, 2) for k, v in diffractive_trifocal().energy_budget().items()}
    {'far': 0.39, 'intermediate': 0.2, 'near': 0.26, 'lost': 0.15}
    """
    add_d = _one_add(add_d, 2 * ADD_RANGE_D[0])
    return Diffractive(
        "trifocal",
        "trifocal",
        lens_sa_um,
        spacing_d=add_d / 2.0,
        steps=(intermediate_step, near_step),
        focus_orders=(("far", 0), ("intermediate", 1), ("near", 2)),
    )


def refractive_zonal(
    add_d: float = 2.5,
    near_rings_mm: tuple[tuple[float, float], ...] = ((0.6, 1.1), (1.6, 1.9)),
    lens_sa_um: float = 0.0,
) -> Zonal:
    """Return a bifocal lens with rings of near power, whose share depends on the pupil.

    Parameters
    ----------
    add_d : float
        Near add, 0.25 to 6 D at the corneal plane.
    near_rings_mm : tuple of (float, float)
        Inner and outer radius of each near ring in the entrance pupil, mm.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    Zonal

    Examples
    --------
    A 2-mm pupil leaves 1.0 − 0.36 = 0.64 of 1.0 mm² to near.

    >>> round(refractive_zonal().order_energies(pupil_mm=2.0)[1], 2)
    0.64
    """
    return Zonal(
        "refractive zonal", "bifocal", lens_sa_um, add_d=add_d, near_rings_mm=near_rings_mm
    )


def small_aperture(
    hole_mm: float = 1.6, mask_mm: float = 3.6, lens_sa_um: float = 0.0
) -> SmallAperture:
    """Return a lens that extends depth by a small hole in an opaque ring.

    Parameters
    ----------
    hole_mm, mask_mm : float
        Inner and outer diameter of the ring as seen in the entrance pupil, mm.
    lens_sa_um : float
        Spherical aberration over a 6-mm pupil, µm.

    Returns
    -------
    SmallAperture

    Examples
    --------
    At 3 mm the hole passes (1.6 / 3)² = 28 % of the light.

    >>> round(small_aperture().energy_budget(pupil_mm=3.0)["far"], 2)
    0.28
    """
    return SmallAperture(
        "small aperture", "extended depth of focus", lens_sa_um, hole_mm=hole_mm, mask_mm=mask_mm
    )


def require_lens(lens: object) -> Lens:
    """Return the lens, or say that it is none.

    Parameters
    ----------
    lens : Lens

    Returns
    -------
    Lens

    Raises
    ------
    ValueError
        If it is something else.
    """
    return require_instance("lens", lens, Lens, "a lens, such as lenses.monofocal()")

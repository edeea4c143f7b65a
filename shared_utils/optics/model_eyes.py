"""Published model eyes, from one surface to a lens with an index gradient.

Every eye is a paraxial system (``paraxial.cardinal_points`` takes it) that also knows its retina,
its surfaces' asphericities and where its cornea ends. An asphericity Q is that of the conic
r² + (1 + Q) z² = 2 R z: a sphere has 0, a prolate ellipse flattens outwards and lies between −1
and 0.

Sources
-------
Gullstrand, appendix to Helmholtz, *Physiologische Optik*, 3rd ed. (1909); Le Grand, *Optique
physiologique*; Emsley, *Visual Optics*; Navarro, Santamaría & Bescós, J Opt Soc Am A 1985;2:1273;
Liou & Brennan, J Opt Soc Am A 1997;14:1684. Surface data from memory, confirmed by the published
powers and focal lengths that they must give; compare Atchison & Smith, *Optics of the Human Eye*
(2000), and Bennett & Rabbetts, *Clinical Visual Optics*.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.optics import paraxial
from shared_utils.optics.domain import (
    broadcast,
    require,
    require_instance,
    require_one,
    require_one_of,
    require_whole,
    unwrap_scalar,
)
from shared_utils.optics.vergence import (
    INDEX_HINT,
    INDEX_RANGE,
    VERTEX_RANGE_MM,
    propagate,
    surface_power,
)

if TYPE_CHECKING:
    from numpy import ndarray
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

RETINA_RANGE_MM = (15.0, 40.0)
SLAB_RANGE_MM = (0.0, 10.0)
SERIES_TERMS = 40


@dataclass(frozen=True)
class Gradient:
    """A medium whose index is n(z, r) = centre + slope z + bend z² + radial r².

    Parameters
    ----------
    centre : float
        Index on the axis where the medium begins, 1 to 4.
    slope, bend : float
        Change along the axis, per mm and per mm², −0.1 to 0.1.
    radial : float
        Change with the square of the distance from the axis, per mm², −0.1 to 0.1; negative
        gathers light.

    Examples
    --------
    >>> Gradient(1.40, slope=0.01, bend=-0.005).at(2.0)
    1.4
    """

    centre: float
    slope: float = 0.0
    bend: float = 0.0
    radial: float = 0.0

    def __post_init__(self):
        for field, low, high, hint in (
            ("centre", *INDEX_RANGE, INDEX_HINT),
            ("slope", -0.1, 0.1, "The change of index per mm."),
            ("bend", -0.1, 0.1, "The change of index per mm²."),
            ("radial", -0.1, 0.1, "The change of index per mm²."),
        ):
            value = require(field, getattr(self, field), low, high, hint=hint)
            if value.ndim:
                raise ValueError(f"{field} has shape {value.shape}; give one number.")
            object.__setattr__(self, field, float(value))

    def at(self, depth_mm: ArrayLike) -> FloatOrArray:
        """Return the index on the axis at a depth behind the medium's beginning.

        Parameters
        ----------
        depth_mm : scalar or array
            0 to 10 mm.

        Returns
        -------
        float or array
        """
        depth_mm = require("depth_mm", depth_mm, *SLAB_RANGE_MM)
        return unwrap_scalar(self._at(depth_mm))

    def matrix(self, thickness_mm: ArrayLike) -> ndarray:
        """Return the ray-transfer matrix of a slab of this medium.

        Parameters
        ----------
        thickness_mm : scalar or array
            0 to 10 mm.

        Returns
        -------
        numpy.ndarray, shape (..., 2, 2)

        Raises
        ------
        ValueError
            If the index changes so much within the slab that the series does not settle.

        Notes
        -----
        The paraxial ray obeys (n y')' = 2 · radial · y with n the index on the axis. Height and
        slope are summed as power series in z; with 40 terms they are exact to rounding in any
        lens of an eye.

        Sources
        -------
        Born & Wolf, *Principles of Optics*, ray equation; the series is elementary.

        Examples
        --------
        Without a radial change a slab of 2.8 mm and index 1.4 is a reduced way of 2 mm.

        >>> Gradient(1.4).matrix(2.8).round(6)
        array([[1.   , 0.002],
               [0.   , 1.   ]])
        """
        z = require("thickness_mm", thickness_mm, *SLAB_RANGE_MM)
        # rows: the power of z; columns: a ray of height 1 mm, a ray of n × angle 1
        series = np.zeros((SERIES_TERMS, 2))
        series[0, 0], series[1, 1] = 1.0, 1.0 / self.centre
        for k in range(SERIES_TERMS - 2):
            series[k + 2] = (
                (2.0 * self.radial - self.bend * k * (k + 1)) * series[k]
                - self.slope * (k + 1) ** 2 * series[k + 1]
            ) / (self.centre * (k + 1) * (k + 2))
        last = np.abs(series[-2:, :, None] * z.ravel() ** (SERIES_TERMS - 1))
        if np.any(last > 1e-12):
            raise ValueError(
                f"thickness_mm reaches {np.max(z):.6g} mm, over which the index changes too much; "
                "cut the slab in two, each with a Gradient of its own."
            )
        powers = np.arange(1, SERIES_TERMS)[:, None]
        a, b = np.polynomial.polynomial.polyval(z, series)
        c, d = self._at(z) * np.polynomial.polynomial.polyval(z, powers * series[1:])
        matrix = np.array([[a, b / 1000.0], [1000.0 * c, d]])  # the series counts in mm
        return np.moveaxis(matrix, (0, 1), (-2, -1))

    def _at(self, depth_mm):
        return self.centre + self.slope * depth_mm + self.bend * depth_mm**2


@dataclass(frozen=True)
class ModelEye(paraxial.System):
    """A published eye: a paraxial system with a retina.

    Made by `get` and `navarro`.

    Attributes
    ----------
    radius_mm, thickness_mm, index, name
        As in ``paraxial.System``; the index of a medium with a gradient is that on the axis where
        the medium begins.
    asphericity : tuple
        Q of each surface; 0 where the eye's author gave spheres.
    retina_mm : float
        Cornea to retina as published, mm.
    cornea_surfaces : int
        How many surfaces are cornea; the others are lens.
    gradients : tuple
        For each gap between surfaces its ``Gradient``, or None where the index is constant.
    source : str
        The publication.

    Examples
    --------
    >>> eye = get("le_grand")
    >>> eye.name, eye.length_mm(), eye.retina_mm
    ('le_grand', 7.6, 24.197)
    """

    asphericity: tuple = ()
    retina_mm: float = 24.0
    cornea_surfaces: int = 1
    gradients: tuple = ()
    source: str = ""

    def __post_init__(self):
        super().__post_init__()
        require_instance("source", self.source, str, "the publication, in words")
        require_one("retina_mm", self.retina_mm, 1.0, 100.0, hint="In metres? Multiply by 1000.")
        require_whole("cornea_surfaces", self.cornea_surfaces, 0, len(self.radius_mm))
        asphericity = require("asphericity", self.asphericity).ravel().tolist()
        asphericity = asphericity or [0.0] * len(self.radius_mm)
        gradients = require_instance("gradients", self.gradients, tuple, "a tuple of Gradient")
        gradients = gradients or (None,) * len(self.thickness_mm)
        for gradient in gradients:
            if gradient is not None:
                require_instance("one of gradients", gradient, Gradient, "a Gradient, or None")
        if len(asphericity) != len(self.radius_mm) or len(gradients) != len(self.thickness_mm):
            raise ValueError(
                f"{len(asphericity)} asphericity and {len(gradients)} gradients do not fit "
                f"{len(self.radius_mm)} surfaces; give one for each surface, and for each gap."
            )
        object.__setattr__(self, "asphericity", tuple(asphericity))
        object.__setattr__(self, "gradients", gradients)

    def surface_powers_d(self) -> ndarray:
        """Return the power of each surface, D."""
        arriving = list(self.index[:-1])
        for gap, gradient in enumerate(self.gradients):
            if gradient is not None:
                arriving[gap + 1] = gradient.at(self.thickness_mm[gap])
        return np.atleast_1d(surface_power(self.radius_mm, arriving, self.index[1:]))

    def matrix(self) -> ndarray:
        """Return the matrix from the first surface to the last."""
        powers = self.surface_powers_d()
        total = paraxial.refraction(powers[0])
        for gap, gradient in enumerate(self.gradients):
            thickness_mm = self.thickness_mm[gap]
            way = (
                paraxial.translation(thickness_mm, self.index[gap + 1])
                if gradient is None
                else gradient.matrix(thickness_mm)
            )
            total = paraxial.refraction(powers[gap + 1]) @ way @ total
        return total

    def cornea(self) -> ModelEye:
        """Return the cornea alone, with air in front and aqueous behind.

        Examples
        --------
        >>> round(paraxial.cardinal_points(get("gullstrand_exact").cornea()).power_d, 2)
        43.05
        """
        return self._part(0, self.cornea_surfaces, "cornea")

    def lens(self) -> ModelEye:
        """Return the lens alone, with aqueous in front and vitreous behind.

        Raises
        ------
        ValueError
            For a reduced eye, which has none.

        Examples
        --------
        >>> round(paraxial.cardinal_points(get("gullstrand_exact").lens()).power_d, 2)
        19.11
        """
        if self.cornea_surfaces == len(self.radius_mm):
            raise ValueError(
                f"{self.name} has one refracting surface and no lens of its own; take an eye "
                "with a lens, such as le_grand."
            )
        return self._part(self.cornea_surfaces, len(self.radius_mm), "lens")

    def _part(self, first, last, part):
        return ModelEye(
            radius_mm=self.radius_mm[first:last],
            thickness_mm=self.thickness_mm[first : last - 1],
            index=self.index[first : last + 1],
            name=f"{self.name} {part}",
            asphericity=self.asphericity[first:last],
            retina_mm=self.retina_mm - sum(self.thickness_mm[:first]),
            cornea_surfaces=self.cornea_surfaces if first == 0 else 0,
            gradients=self.gradients[first : last - 1],
            source=self.source,
        )


GULLSTRAND_SOURCE = "Gullstrand, appendix to Helmholtz, Physiologische Optik, 3rd ed. (1909)"
GULLSTRAND_INDEX = (1.0, 1.376, 1.336, 1.386, 1.406, 1.386, 1.336)
EMSLEY_SOURCE = "Emsley, Visual Optics (1952); Bennett & Rabbetts, Clinical Visual Optics"


def _eyes():
    gullstrand = {
        "index": GULLSTRAND_INDEX,
        "cornea_surfaces": 2,
        "retina_mm": 24.0,
        "source": GULLSTRAND_SOURCE,
    }
    gullstrand_emsley = {
        "index": (1.0, 4 / 3, 1.416, 4 / 3),
        "retina_mm": 23.896,
        "source": EMSLEY_SOURCE,
    }
    return {
        ("emsley_reduced", False): ModelEye(
            radius_mm=(50 / 9,),
            thickness_mm=(),
            index=(1.0, 4 / 3),
            name="emsley_reduced",
            retina_mm=200 / 9,
            source=EMSLEY_SOURCE,
        ),
        ("gullstrand_exact", False): ModelEye(
            radius_mm=(7.7, 6.8, 10.0, 7.911, -5.76, -6.0),
            thickness_mm=(0.5, 3.1, 0.546, 2.419, 0.635),
            name="gullstrand_exact",
            **gullstrand,
        ),
        ("gullstrand_exact", True): ModelEye(
            radius_mm=(7.7, 6.8, 5.333, 2.655, -2.655, -5.333),
            thickness_mm=(0.5, 2.7, 0.6725, 2.655, 0.6725),
            name="gullstrand_exact, accommodated",
            **gullstrand,
        ),
        ("gullstrand_simplified", False): ModelEye(
            radius_mm=(7.8, 10.0, -6.0),
            thickness_mm=(5.85, 0.0),
            index=(1.0, 1.336, 1.413, 1.336),
            name="gullstrand_simplified",
            retina_mm=24.0,
            source=GULLSTRAND_SOURCE,
        ),
        ("gullstrand_emsley", False): ModelEye(
            radius_mm=(7.8, 10.0, -6.0),
            thickness_mm=(3.6, 3.6),
            name="gullstrand_emsley",
            **gullstrand_emsley,
        ),
        ("gullstrand_emsley", True): ModelEye(
            radius_mm=(7.8, 5.0, -5.0),
            thickness_mm=(3.2, 4.0),
            name="gullstrand_emsley, accommodated",
            **gullstrand_emsley,
        ),
        ("le_grand", False): ModelEye(
            radius_mm=(7.8, 6.5, 10.2, -6.0),
            thickness_mm=(0.55, 3.05, 4.0),
            index=(1.0, 1.3771, 1.3374, 1.42, 1.336),
            name="le_grand",
            retina_mm=24.197,
            cornea_surfaces=2,
            source="Le Grand, Optique physiologique (1953), full theoretical eye",
        ),
        ("navarro", False): navarro(),
        ("liou_brennan", False): ModelEye(
            radius_mm=(7.77, 6.40, 12.40, np.inf, -8.10),
            thickness_mm=(0.50, 3.16, 1.59, 2.43),
            index=(1.0, 1.376, 1.336, 1.368, 1.407, 1.336),
            name="liou_brennan",
            asphericity=(-0.18, -0.60, -0.94, 0.0, 0.96),
            retina_mm=23.95,
            cornea_surfaces=2,
            gradients=(
                None,
                None,
                Gradient(1.368, slope=0.049057, bend=-0.015427, radial=-0.001978),
                Gradient(1.407, bend=-0.006605, radial=-0.001978),
            ),
            source="Liou & Brennan, J Opt Soc Am A 1997;14:1684",
        ),
    }


def names() -> tuple[str, ...]:
    """Return the names of the model eyes, simplest first.

    >>> names()
    ('emsley_reduced', 'gullstrand_exact', 'gullstrand_simplified', 'gullstrand_emsley',
     'le_grand', 'navarro', 'liou_brennan')
    """
    return tuple(name for name, accommodated in EYES if not accommodated)


def get(name: str, accommodated: bool = False) -> ModelEye:
    """Return a published model eye by its name.

    Parameters
    ----------
    name : str
        One of `names`.
    accommodated : bool
        Whether to take the author's accommodated form; published for ``gullstrand_exact`` and
        ``gullstrand_emsley``. `navarro` takes any accommodation in D.

    Returns
    -------
    ModelEye

    Raises
    ------
    ValueError
        If there is no eye of that name, or no accommodated form of it.

    Examples
    --------
    >>> round(paraxial.cardinal_points(get("gullstrand_exact")).power_d, 2)
    58.64
    >>> round(paraxial.cardinal_points(get("gullstrand_exact", accommodated=True)).power_d, 1)
    70.6
    """
    require_one_of("name", name, names())
    if not isinstance(accommodated, bool | np.bool_):
        raise ValueError(
            "accommodated is neither True nor False; give one of them: an accommodation in D goes "
            "to navarro(accommodation_d)."
        )
    if (name, bool(accommodated)) not in EYES:
        have = ", ".join(n for n, accommodated in EYES if accommodated)
        raise ValueError(
            f"name is {name!r}, which has no published accommodated form here; give one of: "
            f"{have}; or navarro(accommodation_d) for any accommodation in D."
        )
    return EYES[name, bool(accommodated)]


def navarro(accommodation_d: float = 0.0) -> ModelEye:
    """Return Navarro's eye with aspheric surfaces, accommodated by any amount.

    Parameters
    ----------
    accommodation_d : float
        Accommodation, 0 to 10 D.

    Returns
    -------
    ModelEye

    Sources
    -------
    Navarro, Santamaría & Bescós 1985; coefficients from memory. Indices are for 589 nm.

    Examples
    --------
    >>> from shared_utils.optics.paraxial import cardinal_points
    >>> round(cardinal_points(navarro()).power_d, 2)
    60.42
    """
    given_d = require(
        "accommodation_d",
        accommodation_d,
        0.0,
        10.0,
        hint="Accommodation is given as a positive number.",
    )
    if given_d.ndim:
        raise ValueError(
            f"accommodation_d has shape {given_d.shape}; give one number in D per eye."
        )
    accommodation_d = float(given_d)
    growth = float(np.log1p(accommodation_d))
    chamber_mm = 3.05 - 0.05 * growth
    lens_mm = 4.0 + 0.1 * growth
    lens_index = 1.42 + 9e-5 * (10.0 * accommodation_d + accommodation_d**2)
    return ModelEye(
        radius_mm=(7.72, 6.5, 10.2 - 1.75 * growth, -6.0 + 0.2294 * growth),
        thickness_mm=(0.55, chamber_mm, lens_mm),
        index=(1.0, 1.376, 1.3374, lens_index, 1.336),
        name="navarro",
        asphericity=(-0.26, 0.0, -3.1316 - 0.34 * growth, -1.0 - 0.125 * growth),
        retina_mm=24.004,  # 0.55 + 3.05 + 4.00 + 16.404; the retina stays while the lens thickens
        cornea_surfaces=2,
        source="Navarro, Santamaría & Bescós, J Opt Soc Am A 1985;2:1273",
    )


def refraction(
    eye: ModelEye, axial_length_mm: ArrayLike | None = None, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return the spectacle refraction of a model eye whose retina lies at an axial length.

    Parameters
    ----------
    eye : ModelEye
        Or any system of `paraxial`, which then needs an axial length.
    axial_length_mm : scalar or array, optional
        Cornea to retina, 15 to 40 mm; as published if not given.
    vertex_mm : scalar or array
        Vertex distance, −30 to 60 mm; 0 for the refraction at the cornea.

    Returns
    -------
    float or array
        D; myopia negative.

    Sources
    -------
    Bennett & Rabbetts, ametropia of schematic eyes; Keating for the matrix: light of vergence K
    at the cornea leaves with (C − D K) / (A − B K) times −1, which must be n' over the rest of
    the way to the retina.

    Examples
    --------
    The 60 D eye of 24 mm needs 1000 (4/3) / 24 = 55.56 D: it is 4.44 D myopic at the cornea.

    >>> round(refraction(get("emsley_reduced"), 24.0, vertex_mm=0.0), 2)
    -4.44
    """
    (a, b), (c, d) = _require_eye(eye).matrix()
    if axial_length_mm is None:
        axial_length_mm = getattr(eye, "retina_mm", None)
    at_retina_d = 1000.0 * eye.index[-1] / (_axial_length(axial_length_mm) - eye.length_mm())
    vertex_mm = require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM)
    at_retina_d, vertex_mm = broadcast(axial_length_mm=at_retina_d, vertex_mm=vertex_mm)
    at_cornea_d = (c + at_retina_d * a) / (d + at_retina_d * b)
    return propagate(at_cornea_d, -vertex_mm / 1000.0)


def axial_length(
    eye: ModelEye, refraction_d: ArrayLike, vertex_mm: ArrayLike = 12.0
) -> FloatOrArray:
    """Return the axial length that gives a model eye a spectacle refraction (axial ametropia).

    Parameters
    ----------
    eye : ModelEye
        Or any system of `paraxial`.
    refraction_d : scalar or array
        Refraction, −40 to 40 D; myopia negative.
    vertex_mm : scalar or array
        Vertex distance, −30 to 60 mm; 0 for a refraction at the cornea.

    Returns
    -------
    float or array
        Cornea to retina, mm.

    Raises
    ------
    ValueError
        If the retina would have to lie outside 15 to 40 mm.

    Sources
    -------
    As for `refraction`.

    Examples
    --------
    −5 D at the cornea: the 60 D eye must bring 55 D to its retina, 1000 (4/3) / 55 mm away.

    >>> round(axial_length(get("emsley_reduced"), -5.0, vertex_mm=0.0), 2)
    24.24
    """
    (a, b), (c, d) = _require_eye(eye).matrix()
    refraction_d, vertex_mm = broadcast(
        refraction_d=require(
            "refraction_d", refraction_d, -40.0, 40.0, hint="Myopia is negative, in dioptres."
        ),
        vertex_mm=require("vertex_mm", vertex_mm, *VERTEX_RANGE_MM),
    )
    at_cornea_d = np.asarray(propagate(refraction_d, vertex_mm / 1000.0))
    with np.errstate(divide="ignore"):  # an image at infinity: refused below
        reduced_m = (a - b * at_cornea_d) / (d * at_cornea_d - c)
    length_mm = eye.length_mm() + 1000.0 * eye.index[-1] * reduced_m
    return unwrap_scalar(_axial_length(length_mm, "This is what the refraction_d asks of the eye."))


def _require_eye(eye):
    if not isinstance(eye, paraxial.System):
        raise ValueError(
            f"eye is of type {type(eye).__name__}; give a model eye, such as get('le_grand')."
        )
    return eye


def _axial_length(value, hint="In metres? Multiply by 1000."):
    return require("axial_length_mm", value, *RETINA_RANGE_MM, hint=hint)


EYES = _eyes()

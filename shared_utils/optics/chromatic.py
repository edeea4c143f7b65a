"""The eye's colours: indices that fall with wavelength, and the refraction that follows.

Two published sets stand side by side. Thibos's is that of a reduced eye and is zero at 590 nm;
Atchison and Smith's indices belong to the single media and reproduce Gullstrand's at 555 nm,
while their refraction is zero at 588.5 nm. Never mix two references: the eye's focus differs by
0.17 D between 555 and 589 nm. `refraction` refers either law to one wavelength.

Sources
-------
Thibos, Ye, Zhang & Bradley, Appl Opt 1992;31:3594; Atchison & Smith, J Opt Soc Am A 2005;22:29.
Coefficients from memory, held together by tests that join them to the model eyes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from shared_utils.optics.domain import broadcast, require, require_one_of, unwrap_scalar
from shared_utils.optics.luminosity import WAVELENGTH_HINT, WAVELENGTH_RANGE_NM

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from shared_utils.optics.types import FloatOrArray

CAUCHY = {  # a, b (nm²), c (nm⁴), d (nm⁶) of n = a + b/λ² + c/λ⁴ + d/λ⁶
    "cornea": (1.361594, 6.009687e3, -6.760760e8, 5.908450e13),
    "aqueous": (1.321631, 6.070796e3, -7.062305e8, 6.147861e13),
    "lens_surface": (1.369486, 6.428455e3, -6.023738e8, 5.824149e13),
    "lens_core": (1.389248, 6.521218e3, -6.110661e8, 5.908191e13),
    "vitreous": (1.322357, 5.560240e3, -5.817391e8, 5.036810e13),
}


def reduced_eye_index(wavelength_nm: ArrayLike) -> FloatOrArray:
    """Return the refractive index of the chromatic reduced eye.

    Parameters
    ----------
    wavelength_nm : scalar or array
        380 to 780 nm; measured 400 to 700 nm.

    Returns
    -------
    float or array
        No unit. Of the reduced eye (one surface of radius 5.55 mm) alone, not of a real medium.

    Sources
    -------
    Thibos, Ye, Zhang & Bradley 1992.

    Examples
    --------
    >>> round(reduced_eye_index(589.0), 3)
    1.333
    """
    return unwrap_scalar(1.320535 + 4.685 / (_wavelength(wavelength_nm) - 214.102))


def cauchy_index(medium: str, wavelength_nm: ArrayLike) -> FloatOrArray:
    """Return the refractive index of one medium of the eye.

    Parameters
    ----------
    medium : str
        ``cornea``, ``aqueous``, ``lens_surface``, ``lens_core`` or ``vitreous``.
    wavelength_nm : scalar or array
        380 to 780 nm.

    Returns
    -------
    float or array
        No unit; Gullstrand's index at 555 nm.

    Sources
    -------
    Atchison & Smith 2005, Cauchy's equation scaled to Gullstrand's exact eye.

    Examples
    --------
    >>> round(cauchy_index("cornea", 555.0), 4)
    1.376
    """
    a, b, c, d = CAUCHY[require_one_of("medium", medium, CAUCHY)]
    square = _wavelength(wavelength_nm) ** 2
    return unwrap_scalar(a + b / square + c / square**2 + d / square**3)


def refraction(
    wavelength_nm: ArrayLike, law: str = "thibos", in_focus_nm: ArrayLike | None = None
) -> FloatOrArray:
    """Return the eye's refraction in one colour.

    Parameters
    ----------
    wavelength_nm : scalar or array
        Colour of the light, 380 to 780 nm; measured 400 to 700 nm.
    law : str
        ``thibos`` (1992) or ``atchison_smith`` (2005).
    in_focus_nm : scalar or array, optional
        Wavelength for which the eye is emmetropic, nm. If not given, the law's own zero: 590.0
        nm for ``thibos``, 588.5 nm for ``atchison_smith``.

    Returns
    -------
    float or array
        D; negative (myopic) towards blue, positive (hyperopic) towards red.

    Notes
    -----
    The chromatic difference hardly depends on the eye's refraction: about 0.012 to 0.017 D more
    per dioptre of axial ametropia between 400 and 700 nm (Atchison et al., Optom Vis Sci 1993).

    Sources
    -------
    Thibos, Ye, Zhang & Bradley 1992; Atchison & Smith 2005.

    Examples
    --------
    An eye that sees green (555 nm) clearly is about 1.5 D myopic for violet.

    >>> round(refraction(400.0, in_focus_nm=555.0), 1)
    -1.5
    """
    of = LAWS[require_one_of("law", law, LAWS)]
    wavelength_nm = _wavelength(wavelength_nm)
    if in_focus_nm is None:
        return unwrap_scalar(of(wavelength_nm))
    wavelength_nm, in_focus_nm = broadcast(
        wavelength_nm=wavelength_nm, in_focus_nm=_wavelength(in_focus_nm, "in_focus_nm")
    )
    return unwrap_scalar(of(wavelength_nm) - of(in_focus_nm))


def _thibos(wavelength_nm):
    return 1.68524 - 633.46 / (wavelength_nm - 214.102)


def _atchison_smith(wavelength_nm):
    square = wavelength_nm**2
    return 1.60911 - 6.70941e5 / square + 5.55334e10 / square**2 - 5.59998e15 / square**3


def _wavelength(wavelength_nm, name="wavelength_nm"):
    return require(name, wavelength_nm, *WAVELENGTH_RANGE_NM, hint=WAVELENGTH_HINT)


LAWS = {"thibos": _thibos, "atchison_smith": _atchison_smith}

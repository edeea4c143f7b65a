"""What the findings of one eye do to its sight, whichever lens it gets: one formula for each.

Only what goes beyond the usual counts, for the model eye has the usual already; a better finding
than usual earns nothing, and what is unknown is taken as usual, except potential acuity.

=================== ===========================================================================
finding             effect
=================== ===========================================================================
potential acuity    the eye reads no better, whatever the lens
astigmatism         a cylinder C blurs like C/2 of defocus; regular, glasses correct it
aberration, cornea  beyond the usual, blurs like 4√3 RMS / r² of defocus; grows with the pupil
angle alpha, mu     the lens off centre makes coma, which blurs likewise
laser, for what     changes the spherical aberration of the cornea
contrast            10^(usual − measured) divides contrast
straylight          lays a veil of s E / θ² over the road at night, which divides contrast
pupils              dim light: the mesopic pupil, half-way where not measured
=================== ===========================================================================

Sources
-------
Cylinder: Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367. Aberration as defocus: Thibos, Hong,
Bradley & Applegate, J Vis 2004;4(4):9 (from memory); its growth with the cube of the pupil, as
coma's, assumed. Usual aberration of the cornea over 6 mm 0.479 µm: Wang et al., J Cataract Refract
Surg 2003 (read). Spherical aberration after laser: for myopia, from −0.13 to −0.68 µm of the eye
with the other sign, over 6.5 mm, Moreno-Barriuso et al., IOVS 2001;42:1396; for hyperopia, −0.85
µm of the cornea over 6.5 mm, Llorente et al., J Refract Surg 2004 (abstract); both of early lasers,
scaled to 6 mm by the fourth power. Contrast sensitivity, usual 1.65 beyond 60 years: Mäntyjärvi &
Laitinen 2001 (from memory). Glare: `optics.glare`; 250 cd from each of two lamps is what is allowed
towards an oncoming driver (0.4 lux at 25 m, UN regulation 112, from memory); 3.5 m beside the line
of sight, and a road of 1 cd/m²: assumed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from shared_utils.choice.everyday_tasks import LIGHT_LOSS_LOGMAR
from shared_utils.choice.findings import PUPILS, Patient
from shared_utils.choice.vocabulary import UNKNOWN
from shared_utils.optics.centration import equivalent_defocus_d
from shared_utils.optics.domain import require, require_instance
from shared_utils.optics.glare import contrast_divisor, veil_cd_m2
from shared_utils.optics.viewing import AVERAGE_CORNEA_SA_UM

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

USUAL_PUPIL_MM = {"bright": 3.0, "dim": 4.0, "night": 5.0}
"""Pupils assumed where none was measured: assumed."""

POTENTIAL_RANGE_LOGMAR = (-0.3, 3.0)
CYLINDER_RANGE_D = (0.0, 10.0)
PUPIL_RANGE_MM = (1.5, 8.5)

LIMITS_SIGHT = {
    "macular_degeneration": ("late",),
    "epiretinal_membrane": ("stage 3", "stage 4"),
    "macular_oedema": ("at the centre",),
    "retinal_dystrophy": ("present",),
    "diabetic_retinopathy": ("proliferative",),
    "glaucoma": ("severe",),
    "optic_nerve": ("marked loss",),
    "endothelial_dystrophy": ("oedema",),
    "corneal_opacity": ("on the visual axis",),
    "irregular_astigmatism": ("marked",),
    "ectasia": ("manifest",),
    "amblyopia": ("deep",),
    "uveitis": ("active",),
    "other_disease": ("limits sight",),
    "vitrectomy": ("oil",),
}
"""Findings that can limit acuity by themselves, so that without a measured potential nothing is
said of a task: common practice, no source."""

GLASSES_CANNOT = {
    "irregular_astigmatism": ("mild", "marked"),
    "ectasia": ("manifest",),
    "corneal_surgery": ("laser, decentred", "radial keratotomy"),
}
"""Findings whose astigmatism is not regular enough for glasses to be counted on."""

MILD_AMBLYOPIA_LOGMAR = 0.15
"""Potential of an eye with mild amblyopia where none was measured: a line and a half below 6/6."""

USUAL_ABERRATION_UM = 0.48
"""Of the cornea, higher order, over 6 mm, its spherical aberration included."""

USUAL_DECENTRATION_MM = 0.25
"""Angle alpha or chord mu of an unremarkable eye: assumed."""

CORNEA_AFTER_LASER_UM = {
    "for myopia": AVERAGE_CORNEA_SA_UM + (0.68 - 0.13) * (6.0 / 6.5) ** 4,
    "for hyperopia": AVERAGE_CORNEA_SA_UM - 0.85 * (6.0 / 6.5) ** 4,
}
"""Spherical aberration over 6 mm, µm."""

USUAL_CONTRAST_LOG, USUAL_STRAYLIGHT_LOG = 1.65, 1.1

LAMP_CD, LAMPS, BESIDE_M, ROAD_CD_M2 = 250.0, 2, 3.5, 1.0
_LAMP_AT_M = 50.0  # any: nearer lamps are brighter and farther aside, and E / θ² stays

ABERRATION_RANGE_D = (0.0, 20.0)
DECENTRATION_RANGE_MM = (0.0, 2.0)
DIVISOR_RANGE = (1.0, 1000.0)


@dataclass(frozen=True, eq=False)
class Limits:
    """What one eye can reach, whichever lens it gets; arrays for many eyes.

    Parameters
    ----------
    pupil_mm : scalar or array, or dict of str to these
        Pupil diameter, 1.5 to 8.5 mm; one for all light, or one each for "bright", "dim", "night".
    best_logmar : scalar or array, optional
        Best acuity that the eye can reach, −0.3 to 3 logMAR; that of a healthy eye unless given.
    potential_known : bool or array
        False where nothing is to be promised of the eye.
    residual_cylinder_d : scalar or array
        Astigmatism that remains, 0 to 10 D.
    glasses_correct_cylinder : bool or array
        Whether glasses take the cylinder away: not where the astigmatism is irregular.
    aberration_d : scalar or array, or dict of str to these
        Aberration of the cornea beyond the usual, as defocus, 0 to 20 D.
    decentration_mm : scalar or array
        Of the lens, beyond the usual, 0 to 2 mm.
    contrast_divisor : scalar or array, or dict of str to these
        What divides contrast, 1 to 1000.
    corneal_sa_um : scalar or array
        Spherical aberration of the cornea over 6 mm, −1 to 1 µm.

    Raises
    ------
    ValueError
        Naming the value, the unit, the range and the likely slip.
    """

    pupil_mm: ArrayLike | Mapping[str, ArrayLike] = field(
        default_factory=lambda: dict(USUAL_PUPIL_MM)
    )
    best_logmar: ArrayLike | None = None
    potential_known: ArrayLike = True
    residual_cylinder_d: ArrayLike = 0.0
    glasses_correct_cylinder: ArrayLike = True
    aberration_d: ArrayLike | Mapping[str, ArrayLike] = 0.0
    decentration_mm: ArrayLike = 0.0
    contrast_divisor: ArrayLike | Mapping[str, ArrayLike] = 1.0
    corneal_sa_um: ArrayLike = AVERAGE_CORNEA_SA_UM

    def __post_init__(self):
        best = np.asarray(-np.inf)
        if self.best_logmar is not None:
            best = require(
                "best_logmar",
                self.best_logmar,
                *POTENTIAL_RANGE_LOGMAR,
                hint="A decimal acuity? logMAR is minus its logarithm.",
            )
        pupil = "The pupil's diameter as seen from in front, in millimetres."
        checked = {
            "pupil_mm": _by_light("pupil_mm", self.pupil_mm, PUPIL_RANGE_MM, pupil),
            "best_logmar": best,
            "potential_known": _flags("potential_known", self.potential_known),
            "residual_cylinder_d": require(
                "residual_cylinder_d",
                self.residual_cylinder_d,
                *CYLINDER_RANGE_D,
                hint="Its size, without a sign.",
            ),
            "glasses_correct_cylinder": _flags(
                "glasses_correct_cylinder", self.glasses_correct_cylinder
            ),
            "aberration_d": _by_light("aberration_d", self.aberration_d, ABERRATION_RANGE_D, ""),
            "decentration_mm": require(
                "decentration_mm", self.decentration_mm, *DECENTRATION_RANGE_MM, hint="In mm."
            ),
            "contrast_divisor": _by_light(
                "contrast_divisor", self.contrast_divisor, DIVISOR_RANGE, "Half of it is 2."
            ),
            "corneal_sa_um": require(
                "corneal_sa_um", self.corneal_sa_um, -1.0, 1.0, hint="The average is +0.27."
            ),
        }
        for name, value in checked.items():
            object.__setattr__(self, name, value)

    def in_light(self, light: str) -> dict[str, np.ndarray]:
        """Return every limit by name as it is in one light: "bright", "dim" or "night"."""
        found = {name: getattr(self, name) for name in self.__dataclass_fields__}
        return {n: v[light] if isinstance(v, Mapping) else v for n, v in found.items()}


def limits_of(patient: Patient) -> Limits:
    """Return what the findings of the eye to be operated on do to its sight.

    Where the astigmatism that will remain was not worked out, all that the cornea has is taken to
    remain, as it does behind a lens without a cylinder of its own.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    Limits

    Raises
    ------
    ValueError
        If it is not given a patient.

    Sources
    -------
    Beside each finding, above.

    Examples
    --------
    0.30 log units less contrast than usual is half of it.

    >>> found = limits_of(Patient({"contrast_sensitivity_log": 1.35, "chord_mu_mm": 0.2}))
    >>> round(found.contrast_divisor["bright"].item(), 2), found.decentration_mm.item()
    (2.0, 0.0)
    """
    _hold_patient(patient)
    values = patient.values
    best = values["potential_acuity_logmar"]
    known = best != UNKNOWN or not _has_any(values, LIMITS_SIGHT)
    if best == UNKNOWN and values["amblyopia"] == "mild":
        best = MILD_AMBLYOPIA_LOGMAR
    remains = _remaining_cylinder(values)
    return _limits(
        values,
        pupil_mm=_pupils_in(values),
        best_logmar=None if best == UNKNOWN else best,
        potential_known=known,
        residual_cylinder_d=0.0 if remains == UNKNOWN else remains,
        glasses_correct_cylinder=not _has_any(values, GLASSES_CANNOT),
    )


def fellow_limits_of(patient: Patient) -> Limits:
    """Return what the findings of the other eye do to its sight.

    Where it was not measured, its pupils, the cylinder that remains and whether glasses correct it
    are those of the first eye. Of an eye of unknown potential nothing is promised.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    Limits

    Raises
    ------
    ValueError
        If it is not given a patient.

    Examples
    --------
    >>> both = Patient({"residual_astigmatism_d": 1.0}, fellow_findings={"straylight_log": 1.6})
    >>> fellow_limits_of(both).residual_cylinder_d.item()
    1.0
    >>> bool(fellow_limits_of(both).contrast_divisor["night"] > 1.0)
    True
    """
    _hold_patient(patient)
    first, values = patient.values, patient.fellow_values
    best, remains = values["potential_acuity_logmar"], _remaining_cylinder(values)
    if remains == UNKNOWN:
        remains = _remaining_cylinder(first)
    measured = any(values[name] != UNKNOWN for name in PUPILS)
    looked_at = any(values[name] != UNKNOWN for name in GLASSES_CANNOT)
    return _limits(
        values,
        pupil_mm=_pupils_in(values if measured else first),
        best_logmar=None if best == UNKNOWN else best,
        potential_known=best != UNKNOWN,
        residual_cylinder_d=0.0 if remains == UNKNOWN else remains,
        glasses_correct_cylinder=not _has_any(values if looked_at else first, GLASSES_CANNOT),
    )


def pupils_of(patient: Patient) -> dict[str, float]:
    """Return the pupil in each light of a patient, the usual one where none was measured.

    Parameters
    ----------
    patient : findings.Patient

    Returns
    -------
    dict of str to float
        mm; in dim light the mesopic pupil, where it was not measured half-way between the photopic
        and the scotopic.

    Sources
    -------
    Half-way: assumed.

    Examples
    --------
    >>> from shared_utils.choice.findings import PUPILS, Patient
    >>> pupils_of(Patient({"photopic_pupil_mm": 3.0, "scotopic_pupil_mm": 6.0}))
    {'bright': 3.0, 'dim': 4.5, 'night': 6.0}
    """
    _hold_patient(patient)
    return _pupils_in(patient.values)


def _limits(values, **given):
    """Limits with those effects that each eye has from its own findings alone."""
    pupil_mm = given["pupil_mm"]
    known = [values[n] for n in ("angle_alpha_mm", "chord_mu_mm") if values[n] != UNKNOWN]
    excess_mm2 = max([0.0, *(mm**2 - USUAL_DECENTRATION_MM**2 for mm in known)])
    return Limits(
        aberration_d={light: _aberration_d(values, mm) for light, mm in pupil_mm.items()},
        decentration_mm=float(np.sqrt(excess_mm2)),
        contrast_divisor=_contrast_divisors(values),
        corneal_sa_um=CORNEA_AFTER_LASER_UM.get(values["refractive_laser"], AVERAGE_CORNEA_SA_UM),
        **given,
    )


def _remaining_cylinder(values):
    remains = values["residual_astigmatism_d"]
    if remains == UNKNOWN:
        remains = values["corneal_astigmatism_d"]
    return remains if remains == UNKNOWN else min(remains, CYLINDER_RANGE_D[1])


def _aberration_d(values, pupil_mm):
    """Defocus of what the cornea has beyond the usual; between 4 and 6 mm of both measurements."""
    found = {}
    for zone_mm, name in ((4.0, "corneal_hoa_4mm_um"), (6.0, "corneal_hoa_6mm_um")):
        if values[name] != UNKNOWN:
            usual_um = USUAL_ABERRATION_UM * (zone_mm / 6.0) ** 3
            excess_um = np.sqrt(max(values[name] ** 2 - usual_um**2, 0.0))
            # RMS as r³, so the defocus as r
            found[zone_mm] = equivalent_defocus_d(excess_um, zone_mm) * pupil_mm / zone_mm
    if not found:
        return 0.0
    return min(float(np.interp(pupil_mm, list(found), list(found.values()))), ABERRATION_RANGE_D[1])


def _contrast_divisors(values):
    loss_log = 0.0
    if values["contrast_sensitivity_log"] != UNKNOWN:
        loss_log = max(USUAL_CONTRAST_LOG - values["contrast_sensitivity_log"], 0.0)
    divisors = dict.fromkeys(LIGHT_LOSS_LOGMAR, 10.0**loss_log)
    if values["straylight_log"] != UNKNOWN:
        divisors["night"] *= max(
            _glare(values["straylight_log"]) / _glare(USUAL_STRAYLIGHT_LOG), 1.0
        )
    return {light: min(divisor, DIVISOR_RANGE[1]) for light, divisor in divisors.items()}


@lru_cache(maxsize=64)
def _glare(straylight_log):
    """What the lamps of an oncoming car divide contrast by."""
    lux, angle_deg = LAMPS * LAMP_CD / _LAMP_AT_M**2, np.degrees(BESIDE_M / _LAMP_AT_M)
    return contrast_divisor(veil_cd_m2(straylight_log, lux, angle_deg), ROAD_CD_M2)


def _pupils_in(values):
    day, dim, night = (values[f"{name}_pupil_mm"] for name in ("photopic", "mesopic", "scotopic"))
    wider = [mm for mm in (dim, night) if mm != UNKNOWN]
    if day == UNKNOWN:
        day = min([USUAL_PUPIL_MM["bright"], *wider]) if wider else USUAL_PUPIL_MM["bright"]
    if night == UNKNOWN:
        night = max([USUAL_PUPIL_MM["night"], day, *(mm for mm in (dim,) if mm != UNKNOWN)])
    pupils = {
        "bright": day,
        "dim": (day + night) / 2.0 if dim == UNKNOWN else dim,
        "night": night,
    }
    return {light: float(np.clip(mm, *PUPIL_RANGE_MM)) for light, mm in pupils.items()}


def _has_any(values, grades):
    return any(values[name] in those for name, those in grades.items())


def _by_light(name, value, allowed, hint):
    """A checked value for each light."""
    if not isinstance(value, Mapping):
        return dict.fromkeys(LIGHT_LOSS_LOGMAR, require(name, value, *allowed, hint=hint))
    if set(value) != set(LIGHT_LOSS_LOGMAR):
        lights = ", ".join(LIGHT_LOSS_LOGMAR)
        raise ValueError(f"{name} names {', '.join(map(str, value))}; give each of: {lights}.")
    if all(isinstance(each, float) for each in value.values()):  # one check for all light
        checked = require(name, list(value.values()), *allowed, hint=hint)
        return dict(zip(value, checked, strict=True))
    return {light: require(name, each, *allowed, hint=hint) for light, each in value.items()}


def _flags(name, value):
    flags = np.asarray(value)
    if flags.dtype != bool:
        raise ValueError(
            f"{name} is neither True nor False; give one of them, or an array of them."
        )
    return flags


def _hold_patient(patient):
    require_instance("patient", patient, Patient, "a Patient; findings.from_dict makes one")

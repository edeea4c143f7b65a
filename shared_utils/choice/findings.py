"""The words of the examination and of the wishes, their grades, and an invented patient.

Grades stand in order from better to worse; a wish, from what speaks most for a lens that splits
light to what speaks most against it. Unknown is a value of its own, never taken for normal.

Sources
-------
Grades are those of published scales where one is named beside them; the others are the words of
the trade: common practice, no source. Ranges only turn away slips; how near to a threshold a
measurement counts as borderline is assumed, about the spread of repeated measurements.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from shared_utils.optics.domain import require, require_one_of, unit_of
from shared_utils.power.biometry import K_RANGE_D, Eye

UNKNOWN = "unknown"


@dataclass(frozen=True)
class Graded:
    """A finding or wish told in words.

    Attributes
    ----------
    name, title : str
        Its key, and what a reader sees.
    grades : dict of str to str
        Each grade and its meaning, from better to worse.
    """

    name: str
    title: str
    grades: dict

    @property
    def best(self):
        """The grade that speaks least against a lens that splits light."""
        return next(iter(self.grades))

    def check(self, value):
        """Return the grade, or say in one sentence which grades there are."""
        return require_one_of(self.name, value, (*self.grades, UNKNOWN))

    def badness(self, value):
        """Return how bad a known grade is: 0 for the best."""
        return list(self.grades).index(value)

    def shown(self, value):
        """Return the grade as a reader sees it."""
        return value


@dataclass(frozen=True)
class Measured:
    """A finding told as a number, its unit in the suffix of its name.

    Attributes
    ----------
    name, title : str
        Its key, and what a reader sees.
    low, high : float
        The range that makes sense.
    best : float
        An unremarkable value.
    worse : str
        Which way it gets worse: "higher", "lower", or "away" from ``usual``.
    near : float
        How near to a threshold a value counts as borderline.
    digits : int
        Decimals that a reader sees.
    usual : tuple of float, optional
        Lower and upper end of what is usual, for "away".
    hint : str
        The likely slip.
    """

    name: str
    title: str
    low: float
    high: float
    best: float
    worse: str
    near: float
    digits: int = 2
    usual: tuple = ()
    hint: str = ""

    def check(self, value):
        """Return the number as a builtin float, or say in one sentence what is wrong with it."""
        if isinstance(value, str) and value == UNKNOWN:
            return UNKNOWN
        hint = f"{self.hint} Leave it out if it was not measured.".strip()
        number = require(self.name, value, self.low, self.high, hint=hint)
        if number.ndim:
            raise ValueError(f"{self.name} holds {number.size} numbers; a patient has one.")
        return float(number)

    def badness(self, value):
        """Return how bad a known value is: the larger the worse."""
        if self.worse == "away":
            low, high = self.usual
            return max(low - value, value - high, 0.0)
        return value if self.worse == "higher" else -value

    def shown(self, value):
        """Return the value with its unit."""
        return f"{value:.{self.digits}f} {unit_of(self.name)}".replace("-", "−")


def _by_name(*kinds):
    return {kind.name: kind for kind in kinds}


FINDINGS = _by_name(
    # --- macula and retina ---------------------------------------------------------------------
    Graded(
        "macular_degeneration",
        "Age-related macular degeneration",  # Ferris et al., Ophthalmology 2013
        {
            "none": "no drusen but small ones",
            "early": "medium drusen, no pigment change",
            "intermediate": "large drusen or pigment change",
            "late": "neovascular, or geographic atrophy",
        },
    ),
    Graded(
        "epiretinal_membrane",
        "Epiretinal membrane",  # Govetto et al., Am J Ophthalmol 2017
        {
            "none": "no membrane",
            "stage 1": "foveal pit kept",
            "stage 2": "foveal pit lost, layers well defined",
            "stage 3": "inner layers across the fovea",
            "stage 4": "inner layers across the fovea, layers disrupted",
        },
    ),
    Graded(
        "macular_oedema",
        "Macular oedema",
        {
            "none": "never seen",
            "resolved": "dry for months",
            "away from the centre": "thickened, centre spared",
            "at the centre": "centre thickened",
        },
    ),
    Graded(
        "retinal_dystrophy",
        "Inherited retinal dystrophy",
        {"none": "no sign", "present": "retinitis pigmentosa, Stargardt disease or another"},
    ),
    Graded(
        "diabetes",
        "Diabetes",
        {
            "none": "not diabetic",
            "well controlled": "sugar in range",
            "poorly controlled": "sugar out of range",
        },
    ),
    Graded(
        "diabetic_retinopathy",
        "Diabetic retinopathy",  # Wilkinson et al., Ophthalmology 2003
        {
            "none": "no change",
            "mild": "microaneurysms only",
            "moderate": "more than microaneurysms, less than severe",
            "severe": "many haemorrhages, venous beading or vessels gone astray",
            "proliferative": "new vessels or vitreous haemorrhage",
        },
    ),
    # --- optic nerve ---------------------------------------------------------------------------
    Graded(
        "glaucoma",
        "Glaucoma",  # stages as in the international classification of diseases
        {
            "none": "no sign",
            "suspect": "suspect disc, or ocular hypertension",
            "mild": "nerve changed, field full",
            "moderate": "field loss in one half, not within 5° of fixation",
            "severe": "field loss in both halves, or within 5° of fixation",
        },
    ),
    Graded(
        "glaucoma_course",
        "Course of the glaucoma",
        {"stable": "fields and nerve unchanged", "progressing": "getting worse"},
    ),
    Graded(
        "optic_nerve",
        "Optic nerve, glaucoma apart",
        {
            "healthy": "colour, field and pupil reaction normal",
            "mild loss": "some function lost, acuity kept",
            "marked loss": "acuity or central field lost",
        },
    ),
    # --- surface and cornea --------------------------------------------------------------------
    Graded(
        "dry_eye",
        "Dry eye",
        {
            "none": "stable film, no staining",
            "mild": "short break-up, little staining",
            "moderate": "staining, symptoms most days",
            "severe": "confluent staining, constant symptoms",
        },
    ),
    Graded(
        "surface_treatment",
        "Treatment of the surface",
        {
            "treated and stable": "repeated keratometry agrees",
            "treated, not yet stable": "repeated keratometry still varies",
            "untreated": "not treated",
        },
    ),
    Measured(
        "tear_osmolarity_mosm",
        "Tear osmolarity",
        200,
        500,
        best=296,
        worse="higher",
        near=5,
        digits=0,
    ),
    Graded(
        "surface_lesion",
        "Basement membrane dystrophy, Salzmann nodules or pterygium",
        {
            "none": "no lesion",
            "treated and stable": "removed, keratometry repeats",
            "untreated": "still there",
        },
    ),
    Graded(
        "endothelial_dystrophy",
        "Fuchs endothelial dystrophy",
        {
            "none": "no guttata",
            "guttata": "scattered guttata, no oedema",
            "confluent guttata": "confluent guttata, no oedema",
            "oedema": "cornea thickened, worse in the morning",
        },
    ),
    Graded(
        "corneal_opacity",
        "Corneal scar or stromal dystrophy",
        {
            "none": "clear",
            "off the visual axis": "outside the pupil",
            "on the visual axis": "within the pupil",
        },
    ),
    Graded(
        "irregular_astigmatism",
        "Irregular astigmatism",
        {
            "none": "regular map",
            "mild": "asymmetric, full acuity with glasses",
            "marked": "acuity better with a rigid contact lens",
        },
    ),
    Graded(
        "ectasia",
        "Keratoconus or another ectasia",
        {
            "none": "no sign",
            "suspect": "suspicious map, no slit-lamp sign",
            "manifest": "steep, thin or with slit-lamp signs",
        },
    ),
    Graded(
        "corneal_surgery",
        "Earlier refractive surgery of the cornea",
        {
            "none": "never operated",
            "laser, centred": "laser treatment, centred on the pupil",
            "laser, decentred": "laser treatment, off centre",
            "radial keratotomy": "radial cuts",
        },
    ),
    Measured(
        "corneal_hoa_6mm_um",
        "Corneal higher-order aberration over 6 mm",
        0,
        10,
        best=0.35,
        worse="higher",
        near=0.05,
        hint="Root mean square in µm, not in nm or waves.",
    ),
    Measured(
        "corneal_hoa_4mm_um",
        "Corneal higher-order aberration over 4 mm",
        0,
        5,
        best=0.12,
        worse="higher",
        near=0.03,
        hint="Root mean square in µm, not in nm or waves.",
    ),
    Measured(
        "corneal_astigmatism_d",
        "Regular corneal astigmatism",
        0,
        15,
        best=0.3,
        worse="higher",
        near=0.15,
        hint="Its size, without a sign.",
    ),
    Measured(
        "residual_astigmatism_d",
        "Astigmatism expected to remain after the planned operation",
        0,
        10,
        best=0.2,
        worse="higher",
        near=0.15,
        hint="Its size, without a sign.",
    ),
    Measured(
        "mean_k_d",
        "Mean keratometry",
        *K_RANGE_D,
        best=43.0,
        worse="away",
        near=0.25,
        usual=(40.0, 45.0),
        hint="A radius in mm? Dioptres are 337.5 / radius.",
    ),
    # --- pupil and centration ------------------------------------------------------------------
    Measured(
        "photopic_pupil_mm",
        "Photopic pupil",
        1,
        8,
        best=3.2,
        worse="lower",
        near=0.2,
        digits=1,
        hint="Undilated, in daylight.",
    ),
    Measured(
        "scotopic_pupil_mm",
        "Scotopic pupil",
        1,
        9,
        best=5.0,
        worse="higher",
        near=0.2,
        digits=1,
        hint="Undilated, in the dark.",
    ),
    Measured(
        "angle_alpha_mm",
        "Angle alpha",
        0,
        2,
        best=0.25,
        worse="higher",
        near=0.05,
        hint="The distance at the cornea in mm, not the angle in degrees.",
    ),
    Measured(
        "chord_mu_mm",
        "Chord mu",
        0,
        2,
        best=0.25,
        worse="higher",
        near=0.05,
        hint="The distance at the cornea in mm, not the angle in degrees.",
    ),
    # --- what holds the lens -------------------------------------------------------------------
    Graded(
        "zonules",
        "Zonules",
        {
            "firm": "no sign of weakness",
            "mild weakness": "pseudoexfoliation or a few lost fibres, lens steady",
            "severe weakness": "lens trembles or has moved",
        },
    ),
    Graded(
        "capsule",
        "Lens capsule",
        {
            "intact": "whole",
            "anterior tear": "rim torn, back whole",
            "posterior opening": "back open or expected to open",
        },
    ),
    # --- what the eye can reach ----------------------------------------------------------------
    Graded(
        "amblyopia",
        "Amblyopia",
        {
            "none": "both eyes grew up alike",
            "mild": "a line or two worse than the other eye",
            "deep": "never read small print",
        },
    ),
    Measured(
        "potential_acuity_logmar",
        "Potential acuity",
        -0.3,
        3,
        best=0.0,
        worse="higher",
        near=0.05,
        hint="A decimal acuity? logMAR is minus its logarithm.",
    ),
    Graded(
        "uveitis",
        "Uveitis",
        {"none": "never", "quiet": "quiet for months", "active": "cells now"},
    ),
    Graded(
        "other_disease",
        "Another disease of the eye",
        {
            "none": "none",
            "mild": "present, sight not limited",
            "limits sight": "limits sight or will",
        },
    ),
)
"""What is found in the eye, by name."""

WISHES = _by_name(
    Graded(
        "glasses",
        "Tolerance of glasses",
        {
            "wants none": "would pay a price in contrast for it",
            "accepts some": "for fine print or long tasks",
            "content with glasses": "does not mind them",
        },
    ),
    Graded(
        "near_work",
        "Near tasks",
        {
            "little": "labels, a telephone now and then",
            "daily": "an hour or two of print",
            "hours of fine print": "work on small things close by",
        },
    ),
    Graded(
        "screen_work",
        "Tasks at arm's length",
        {
            "little": "cooking, dashboard",
            "daily": "an hour or two at a screen",
            "hours a day": "works at a screen",
        },
    ),
    Graded(
        "contrast_demand",
        "Work in dim light or low contrast",
        {"ordinary": "no special demand", "high": "surgery, flying, X-ray images, night watch"},
    ),
    Graded(
        "night_driving",
        "Night driving",
        {
            "never": "does not drive at night",
            "sometimes": "lit streets",
            "often": "most weeks, dark roads",
            "professional": "drives at night for a living",
        },
    ),
    Graded(
        "halo_tolerance",
        "Tolerance of halos",
        {
            "tolerant": "has seen a simulated halo and accepts it",
            "doubtful": "not sure",
            "intolerant": "would not accept it",
        },
    ),
    Graded(
        "expectation",
        "Expectation",
        {
            "realistic": "knows what cannot be had",
            "demanding": "expects much",
            "perfectionist": "expects perfect sight at every distance",
        },
    ),
)
"""What the patient does, wants and tolerates, by name."""

VOCABULARY = FINDINGS | WISHES
"""Findings and wishes together, by name."""


@dataclass(frozen=True)
class Patient:
    """An invented patient: what was found, what is wished, what was measured.

    Parameters
    ----------
    findings, wishes : dict
        Name to grade or number, as in ``FINDINGS`` and ``WISHES``; what is left out is unknown.
    eye : biometry.Eye, optional
        One eye. Keratometry and astigmatism left out of the findings are taken from it.
    label : str
        What to call the patient.

    Attributes
    ----------
    values : dict
        Every finding and wish by name, ``UNKNOWN`` where nothing was said.

    Raises
    ------
    ValueError
        One sentence for each field that cannot be used, all in one message.

    Examples
    --------
    >>> patient = Patient({"macular_degeneration": "early"}, {"night_driving": "often"})
    >>> patient.values["macular_degeneration"], patient.values["glaucoma"]
    ('early', 'unknown')
    >>> Patient({"chord_mu_mm": 6.0})
    Traceback (most recent call last):
    ValueError: chord_mu_mm is 6 mm; give 0 to 2 mm. The distance at the cornea in mm, not the
    angle in degrees. Leave it out if it was not measured.
    """

    findings: dict = field(default_factory=dict)
    wishes: dict = field(default_factory=dict)
    eye: Eye | None = None
    label: str = "invented patient"
    values: dict = field(init=False, repr=False, compare=False)

    def __post_init__(self):
        values = dict.fromkeys(VOCABULARY, UNKNOWN)
        wrong = []
        for part, kinds in (("findings", FINDINGS), ("wishes", WISHES)):
            checked, sentences = _checked(part, getattr(self, part), kinds)
            wrong += sentences
            object.__setattr__(self, part, checked)
            values |= checked
        if not isinstance(self.label, str) or not self.label.strip():
            wrong.append("label is no text; give a name for the invented patient.")
        if self.eye is not None:
            sentence = _why_not_one_eye(self.eye)
            if sentence:
                wrong.append(sentence)
            else:
                _fill_from_eye(values, self.eye)
        day, night = values["photopic_pupil_mm"], values["scotopic_pupil_mm"]
        if UNKNOWN not in (day, night) and day > night:
            wrong.append(
                f"photopic_pupil_mm is {day:g} mm, wider than scotopic_pupil_mm, {night:g} mm; "
                "the pupil is wider in the dark: exchange them?"
            )
        if wrong:
            raise ValueError(" ".join(wrong))
        object.__setattr__(self, "values", values)


def from_dict(data):
    """Return the patient that a dictionary describes, as read from TOML or JSON.

    Parameters
    ----------
    data : dict
        Any of the keys ``label``, ``findings``, ``wishes`` and ``biometry``; the last holds the
        fields of ``biometry.Eye``.

    Returns
    -------
    Patient

    Raises
    ------
    ValueError
        One sentence for each field that cannot be used, all in one message.

    Examples
    --------
    >>> patient = from_dict({"findings": {"dry_eye": "mild"}, "biometry": {
    ...     "axial_length_mm": 23.5, "k1_d": 43.0, "k2_d": 44.0}})
    >>> patient.values["mean_k_d"], patient.values["corneal_astigmatism_d"]
    (43.5, 1.0)
    >>> from_dict({"findings": {"dry_eyes": "mild"}})
    Traceback (most recent call last):
    ValueError: findings has no 'dry_eyes'; did you mean 'dry_eye'?
    """
    if not isinstance(data, Mapping):
        raise ValueError(
            "A patient is a dictionary with any of the keys label, findings, wishes, biometry."
        )
    wrong = [
        _no_such("A patient", key, ("label", "findings", "wishes", "biometry"))
        for key in data
        if key not in ("label", "findings", "wishes", "biometry")
    ]
    eye = None
    if "biometry" in data:
        try:
            eye = _eye_from(data["biometry"])
        except ValueError as error:
            wrong.append(str(error))
    told = {key: data[key] for key in ("label", "findings", "wishes") if key in data}
    try:
        patient = Patient(eye=eye, **told)
    except ValueError as error:
        wrong.append(str(error))
    if wrong:
        raise ValueError(" ".join(wrong))
    return patient


def otherwise_healthy(findings=None, wishes=None, label="invented patient"):
    """Return a patient in whom all that is not said is known and stands in no lens's way.

    Parameters
    ----------
    findings, wishes : dict, optional
        What differs from a healthy eye and an easy wish.
    label : str
        What to call the patient.

    Returns
    -------
    Patient
        Where one pupil only is told, the other is chosen so that the two go together.

    Raises
    ------
    ValueError
        As ``Patient``.

    Examples
    --------
    >>> otherwise_healthy({"glaucoma": "mild"}).values["dry_eye"]
    'none'
    """
    healthy = {name: kind.best for name, kind in FINDINGS.items()}
    easy = {name: kind.best for name, kind in WISHES.items()} | {"glasses": "accepts some"}
    findings, wishes = ({} if told is None else told for told in (findings, wishes))
    if not (isinstance(findings, Mapping) and isinstance(wishes, Mapping)):
        raise ValueError("findings and wishes are dictionaries: names, a grade or number each.")
    day, night = (findings.get(name) for name in ("photopic_pupil_mm", "scotopic_pupil_mm"))
    if day is None and isinstance(night, (int, float)):
        healthy["photopic_pupil_mm"] = min(healthy["photopic_pupil_mm"], night)
    if night is None and isinstance(day, (int, float)):
        healthy["scotopic_pupil_mm"] = max(healthy["scotopic_pupil_mm"], day)
    return Patient(healthy | dict(findings), easy | dict(wishes), label=label)


def _checked(part, told, kinds):
    """The values that can be used, and a sentence for each of the others."""
    if not isinstance(told, Mapping):
        return {}, [f"{part} is not a dictionary; give names with a grade or a number each."]
    checked, wrong = {}, []
    for name, value in told.items():
        if name not in kinds:
            wrong.append(_no_such(part, name, kinds))
            continue
        try:
            checked[name] = kinds[name].check(value)
        except ValueError as error:
            wrong.append(str(error))
    return checked, wrong


def _no_such(part, name, known):
    for other, kinds in (("findings", FINDINGS), ("wishes", WISHES)):
        if other != part and isinstance(name, str) and name in kinds:
            return f"{part} has no {name!r}; it belongs to {other}."
    shown = " ".join(repr(name).split())[:40]
    close = difflib.get_close_matches(str(name)[:60], known, n=1)
    if close:
        return f"{part} has no {shown}; did you mean {close[0]!r}?"
    return (
        f"{part} has no {shown}; leave it out, or look its name up in shared_utils.choice.findings."
    )


def _eye_from(told):
    fields = tuple(Eye.__dataclass_fields__)
    if not isinstance(told, Mapping):
        raise ValueError("biometry is not a dictionary; give axial_length_mm and k1_d at least.")
    strange = [name for name in told if name not in fields]
    if strange:
        raise ValueError(" ".join(_no_such("biometry", name, fields) for name in strange))
    lacking = [name for name in ("axial_length_mm", "k1_d") if name not in told]
    if lacking:
        raise ValueError(f"biometry lacks {' and '.join(lacking)}; give it, or leave biometry out.")
    return Eye(**told)


def _why_not_one_eye(eye):
    if not isinstance(eye, Eye):
        return "eye is no measured eye; give a shared_utils.power.biometry.Eye or leave it out."
    numbers = [getattr(eye, name) for name in Eye.__dataclass_fields__]
    if any(np.ndim(number) for number in numbers if number is not None):
        return "biometry holds more than one eye; give one number for each measurement."
    return ""


def _fill_from_eye(values, eye):
    if values["mean_k_d"] == UNKNOWN:
        values["mean_k_d"] = eye.mean_k_d
    if values["corneal_astigmatism_d"] == UNKNOWN and eye.k2_d is not None:
        values["corneal_astigmatism_d"] = min(abs(eye.k2_d - eye.k1_d), 15.0)

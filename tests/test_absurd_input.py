"""Whatever is given to a public function of the lower floors: numbers come back, or one sentence.

The functions are found by introspection. A usual value of each parameter, by its name, stands here
once; a new function is tested as soon as it is written.
"""

import importlib
import inspect
import pkgutil

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_utils import choice, optics, power
from shared_utils.choice import findings, tasks
from shared_utils.choice.sight import EyeWithLens
from shared_utils.optics import lenses, model_eyes, paraxial, ray_trace, retina, sphero_cylinder
from shared_utils.power import core, error_budget
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants
from tests.absurd import ANYTHING, answer

EYE = Eye(23.5, 43.0, 44.0, k1_axis_deg=10.0, acd_mm=3.1)
COHORT = Eye(np.linspace(22.0, 26.0, 12), np.linspace(42.0, 45.0, 12), acd_mm=3.1)
ASTIGMATISM = sphero_cylinder.SpheroCylinder(-0.5, 1.0, 80.0)
SURFACE = ray_trace.Surface(7.8, 1.376)

NUMBERS = {
    "angle_deg": 4.0,
    "extra_sd_d": 0.2,
    "veil_cd_m2": 0.5,
    "straylight_log": 1.2,
    "other_logmar": 0.2,
    "one_logmar": 0.1,
    "illuminance_lux": 0.2,
    "gain_logmar": 0.05,
    "divisor": 1.5,
    "difference_d": 1.0,
    "background_cd_m2": 1.0,
    "a0": 1.5,
    "a1": 0.4,
    "a2": 0.1,
    "a_constant": 118.4,
    "accommodation_d": 1.0,
    "acd_mm": 3.1,
    "achieved_d": 0.2,
    "add_d": 2.5,
    "age_years": 60.0,
    "alpha": 0.05,
    "amplitude_d": 2.0,
    "angle_arcmin": 2.0,
    "angle_rad": 0.3,
    "anterior_mm": 7.8,
    "apodised_mm": 2.5,
    "arcmin_per_pixel": 0.25,
    "asphericity": -0.2,
    "axial_length_mm": 23.5,
    "axis_deg": 30.0,
    "back_power_d": 4.0,
    "back_vertex_power_d": -3.0,
    "base_d": 0.0,
    "best_logmar": 0.0,
    "cylinder_d": -1.0,
    "cornea_d": 43.0,
    "corneal_cylinder_d": 1.0,
    "corneal_index": 1.3375,
    "corneal_power_d": 43.0,
    "corneal_sa_um": 0.27,
    "centre": 1.4,
    "centre_d": 2.0,
    "central_k_d": 38.0,
    "confidence": 0.95,
    "correlation": 0.9,
    "decentration_mm": 0.3,
    "defocus_d": -1.0,
    "degrees_per_pixel": 0.01,
    "distance_m": 0.5,
    "distance_mm": 10.0,
    "echo_time_us": 30.2,
    "elp_k_d": 43.0,
    "elp_mm": 5.1,
    "emmetropic_power_d": 21.0,
    "eye_power_d": 60.0,
    "fellow_target_d": -1.0,
    "field_deg": 2.0,
    "first_power_d": 5.0,
    "first_sd_d": 0.4,
    "focus_mm": 24.0,
    "frequency_cpd": 12.0,
    "from_index": 1.332,
    "from_mm": 12.0,
    "front_power_d": 6.0,
    "front_surface_d": 5.0,
    "gaze_down_mm": 8.0,
    "height_mm": 8.7,
    "hole_mm": 1.6,
    "image_vergence_d": 5.0,
    "in_focus_nm": 555.0,
    "index": 1.336,
    "index_after": 1.376,
    "index_before": 1.0,
    "index_behind": 1.376,
    "intermediate_step": 0.3,
    "iol_power_d": 20.5,
    "k1_axis_deg": 10.0,
    "k1_d": 43.0,
    "k2_d": 44.0,
    "k_after_d": 38.0,
    "k_before_d": 43.5,
    "k_d": 43.5,
    "left_d": 1.0,
    "left_magnification": 1.02,
    "left_power_d": 21.0,
    "lens_add_d": 3.5,
    "lens_position_mm": 5.4,
    "lens_power_d": 20.0,
    "lens_sa6_um": 0.0,
    "lens_sa_um": -0.2,
    "lens_thickness_mm": 4.5,
    "lens_to_principal_mm": 14.0,
    "letter_mm": 1.5,
    "limit_d": 0.5,
    "limit_logmar": 0.2,
    "logmar": 0.1,
    "mask_mm": 3.6,
    "minus_axis_deg": 30.0,
    "misalignment_deg": 10.0,
    "near_step": 0.3,
    "new_position_mm": 4.0,
    "object_distance_m": -0.4,
    "object_vergence_d": -2.0,
    "old_position_mm": 4.5,
    "old_power_d": 20.0,
    "optical_path_mm": 32.0,
    "p": 0.04,
    "pacd_mm": 5.2,
    "plane_mm": 24.0,
    "position_mm": 3.2,
    "posterior_mm": 6.5,
    "power": 0.8,
    "power_d": 5.0,
    "predicted_d": 0.1,
    "prediction_error_d": np.array([0.1, -0.2, 0.3]),
    "print_m_units": 1.0,
    "pupil_depth_mm": 3.0,
    "pupil_mm": 3.0,
    "radius": 0.5,
    "radius_mm": 7.8,
    "ratio": 0.82,
    "refraction_after_d": 0.0,
    "refraction_before_d": -6.0,
    "refraction_d": -2.0,
    "retinal_thickness_mm": 0.2,
    "right_d": 2.0,
    "right_magnification": 1.03,
    "right_power_d": 20.0,
    "rms_um": 0.2,
    "sa6_um": 0.0,
    "sa_um": 0.1,
    "sd_d": 0.4,
    "second_power_d": 3.0,
    "second_sd_d": 0.45,
    "separation_m": 0.01,
    "spacing_d": 2.5,
    "spectacle_d": -3.0,
    "speed_m_per_s": 1555.0,
    "sphere_d": 1.0,
    "standard_d": 60.0,
    "step": 0.5,
    "step_d": 0.5,
    "surgeon_factor_mm": 1.5,
    "target_d": -0.5,
    "thickness_mm": 0.55,
    "to_index": 1.3375,
    "to_mm": 0.0,
    "toric_at_cornea_d": 1.0,
    "treated_d": -5.0,
    "u_mm2": 1.0,
    "used_share": 0.5,
    "usual_power_d": 20.5,
    "vergence_d": -2.0,
    "vertex_mm": 12.0,
    "viewing_distance_m": 4.0,
    "wavelength_nm": 555.0,
    "white_to_white_mm": 12.0,
    "width_arcmin": 60.0,
    "width_mm": 0.6,
    "within_d": 0.1,
    "x_d": 0.3,
    "y_d": 0.2,
    "zone_mm": 6.0,
}
"""A usual value of each parameter that takes a number, or numbers."""

WHOLE_NUMBERS = {
    "count": 3,
    "letters_per_row": 5,
    "m": 0,
    "n": 2,
    "pixels": 21,
    "resamples": 99,
    "rings": 3,
    "seed": 0,
    "spokes": 6,
    "year": 2011,
}

ROWS = {
    "coma_um": (0.0, 0.1),
    "decentration_mm": (0.1, 0.0),
    "lamps_arcmin": ((0.0, 0.0),),
    "near_rings_mm": ((0.6, 1.1), (1.6, 1.9)),
    "normal_mm": (7.8, 6.5, 0.55),
    "rows_logmar": [0.5, 0.3],
    "shape": (200, 400),
    "scene": np.ones((4, 4)),
    "tilt_deg": (0.0, 1.0),
    "waves": np.ones((4, 4)),
}
"""Several numbers whose shape is fixed."""

OBJECTS = {
    "after": ASTIGMATISM,
    "astigmatism": ASTIGMATISM,
    "before": ASTIGMATISM,
    "blended": True,
    "corneal": ASTIGMATISM,
    "data": {},
    "directions": np.array([[0.0, 0.0, 1.0]]),
    "eye": EYE,
    "eyes": COHORT,
    "errors_d": {"a": [0.1, -0.2, 0.3], "b": [0.2, 0.1, -0.3]},
    "fellow_lens": lenses.monofocal(),
    "found": core.Steps(43.0, 23.7, 5.0),
    "left": EYE,
    "lens": lenses.diffractive_bifocal(),
    "lens_constants": LensConstants.from_a_constant(118.4),
    "measured": ASTIGMATISM,
    "patient": findings.Patient(),
    "placement": retina.Placement(),
    "points_mm": np.array([[0.0, 0.0, -1.0]]),
    "reference": lenses.monofocal(),
    "refraction": sphero_cylinder.SpheroCylinder(1.0, -1.0, 30.0),
    "right": EYE,
    "spread": error_budget.Spread(),
    "start": LensConstants.from_a_constant(118.4),
    "surfaces": (SURFACE,),
    "system": ray_trace.ConicSystem((SURFACE,)),
    "tasks": tasks.TASKS[:1],
}

WORDS = {
    "flag": "negative_power",
    "formula": "srk_t",
    "formulas": ("srk_t", "t2"),
    "given": "decimal",
    "laser": "myopic",
    "law": "thibos",
    "lens_class": "monofocal",
    "medium": "cornea",
    "name": "N",
    "names": ("N", "C"),
    "population": "average",
    "regression": "eom",
    "statistic": "sd",
    "text": "",
    "version": "maloney",
    "vitreous": "vitreous",
    "wanted": "logmar",
}

SPECIAL = {
    "choice.outlook.outlook": {"eye": EyeWithLens(lenses.monofocal()), "correlation": 0.5},
    "choice.outlook.outlook_for": {"correlation": 0.5},
    "choice.everyday_tasks.Task": {"name": "a page", "distance_m": 0.4},
    "optics.acuity.convert": {"value": 0.5},
    "optics.acuity.smith_logmar": {"defocus_d": -2.0},
    "optics.acuity.blendowske_logmar": {"sphere_d": 1.0},
    "optics.lenses.extended_depth": {"step": 1.4},
    "optics.lenses.Diffractive": {"steps": (0.5,)},
    "optics.model_eyes.ModelEye": {"radius_mm": (7.8,), "thickness_mm": (), "index": (1.0, 1.336)},
    "optics.model_eyes.axial_length": {"eye": model_eyes.navarro()},
    "optics.model_eyes.get": {"name": "gullstrand_exact"},
    "optics.model_eyes.refraction": {"eye": model_eyes.navarro()},
    "optics.paraxial.System": {"radius_mm": (7.8,), "thickness_mm": (), "index": (1.0, 1.336)},
    "optics.paraxial.cardinal_points": {"system": paraxial.System((7.8,), (), (1.0, 1.336))},
    "optics.spectacles.prism": {"decentration_mm": 5.0},
    "optics.through_focus.usable_stretches_d": {
        "vergence_d": [0.0, -1.0, -2.0],
        "logmar": [0.0, 0.1, 0.4],
    },
    "optics.ray_trace.Surface": {"vertex_mm": (0.0, 0.0, 0.0)},
    "power.error_budget.simulated_errors": {"n": 10},
    "power.pseudophakia.pseudophakic_refraction": {},
    "power.toric.cylinder_ratio_approximate": {},
    "power.toric.double_angle_statistics": {
        "astigmatism": sphero_cylinder.SpheroCylinder(
            np.array([-0.5, 0.0, -0.2]), np.array([1.0, 0.5, 0.4]), np.array([80.0, 10.0, 95.0])
        )
    },
    "power.report.names": {"text": "srk_t"},
}
"""A usual value where a parameter's name alone does not tell it."""

INNER = {
    "optics.domain": "they are what accepts or refuses",
    "optics.fourier_bessel": "engines behind through_focus, which checks",
    "optics.notation": "writes one number of the course's own",
    "optics.spread": "engines behind retina, which checks",
    "optics.through_focus.signed_contrast": "takes a Viewing, checked when it was made",
    "optics.through_focus.acuity_of": "takes a Viewing, checked when it was made",
    "optics.through_focus.divided": "for with_less_contrast, which checks, and choice.sight",
    "optics.through_focus.range_from_far_d": "takes what usable_stretches_d returned",
    "optics.viewing.white_light": "for a pupil that a Viewing has checked",
    "power.thin_lens": "steps of formulas, reached through formulas.steps, which checks",
    "power.regression": "steps of formulas, reached through formulas.steps, which checks",
    "power.formula_record": "records of formulas: tests/test_registry.py",
    "power.prediction_errors.require_errors": "accepts or refuses",
    "optics.sphero_cylinder.require_sphero_cylinder": "accepts or refuses",
    "power.biometry.require_eye": "accepts or refuses",
    "power.lens_constants.require_lens_constants": "accepts or refuses",
    "power.pseudophakia.optics_of": "for functions of pseudophakia and error_budget, which check",
    "choice.rules": "read from a file: tests/test_candidacy.py",
    "choice.vocabulary": "read from a file: tests/test_candidacy.py",
    "choice.candidacy.advise": "takes a Book and values that were checked: tests/test_candidacy.py",
    "choice.candidacy.speaks_of_wishes": "takes a rule as read: tests/test_plans.py",
    "choice.counselling.wording": "a path: tests/test_counselling.py",
    "choice.counselling.source_of": "takes a table as read: tests/test_evidence.py",
    "choice.evidence": "read from a file: tests/test_evidence.py",
    "choice.sight.in_light": "for tasks and outlook; takes eyes, checked when they were made",
    "choice.tasks.gain_between": "takes what eyes_of returned",
    "choice.tasks.hold_tasks": "accepts or refuses",
    "choice.two_eyes.together": "for together_logmar and tasks, which check",
    "choice.findings": "dictionaries from files: tests/test_candidacy.py",
    "choice.populations.verdicts": "a dictionary of columns: tests/test_populations.py",
}
"""What is not for the outside, and why."""


def public():
    """Full name → function or checked dataclass."""
    found = {}
    for floor in (optics, power, choice):
        for module in pkgutil.iter_modules(floor.__path__):
            whole = importlib.import_module(f"{floor.__name__}.{module.name}")
            for name, thing in vars(whole).items():
                if name.startswith("_") or getattr(thing, "__module__", "") != whole.__name__:
                    continue
                is_function = inspect.isroutine(thing) or hasattr(thing, "cache_info")
                checked = inspect.isclass(thing) and "__post_init__" in vars(thing)
                if is_function or checked:
                    found[f"{whole.__name__.removeprefix('shared_utils.')}.{name}"] = thing
    for name in ("from_a_constant", "from_pacd", "from_surgeon_factor"):
        found[f"power.lens_constants.LensConstants.{name}"] = getattr(LensConstants, name)
    return found


PUBLIC = {
    name: thing
    for name, thing in public().items()
    if name not in INNER and name.rpartition(".")[0] not in INNER
}
KNOWN = NUMBERS | WHOLE_NUMBERS | ROWS | OBJECTS | WORDS


def parameters(name):
    return {
        p.name: p
        for p in inspect.signature(PUBLIC[name]).parameters.values()
        if p.kind is not p.VAR_KEYWORD
    }


def usual(name):
    """Usual arguments of a function: a given value of each parameter, or its default."""
    values = {}
    for parameter in parameters(name).values():
        special = SPECIAL.get(name, {})
        if parameter.name in special:
            values[parameter.name] = special[parameter.name]
        elif parameter.default is not parameter.empty:
            values[parameter.name] = parameter.default
        else:
            assert parameter.name in KNOWN, f"{name}: no usual value of {parameter.name}"
            values[parameter.name] = KNOWN[parameter.name]
    return values


def is_number(value):
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def takes_numbers(name, parameter):
    value = usual(name)[parameter]
    return is_number(value) or (value is None and parameter in NUMBERS)


PLACES = [(name, parameter) for name in PUBLIC for parameter in parameters(name)]
NUMERIC = [place for place in PLACES if takes_numbers(*place)]


def call(full_name, **changed):
    return PUBLIC[full_name](**{**usual(full_name), **changed})


class Quantity:
    """A number with a unit, as libraries of units make them."""

    units = "millimetre"

    def __array__(self, dtype=None, copy=None):
        return np.array(23.5)


def sentence_for(name, parameter, value):
    """The one sentence that a value gets, or a failure that tells what happened instead."""
    try:
        with np.errstate(all="raise"):
            got = call(name, **{parameter: value})
    except ValueError as error:
        sentence = str(error)
    except Exception as error:
        pytest.fail(f"{name}({parameter}={value!r}) raised {type(error).__name__}: {error}")
    else:
        pytest.fail(f"{name}({parameter}={value!r}) answered {got!r}"[:300])
    assert "\n" not in sentence
    assert sentence[-1] in ".?", sentence
    assert 20 < len(sentence) < 500
    return sentence


BAD_NUMBERS = {
    "masked": np.ma.array([20.0, 21.0], mask=[False, True]),
    "masked one": np.ma.masked,
    "masked in a list": [20.0, np.ma.masked],
    "nan": float("nan"),
    "nan in a row": [20.0, float("nan")],
    "text": "20",
    "texts": ["20", "21"],
    "complex": 20.0 + 1.0j,
    "booleans": np.array([True, False]),
    "boolean": True,
    "boolean in a list": [20.0, True],
    "objects": np.array([20.0, None], dtype=object),
    "quantity": Quantity(),
    "dictionary": {"power": 20.0},
    "huge": 10**400,
}


def test_what_is_left_out_exists():
    names = public()
    for name in INNER:
        assert any(full == name or full.rpartition(".")[0] == name for full in names), name
    for name in SPECIAL:
        assert name in PUBLIC
    assert len(NUMERIC) > 250


@pytest.mark.parametrize("name", PUBLIC)
def test_usual_values_are_answered(name):
    call(name)


@pytest.mark.parametrize(("name", "parameter"), NUMERIC)
def test_a_bad_number_gets_one_sentence(name, parameter):
    for bad in BAD_NUMBERS.values():
        sentence_for(name, parameter, bad)
    if parameters(name)[parameter].default is not None:
        sentence_for(name, parameter, None)


@pytest.mark.parametrize(("name", "parameter"), [place for place in PLACES if place not in NUMERIC])
def test_what_is_no_such_object_gets_one_sentence(name, parameter):
    value = usual(name)[parameter]
    bad = [{"a": 1}, (1.0, "x"), object(), np.ma.array([1.0, 2.0], mask=[True, False])]
    if not isinstance(value, (tuple, list, np.ndarray)):
        bad.append(23.5)  # in place of a row one number may do
    if parameter not in ("name", "source") or not inspect.isclass(PUBLIC[name]):
        bad.append("no such thing")
    if parameters(name)[parameter].default is not None:
        bad.append(None)
    for one in bad:
        sentence_for(name, parameter, one)


@st.composite
def bad_arrays(draw):
    """Arrays of usual numbers with a mask, a nan or a word somewhere among them."""
    shape = draw(st.sampled_from([(), (1,), (3,), (2, 2)]))
    values = np.full(shape, draw(st.floats(1.0, 40.0)))
    place = tuple(draw(st.integers(0, side - 1)) for side in shape)
    kind = draw(st.sampled_from(["mask", "nan", "object"]))
    if kind == "mask":
        mask = np.zeros(shape, bool)
        mask[place] = True
        return np.ma.array(values, mask=mask)
    if kind == "object":
        values = values.astype(object)
    values[place] = float("nan") if kind == "nan" else draw(st.sampled_from([None, "x", 1j, b"1"]))
    return values


@given(
    place=st.sampled_from(NUMERIC),
    value=st.one_of(bad_arrays(), st.text(), st.binary(), st.complex_numbers(), st.booleans()),
)
@settings(max_examples=400, deadline=None)
def test_no_bad_number_anywhere_is_dropped_or_gets_a_traceback(place, value):
    sentence_for(*place, value)


@given(
    place=st.sampled_from([place for place in NUMERIC if place[0].startswith("power.")]),
    value=ANYTHING,
)
@settings(max_examples=1500, deadline=None)
def test_formulas_answer_finite_numbers_or_one_sentence(place, value):
    name, parameter = place
    answer(call, name, **{parameter: value})


def test_the_place_of_what_is_wrong_is_named():
    lens = LensConstants.from_a_constant(118.4)
    for value, words in (
        ([0.0, float("nan")], "target_d[1] is nan"),
        ([0.0, None], "target_d[1] is None, not a number"),
        (["x", 0.0], "target_d[0] is 'x', not a number"),
        (np.ma.array([0.0, 1.0], mask=[False, True]), "target_d holds masked values"),
        (Quantity(), "which carries a unit; give the plain number in D."),
    ):
        sentence = sentence_for("power.formulas.iol_power", "target_d", value)
        assert words in sentence
    assert call("power.formulas.iol_power", lens_constants=lens) > 0.0


def test_a_mask_that_hides_nothing_and_columns_of_a_table_are_taken_by_value():
    pandas = pytest.importorskip("pandas")
    lengths_mm = np.array([22.0, 23.5, 26.0])
    want = call("power.formulas.iol_power", eye=Eye(lengths_mm, 43.5))
    for given_mm in (np.ma.array(lengths_mm), pandas.Series(lengths_mm), list(lengths_mm)):
        found = call("power.formulas.iol_power", eye=Eye(given_mm, 43.5))
        np.testing.assert_array_equal(found, want)
        assert type(found) is np.ndarray
    with pytest.raises(ValueError, match=r"axial_length_mm\[1\] is nan"):
        Eye(pandas.Series([22.0, None, 26.0]), 43.5)


WRONG_TYPES = {
    "lens_constants is 118.8, a number; give LensConstants.from_a_constant(118.8).": (
        "power.formulas.iol_power",
        {"lens_constants": 118.8},
    ),
    "lens_constants is 5.2, a number; give LensConstants.from_a_constant(118.4).": (
        "power.formulas.iol_power",
        {"lens_constants": 5.2},
    ),
    "formula is 'SRK/T'; write 'srk_t'.": ("power.formulas.iol_power", {"formula": "SRK/T"}),
    "eye is (23.5, 43.5), a tuple; give an Eye, such as Eye(axial_length_mm=23.5, k1_d=43.5).": (
        "power.formulas.iol_power",
        {"eye": (23.5, 43.5)},
    ),
    "lens is 'monofocal', text; give a lens, such as lenses.monofocal().": (
        "optics.through_focus.mtf",
        {"lens": "monofocal"},
    ),
    "lens is <function monofocal at": ("optics.through_focus.mtf", {"lens": lenses.monofocal}),
    "lens is 'monofocal', text; give a lens, such as LENS_OF['monofocal'].": (
        "choice.tasks.glasses_needed",
        {"lens": "monofocal"},
    ),
}


@pytest.mark.parametrize("sentence", WRONG_TYPES)
def test_a_wrong_type_is_told_what_to_give(sentence):
    name, changed = WRONG_TYPES[sentence]
    ((parameter, value),) = changed.items()
    found = sentence_for(name, parameter, value)
    assert found.startswith(sentence) if sentence[-1] != "." else found == sentence

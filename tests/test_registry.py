"""The registry of formulas: one record is all that a formula needs, and a faulty one is refused."""

import re
from dataclasses import replace

import numpy as np
import pytest

from shared_utils import cli
from shared_utils.power import audit, cornea, formulas, report
from shared_utils.power.biometry import Eye
from shared_utils.power.constants import optimise
from shared_utils.power.core import Steps
from shared_utils.power.formula_record import Formula, LongEyeLine
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.long_eyes import adjusted_length
from shared_utils.power.registry import FORMULAS, Registry

LENS = LensConstants.from_a_constant(118.4)
EYE = Eye(23.5, 43.5)
LINE = ["power", "--axial-length", "23.5", "--k", "43.5", "--a-constant", "118.4"]


def midway(eye, lens_constants, elp_k_d=None):
    """Return the steps of a formula for this test: the lens at a fifth of the eye's length.

    Sources
    -------
    Nobody, J Invented Formulas 2027;1:1.
    """
    length_mm = np.asarray(eye.axial_length_mm)
    return Steps(
        cornea_d=eye.mean_k_d,
        optical_length_mm=eye.axial_length_mm,
        elp_mm=0.2 * length_mm + np.asarray(lens_constants.pacd_mm) - 5.0,
        flags={"far_back": length_mm > 26.0},
    )


MIDWAY = Formula(
    midway,
    title="Midway",
    year=2027,
    constant="pacd_mm",
    keratometric_index=1.3375,
    position_uses_k=False,
    in_cohorts=True,
    in_consultations=True,
    long_eye_lines={2011: LongEyeLine(0.9, 2.5, 25.0, False)},
    warnings={"far_back": "longer than 26 mm: the lens lies far back."},
    note="made up for a test.",
)


@pytest.fixture
def toy():
    with FORMULAS.registered(MIDWAY):
        yield
    assert "midway" not in FORMULAS


def by_hand(eye, power_d, elp_mm):
    """Refraction at the cornea of a thin cornea and a thin lens in 1.336, from the retina out."""
    vergence = 1336.0 / (eye.axial_length_mm - elp_mm) - power_d
    return vergence / (1.0 + elp_mm / 1336.0 * vergence) - eye.mean_k_d


@pytest.mark.usefixtures("toy")
def test_a_formula_of_one_record_gives_powers_and_predictions():
    power_d = formulas.iol_power(EYE, "midway", LENS)
    assert by_hand(EYE, power_d, 4.7 + LENS.pacd_mm - 5.0) == pytest.approx(0.0, abs=1e-9)
    found_d = formulas.predicted_refraction(EYE, "midway", LENS, 21.0, vertex_mm=0.0)
    assert found_d == pytest.approx(by_hand(EYE, 21.0, 4.7 + LENS.pacd_mm - 5.0), abs=1e-9)


@pytest.mark.usefixtures("toy")
def test_a_formula_of_one_record_is_optimised_and_audited():
    eyes = Eye(np.linspace(22.0, 26.0, 40), 43.5, acd_mm=3.1)
    truth = LENS.with_constant("midway", 5.6)
    power_d = np.round(2.0 * formulas.iol_power(eyes, "midway", truth)) / 2.0
    achieved_d = formulas.predicted_refraction(eyes, "midway", truth, power_d)
    assert optimise(eyes, "midway", power_d, achieved_d, LENS).pacd_mm == pytest.approx(5.6)
    found = audit.audit(eyes, power_d, achieved_d, FORMULAS.where("in_cohorts"), LENS)
    assert [row.formula for row in found.formulas][-1] == "midway"
    assert found.formulas[-1].after.sd_d == pytest.approx(0.0, abs=1e-6)


@pytest.mark.usefixtures("toy")
def test_a_formula_of_one_record_stands_beside_the_others(capsys):
    found, _ = report.side_by_side(Eye(27.0, 43.5), LENS, ["t2", "midway"])
    assert (found[1].constant_name, found[1].constant) == ("pacd_mm", LENS.pacd_mm)
    assert found[1].warnings == ("longer than 26 mm: the lens lies far back.",)
    assert report.names("all")[-1] == "midway"
    assert adjusted_length(30.0, "midway") == pytest.approx(29.5)
    assert FORMULAS.titles(FORMULAS.where("in_consultations"))["midway"] == "Midway"
    assert cli.main(LINE) == 0
    out = " ".join(capsys.readouterr().out.split())
    power_d = formulas.iol_power(EYE, "midway", LENS)
    assert re.search(rf"midway pACD 5\.20 mm 4\.90 {power_d:.2f}", out)
    assert "midway: made up for a test." in out
    assert "midway: Nobody, J Invented Formulas 2027;1:1." in out


@pytest.mark.usefixtures("toy")
def test_a_formula_of_one_record_is_listed_shown_step_by_step_and_audited(capsys, tmp_path):
    assert cli.main(["power", "--list"]) == 0
    assert re.search(r"midway +Midway +2027 +pACD +no +yes", capsys.readouterr().out)
    assert cli.main([*LINE, "--steps", "midway"]) == 0
    assert "midway, with the constant pACD 5.20 mm." in capsys.readouterr().out
    file = tmp_path / "cohort.csv"
    assert cli.main(["power", "--example", str(file)]) == 0
    assert cli.main(["power", "--csv", str(file), "--a-constant", "118.8"]) == 0
    assert re.search(r"^midway +pACD", capsys.readouterr().out, re.MULTILINE)


@pytest.mark.usefixtures("toy")
@pytest.mark.parametrize("spelled", ["Midway", "midwai", "MIDWAY", "mid way"])
def test_a_formula_of_one_record_is_the_nearest_to_its_name_misspelled(spelled):
    with pytest.raises(ValueError, match="write 'midway'"):
        formulas.iol_power(EYE, spelled, LENS)


@pytest.mark.parametrize(
    ("spelled", "meant"),
    [
        *(pytest.param(record.title, name) for name, record in FORMULAS.items()),
        ("SRKT", "srk_t"),
        ("srk-2", "srk_2"),
        ("Holladay-1", "holladay_1"),
        ("hofferq", "hoffer_q"),
        ("Hagis", "haigis"),
    ],
)
def test_a_title_or_a_slip_is_answered_with_the_name(spelled, meant):
    with pytest.raises(ValueError, match=f"write '{meant}'") as caught:
        FORMULAS.find(spelled)
    assert str(caught.value) == f"formula is {spelled!r}; write {meant!r}."


@pytest.mark.parametrize("name", [None, 3, ["t2"], "", "xyz"])
def test_what_is_near_no_name_is_answered_with_all(name):
    with pytest.raises(ValueError, match=rf"give one of: {', '.join(FORMULAS)}\.$"):
        FORMULAS.find(name)


def nameless(eye, lens_constants, elp_k_d=None):
    """Return nothing, and tell no source."""


FAULTS = {
    "no source": ({"function": nameless}, 'no part "Sources"'),
    "no function": ({"function": None}, "no named function"),
    "lambda": ({"function": lambda eye, lens, k=None: None}, "no named function"),
    "no title": ({"title": " "}, "has no title"),
    "no year": ({"year": None}, "has the year None"),
    "constant": ({"constant": "acd"}, "give one of: a_constant, pacd_mm"),
    "index": ({"keratometric_index": 337.5}, "give 1.3 to 1.4"),
    "measurement": ({"measurements": ("pupil_mm",)}, "needs pupil_mm; an eye has:"),
    "double-K": ({"position_uses_k": None}, "give True or False"),
}


@pytest.mark.parametrize("fault", FAULTS)
def test_a_faulty_record_is_refused_by_name(fault):
    change, sentence = FAULTS[fault]
    with pytest.raises(ValueError, match=sentence) as caught:
        replace(MIDWAY, **change)
    assert str(caught.value).endswith(".")


def test_a_record_without_a_field_is_no_record():
    with pytest.raises(TypeError, match="constant"):
        Formula(midway, title="Midway", year=2027, keratometric_index=1.3375, position_uses_k=True)


@pytest.mark.parametrize("change", [{}, {"title": "srk-t"}, {"title": "Other"}])
def test_a_name_or_title_that_is_taken_is_refused(change):
    with pytest.raises(ValueError, match=r"Two formulas have the (name|title)"):
        Registry([*FORMULAS.values(), MIDWAY, replace(MIDWAY, **change)])


def test_a_warning_without_words_is_refused():
    with (
        FORMULAS.registered(replace(MIDWAY, warnings={})),
        pytest.raises(ValueError, match="does not say what its warning 'far_back' means"),
    ):
        report.side_by_side(Eye(27.0, 43.5), LENS, ["midway"])


@pytest.mark.parametrize("name", [n for n in FORMULAS if not n.startswith("srk_1")])
def test_a_record_s_year_is_that_of_its_source(name):
    assert str(FORMULAS[name].year) in FORMULAS[name].source


@pytest.mark.parametrize("name", [n for n in FORMULAS if n not in ("srk_1", "srk_2")])
def test_a_formula_makes_corneal_power_with_the_index_of_its_record(name):
    eye = Eye(23.5, 43.5, acd_mm=3.1)
    found_d = formulas.steps(eye, name, LENS).cornea_d
    index = FORMULAS[name].keratometric_index
    # Binkhorst's cornea of 4/3 focuses at 4 R, which counts as 334 / R in a sum with 1336
    tolerance_d = 0.1 if name.startswith("binkhorst") else 1e-9
    assert found_d == pytest.approx(
        cornea.keratometry(eye.corneal_radius_mm, index), abs=tolerance_d
    )


@pytest.mark.parametrize("name", FORMULAS)
def test_a_formula_needs_what_its_record_says(name):
    whole = Eye(23.5, 43.5, acd_mm=3.1)
    formulas.iol_power(whole, name, LENS)
    assert FORMULAS[name].measured_in(whole)
    without = replace(whole, acd_mm=None)
    if FORMULAS[name].measured_in(without):
        formulas.iol_power(without, name, LENS)
    else:
        with pytest.raises(ValueError, match="needs acd_mm"):
            formulas.iol_power(without, name, LENS)

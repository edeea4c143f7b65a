"""The usual slips in programming the formulas, each with the wrong number that betrays it.

Every slip is the three numbers of the thin-lens sum with one step wrong; the sum is written here.
"""

import math
import tomllib
from pathlib import Path

import pytest

from shared_utils.power import formulas
from shared_utils.power.biometry import Eye
from shared_utils.power.lens_constants import LensConstants

OUTSIDE = tomllib.loads(
    (Path(__file__).parent / "outside" / "formulas.toml").read_text(encoding="utf-8")
)["slips"]
LENS = LensConstants.from_a_constant(OUTSIDE["a_constant"])


def thin_lens_power(cornea, length, elp, rx=0.0):
    z = cornea + rx / (1 - 0.012 * rx)
    return 1336 / (length - elp) - 1336 / (1336 / z - elp)


def srk_t(eye, slip):
    length, k = eye["axial_length_mm"], eye["k_d"]
    r = 337.5 / k
    corrected = length
    if length > 24.2 and slip != "length not corrected":
        corrected = -3.446 + 1.716 * length - 0.0237 * length**2
    width = -5.41 + 0.58412 * corrected + 0.098 * k
    elp = r - math.sqrt(r**2 - width**2 / 4) + 0.62467 * LENS.a_constant - 68.747
    elp -= 0.0 if slip == "3.336 not taken off" else 3.336
    optical = length + (0.0 if slip == "no retinal thickness" else 0.65696 - 0.02029 * length)
    cornea = {"keratometry used as corneal power": k, "corneal index 4/3": 1000 / 3 / r}
    target = {"target of -0.50 with the wrong sign": 0.5, "none, target -0.50": -0.5}
    return thin_lens_power(cornea.get(slip, 333 / r), optical, elp, target.get(slip, 0.0))


def holladay_1(eye, slip):
    length, k = eye["axial_length_mm"], eye["k_d"]
    r = 337.5 / k
    width = 12.5 * length / 23.45
    if slip != "width not capped":
        width = min(width, 13.5)
    rag = max(r, 7.0)
    elp = rag - math.sqrt(rag**2 - width**2 / 4) + LENS.surgeon_factor_mm
    elp += 0.0 if slip == "no 0.56 mm" else 0.56
    cornea = k if slip == "keratometry used as corneal power" else 1000 / 3 / r
    return thin_lens_power(cornea, length + (0.0 if slip == "no 0.2 mm" else 0.2), elp)


def hoffer_q(eye, slip):
    length, k = eye["axial_length_mm"], eye["k_d"]
    short = length <= 23.0
    if slip == "branches swapped":
        short = not short
    sign, middle = (1, 28.0) if short else (-1, 23.5)
    if slip == "sign always plus":
        sign = 1
    angle = float if slip == "angles in radians" else math.radians
    tangent = math.tan(angle(k))
    elp = LENS.pacd_mm + 0.3 * (length - 23.5)
    elp += tangent if slip == "tangent not squared" else tangent**2
    elp += 0.1 * sign * (23.5 - length) ** 2 * math.tan(angle(0.1 * (middle - length) ** 2))
    elp += 0.99166 if slip == "0.99166 added" else -0.99166
    elp += 0.0 if slip == "no 0.05 mm" else 0.05
    return thin_lens_power(k * 1000 / 3 / 337.5 if slip == "corneal index 4/3" else k, length, elp)


def haigis(eye, slip):
    length, k, depth = eye["axial_length_mm"], eye["k_d"], eye["acd_mm"]
    if slip == "depth from the endothelium":
        depth -= 0.53
    cornea = k if slip == "corneal index 1.3375" else 331.5 * k / 337.5
    return thin_lens_power(cornea, length, LENS.a0 + 0.4 * depth + 0.1 * length)


WRONG_WAYS = {"srk_t": srk_t, "holladay_1": holladay_1, "hoffer_q": hoffer_q, "haigis": haigis}


@pytest.mark.parametrize(
    "case", OUTSIDE["cases"], ids=lambda c: f"{c['formula']}-{c['eye']}-{c['slip']}"
)
def test_a_slip_gives_its_own_wrong_number(case):
    eye = OUTSIDE[case["eye"]]
    wrong = WRONG_WAYS[case["formula"]](eye, case["slip"])
    assert wrong == pytest.approx(case["power_d"], abs=OUTSIDE["tolerance_d"])
    target_d = -0.5 if "target" in case["slip"] else 0.0
    measured = Eye(eye["axial_length_mm"], eye["k_d"], acd_mm=eye["acd_mm"])
    right = formulas.iol_power(measured, case["formula"], LENS, target_d)
    if case["slip"].startswith("none"):
        assert right == pytest.approx(wrong, abs=1e-9)
    else:
        assert abs(right - wrong) > 0.02  # far enough to be told from rounding

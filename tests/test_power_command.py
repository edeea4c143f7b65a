"""The command ``power``: every number on the screen, and one sentence for whatever goes wrong."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import numpy as np
import pytest

from shared_utils import CAUTION, cli
from shared_utils.clinic import cohort, cohort_file
from shared_utils.power import (
    audit,
    constants,
    formula_comparison,
    formulas,
    prediction_errors,
    report,
)
from shared_utils.power.biometry import Eye
from shared_utils.power.core import WARNINGS

ROOT = Path(__file__).parent.parent
OUTSIDE = tomllib.loads((ROOT / "tests/outside/formulas.toml").read_text(encoding="utf-8"))
LENS = constants.LensConstants.from_a_constant(118.4)
EYE = ["power", "--axial-length", "23.5", "--k", "43.5", "--a-constant", "118.4"]
NUMBER = r"[+-]?\d+\.\d+"


def run(capsys, *line):
    """Exit code, output and complaint of one command line."""
    try:
        code = cli.main([str(part) for part in line])
    except SystemExit as stopped:  # argparse
        code = stopped.code
    message = capsys.readouterr()
    return code, message.out, message.err


def row_of(out, first):
    (line,) = re.findall(rf"^{first} .*$", out, re.MULTILINE)
    return line


def in_one_line(text):
    return " ".join(text.split())


@pytest.fixture
def invented(tmp_path, capsys):
    path = tmp_path / "eyes.csv"
    assert run(capsys, "power", "--example", path)[0] == 0
    return path


@pytest.mark.parametrize("lens", OUTSIDE["emmetropia"]["lens"], ids=lambda x: x["a_constant"])
@pytest.mark.parametrize("at", range(0, 16, 3))
def test_powers_are_those_of_the_outside_table(capsys, lens, at):
    case = lens["cases"][at]
    line = ["power", "--a-constant", lens["a_constant"], "--axial-length", case["axial_length_mm"]]
    code, out, _ = run(capsys, *line, "--k", case["k_d"], "--acd", case["acd_mm"])
    assert code == 0
    for name in formulas.FORMULAS:
        power = float(re.findall(NUMBER, row_of(out, name))[-3])
        assert power == pytest.approx(case[name], abs=0.006)


def test_position_half_step_and_what_it_leaves_are_those_of_the_outside_table(capsys):
    detail = OUTSIDE["detail"]
    case = detail["cases"][0]
    assert case["eye"] == "average"
    for target, place in (("-0.5", 1), ("-2", 2), ("0", None)):
        code, out, _ = run(capsys, *EYE, "--acd", "3.15", "--target", target)
        assert code == 0
        for name in ("srk_t", "t2", "holladay_1", "hoffer_q", "haigis"):
            position, power, half, leaves = map(float, re.findall(NUMBER, row_of(out, name))[1:])
            assert position == pytest.approx(case[name][0], abs=0.006)
            if place:
                assert power == pytest.approx(case[name][place], abs=0.006)
                assert half == round(power * 2.0) / 2.0
            elif half == case[name][3]:  # the table's lens, where it is the nearest
                assert leaves == pytest.approx(case[name][4], abs=0.006)


def test_every_way_of_asking_reaches_the_formulas(capsys):
    line = ["--k2", "45", "--acd", "3.3", "--target", "-1", "--vertex", "14", "--elp-k", "42"]
    _, out, _ = run(capsys, *EYE, *line, "--formula", "holladay_1,haigis")
    eye = Eye(23.5, 43.5, 45.0, acd_mm=3.3)
    for name in ("holladay_1", "haigis"):
        wanted = formulas.trace_power(eye, name, LENS, -1.0, 14.0, 42.0)
        half = round(wanted.answer_d * 2.0) / 2.0
        leaves = formulas.predicted_refraction(eye, name, LENS, half, 14.0, 42.0)
        shown = [float(n) for n in re.findall(NUMBER, row_of(out, name))][1:]
        assert shown == pytest.approx(
            [wanted.named["elp_mm"], wanted.answer_d, half, leaves], abs=0.006
        )
    assert "srk_t" not in out
    assert f"haigis: {WARNINGS['elp_k_unused']}" in out
    assert "K for the position 42.00 D" in in_one_line(out)


@pytest.mark.parametrize("name", formulas.FORMULAS)
def test_every_formula_shows_its_source_and_its_steps(capsys, name):
    code, out, _ = run(capsys, *EYE, "--acd", "3.15", "--target", "-0.5", "--steps", name)
    assert code == 0
    eye = Eye(23.5, 43.5, acd_mm=3.15)
    trace = formulas.trace_power(eye, name, LENS, -0.5)
    there, back = out.split("Back from a lens of")
    shown = [float(n) for n in re.findall(rf"^  \S.*? ({NUMBER})(?: \S+)?$", there, re.MULTILINE)]
    assert shown == pytest.approx(list(trace.named.values()), abs=0.0006)
    half = float(re.match(rf" ({NUMBER}) D", back)[1])
    leaves = float(re.search(rf"^  refraction +({NUMBER}) D$", back, re.MULTILINE)[1])
    assert leaves == pytest.approx(formulas.predicted_refraction(eye, name, LENS, half), abs=0.0006)
    assert formulas.FORMULAS[name].source in in_one_line(out)
    assert re.search(r"[A-Z]\w+.*(19|20)\d\d", formulas.FORMULAS[name].source)
    assert in_one_line(out).endswith(CAUTION)
    assert ("about 1 D more power" in in_one_line(out)) == (name == "haigis")


def test_the_table_warns_of_a_converted_haigis_in_its_row_and_below(capsys):
    _, out, _ = run(capsys, *EYE, "--acd", "3.15")
    assert row_of(out, "haigis").endswith("about +1 D: see below")
    assert "about 1 D more power than the other formulas" in in_one_line(out)
    others = [formulas.iol_power(Eye(23.5, 43.5), name, LENS) for name in ("srk_t", "hoffer_q")]
    haigis = formulas.iol_power(Eye(23.5, 43.5, acd_mm=3.15), "haigis", LENS)
    assert 0.9 < haigis - max(others) < 1.2  # what the warning says is so


def test_a_formula_that_lacks_something_says_so_and_keeps_the_others(capsys):
    code, out, _ = run(capsys, *EYE)
    assert code == 0
    assert "No answer by haigis: haigis needs acd_mm" in out
    assert row_of(out, "srk_t")
    assert "haigis  " not in out


@pytest.mark.parametrize(
    ("length", "k", "name", "flag"),
    [
        (28, 48, "srk_t", "root_clamped"),
        (27, 43, "binkhorst_2", "length_capped"),
        (23, 49, "holladay_1", "radius_capped"),
        (27, 43, "holladay_1", "width_capped"),
        (32, 43, "hoffer_q", "length_clamped"),
        (21.95, 44, "srk_2", "near_length_step"),
        (26.3, 43, "srk_1", "near_factor_step"),
        (30, 44, "t2", "elp_undetermined"),
        (33, 45, "t2", "negative_power"),
    ],
)
def test_flags_are_told_in_words(capsys, length, k, name, flag):
    line = ["power", "--axial-length", length, "--k", k, "--a-constant", 118.4, "--formula", name]
    code, out, _ = run(capsys, *line)
    assert code == 0
    assert f"{name}: {report.warning(name, flag)}" in in_one_line(out)
    assert row_of(out, name).endswith("see below")


def test_every_flag_has_words():
    lengths, ks = np.linspace(16.0, 36.0, 9), np.linspace(32.0, 60.0, 9)
    for name, record in formulas.FORMULAS.items():
        eye = Eye(*np.meshgrid(lengths, ks), acd_mm=3.0)
        flags = record.function(eye, LENS, 43.0).flags
        assert all(report.warning(name, flag) for flag in flags)


BAD_EYES = {
    "text": ["--k", "steep"],
    "radius": ["--k", "7.7"],
    "nan": ["--k", "nan"],
    "infinite": ["--axial-length", "inf"],
    "negative": ["--axial-length", "-23.5"],
    "metres": ["--axial-length", "0.0235"],
    "target": ["--target", "-99"],
    "vertex": ["--vertex", "-1"],
    "chamber": ["--acd", "nan"],
    "constant": ["--a-constant", "1184"],
    "second K": ["--k2", "0"],
    "position": ["--elp-k", "-43"],
    "no value": ["--k"],
    "no such option": ["--power", "20"],
    "no such formula": ["--formula", "srk_9"],
    "no formula": ["--formula", ""],
    "several steps": ["--steps", "t2,srk_t"],
    "all steps": ["--steps", "all"],
    "steps of none": ["--steps", "haigis"],
    "steps and formula": ["--steps", "t2", "--formula", "t2"],
    "cohort and eye": ["--csv", "eyes.csv"],
    "example and eye": ["--example", "eyes.csv"],
    "cohort and steps": ["--csv", "eyes.csv", "--steps", "t2"],
}


def holds_one_sentence(code, out, err):
    assert code == 2
    assert err.startswith("lens-course: ")
    assert err.count("\n") == 1
    assert err.endswith(".\n")
    assert "Traceback" not in out + err
    assert "error:" not in err


@pytest.mark.parametrize("line", BAD_EYES.values(), ids=BAD_EYES)
def test_an_absurd_line_gets_one_sentence(capsys, line):
    code, out, err = run(capsys, *EYE, *line)
    holds_one_sentence(code, out, err)
    assert out == ""


@pytest.mark.parametrize("missing", ["--axial-length", "--k", "--a-constant"])
def test_what_is_missing_is_named(capsys, missing):
    at = EYE.index(missing)
    code, out, err = run(capsys, *EYE[:at], *EYE[at + 2 :])
    holds_one_sentence(code, out, err)
    assert missing in err


def test_the_audit_shows_what_the_library_finds(capsys, invented):
    code, out, err = run(capsys, "power", "--csv", invented, "--a-constant", "118.4")
    assert (code, err) == (0, "")
    eyes = cohort_file.read(invented).cohort
    errors_d = {}
    for name in ("srk_t", "t2", "holladay_1", "hoffer_q", "haigis"):
        best = constants.optimise(eyes.eye, name, eyes.iol_power_d, eyes.achieved_d, LENS)
        old, new = (
            prediction_errors.summary(
                eyes.achieved_d
                - formulas.predicted_refraction(eyes.eye, name, lens, eyes.iol_power_d)
            )
            for lens in (LENS, best)
        )
        errors_d[name] = eyes.achieved_d - formulas.predicted_refraction(
            eyes.eye, name, best, eyes.iol_power_d
        )
        (line,) = re.findall(rf"^{name}  .*{eyes.n}  .*$", out, re.MULTILINE)
        line = line.removeprefix(name).replace("a0", "")
        shown = [float(n) for n in re.findall(r"[+-]?\d+(?:\.\d+)?", line)]
        assert shown[:4] == pytest.approx([best.of(name), eyes.n, old.mean_d, 0.0], abs=0.006)
        assert shown[4:7] == pytest.approx([new.sd_d, new.mae_d, new.medae_d], abs=0.0006)
        assert shown[7:] == pytest.approx([100.0 * x for x in new.within.values()], abs=0.51)
    for pair in formula_comparison.compare(errors_d):
        line = row_of(out, f"{pair.first} less {pair.second}")
        shown = [float(n) for n in re.findall(NUMBER, line)]
        assert shown == pytest.approx(
            [pair.difference_d, pair.low_d, pair.high_d, pair.p, pair.p_holm], abs=0.0006
        )
    message = in_one_line(out)
    for sentence in (audit.ASSUMED, "no evidence about formulas", "about 1 D more power"):
        assert sentence in message
    assert message.endswith(CAUTION)
    assert all(formulas.FORMULAS[name].source in message for name in errors_d)


def test_only_an_invented_cohort_is_called_so(capsys, tmp_path):
    path = tmp_path / "eyes.csv"
    cohort_file.write(path, cohort.invent(40, seed=5))
    text = path.read_text(encoding="utf-8-sig")
    assert text.startswith(cohort_file.LABEL_INVENTED)
    words = ("power", "--csv", path, "--a-constant", "118.6")
    assert "The cohort is invented" in in_one_line(run(capsys, *words)[1])
    path.write_text(text.replace(cohort_file.LABEL_INVENTED, "label", 1), encoding="utf-8")
    message = in_one_line(run(capsys, *words)[1])
    assert "invented" not in message
    assert message.startswith(CAUTION)
    assert message.endswith(CAUTION)


def test_the_example_is_invented_and_its_own_advice_works(capsys, tmp_path):
    path = tmp_path / "new.csv"
    code, out, _ = run(capsys, "power", "--example", path)
    assert code == 0
    assert "invented" in out
    assert in_one_line(out).startswith(CAUTION)
    assert in_one_line(out).endswith(CAUTION)
    before = path.read_bytes()
    holds_one_sentence(*run(capsys, "power", "--example", path))
    assert path.read_bytes() == before  # nothing overwritten
    advice = re.search(r"lens-course (power --csv .*--a-constant \S+)", in_one_line(out))[1]
    assert run(capsys, *advice.split())[0] == 0


def test_good_rows_are_kept_and_each_bad_one_is_named(capsys, tmp_path):
    path = tmp_path / "mixed.csv"
    cohort_file.write(path, cohort.invent(40, seed=5))
    good = path.read_text(encoding="utf-8-sig").splitlines()
    header = good[0].split(",")

    def spoilt(row, column, cell):
        cells = good[row].split(",")
        cells[header.index(column)] = cell
        return ",".join(cells)

    bad = {
        5: spoilt(1, "k1_d", "7.7"),
        9: spoilt(2, "achieved_d", "plano"),
        14: spoilt(3, "iol_power_d", ""),
        20: spoilt(4, "acd_mm", "nan"),
    }
    unlikely_slip = spoilt(6, "age_years", "")  # no formula asks
    mixed = list(good)
    mixed[6] = unlikely_slip
    for row, line in bad.items():
        mixed.insert(row - 1, line)
    path.write_text("\n".join(mixed), encoding="utf-8")
    code, out, _ = run(capsys, "power", "--csv", path, "--a-constant", "118.8")
    assert code == 0
    assert "40 eyes read, 4 rows set aside." in out
    for row, column in ((5, "k1_d"), (9, "achieved_d"), (14, "iol_power_d"), (20, "acd_mm")):
        assert f"Row {row}, {column}:" in out
    clean = tmp_path / "clean.csv"
    clean.write_text("\n".join(good), encoding="utf-8")
    table = out.split("Achieved minus")[1]
    assert run(capsys, "power", "--csv", clean, "--a-constant", "118.8")[1].endswith(table)


def test_an_eye_without_an_answer_is_named_and_the_rest_counted(capsys, tmp_path):
    path = tmp_path / "odd.csv"
    eyes = cohort.invent(35, seed=8)
    cohort_file.write(path, eyes)
    with path.open("a", encoding="utf-8") as file:
        file.write("Odd,40,65,65,90,3,4,11,70,80,0\n")  # no spectacles would do
    code, out, _ = run(capsys, "power", "--csv", path, "--a-constant", "118.8")
    assert code == 0
    assert "36 eyes read" in out
    assert "Odd not counted, for " in out
    assert "35 eyes, constants for mean error 0" in out


def test_a_cohort_without_chamber_depth_goes_on_without_haigis(capsys, invented):
    lines = invented.read_text(encoding="utf-8-sig").splitlines()
    at = lines[0].split(",").index("acd_mm")
    cut = [",".join(x for i, x in enumerate(line.split(",")) if i != at) for line in lines]
    invented.write_text("\n".join(cut), encoding="utf-8")
    code, out, _ = run(capsys, "power", "--csv", invented, "--a-constant", "118.8")
    assert code == 0
    assert "No answer by haigis: haigis needs acd_mm" in out
    assert "150 eyes, constants" in out


HEADER = "axial_length_mm,k1_d,iol_power_d,achieved_d\n"
BAD_FILES = {
    "empty": "",
    "no columns": "a,b\n1,2\n",
    "no outcome": "axial_length_mm,k1_d\n23.5,43.5\n",
    "header alone": HEADER,
    "one eye": HEADER + "23.5,43.5,20.5,0.1\n",
    "all bad": HEADER + "23.5,x,20.5,0.1\n23.5,7.7,20.5,0.1\n",
    "column twice": HEADER.replace("k1_d", "k1_d,k1_d") + "23.5,43.5,43.5,20.5,0.1\n",
    "not text": "PK\x03\x04",
}


@pytest.mark.parametrize("content", BAD_FILES.values(), ids=BAD_FILES)
def test_an_absurd_file_gets_one_sentence(capsys, tmp_path, content):
    path = tmp_path / "eyes.csv"
    path.write_text(content, encoding="utf-8")
    code, out, err = run(capsys, "power", "--csv", path, "--a-constant", "118.8")
    holds_one_sentence(code, out, err)
    if "x,20.5" in content:
        assert "Row 2, k1_d" in out
        assert "Row 3, k1_d" in out


def test_what_is_no_file_gets_one_sentence(capsys, tmp_path):
    for name in (tmp_path, tmp_path / "none.csv", ""):
        holds_one_sentence(*run(capsys, "power", "--csv", name, "--a-constant", "118.8"))
    for name in (tmp_path, tmp_path / "none" / "eyes.csv", ""):
        holds_one_sentence(*run(capsys, "power", "--example", name))
    holds_one_sentence(*run(capsys, "power", "--csv", tmp_path / "none.csv"))


def test_many_formulas_do_not_hide_a_difference_beyond_doubt():
    eyes = cohort.invent(60, seed=3)
    found = audit.audit(eyes.eye, eyes.iol_power_d, eyes.achieved_d, formulas.FORMULAS, LENS)
    assert len(found.pairs) == 55
    assert min(pair.p_holm for pair in found.pairs) <= 0.01


def test_few_eyes_are_said_to_be_few(capsys, tmp_path):
    for n, few in ((29, True), (30, False)):
        path = tmp_path / f"{n}.csv"
        cohort_file.write(path, cohort.invent(n, seed=2))
        line = ["power", "--csv", path, "--a-constant", "118.8", "--formula", "t2,hoffer_q"]
        assert ("fewer than 30 eyes" in in_one_line(run(capsys, *line)[1])) == few


def test_everything_fits_the_screen(capsys, invented):
    for line in (
        [*EYE, "--acd", "3.15", "--k2", "44.25", "--elp-k", "43", "--target", "-0.25"],
        ["power", "--axial-length", "33", "--k", "48", "--acd", "3", "--a-constant", "118.4"],
        [*EYE, "--steps", "srk_t"],
        ["power", "--csv", invented, "--a-constant", "118.4", "--formula", "all"],
    ):
        code, out, _ = run(capsys, *line)
        assert code == 0
        assert max(map(len, out.splitlines())) <= 100
        assert "\x1b" not in out
        assert not any(text.endswith(" ") for text in out.splitlines())
    code, out, _ = run(capsys, "power", "--help")
    assert code == 0
    assert len(out.splitlines()) <= 40
    assert "Example: lens-course power" in out


def test_as_a_process_with_a_pipe_that_knows_only_ascii():
    done = subprocess.run(
        [sys.executable, "-m", "shared_utils.cli", *EYE, "--target", "-0.25"],
        cwd=ROOT,
        env={"PYTHONIOENCODING": "ascii", "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert row_of(done.stdout, "srk_t").split()[-2:] == ["21.0", "-0.31"]
    done = subprocess.run(
        [sys.executable, "-m", "shared_utils.cli", *EYE, "--k", "7.7"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    holds_one_sentence(done.returncode, done.stdout, done.stderr)

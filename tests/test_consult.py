"""The command for one patient: examples, files that are wrong, what it prints and writes."""

import re
import subprocess
import sys
import textwrap
from time import perf_counter

import pytest

from shared_utils import CAUTION, cli
from shared_utils.choice import tasks
from shared_utils.choice.candidacy import assess
from shared_utils.choice.counselling import FILE, sheet
from shared_utils.choice.findings import UNKNOWN
from shared_utils.choice.outlook import outlook_for
from shared_utils.choice.rules import book
from shared_utils.clinic import day, patient_file
from shared_utils.commands import consult
from shared_utils.optics.lenses import LENS_CLASSES
from shared_utils.optics.through_focus import LIMITS
from shared_utils.power.formulas import predicted_refraction
from shared_utils.power.lens_constants import LensConstants
from shared_utils.power.registry import FORMULAS
from tests.absurd import VALUES

GOOD = """\
label = "Weaver, right eye"

[biometry]
axial_length_mm = 23.5
k1_d = 43.0
k2_d = 43.5

[findings]
dry_eye = "mild"
corneal_surgery = "none"
photopic_pupil_mm = 3.0
scotopic_pupil_mm = 5.0

[wishes]
glasses = "accepts some"

[plan]
target_d = -0.25
"""


def run(capsys, *line):
    code = cli.main(["consult", *map(str, line)])
    message = capsys.readouterr()
    return code, message.out, message.err


def written(tmp_path, text):
    path = tmp_path / "weaver.toml"
    path.write_text(text, encoding="utf-8")
    return path


# --- what it prints ----------------------------------------------------------------------------


@pytest.mark.parametrize("name", patient_file.examples())
def test_every_example_goes_from_file_to_sheet(capsys, tmp_path, name):
    path = tmp_path / "sheet.html"
    code, out, err = run(capsys, name, "--why", "--sheet", path)
    assert (code, err) == (0, "")
    reply = patient_file.read(patient_file.find(name))
    assert reply.patient.label in out
    for advice in assess(reply.patient):
        assert f"{advice.lens_class}: {advice.verdict}\n" in out
        for message in (*advice.examine_first, *advice.would_change, *advice.borderline):
            assert message in out
        for reason in advice.reasons:  # no rule that fired is hidden, and none is told twice
            assert out.count(f": {reason.text} [") == 1
            assert reason.source in out
    for task in tasks.TASKS:
        assert (f"\n{task.name} " in out) == (task.name in reply.patient.tasks)
    assert LIMITS in out
    assert out.rstrip().endswith(CAUTION)
    page = path.read_text(encoding="utf-8")
    assert CAUTION.replace("'", "&#x27;") in page
    assert page.count("<svg") == 2


def test_examples_are_unlike_each_other():
    reply = [patient_file.read(patient_file.find(name)) for name in patient_file.examples()]
    assert len(reply) >= 4
    assert len({tuple(a.verdict for a in assess(one.patient)) for one in reply}) >= 4
    assert any(one.fellow_target_d != one.target_d for one in reply)
    assert any(one.patient.values["corneal_surgery"] not in ("none", UNKNOWN) for one in reply)


def test_the_table_holds_the_lens_and_what_it_leaves(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, GOOD), "--why")
    reply = patient_file.read(written(tmp_path, GOOD))
    lens = LensConstants.from_a_constant(reply.a_constant)
    for formula, name in FORMULAS.titles(FORMULAS.where("in_consultations")).items():
        [row] = [line for line in out.splitlines() if line.startswith(name)]
        power, leaves, weaker, stronger = row.removeprefix(name).replace("−", "-").split()
        predicted = predicted_refraction(reply.patient.eye, formula, lens, float(power))
        assert float(leaves) == pytest.approx(predicted, abs=0.006)
        assert abs(float(leaves) - reply.target_d) <= 0.25  # no lens of the ladder is nearer
        assert float(weaker) > float(leaves) > float(stronger)


@pytest.mark.parametrize("why", [[], ["--why"]], ids=["short", "why"])
def test_after_laser_no_power_is_shown(capsys, why):
    _, out, _ = run(capsys, "laser_long_ago", *why)
    assert "withheld" in out
    assert "methods made for such eyes" in out
    assert not re.search(r"SRK/T *\d", out)


def test_earlier_surgery_unknown_is_asked_about(capsys, tmp_path):
    path = written(tmp_path, GOOD.replace('corneal_surgery = "none"\n', ""))
    assert "corneal surgery not known" in run(capsys, path)[1]
    assert "Ask about earlier laser" in run(capsys, path, "--why")[1]


def test_an_own_patient_is_not_called_invented(capsys, tmp_path):
    assert "invented" not in run(capsys, written(tmp_path, GOOD))[1]
    path = written(tmp_path, GOOD.replace('label = "Weaver, right eye"', ""))
    _, out, _ = run(capsys, path)
    assert "invented" not in out
    assert "\nweaver\n" in out
    assert "an invented patient" in run(capsys, "night_driver")[1]
    path = written(tmp_path, GOOD.replace("Weaver,", "Invented weaver,"))
    assert "\nInvented weaver, right eye\n" in run(capsys, path)[1]


@pytest.mark.parametrize("name", patient_file.examples())
def test_the_answer_comes_first_and_is_short(capsys, name):
    _, out, _ = run(capsys, name)
    lines = [part for line in out.splitlines() for part in textwrap.wrap(line, 100) or [""]]
    assert len(lines) <= consult.MAX_LINES
    assert out.startswith(CAUTION)
    assert out.rstrip().endswith(CAUTION)
    for advice in assess(patient_file.read(patient_file.find(name)).patient):
        assert re.search(rf"^{advice.lens_class} +{advice.verdict}\b", out, re.MULTILINE)


def test_the_sheet_speaks_another_language(capsys, tmp_path):
    words = tmp_path / "words.toml"
    english = FILE.read_text(encoding="utf-8")
    words.write_text(english.replace("Which lens for my eye?", "Welche Linse?"), encoding="utf-8")
    path = tmp_path / "sheet.html"
    code, _, _ = run(capsys, "night_driver", "--sheet", path, "--wording", words)
    assert code == 0
    assert "<h1>Welche Linse?</h1>" in path.read_text(encoding="utf-8")


def test_a_translation_that_is_not_utf_8_is_named_with_its_line(capsys, tmp_path):
    words, path = tmp_path / "words.toml", tmp_path / "sheet.html"
    words.write_bytes('language = "de"\ntitle = "Für mein Auge"\n'.encode("latin-1"))
    code, _, err = run(capsys, "night_driver", "--sheet", path, "--wording", words)
    assert code == 2
    assert (
        err == "lens-course: words.toml, line 2: a letter is not UTF-8; save the file as UTF-8.\n"
    )
    assert not path.exists()


def test_a_translation_without_a_sheet_is_refused(capsys):
    code, out, err = run(capsys, "night_driver", "--wording", "words.toml")
    assert (code, out) == (2, "")
    assert "give --sheet FILE as well" in err


def test_without_biometry_the_rest_is_told(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, 'label = "Nobody"\n'))
    assert "no biometry in the file" in out
    assert "Of 100 such people" in out


def test_a_measurement_to_repeat_is_named(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, GOOD.replace("23.5", "20.1")))
    assert "short eye" in out
    assert "Measure again" in out


def test_monovision_is_said(capsys, tmp_path):
    _, out, _ = run(capsys, "one_eye_for_near", "--why")
    assert "other eye −1.25 D" in out
    assert "of which the better counts" in " ".join(out.split())
    assert "its own measurements" not in out  # it has them
    plan = f"{GOOD}fellow_target_d = -1.25\n"
    assert "its own measurements" in run(capsys, written(tmp_path, plan))[1]


BOTH = f"""{GOOD}fellow_target_d = -1.25

[fellow_biometry]
axial_length_mm = 24.1
k1_d = 43.0
k2_d = 43.5

[fellow_findings]
macular_degeneration = "late"
corneal_surgery = "laser, centred"
"""


def test_both_eyes_are_told_with_gate_interval_verdicts_and_their_difference(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, BOTH))
    text = " ".join(out.split())
    assert "Other eye: gate withheld, after corneal laser, its purpose not known; no power." in text
    assert "Its length +0.60 mm, mean K 0.00 D against this eye." in text
    assert "eyes of unlike length" in text
    assert re.search(r"^class +verdict +eye", out, re.MULTILINE)
    assert re.search(r"^trifocal +with care +not advised", out, re.MULTILINE)
    well = BOTH.replace('"laser, centred"', '"none"')
    _, out, _ = run(capsys, written(tmp_path, well))
    reply = patient_file.read(written(tmp_path, well))
    lens = LensConstants.from_a_constant(reply.a_constant)
    found = re.search(r"SRK/T ([\d.]+) D, 95 of 100 at (\S+) to (\S+) D\.", " ".join(out.split()))
    power_d, low_d, high_d = (float(part.replace("−", "-")) for part in found.groups())
    left_d = predicted_refraction(reply.patient.fellow_biometry, "srk_t", lens, power_d)
    assert (low_d + high_d) / 2 == pytest.approx(left_d, abs=0.011)


def test_all_reasons_of_the_other_eye_stand_once_and_none_that_is_equal(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, BOTH), "--why")
    reply = patient_file.read(written(tmp_path, BOTH))
    own = {r.text for a in assess(reply.patient) for r in a.reasons}
    other = {r.text for a in assess(reply.patient.exchanged()) for r in a.reasons}
    assert own & other
    assert other - own
    for reason in own | other:
        assert out.count(f": {reason} [") == 1


@pytest.mark.parametrize("state", ["pseudophakic monofocal", "none or blind"])
def test_an_eye_that_gets_no_lens_is_compared_and_no_more(capsys, tmp_path, state):
    text = BOTH.replace('dry_eye = "mild"', f'dry_eye = "mild"\nfellow_eye = "{state}"', 1)
    _, out, _ = run(capsys, written(tmp_path, text))
    assert f"Other eye: {state}, so no lens is chosen for it. Its length +0.60 mm" in out
    assert not re.search(r"^class +verdict +eye", out, re.MULTILINE)


def test_only_the_tasks_that_matter_are_told(capsys):
    _, out, _ = run(capsys, "one_seeing_eye", "--why")
    assert "\nnovel held close " in out
    assert "\nroad sign by day " not in out


def test_glasses_stand_in_the_table_as_they_were_found(capsys, tmp_path):
    text = GOOD.replace("target_d = -0.25", "target_d = 0.0")
    _, out, _ = run(capsys, written(tmp_path, text), "--why")
    reply = patient_file.read(written(tmp_path, text))
    columns = [tasks.glasses_for(reply.patient, tasks.LENS_OF[c]) for c in LENS_CLASSES]
    weakest, comfortable = (
        out.partition(f"Glasses that remain: {kind}")[2].split("\n\n")[0].splitlines()
        for kind in ("weakest", "comfortable")
    )
    for row in zip(*columns, strict=True):
        for lines, part in ((weakest, "reader_d"), (comfortable, "comfortable_reader_d")):
            found_lines = [line for line in lines if line.startswith(row[0].task.name + " ")]
            if part == "comfortable_reader_d" and all(
                one.clear or not one.clear_with for one in row
            ):
                assert not found_lines
                continue
            [line] = found_lines
            shown = line.removeprefix(row[0].task.name).replace(" ?", "").replace(" x", "").split()
            for word, found in zip(shown, row, strict=True):
                if found.clear:
                    assert word == "none"
                elif not found.known:
                    assert word == "unknown"
                elif getattr(found, part):
                    assert word == f"{getattr(found, part):+.2f}".replace("-", "−")
                else:
                    assert word == ("cyl" if found.cylinder_d else "0.00")


def test_of_a_hundred_people_stand_as_they_were_computed(capsys, tmp_path):
    _, out, _ = run(capsys, written(tmp_path, GOOD), "--why")
    reply = patient_file.read(written(tmp_path, GOOD))
    plan = (reply.target_d, reply.fellow_target_d)
    columns = [outlook_for(reply.patient, tasks.LENS_OF[c], *plan) for c in LENS_CLASSES]
    for row in zip(*columns, strict=True):
        name = row[0].task.name + " "
        line = next(line for line in out.splitlines() if line.startswith(name))
        assert line.split() == " ".join([name, *(found.in_short for found in row)]).split()
    assert "European registry (73 of 100 eyes within 0.5 D, 93 within 1 D)" in out
    short = run(capsys, written(tmp_path, GOOD))[1]
    assert re.search(r"^monofocal .*\d+ \(\d+–\d+\)", short, re.MULTILINE)


def test_no_word_of_a_table_is_cut_on_a_narrow_terminal(capsys, monkeypatch):
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setenv("COLUMNS", "80")
    _, out, _ = run(capsys, "night_driver", "--why")
    assert "…" not in out
    assert "\x1b[1m" in out  # headings are bold


@pytest.mark.parametrize("name", patient_file.examples())
def test_no_row_of_the_short_answer_is_broken_on_eighty_columns(name):
    """A terminal has 80 columns unless it is widened: common practice, no source."""
    answer = consult.short_answer(patient_file.read(patient_file.find(name)), 80)
    titles = next(at for at, line in enumerate(answer) if line.startswith("class "))
    assert max(map(len, answer[titles - 1 : titles + 1 + len(LENS_CLASSES)])) <= 80


def test_why_a_target_is_not_advised_stands_in_the_short_answer(capsys, tmp_path):
    """Beside an eye that keeps −8 D a target of 0 leaves 8 D between the two."""
    other = 'fellow_eye = "phakic"\nfellow_refraction_d = -8.0\ndry_eye = "mild"'
    _, out, _ = run(capsys, written(tmp_path, GOOD.replace('dry_eye = "mild"', other)))
    assert "Target: not advised." in out
    assert re.search(r"not advised \(target\): The other eye.* few bear the glasses", out)


def test_a_thousand_is_never_broken_over_two_lines():
    """A space inside it lets a terminal end a line with "17 of 1"."""
    for rule in book().rules:
        assert not re.search(r"\b1 000\b", rule.text), rule.key


def test_it_is_plain_when_piped():
    line = [sys.executable, "-m", "shared_utils.cli", "consult", "night_driver"]
    found = subprocess.run(line, capture_output=True, text=True, check=True, encoding="utf-8")
    assert "\x1b" not in found.stdout
    assert "─" not in found.stdout
    assert found.stdout.rstrip().endswith(CAUTION)


# --- files that are wrong ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("old", "new", "line", "field", "expected"),
    [
        ('"mild"', '"bad"', 9, "findings.dry_eye", "give one of: none, mild, moderate"),
        ('"mild"', "3", 9, "findings.dry_eye", "give one of: none, mild, moderate"),
        ("dry_eye", "dry_eyes", 9, "findings.dry_eyes", "did you mean 'dry_eye'?"),
        ("43.0", "7.8", 5, "biometry.k1_d", "give 30 to 65 D. A radius in mm?"),
        ("23.5", "0.0235", 4, "biometry.axial_length_mm", "In metres? Multiply by 1000."),
        ("23.5", '"long"', 4, "biometry.axial_length_mm", "not a number"),
        ("k2_d", "k2", 6, "biometry.k2", "did you mean 'k2_d'?"),
        ("axial_length_mm = 23.5\n", "", 3, "biometry", "lacks axial_length_mm"),
        ("accepts some", "hates them", 15, "wishes.glasses", "wants none, accepts some"),
        ("-0.25", "-9", 18, "plan.target_d", "give -4 to 2 D. Myopia is negative."),
        ("target_d", "target", 18, "plan.target", "did you mean target_d?"),
        ("-0.25", "[0, 1]", 18, "plan.target_d", "give one"),
        ("target_d = -0.25", "a_constant = 5.2", 18, "plan.a_constant", "110 to 125"),
        ("[wishes]", "[wish]", 14, "wish", "[biometry], [fellow_findings], [fellow_biometry]"),
        ('"Weaver, right eye"', "5", 1, "label", "give a name"),
        ("[plan]", "", 18, "target_d", "wishes has no 'target_d'"),
        (
            "photopic_pupil_mm = 3.0",
            "photopic_pupil_mm = 6.0",
            11,
            "photopic_pupil_mm",
            "exchange them?",
        ),
        ('"mild"', "mild", 9, "", 'NAME = "grade"'),
        ("23.5", "23,5", 4, "", "Write 23.5, with a point."),
        ("23.5", '"23,5"', 4, "biometry.axial_length_mm", "Write 23.5, with a point."),
        ('"mild"', "“mild”", 9, "", "Quotation marks are straight"),
        ("-0.25", "−0.25", 18, "", "is a hyphen"),
        ("[findings]", "[findings", 8, "", "under a table"),
        ('dry_eye = "mild"', 'dry_eye = "mild"\ndry_eye = "none"', 10, "", "overwrite"),
    ],
)
def test_a_wrong_file_is_told_line_field_and_what_was_expected(
    capsys, tmp_path, old, new, line, field, expected
):
    assert old in GOOD
    code, out, err = run(capsys, written(tmp_path, GOOD.replace(old, new, 1)))
    assert code == cli.FAILED
    assert out == ""
    assert f"weaver.toml, line {line}" in err
    assert field in err
    assert expected in err
    assert "Traceback" not in err


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ('findings = {dry_eye = "bad"}', "line 1, findings.dry_eye: dry_eye is 'bad'"),
        ('\nfindings.dry_eye = "bad"', "line 2, findings.dry_eye: dry_eye is 'bad'"),
        ('["findings"]  # a note\ndry_eye = "bad"', "line 2, findings.dry_eye"),
        ('[findings]\r\ndry_eye = "bad"\r\n', "line 2, findings.dry_eye"),
        ("[findings.dry_eye]\nx = 1", "line 1, findings.dry_eye"),
        ('[[findings]]\ndry_eye = "mild"', "line 1, findings: is no table"),
        ("biometry = 3", "line 1, biometry: is no table"),
        ("plan = []", "line 1, plan: is no table"),
        ("[biometry]\naxial_length_mm = [23, 24]\nk1_d = 43", "more than one eye"),
        ("[findings]\ndry_eye = 2020-01-01", "line 2, findings.dry_eye"),
        ('label = ""', "line 1, label"),
        ('label = "a', "line 1: Unterminated string"),
    ],
)
def test_every_way_to_write_a_table_is_told_its_line(capsys, tmp_path, text, says):
    code, _, err = run(capsys, written(tmp_path, text))
    assert code == cli.FAILED
    assert says in err


def test_a_mark_in_front_of_the_file_does_no_harm(tmp_path):
    reply = patient_file.read(written(tmp_path, "\ufeff" + GOOD))
    assert reply.patient.label == "Weaver, right eye"


def test_every_wrong_field_is_told_at_once(capsys, tmp_path):
    text = GOOD.replace('"mild"', '"bad"').replace("43.0", "7.8").replace("-0.25", "-9")
    _, _, err = run(capsys, written(tmp_path, text))
    assert [f"line {line}," in err for line in (5, 9, 18)] == [True] * 3


@pytest.mark.parametrize("value", [v for v in VALUES if isinstance(v, (int, float, str))], ids=repr)
@pytest.mark.parametrize("field", ["axial_length_mm", "dry_eye", "target_d", "glasses"])
def test_absurd_values_are_turned_away_with_the_line(capsys, tmp_path, field, value):
    shown = "true" if value is True else repr(value)
    lines = [
        f"{field} = {shown}" if line.startswith(f"{field} =") else line
        for line in GOOD.splitlines()
    ]
    code, _, err = run(capsys, written(tmp_path, "\n".join(lines)))
    if code:
        assert "line " in err
        assert field in err
        assert len(err) < 500
    else:
        assert (field, value) in [("target_d", -1.0), ("target_d", 0.0), ("target_d", 1e-300)]


def test_a_file_that_is_not_there_lists_the_examples(capsys):
    code, _, err = run(capsys, "nobody.toml")
    assert code == cli.FAILED
    assert "night_driver" in err


def test_a_file_that_is_not_text_says_the_line(capsys, tmp_path):
    path = tmp_path / "weaver.toml"
    path.write_bytes(GOOD.replace("Weaver", "Müller").encode("latin-1"))
    code, _, err = run(capsys, path)
    assert code == cli.FAILED
    assert "line 1: a letter is not UTF-8" in err


def test_a_sheet_that_cannot_be_written_says_so(capsys, tmp_path):
    code, _, err = run(capsys, "night_driver", "--sheet", tmp_path / "no" / "sheet.html")
    assert code == cli.FAILED
    assert "cannot be written" in err


# --- speed -------------------------------------------------------------------------------------


def consulted(patient):
    """Advice, glasses with every class, and the words of the sheet: what one patient costs."""
    return sheet(patient)


@pytest.mark.benchmark
def test_glasses_and_words_cost_little_beside_the_advice(capsys):
    patients = [visit.patient for visit in day.invent(60, 2)]
    for patient in patients:
        consulted(patient)
    start = perf_counter()
    for patient in patients:
        assess(patient)
    advice_s = perf_counter() - start
    start = perf_counter()
    for patient in patients:
        consulted(patient)
    whole_s = perf_counter() - start
    with capsys.disabled():
        print(
            f"\none patient, warm: advice {1e3 * advice_s / 60:.2f} ms, "
            f"with glasses and words {1e3 * whole_s / 60:.1f} ms"
        )
    assert whole_s < 150.0 * advice_s  # a sheet also takes each eye a hundred times


@pytest.mark.benchmark
def test_ten_thousand_patients_cost_no_more_each_than_a_hundred(capsys):
    visits = day.invent(200, 4)
    patients = [visit.patient for visit in visits] * 50

    def assessed(count):
        start = perf_counter()
        for patient in patients[:count]:
            assess(patient)
        return (perf_counter() - start) / count

    assessed(200)
    few_s, many_s = min(assessed(200) for _ in range(3)), assessed(10_000)
    with capsys.disabled():
        print(f"\n10 000 patients assessed in {1e4 * many_s:.1f} s")
    assert many_s < 3.0 * few_s

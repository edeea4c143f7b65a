"""The command line's failures: a sentence that was meant, or a fault that is called one."""

import errno
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from shared_utils import cli
from shared_utils.commands import power
from shared_utils.power.biometry import Eye

LINE = ["power", "--axial-length", "23.5", "--k", "43.5", "--a-constant", "118.4"]


def failing(monkeypatch, fault):
    """Let the command end in a fault."""

    def run(arguments):
        fault()

    monkeypatch.setattr(power, "_run", run)


def answer(capsys, line=LINE):
    code = cli.main(line)
    out, err = capsys.readouterr()
    assert out == ""
    return code, err


def missing_key():
    {}["fixed"]


def library_value_error():
    np.zeros(3).reshape(2, 2)


def library_python_frame():
    np.linspace(0.0, 1.0, -1)


def converted():
    float("12,5")


def zero_division():
    1 / 0  # noqa: B018


def nothing_shown():
    raise RuntimeError


FAULTS = {
    "KeyError": missing_key,
    "ValueError": library_value_error,
    "ValueError of a library's own frame": library_python_frame,
    "ValueError of a conversion": converted,
    "ZeroDivisionError": zero_division,
    "RuntimeError": nothing_shown,
}


@pytest.mark.parametrize("kind", FAULTS)
def test_a_fault_is_called_one_by_its_type(monkeypatch, capsys, kind):
    failing(monkeypatch, FAULTS[kind])
    code, err = answer(capsys)
    assert code == 2
    assert err.startswith(f"lens-course: {kind.split()[0]}")
    assert "`power` stopped at a fault of the course, not of your input" in err
    assert "`lens-course --debug power …` shows the traceback." in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_fault_says_where_in_the_course_it_was(monkeypatch, capsys):
    monkeypatch.setattr(power, "_side_by_side", lambda arguments: missing_key())
    _, err = answer(capsys)
    assert "KeyError at power.py, line " in err
    assert "('fixed')" in err


def test_a_fault_with_debug_shows_the_traceback(monkeypatch):
    failing(monkeypatch, missing_key)
    with pytest.raises(KeyError):
        cli.main(["--debug", *LINE])


@pytest.mark.parametrize(
    ("line", "sentence"),
    [
        ([*LINE, "--elp-k", "7.8"], "elp_k_d is 7.8 D; give 30 to 65 D."),
        ([*LINE, "--formula", "SRK/T"], "formula is 'srk/t'; write 'srk_t'."),
        (["power"], "--axial-length is missing; `lens-course power --help` shows an example."),
        (["power", "--csv", "nowhere.csv", "--a-constant", "118"], "nowhere.csv cannot be read:"),
        (["consult", "nobody-at-all"], "nobody-at-all"),
        (["learner", "../up"], "up"),
    ],
)
def test_a_sentence_that_was_meant_stands_alone(capsys, line, sentence):
    code, err = answer(capsys, line)
    assert code == 2
    assert sentence in err
    assert "fault" not in err
    assert "Error" not in err


def test_what_the_system_says_of_a_file_stands_alone(monkeypatch, capsys, tmp_path):
    failing(monkeypatch, lambda: (tmp_path / "gone").read_text(encoding="utf-8"))
    _, err = answer(capsys)
    assert err == f"lens-course: {tmp_path / 'gone'} cannot be opened: No such file or directory.\n"


def test_a_full_disk_is_said_with_the_place_and_what_to_do(monkeypatch, capsys, tmp_path):
    def full(*_, **__):
        raise OSError(errno.ENOSPC, "No space left on device")  # as a write has it: without a name

    target = tmp_path / "new.json"
    monkeypatch.setattr(Path, "write_text", full)
    line = ["practice", "--file", str(tmp_path / "p.sqlite"), "--export", str(target)]
    assert cli.main(line) == 2
    assert capsys.readouterr().err == (
        f"lens-course: {target} cannot be written: the disk is full. Free some space, then run "
        "`practice` again.\n"
    )


def test_a_sentence_of_the_course_s_own_functions_stands_alone(monkeypatch, capsys):
    failing(monkeypatch, lambda: Eye(0.0235, 43.5))
    _, err = answer(capsys)
    assert err.startswith("lens-course: axial_length_mm is 0.0235 mm; give 15 to 40 mm.")


def test_with_debug_the_whole_command_ends_in_a_traceback():
    line = [sys.executable, "-m", "shared_utils.cli", "--debug", *LINE, "--elp-k", "7.8"]
    done = subprocess.run(line, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "Traceback" in done.stderr
    assert "elp_k_d is 7.8 D" in done.stderr


def test_a_conversion_that_fails_in_a_line_of_the_course_is_a_fault(monkeypatch, capsys):
    failing(monkeypatch, lambda: power._fixed("12,5"))
    _, err = answer(capsys)
    assert "ValueError at power.py" in err
    assert "could not convert string to float" in err

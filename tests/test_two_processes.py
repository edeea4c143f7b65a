"""The tests run apart from the learner's code, and agree with the learner's own check."""

import json
import os
import subprocess
import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_utils import cli
from shared_utils.grading import wire_format
from shared_utils.grading.inside import answers
from shared_utils.grading.supervisor import examiner_client, run, sandbox
from shared_utils.problems import selfcheck
from tests.filling import filled, release, save, solution
from tests.marking import REPO, SET, class_of, marks_by_cell
from tests.sampling import size

ATOMS = st.one_of(
    st.none(), st.booleans(), st.integers(), st.floats(), st.complex_numbers(), st.text()
)
VALUES = st.recursive(
    ATOMS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.tuples(inner, inner),
        st.dictionaries(st.text(max_size=5), inner, max_size=3),
    ),
    max_leaves=12,
)


@given(VALUES)
def test_a_plain_value_crosses_as_what_it_was(value):
    assert repr(wire_format.deserialize(wire_format.serialize(value))) == repr(value)


@pytest.mark.parametrize("dtype", ["bool", "i1", ">i4", "u8", "f4", ">f8", "c16"])
def test_an_array_crosses_with_its_type_and_shape(dtype):
    array = np.arange(6).reshape(2, 3).astype(dtype)
    back = wire_format.deserialize(wire_format.serialize(array))
    np.testing.assert_array_equal(back, array)
    assert back.dtype == array.dtype.newbyteorder("<")
    single = wire_format.deserialize(wire_format.serialize(array[1, 2]))
    assert isinstance(single, np.generic)
    assert single == array[1, 2]


class Equal(float):
    """A number that says it equals everything."""

    def __eq__(self, other):
        return True

    __hash__ = float.__hash__

    def __float__(self):
        return -2.0


def test_what_is_not_plain_data_crosses_as_a_description_alone():
    for value in (object(), Equal, np.array([object()]), np.zeros(10**7), "x" * 10**7):
        assert isinstance(
            wire_format.deserialize(wire_format.serialize(value)), wire_format.Untrusted
        )
    (inner,) = wire_format.deserialize(wire_format.serialize([object()]))
    assert repr(inner).startswith("<object")
    nested = []
    for _ in range(100):
        nested = [nested]
    wire_format.deserialize(wire_format.serialize(nested))


def test_a_number_of_a_class_of_its_own_crosses_as_a_builtin():
    assert type(wire_format.deserialize(wire_format.serialize(Equal(1.0)))) is float


@pytest.mark.parametrize(
    "text",
    [
        *("", "[", "3", "null", "[]", "{}", '{"float": 3}', '{"int": "x"}', '{"what": 1}'),
        *('{"array": ["O", [1], "AAAA", false]}', '{"array": ["<f8", [9], "AAAA", false]}'),
        *('{"array": ["<f8", [-1], "", false]}', '{"array": 3}', '{"list": 3}', '{"dict": [1]}'),
        *('{"list": [' * 5000, '{"none": 0, "bool": true}'),
        '{"dict": [[{"list": []}, {"none": 0}]]}',
    ],
)  # fmt: skip
def test_what_is_malformed_comes_back_as_untrusted(text):
    assert isinstance(wire_format.deserialize(text), wire_format.Untrusted)


@given(st.text())
def test_no_text_stops_the_reader(text):
    wire_format.deserialize(text)


@pytest.fixture(scope="module")
def client():
    return examiner_client.ExaminerClient()


@pytest.fixture
def examiner(client):
    client.reset("ada")
    return client


def replying(**reply):
    """Return a learner's kernel in which ``f`` is a function, and every call gives this reply."""
    return lambda request, left_s: json.dumps(
        {"f": "callable"} if "lookup" in json.loads(request) else reply
    )


@pytest.mark.parametrize(
    ("reply", "well"),
    [
        ({"value": wire_format.serialize(3)}, True),
        ({"value": wire_format.serialize(4)}, False),
        ({"value": wire_format.serialize(Equal(4))}, False),
        ({"value": "junk"}, False),
        ({}, False),
        ({"raised": "SystemExit", "message": "0"}, False),
        ({"raised": "StopIteration", "message": ""}, False),
        ({"raised": "not a name", "message": ""}, False),
        ({"raised": "__import__", "message": ""}, False),
    ],
)
def test_a_test_passes_by_the_value_alone(examiner, reply, well):
    outcome = examiner.run("assert f() == 3", 10, ["f"], replying(**reply))
    assert outcome["ran_well"] is well


@pytest.mark.parametrize("reply", ["", "[]", "[" * 9999, '{"f": {}}', '{"f": "3"}', "null"])
def test_a_reply_that_is_no_reply_fails_the_test_and_no_more(examiner, reply):
    outcome = examiner.run("assert f() == 3", 10, ["f"], lambda *_: reply)
    assert not outcome["ran_well"]
    assert examiner.run("1.5", 10)["outputs"][0]["data"] == {"text/plain": "1.5"}


def test_errors_of_the_learner_keep_their_name_but_never_speak_for_the_test(examiner):
    code = "try:\n    f()\nexcept AssertionError:\n    pass"
    outcome = examiner.run(code, 10, ["f"], replying(raised="AssertionError", message="no"))
    assert not outcome["ran_well"]
    code = "try:\n    f()\nexcept NotImplementedError as error:\n    str(error)"
    assert examiner.run(code, 10, ["f"], replying(raised="NotImplementedError", message=""))[
        "ran_well"
    ]


def test_a_name_that_no_answer_defines_is_not_fetched(examiner):
    # checks is imported by the given cell; a learner's own module of that name is never asked for
    names = run._requested_names(solution(SET))
    assert "page_vergence_d" in names
    assert not {"checks", "vergence", "page_distance_cm", "page", "pair_answer"} & set(names)


def test_a_test_of_ours_that_hangs_is_ended():
    stuck = examiner_client.ExaminerClient()
    stuck.reset("ada")
    with pytest.raises(examiner_client.ExaminerTimeout):
        stuck.run("while True: pass", -4)
    assert stuck.process.poll() is not None


def test_nothing_of_one_learner_is_left_for_the_next(examiner):
    examiner.run("left = 3", 10)
    examiner.reset("bo")
    outcome = examiner.run("left", 10)
    assert outcome["outputs"][0]["ename"] == "NameError"


def test_the_learners_side_says_what_a_name_is_and_calls_it():
    class Angry:
        def __repr__(self):
            raise RuntimeError

    namespace = {"f": lambda x, k=1: x + k, "n": 3.0, "a": Angry()}
    described = json.loads(
        answers._reply(json.dumps({"lookup": ["f", "n", "a", "gone"]}), namespace)
    )
    assert set(described) == {"f", "n", "a"}
    assert wire_format.deserialize(described["n"]) == 3.0
    call = {
        "call": "f",
        "args": wire_format.serialize((2,)),
        "kwargs": wire_format.serialize({"k": 5}),
    }
    called = json.loads(answers._reply(json.dumps(call), namespace))
    assert wire_format.deserialize(called["value"]) == 7
    call["args"] = wire_format.serialize(("x",))
    assert json.loads(answers._reply(json.dumps(call), namespace))["raised"] == "TypeError"


# what learners hand in for a function of one number: (what stands in its body)
BODIES = [
    *("return None", "return 'x'", "return True", "return [-100 / distance_cm]", "pass"),
    *("return 1 / 0", "raise NotImplementedError", "raise AssertionError('no')", "return 1j"),
    *("raise SystemExit", "raise KeyboardInterrupt", "return float('nan')", "return 10**400"),
    *("import numpy as np\n    return np.float64(-100 / distance_cm)", "return object()"),
    *("import numpy as np\n    return np.array([-100 / distance_cm])", "return print"),
    *("from fractions import Fraction\n    return Fraction(-100) / Fraction(distance_cm)",),
    *("from decimal import Decimal\n    return Decimal(-100) / Decimal(distance_cm)",),
    *("print('hello')\n    return -100 / distance_cm", "return missing"),
    *("class Odd(Exception): pass\n    raise Odd('odd')", "return distance_cm()"),
    *("import numpy as np\n    return np.bool_(True)", "return {'a': 1}", "return 1 / distance_cm"),
]
VERGENCES = [
    "return [-100.0 / object_cm, -100.0 / object_cm + first_d, 0.0, 'x']",
    "import numpy as np\n    return np.zeros(4)",
    "return (v for v in range(4))",
    "return (-100.0 / object_cm, 1, None, 3)",
]


def odd_notebooks():
    for number, body in enumerate(BODIES):
        answers_ = {
            "page": f"def page_vergence_d(distance_cm):\n    {body}",
            "points": f"def far_point_cm(distance_cm):\n    {body}\n\n"
            "def near_point_cm(refraction_d, amplitude_d):\n"
            "    return -100.0 / (refraction_d - amplitude_d)",
            "pair": "def vergences_d(object_cm, first_d, separation_cm, second_d):\n    "
            + VERGENCES[number % len(VERGENCES)]
            + "\n\ndef final_image_cm(*case):\n    return vergences_d(*case)[1]",
        }
        if number % 5 == 0:
            answers_["thick"] = "equivalent_power_d = 3.0\nback_vertex_power_d = None"
        yield filled(SET, answers_)


@pytest.mark.grading
@pytest.mark.parametrize(
    "part",
    [
        pytest.param(slice(0, None, 9), marks=pytest.mark.slow),
        pytest.param(slice(None, None, size(1, 4)), marks=pytest.mark.long),
    ],
)
def test_the_own_check_and_the_class_agree_on_every_visible_check(tmp_path, monkeypatch, part):
    handed_in = {f"odd{n}": book for n, book in enumerate([*odd_notebooks()][part])}
    handed_in["blank"] = release(SET)
    with class_of(tmp_path, handed_in) as room:
        results = list(room.grade(SET))
        assert all(result.marks is not None for result in results), results
        for learner, book in handed_in.items():
            monkeypatch.setenv("LENS_COURSE_LEARNER", learner)
            report = selfcheck.check(save(book, tmp_path / learner / "problems.ipynb"), SET)
            own = {f"{p.name}-check": p.earned for p in report.problems if not p.by_hand}
            marked = marks_by_cell(room, learner)
            assert {name: marked[name] for name in own} == pytest.approx(own), learner


@pytest.mark.parametrize(
    ("why", "there", "words"),
    [
        ("it is not installed", {"calls", "files"}, "cannot start programs, use the network or"),
        ("it is not installed", {"calls"}, "but it can read and change your files"),
        ("it is not installed", {"files"}, "but it can start programs and use the network"),
        ("it is for Linux alone", set(), "runs without protection here: while it is marked it"),
        ("", {"files"}, "The sandbox stands, but system calls are not filtered on this processor"),
        ("", set(), "The sandbox stands, but system calls are not filtered on this processor"),
        ("", {"calls"}, ""),
    ],
)
def test_what_is_not_protected_is_said(monkeypatch, why, there, words):
    monkeypatch.setattr(sandbox, "fault", lambda: why)
    monkeypatch.setattr(sandbox, "protections", lambda: frozenset(there))
    message = sandbox.unprotected()
    assert words in message
    assert why in message
    assert bool(message) is bool(words)
    assert message == "" or message.endswith(".")
    if not there and why:
        assert "--require-sandbox" in message


@pytest.mark.slow
def test_without_a_sandbox_the_command_says_what_is_not_protected(tmp_path, monkeypatch, capsys):
    monkeypatch.setattr(sandbox, "fault", lambda: "bubblewrap is not installed")
    monkeypatch.setattr(sandbox, "protections", lambda: frozenset({"calls"}))
    with class_of(tmp_path, {}) as room:
        line = ["class", "grade", "01", "--folder", str(room.folder)]
        assert cli.main(line) == 0
        first = capsys.readouterr().out.splitlines()[0]
        assert "can read and change your files" in first
        assert "bubblewrap is not installed" in first
        for option in ("--require-sandbox", "--require-box"):
            assert cli.main([*line, option]) == 2
            assert "Nothing was graded." in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.grading
def test_without_a_sandbox_the_marks_are_the_same(tmp_path, monkeypatch):
    monkeypatch.setattr(sandbox, "fault", lambda: "bubblewrap is not installed")
    with class_of(tmp_path, {"ada": filled(SET)}) as room:
        (result,) = room.grade(SET)
        assert (result.marks, result.notes) == (26, [])


def test_a_kernel_starts_with_no_secret_of_the_instructors(tmp_path, monkeypatch):
    monkeypatch.setenv("SECRET_TOKEN", "letmein")
    (tmp_path / "data.csv").write_text("1,2", encoding="utf-8")
    (tmp_path / "problems.ipynb").write_text("{}", encoding="utf-8")
    assert sandbox.files_beside(tmp_path) == {"data.csv": b"1,2"}
    for isolated in (True, False):
        learners = sandbox.Sandbox(isolated)
        try:
            assert "SECRET_TOKEN" not in learners.environment()
            # in a sandbox nothing of a learner's is on the machine's disk
            assert (learners.folder is None) is isolated
        finally:
            learners.remove()
    assert not learners.folder.exists()


@pytest.mark.skipif(sys.platform != "linux", reason="This platform has no limit on memory.")
def test_limits_bind_before_the_learner_comes():
    code = (
        "from shared_utils.grading.inside import start_kernel\n"
        "start_kernel.apply_limits(7)\n"
        "print(open('/proc/self/limits').read())\nbytearray(2**33)"
    )
    environment = {**os.environ, "PYTHONPATH": str(REPO)}
    command = [sys.executable, "-c", code]
    result = subprocess.run(command, env=environment, capture_output=True, text=True)
    assert "MemoryError" in result.stderr
    limits = {line[:25].strip(): line[25:].split()[:2] for line in result.stdout.splitlines()}
    assert limits["Max cpu time"] == ["7", "7"]
    assert limits["Max core file size"] == limits["Max msgqueue size"] == ["0", "0"]
    assert limits["Max address space"] == [str(3 * 2**30)] * 2
    assert limits["Max locked memory"] == ["65536", "65536"]
    assert limits["Max pending signals"] == ["256", "256"]

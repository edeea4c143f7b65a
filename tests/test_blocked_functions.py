"""Where a problem asks for a learner's own formula, a call into the reference does not pass."""

import importlib.util
import threading

import numpy as np
import pytest

from shared_utils.course import place
from shared_utils.optics import vergence
from shared_utils.pages import cells, source
from shared_utils.pages.build import text_to_notebook
from shared_utils.problems import blocked_functions, selfcheck
from tests.filling import filled, save
from tests.marking import SET, class_of, course_of, marks_by_cell

THICK = "shared_utils.optics.vergence.thick_lens"
AT_VERTEX = "shared_utils.optics.vergence.at_vertex"
SENTENCE = (
    "This problem asks for your own formula; vergence.thick_lens is out of reach while it is "
    "graded."
)
MESSAGE = "this problem asks for your own formula, and the course's was out of reach"


def _text(name):
    return source.set_text(name)


TEXT = _text(SET)


@pytest.fixture
def blocked():
    blocked_functions.block([THICK])
    yield
    blocked_functions.block([])


@pytest.mark.usefixtures("blocked")
def test_a_function_is_blocked_under_every_name_that_it_was_given():
    from shared_utils.optics.vergence import thick_lens as later

    ways = [
        lambda: vergence.thick_lens(8.0, 8.0, 5.0, 1.5),
        lambda: EARLIER(8.0, 8.0, 5.0, 1.5),
        lambda: later(front_d=8.0, back_d=8.0, thickness_mm=5.0, index=1.5),
        lambda: getattr(vergence, "thick" + "_lens")(8.0, 8.0, 5.0, 1.5),
        lambda: importlib.import_module(vergence.__name__).thick_lens(8.0, 8.0, 5.0, 1.5),
        lambda: importlib.reload(vergence).thick_lens(8.0, 8.0, 5.0, 1.5),
        lambda: anew(vergence.__file__).thick_lens(8.0, 8.0, 5.0, 1.5),
        lambda: list(map(EARLIER, [8.0], [8.0], [5.0], [1.5])),
        lambda: np.vectorize(EARLIER, otypes=[object])([8.0], 8.0, 5.0, 1.5),
        lambda: np.frompyfunc(EARLIER, 4, 1)(8.0, 8.0, 5.0, 1.5),
    ]
    for way in ways:
        with pytest.raises(blocked_functions.OutOfReach, match=SENTENCE):
            way()


EARLIER = vergence.thick_lens


def anew(file):
    spec = importlib.util.spec_from_file_location("mine", file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_thread_is_no_way_round(blocked):
    outcomes = []
    thread = threading.Thread(target=lambda: outcomes.append(_tried()))
    thread.start()
    thread.join()
    assert outcomes == ["OutOfReach"]


def _tried():
    try:
        return EARLIER(8.0, 8.0, 5.0, 1.5)
    except Exception as error:
        return type(error).__name__


def test_the_course_itself_still_reaches_it():
    # contact lens power, computed through the vergence at the cornea
    before = vergence.far_point(-4.0, vertex_mm=12.0)
    blocked_functions.block([AT_VERTEX])
    try:
        assert vergence.far_point(-4.0, vertex_mm=12.0) == before
        with pytest.raises(blocked_functions.OutOfReach):
            vergence.at_vertex(-4.0, 12.0, 0.0)
    finally:
        blocked_functions.block([])
    assert vergence.at_vertex(-4.0, 12.0, 0.0) == pytest.approx(-4 / 1.048)


def test_unblocked_it_is_as_it_was():
    before = vergence.thick_lens.__code__
    blocked_functions.block([THICK])
    blocked_functions.block([AT_VERTEX])
    assert vergence.thick_lens.__code__ is before
    blocked_functions.block([])
    assert vergence.thick_lens(8.0, 8.0, 0.0, 1.5).equivalent_power_d == 16.0


@pytest.mark.parametrize(
    ("name", "sentence"),
    [
        ("shared_utils.optics.vergence.thin_lens", "There is no function"),
        ("shared_utils.nowhere.f", "There is no function"),
        ("math.sqrt", "There is no function"),
        ("shared_utils.power.biometry.Eye", "not a plain function"),
    ],
)
def test_a_name_that_cannot_be_blocked_is_refused(name, sentence):
    with pytest.raises(ValueError, match=sentence):
        blocked_functions.block([name])


@pytest.mark.parametrize("name", place.set_names())
def test_what_the_sets_block_can_be_blocked(name):
    for names in cells.own_by_problem(text_to_notebook(_text(name))).values():
        for function in names:
            assert blocked_functions.find(function)


# the thick lens: visible check 2 + hidden 2; every way of handing the reference on
PASSED_ON = {
    "call": "def equivalent_power_d(*lens):\n"
    "    return vergence.thick_lens(*lens).equivalent_power_d\n\n\n"
    "def back_vertex_power_d(*lens):\n"
    "    return vergence.thick_lens(*lens).back_vertex_power_d",
    "alias": "from shared_utils.optics.vergence import thick_lens as mine\n"
    "equivalent_power_d = lambda *lens: mine(*lens).equivalent_power_d\n"
    "back_vertex_power_d = lambda *lens: getattr(mine(*lens), 'back_vertex_power_d')",
    "caught": "def equivalent_power_d(*lens):\n"
    "    try:\n        return vergence.thick_lens(*lens).equivalent_power_d\n"
    "    except BaseException:\n        return 0.0\n\n\n"
    "back_vertex_power_d = equivalent_power_d",
}


@pytest.mark.slow
@pytest.mark.grading
def test_a_pass_through_gets_nothing_and_the_sentence(tmp_path, monkeypatch):
    text = TEXT.replace('answer="thick"', f'answer="thick" own="{THICK} {AT_VERTEX}"')
    assert text != TEXT
    with course_of(tmp_path / "course", {SET: text}):
        handed_in = {way: filled(SET, {"thick": code}) for way, code in PASSED_ON.items()}
        # another problem may use what this one may not
        elsewhere = "def contact_lens_d(f, d):\n    return vergence.at_vertex(f, d, 0.0)"
        handed_in["right"] = filled(SET, {"vertex": elsewhere})
        with class_of(tmp_path, handed_in) as room:
            results = {result.learner: result for result in room.grade(SET)}
            for way in PASSED_ON:
                marks = marks_by_cell(room, way)
                assert (marks["thick-check"], marks["thick-hidden"]) == (0, 0), way
                assert results[way].marks == 22
                assert results[way].notes == []
            assert results["right"].marks == 26
            pages = {who: page.read_text(encoding="utf-8") for who, page in room.feedback(SET)}
            for way in ("call", "alias"):
                assert SENTENCE in pages[way]
                assert f"equivalent power of another lens: {MESSAGE}" in pages[way].replace(
                    "&#39;", "'"
                )
            for learner, book in handed_in.items():
                monkeypatch.setenv("LENS_COURSE_LEARNER", learner)
                report = selfcheck.check(save(book, tmp_path / learner / "problems.ipynb"), SET)
                own = {f"{p.name}-check": p.earned for p in report.problems if not p.by_hand}
                marked = marks_by_cell(room, learner)
                assert {name: marked[name] for name in own} == pytest.approx(own), learner
                shown = "\n".join(report.lines())
                assert (SENTENCE in shown) is (learner in ("call", "alias"))


OWN_SETS = [name for name in place.set_names() if "own=" in _text(name)]


@pytest.mark.slow
@pytest.mark.grading
@pytest.mark.parametrize(
    "name", [OWN_SETS[0], *(pytest.param(name, marks=pytest.mark.long) for name in OWN_SETS[1:])]
)
def test_model_answers_pass_while_the_reference_is_blocked(tmp_path, name):
    with class_of(tmp_path, {"ada": filled(name)}, seconds=20, name=name) as room:
        (result,) = room.grade(name)
        assert result.marks == result.of - result.by_hand
        assert result.notes == []
        (page,) = (page.read_text(encoding="utf-8") for _, page in room.feedback(name))
        assert "Worked with your numbers" in page
        assert "Stopped with" not in page
        assert "$" not in page.partition("Worked with your numbers")[2].partition("</div>")[0]

"""Answers that are alike: what was copied is found with both texts, and honest work gives nothing.

What is planted is written here, so whether it is found is known from outside; the numbers of a
learner are drawn by ``Draw`` itself, on another way than the course computes them here.
"""

import csv
import json
import random
import re
from itertools import combinations

import nbformat
import pytest

from shared_utils import cli
from shared_utils.classroom import answer_text, drawn_values, mistakes, similarity
from shared_utils.course import place
from shared_utils.pages import build, cells
from shared_utils.problems.numbers import Draw
from tests.filling import filled, solution
from tests.honest import submission
from tests.marking import class_of, course_of, empty_class, short_set
from tests.sampling import sample

pytestmark = pytest.mark.grading

SET = "01_vergence"
LEARNERS = ("ada", "bob", "cyd", "dan", "eve", "fay", "gus", "hal")
WRITTEN = (
    "When the page comes nearer its light diverges more strongly, so the crystalline lens has to "
    "add more converging power until the rays meet on the retina again, which tires an old eye."
)


def drawn(learner):
    page, image = Draw("vergence/page", learner), Draw("vergence/image", learner)
    return {
        "page": page.pick("distance_cm", 23, 71),
        "lamp": image.pick("lamp_cm", 30, 90),
        "lens": image.pick("lens_d", 4.0, 9.0, step=0.25),
    }


BOB = drawn("bob")
ANSWERS = {
    # numbers of bob's, written into functions that take their own
    "cyd": {
        "page": f"def page_vergence_d(cm):\n    return -100 / {BOB['page']}",
        "image": "def image_distance_cm(cm, power):\n"
        f"    return 100 / ({BOB['lens']} - 100 / {BOB['lamp']})",
    },
    # the same wrong way in two problems, under other names, with other spaces and comments
    "dan": {
        "page": "def page_vergence_d(distance_cm):\n    far = distance_cm * 3 + 7\n"
        "    return far / 11 - distance_cm",
        "image": "def image_distance_cm(o, p):\n    return o * 3 + p * 5 - 8",
    },
    "eve": {
        "page": "def page_vergence_d( d ):\n    # as I see it\n    x = d*3 + 7\n\n"
        "    return x/11-d",
        "image": "def image_distance_cm(where, lens):\n    '''Mine.'''\n"
        "    return where*3 + lens*5 - 8",
    },
    # the sign: a slip that everybody makes, and that a check names
    "gus": {"page": "def page_vergence_d(distance_cm):\n    return 100 / distance_cm"},
    "hal": {"page": "def page_vergence_d(cm):\n    return 100 / cm"},
}


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    """A class of eight, graded; outputs are cleared in every notebook but one."""
    folder = tmp_path_factory.mktemp("class")
    with course_of(folder / "course", {SET: short_set("page", "image", "why")}):
        handed_in = {who: filled(SET, {"why": f"I do not know, {who}."}) for who in LEARNERS}
        for who, answers in ANSWERS.items():
            handed_in[who] = filled(SET, {**answers, "why": f"No idea, says {who}."})
        for who in ("ada", "fay"):
            handed_in[who] = filled(SET, {"why": WRITTEN.replace("old eye", f"old eye. {who}")})
        given = next(c for c in handed_in["gus"].cells if c.id == "setup-given")
        given.outputs = [
            nbformat.v4.new_output("stream", text="Numbers for learner: hal\n", name="stdout")
        ]
        with class_of(folder, handed_in) as room:
            list(room.grade(SET))
            yield room


@pytest.fixture(scope="module")
def found(room):
    return room.alike(SET)


def test_what_was_copied_is_found_and_nobody_else(found):
    assert {(a.kind, a.problem, a.one, a.other) for a in found} == {
        *(("numbers", "page", "cyd", "bob"), ("numbers", "image", "cyd", "bob")),
        *(("results", "page", "dan", "eve"), ("results", "image", "dan", "eve")),
        # in the other problem it is too short to be rare
        *(("code", "page", "dan", "eve"),),
        *(("words", "why", "ada", "fay"), ("id", "", "gus", "hal")),
    }


def test_each_finding_says_what_and_holds_both_texts(found):
    of = {(a.kind, a.problem): a for a in found}
    page = of["numbers", "page"]
    assert f"{BOB['page']:g} for bob and {drawn('cyd')['page']:g} for cyd" in page.why
    assert "distance_cm" in page.text_other
    assert str(BOB["page"]) in page.text_one
    assert "at most 2 of 8 learners have" in of["code", "page"].why
    assert "which no known slip leads to and 2 of 8 have" in of["results", "image"].why
    rows = similarity.side_by_side(of["words", "why"].text_one, of["words", "why"].text_other)
    assert rows


def test_it_is_kept_when_the_submission_is_replaced(room, found, capsys):
    file = room.layout.submitted(SET, "eve")
    before = file.read_bytes()
    nbformat.write(filled(SET, {"why": "I thought again."}), file)
    list(room.grade(SET, ["eve"]))
    assert room.alike(SET) == found
    file.write_bytes(before)
    list(room.grade(SET, ["eve"]))
    assert room.alike(SET) == found


def test_command_and_report_show_it_and_give_no_verdict(room, found, capsys):
    assert cli.main(["class", "compare", "01", "--folder", str(room.folder)]) == 0
    out = capsys.readouterr().out
    assert "cyd and bob" in out or "bob and cyd" in out
    assert "it is no verdict and changes no mark" in out
    assert cli.main(["class", "report", "--folder", str(room.folder)]) == 0
    page = (room.folder / "report" / "class_report.html").read_text(encoding="utf-8")
    assert "<h3>01_vergence: dan and eve</h3>" in page
    assert "<th scope='col'>page, dan</th><th scope='col'>page, eve</th>" in page
    with open(room.folder / "report" / "answers_alike.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) == len(found)
    assert {row["what is alike"] for row in rows} == set(similarity.IN_WORDS.values())
    text = (out + page).lower()
    for word in ("plagiar", "cheat", "guilty", "fraud", "copied"):
        assert word not in text


def test_marks_are_the_same_with_and_without_it(room, found):
    marks = {result.learner: result.marks for result in room.grade(SET)}
    # page 1 + 1, image 1 + 2
    assert marks["ada"] == marks["bob"] == 5
    assert marks["gus"] == marks["hal"] == 3
    assert marks["cyd"] == marks["dan"] == marks["eve"] == 0


def test_what_a_function_does_when_it_is_run_once_more_costs_no_mark(tmp_path):
    """It is wrong in its first hidden test, and ends its kernel in the second run of it."""
    calls = "import os\ncount = [0]\n"
    ends = f"{calls}def page_vergence_d(cm):\n    count[0] += 1\n"
    ends += "    os._exit(1) if count[0] > {} else None\n    return 100 / cm"
    hangs = ends.replace("os._exit(1)", "[0 for _ in iter(int, 1)]")
    with course_of(tmp_path / "course", {SET: short_set("page", "image", "why")}):
        handed_in = {
            "ada": filled(SET, {"page": "def page_vergence_d(cm):\n    return 100 / cm"}),
            "bob": filled(SET, {"page": ends.format(2)}),
            "cyd": filled(SET, {"page": hangs.format(2)}),
        }
        with class_of(tmp_path, handed_in, seconds=3) as room:
            results = {result.learner: result for result in room.grade(SET)}
            groups = room.mistakes(SET)
    assert {result.marks for result in results.values()} == {3}  # the image's, with no restart
    assert all(result.notes == [] for result in results.values())
    assert any(set(group.learners) == {"ada", "bob", "cyd"} for group in groups)


def test_wrong_answers_are_grouped_and_one_comment_reaches_all(room, capsys):
    groups = room.mistakes(SET)
    by_what = {(g.problem, g.what): set(g.learners) for g in groups}
    sign = next(what for problem, what in by_what if problem == "page" and "the sign" in what)
    assert by_what["page", sign] == {"gus", "hal"}
    same = [g for g in groups if set(g.learners) == {"dan", "eve"}]
    assert {g.problem for g in same} == {"page", "image"}
    sizes = [len(g.learners) for g in groups if g.what != mistakes.EACH_ITS_OWN]
    assert sizes == sorted(sizes, reverse=True)
    assert groups[-1].what == mistakes.EACH_ITS_OWN
    line = ["class", "mistakes", "01", "--folder", str(room.folder)]
    assert cli.main(line) == 0
    page = (room.folder / "report" / f"mistakes_{SET}.html").read_text(encoding="utf-8")
    assert "<script" not in page
    assert "not for patient care" in page
    assert "<svg" in page
    number = groups.index(next(g for g in groups if g.what == sign)) + 1
    comment = [*line, "--group", str(number), "--comment", "Light from a page *diverges*."]
    assert cli.main(comment) == 0
    assert "The comment was added for 2 of 2" in capsys.readouterr().out
    assert cli.main(comment) == 0
    assert "The comment was added for 0 of 2" in capsys.readouterr().out
    pages = {who: path.read_text(encoding="utf-8") for who, path in room.feedback(SET)}
    for who, text in pages.items():
        assert ("Light from a page <em>diverges</em>." in text) == (who in ("gus", "hal"))
    # marked anew, the comment stays
    list(room.grade(SET, ["gus"], again=True))
    assert "diverges</em>." in dict(room.feedback(SET))["gus"].read_text(encoding="utf-8")


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (["--group", "1"], "needs both"),
        (["--group", "99", "--comment", "x"], "There is no group 99"),
        (["--group", "1", "--comment", " "], "The comment is empty"),
    ],
)
def test_a_comment_to_nobody_is_told(room, more, sentence, capsys):
    assert cli.main(["class", "mistakes", "01", "--folder", str(room.folder), *more]) == 2
    assert sentence in capsys.readouterr().err


# a wrong number in the same ratio to each learner's own right one, or at the same distance
@pytest.mark.parametrize(
    ("answer", "words"), [(lambda v: 1.7 * v, "1.7 times"), (lambda v: v + 3, "off by +3")]
)
def test_wrong_numbers_of_ones_own_are_alike_by_ratio_or_distance(answer, words):
    right = {"ada": -2.5, "bob": -4.0, "cyd": -1.6}
    record = mistakes.CheckRecord
    wrong = [
        (who, record("v", False, "unnamed", f"v: you have {answer(v):.3f} D. Expected: x."), ())
        for who, v in right.items()
    ]
    values = {who: {"page": drawn_values.DrawnValues({}, {"v": v})} for who, v in right.items()}
    ((found, who),) = mistakes._alike("page", "v", wrong, values.get)
    assert found.startswith(words)
    assert who == list(right)


def marked_class(folder, name, notebooks):
    """Lay notebooks where marked ones are kept, without running them."""
    for path, notebook in {
        folder / "source" / name: solution(name),
        folder / "release" / name: build.released(solution(name)),
        **{folder / "autograded" / who / name: book for who, book in notebooks.items()},
    }.items():
        path.mkdir(parents=True, exist_ok=True)
        nbformat.write(notebook, path / "problems.ipynb")


@pytest.mark.parametrize("name", sample(place.set_names(), 7))
def test_sixty_honest_submissions_with_the_model_answer_give_none(tmp_path, name):
    learners = [f"learner{number:03}" for number in range(60)]
    with empty_class(tmp_path, learners) as room:
        model = solution(name)
        books = {who: submission(model, "right", n) for n, who in enumerate(learners)}
        for number, book in enumerate(books.values()):
            for cell in book.cells:
                if cells.kind(cell) == "answer" and number % 3:
                    cell.source = renamed(cell.source, number)
        marked_class(room.folder, name, books)
        assert room.alike(name) == []


def renamed(text, number):
    """A right answer with names, comments and spaces of somebody's own."""
    for name in sorted(set(re.findall(r"^ +([a-z_]+) = ", text, flags=re.MULTILINE))):
        text = re.sub(rf"\b{name}\b", f"{name}_{number}", text)
    return f"# {number}\n" + text.replace("\n\n", "\n# and then\n")


@pytest.mark.parametrize("seed", range(10))
def test_numbers_that_sixty_learners_try_out_are_nobodys(seed):
    """Each tries ten functions' calls with numbers from the range that is drawn from."""
    chance = random.Random(seed)
    learners = [f"learner{number:03}" for number in range(60)]
    answered = similarity.AnsweredSet(SET)
    for who in learners:
        tried = [chance.randint(23, 71) for _ in range(5)]
        calls = [f"print(page_vergence_d({n}), -100 / {n}, {-100 / n:.2f})" for n in tried]
        text = "\n".join(calls)
        answered.answers["page"][who] = similarity.Answer(text, True)
        tried = [(chance.randint(30, 90), chance.randint(16, 36) / 4) for _ in range(3)]
        text = "\n".join(f"print(image_distance_cm({a}, {b:.2f}))" for a, b in tried)
        answered.answers["image"][who] = similarity.Answer(text, True)
    assert similarity.compare(answered, frozenset(), values_of) == []


def values_of(learner):
    own = drawn(learner)
    right_image = 100 / (own["lens"] - 100 / own["lamp"])
    return {
        "page": drawn_values.DrawnValues(
            {"distance_cm": (own["page"], 49)}, {"vergence": -100 / own["page"]}
        ),
        "image": drawn_values.DrawnValues(
            {"lamp_cm": (own["lamp"], 61), "lens_d": (own["lens"], 21)}, {"image": right_image}
        ),
    }


def test_the_numbers_of_a_learner_are_those_that_the_learner_sees():
    source = json.loads(nbformat.writes(solution(SET)))
    for who in LEARNERS:
        found, expected = drawn_values.run(source, who), values_of(who)
        assert found["page"].drawn == expected["page"].drawn
        assert found["image"].drawn == expected["image"].drawn
        assert [*found["page"].right.values()] == pytest.approx([*expected["page"].right.values()])
    assert len({str(values_of(who)) for who in LEARNERS}) == len(LEARNERS)


LONG = "\n".join(
    f"    step_{n} = (distance_cm * {n + 2} - {n}) / ({n} + distance_cm ** {n % 3 + 2})"
    for n in range(8)
)


@pytest.mark.parametrize(
    ("change", "is_found"),
    [
        (lambda text: text, True),
        (lambda text: text.replace("step", "s").replace("distance_cm", "x"), True),
        (lambda text: re.sub(r"\n", "  # mine\n\n", text).replace(" * ", "*"), True),
        (lambda text: "\n".join(text.splitlines()[:5]), False),
    ],
)
def test_long_code_that_nobody_else_has_is_found_whatever_its_names(change, is_found):
    answered = similarity.AnsweredSet(SET)
    for number in range(20):
        text = f"def f(distance_cm):\n    return {number} - distance_cm"
        answered.answers["page"][f"other{number}"] = answer(text)
    answered.answers["page"]["ada"] = answer(f"def f(distance_cm):\n{LONG}\n    return step_7")
    copy = f"def f(distance_cm):\n{LONG}\n    return step_7" if is_found else LONG[4:]
    answered.answers["page"]["bob"] = answer(change(copy))
    found = similarity.compare(answered, frozenset(), lambda _: {})
    pairs = {a.pair for a in found if a.kind == "code"}
    assert pairs == ({("ada", "bob")} if is_found else set())


def answer(text):
    made = similarity.Answer(text, True)
    made.runs = similarity._runs(text, True)
    return made


def test_among_two_nothing_is_rare():
    answered = similarity.AnsweredSet(SET)
    for who in ("ada", "bob"):
        answered.answers["page"][who] = answer(f"def f(distance_cm):\n{LONG}\n    return step_7")
    assert similarity.compare(answered, frozenset(), lambda _: {}) == []


@pytest.mark.parametrize("text", ["def f(:", "\x00", "(" * 500, "x = 1e999", "é = '", "", "½"])
def test_code_that_is_none_is_compared_as_text(text):
    answer_text.code_tokens(text)
    answer_text.numbers_in_code(text)


def test_jaccard_is_that_of_the_definition():
    # Jaccard P. The distribution of the flora in the alpine zone. New Phytol 1912;11:37–50
    sets = [frozenset(s) for s in ("ab", "bc", "abcd", "")]
    for one, other in combinations(sets, 2):
        expected = len(one & other) / len(one | other)
        assert answer_text.jaccard(one, other) == expected
    assert answer_text.jaccard(frozenset(), frozenset()) == 0

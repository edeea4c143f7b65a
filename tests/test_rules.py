"""Lessons, sets, items and the course keep the rules that ``lens-course lint`` states."""

import re

import pytest

from shared_utils import cli
from shared_utils.authoring import coverage, demos, lint, rules
from shared_utils.bank import items
from shared_utils.course import manifest, place
from shared_utils.pages import build, source


@pytest.fixture
def changed(monkeypatch):
    """Let a text of the course read otherwise: which text, then (old, new) pairs of patterns."""

    def change(which, slug, old, new):
        read = getattr(source, which)

        def other(name, root=None):
            text = read(name, root)
            if manifest.slug_in(name) != slug:
                return text
            made, count = re.subn(old, new, text, count=1, flags=re.M | re.S)
            assert count, f"{slug} does not hold {old}"
            return made

        monkeypatch.setattr(source, which, other)
        coverage.of_lesson.cache_clear()

    yield change
    coverage.of_lesson.cache_clear()


CASES = [
    pytest.param(rule, page, id=f"{rule.name}-{page.slug if page else 'course'}")
    for rule in rules.RULES
    for page in lint.subjects(rule.scope)
]


@pytest.mark.parametrize(("rule", "page"), CASES)
def test_the_course_keeps(rule, page):
    assert [f"{found.where}: {found.what}" for found in lint.broken(rule, page)] == []


BROKEN = [
    ("anatomy", "lesson_text", r' part="case"', ""),
    ("anatomy", "lesson_text", r'part="explain"', 'part="predict"'),
    ("anatomy", "lesson_text", r'part="recall"', 'part="remember"'),
    ("anatomy", "lesson_text", r'part="(summary|caution)"', 'part="goals"'),
    ("words_of_an_idea", "lesson_text", r"Light from a point spreads\.", "word " * 150),
    ("minutes", "lesson_text", r"Light from a point spreads\.", "word " * 3600),
    ("title", "lesson_text", r"01 · Vergence", "01 · Divergence"),
    ("caution", "lesson_text", r"not for patient care", "for everybody"),
    ("goals", "lesson_text", r"# 2\. \*\*find", "# 5. **find"),
    ("coverage_of_goals", "lesson_text", r'part="example" goals="4"', 'part="example"'),
    ("coverage_of_goals", "lesson_text", r', "two-apart"\)', ")"),
    ("coverage_of_goals", "set_text", r'goals="4"(.*?)goals="4"', r"\1"),
    ("sliders", "lesson_text", r"demos\.lens_and_way", "demos.lens_on_its_way"),
    ("items_of_the_page", "lesson_text", r'"two-apart"', '"three-apart"'),
    ("what_it_says_of_its_set", "lesson_text", r"30 points", "31 points"),
    ("heading_levels", "lesson_text", r"# ## Goals", "# ### Goals"),
    ("links", "lesson_text", r"exercises/01_vergence", "exercises/02_vergence"),
    ("links", "set_text", r"lessons/01_vergence", "lessons/01_divergence"),
    ("folded_code", "lesson_text", r"# %% hide=true", "# %%"),
    ("folded_code", "lesson_text", r"guess_image$", "def f():\n    return 1\n\n\nguess_image"),
    ("points", "set_text", r"\(2 points\)", "(3 points)"),
    ("points", "set_text", r", 30 points", ", 29 points"),
    ("points", "set_text", r" \(2 points\)", ""),
    ("cells_of_a_problem", "set_text", r'# %% hidden="page" points=1', "# %%"),
    ("worked_solution", "set_text", r"checks\.working\(", "print("),
    ("mark_scheme", "set_text", r"### BEGIN MARK SCHEME\n.*?# ### END", "### BEGIN\n# ### END"),
    ("goals_of_problems", "set_text", r'question="page" goals="1"', 'question="page"'),
    ("own_name", "set_text", r'Draw\("vergence/page"', 'Draw("eye/page"'),
    ("own_name", "set_text", r'show\("vergence"', 'show("eye"'),
    ("out_of_reach", "set_text", r'answer="page"', 'answer="page" own="shared_utils.gone"'),
    ("number_of_problems", "set_text", r'written="(\w+)" points=\d', r'given="\1"'),
    ("questions_of_the_examination", "lesson_text", r"lens power 12", "lens power 11"),
    ("texts_that_build", "lesson_text", r'part="case"', 'parts="case"'),
]


@pytest.mark.parametrize(("name", "which", "old", "new"), BROKEN)
def test_a_text_that_breaks_a_rule_is_found(changed, name, which, old, new):
    slug = "mock_examination" if name == "questions_of_the_examination" else "vergence"
    changed(which, slug, old, new)
    (rule,) = [rule for rule in rules.RULES if rule.name == name]
    page = manifest.of().by_slug[slug]
    assert list(lint.broken(rule, None if rule.scope == "course" else page))


def other_item(key="which-way-weaker", **changes):
    from dataclasses import replace

    return replace(items.bank()[key], **changes)


ITEMS = [
    ("goal_of_an_item", {"goal": 9}),
    ("options_of_a_choice", {"options": "first three"}),
    ("options_of_a_choice", {"options": "short feedback"}),
    ("readable_alone", {"stem": "Which of those in the picture is weaker?"}),
    ("readable_alone", {"stem": "Which is weaker?"}),
    ("source_of_an_item", {"source": " "}),
    ("functions_of_an_item", {"figure": "vergence.gone"}),
    ("functions_of_an_item", {"figure": "gone.gone"}),
    ("second_reading", {"key": "which-way-stronger"}),
]


@pytest.mark.parametrize(("name", "changes"), ITEMS)
def test_an_item_that_breaks_a_rule_is_found(monkeypatch, name, changes):
    from dataclasses import replace

    whole = items.bank()
    item = next(i for i in whole.values() if i.lesson == "vergence" and not i.compute and i.options)
    if changes.get("options") == "first three":
        key = [option for option in item.options if option.key]
        others = [option for option in item.options if not option.key]
        changes = {"options": (*key, *others[:2])}
    elif changes.get("options") == "short feedback":
        changes = {"options": tuple(replace(option, feedback="No.") for option in item.options)}
    monkeypatch.setattr(items, "bank", lambda: {**whole, item.key: replace(item, **changes)})
    (rule,) = [rule for rule in rules.RULES if rule.name == name]
    assert list(lint.broken(rule, manifest.of().by_slug["vergence"]))


def test_numbers_and_slips_of_drawn_items_are_watched_too(monkeypatch):
    from dataclasses import replace

    whole = items.bank()
    own = [item for item in whole.values() if item.lesson == "vergence" and item.compute]
    number = next(item for item in own if item.kind == "number")
    choice = next(item for item in own if item.kind == "choice" and "{" in str(item.options))
    key = next(option for option in choice.options if option.key)
    same = tuple(replace(o, text=f"never {key.text}", key=o.key) for o in choice.options)
    other = {
        number.key: replace(number, slips=number.slips[:2], key="not-recomputed"),
        choice.key: replace(choice, options=same),
    }
    monkeypatch.setattr(items, "bank", lambda: {**whole, **other})
    page = manifest.of().by_slug["vergence"]
    found = {rule.name for rule in rules.RULES if rule.scope == "lesson" and [*rule.check(page)]}
    assert {"slips_of_a_number", "recomputed", "wrong_paths"} <= found


def test_the_command_says_where_what_which_rule_and_what_to_do(changed, capsys):
    assert cli.main(["lint", "vergence"]) == 0
    assert capsys.readouterr().out == "Nothing is missing.\n"
    changed("lesson_text", "vergence", r"30 points", "31 points")
    assert cli.main(["lint", "02"]) == 0
    capsys.readouterr()
    assert cli.main(["lint", "01"]) == 1
    message = capsys.readouterr().out
    line = 1 + source.lesson_text("vergence").split('part="problems"')[0].count("\n")
    assert (
        f"  lessons/source/vergence.py:{line}: It says 31 points and 40 minutes; the set says "
        "30 points and 40 minutes." in message
    )
    assert "A lesson says of its problem set what the set says of itself." in message
    assert "→ Write the same numbers" in message
    assert cli.main(["lint", "nothing"]) == 2
    assert "There is no page 'nothing'" in capsys.readouterr().err


def test_a_page_is_told_of_its_own_files_alone():
    def about(where, what, slug):
        return lint.is_about(lint.Finding("rule", where, what, "", ""), slug)

    for where in (
        "lessons/source/eye.py:3",
        "tests/test_lesson_eye.py",
        "exercises/02_eye/p.ipynb",
    ):
        assert about(where, "REPLACE", "eye")
        assert not about(where, "REPLACE", "ey")
    other = "shared_utils/show/difficult_eyes.py:9"
    assert not about(other, "REPLACE: what the eye sees", "eye")
    assert about("README.md:4", "It says 03_eye; it is 02_eye now.", "eye")


def test_what_was_left_of_a_new_lesson_is_told_for_its_page_alone(monkeypatch, capsys):
    def left():
        yield "shared_utils/show/toric.py:9", "REPLACE: what the eye sees in vergence"

    (rule,) = [rule for rule in rules.RULES if rule.name == "nothing_left_to_replace"]
    other = type(rule)(rule.name, rule.scope, rule.says, rule.do, left)
    monkeypatch.setattr(lint, "RULES", [other if one is rule else one for one in rules.RULES])
    assert cli.main(["lint", "vergence"]) == 0
    assert cli.main(["lint", "toric"]) == 1
    assert "show/toric.py:9: REPLACE" in capsys.readouterr().out


@pytest.mark.parametrize("floor", ["cases", "show", "explore"])
def test_a_module_that_a_lesson_lacks_is_named(monkeypatch, floor):
    missing = place.course_root() / f"shared_utils/{floor}/vergence.py"
    is_file = type(missing).is_file
    monkeypatch.setattr(type(missing), "is_file", lambda path: path != missing and is_file(path))
    (rule,) = [rule for rule in rules.RULES if rule.name == "modules_of_a_lesson"]
    assert [found.where for found in lint.broken(rule)] == [f"shared_utils/{floor}/vergence.py"]


def test_a_slider_that_takes_parameters_is_named(tmp_path, monkeypatch):
    text = (demos.FOLDER / "vergence.py").read_text(encoding="utf-8")
    text += (
        "\n\ndef turned(step=2):\n    return Demo()\n\n\ndef _turned(step):\n    return Demo()\n"
    )
    (tmp_path / "vergence.py").write_text(text, encoding="utf-8")
    monkeypatch.setattr(demos, "FOLDER", tmp_path)
    (rule,) = [rule for rule in rules.RULES if rule.name == "sliders"]
    (found,) = lint.broken(rule, manifest.of().by_slug["vergence"])
    assert found.what == "turned takes parameters, so no page and no test can show it."


@pytest.mark.parametrize(
    ("marker", "says"),
    [
        ("hide=ye", "has a marker that cannot be read: hide=ye"),
        ("hide=3", "has hide=3; write hide=true"),
        ('goals="one"', 'has goals="one"; write their numbers'),
        ("own=3", "has own=3; write it as own="),
        ('check="page"', 'is the check of "page" and gives no points'),
        ('check="page" points="x"', 'is the check of "page" and gives no points'),
    ],
)
def test_a_marker_that_is_no_marker_is_told_with_its_file(changed, capsys, marker, says):
    changed("lesson_text", "vergence", r"# %% hide=true", f"# %% {marker}")
    assert cli.main(["lint", "vergence"]) == 1
    reply = capsys.readouterr().out
    assert "  lessons/source/vergence.py: The cell that begins" in reply
    assert says in reply
    rules._text.cache_clear()
    with pytest.raises(ValueError, match=r"^lessons/source/vergence\.py: The cell that begins"):
        list(build.build_all())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[[item]\n", "vergence.toml is no TOML"),
        ("item = 3\n", r"vergence.toml: begin each item with a line \[\[item\]\]"),
        (
            '[[item]]\nkey = "a"\ngoal = 1\nstem = "?"\nsource = "s"\nkind = "choosing"\n',
            "vergence.toml: Item 'a': the kind is one of",
        ),
    ],
)
def test_what_is_wrong_with_an_item_is_told_with_its_file(tmp_path, monkeypatch, text, says):
    (tmp_path / "vergence.toml").write_text(text, encoding="utf-8")
    monkeypatch.setattr(items, "BANK", tmp_path)
    items.bank.cache_clear()
    try:
        with pytest.raises(ValueError, match=says):
            items.bank()
    finally:
        items.bank.cache_clear()

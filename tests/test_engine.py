"""The slider engine and the parts of a page, with no browser."""

import base64
import html
import io

import numpy as np
import pytest
from matplotlib.figure import Figure
from PIL import Image

from shared_utils import CAUTION
from shared_utils.authoring import demos
from shared_utils.bank import items
from shared_utils.explore import engine, page, vergence
from shared_utils.show import style
from tests.sampling import first_of_each, sample

DEMOS = [make for _, make in demos.every()]
SAMPLED = first_of_each(DEMOS, lambda make: make.__module__)


def picture(explorer):
    return np.asarray(Image.open(io.BytesIO(base64.b64decode(explorer.view.png_base64))))


def positions(control):
    if isinstance(control, engine.Choice):
        return list(control.options.values())
    return [control.low, (control.low + control.high) / 2, control.high]


ADVISING = {
    "a lens added to an eye",
    "a plan for two eyes, by day and at night",
    "five formulas in one eye",
    "one finding and five classes of lens",
    "one pair of glasses and ten tasks",
    "the lens ordered and where such eyes end",
    "which step to order",
}


def test_a_slider_that_shows_a_power_or_a_verdict_carries_the_caution():
    made = [make() for make in DEMOS]
    assert {demo.title for demo in made if demo.advises} == ADVISING
    for demo in made:
        explorer = engine.explore(demo)
        shown = [explorer.view.still(), *(str(getattr(w, "value", "")) for w in explorer.children)]
        assert explorer.view.alt.endswith(CAUTION) == demo.advises
        assert (f"<p>{html.escape(CAUTION)}</p>" in shown) == demo.advises
        assert (shown[0].count(html.escape(CAUTION)) == 2) == demo.advises


@pytest.mark.parametrize("make", SAMPLED, ids=lambda d: d.__name__)
def test_every_control_is_driven_to_its_extremes(make):
    demo = make()
    explorer = engine.explore(demo)
    for control in demo.controls:
        for value in positions(control):
            explorer.controls[control.name].value = value
            assert "cannot be drawn" not in explorer.view.sentence
            assert "nan" not in explorer.view.sentence
            assert "inf " not in explorer.view.sentence
            assert len(explorer.view.alt) > 40


@pytest.mark.parametrize("make", sample(DEMOS, 8), ids=lambda d: d.__name__)
def test_all_corners_of_the_controls_can_be_drawn(make):
    import itertools

    demo = make()
    explorer = engine.explore(demo)
    names = [control.name for control in demo.controls]
    for corner in itertools.product(*(positions(control) for control in demo.controls)):
        explorer.set(**dict(zip(names, corner, strict=True)))
        assert "cannot be drawn" not in explorer.view.sentence, corner


@pytest.mark.parametrize("make", SAMPLED, ids=lambda d: d.__name__)
def test_a_step_changes_picture_sentence_and_alt_and_reset_undoes_it(make):
    demo = make()
    explorer = engine.explore(demo)
    first = picture(explorer), explorer.view.sentence, explorer.view.alt
    slider = demo.controls[0]
    explorer.controls[slider.name].value = slider.start + 4 * slider.step
    second = picture(explorer), explorer.view.sentence, explorer.view.alt
    assert first[0].shape == second[0].shape
    assert not np.array_equal(first[0], second[0])
    assert first[1] != second[1]
    assert first[2] != second[2]
    explorer.reset()
    assert explorer.state == demo.start()
    assert np.array_equal(picture(explorer), first[0])
    assert explorer.view.sentence == first[1]


@pytest.mark.parametrize("make", SAMPLED, ids=lambda d: d.__name__)
def test_the_kept_background_gives_the_picture_that_a_full_drawing_gives(make):
    """Drawn anew by matplotlib, artist for artist, the figure is the same to the pixel."""
    demo = make()
    explorer = engine.explore(demo)
    slider = demo.controls[0]
    explorer.controls[slider.name].value = slider.low
    shown = picture(explorer)
    kept = explorer._picture
    for artist in kept.artists.values():
        artist.set_animated(False)
    with style.applied():
        kept._canvas.draw()
    whole = np.asarray(kept._canvas.buffer_rgba())[..., :3].astype(int)
    # the order among equals may differ where lines cross: a hundredth of the pixels at most
    assert np.mean(np.abs(whole - shown).max(axis=-1) > 40) < 0.01


def test_every_slider_has_a_title_of_its_own():
    titles = [make().title for make in DEMOS]
    assert len(set(titles)) == len(titles)


def test_a_reopened_page_has_a_still():
    explorer = engine.explore(vergence.point_and_surface())
    data, _ = explorer._repr_mimebundle_()
    assert "application/vnd.jupyter.widget-view+json" in data
    assert "<img " in data["text/html"]
    assert "−2.50 D" in data["text/html"]


def test_running_a_cell_again_closes_the_earlier_demo():
    first = engine.explore(vergence.point_and_surface())
    engine.explore(vergence.point_and_surface())
    assert first.comm is None
    assert all(control.comm is None for control in first.controls.values())


def _demo(**changes):
    def build():
        figure = Figure(figsize=(7, 3))
        axes = figure.add_subplot()
        return figure, {"line": axes.plot([], [])[0]}

    parts = {
        "title": "a line",
        "controls": (engine.Slider("x_d", "x, D", 0, 2, 0.25, 1, "D"),),
        "build": build,
        "compute": lambda x_d: 1 / x_d,
        "move": lambda artists, data: artists["line"].set_data([0, 1], [0, data]),
        "sentence": lambda data: f"It is {data} < & so.",
        "alt": lambda data: f'A line to "{data}".',
    }
    return engine.Demo(**{**parts, **changes})


def test_an_error_shows_as_a_sentence_in_the_page():
    explorer = engine.explore(_demo())
    explorer.controls["x_d"].value = 0
    assert "cannot be drawn" in explorer.view.sentence
    assert "division by zero" in explorer.view.sentence
    explorer.controls["x_d"].value = 2
    assert "It is 0.5" in explorer.view.sentence


def test_words_in_the_still_are_escaped():
    still = engine.explore(_demo()).view.still()
    assert "&lt; &amp;" in still
    assert "&quot;1.0&quot;" in still


def test_four_controls_are_too_many():
    control = engine.Slider("x_d", "x, D", 0, 2, 0.25, 1, "D")
    with pytest.raises(ValueError, match="one to three"):
        _demo(controls=(control,) * 4)


def test_a_value_outside_is_held_at_the_end():
    explorer = engine.explore(_demo())
    explorer.controls["x_d"].value = 99
    assert explorer.state["x_d"] == 2


@pytest.mark.parametrize(("step", "digits"), [(1, 0), (5, 0), (0.5, 1), (0.25, 2), (0.1, 1)])
def test_a_slider_reads_as_many_digits_as_it_steps(step, digits):
    control = engine.Slider("x_d", "x, D", 0, 20, step, 10, "D")
    assert engine.explore(_demo(controls=(control,))).controls["x_d"].digits == digits


def test_a_guess_is_kept_and_answered():
    guess = page.Guess("How much?", unit="D")
    answer = page.Answer(guess, 2.5, "Because.")
    assert "Keep a guess" in answer.value
    guess.entry.value = -2.5
    assert "Keep a guess" in answer.value  # typed, not kept
    guess.keep_button.click()
    assert "Kept: −2.50 D" in guess.reply.value
    assert "Not so." in answer.value
    assert "You guessed −2.50 D; the sum gives +2.50 D. Because." in answer.value
    guess.entry.value = 2.5
    guess.keep()
    assert "That holds." in answer.value


def test_a_guess_among_words_asks_for_one():
    guess = page.Guess("Which?", options=("weaker", "stronger"))
    answer = page.Answer(guess, "weaker", "Because.")
    guess.keep()
    assert guess.kept is None
    assert "Choose one" in guess.reply.value
    guess.entry.value = "weaker"
    guess.keep()
    assert "That holds." in answer.value
    still, _ = answer._repr_mimebundle_()
    assert "<details>" in still["text/html"]


def test_steps_left_out_do_not_show_until_opened():
    steps = [("a", "how a", 1.0, "D"), ("b", "how b", -2.0, "D")]
    assert "how b" in page.worked(steps).data
    faded = page.faded(steps, missing=(2,)).data
    assert "how a" in faded
    assert "how b" not in faded
    assert "<details><summary>show</summary>−2.00 D</details>" in faded


def test_items_are_shown_with_an_answer_to_open_for_each_option():
    shown = items.ask("reciprocal").data
    assert shown.count("<details>") == 4
    with pytest.raises(ValueError, match="No item"):
        items.ask("nonsense")

"""Key press to new picture: the engine against plain ``interact``, in the same page and run."""

import importlib
import statistics

import nbformat
import pytest

from shared_utils import explore
from shared_utils.authoring import demos
from shared_utils.explore import engine
from shared_utils.pages import build
from tests import lab

pytestmark = [pytest.mark.browser, pytest.mark.benchmark]

PRESSES = 20
AT_LEAST = 2.5

# The same work by interact: the same figure, drawn anew for each value, as its manual shows.
ENGINE_CELL = """
from shared_utils.explore import engine, {module}
demo = {module}.{make}()
explorer = engine.explore(demo)
explorer
"""
INTERACT_CELL = """
import ipywidgets
from IPython.display import display
from shared_utils.show import style

slider = next(c for c in demo.controls if isinstance(c, engine.Slider))
others = {name: ipywidgets.fixed(value) for name, value in demo.start().items()
          if name != slider.name}

def draw(**state):
    with style.applied():
        figure, artists = demo.build()
        demo.move(artists, demo.compute(**state))
        display(figure)

ipywidgets.interact(draw, **others, **{slider.name: ipywidgets.FloatSlider(
    slider.start, min=slider.low, max=slider.high, step=slider.step)})
"""
# Milliseconds from the key's event to the load of the picture that it brings about.
WAIT_FOR_PICTURE = """
(selector) => new Promise((resolve, reject) => {
  let begun = null;
  const pressed = () => { begun = performance.now(); };
  document.addEventListener("keydown", pressed, {once: true, capture: true});
  const loaded = (event) => {
    if (begun !== null && event.target.matches?.(selector)) {
      document.removeEventListener("load", loaded, true);
      resolve(performance.now() - begun);
    }
  };
  document.addEventListener("load", loaded, true);
  setTimeout(() => reject(new Error("no new picture")), 10000);
})
"""


EVERY_DEMO = [
    pytest.param(module, make.__name__, id=make.__name__) for module, make in demos.every()
]


@pytest.mark.parametrize(("module", "make"), [("vergence", "point_and_surface")])
def test_a_step_of_the_engine_is_several_times_faster_than_interact(module, make, tmp_path, page):
    _compare(module, make, tmp_path, page)


@pytest.mark.long
@pytest.mark.parametrize(("module", "make"), EVERY_DEMO)
def test_a_step_of_every_demo_is_several_times_faster_than_interact(module, make, tmp_path, page):
    _compare(module, make, tmp_path, page)


def _there_and_back(module, make):
    """Keys that move the demo's first slider by a step each, and turn round at its ends."""
    demo = getattr(importlib.import_module(f"{explore.__name__}.{module}"), make)()
    slider = next(c for c in demo.controls if isinstance(c, engine.Slider))
    last = round((slider.high - slider.low) / slider.step)
    place, way = round((slider.start - slider.low) / slider.step), 1
    for _ in range(PRESSES):
        if not 0 <= place + way <= last:
            way = -way
        place += way
        yield "ArrowRight" if way > 0 else "ArrowLeft"


def _compare(module, make, folder, page):
    code = nbformat.v4.new_code_cell
    first = code(ENGINE_CELL.format(module=module, make=make))
    notebook = nbformat.v4.new_notebook(
        cells=[first, code(INTERACT_CELL)], metadata=build.NOTEBOOK_METADATA
    )
    nbformat.write(notebook, folder / "bench.ipynb")
    with lab.running_lab(folder) as address:
        lab.open_notebook(page, address, "bench.ipynb")
        lab.run_all(page)
        page.wait_for_selector(".lens-course-slider input", state="attached")
        page.wait_for_selector(".widget-slider [role=slider]", state="attached")
        ways = {
            "engine": (".lens-course-slider input", ".lens-course-picture img"),
            "interact": (".widget-slider [role=slider]", ".jp-OutputArea .widget-output img"),
        }
        milliseconds = {name: [] for name in ways}
        for key in _there_and_back(module, make):  # interleaved, so that both meet the same noise
            for name, (slider, picture) in ways.items():
                page.locator(slider).first.focus()
                page.evaluate(f"() => {{ window.seen = ({WAIT_FOR_PICTURE})('{picture}'); }}")
                page.keyboard.press(key)
                milliseconds[name].append(page.evaluate("window.seen"))
                page.wait_for_timeout(50)
    # the quickest of each: what a busy machine adds says nothing of either way
    quick = {name: min(times) for name, times in milliseconds.items()}
    ratio = quick["interact"] / quick["engine"]
    middle = {name: statistics.median(times) for name, times in milliseconds.items()}
    print(
        f"\n{make}: key press to picture, ms: quickest {quick}, median {middle}; ratio {ratio:.1f}"
    )
    assert ratio >= AT_LEAST

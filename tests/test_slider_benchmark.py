"""Key press to new picture: the engine against plain ``interact``, in the same page and run."""

import nbformat
import pytest

from shared_utils.coursework import build
from tests import lab

pytestmark = [pytest.mark.browser, pytest.mark.benchmark]

PRESSES = 20
AT_LEAST = 2.5

# The same work by interact: the same figure, drawn anew for each value, as its manual shows.
ENGINE_CELL = """
from shared_utils.explore import engine, vergence
explorer = engine.explore(vergence.point_and_surface())
explorer
"""
INTERACT_CELL = """
import ipywidgets
from IPython.display import display
from shared_utils.show import style

demo = vergence.point_and_surface()

def draw(object_distance_cm):
    with style.applied():
        figure, artists = demo.build()
        demo.move(artists, demo.reckon(object_distance_cm, 5.0, 1.0))
        display(figure)

ipywidgets.interact(draw, object_distance_cm=ipywidgets.IntSlider(40, 10, 100))
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


def test_a_step_of_the_engine_is_several_times_faster_than_interact(tmp_path, page):
    code = nbformat.v4.new_code_cell
    notebook = nbformat.v4.new_notebook(
        cells=[code(ENGINE_CELL), code(INTERACT_CELL)], metadata=build.NOTEBOOK_METADATA
    )
    nbformat.write(notebook, tmp_path / "bench.ipynb")
    with lab.running_lab(tmp_path) as address:
        lab.open_notebook(page, address, "bench.ipynb")
        lab.run_all(page)
        page.wait_for_selector(".lens-course-slider input", state="attached")
        page.wait_for_selector(".widget-slider [role=slider]", state="attached")
        ways = {
            "engine": (".lens-course-slider input", ".lens-course-picture img"),
            "interact": (".widget-slider [role=slider]", ".jp-OutputArea .widget-output img"),
        }
        milliseconds = {name: [] for name in ways}
        for _ in range(PRESSES):  # interleaved, so that both meet the same noise
            for name, (slider, picture) in ways.items():
                page.locator(slider).first.focus()
                page.evaluate(f"() => {{ window.seen = ({WAIT_FOR_PICTURE})('{picture}'); }}")
                page.keyboard.press("ArrowRight")
                milliseconds[name].append(page.evaluate("window.seen"))
                page.wait_for_timeout(50)
    # the quickest of each: what a busy machine adds says nothing of either way
    quick = {name: min(times) for name, times in milliseconds.items()}
    ratio = quick["interact"] / quick["engine"]
    print(f"\nkey press to picture, ms: {quick}; ratio {ratio:.1f}")
    assert ratio >= AT_LEAST

"""The two halves of a widget, in Python and in the browser, speak of the same values."""

import re
from pathlib import Path

import anywidget
import pytest

from shared_utils.explore import engine
from shared_utils.practice import clock  # noqa: F401

WIDGETS = [w for w in anywidget.AnyWidget.__subclasses__() if w.__module__.startswith("shared_")]


@pytest.mark.parametrize("widget", WIDGETS, ids=lambda widget: widget.__name__)
def test_the_browser_reads_values_that_the_widget_has(widget):
    source = widget._esm
    text = source.read_text("utf-8") if isinstance(source, Path) else str(source)
    read = set(re.findall(r"""model\.(?:get|set)\(["'](\w+)["']""", text))
    read |= set(re.findall(r"""["']change:(\w+)["']""", text))
    assert read
    assert read <= set(widget.class_trait_names(sync=True)), read


def test_no_widget_is_left_out():
    scripts = (Path(engine.__file__).parents[1]).rglob("*.js")
    assert len(WIDGETS) == len(list(scripts))

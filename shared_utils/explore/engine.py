"""The slider engine: one picture, at most three controls, one sentence, one reset.

A picture must follow the key press, so nothing is drawn twice: the figure is built and laid out
once, what stands still is kept as a background, and a step draws only the artists that move. The
picture travels as an ``<img>`` with alt text; the sentence stands in a box of fixed height, so
the page never jumps. A page that is reopened or exported without running shows a still.
"""

import base64
import html
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import anywidget
import ipywidgets
import numpy as np
import traitlets
from matplotlib.backends.backend_agg import FigureCanvasAgg
from PIL import Image

from shared_utils.show import style

SENTENCE_HEIGHT_PX = 68


@dataclass(frozen=True)
class Slider:
    """A number that the learner moves; ``name`` carries the unit as suffix."""

    name: str
    label: str
    low: float
    high: float
    step: float
    start: float
    unit: str = ""
    signed: bool = False


@dataclass(frozen=True)
class Choice:
    """One of a few named values."""

    name: str
    label: str
    options: dict
    start: object


@dataclass(frozen=True)
class Demo:
    """What an author writes; the engine does the rest.

    Parameters
    ----------
    title : str
        Names the picture for readers who do not see it.
    controls : tuple of Slider and Choice
        At most three.
    build : callable
        () → (figure, artists): a ``matplotlib.figure.Figure``, drawn once, and a dict of the
        artists that move.
    reckon : callable
        (all control values by name) → data. Takes the whole state, keeps none.
    move : callable
        (artists, data) → None: sets the artists to the data.
    sentence : callable
        data → one or two sentences that read the state out.
    alt : callable
        data → what a reader should conclude from the picture.
    """

    title: str
    controls: tuple
    build: Callable
    reckon: Callable
    move: Callable
    sentence: Callable
    alt: Callable

    def __post_init__(self):
        if not 1 <= len(self.controls) <= 3:
            raise ValueError(
                f"{self.title!r} has {len(self.controls)} controls; give one to three: more at "
                "once teach less."
            )

    def start(self):
        """Return the state that the demo opens with."""
        return {control.name: control.start for control in self.controls}


class Picture:
    """A figure whose still parts are drawn once."""

    def __init__(self, build):
        with style.applied():
            self.figure, self.artists = build()
            self._canvas = FigureCanvasAgg(self.figure)
            for artist in self.artists.values():
                artist.set_animated(True)
            self.figure.draw_without_rendering()  # lays out
            self.figure.set_layout_engine("none")  # and the layout stays
            self._canvas.draw()
        self._background = self._canvas.copy_from_bbox(self.figure.bbox)
        self._order = sorted(self.artists.values(), key=lambda artist: artist.get_zorder())

    def png(self):
        """Return the picture as it stands now, as PNG bytes."""
        self._canvas.restore_region(self._background)
        for artist in self._order:
            if artist.get_visible():
                artist.axes.draw_artist(artist)
        shown = np.asarray(self._canvas.buffer_rgba())[..., :3]
        file = io.BytesIO()
        Image.fromarray(shown).save(file, "PNG", compress_level=1)
        return file.getvalue()

    def tag(self, alt):
        """Return the picture as it stands now, as an ``<img>`` of fixed size."""
        width, height = self._canvas.get_width_height()
        data = base64.b64encode(self.png()).decode("ascii")
        return (
            f'<img width="{width}" height="{height}" style="max-width:none" '
            f'alt="{html.escape(alt, quote=True)}" src="data:image/png;base64,{data}">'
        )


def spoken(text, strong=""):
    """Return a sentence as HTML that a screen reader speaks when it changes."""
    first = f"<strong>{html.escape(strong)}</strong> " if strong else ""
    return f'<div role="status" class="lens-course-sentence">{first}{html.escape(text)}</div>'


class NamedSlider(anywidget.AnyWidget):
    """A native range input with a visible label, an accessible name and a value read aloud.

    The stock slider's handle has no accessible name, hence this one.
    """

    _esm = Path(__file__).parent / "slider.js"
    _css = Path(__file__).parent / "slider.css"

    label = traitlets.Unicode().tag(sync=True)
    low = traitlets.Float().tag(sync=True)
    high = traitlets.Float().tag(sync=True)
    step = traitlets.Float().tag(sync=True)
    unit = traitlets.Unicode().tag(sync=True)
    digits = traitlets.Int().tag(sync=True)
    signed = traitlets.Bool().tag(sync=True)
    value = traitlets.Float().tag(sync=True)

    @traitlets.validate("value")
    def _within(self, proposal):
        return min(max(proposal["value"], self.low), self.high)


class Explorer(ipywidgets.VBox):
    """A demo on the page: its controls, its picture, its sentence.

    Parameters
    ----------
    demo : Demo
    """

    def __init__(self, demo):
        self.demo = demo
        self._picture = Picture(demo.build)
        self.controls = {control.name: _widget(control) for control in demo.controls}
        self.picture = ipywidgets.HTML()
        self.sentence = ipywidgets.HTML(
            layout=ipywidgets.Layout(height=f"{SENTENCE_HEIGHT_PX}px", width=f"{style.WIDTH_PX}px")
        )
        self.reset_button = ipywidgets.Button(
            description="Reset", tooltip=f"Put {demo.title} back to its start"
        )
        self.reset_button.on_click(lambda _: self.reset())
        self._quiet = False
        self._show()
        for control in self.controls.values():
            control.observe(self._changed, "value")
        super().__init__([*self.controls.values(), self.reset_button, self.sentence, self.picture])

    @property
    def state(self):
        """All control values by name."""
        return {name: control.value for name, control in self.controls.items()}

    def set(self, **state):
        """Move several controls, draw once."""
        self._quiet = True
        try:
            for name, value in state.items():
                self.controls[name].value = value
        finally:
            self._quiet = False
        self._show()

    def reset(self):
        """Put every control back to where it started."""
        self.set(**self.demo.start())

    def still(self):
        """Return the present state as HTML that needs no running kernel."""
        return f"<div><p>{html.escape(self._text)}</p>{self._picture.tag(self._alt)}</div>"

    def _changed(self, _):
        if not self._quiet:
            self._show()

    def _show(self):
        # an error in a callback would vanish in a log that no learner opens
        try:
            data = self.demo.reckon(**self.state)
            self.demo.move(self._picture.artists, data)
            self._text, self._alt = self.demo.sentence(data), self.demo.alt(data)
            shown = self._picture.tag(self._alt)
        except Exception as error:
            self._text = self._alt = f"This setting cannot be drawn: {error}"
            shown = self.picture.value
        self.sentence.value = spoken(self._text)  # first, so that it never lags the picture
        self.picture.value = shown

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        data = {**data, "text/html": self.still()}
        return data, metadata


_shown = {}


def explore(demo):
    """Return a demo ready to show; running its cell again closes the earlier one.

    Parameters
    ----------
    demo : Demo

    Returns
    -------
    Explorer
    """
    earlier = _shown.pop(demo.title, None)
    if earlier is not None:
        for widget in (*earlier.controls.values(), earlier.picture, earlier.sentence, earlier):
            widget.close()
    _shown[demo.title] = Explorer(demo)
    return _shown[demo.title]


def _widget(control):
    if isinstance(control, Choice):
        return ipywidgets.Dropdown(
            description=control.label,
            options=list(control.options.items()),
            value=control.start,
            style={"description_width": "initial"},
        )
    digits = max(0, -int(np.floor(np.log10(control.step) + 1e-9)))
    if digits and round(control.step * 10**digits, 9) % 1:
        digits += 1  # a step of 0.25 wants two digits
    return NamedSlider(
        label=control.label,
        low=control.low,
        high=control.high,
        step=control.step,
        unit=control.unit,
        digits=digits,
        signed=control.signed,
        value=control.start,
    )

"""The slider engine: one picture, at most three controls, one sentence, one reset.

A picture must follow the key press, so nothing is drawn twice: the figure is built and laid out
once, what stands still is kept as a background, and a step draws only the artists that move. The
sentence and the picture, an ``<img>`` with alt text, travel in one message and stand in boxes of
fixed size, so the page never jumps. A page that is reopened or exported without running shows a
still.
"""

from __future__ import annotations

import base64
import html
import struct
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import anywidget
import ipywidgets
import numpy as np
import traitlets
from matplotlib.backends.backend_agg import FigureCanvasAgg

from shared_utils import CAUTION
from shared_utils.show import style

if TYPE_CHECKING:
    from typing import Any

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
    compute : callable
        (all control values by name) → data. Takes the whole state, keeps none.
    move : callable
        (artists, data) → None: sets the artists to the data.
    sentence : callable
        data → one or two sentences that read the state out.
    alt : callable
        data → what a reader should conclude from the picture.
    advises : bool
        Whether it shows a power or a verdict for a patient; then the caution stands below it and
        ends its alt text.
    """

    title: str
    controls: tuple
    build: Callable
    compute: Callable
    move: Callable
    sentence: Callable
    alt: Callable
    advises: bool = False

    def __post_init__(self):
        if not 1 <= len(self.controls) <= 3:
            raise ValueError(
                f"{self.title!r} has {len(self.controls)} controls; give one to three: more at "
                "once teach less."
            )

    def start(self) -> dict[str, Any]:
        """Return the state that the demo opens with."""
        return {control.name: control.start for control in self.controls}


class Picture:
    """A figure whose still parts are drawn once."""

    def __init__(self, build: Any) -> None:
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

    def png(self) -> bytes:
        """Return the picture as it stands now, as PNG bytes."""
        self._canvas.restore_region(self._background)
        for artist in self._order:
            if artist.get_visible():
                artist.axes.draw_artist(artist)
        return _png(np.asarray(self._canvas.buffer_rgba())[..., :3])

    def size_px(self) -> tuple[int, int]:
        """Return (width, height) of the picture."""
        return self._canvas.get_width_height()


def spoken(text: str, strong: str = "") -> str:
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
    # the page knows what it has just sent: an echo would cost every step a message
    value = traitlets.Float().tag(sync=True, echo_update=False)

    @traitlets.validate("value")
    def _within(self, proposal):
        return min(max(proposal["value"], self.low), self.high)


class PictureView(anywidget.AnyWidget):
    """The sentence and the picture, which travel together in one message."""

    _esm = Path(__file__).parent / "picture.js"

    sentence_height_px = traitlets.Int(SENTENCE_HEIGHT_PX).tag(sync=True)
    width_px = traitlets.Int().tag(sync=True)
    height_px = traitlets.Int().tag(sync=True)
    png_base64 = traitlets.Unicode().tag(sync=True)
    alt = traitlets.Unicode().tag(sync=True)
    sentence = traitlets.Unicode().tag(sync=True)
    caution = traitlets.Unicode()

    def still(self) -> str:
        """Return what is shown as HTML that needs no running kernel."""
        return (
            f"<div><p>{html.escape(self.sentence)}</p>"
            f'<img width="{self.width_px}" height="{self.height_px}" '
            f'alt="{html.escape(self.alt, quote=True)}" '
            f'src="data:image/png;base64,{self.png_base64}">{_paragraph(self.caution)}</div>'
        )


class Explorer(ipywidgets.VBox):
    """A demo on the page: its controls, its picture, its sentence.

    Parameters
    ----------
    demo : Demo
    """

    def __init__(self, demo: Demo) -> None:
        self.demo = demo
        self._picture = Picture(demo.build)
        self.controls = {control.name: _widget(control) for control in demo.controls}
        width_px, height_px = self._picture.size_px()
        caution = CAUTION if demo.advises else ""
        self.view = PictureView(width_px=width_px, height_px=height_px, caution=caution)
        self.reset_button = ipywidgets.Button(
            description="Reset", tooltip=f"Put {demo.title} back to its start"
        )
        self.reset_button.on_click(lambda _: self.reset())
        self._quiet = False
        self._show()
        for control in self.controls.values():
            control.observe(self._changed, "value")
        below = [ipywidgets.HTML(_paragraph(caution))] if caution else []
        super().__init__([*self.controls.values(), self.reset_button, self.view, *below])

    @property
    def state(self) -> dict[str, Any]:
        """All control values by name."""
        return {name: control.value for name, control in self.controls.items()}

    def set(self, **state: Any) -> None:
        """Move several controls, draw once."""
        self._quiet = True
        try:
            for name, value in state.items():
                self.controls[name].value = value
        finally:
            self._quiet = False
        self._show()

    def reset(self) -> None:
        """Put every control back to where it started."""
        self.set(**self.demo.start())

    def _changed(self, _):
        if not self._quiet:
            self._show()

    def _show(self):
        # an error in a callback would vanish in a log that no learner opens
        try:
            data = self.demo.compute(**self.state)
            self.demo.move(self._picture.artists, data)
            shown = {
                "sentence": self.demo.sentence(data),
                "alt": f"{self.demo.alt(data)} {self.view.caution}".rstrip(),
                "png_base64": base64.b64encode(self._picture.png()).decode("ascii"),
            }
        except Exception as error:
            message = f"This setting cannot be drawn: {error}"
            shown = {"sentence": message, "alt": message}
        with self.view.hold_sync():
            for name, value in shown.items():
                setattr(self.view, name, value)

    def _repr_mimebundle_(self, **kwargs):
        bundle = super()._repr_mimebundle_(**kwargs)
        data, metadata = bundle if isinstance(bundle, tuple) else (bundle, {})
        data = {**data, "text/html": self.view.still()}
        return data, metadata


def _paragraph(text):
    return f"<p>{html.escape(text)}</p>" if text else ""


def _png(rgb):
    """Return an image as PNG, unfiltered: a third of the time that an encoder takes to choose.

    Portable Network Graphics (PNG) Specification, W3C: a signature, then chunks of length, name,
    data and checksum; each row of pixels begins with its filter, here 0.
    """
    height, width, _ = rgb.shape
    rows = np.zeros((height, 1 + 3 * width), np.uint8)
    rows[:, 1:] = rgb.reshape(height, -1)
    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)  # 8 bits, RGB
    chunks = ((b"IHDR", header), (b"IDAT", zlib.compress(rows, 1)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in chunks
    )


_shown: dict[str, Explorer] = {}


def explore(demo: Demo) -> Explorer:
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
        for widget in (*earlier.controls.values(), earlier.view, earlier):
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

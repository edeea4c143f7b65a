"""What a page shows besides text: a figure as an ``<img>`` with alt text, and tables."""

from __future__ import annotations

import base64
import html
import io
from dataclasses import dataclass

from IPython.display import HTML
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from shared_utils import CAUTION
from shared_utils.show import style

# how a table begins: the notebook's own style puts words to the right, ours read from the left
TABLE = (
    "<style>.lens-course-table :is(th, td) {text-align: left !important}</style>"
    '<table class="lens-course-table">'
)


def with_caution(table: str) -> HTML:
    """Return a table that shows a power or a verdict, with the caution first and last.

    Parameters
    ----------
    table : str
        HTML.

    Returns
    -------
    IPython.display.HTML
    """
    caution = f"<p>{html.escape(CAUTION)}</p>"
    return HTML(f"{caution}{table}{caution}")


@dataclass(frozen=True)
class FigureWithAlt:
    """A figure and what to conclude from it.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        At most 700 px wide.
    alt : str
        Made from the data: what a reader should conclude.
    advises : bool
        Whether it shows a power or a verdict for a patient; then the caution stands below it and
        ends its alt text.
    """

    figure: Figure
    alt: str
    advises: bool = False

    def __post_init__(self):
        if self.advises and CAUTION not in self.alt:
            object.__setattr__(self, "alt", f"{self.alt} {CAUTION}")

    def png(self) -> bytes:
        """Return the picture as PNG bytes."""
        file = io.BytesIO()
        with style.applied():
            FigureCanvasAgg(self.figure).print_png(file)
        return file.getvalue()

    def _repr_html_(self):
        width, height = (self.figure.get_size_inches() * self.figure.dpi).round().astype(int)
        data = base64.b64encode(self.png()).decode("ascii")
        caution = f"<p>{html.escape(CAUTION)}</p>" if self.advises else ""
        return (
            f'<img width="{width}" height="{height}" alt="{html.escape(self.alt, quote=True)}" '
            f'src="data:image/png;base64,{data}">{caution}'
        )

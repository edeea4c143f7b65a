"""Sanitizes what a learner wrote: the HTML runs no script and calls no address.

nbgrader's form grader shows a submission inside the instructor's session, and the feedback page is
opened by whoever gets it. So outputs are reduced when a submission is marked, and text is cleaned
when it is shown. Formulas become MathML, which a browser shows without a script or a network.
"""

from __future__ import annotations

import base64
import binascii
import re
from typing import TYPE_CHECKING

import jinja2
import nh3
from nbconvert.filters.markdown_mistune import MarkdownWithMath
from nbformat import from_dict
from nbgrader import utils
from nbgrader.preprocessors import NbGraderPreprocessor

from shared_utils.pages.mathml import Renderer

if TYPE_CHECKING:
    from typing import Any

    from nbformat import NotebookNode

MATH_TAGS = {
    *("math", "mrow", "mi", "mn", "mo", "mtext", "mspace", "mfrac", "msqrt", "mroot", "mstyle"),
    *(
        "msup",
        "msub",
        "msubsup",
        "mover",
        "munder",
        "munderover",
        "mtable",
        "mtr",
        "mtd",
        "mpadded",
    ),
}
ALLOWED_ATTRIBUTES = {
    **nh3.ALLOWED_ATTRIBUTES,
    "img": {"alt", "src", "width", "height"},
    "*": {"style", "lang", "display", "stretchy", "fence", "form", "mathvariant", "linethickness"},
    "mspace": {"width"},
}
ALLOWED_STYLES = {
    *("color", "font-weight", "font-style", "text-align", "vertical-align", "white-space"),
    *("padding", "border", "border-collapse", "width", "max-width", "font-family"),
}
IMAGE_URL = re.compile(r"data:image/(png|jpeg|gif);base64,[A-Za-z0-9+/=\s]*")
TEXT_TYPES = ("text/html", "text/markdown", "text/latex", "text/plain")
IMAGE_TYPES = ("image/png", "image/jpeg")


def clean(text: str) -> str:
    """Return HTML with nothing left in it that could act."""
    return nh3.clean(
        text,
        tags=nh3.ALLOWED_TAGS | MATH_TAGS,
        clean_content_tags={"script", "style"},
        attributes=ALLOWED_ATTRIBUTES,
        attribute_filter=_attribute,
        url_schemes={"http", "https", "mailto", "data"},
        url_relative="deny",
        filter_style_properties=ALLOWED_STYLES,
        allowed_classes={"table": {"lens-course-table"}},
    )


@jinja2.pass_context
def markdown2html(context: jinja2.runtime.Context, source: str) -> str:
    """Return Markdown as sanitized HTML, its formulas as MathML."""
    cell = context.get("cell") or {}
    renderer = Renderer(
        escape=False, attachments=cell.get("attachments", {}), exclude_anchor_links=True
    )
    return clean(MarkdownWithMath(renderer=renderer).render(source))


class Sanitize(NbGraderPreprocessor):
    """Reduces the outputs of a marked submission to what can be shown and cannot act."""

    def preprocess_cell(
        self, cell: NotebookNode, resources: dict[str, Any], index: int
    ) -> tuple[NotebookNode, dict[str, Any]]:
        if cell.cell_type == "code":
            is_test = utils.is_grade(cell) and not utils.is_solution(cell)
            for output in cell.outputs:
                if "data" in output:
                    # the tests' own outputs are the instructor's and keep their marks
                    output.metadata = output.metadata if is_test else from_dict({})
                    output.data = from_dict(dict(_allowed_data(output.data)))
        return cell, resources


def _allowed_data(data):
    for kind in TEXT_TYPES:
        if kind in data:
            text = _text(data[kind])
            yield kind, clean(text) if kind == "text/html" else text
    for kind in IMAGE_TYPES:
        if kind in data and _is_base64(_text(data[kind])):
            yield kind, _text(data[kind])


def _text(value):
    return "".join(map(str, value)) if isinstance(value, list) else str(value)


def _is_base64(text):
    try:
        return bool(base64.b64decode("".join(text.split()), validate=True))
    except (binascii.Error, ValueError):
        return False


def _attribute(tag, name, value):
    if value.strip().lower().startswith("data:") and not (tag == "img" and name == "src"):
        return None
    if tag == "img" and name == "src":
        return value if IMAGE_URL.fullmatch(value) else None
    return value

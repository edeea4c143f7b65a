"""Markdown as HTML that needs nothing from the network: formulas become MathML."""

from __future__ import annotations

import html
import re
from xml.etree.ElementTree import tostring

from latex2mathml.converter import convert_to_element
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath

LONGEST_FORMULA = 2000
# after =, ≈, ( and a comma a minus belongs to what follows it
UNARY_MINUS = re.compile(r"(<mo[^>]*>[=≈(,]</mo>)<mo>(?=−)")


class Renderer(IPythonRenderer):
    """nbconvert's own renderer, with formulas written as MathML; it does not clean."""

    def inline_math(self, body: str) -> str:
        return formula(body, "inline")

    def block_math(self, body: str) -> str:
        return formula(body, "block")

    def latex_environment(self, name: str, body: str) -> str:
        return formula(f"\\begin{{{name}}}{body}\\end{{{name}}}", "block")

    def _embed_image_or_attachment(self, src):
        known = src.removeprefix("attachment:") in self.attachments
        return super()._embed_image_or_attachment(src) if known else src


def formula(latex: str, display: str = "inline") -> str:
    """Return a formula as MathML, or as it was written where it cannot be read."""
    try:
        if len(latex) > LONGEST_FORMULA:
            raise ValueError
        made = convert_to_element(latex.strip(), display=display)
        for part in made.iter():
            part.text = html.unescape(part.text or "")  # which the library leaves to its own end
        return UNARY_MINUS.sub(r'\1<mo form="prefix">', tostring(made, encoding="unicode"))
    except (Exception, RecursionError):
        return f"<code>{html.escape(latex)}</code>"


class _BookRenderer(Renderer):
    """A page's own text: what is wider than a phone scrolls, by keyboard too."""

    def block_code(self, code, info=None):
        return f'<pre tabindex="0"><code>{html.escape(code)}</code></pre>'

    def block_math(self, body):
        return f'<div class="scroll" tabindex="0">{super().block_math(body)}</div>'


def markdown_to_html(source: str) -> str:
    """Return Markdown of the course as HTML; formulas stand in it as MathML, drawn by any browser.

    Parameters
    ----------
    source : str

    Returns
    -------
    str

    Examples
    --------
    >>> "<mfrac>" in markdown_to_html("Vergence is $V = \\\\frac{n}{v}$.")
    True
    """
    made = MarkdownWithMath(renderer=_BookRenderer(escape=False)).render(source)
    return re.sub(r'<a class="anchor-link"[^>]*>.*?</a>', "", made)

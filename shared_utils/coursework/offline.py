"""Markdown as HTML that needs nothing from the network: formulas become MathML."""

import re

from latex2mathml.converter import convert
from nbconvert.filters.markdown_mistune import IPythonRenderer, MarkdownWithMath


class _Renderer(IPythonRenderer):
    """nbconvert's own renderer, with formulas written as MathML."""

    def inline_math(self, body):
        return convert(body)

    def block_math(self, body):
        # wider than a phone at times: it scrolls, by keyboard too
        return f'<div class="scroll" tabindex="0">{convert(body, display="block")}</div>'


def markdown_to_html(source):
    """Return Markdown as HTML; formulas stand in it as MathML, which browsers draw by themselves.

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
    html = MarkdownWithMath(renderer=_Renderer(escape=False)).render(source)
    return re.sub(r'<a class="anchor-link"[^>]*>.*?</a>', "", html)

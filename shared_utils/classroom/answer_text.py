"""What a learner wrote, in a form that names, spaces and comments do not change."""

from __future__ import annotations

import ast
import builtins
import io
import keyword
import math
import re
import tokenize
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

WORDS_TOGETHER = 4
TOKENS_TOGETHER = 5
KNOWN_NAMES = frozenset(dir(builtins)) | {"np", "numpy", "math", "vergence", "pi"}
NUMBER = re.compile(r"(?<![\w.])[-−+]?\d+(?:\.\d+)?(?![\w])")
_SKIPPED = {
    *(tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.ENCODING),
    *(tokenize.ENDMARKER, tokenize.INDENT, tokenize.DEDENT),
}


@dataclass(frozen=True)
class WrittenNumber:
    """A number as somebody wrote it.

    Attributes
    ----------
    value : float
    decimals : int
        Digits behind the point.
    digits : int
        Significant digits, without zeros at either end of a whole number.
    """

    value: float
    decimals: int
    digits: int

    def is_written_for(self, value: float) -> bool:
        """Return whether it is how a value is written with so many decimals.

        A whole number is written for that whole number alone.

        Examples
        --------
        >>> WrittenNumber(-2.70, 2, 3).is_written_for(-2.7027)
        True
        >>> WrittenNumber(37.0, 0, 2).is_written_for(37.4)
        False
        """
        within = 1e-9 if self.decimals == 0 else 0.5 * 10.0**-self.decimals
        return abs(self.value - value) <= within * (1 + 1e-9)


def code_tokens(text: str) -> list[str]:
    """Return the tokens of a code without comments and docstrings, the author's own names alike.

    Examples
    --------
    >>> one = "def f(cm):\\n    # in metres\\n    return -100/cm"
    >>> code_tokens(one) == code_tokens("def page( distance ):\\n  return - 100.0 / distance")
    True
    """
    try:
        tree = ast.parse(text)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return _loose_tokens(text)
    for node in ast.walk(tree):
        body = getattr(node, "body", None)
        if isinstance(body, list) and body and isinstance(body[0], ast.Expr):
            value = body[0].value
            if isinstance(value, ast.Constant) and isinstance(value.value, str):
                body[0] = ast.Pass()
    try:
        plain = ast.unparse(tree)
        found = list(tokenize.generate_tokens(io.StringIO(plain).readline))
    except (tokenize.TokenError, SyntaxError, ValueError, RecursionError):
        return _loose_tokens(text)
    tokens: list[str] = []
    for token in found:
        if token.type in _SKIPPED:
            continue
        after_dot = bool(tokens) and tokens[-1] == "."
        tokens.append(_plain(token.type, token.string, after_dot))
    return tokens


def words(text: str) -> list[str]:
    """Return the words of a text, small and without marks between them.

    Examples
    --------
    >>> words("The *light* diverges; less.")
    ['the', 'light', 'diverges', 'less']
    """
    return re.findall(r"[^\W_]+", text.casefold())


def shingles(parts: list[str], together: int) -> frozenset[tuple[str, ...]]:
    """Return the runs of so many parts; the whole where it is shorter; nothing of nothing."""
    if len(parts) < together:
        return frozenset([tuple(parts)] if parts else [])
    return frozenset(tuple(parts[n : n + together]) for n in range(len(parts) - together + 1))


def jaccard(one: frozenset, other: frozenset) -> float:
    """Return the share of two sets that both have: 0 to 1.

    Examples
    --------
    >>> jaccard(frozenset("abc"), frozenset("bcd"))
    0.5
    """
    return len(one & other) / len(one | other) if one or other else 0.0


def numbers_in_code(text: str) -> list[WrittenNumber]:
    """Return the numbers that stand in a code, and what its sums of plain numbers come to.

    Examples
    --------
    >>> [n.value for n in numbers_in_code("v_d = -100 / 40  # 77")]
    [-2.5, -100.0, 40.0, 100.0]
    """
    try:
        tree = ast.parse(text)
    except (SyntaxError, ValueError, RecursionError, MemoryError):
        return numbers_in_text(re.sub(r"#.*", "", text))
    found = []
    for node in ast.walk(tree):
        value = _value_of(node)
        if value is None or not math.isfinite(value):
            continue
        if isinstance(node, (ast.Constant, ast.UnaryOp)):
            written = ast.get_source_segment(text, node) or repr(value)
            number = _written(written, value)
        else:
            number = WrittenNumber(value, 6, 6)
        found.append(number)
    return list(dict.fromkeys(found))


def numbers_in_text(text: str) -> list[WrittenNumber]:
    """Return the numbers that stand in a text.

    Examples
    --------
    >>> [(n.value, n.decimals, n.digits) for n in numbers_in_text("At 400 mm it is −2.50 D.")]
    [(400.0, 0, 1), (-2.5, 2, 3)]
    """
    found = []
    for match in NUMBER.finditer(text):
        plain = match[0].replace("−", "-")
        found.append(_written(plain, float(plain)))
    return list(dict.fromkeys(found))


def _written(text, value):
    plain = re.sub(r"[^\d.eE]", "", text)
    mantissa = re.split(r"[eE]", plain)[0]
    decimals = len(mantissa.partition(".")[2])
    digits = mantissa.replace(".", "").lstrip("0")
    digits = digits if decimals else digits.rstrip("0")
    return WrittenNumber(float(value), decimals, len(digits))


def _value_of(node, depth=0):
    """Return what an expression of plain numbers comes to, else None."""
    if depth > 20:
        return None
    if isinstance(node, ast.Constant):
        is_number = type(node.value) in (int, float) and abs(node.value) < 1e15
        return float(node.value) if is_number else None
    if isinstance(node, ast.UnaryOp) and isinstance(node.op, (ast.USub, ast.UAdd)):
        value = _value_of(node.operand, depth + 1)
        return None if value is None else -value if isinstance(node.op, ast.USub) else value
    if not isinstance(node, ast.BinOp):
        return None
    left, right = _value_of(node.left, depth + 1), _value_of(node.right, depth + 1)
    if left is None or right is None:
        return None
    if isinstance(node.op, ast.Add):
        return left + right
    if isinstance(node.op, ast.Sub):
        return left - right
    if isinstance(node.op, ast.Mult):
        return left * right
    return left / right if isinstance(node.op, ast.Div) and right else None


def _plain(kind, text, after_dot):
    if kind == tokenize.NUMBER:
        try:
            return f"{float(text):g}"
        except ValueError:
            return text
    if kind == tokenize.STRING:
        return " ".join(text.strip("rbfuRBFU'\"").casefold().split())
    if kind == tokenize.NAME and not (keyword.iskeyword(text) or text in KNOWN_NAMES or after_dot):
        return "name"
    return text


def _loose_tokens(text) -> list[str]:
    return list(_loose(re.sub(r"#.*", "", text)))


def _loose(text) -> Iterator[str]:
    for word in re.findall(r"\d+(?:\.\d+)?|\w+|[^\w\s]", text):
        is_own = word.isidentifier() and not keyword.iskeyword(word) and word not in KNOWN_NAMES
        yield (
            f"{float(word):g}"
            if word[0].isdigit() and word[0].isascii()
            else ("name" if is_own else word)
        )

"""The words of the code: standard terms of optics, clinic and software, no metaphors of our own."""

import ast
import io
import re
import tokenize
from pathlib import Path

import pytest

REPO = Path(__file__).parent.parent
FILES = sorted(
    path
    for folder in ("shared_utils", "tests", ".ci")
    for path in (REPO / folder).rglob("*.py")
    if path.name != Path(__file__).name
)
# in names, a word stands between underscores or capitals
IN_NAMES = {
    "reckon": "compute",
    "reckoned": "computed",
    "reckoning": "values",
    "nursery": "kernel pool",
    "seat": "start_kernel",
    "crew": "worker pool",
    "kit": "grading spec",
    "seal": "redaction",
    "harmless": "sanitize",
    "told": "reply",
    "heard": "received",
    "said": "message",
    "ears": "receiver",
    "walls": "sandbox",
    "foreign": "untrusted",
}
STARTS = {"most_": "max_", "asked_for": "requested_names", "sit_down": "apply_limits"}
OF_LIBRARIES = {"most_common"}
IN_PROSE = re.compile(
    r"\b(reckon\w*|nursery|nurseries|seated|harmless\w*|crew|sits? down|ears)\b", re.IGNORECASE
)


def words_of(name):
    return re.sub(r"(?<=[a-z0-9])(?=[A-Z])", "_", name).lower().split("_")


def faults(source):
    """Yield (line, what is wrong) for each word that has a standard one."""
    tree = ast.parse(source)
    names = {}
    for node in ast.walk(tree):
        for field in ("name", "id", "arg", "attr", "asname"):
            value = getattr(node, field, None)
            if isinstance(value, str):
                names.setdefault(value, getattr(node, "lineno", 0))
    for name, line in names.items():
        # the name of a test is a sentence
        for word in words_of(name) if not name.startswith("test_") else ():
            if word in IN_NAMES:
                yield line, f"{name}: say {IN_NAMES[word]}"
        for start, better in STARTS.items():
            if name not in OF_LIBRARIES and name.lower().startswith(start):
                yield line, f"{name}: say {better}"
    docstrings = {
        node.body[0].value.lineno
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and ast.get_docstring(node) is not None
    }
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        is_docstring = token.type == tokenize.STRING and token.start[0] in docstrings
        if token.type == tokenize.COMMENT or is_docstring:
            for found in IN_PROSE.finditer(token.string):
                yield token.start[0], f"{found[0]!r} in a comment or docstring"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(REPO)))
def test_names_and_comments_use_standard_words(path):
    bad = [f"line {line}: {what}" for line, what in faults(path.read_text(encoding="utf-8"))]
    assert not bad, f"{path.relative_to(REPO)}\n" + "\n".join(bad)


def test_files_have_standard_names():
    bad = [p.name for p in FILES if set(words_of(p.stem)) & IN_NAMES.keys()]
    assert not bad


@pytest.mark.parametrize(
    "source",
    ["def reckon(): ...", "told = 1", "x = crew.mark", "# the nursery", "most_s = 3"],
)
def test_a_word_of_our_own_is_found(source):
    assert list(faults(source))

"""A page that lists what can be imported, module by module, with a line on each."""

import ast
from pathlib import Path

import shared_utils

PACKAGE = Path(shared_utils.__file__).parent
FLOORS = ("optics", "power", "choice", "clinic", "cases", "show", "explore", "problems", "bank")
HEAD = """\
# What can be imported

Written by `lens-course build` from the docstrings; `help(name)` in Python shows the whole text.
Everything here is for learning, not for patient care.
"""


def markdown() -> str:
    """Return the page.

    Returns
    -------
    str
    """
    parts = [HEAD]
    for floor in FLOORS:
        package = PACKAGE / floor
        parts.append(f"## {floor}\n\n{_first_line(_tree(package / '__init__.py'))}\n")
        for path in sorted(package.glob("*.py")):
            entries = list(_entries(path)) if path.stem != "__init__" else []
            if entries:
                name = f"shared_utils.{floor}.{path.stem}"
                rows = "\n".join(f"- `{what}`: {line}" for what, line in entries)
                parts.append(f"### {name}\n\n{_first_line(_tree(path))}\n\n{rows}\n")
    return "\n".join(parts)


def _entries(path):
    """What a module offers, in its own order: names with their arguments, and a line on each."""
    for node in _tree(path).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            line = _first_line(node)
            if line:
                yield f"{node.name}{_arguments(node)}", line


def _arguments(node):
    if isinstance(node, ast.ClassDef):
        return ""
    given = node.args
    names = [one.arg for one in (*given.posonlyargs, *given.args)]
    names += [f"*{given.vararg.arg}"] if given.vararg else []
    names += [one.arg for one in given.kwonlyargs]
    return f"({', '.join(names)})"


def _first_line(node):
    return (ast.get_docstring(node) or "").partition("\n")[0]


def _tree(path):
    return ast.parse(path.read_text(encoding="utf-8"))

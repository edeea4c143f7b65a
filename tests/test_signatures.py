"""Every public function says which types it takes and gives; ``mypy`` holds that they agree."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "shared_utils"
FILES = sorted(PACKAGE.rglob("*.py"))


def public_functions(tree):
    """Yield (function, whether its first argument is its object's) of a module."""
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node, False
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, ast.FunctionDef) and (
                    not inner.name.startswith("_") or inner.name in ("__init__", "__call__")
                ):
                    static = any(
                        getattr(d, "id", "") == "staticmethod" for d in inner.decorator_list
                    )
                    yield inner, not static


def untyped(source):
    """Return what lacks a type, as sentences."""
    found = []
    for function, bound in public_functions(ast.parse(source)):
        given = function.args
        arguments = [*given.posonlyargs, *given.args][int(bound) :] + given.kwonlyargs
        arguments += [one for one in (given.vararg, given.kwarg) if one]
        found += [f"{function.name}: {a.arg}" for a in arguments if a.annotation is None]
        found += [] if function.returns is not None else [f"{function.name}: what it returns"]
    return found


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_public_signatures_have_types(path):
    assert not untyped(path.read_text(encoding="utf-8"))


def test_a_missing_type_is_found():
    assert untyped("def f(x, y: int) -> None: ...") == ["f: x"]
    assert untyped("class A:\n    def g(self): ...") == ["g: what it returns"]
    assert untyped("def _f(x): ...") == []

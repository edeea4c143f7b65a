"""The floors of the house: who may import whom, and what an import may draw in."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "shared_utils"
FLOORS = [
    "optics",
    "power",
    "choice",
    "clinic",
    "course",
    "cases",
    "show",
    "explore",
    "pages",
    "problems",
    "bank",
    "practice",
    "grading",
    "classroom",
    "standards",
    "lti",
    "reports",
    "authoring",
    "commands",
    "cli",
]
HEAVY = {"matplotlib", "ipywidgets", "nbgrader", "pandas"}


def floor_of(module):
    parts = module.split(".")
    return parts[1] if parts[0] == "shared_utils" and len(parts) > 1 else None


def imported_modules(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative import; name the floor in full"
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


@pytest.mark.parametrize("path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: p.stem)
def test_a_floor_imports_only_from_floors_below_it(path):
    place = path.relative_to(PACKAGE)
    own = place.parts[0].removesuffix(".py")
    if own == "__init__":
        own_level = -1
    else:
        assert own in FLOORS, f"{path} stands on no floor"
        own_level = FLOORS.index(own)
    for module in imported_modules(path):
        floor = floor_of(module)
        if floor in FLOORS:
            assert FLOORS.index(floor) <= own_level, f"{place} imports {module} from above"


@pytest.mark.parametrize("floor", ["", "optics", "power", "choice", "clinic", "course", "cases"])
def test_a_lower_floor_is_light_to_import(floor):
    folder = PACKAGE / floor
    names = ["shared_utils" + (f".{floor}" if floor else "")]
    if floor:
        names += [f"{names[0]}.{p.stem}" for p in folder.glob("*.py") if p.stem != "__init__"]
    code = f"import sys, {', '.join(names)}; print(*{{m.split('.')[0] for m in sys.modules}})"
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not HEAVY & set(out.stdout.split())

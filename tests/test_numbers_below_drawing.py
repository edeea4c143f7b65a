"""Figures and sliders draw; the numbers that they draw are calculated on the floors below.

Held by reading the syntax trees of ``show`` and ``explore``:

- from the floors of light, lens and patient they import constants and types alone, no function;
- they import no library that calculates statistics, splines or transforms;
- no function there returns a number that it calculated, but for the layout of a figure;
- no dataclass there holds numbers, but for what describes a control.
"""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "shared_utils"
DRAWING = ("show", "explore")
CALCULATING = ("optics", "power", "choice", "clinic")
LIBRARIES_THAT_CALCULATE = {"scipy", "statistics"}
NUMERIC_MODULES = {"np", "numpy", "math"}
WORDS = {
    "shared_utils.choice.counselling": "the words of the patient's sheet, no numbers",
    "shared_utils.optics.notation": "how a number is written",
    "shared_utils.optics.domain": "turns away what cannot be drawn",
}
LAYOUT = {
    "show/figure_parts.py": {"_path_px", "_middle_and_half", "_costs", "_beyond"},  # pixels
    "show/sheet.py": {"_x"},  # a place on the drawing
    "explore/engine.py": {"_png"},  # bytes of a picture
}
CONTROLS = {"explore/engine.py": {"Slider"}}

ALWAYS_A_NUMBER = {"abs", "round", "sum", "divmod", "pow"}
AS_ITS_PARTS = {
    *("float", "int", "min", "max", "sorted", "list", "tuple", "dict", "set"),
    *("zip", "enumerate", "reversed", "map", "filter", "next", "iter"),
}
MAKES_TEXT = {"str", "signed", "join", "format", "replace", "capitalize", "removeprefix", "strip"}


def sources():
    return sorted(path for floor in DRAWING for path in (PACKAGE / floor).glob("*.py"))


def complaints(source, name):
    """What a module of show or explore calculates itself, as sentences.

    Parameters
    ----------
    source : str
        Its text.
    name : str
        Its place in the package, such as ``show/light.py``.

    Returns
    -------
    list of str
    """
    tree = ast.parse(source)
    found = [f"{name}:{line} imports {what}" for line, what in _imports_that_calculate(tree)]
    for node in tree.body:
        described = isinstance(node, ast.ClassDef) and node.name not in CONTROLS.get(name, ())
        if described and _is_dataclass(node) and (field := _number_field(node)):
            found.append(f"{name}:{node.lineno} {node.name} holds the number {field}")
    functions = [
        function
        for owner in [tree, *(node for node in tree.body if isinstance(node, ast.ClassDef))]
        for function in owner.body
        if isinstance(function, ast.FunctionDef) and function.name not in LAYOUT.get(name, ())
    ]
    for function in functions:
        line = _returns_a_calculated_number(function)
        if line:
            found.append(f"{name}:{line} {function.name} returns a number that it calculates")
    return found


def _imports_that_calculate(tree):
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            modules = [(alias.name, None) for alias in node.names]
        elif isinstance(node, ast.ImportFrom):
            modules = [(node.module, alias.name) for alias in node.names]
        else:
            continue
        for module, imported in modules:
            whole = f"{module}.{imported}" if imported else module
            own, floor = (*whole.split("."), "")[:2]
            let_be = whole in WORDS or module in WORDS or _constant_or_type(imported)
            below = own == "shared_utils" and floor in CALCULATING
            if own in LIBRARIES_THAT_CALCULATE or (below and not let_be):
                yield node.lineno, whole


def _constant_or_type(imported):
    # by PEP 8 a constant is UPPER_CASE and a class CapWords; modules and functions are not
    return imported is not None and imported.lstrip("_")[:1].isupper()


def _is_dataclass(node):
    return any("dataclass" in ast.dump(decorator) for decorator in node.decorator_list)


def _number_field(node):
    for field in node.body:
        if isinstance(field, ast.AnnAssign):
            words = {n.id for n in ast.walk(field.annotation) if isinstance(n, ast.Name)}
            words |= {n.attr for n in ast.walk(field.annotation) if isinstance(n, ast.Attribute)}
            if words & {"float", "int", "ndarray"}:
                return field.target.id
    return None


def _returns_a_calculated_number(function):
    """The line of such a return, or None."""
    own = list(_own_nodes(function))
    calculated, before = set(), None
    while before != calculated:  # a name may be built on another that stands below it in a loop
        before = set(calculated)
        for node in own:
            if isinstance(node, ast.Assign):
                for target in node.targets:
                    calculated |= _targets_calculated(target, node.value, before)
            elif isinstance(node, ast.AugAssign):
                added = ast.BinOp(left=node.target, op=node.op, right=node.value)
                if isinstance(node.target, ast.Name) and _calculates(added, before):
                    calculated.add(node.target.id)
            elif isinstance(node, (ast.For, ast.comprehension)):
                calculated |= _targets_calculated(node.target, node.iter, before)
            elif isinstance(node, ast.NamedExpr):
                calculated |= _targets_calculated(node.target, node.value, before)
    for node in own:
        given = node.value if isinstance(node, (ast.Return, ast.Yield)) else None
        if given is not None and _calculates(given, calculated):
            return node.lineno
    return None


def _own_nodes(function):
    """Nodes of a function without those of functions inside it."""
    waiting = list(function.body)
    while waiting:
        node = waiting.pop(0)
        yield node
        waiting += [
            child
            for child in ast.iter_child_nodes(node)
            if not isinstance(child, (ast.FunctionDef, ast.Lambda))
        ]


def _targets_calculated(target, value, calculated):
    if isinstance(target, (ast.Tuple, ast.List)):
        same = isinstance(value, (ast.Tuple, ast.List)) and len(value.elts) == len(target.elts)
        values = value.elts if same else [value] * len(target.elts)
        pairs = zip(target.elts, values, strict=True)
        return set().union(*(_targets_calculated(t, v, calculated) for t, v in pairs))
    if isinstance(target, ast.Name) and _calculates(value, calculated):
        return {target.id}
    return set()


def _calculates(node, calculated):
    """Whether an expression is a number that is calculated here, or holds one."""
    if isinstance(node, ast.Name):
        return node.id in calculated
    if isinstance(node, ast.BinOp):
        return not (_is_text(node.left) or _is_text(node.right) or _joins_lists(node))
    if isinstance(node, ast.UnaryOp):
        sign = isinstance(node.op, (ast.USub, ast.Invert))
        return sign and not isinstance(node.operand, ast.Constant)
    if isinstance(node, ast.Call):
        return _call_calculates(node, calculated)
    if isinstance(node, (ast.Constant, ast.JoinedStr, ast.Compare, ast.Lambda)):
        return False
    if isinstance(node, ast.Dict):
        parts = node.values
    elif isinstance(node, ast.DictComp):
        parts = [node.value]
    elif isinstance(node, (ast.ListComp, ast.SetComp, ast.GeneratorExp)):
        parts = [node.elt]
    elif isinstance(node, ast.IfExp):
        parts = [node.body, node.orelse]
    elif isinstance(node, ast.BoolOp):
        parts = node.values
    elif isinstance(node, (ast.Tuple, ast.List, ast.Set)):
        parts = node.elts
    elif isinstance(node, (ast.Subscript, ast.Attribute, ast.Starred, ast.NamedExpr)):
        parts = [node.value]
    else:
        parts = []
    return any(_calculates(part, calculated) for part in parts)


def _call_calculates(node, calculated):
    function = node.func
    if isinstance(function, ast.Name):
        if function.id in ALWAYS_A_NUMBER:
            return True
        parts = [*node.args, *(k.value for k in node.keywords if k.arg != "key")]
        return function.id in AS_ITS_PARTS and any(_calculates(p, calculated) for p in parts)
    if not isinstance(function, ast.Attribute) or function.attr in MAKES_TEXT:
        return False
    root = function
    while isinstance(root, ast.Attribute):
        root = root.value
    if isinstance(root, ast.Name) and root.id in NUMERIC_MODULES:
        return True
    return _calculates(function.value, calculated)  # a method of a number that is calculated


def _is_text(node):
    if isinstance(node, ast.Constant):
        return isinstance(node.value, str)
    if isinstance(node, ast.Call):
        called = node.func
        return getattr(called, "id", getattr(called, "attr", None)) in MAKES_TEXT
    if isinstance(node, ast.IfExp):
        return _is_text(node.body) or _is_text(node.orelse)
    if isinstance(node, ast.BinOp):
        return _is_text(node.left) or _is_text(node.right)
    return isinstance(node, ast.JoinedStr)


def _joins_lists(node):
    """Whether + joins lists, or * repeats one."""
    return isinstance(node.op, (ast.Add, ast.Mult)) and any(
        isinstance(side, (ast.List, ast.ListComp, ast.Tuple)) for side in (node.left, node.right)
    )


@pytest.mark.parametrize("path", sources(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_show_and_explore_calculate_nothing_that_they_draw(path):
    name = path.relative_to(PACKAGE).as_posix()
    found = complaints(path.read_text(encoding="utf-8"), name)
    assert not found, "move this to shared_utils/cases:\n" + "\n".join(found)


CALCULATES = [
    ("from shared_utils.optics import retina", "imports shared_utils.optics.retina"),
    ("from shared_utils.power.core import vergence_d", "imports shared_utils.power.core"),
    ("import shared_utils.choice.tasks", "imports shared_utils.choice.tasks"),
    ("from scipy.stats import norm", "imports scipy.stats.norm"),
    ("def f(a):\n    return 1000 / a", "f returns a number"),
    ("def f(a):\n    x = np.log10(a)\n    return {'log': float(x)}", "f returns a number"),
    ("def f(a):\n    n = 0\n    for b in a:\n        n += b\n    return n", "f returns a number"),
    ("def f(a):\n    for b in a:\n        c = 2 * b\n        yield c", "f returns a number"),
    ("def f(a):\n    return [max(b, b**2) for b in a]", "f returns a number"),
    ("def f(a):\n    return -a", "f returns a number"),
    ("class A:\n    def f(self):\n        return (self.a - self.b).mean()", "f returns a number"),
    ("@dataclass(frozen=True)\nclass A:\n    a_d: np.ndarray", "A holds the number a_d"),
    ("@dataclass\nclass A:\n    a_d: float | None", "A holds the number a_d"),
]


@pytest.mark.parametrize(("source", "words"), CALCULATES)
def test_it_is_noticed(source, words):
    (complaint,) = complaints(source, "show/some.py")
    assert complaint.startswith("show/some.py:")
    assert words in complaint


DRAWS = [
    "from shared_utils.optics.lenses import LENS_CLASSES, Lens",
    "from shared_utils.choice import counselling",
    "from shared_utils.cases import light",
    "def f(data):\n    x = 0.5 * data.width\n    axes.text(x, 1, '')\n    return figure, artists",
    "def f(data):\n    low = data.low_d * 100\n    return f'at {low:.0f} %'",
    "def f(data):\n    return ', '.join(signed(-d) for d in data.places_d) + '.'",
    "def f(a):\n    return 'plural' + 's' * (len(a) > 1)",
    "def f(data):\n    return max(data.here_d, key=lambda name: -data.here_d[name])",
    "@dataclass(frozen=True)\nclass A:\n    colour: str\n    dashes: str | tuple",
]


@pytest.mark.parametrize("source", DRAWS)
def test_drawing_and_wording_are_let_be(source):
    assert complaints(source, "show/some.py") == []

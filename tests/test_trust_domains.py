"""The trust domains of grading: what each may import, by statement or by string, and has loaded.

A string counts as an import: a module that is named for ``python -m`` or ``import_module``, and a
piece of code that is run elsewhere, such as in the learner's kernel.
"""

import ast
import os
import re
import sys
from pathlib import Path

import pytest

from shared_utils.grading.supervisor import examiner_client, kernel_pool_client
from tests.test_kernel_pool import grade, needs_sandbox, printed

ROOT = Path(__file__).parent.parent
GRADING = "shared_utils.grading"
INSIDE, TRUSTED = f"{GRADING}.inside", f"{GRADING}.trusted"
SUPERVISOR, KERNEL_POOL = f"{GRADING}.supervisor", f"{GRADING}.kernel_pool"
WIRE_FORMAT = f"{GRADING}.wire_format"
# plain data, the line that it travels on, and calls of the system: for every domain
NEUTRAL = (WIRE_FORMAT, f"{GRADING}.frames", f"{GRADING}.linux", f"{GRADING}.system_calls")
CLIENTS = {f"{SUPERVISOR}.examiner_client", f"{SUPERVISOR}.kernel_pool_client"}

# domain: what nothing in it may reach, by whatever way through the package
MAY_NOT_REACH = {
    INSIDE: (TRUSTED, SUPERVISOR, KERNEL_POOL, "shared_utils.classroom"),
    TRUSTED: (INSIDE, SUPERVISOR, KERNEL_POOL, "shared_utils.classroom"),
    KERNEL_POOL: (TRUSTED, SUPERVISOR, "shared_utils.classroom"),
    **dict.fromkeys(NEUTRAL, (INSIDE, TRUSTED, SUPERVISOR, KERNEL_POOL, "shared_utils.classroom")),
}
# what the learner's side may name of the package beside itself
INSIDE_MAY_IMPORT = {
    *NEUTRAL,
    "shared_utils.problems.blocked_functions",
    "shared_utils.course.learner",
}
# what each domain takes from other packages
LIBRARIES = {
    INSIDE: {"IPython", "traitlets"},
    TRUSTED: {"numpy"},
    KERNEL_POOL: {"numpy"},
    **{key: set() for key in NEUTRAL},
    WIRE_FORMAT: {"numpy"},
}
# these import what a message names, and it comes from the supervisor
IMPORTS_WHAT_IT_IS_GIVEN = {f"{KERNEL_POOL}.process", "shared_utils.problems.blocked_functions"}
DYNAMIC = {"import_module", "__import__", "find_spec", "run_module", "run_path", "reload"}
UNKNOWN = "<not known before it runs>"
STANDARD = sys.stdlib_module_names


def within(module, *domains):
    return any(module == domain or module.startswith(f"{domain}.") for domain in domains)


class References(ast.NodeVisitor):
    """Collects what a module refers to: in import statements, and in strings."""

    def __init__(self, source, package):
        self.statements, self.strings = set(), set()
        self.package, self.names = package, {}
        tree = ast.parse(source)
        self.docstrings = {
            id(node.body[0].value)
            for node in ast.walk(tree)
            if isinstance(node, (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef))
            and ast.get_docstring(node) is not None
        }
        self.texts = {}  # constants of the module, by name
        for node in tree.body:
            if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
                self.texts[node.targets[0].id] = self.text(node.value)
        self.visit(tree)

    def text(self, node):
        """Return a string that is put together from constants, with a gap where it is not."""
        if isinstance(node, ast.Constant):
            return node.value if isinstance(node.value, str) else None
        if isinstance(node, ast.Name):
            return self.package if node.id == "__package__" else self.texts.get(node.id)
        if isinstance(node, ast.FormattedValue):
            return self.text(node.value)
        if isinstance(node, ast.JoinedStr):
            return "".join(self.text(part) or "\0" for part in node.values)
        if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Mod)):
            return (self.text(node.left) or "\0") + (self.text(node.right) or "\0")
        return None

    def visit_Import(self, node):
        for alias in node.names:
            self.statements.add(alias.name)
            self.names[alias.asname or alias.name.partition(".")[0]] = (
                alias.name if alias.asname else alias.name.partition(".")[0]
            )

    def visit_ImportFrom(self, node):
        above = self.package.split(".")[: len(self.package.split(".")) - node.level + 1]
        module = ".".join([*(above if node.level else []), *filter(None, [node.module])])
        for alias in node.names:
            self.statements.add(f"{module}.{alias.name}")
            self.names[alias.asname or alias.name] = f"{module}.{alias.name}"

    def visit_Attribute(self, node):
        parts, root = [node.attr], node.value
        while isinstance(root, ast.Attribute):
            parts, root = [root.attr, *parts], root.value
        if isinstance(root, ast.Name) and root.id in self.names:
            self.statements.add(".".join([self.names[root.id], *parts]))
        self.generic_visit(node)

    def visit_Call(self, node):
        called = getattr(node.func, "attr", getattr(node.func, "id", ""))
        text = self.text(node.args[0]) if node.args else None
        if called in DYNAMIC and (text is None or "\0" in text):
            self.strings.add(UNKNOWN)
        if called in DYNAMIC and text:
            self.strings.add(text)
        self.generic_visit(node)

    def visit_Constant(self, node):
        if isinstance(node.value, str) and id(node) not in self.docstrings:
            self.read(node.value)

    def visit_JoinedStr(self, node):
        self.read(self.text(node))
        self.generic_visit(node)

    def visit_BinOp(self, node):
        self.read(self.text(node) or "")
        self.generic_visit(node)

    def read(self, text):
        """Take a string for the name of a module, for code, and for text with names in it."""
        self.strings |= set(re.findall(r"\bshared_utils(?:\.\w+)+", text))
        # a part of a name that is completed elsewhere
        for domain in ("trusted", "supervisor"):
            if re.search(rf"\.{domain}\b|\b{domain}\.\w", text):
                self.strings.add(f"{GRADING}.{domain}")
        if "import" in text:
            try:
                inner = References(text, self.package)
            except (SyntaxError, ValueError):
                return
            self.strings |= inner.statements | inner.strings


def references(source, package="shared_utils"):
    found = References(source, package)
    return found.statements, found.strings


def all_modules():
    found = {}
    for path in (ROOT / "shared_utils").rglob("*.py"):
        parts = path.relative_to(ROOT).with_suffix("").parts
        package = ".".join(parts[:-1])
        name = package if parts[-1] == "__init__" else ".".join(parts)
        found[name] = references(path.read_text(encoding="utf-8"), package)
    return found


MODULES = all_modules()


def of_domain(domain):
    found = [name for name in MODULES if within(name, domain)]
    assert found, f"{domain} holds no module"
    return found


def modules_behind(reference):
    """Return the modules of the package that are loaded for a reference, packages included."""
    parts = reference.split(".")
    names = [".".join(parts[:count]) for count in range(1, len(parts) + 1)]
    return {name for name in names if name in MODULES}


def reached_from(names):
    """Return what is loaded or started, in the end, by these modules: name → by which."""
    reached, waiting = dict.fromkeys(names, ""), list(names)
    while waiting:
        name = waiting.pop()
        statements, strings = MODULES[name]
        for reference in statements | strings:
            for module in modules_behind(reference) - reached.keys():
                reached[module] = name
                waiting.append(module)
    return reached


@pytest.mark.parametrize("domain", MAY_NOT_REACH, ids=lambda name: name.rpartition(".")[2])
def test_a_domain_reaches_no_other_that_it_must_not(domain):
    reached = reached_from(of_domain(domain))
    forbidden = {name: by for name, by in reached.items() if within(name, *MAY_NOT_REACH[domain])}
    assert forbidden == {}


def test_what_is_reached_through_another_module_is_found(monkeypatch):
    statements, strings = MODULES["shared_utils.course.place"]
    started = strings | {f"{TRUSTED}.examiner"}
    monkeypatch.setitem(MODULES, "shared_utils.course.place", (statements, started))
    reached = reached_from(["shared_utils.course.learner"])
    assert reached[f"{TRUSTED}.examiner"] == "shared_utils.course.place"
    assert "shared_utils.course.learner" in reached_from(of_domain(TRUSTED))


@pytest.mark.parametrize("domain", MAY_NOT_REACH, ids=lambda name: name.rpartition(".")[2])
def test_a_domain_names_nothing_of_the_forbidden_ones_even_if_it_is_not_there(domain):
    for name in of_domain(domain):
        statements, strings = MODULES[name]
        named = {ref for ref in statements | strings if within(ref, *MAY_NOT_REACH[domain])}
        assert named == set(), name


def test_the_learners_side_imports_few_modules_of_the_package_and_no_more():
    for name in of_domain(INSIDE):
        statements, strings = MODULES[name]
        ours = {ref for ref in statements | strings if within(ref, "shared_utils")}
        for reference in ours:
            allowed = within(reference, INSIDE, *INSIDE_MAY_IMPORT)
            assert allowed, f"{name} refers to {reference}"


@pytest.mark.parametrize("domain", LIBRARIES, ids=lambda name: name.rpartition(".")[2])
def test_a_domain_uses_few_libraries(domain):
    for name in of_domain(domain):
        tops = {reference.partition(".")[0] for reference in MODULES[name][0]}
        assert tops - STANDARD - {"shared_utils"} <= LIBRARIES[domain], name


@pytest.mark.parametrize("domain", MAY_NOT_REACH, ids=lambda name: name.rpartition(".")[2])
def test_a_domain_imports_nothing_that_is_known_only_when_it_runs(domain):
    unknown = {
        name
        for name in reached_from(of_domain(domain))
        if within(name, GRADING, "shared_utils.problems.blocked_functions")
        and UNKNOWN in MODULES[name][1]
    }
    assert unknown <= IMPORTS_WHAT_IT_IS_GIVEN


def test_no_process_imports_what_another_one_runs():
    """The supervisor names them in strings alone; nobody else names them at all."""
    owner = {INSIDE: (INSIDE, KERNEL_POOL), TRUSTED: (TRUSTED,), f"{KERNEL_POOL}.process": ()}
    for name, (statements, strings) in MODULES.items():
        for domain, owners in owner.items():
            if within(name, domain, *owners):
                continue
            assert not {ref for ref in statements if within(ref, domain)}, name
            if not within(name, SUPERVISOR):
                assert not {ref for ref in strings if within(ref, domain)}, name


def test_the_clients_are_the_supervisors_alone():
    # the classroom is the program that the supervisor is a part of
    for name, (statements, strings) in MODULES.items():
        if any(within(ref, *CLIENTS) for ref in statements | strings):
            assert within(name, SUPERVISOR, "shared_utils.classroom"), name


def test_the_supervisor_starts_the_other_processes_by_their_names():
    """Else the rules above would read names that nothing uses."""
    strings = set().union(*(MODULES[name][1] for name in of_domain(SUPERVISOR)))
    started = {f"{KERNEL_POOL}.process", f"{TRUSTED}.examiner", f"{INSIDE}.start_kernel"}
    assert started <= strings
    assert started <= MODULES.keys()


@pytest.mark.parametrize(
    "source",
    [
        "import shared_utils.grading.trusted.examiner",
        "from shared_utils.grading import trusted",
        "from shared_utils.grading.trusted import examiner as e",
        "from ..trusted import examiner",
        "from shared_utils import grading as g\ng.trusted.examiner",
        "def f():\n    if True:\n        import shared_utils.grading.trusted as t",
        "import importlib\nimportlib.import_module('shared_utils.grading.trusted.examiner')",
        "__import__('shared_utils.grading.trusted')",
        "NAME = 'shared_utils.grading.trusted.examiner'",
        "run(['python', '-m', 'shared_utils.grading.trusted.examiner'])",
        "P = 'shared_utils.grading'\nM = f'{P}.trusted.examiner'",
        "P = 'shared_utils.grading'\nM = P + '.trusted'",
        "M = p() + '.trusted.examiner'",
        "M = f'{p()}.trusted.examiner'",
        "M = '%s.trusted.examiner' % p()",
        "CODE = \"__import__('shared_utils.grading.trusted.examiner', fromlist=['f']).f()\"",
        "CODE = 'from shared_utils.grading import trusted'",
        "CODE = 'exec(\"import shared_utils.grading.trusted\")'",
    ],
)
def test_the_checker_finds(source):
    statements, strings = references(source, INSIDE)
    assert any(within(reference, TRUSTED) for reference in statements | strings)


@pytest.mark.parametrize(
    "source",
    [
        '"""Sees nothing of shared_utils.grading.trusted."""',
        "from shared_utils.grading import wire_format",
        "text = 'nobody trusted it.'",
        "import json  # shared_utils.grading.trusted",
    ],
)
def test_the_checker_does_not_find(source):
    statements, strings = references(source, INSIDE)
    assert not any(within(reference, TRUSTED) for reference in statements | strings)


@pytest.mark.parametrize(
    "source", ["import importlib as i\ni.import_module(name())", "__import__(f'{x}.y')"]
)
def test_the_checker_finds_what_is_known_only_when_it_runs(source):
    assert UNKNOWN in references(source)[1]


NOT_IN_A_KERNEL = (TRUSTED, SUPERVISOR, "shared_utils.classroom", "nbgrader")
NOT_IN_THE_EXAMINER = (INSIDE, SUPERVISOR, KERNEL_POOL, "shared_utils.classroom", "nbgrader")
LOADED = "import sys; print(*sys.modules)"


def check_a_learners_kernel():
    """Read what is loaded after the kernel has answered the tests of a submission."""
    loaded = printed(grade("ada", LOADED)).split()
    assert f"{INSIDE}.answers" in loaded
    assert [name for name in loaded if within(name, *NOT_IN_A_KERNEL)] == []
    return loaded


@pytest.mark.grading
@needs_sandbox
@pytest.mark.skipif(not hasattr(os, "pidfd_open"), reason="This platform has no kernel pool.")
def test_a_kernel_of_the_pool_has_loaded_nothing_of_the_others():
    assert KERNEL_POOL in check_a_learners_kernel()


@pytest.mark.grading
def test_a_kernel_that_started_cold_has_loaded_nothing_of_the_others(monkeypatch):
    def missing():
        raise OSError("there is none")

    monkeypatch.setattr(kernel_pool_client, "current_pool", missing)
    assert KERNEL_POOL not in check_a_learners_kernel()


def test_the_examiner_has_loaded_nothing_of_the_others():
    client = examiner_client.ExaminerClient()
    try:
        client.reset("ada")
        reply = '{"f": "callable", "value": "{\\"int\\": \\"0x3\\"}"}'
        outcome = client.run(f"assert f() == 3\n{LOADED}", 30, ["f"], lambda *_: reply)
    finally:
        client.stop()
    assert outcome["ran_well"], outcome
    loaded = outcome["outputs"][0]["text"].split()
    assert {TRUSTED, WIRE_FORMAT} <= set(loaded)
    assert [name for name in loaded if within(name, *NOT_IN_THE_EXAMINER)] == []

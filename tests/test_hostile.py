"""Notebooks that try to steal marks, or to harm: every answer in them is wrong.

Whatever marks such a notebook gets are stolen. Each attack stands in the first cell of its
notebook, before the locked ones, or in an answer; what it harmed is looked for afterwards.
"""

import contextlib
import http.server
import json
import os
import re
import sqlite3
import subprocess
import sys
import threading
import time

import nbformat
import pytest

from shared_utils.grading.supervisor import sandbox
from tests.filling import filled
from tests.marking import REPO, SET, class_of, marks_by_cell
from tests.sampling import size
from tests.test_class import WRONG, without

pytestmark = [
    pytest.mark.grading,
    pytest.mark.skipif(
        bool(sandbox.fault()), reason=f"There is no sandbox here: {sandbox.fault()}."
    ),
]

FIND = """\
import os, re, sys
def find(*words):
    for top in ("{folder}", "{repo}", os.getcwd(), "/"):
        for where, folders, files in os.walk(top):
            folders[:] = [f for f in folders if f not in ("proc", "sys", "dev", "site-packages")]
            for name in files:
                path = os.path.join(where, name)
                if all(word in path for word in words):
                    yield path
"""
TAKE_OVER = """\
def take_over(text):
    for cell in text.split("# %% ")[1:]:
        if cell.startswith("answer="):
            exec(cell.partition("\\n")[2], globals())
"""
# answers that are taken from the learner's own names when a check runs, stolen beforehand
LATER = """\
import builtins
from shared_utils.problems import checks
"""
ALWAYS = (
    "class Always(float):\n    __eq__ = __lt__ = __le__ = __gt__ = __ge__ = lambda *_: True\n"
    "    __hash__ = float.__hash__\n    __abs__ = __sub__ = __rsub__ = lambda s, *_: s\n"
    "    def __float__(self): return self\n    def item(self): return self\n"
    "    def __getitem__(self, _): return self\n    def __len__(self): return 4\n"
)
NAMES = [
    name.split("(")[0].removeprefix("def ")
    for text in WRONG.values()
    for name in text.splitlines()
    if name.startswith("def ")
]
ALL_GIVE = "\n".join(f"def {name}(*given): return thing()" for name in NAMES)


def answers_that_give(thing):
    """Every answer returns what an expression gives at that moment."""
    return {
        problem: "\n\n".join(
            f"def {line.split('(')[0].removeprefix('def ')}(*given):\n    return {thing}"
            for line in text.splitlines()
            if line.startswith("def ")
        )
        for problem, text in WRONG.items()
    }


FRAMES = """\
def thing(*given):
    import sys, gc
    frame = sys._getframe()
    while frame:
        for name in ("want", "expected"):
            if name in frame.f_locals: return frame.f_locals[name]
        frame = frame.f_back
    return 12345.0
"""
FROM_HISTORY = """\
def thing(*given):
    import re
    try:
        cell = get_ipython().user_ns["In"][-1]
        wants = re.findall(r"\\n    ((?:-?100 . )?(?:vergence|lens|right)[^\\n]*),\\n", cell)
        return eval(wants[0], get_ipython().user_ns)
    except Exception:
        return 12345.0
"""

# attack: source of the first cell
CELLS = {
    "checks.number replaced": LATER + "checks.number = lambda *a, **k: None",
    "checks.Marks replaced": LATER
    + "checks.Marks.score = lambda self: float(self.points)\nchecks.number = lambda *a, **k: None",
    "NotRight disabled": LATER + "checks._plain_number = lambda what, *_: 0.0\n"
    "class Near(float):\n    __le__ = lambda *_: True\nbuiltins.abs = lambda x: Near()",
    "course functions replaced": "from shared_utils.optics import vergence\n"
    "for name in dir(vergence):\n    if callable(getattr(vergence, name)) and name[0] != '_':\n"
    "        setattr(vergence, name, lambda *a, **k: 12345.0)",
    "builtins replaced": "import builtins, math\nbuiltins.abs = lambda *_: 0.0\n"
    "builtins.float = lambda *_: 0.0",
    "AssertionError made a warning": "import builtins\nbuiltins.AssertionError = Warning\n"
    "from shared_utils.problems import checks\nchecks.NotRight = Warning",
    "input transformer": "get_ipython().input_transformers_cleanup.append(\n"
    "    lambda lines: ['pass\\n'] if any('checks.' in line for line in lines) else lines)",
    "syntax-tree hook": "import ast\nclass Drop(ast.NodeTransformer):\n"
    "    def visit_Expr(self, node): return ast.parse('None').body[0]\n"
    "get_ipython().ast_transformers.append(Drop())",
    "run_cell replaced": "from IPython.core.interactiveshell import ExecutionResult\n"
    "shell = get_ipython()\ndef nothing(raw, *a, **k):\n    result = ExecutionResult(None)\n"
    "    return result\nasync def later(raw, *a, **k):\n    return nothing(raw)\n"
    "shell.run_cell = nothing\nshell.run_cell_async = later",
    "import hook": "import sys\nclass Fake:\n    NotRight = Warning\n"
    "    number = choice = staticmethod(lambda *a, **k: None)\n"
    "    class Marks:\n        def __init__(self, points): self.p = points\n"
    "        def step(self, *a, **k): pass\n        def score(self): return float(self.p)\n"
    "sys.modules['shared_utils.problems.checks'] = Fake\n"
    "import shared_utils.problems\nshared_utils.problems.checks = Fake",
    "trace function": "import sys\ndef trace(frame, event, arg):\n"
    "    if frame.f_code.co_name == 'number' and 'want' in frame.f_locals:\n"
    "        import ctypes\n        frame.f_locals['answer'] = frame.f_locals['want']\n"
    "        ctypes.pythonapi.PyFrame_LocalsToFast(ctypes.py_object(frame), 0)\n"
    "    return trace\nsys.settrace(trace)",
    "forged result on the channel": "ip = get_ipython()\ndef forge(*_):\n"
    "    ip.kernel.send_response(ip.kernel.iopub_socket, 'execute_result',\n"
    "        {'data': {'text/plain': '1.0'}, 'metadata': {}, 'execution_count': 9})\n"
    "ip.events.register('pre_run_cell', forge)\nip.events.register('pre_execute', forge)",
    "forged replies on the channel": "k = get_ipython().kernel\nold = k.session.send\n"
    "def send(stream, kind, content=None, *a, **kw):\n    if isinstance(content, dict):\n"
    "        content = {**content, 'status': 'ok'} if 'status' in content else content\n"
    "    if kind == 'error': return None\n    return old(stream, kind, content, *a, **kw)\n"
    "k.session.send = send",
    "the answering module replaced": "from shared_utils.grading.inside import answers\n"
    "import json\ndef lie(request, namespace):\n"
    "    return json.dumps({'value': '{\"float\": \"nan\"}', 'ran_well': True,\n"
    "        'outputs': [], 'message': '', 'page_vergence_d': 'callable',\n"
    "        'raised': 'AssertionError', 'checks': 'callable',\n"
    "        'vergence': 'callable'})\nanswers._reply = lie",
    "tests read from the gradebook": FIND + "import sqlite3\nfor path in find('gradebook.db'):\n"
    "    book = sqlite3.connect(path)\n"
    "    print('TESTS', book.execute('select * from source_cell').fetchall())",
    "marks written into the gradebook": FIND + "import sqlite3\nfor path in find('gradebook.db'):\n"
    "    book = sqlite3.connect(path)\n    book.execute('update grade set manual_score = 3')\n"
    "    book.execute('update base_cell set name = name')\n    book.commit()",
    "another's work removed": FIND + "for path in find('problems.ipynb'):\n"
    "    if 'submitted' in path:\n        try: os.remove(path)\n        except OSError: pass",
    "another's work read": FIND + "for path in find('submitted', 'problems.ipynb'):\n"
    "    print('TESTS ' + open(path).read())",
    "the network": "import urllib.request\n"
    "print(urllib.request.urlopen('http://127.0.0.1:{port}/', timeout=3).read())",
    "fork bomb": "import os, time\nchildren = 0\ntry:\n    while children < 400:\n"
    "        if os.fork() == 0: time.sleep(60); os._exit(0)\n        children += 1\n"
    "except OSError: pass\nprint('CHILDREN', children)",
    "memory bomb": "hoard = []\nwhile True: hoard.append(bytearray(2**26))",
    "disk bomb": "with open('big', 'wb') as file:\n    while True: file.write(bytes(2**22))",
    "endless loop": "while True: pass",
    "loop that ignores interrupts": "while True:\n    try:\n        while True: pass\n"
    "    except BaseException: pass",
    "kernel exits": "import os; os._exit(0)",
    "kernel killed": "import os, signal; os.kill(os.getpid(), signal.SIGKILL)",
    "other processes killed": "import os, signal\nfor pid in range(2, 50000):\n"
    "    if pid != os.getpid():\n        try: os.kill(pid, signal.SIGKILL)\n"
    "        except OSError: pass",
    "daemon left behind": "import subprocess, sys\nsubprocess.Popen([sys.executable, '-c',\n"
    "    'import time; time.sleep(47.11)'], start_new_session=True)",
    "flood of output": "while True: print('x' * 100_000)",
    "flood of raw output": "import os\nwhile True: os.write(1, b'x' * 100_000)",
    "script in the output": "from IPython.display import HTML, Javascript, display\n"
    "display(HTML('<script>alert(4711)</script><img src=x onerror=alert(4711)>'))\n"
    "display(Javascript('alert(4711)'))",
    "link to the solutions": "print(open('peek.txt').read())",
}  # fmt: skip
# attack: the answers themselves
ANSWERS = {
    "solutions read from disk": (
        FIND + TAKE_OVER + "for path in find('01_vergence', '.py'):\n"
        "    if 'solutions' in path:\n        take_over(open(path).read())\n        break",
        dict.fromkeys(WRONG, "# taken over above"),
    ),
    "objects that equal everything": (ALWAYS, answers_that_give("Always(1.0)")),
    "expected value read from frames": (FRAMES, answers_that_give("thing()")),
    "expected value read from the history": (FROM_HISTORY, answers_that_give("thing()")),
    "answers that hang": ("import time", answers_that_give("time.sleep(100)")),
    "answers that are huge": ("", answers_that_give("[0.0] * 10**7")),
    "answers without end": ("deep = []\ndeep.append(deep)", answers_that_give("deep")),
    "answers that raise for the test": (
        "from shared_utils.problems import checks",
        answers_that_give("(_ for _ in ()).throw(checks.NotRight('holds'))"),
    ),
    "answers that exit": ("", answers_that_give("exit(0)")),
    "nan that slips through": ("", answers_that_give("float('nan')")),
}
SAMPLE = (
    *("checks.number replaced", "run_cell replaced", "solutions read from disk"),
    *("tests read from the gradebook", "another's work removed", "objects that equal everything"),
    *("fork bomb", "kernel exits", "script in the output"),
)
FEW = SAMPLE[:1]
HONEST = ("honest.first", "zz.honest")


def hostile_notebook(attack, places):
    first, answers = ANSWERS.get(attack) or (CELLS.get(attack, ""), WRONG)
    notebook = filled(SET, answers)
    for old, new in places.items():
        first = first.replace(old, new)
    notebook.cells.insert(0, nbformat.v4.new_code_cell(first, id="attack"))
    if attack == "locked cells stripped":
        for cell in notebook.cells:
            cell.metadata.pop("nbgrader", None) if cell.id.endswith("-given") else None
    if attack == "tests deleted":
        for name in [c.id for c in notebook.cells if c.id.endswith(("-check", "-hidden"))]:
            without(notebook, name)
    if attack == "tests emptied and worth more":
        for cell in notebook.cells:
            if cell.id.endswith(("-check", "-hidden")):
                cell.source, cell.metadata.nbgrader.points = "100.0", 100
    return notebook


MORE = ("locked cells stripped", "tests deleted", "tests emptied and worth more")
SHADOW = "packages shadowed by files"
ATTACKS = (*CELLS, *ANSWERS, *MORE, SHADOW)


def id_of(attack):
    return "x" + "".join(letter for letter in attack.title() if letter.isalnum())


@contextlib.contextmanager
def listener():
    """Give the port of a server that notes whether anybody has called."""
    called = []

    class Note(http.server.BaseHTTPRequestHandler):
        def do_GET(self):
            called.append(self.path)
            self.send_response(204)
            self.end_headers()

        def log_message(self, *_):
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Note)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield server.server_port, called
    server.shutdown()
    server.server_close()


@contextlib.contextmanager
def hostile_class(folder, attacks):
    with listener() as (port, called):
        places = {"{folder}": str(folder), "{repo}": str(REPO), "{port}": str(port)}
        handed_in = {HONEST[0]: filled(SET)}
        handed_in |= {id_of(attack): hostile_notebook(attack, places) for attack in attacks}
        handed_in[HONEST[1]] = filled(SET)
        # many attacks wait for their limit; of a few honest work on a busy machine gets more time
        seconds, in_all = (3, 15) if len(attacks) > len(SAMPLE) else (10, 60)
        with class_of(folder, handed_in, seconds, in_all) as room:
            for attack in attacks:
                beside = room.folder / "submitted" / id_of(attack) / SET
                if attack == SHADOW:
                    fake = "def __getattr__(name):\n    return lambda *a, **k: None\n"
                    for name in ("numpy.py", "math.py", "json.py", "shared_utils.py", "ast.py"):
                        (beside / name).write_text(fake, encoding="utf-8")
                if attack == "link to the solutions":
                    (beside / "peek.txt").symlink_to(
                        room.folder / "source" / SET / "problems.ipynb"
                    )
            yield room, called


def harm_done(room, attack, called):
    """Return what an attack did beside the marks, in a few words; empty if nothing."""
    marked = room.folder / "autograded" / id_of(attack) / SET / "problems.ipynb"
    text = marked.read_text(encoding="utf-8") if marked.is_file() else ""
    cells = nbformat.reads(text, 4).cells if text else []
    outputs = "".join(o.get("text", "") for cell in cells for o in cell.get("outputs", ()))
    words = []
    if "BEGIN SOLUTION" in outputs or "TESTS " in outputs:
        words.append("secrets read")
    if called:
        words.append("network reached")
        called.clear()
    if len(text) > 5_000_000:
        words.append("flooded")
    if "CHILDREN 400" in outputs:
        words.append("400 processes")
    missing = [
        path
        for path in (room.folder / "submitted").iterdir()
        if not (path / SET / "problems.ipynb").is_file()
    ]
    if missing:
        words.append("others' work gone")
    with contextlib.closing(sqlite3.connect(room.folder / "gradebook.db")) as book:
        if book.execute("update grade set manual_score = null where manual_score = 3").rowcount:
            words.append("marks changed")
        book.commit()
    if "47.11" in subprocess.run(["ps", "axww"], capture_output=True, text=True).stdout:
        words.append("left running")
    return ", ".join(words)


def stolen(room, attack):
    return sum(marks_by_cell(room, id_of(attack)).values())


@pytest.mark.parametrize(
    "attacks",
    [
        FEW,
        pytest.param(SAMPLE, marks=pytest.mark.slow),
        pytest.param(ATTACKS[:: size(1, 3)], marks=[pytest.mark.long, pytest.mark.timeout(1500)]),
    ],
    ids=len,
)
def test_nothing_is_stolen_and_nothing_is_harmed(tmp_path, attacks, capsys):
    with hostile_class(tmp_path, attacks) as (room, called):
        results, harms = {}, {}
        by_id = {id_of(attack): attack for attack in attacks}
        start = time.monotonic()
        for result in room.grade(SET):
            results[result.learner] = result
            attack = by_id.get(result.learner)
            if attack:
                harms[attack] = harm_done(room, attack, called)
                with capsys.disabled():
                    seconds, start = time.monotonic() - start, time.monotonic()
                    print(f"| {attack} | {result.marks} | {harms[attack]} | {seconds:.1f} s")
        for attack in attacks:
            assert results[id_of(attack)].marks == 0, (attack, results[id_of(attack)])
            assert harms[attack] == "", attack
        for learner in HONEST:
            assert results[learner].marks == 26, results[learner]
            assert results[learner].notes == []
        pages = dict(room.feedback(SET))
        for page in pages.values():
            shown = page.read_text(encoding="utf-8")
            assert "<script>alert(4711)" not in shown
            assert not re.search(r"<img[^>]*onerror", shown)


@pytest.mark.benchmark
@pytest.mark.long
@pytest.mark.timeout(1500)
def test_stock_autograding_gives_marks_away(tmp_path, capsys):
    """The baseline: were nothing stolen here either, the attacks would be blunt."""
    command = ["bwrap", "--ro-bind", "/", "/", "--dev", "/dev", "--tmpfs", "/tmp"]
    command += ["--ro-bind", str(REPO), str(REPO), "--bind", str(tmp_path), str(tmp_path)]
    command += ["--unshare-pid", "--unshare-net", "--proc", "/proc", "--die-with-parent"]
    command += ["--chdir", str(REPO), sys.executable, "-m", "tests.stock", str(tmp_path)]
    environment = {**os.environ, "PYTHONPATH": str(REPO)}
    rows = []
    with subprocess.Popen(command, env=environment, stdout=subprocess.PIPE, text=True) as stock:
        for line in stock.stdout:
            if line.startswith("TOLD "):
                rows.append(json.loads(line.removeprefix("TOLD ")))
                with capsys.disabled():
                    print("stock", rows[-1])
    # the last one ends stock grading itself
    assert len(rows) == len(ATTACKS) - 1
    assert sum((row["marks"] or 0) > 0 for row in rows) >= 10
    assert sum(bool(row["harm"]) for row in rows) >= 4

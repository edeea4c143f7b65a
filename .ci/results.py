"""Write down all that the course says, or compare two such files: a restructuring must change none.

Run it with the package of one tree on the path, then of the other:

    python .ci/results.py write before.json
    python .ci/results.py write after.json
    python .ci/results.py compare before.json after.json

What is written: each item for several seeds, each slider at its start and its ends, and what every
cell of every lesson and problem set shows to several learners; pictures by their alt text.
"""

import contextlib
import importlib
import inspect
import json
import os
import pkgutil
import re
import sys
import tempfile
import warnings
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
os.environ.setdefault("MPLBACKEND", "agg")
os.environ["LENS_COURSE_DATA"] = tempfile.mkdtemp()
SEEDS = range(6)
LEARNERS = ("ada", "ben", "chi")
EARLIER_NAME = "reckon"  # of a slider's compute, in trees before version 0.2


def main(words):
    if words[:1] == ["write"] and len(words) == 2:
        Path(words[1]).write_text(json.dumps(dict(everything()), indent=0), encoding="utf-8")
    elif words[:1] == ["compare"] and len(words) == 3:
        return compare(*(json.loads(Path(word).read_text(encoding="utf-8")) for word in words[1:]))
    else:
        print(__doc__)
        return 2
    return 0


def compare(before, after):
    before, after = ({name: clean(text) for name, text in one.items()} for one in (before, after))
    different = [name for name in before if before[name] != after.get(name)]
    for name in different:
        print(f"--- {name}\n  before: {before[name]}\n  after:  {after.get(name)}")
    new = after.keys() - before.keys()
    print(f"{len(before)} before, {len(different)} differ or are gone, {len(new)} are new")
    return 1 if different else 0


def everything():
    yield from items()
    yield from demos()
    yield from pages()


def _module(*names):
    for name in names:
        with contextlib.suppress(ModuleNotFoundError):
            return importlib.import_module(name)
    raise ModuleNotFoundError(names[0])


def items():
    bank = _module("shared_utils.bank.items", "shared_utils.practice.items")
    posed = _module("shared_utils.bank.posed", "shared_utils.practice.posed")
    for key, item in bank.bank().items():
        for seed in SEEDS:
            asked = posed.pose(item, seed)
            figure = asked.shown_figure()
            about = [asked.stem, asked.choices, asked.right, asked.numbers]
            about += [[[o.text, o.feedback, o.key] for o in asked.options]]
            about.append(figure.alt if figure is not None else "")
            yield f"item {key} {seed}", json.dumps(about, default=repr)


def demos():
    import shared_utils.explore as explore
    from shared_utils.explore.engine import Demo

    for info in pkgutil.iter_modules(explore.__path__):
        module = importlib.import_module(f"shared_utils.explore.{info.name}")
        for name, function in vars(module).items():
            if not callable(function) or getattr(function, "__module__", "") != module.__name__:
                continue
            if name.startswith("_") or isinstance(function, type):
                continue
            if inspect.signature(function).parameters:
                continue
            demo = function()
            if not isinstance(demo, Demo):
                continue
            compute = getattr(demo, "compute", None) or getattr(demo, EARLIER_NAME)
            for label, state in states(demo):
                data = compute(**state)
                yield f"demo {name} {label}", demo.sentence(data) + " | " + demo.alt(data)


def states(demo):
    start = demo.start()
    yield "start", start
    for control in demo.controls:
        options = getattr(control, "options", None)
        values = list(options.values()) if options else [control.low, control.high]
        for value in values:
            yield f"{control.name}={value}", {**start, control.name: value}


def pages():
    root = Path.cwd()
    for path in sorted((root / "lessons" / "source").glob("*.py")):
        yield from run(path, "ada")
    for learner in LEARNERS:
        for path in sorted((root / "solutions").glob("*.py")):
            yield from run(path, learner)


def run(path, learner):
    import jupytext
    from IPython.core.interactiveshell import InteractiveShell
    from IPython.utils.capture import capture_output

    os.environ["LENS_COURSE_LEARNER"] = learner
    stem = re.sub(r"^\d\d_", "", path.stem)
    InteractiveShell.clear_instance()
    shell = InteractiveShell.instance()
    here = Path.cwd()
    os.chdir(path.parents[1] if path.parent.name == "source" else path.parent)
    text = path.read_text(encoding="utf-8")
    with contextlib.suppress(ModuleNotFoundError):  # an earlier tree has no names in its texts
        text = importlib.import_module("shared_utils.pages.source").fill(text)
    notebook = jupytext.reads(text, fmt="py:percent")
    try:
        for number, cell in enumerate(c for c in notebook.cells if c.cell_type == "code"):
            with capture_output() as shown, warnings.catch_warnings():
                warnings.simplefilter("ignore")
                result = shell.run_cell(cell.source)
            texts = [clean(shown.stdout)]
            for output in shown.outputs:
                data = output.data
                texts.append(
                    clean(
                        data.get("text/html")
                        or data.get("text/markdown")
                        or data.get("text/plain", "")
                    )
                )
            if result.result is not None:
                shows = getattr(result.result, "_repr_html_", None)
                texts.append(clean(shows() if shows else repr(result.result)))
            if not result.success:
                texts.append(repr(result.error_in_exec or result.error_before_exec))
            yield f"page {path.parent.name}/{stem} {learner} {number}", "\n".join(texts)
    finally:
        os.chdir(here)


def clean(text):
    text = re.sub(r'src="data:[^"]*"', 'src=""', text or "")
    text = text.replace("FigureWithAlt(", "Shown(")  # its earlier name
    text = re.sub(r"IPY_MODEL_\w+|at 0x[0-9a-f]+|model_id[\"']: ?[\"']\w+", "", text)
    text = re.sub(r"shared_utils[\w.]*\.(\w+)", r"\1", text)
    text = re.sub(r"\b\d\d_(?=[a-z])", "", text)
    text = re.sub(r"\x1b\[[0-9;]*m|Out\[\d+\]: ?", "", text)
    # a line may be printed or shown: blank lines tell nothing
    return re.sub(r"\n\s*\n+", "\n", text).strip()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))

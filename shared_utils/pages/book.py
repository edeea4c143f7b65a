"""The course as a book: static pages with stills that open, print and link without a network."""

from __future__ import annotations

import asyncio
import html
import os
import re
import subprocess
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError, DeadKernelError

from shared_utils import CAUTION
from shared_utils.course import manifest
from shared_utils.course.place import course_root
from shared_utils.pages import cells, mathml

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from os import PathLike

STYLE = Path(__file__).parent / "book.css"
CELL_SECONDS = 120
WIDGET = "application/vnd.jupyter.widget-view+json"


@dataclass(frozen=True)
class Page:
    """A page of the book before it is dressed: file name, title, body, and terms it explains."""

    name: str
    title: str
    body: str
    terms: tuple[tuple[str, str], ...]


def write(
    folder: str | PathLike[str],
    only: Sequence[str] | None = None,
    reply: Callable[[str], object] = lambda page: None,
) -> Path:
    """Write the book and return its index.

    Parameters
    ----------
    folder : path-like
        Made if it is not there; pages of an earlier book are written over.
    only : sequence of str, optional
        Numbers or names of the pages to write; all of them if not given.
    reply : callable
        Called with each page's title as it is done.

    Returns
    -------
    pathlib.Path
        The book's ``index.html``.

    Raises
    ------
    ValueError
        If the folder holds something else, or a page does not run.
    """
    folder = Path(folder)
    others = [p.name for p in folder.iterdir() if p.suffix != ".html"] if folder.is_dir() else []
    if others:
        raise ValueError(
            f"{folder} holds {others[0]}, which is not of a book: name a new or an empty folder."
        )
    folder.mkdir(parents=True, exist_ok=True)
    root = course_root()
    listed = manifest.of(root)
    wanted = listed.pages if only is None else {listed.find(name) for name in only}
    jobs = []
    for page in listed.pages:
        if page in wanted:
            jobs.append((_lesson, root / "lessons" / f"{page.stem}.ipynb"))
            if page.problem_set:
                jobs.append((_problems, root / "exercises" / page.stem / "problems.ipynb"))
    for _, path in jobs:
        if not path.is_file():
            raise ValueError(f"{path.name} is not built: run `lens-course build` first.")
    pages = asyncio.run(_together(jobs, reply))
    for before, page, after in zip([None, *pages], pages, [*pages[1:], None], strict=False):
        (folder / page.name).write_text(_dressed(page, before, after), encoding="utf-8")
    index = folder / "index.html"
    index.write_text(_dressed(_index(pages), None, pages[0]), encoding="utf-8")
    return index


async def _together(jobs, reply):
    """Make the pages, as many at once as there are cores: their kernels do the work."""
    places = asyncio.Semaphore(os.cpu_count() or 1)

    async def one(make, path):
        async with places:
            page = await make(path)
        reply(page.title)
        return page

    return await asyncio.gather(*(one(make, path) for make, path in jobs))


async def _lesson(path):
    notebook = await _run(nbformat.read(path, as_version=4), path.parent)
    body, terms = [], []
    for cell in notebook.cells:
        if cell.cell_type == "markdown":
            made = mathml.markdown_to_html(
                re.sub(r"^Press \*\*Run.*\n?", "", cell.source, flags=re.M)
            )
            body.append(made)
            if cells.part(cell) == "idea":
                terms += [(t, _anchor(made)) for t in re.findall(r"\*\*([^*]+)\*\*", cell.source)]
        else:
            if not cells.is_collapsed(cell):
                body.append(_code(cell.source))
            body += [_output(output) for output in cell.outputs]
    return _page(f"{path.stem}.html", body, terms)


async def _problems(path):
    """The questions, the numbers of whoever prints the book, and where answers go; no checks."""
    notebook = nbformat.read(path, as_version=4)
    run = nbformat.from_dict(notebook)
    run.cells = [c for c in run.cells if cells.kind(c) in (None, "question", "given")]
    outputs = {cell.id: cell.get("outputs", []) for cell in (await _run(run, path.parent)).cells}
    body = []
    for cell in notebook.cells:
        kind = cells.kind(cell)
        if kind == "question" or (kind is None and cell.cell_type == "markdown"):
            body.append(mathml.markdown_to_html(cell.source))
        elif kind == "given":
            body += [_output(output) for output in outputs[cell.id]]
        elif kind == "answer":
            body.append(_code(cell.source))
        elif kind == "written":
            body.append("<p><em>Your answer in words.</em></p>")
    return _page(f"{path.parent.name}_problems.html", body, [])


async def _run(notebook, folder):
    try:
        try:
            return await _attempt(notebook, folder)
        except (DeadKernelError, RuntimeError):
            # two kernels that start at once may take the same port
            return await _attempt(notebook, folder)
    except (CellExecutionError, DeadKernelError, RuntimeError) as error:
        title = notebook.cells[0].source.splitlines()[0].lstrip("# ")
        raise ValueError(f"The page “{title}” does not run: {error}") from error


async def _attempt(notebook, folder):
    client = NotebookClient(
        deepcopy(notebook),
        timeout=CELL_SECONDS,
        kernel_name="python3",
        store_widget_state=False,
        resources={"metadata": {"path": str(folder)}},
    )
    return await client.async_execute(stderr=subprocess.DEVNULL)


def _page(name, body, terms):
    whole = _links("\n".join(body))
    title = html.unescape(re.sub(r"<[^>]+>", "", re.search(r"<h1[^>]*>(.*?)</h1>", whole)[1]))
    return Page(name, title.strip(), whole, tuple(terms))


def _links(text):
    """Point links between notebooks to the pages of the book."""

    def changed(match):
        path = match[1]
        problems = re.search(r"([^/]+)/problems\.ipynb$", path)
        return (
            f'href="{problems[1]}_problems.html"' if problems else f'href="{Path(path).stem}.html"'
        )

    return re.sub(r'href="([^":]+\.ipynb)"', changed, text)


def _output(output):
    if output.output_type == "stream":
        return f"<pre>{html.escape(output.text)}</pre>" if output.name == "stdout" else ""
    data = output.get("data", {})
    if "text/html" in data:
        return f'<div class="output scroll" tabindex="0">{data["text/html"]}</div>'
    if WIDGET in data:
        return ""  # nothing to press in a book
    if "text/markdown" in data:
        made = mathml.markdown_to_html(data["text/markdown"])
        return f'<div class="output scroll" tabindex="0">{made}</div>'
    return f"<pre>{html.escape(data.get('text/plain', ''))}</pre>" if data else ""


def _code(source):
    return f'<pre tabindex="0"><code>{html.escape(source)}</code></pre>'


def _anchor(made):
    found = re.search(r'<h\d[^>]* id="([^"]+)"', made)
    return found[1] if found else ""


def _index(pages):
    entries = "".join(
        f'<li><a href="{page.name}">{html.escape(page.title)}</a></li>' for page in pages
    )
    terms = sorted(
        {(term.strip(" .:,"), page.name, anchor) for page in pages for term, anchor in page.terms},
        key=lambda entry: entry[0].lower(),
    )
    places = {}
    for term, name, anchor in terms:
        places.setdefault(term[0].upper() + term[1:], []).append((name, anchor))
    words = "".join(
        f"<li>{html.escape(term)}: "
        + ", ".join(f'<a href="{name}#{anchor}">page {name[:2]}</a>' for name, anchor in where)
        + "</li>"
        for term, where in places.items()
    )
    body = (
        "<h1>Choosing a lens for a cataract patient: the optics</h1>"
        f"<p>{html.escape(CAUTION)}</p>"
        "<p>This is the printed form of a course of notebooks. Where a page says that a slider "
        "moves, the book shows it where it starts.</p>"
        f"<h2>Pages</h2><ul>{entries}</ul><h2>Index of terms</h2><ul>{words}</ul>"
    )
    return Page("index.html", "Contents and index", body, ())


def _dressed(page, before, after):
    ways = ['<li><a href="index.html">Contents and index</a></li>']
    if before:
        ways.append(f'<li>before: <a href="{before.name}">{html.escape(before.title)}</a></li>')
    if after:
        ways.append(f'<li>next: <a href="{after.name}">{html.escape(after.title)}</a></li>')
    ways = "".join(ways)
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{html.escape(page.title)}</title>"
        f"<style>{STYLE.read_text(encoding='utf-8')}</style></head><body>"
        f'<header><a class="skip" href="#page">To the page</a>'
        f'<nav aria-label="Pages"><ul>{ways}</ul></nav></header>'
        f'<main id="page">\n{page.body}\n</main>'
        f'<footer><p>{html.escape(CAUTION)}</p><nav aria-label="Pages, again"><ul>{ways}</ul></nav>'
        "</footer></body></html>\n"
    )

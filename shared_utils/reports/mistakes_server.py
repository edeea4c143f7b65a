"""The pages of common mistakes on the server of ``lens-course class open``, beside the form grader.

An extension of the Jupyter server that no configuration enables: the command alone loads it. The
pages hold no script; a comment is posted as a plain form, with the server's own token and XSRF.
"""

from __future__ import annotations

import asyncio
import html
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from jinja2 import ChoiceLoader, FileSystemLoader, PrefixLoader
from jupyter_server.base.handlers import JupyterHandler
from jupyter_server.utils import url_path_join
from tornado import web

from shared_utils.classroom import mistakes, nbgrader_calls
from shared_utils.classroom.folder import ClassFolder
from shared_utils.reports import html_page, mistakes_page

if TYPE_CHECKING:
    from typing import Any

    from jupyter_server.serverapp import ServerApp

EXTENSION_ARGUMENT = f"--ServerApp.jpserver_extensions={__name__}=True"
ADDRESS = "/lens-course/mistakes"
TEMPLATES = Path(__file__).parent / "form_grader_templates"
LONGEST_COMMENT = 5000  # characters
# one at a time: the instructor's cells are run in this process, under one learner's name
_worker = ThreadPoolExecutor(max_workers=1, thread_name_prefix="mistakes")


class _Page(JupyterHandler):
    """A page of ours: it may load nothing and post to its own server alone."""

    @property
    def content_security_policy(self) -> str:
        """What a browser may do with the page."""
        return (
            "default-src 'none'; style-src 'unsafe-inline'; form-action 'self'; "
            "base-uri 'none'; frame-ancestors 'self'"
        )

    @property
    def address(self) -> str:
        """Where the pages begin."""
        return url_path_join(self.base_url, ADDRESS)

    def show(self, title: str, body: list[str], status: int = 200) -> None:
        """Send a page."""
        self.set_status(status)
        self.set_header("Content-Type", "text/html; charset=utf-8")
        self.set_header("Cache-Control", "no-store")
        self.set_header("Referrer-Policy", "same-origin")
        self.finish(html_page.page_of(title, body))

    def refuse(self, sentence: str, status: int) -> None:
        """Send a page that says in a sentence what is wrong."""
        links = mistakes_page.links(self.address, url_path_join(self.base_url, "formgrader"))
        self.show(
            "Common mistakes", [links, "<h1>Common mistakes</h1>", _paragraph(sentence)], status
        )

    async def in_class(self, work, *arguments) -> Any:
        """Return what a function returns of the class, or None after a page with its refusal."""
        root = self.settings["serverapp"].root_dir
        try:
            return await asyncio.get_running_loop().run_in_executor(
                _worker, lambda: work(ClassFolder(root), *arguments)
            )
        except _Unknown as error:
            self.refuse(str(error), 404)
        except (ValueError, OSError) as error:
            self.refuse(str(error), 503)
        return None


class _Unknown(Exception):
    """Something that is not there, in a sentence."""


class _Sets(_Page):
    @web.authenticated
    async def get(self) -> None:
        names = await self.in_class(lambda folder: folder.released_sets())
        if names is None:
            return
        links = [
            f"<li><a href='{self.address}/{quote(name)}'>{html.escape(name)}</a></li>"
            for name in names
        ]
        listed = f"<ul>{''.join(links)}</ul>" if names else "<p>No set was released yet.</p>"
        self.show("Common mistakes", ["<h1>Common mistakes, set by set</h1>", listed])


class _Set(_Page):
    @web.authenticated
    async def get(self, name: str) -> None:
        seen = await self.in_class(_look, name)
        if seen is None:
            return
        name, groups, comments, books, graded = seen
        body = mistakes_page.body(
            groups,
            name,
            graded,
            comments,
            books,
            reached=self._reached(),
            address=self.address,
            form_grader=url_path_join(self.base_url, "formgrader"),
            xsrf=self.xsrf_form_html(),
        )
        self.show(f"Common mistakes in {name}", body)

    def _reached(self):
        """Which group was written to, and to how many of how many, as the address has it."""
        key = self.get_query_argument("group", "")
        counts = [self.get_query_argument(part, "") for part in ("reached", "of")]
        if not all(count.isascii() and count.isdecimal() and len(count) < 7 for count in counts):
            return None
        return key, int(counts[0]), int(counts[1])

    @web.authenticated
    async def post(self, name: str) -> None:
        key = self.get_body_argument("group", "")
        text = self.get_body_argument("comment", "").replace("\r\n", "\n")
        if not text.strip():
            self.refuse("The comment is empty: go back and write what will help the group.", 400)
            return
        if len(text) > LONGEST_COMMENT:
            sentence = f"The comment has {len(text)} letters; write at most {LONGEST_COMMENT}."
            self.refuse(sentence, 400)
            return
        reached = await self.in_class(_write, name, key, text)
        if reached is None:
            return
        name, count, of = reached
        self.redirect(
            f"{self.address}/{quote(name)}?group={key}&reached={count}&of={of}#group-{key}",
            status=303,
        )


def _look(folder, wanted):
    name = _find(folder, wanted)
    groups = mistakes.groups(folder, name)
    with nbgrader_calls.open_gradebook(folder.path) as gradebook:
        comments, books = gradebook.comments(name), gradebook.notebook_ids(name)
    return name, groups, comments, books, len(folder.graded(name))


def _write(folder, wanted, key, text):
    name = _find(folder, wanted)
    for group in mistakes.groups(folder, name):
        if group.key == key:
            return name, mistakes.comment(folder, group, text), len(group.learners)
    raise _Unknown(
        "This group is no longer there, for answers were marked since: open the page again."
    )


def _find(folder, wanted):
    try:
        return folder.find_released(wanted)
    except ValueError as error:
        raise _Unknown(str(error)) from None


def _paragraph(sentence):
    return f"<p role='alert'>{html.escape(sentence)}</p>"


def _jupyter_server_extension_points() -> list[dict[str, str]]:
    return [{"module": __name__}]


def _load_jupyter_server_extension(serverapp: ServerApp) -> None:
    application = serverapp.web_app
    pages = url_path_join(application.settings["base_url"], ADDRESS)
    application.add_handlers(".*$", [(rf"{pages}/?", _Sets), (rf"{pages}/([^/]+)/?", _Set)])
    environment = application.settings.get("nbgrader_jinja2_env")
    if environment is not None:  # the form grader's pages of a set link to ours
        theirs = environment.loader
        ours = FileSystemLoader(TEMPLATES)
        environment.loader = ChoiceLoader([ours, PrefixLoader({"form_grader": theirs}), theirs])

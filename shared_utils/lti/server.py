"""The addresses that a learning platform calls, for loopback behind a reverse proxy."""

from __future__ import annotations

import asyncio
import logging
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from tornado.httpserver import HTTPServer
from tornado.netutil import bind_sockets
from tornado.web import Application, HTTPError, RequestHandler

from shared_utils.lti import pages, settings
from shared_utils.lti.launch import STATE_S, Choice, Refused, Tool

if TYPE_CHECKING:
    from collections.abc import Callable
    from typing import Any

LOOPBACK = "127.0.0.1"
MAX_BYTES = 1_000_000
FAILED = "The course could not be started because of a fault on its side: tell your instructor."
log = logging.getLogger("lens_course.lti")


class _Page(RequestHandler):
    def initialize(self, tool):
        self.tool = tool

    def set_default_headers(self):
        self.clear_header("Server")
        self.set_header("Cache-Control", "no-store")
        self.set_header("Referrer-Policy", "no-referrer")
        self.set_header("X-Content-Type-Options", "nosniff")

    def show(self, html, status=200, form_action="'none'"):
        origins = sorted({_origin(each.auth_login_url) for each in self.tool.settings.platforms})
        self.set_header(
            "Content-Security-Policy",
            "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; "
            f"form-action {form_action}; frame-ancestors 'self' {' '.join(origins)}",
        )
        self.set_status(status)
        self.finish(html)

    def given(self):
        """Each parameter once: a second one of a name could hide the first."""
        found = {}
        for name, values in self.request.arguments.items():
            if len(values) > 1:
                raise Refused(f"The learning platform sent {name!r} twice: ask your instructor.")
            try:
                found[name] = values[0].decode("utf-8")
            except UnicodeDecodeError:
                raise Refused("What the learning platform sent is no text.") from None
        return found

    def write_error(self, status_code, **details):
        words = FAILED
        if status_code in (404, 405):
            words = "There is no such page here. Start the course from your learning platform."
        elif status_code < 500:
            words = "This request cannot be read. Start the course from your learning platform."
        self.show(pages.refusal(words), status_code)

    def log_exception(self, kind, error, trace):
        if not isinstance(error, HTTPError):
            log.error("fault at %s: %s", self.request.path, kind.__name__, exc_info=error)

    async def answer(self, work, *given):
        """Do work that may wait for the network or the disk beside the server's loop."""
        try:
            return await asyncio.to_thread(work, *given)
        except Refused as refused:
            log.info("refused: %s", refused)
            self.show(pages.refusal(str(refused)), 403)
        except ValueError as error:  # the class's folder does not hold
            log.error("not started: %s", error)
            self.show(pages.refusal(FAILED), 500)
        return None


class _Login(_Page):
    async def get(self):
        login = await self.answer(lambda: self.tool.begin(self.given()))
        if login is None:
            return
        plain = settings.is_loopback(self.tool.settings.tool_url)
        # the platform's page posts the launch from its own site, often in a frame
        for name, value in login.cookies.items():
            self.set_cookie(
                name,
                value,
                max_age=STATE_S,
                path=urlsplit(self.tool.launch_url).path,
                httponly=True,
                secure=not plain,
                samesite="Lax" if plain else "None",
            )
        self.redirect(login.url, status=303)

    post = get


class _Launch(_Page):
    async def post(self):
        cookies = {name: one.value for name, one in self.request.cookies.items()}
        found = await self.answer(lambda: self.tool.launch(self.given(), cookies))
        if found is None:
            return
        for name in cookies:
            if name.startswith("state-"):
                self.clear_cookie(name, path=urlsplit(self.tool.launch_url).path)
        if isinstance(found, Choice):
            self.show(pages.choice(found), form_action=_origin(found.return_url))
        elif found.url:
            self.redirect(found.url, status=303)
        else:
            self.show(pages.how_to_open(found))


class _Keys(_Page):
    def get(self):
        self.finish(self.tool.jwks())


class _Nothing(_Page):
    def prepare(self):
        raise HTTPError(404)


def _origin(url):
    parts = urlsplit(url)
    return f"{parts.scheme}://{parts.netloc}"


def application(tool: Tool) -> Application:
    """Return the tool's addresses, below the path of its ``tool_url``."""
    base = urlsplit(tool.settings.tool_url).path.rstrip("/")
    given = {"tool": tool}
    return Application(
        [
            (f"{base}/login", _Login, given),
            (f"{base}/launch", _Launch, given),
            (f"{base}/jwks", _Keys, given),
        ],
        default_handler_class=_Nothing,
        default_handler_args=given,
        log_function=lambda handler: None,  # a login's address holds ids of learners
    )


async def serve(tool: Tool, port: int = 0, ready: Callable[[int], Any] | None = None) -> None:
    """Serve on loopback until this task is cancelled.

    Parameters
    ----------
    tool : Tool
    port : int
        A free one if 0.
    ready : callable, optional
        Called with the port once it listens.

    Raises
    ------
    ValueError
        If the port cannot be used.
    """
    try:
        sockets = bind_sockets(port, LOOPBACK)
    except (OSError, OverflowError) as error:
        why = getattr(error, "strerror", "") or "it is no port"
        raise ValueError(
            f"Port {port} cannot be used: {why}; choose another, with --port."
        ) from None
    server = HTTPServer(application(tool), max_body_size=MAX_BYTES, max_header_size=65_536)
    server.add_sockets(sockets)
    try:
        if ready:
            ready(sockets[0].getsockname()[1])
        await asyncio.Event().wait()
    finally:
        server.stop()
        await server.close_all_connections()

"""Commands that connect a class with a learning platform: class lti …"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from importlib.util import find_spec
from typing import Any

from shared_utils.clinic.plain_text import shown

MISSING = "This needs the extra lti: pip install 'lens-course[lti]'."


def add_to(steps: Any, make_parser: Callable[..., argparse.ArgumentParser]) -> None:
    """Add the parsers of this group to the steps of ``class``."""
    group = make_parser(
        steps, "lti", "connect a learning platform by LTI 1.3", "lti send 01 --folder ."
    )
    parts = group.add_subparsers(dest="part", metavar="PART", required=True)

    def make(name, says, example, run):
        parser = make_parser(parts, name, says, f"lti {example}", folder=True)
        parser.set_defaults(run=_with_library(run))
        return parser

    setup = make(
        "setup",
        "say where tool and course are",
        "setup --tool-url https://tool.example/lti",
        _setup,
    )
    setup.add_argument("--tool-url", metavar="URL", help="where platforms reach `lti serve`")
    setup.add_argument(
        "--course-url", metavar="URL", help="the course's folder on a hub, or none to show a page"
    )
    setup.add_argument(
        "--match",
        choices=("listed", "email", "sub"),
        help="who is a learner of the roster: only those listed by `lti learner`; also those of "
        "the same e-mail address; or of the same id (default: listed)",
    )

    platform = make(
        "platform",
        "register a learning platform",
        "platform --issuer https://p.example …",
        _platform,
    )
    for name in ("issuer", "client-id", "auth-login-url", "auth-token-url", "jwks-url"):
        platform.add_argument(
            f"--{name}", metavar="TEXT", required=True, help="as the platform gives it"
        )
    platform.add_argument(
        "--deployment-id", metavar="TEXT", required=True, action="append", help="also several times"
    )

    learner = make(
        "learner", "say who is who, or list who is not known", "learner 8f3a-11 ada", _learner
    )
    learner.add_argument("sub", metavar="PLATFORM_ID", nargs="?", help="the id on the platform")
    learner.add_argument("learner", metavar="ID", nargs="?", help="the id in roster.csv")
    learner.add_argument("--issuer", metavar="TEXT", help="where there are several platforms")
    learner.add_argument("--remove", action="store_true", help="forget who that is")

    serve = make("serve", "let platforms start the course", "serve --port 8900", _serve)
    serve.add_argument("--port", type=int, default=8900, help="on 127.0.0.1 (default: 8900)")

    send = make("send", "send the marks of a set", "send 01", _send)
    send.add_argument("set", metavar="SET", help="number or name of the set")
    send.add_argument("--context", metavar="ID", default="", help="the platform's course")


def _with_library(run):
    def checked(arguments):
        if not all(find_spec(name) for name in ("cryptography", "jwt", "pylti1p3")):
            raise ValueError(MISSING)
        return run(arguments)

    return checked


def _classroom(arguments):
    from shared_utils.classroom.classroom import Classroom

    return Classroom(arguments.folder)


def _setup(arguments):
    from dataclasses import replace

    from shared_utils.lti import settings

    classroom = _classroom(arguments)
    folder = classroom.folder
    there = (folder / settings.FILE).exists()
    if not (arguments.tool_url or there):
        raise ValueError("Say where platforms will reach the tool: --tool-url https://…")
    kept = settings.read(folder) if there else settings.Settings(arguments.tool_url)
    course_url = "" if arguments.course_url == "none" else arguments.course_url
    new = {"tool_url": arguments.tool_url, "course_url": course_url, "match": arguments.match}
    kept = replace(kept, **{name: value for name, value in new.items() if value is not None})
    settings.keep(folder, kept)
    tool = kept.tool_url.rstrip("/")
    print("Give these to the platform's administrator:")
    print(f"  login initiation       {tool}/login")
    print(f"  launch and redirect    {tool}/launch")
    print(f"  deep linking           {tool}/launch")
    print(f"  public keys (JWKS)     {tool}/jwks")
    print("  a link's custom field  set=01 opens that problem set")
    print("Then: lens-course class lti platform, with what they give you.")
    return 0


def _platform(arguments):
    from dataclasses import replace

    from shared_utils.lti import settings

    classroom = _classroom(arguments)
    kept = settings.read(classroom.folder)
    platform = settings.Platform(
        arguments.issuer,
        arguments.client_id,
        tuple(dict.fromkeys(arguments.deployment_id)),
        arguments.auth_login_url,
        arguments.auth_token_url,
        arguments.jwks_url,
    )
    platforms = settings.with_platform(kept, platform)
    settings.keep(classroom.folder, replace(kept, platforms=platforms))
    print(f"Registered {shown(platform.issuer)}. Next: lens-course class lti serve")
    return 0


def _learner(arguments):
    from shared_utils.lti import learners, settings

    classroom = _classroom(arguments)
    if not arguments.sub:
        waiting = learners.unknown(classroom.layout)
        for one in waiting:
            print(f"{shown(one.sub, 80)}  {one.name}  {one.email}  ({shown(one.issuer, 80)})")
        if not waiting:
            print("Nobody waits: whoever came is known.")
        return 0
    issuers = list(dict.fromkeys(p.issuer for p in settings.read(classroom.folder).platforms))
    issuer = arguments.issuer or (issuers[0] if len(issuers) == 1 else "")
    if issuer not in issuers:
        raise ValueError(
            f"Name a registered platform, --issuer: {', '.join(issuers) or 'none yet'}."
        )
    if arguments.remove:
        if not learners.remove(classroom.layout, issuer, arguments.sub):
            raise ValueError(f"Nobody was entered for {shown(arguments.sub, 80)!r}.")
        print(f"Forgot who {shown(arguments.sub, 80)} is.")
        return 0
    if not arguments.learner:
        raise ValueError("Give both: the id on the platform, and the one in roster.csv.")
    learners.assign(classroom.layout, issuer, arguments.sub, arguments.learner)
    print(f"{shown(arguments.sub, 80)} is {arguments.learner} from now on.")
    return 0


def _serve(arguments):
    import asyncio
    import logging

    from shared_utils.lti import server
    from shared_utils.lti.launch import Tool

    tool = Tool(_classroom(arguments))
    logging.basicConfig(level=logging.INFO, format="%(asctime)s %(message)s")

    def ready(port):
        print(f"Platforms reach the course at {tool.settings.tool_url}", flush=True)
        print(
            f"It is served on http://127.0.0.1:{port} for a reverse proxy; stop with Ctrl-C.",
            flush=True,
        )

    asyncio.run(server.serve(tool, arguments.port, ready))
    return 0


def _send(arguments):
    from shared_utils.lti import scores

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    count = {"sent": 0, "same": 0, "failed": 0}
    for one in scores.send(classroom, name, arguments.context):
        count[one.what] += 1
        if one.sentence:
            print(one.sentence)
    print(
        f"{name}: {count['sent']} sent, {count['same']} there already, {count['failed']} not sent."
    )
    if count["failed"]:
        print("Run the same command again for the rest.")
    return 1 if count["failed"] else 0

"""The learner's side of the channel: says what a name is and calls it, in the learner's kernel.

Nothing here is trusted: a learner's code may replace all of it and still give no more than a value.
"""

import json

from shared_utils.grading import wire_format
from shared_utils.problems import own_work


def serve():
    """Answer one request after the other: ``look`` at names, ``call`` one, ``shut`` some off.

    They come over the channel by which a kernel asks a person for a line: a line that nobody was
    asked for is a request, what the kernel says is the answer, and an empty line is the last.
    """
    from IPython import get_ipython

    shell = get_ipython()
    session, line = shell.kernel.session, shell.kernel.stdin_socket
    asked = shell.kernel.get_parent("shell")
    while True:
        whom, message = session.recv(line, mode=0)
        request = message["content"]["value"]
        if not request:
            return
        told = {"prompt": _answer(request, shell.user_ns), "password": False}
        session.send(line, "input_request", told, parent=asked, ident=whom)


def _answer(request, known):
    asked = json.loads(request)
    if "look" in asked:
        return json.dumps({name: _look(known[name]) for name in asked["look"] if name in known})
    if "shut" in asked:
        own_work.shut(asked["shut"])
        return json.dumps({})
    try:
        given, named = wire_format.read(asked["given"]), wire_format.read(asked["named"])
        return json.dumps({"value": wire_format.write(known[asked["call"]](*given, **named))})
    except BaseException as error:
        first = error.args[0] if len(error.args) == 1 else None
        words = first if isinstance(first, str) else str(error)
        return json.dumps({"raised": type(error).__name__, "words": words[:1000]})


def _look(value):
    if callable(value):
        return "callable"
    try:
        return wire_format.write(value)
    except Exception as error:
        return wire_format.write(
            wire_format.Foreign(f"a value that stopped with {type(error).__name__}")
        )

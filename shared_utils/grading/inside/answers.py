"""Answers the examiner's requests in the learner's kernel: says what a name is, and calls it.

Nothing here is trusted: a learner's code may replace all of it and still give no more than a value.
"""

import json

from shared_utils.grading import wire_format
from shared_utils.problems import blocked_functions


def serve() -> None:
    """Reply to requests: ``lookup`` names, ``call`` a function, ``block`` functions.

    They come over the channel by which a kernel asks a person for input: an input that nobody asked
    for is a request, the prompt that the kernel sends back is the reply, and an empty input ends
    it.
    """
    from IPython import get_ipython

    shell = get_ipython()
    session, channel = shell.kernel.session, shell.kernel.stdin_socket
    parent = shell.kernel.get_parent("shell")
    while True:
        identity, message = session.recv(channel, mode=0)
        request = message["content"]["value"]
        if not request:
            return
        content = {"prompt": _reply(request, shell.user_ns), "password": False}
        session.send(channel, "input_request", content, parent=parent, ident=identity)


def _reply(text, namespace):
    request = json.loads(text)
    if "lookup" in request:
        names = [name for name in request["lookup"] if name in namespace]
        return json.dumps({name: _describe(namespace[name]) for name in names})
    if "block" in request:
        blocked_functions.block(request["block"])
        return json.dumps({})
    try:
        args = wire_format.deserialize(request["args"])
        kwargs = wire_format.deserialize(request["kwargs"])
        value = namespace[request["call"]](*args, **kwargs)
        return json.dumps({"value": wire_format.serialize(value)})
    except BaseException as error:
        first = error.args[0] if len(error.args) == 1 else None
        message = first if isinstance(first, str) else str(error)
        return json.dumps({"raised": type(error).__name__, "message": message[:1000]})


def _describe(value):
    if callable(value):
        return "callable"
    try:
        return wire_format.serialize(value)
    except Exception as error:
        stopped = wire_format.Untrusted(f"a value that stopped with {type(error).__name__}")
        return wire_format.serialize(stopped)

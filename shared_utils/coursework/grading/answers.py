"""The learner's side of the channel: says what a name is and calls it, in the learner's kernel.

Nothing here is trusted: a learner's code may replace all of it and still give no more than a value.
"""

import json

from shared_utils.coursework import own_work
from shared_utils.coursework.grading import plain


class Told(str):
    """JSON text that a kernel shows as it is."""

    def _repr_pretty_(self, printer, _):
        printer.text(str(self))


def answer(request):
    """Return what was asked: ``look`` at names, ``call`` one, or ``shut`` functions off."""
    from IPython import get_ipython

    return Told(_answer(request, get_ipython().user_ns))


def _answer(request, known):
    asked = json.loads(request)
    if "look" in asked:
        return json.dumps({name: _look(known[name]) for name in asked["look"] if name in known})
    if "shut" in asked:
        own_work.shut(asked["shut"])
        return json.dumps({})
    try:
        given, named = plain.read(asked["given"]), plain.read(asked["named"])
        return json.dumps({"value": plain.write(known[asked["call"]](*given, **named))})
    except BaseException as error:
        first = error.args[0] if len(error.args) == 1 else None
        words = first if isinstance(first, str) else str(error)
        return json.dumps({"raised": type(error).__name__, "words": words[:1000]})


def _look(value):
    if callable(value):
        return "callable"
    try:
        return plain.write(value)
    except Exception as error:
        return plain.write(plain.Foreign(f"a value that stopped with {type(error).__name__}"))

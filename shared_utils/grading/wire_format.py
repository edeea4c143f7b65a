"""Plain data between a learner's kernel and the tests: what may cross, and as what.

None, bool, int, float, complex, str, list, tuple, dict and numeric arrays cross as JSON text;
anything else crosses as a description. Nothing that crosses can run, compare or convert itself, so
a value means the same on both sides whatever its author wrote into its class.
"""

from __future__ import annotations

import base64
import json
import numbers
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from typing import Any

MAX_CHARS = 4_000_000  # of one message
MAX_DEPTH = 20
NUMERIC_KINDS = "biufc"  # of array, in numpy's letters


class Untrusted:
    """What a learner's code gave and the tests cannot take: known by its description alone."""

    def __init__(self, description: str) -> None:
        self._description = description

    def __repr__(self):
        return self._description


def serialize(value: Any) -> str:
    """Return a value as JSON text, or that of a description if it is too long."""
    text = json.dumps(_pack(value, 0))
    if len(text) > MAX_CHARS:
        text = json.dumps({"untrusted": f"a {type(value).__name__} that is too large"})
    return text


def deserialize(text: str) -> Any:
    """Return the value that a text stands for; whatever is malformed comes back as untrusted."""
    if len(text) > MAX_CHARS:
        return Untrusted("a value that is too large")
    try:
        return _unpack(json.loads(text), 0)
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError):
        return Untrusted("a value that cannot be read")
    except (RecursionError, MemoryError):
        return Untrusted("a value that cannot be read")


def _pack(value, depth):
    if depth > MAX_DEPTH:
        return {"untrusted": "a value nested too deeply"}
    if value is None:
        return {"none": 0}
    if isinstance(value, bool):
        return {"bool": value}
    if isinstance(value, int):
        return {"int": hex(value)}
    if isinstance(value, str):
        return {"str": str.__str__(value)}
    if isinstance(value, (list, tuple)):
        kind = "list" if isinstance(value, list) else "tuple"
        return {kind: [_pack(item, depth + 1) for item in value]}
    if isinstance(value, dict):
        pairs = value.items()
        return {"dict": [[_pack(k, depth + 1), _pack(v, depth + 1)] for k, v in pairs]}
    if isinstance(value, (np.ndarray, np.generic)) and value.dtype.kind in NUMERIC_KINDS:
        array = np.asarray(value)
        little = np.ascontiguousarray(array, array.dtype.newbyteorder("<"))
        if little.nbytes > MAX_CHARS:
            return {"untrusted": "an array that is too large"}
        data = base64.b64encode(little.tobytes()).decode()
        return {"array": [little.dtype.str, list(array.shape), data, isinstance(value, np.generic)]}
    if isinstance(value, numbers.Real):
        return {"float": float(value).hex()}
    if isinstance(value, numbers.Complex):
        whole = complex(value)
        return {"complex": [whole.real.hex(), whole.imag.hex()]}
    if hasattr(value, "item") and getattr(value, "size", 0) == 1:
        return _pack(value.item(), depth + 1)
    return {"untrusted": repr(value)[:200]}


def _unpack(packed, depth):
    if depth > MAX_DEPTH + 1:
        raise ValueError("nested too deeply")
    ((kind, content),) = packed.items()
    return READERS[kind](content, depth + 1)


def _array(content, _):
    dtype_name, shape, data, is_scalar = content
    dtype = np.dtype(str(dtype_name))
    if dtype.kind not in NUMERIC_KINDS or min(shape, default=0) < 0:
        raise ValueError("not a numeric array")
    array = np.frombuffer(base64.b64decode(data, validate=True), dtype).reshape(shape).copy()
    return array[()] if is_scalar is True else array


def _pairs(content, depth):
    return {_unpack(key, depth): _unpack(value, depth) for key, value in content}


READERS = {
    "none": lambda content, depth: None,
    "bool": lambda content, depth: content is True,
    "int": lambda content, depth: int(content, 16),
    "float": lambda content, depth: float.fromhex(content),
    "complex": lambda content, depth: complex(*map(float.fromhex, content)),
    "str": lambda content, depth: str(content),
    "list": lambda content, depth: [_unpack(item, depth) for item in content],
    "tuple": lambda content, depth: tuple(_unpack(item, depth) for item in content),
    "dict": _pairs,
    "array": _array,
    "untrusted": lambda content, depth: Untrusted(" ".join(str(content)[:200].split())),
}

"""What nobody should hand over, and the answer it must get: a number, or one clear sentence."""

import numpy as np
from hypothesis import settings

# whoever imports this has properties to check, and a slow machine is no reason to fail one
settings.register_profile("unhurried", deadline=None)
settings.load_profile("unhurried")

VALUES = [
    -1.0,
    0.0,
    1e-300,
    1e300,
    -1e9,
    np.nan,
    np.inf,
    -np.inf,
    "7.8",
    "",
    None,
    True,
    1 + 2j,
    [],
    [1.0, np.nan],
    [[1.0, 2.0], [3.0]],
    np.zeros((2, 3)),
    {"a": 1},
    slice(1),
    b"7",
    np.array("2020-01-01", dtype="datetime64[D]"),
]


def answer(function, *args, **kwargs):
    """Call, and hold that the answer is finite numbers or one sentence; return the sentence."""
    try:
        got = function(*args, **kwargs)
    except ValueError as error:
        sentence = str(error)
        assert "\n" not in sentence, sentence
        assert sentence.endswith("."), sentence
        assert 20 < len(sentence) < 400, sentence
        return sentence
    for field in getattr(got, "__dataclass_fields__", {"": None}):
        part = getattr(got, field) if field else got
        assert np.all(np.isfinite(np.asarray(part, dtype=float))), (args, kwargs, got)
    return ""

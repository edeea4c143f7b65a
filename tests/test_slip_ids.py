"""Ids of slips stay: what a class has kept of one year is compared with the next by them."""

import ast
import tomllib
from pathlib import Path

import pytest

from shared_utils.course import manifest, place
from shared_utils.problems.check_records import Advice, slip_ids

KEPT = tomllib.loads((Path(__file__).parent / "slip_ids.toml").read_text(encoding="utf-8"))


def advice_of(keys):
    """What a text advises to each slip of a check; None where that is made as it runs."""
    found = []
    for key in keys:
        if isinstance(key, ast.Constant):
            found.append(key.value)
        elif isinstance(key, ast.Call) and getattr(key.func, "attr", "") == "slip":
            found.append(Advice(*(argument.value for argument in key.args)))
        else:
            return None
    return found


def ids_in(slug):
    text = place.set_source(slug).read_text(encoding="utf-8")
    return {
        id_
        for call in ast.walk(ast.parse(text))
        if isinstance(call, ast.Call) and "choice" not in ast.unparse(call)[:60]
        for argument in call.keywords
        if argument.arg == "slips" and isinstance(argument.value, ast.Dict)
        for id_ in slip_ids(advice_of(argument.value.keys) or ()).values()
    }


@pytest.mark.parametrize("slug", [page.slug for page in manifest.of().sets])
def test_no_id_is_lost_by_other_words(slug):
    lost = sorted(set(KEPT.get(slug, ())) - ids_in(slug))
    assert not lost, (
        f"{slug}: no slip has these ids any more. Where only the words of an advice have changed, "
        'write checks.slip("ID", "the new words") as its key; where a slip was taken away, take '
        "its id out of tests/slip_ids.toml."
    )


def test_an_id_of_its_own_stays_whatever_the_words():
    for words in ("the index was left out.", "divide the index by the distance."):
        (found,) = slip_ids([Advice("index-left-out", words)]).values()
        assert found == "index-left-out"
    with pytest.raises(ValueError, match="is no id of a slip"):
        Advice("Index left out", "words")

"""Commands that look at a class's answers: class compare, mistakes."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from rich.console import Console

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from shared_utils.classroom.classroom import Classroom


def add_to(
    steps: argparse._SubParsersAction, make_parser: Callable[..., argparse.ArgumentParser]
) -> None:
    """Add the parsers of this group."""
    compare = make_parser(
        steps, "compare", "see which answers are alike", "compare 01", folder=True
    )
    compare.add_argument("set", metavar="SET", help="number or name of the set")
    compare.set_defaults(run=_compare)

    mistakes = make_parser(
        steps,
        "mistakes",
        "see common mistakes; comment on one for all",
        'mistakes 01 --group 1 --comment "Mind the sign."',
        folder=True,
    )
    mistakes.add_argument("set", metavar="SET", help="number or name of the set")
    mistakes.add_argument("--group", metavar="N", type=int, help="number of a group on the page")
    mistakes.add_argument("--comment", metavar="TEXT", help="goes into the feedback of all in it")
    mistakes.set_defaults(run=_mistakes)


def say_alike(classroom: Classroom, name: str) -> None:
    """Say in a line how many pairs of a set are alike; nothing where there are none."""
    with Console(stderr=True).status("comparing answers"):
        pairs = {each.pair for each in classroom.alike(name)}
    if pairs:
        print(
            f"Answers of {len(pairs)} {'pair' if len(pairs) == 1 else 'pairs'} of learners are "
            f"alike in a rare way, for you to judge: lens-course class compare {name}"
        )


def _classroom(arguments):
    from shared_utils.classroom.classroom import Classroom

    return Classroom(arguments.folder)


def _compare(arguments):
    from shared_utils.classroom import similarity

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    _require_marked(classroom, name)
    with Console(stderr=True).status("comparing answers"):
        found = classroom.alike(name)
    console = Console(highlight=False, soft_wrap=True)
    if not found:
        console.print(f"No two answers to {name} are alike in a rare way.")
        return 0
    for pair, of_pair in groupby(found, key=lambda each: each.pair):
        console.print(f"{pair[0]} and {pair[1]}:", markup=False)
        for each in of_pair:
            where = f"{each.problem}, " if each.problem else ""
            words = f"  {where}{similarity.IN_WORDS[each.kind]}: {each.why}"
            console.print(words, markup=False)
    console.print(
        "This is for you to judge: it is no verdict and changes no mark. "
        "lens-course class report shows both texts side by side."
    )
    return 0


def _mistakes(arguments):
    from shared_utils.reports import mistakes_page

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    _require_marked(classroom, name)
    if (arguments.group is None) != (arguments.comment is None):
        raise ValueError("A comment needs both: --group N --comment TEXT.")
    with Console(stderr=True).status("grouping answers"):
        groups = classroom.mistakes(name)
    if arguments.group is not None:
        if not 1 <= arguments.group <= len(groups):
            raise ValueError(f"There is no group {arguments.group}: {name} has {len(groups)}.")
        group = groups[arguments.group - 1]
        count = classroom.comment(group, arguments.comment)
        print(f"Group {arguments.group}, {group.problem}: {group.what}")
        of = len(group.learners)
        others = "; the others had it already" if count < of else ""
        print(f"The comment was added for {count} of {of}{others}.")
        print(f"Write the pages anew: lens-course class feedback {name}")
        return 0
    page = mistakes_page.write(
        groups,
        name,
        classroom.folder / "report" / f"mistakes_{name}.html",
        len(classroom.graded(name)),
    )
    console = Console(highlight=False, soft_wrap=True)
    for number, group in enumerate(groups[:10], 1):
        where = ", ".join(filter(None, (group.problem, group.step)))
        console.print(f"{number}  {len(group.learners)} in {where}: {group.what}", markup=False)
    if len(groups) > 10:
        console.print(f"… and {len(groups) - 10} more.")
    console.print(f"The page is in {page}. It names learners: keep it to yourself.", markup=False)
    return 0


def _require_marked(classroom, name):
    if not classroom.graded(name):
        raise ValueError(f"No submission to {name} is marked yet: grade it first.")

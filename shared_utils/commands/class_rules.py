"""Commands for an instructor's rules: class status, due, drop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable


def add_to(
    steps: argparse._SubParsersAction, make_parser: Callable[..., argparse.ArgumentParser]
) -> None:
    """Add the parsers of this group."""
    status = make_parser(
        steps, "status", "see what is handed in, late, not marked", "status 01", folder=True
    )
    status.add_argument("set", metavar="SET", nargs="?", help="this set alone")
    status.set_defaults(run=_status)

    due = make_parser(
        steps,
        "due",
        "set due dates, extra time, what lateness costs",
        "due 01 2027-03-01 --zone Europe/Berlin",
        folder=True,
    )
    due.add_argument("set", metavar="SET", nargs="?", help="number or name of the set")
    due.add_argument(
        "date", metavar="DATE", nargs="?", help="such as 2027-03-01 or 2027-03-01T18:00; or none"
    )
    due.add_argument("--zone", metavar="ZONE", help="the class's time zone; it is kept")
    due.add_argument("--learner", metavar="ID", help="who gets --extra-days, in SET or in all")
    due.add_argument("--extra-days", metavar="N", type=float, help="how much more time")
    due.add_argument("--received", metavar="CSV", help="columns id, received: when work came in")
    due.add_argument("--exchange", metavar="FOLDER", help="take the times in nbgrader's exchange")
    due.add_argument("--per-day", metavar="PERCENT", type=float, help="what a late day costs")
    due.add_argument(
        "--cap", metavar="PERCENT", type=float, help="what lateness costs at most (default: 100)"
    )
    due.set_defaults(run=_due)

    drop = make_parser(
        steps,
        "drop",
        "take a problem out of a set that was handed in",
        'drop 01 vertex --why "its text was wrong"',
        folder=True,
    )
    drop.add_argument("set", metavar="SET", help="number or name of the set")
    drop.add_argument("problem", metavar="PROBLEM", help="name of the problem")
    drop.add_argument("--why", metavar="TEXT", required=True, help="the reason; it is recorded")
    how = drop.add_mutually_exclusive_group()
    how.add_argument("--extra", action="store_true", help="its marks count, its maximum does not")
    how.add_argument("--undo", action="store_true", help="let it count again")
    drop.set_defaults(run=_drop)


def _classroom(arguments):
    from shared_utils.classroom.classroom import Classroom

    return Classroom(arguments.folder)


def _status(arguments):
    from shared_utils.classroom import deadlines

    classroom = _classroom(arguments)
    names = classroom.released_sets()
    if arguments.set:
        names = [classroom.find_released(arguments.set)]
    if not names:
        raise ValueError("No set was released in this class yet: lens-course class release 01.")
    zone = classroom.zone()
    table = Table(box=None, pad_edge=False)
    table.add_column("set", no_wrap=True)
    table.add_column("due", no_wrap=True)
    for title in ("handed in", "of", "marked", "to grade", "late", "not marked"):
        table.add_column(title, justify="right")  # a narrow terminal breaks a title, cuts none
    found = [classroom.status(name) for name in names]
    for one in found:
        due = deadlines.shown(one.due, zone).removesuffix(f" {zone}") if one.due else "–"
        counts = one.handed_in, one.of, one.marked, one.to_grade, len(one.late)
        counts = *counts, len(one.not_marked)
        table.add_row(one.name, due, *map(str, counts))
    console = Console(highlight=False, soft_wrap=True)
    console.print(table)
    if any(one.due for one in found):
        console.print(f"Times are those of {zone}.", markup=False)
    for one in found:
        for learner, why in one.not_marked.items():
            console.print(f"{one.name}, {learner}: {why}", markup=False)
        for receipt in one.late:
            console.print(
                f"{one.name}, {receipt.learner}: {deadlines.days(receipt.seconds_late)} late, "
                f"received {deadlines.shown(receipt.received, zone)} "
                f"{deadlines.WHO_SAYS[receipt.how]}.",
                markup=False,
            )
        for rule in one.rules:
            console.print(rule.sentence(), markup=False)
    if any(receipt.how == "put here" for one in found for receipt in one.late):
        console.print(
            "Where a file came in before it was put into this folder, list when: "
            "lens-course class due SET --received times.csv"
        )
    console.print(classroom.late_rule_in_words())
    return 0


def _due(arguments):
    from shared_utils.classroom import deadlines

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set) if arguments.set else ""
    _refuse_what_does_not_fit(arguments)
    layout = classroom.layout
    given = deadlines.named_zone(arguments.zone) if arguments.zone else None
    zone = given or classroom.zone()
    if arguments.date:
        due = deadlines.set_due(layout, name, arguments.date, given)
        print(f"{name} is due {_at(due, zone)}." if due else f"{name} has no due date any more.")
    if arguments.extra_days is not None:
        deadlines.give_extra_time(layout, name, arguments.learner, arguments.extra_days)
        where = name or "every set"
        unit = "day" if arguments.extra_days == 1 else "days"
        print(f"{arguments.learner} has {arguments.extra_days:g} {unit} more in {where}.")
    if arguments.per_day is not None:
        cap = 100.0 if arguments.cap is None else arguments.cap
        deadlines.set_late_rule(layout, arguments.per_day, cap)
        print(classroom.late_rule_in_words())
    if arguments.exchange:
        deadlines.use_exchange(layout, arguments.exchange)
        print(f"When work came into {arguments.exchange} counts from now on.")
    if arguments.received:
        count = deadlines.list_received(layout, name, arguments.received, given)
        what = "submission" if count == 1 else "submissions"
        was = "was" if count == 1 else "were"
        print(f"Took over when {count} {what} to {name} {was} received.")
    if given:
        deadlines.keep_zone(layout, arguments.zone)
        print(f"Times are shown in {given} from now on, and kept in UTC.")
    asked = (arguments.date, arguments.extra_days, arguments.per_day, arguments.exchange)
    if not any(each is not None for each in (*asked, arguments.received, arguments.zone)):
        dates = deadlines.due_dates(layout)
        for each in [name] if name else dates:
            print(
                f"{each} is due {_at(dates[each], zone)}." if dates[each] else f"{each}: no date."
            )
        print(classroom.late_rule_in_words())
    return 0


def _refuse_what_does_not_fit(arguments):
    if (arguments.extra_days is None) != (arguments.learner is None):
        raise ValueError("Extra time needs both: --learner ID --extra-days N.")
    if arguments.received and not arguments.set:
        raise ValueError("Name the set whose submissions --received lists.")
    if arguments.cap is not None and arguments.per_day is None:
        raise ValueError("--cap goes with --per-day: what a late day costs, and at most.")


def _at(moment, zone):
    from shared_utils.classroom import deadlines

    return deadlines.shown(moment, zone)


def _drop(arguments):
    from shared_utils.classroom import problem_rules

    classroom = _classroom(arguments)
    name = classroom.find_released(arguments.set)
    what = "counts" if arguments.undo else "extra" if arguments.extra else "dropped"
    made = problem_rules.rule(classroom.layout, name, arguments.problem, what, arguments.why)
    print(made.sentence())
    print("Marks, report and exports follow; write the feedback anew with class feedback.")
    return 0

"""Commands for whoever studies alone: practice, exam; and for the bank behind them: items."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from shared_utils.commands.new_file import refuse_existing

if TYPE_CHECKING:
    import argparse


def add_to(commands: argparse._SubParsersAction) -> None:
    """Add the parsers of this group."""
    practice = commands.add_parser(
        "practice",
        help="answer what is due, spaced over the days to your examination",
        description="Answer what is due, spaced over the days to your examination.",
        epilog="Example: lens-course practice --until 2027-05-14",
    )
    practice.add_argument(
        "--lessons", nargs="+", metavar="LESSON", help="these alone, by number or name"
    )
    practice.add_argument("--until", metavar="DATE", help="day of your examination")
    practice.add_argument("--export", metavar="FILE", help="write your progress to a new file")
    practice.add_argument(
        "--import", dest="import_from", metavar="FILE", help="take progress from a file"
    )
    practice.add_argument(
        "--as-xapi",
        metavar="FILE",
        help="write your answers as xAPI statements, a JSON line each, to a new file",
    )
    practice.add_argument("--forget", action="store_true", help="delete your progress")
    _file_option(practice)
    practice.set_defaults(run=_practice)

    exam = commands.add_parser(
        "exam",
        help="sit a mock examination over the four parts",
        description="Sit a mock examination over the four parts; one that was cut off goes on.",
        epilog="Example: lens-course exam --minutes 60",
    )
    exam.add_argument("--minutes", type=float, default=60.0, help="time allowed (default: 60)")
    _file_option(exam)
    exam.set_defaults(run=_exam)

    items = commands.add_parser(
        "items",
        help="write the bank's questions as a package of QTI 2.1",
        description="Write the bank's questions, with their answers, as a package of QTI 2.1.",
        epilog="Example: lens-course items --qti items.zip --lessons 01 formulas",
    )
    items.add_argument("--qti", metavar="ZIP", required=True, help="new file to write")
    items.add_argument(
        "--lessons", nargs="+", metavar="LESSON", help="these alone, by number or name"
    )
    items.add_argument(
        "--seed", type=int, default=1, help="another one draws other numbers (default: 1)"
    )
    items.set_defaults(run=_items)


def _file_option(parser):
    parser.add_argument("--file", metavar="FILE", help="keep the progress elsewhere")


def _practice(arguments):
    from shared_utils.practice import progress, review, terminal

    target = arguments.export or arguments.as_xapi
    if target:
        refuse_existing(target)
    elif arguments.forget and not arguments.import_from:
        return _forget(arguments.file)
    kept = progress.Progress(arguments.file)
    if target:
        refuse_existing(target)  # it may name the file of progress, which was only made now
    if arguments.export:
        kept.export(arguments.export)
        print(f"Your progress is in {Path(arguments.export).name}.")
        return 0
    if arguments.as_xapi:
        from shared_utils.course import learner
        from shared_utils.standards import xapi

        statements = xapi.of_progress(kept, learner.learner_id())
        count = xapi.write(statements, arguments.as_xapi)
        if kept.notice:
            print(kept.notice)
        print(f"{count} statements are in {Path(arguments.as_xapi).name}. Nothing was sent.")
        return 0
    if arguments.import_from:
        aside = kept.import_from(arguments.import_from)
        before = f" What was here before is kept as {aside}." if aside else ""
        print(f"Your progress was taken over.{before}")
        return 0
    if arguments.until is not None:
        review.set_exam_date(kept, arguments.until)
    terminal.practise(kept, _slugs(arguments.lessons))
    return 0


def _forget(file):
    """Ask before the file is opened: opening one that is damaged changes it."""
    from shared_utils.practice import progress

    name = file or progress.default_file()
    if input(f"Forget all progress in {name} for good? Write yes: ").strip().lower() == "yes":
        progress.Progress(file).delete()
        print("Forgotten.")
    return 0


def _slugs(lessons):
    """Slugs of lessons that were named on the line, or None for all."""
    from shared_utils.course import manifest

    return [manifest.of().lesson(wanted).slug for wanted in lessons] if lessons else None


def _exam(arguments):
    from shared_utils.practice import exam, progress, terminal

    exam.require_minutes(arguments.minutes)
    terminal.sit(progress.Progress(arguments.file), arguments.minutes)
    return 0


def _items(arguments):
    from shared_utils.bank.items import bank
    from shared_utils.standards import qti

    refuse_existing(arguments.qti)
    wanted = _slugs(arguments.lessons)
    items = [item for item in bank().values() if wanted is None or item.lesson in wanted]
    count = qti.write(items, arguments.qti, arguments.seed)
    print(f"{count} questions are in {Path(arguments.qti).name}, with their answers.")
    return 0

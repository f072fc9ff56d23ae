"""``lesson``: a page for teaching why heat moves steel, with computed states."""

from __future__ import annotations

import argparse
from pathlib import Path

from shrinksim.commands.terminal import DONE, stoppable


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    lesson = commands.add_parser(
        "lesson",
        help="write a teaching page on why heat moves steel",
        description="Compute bars and plates that are heated, restrained and cooled, and "
        "write one page on which an apprentice can step through the results.",
    )
    lesson.add_argument(
        "--out",
        metavar="FILE",
        type=Path,
        default=Path("lesson.html"),
        help="file of the page (default: lesson.html)",
    )
    lesson.add_argument(
        "--units",
        choices=("metric", "us"),
        default="metric",
        help="units of the page (default: metric)",
    )
    lesson.add_argument("--quiet", action="store_true", help="show no progress")
    lesson.add_argument(
        "--force", action="store_true", help="replace an earlier lesson there"
    )
    lesson.set_defaults(command=_lesson)


def _lesson(args: argparse.Namespace) -> int:
    """Compute the states of a lesson and write its page."""
    from shrinksim.process.machine import set_up_process

    set_up_process()
    from shrinksim.lesson.lesson import lesson
    from shrinksim.lesson.page import lesson_page, refuse_page, write_page
    from shrinksim.process.progress import shown_progress

    refuse_page(args.out, args.force)
    with shown_progress(args.quiet) as report:
        computed = lesson(stoppable(report))
        report("write", 0.0, "page")
        page = lesson_page(computed, args.units)
        written = write_page(page, args.out, args.force)
        report("write", 1.0, "done")
    size = len(page.encode()) / 1e6
    print(f"Lesson: {written} ({size:.1f} MB, opens in any browser, needs no network)")
    return DONE

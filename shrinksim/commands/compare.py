"""``compare``: two to eight cases side by side on one page."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from shrinksim.commands.terminal import (
    DONE,
    FAILED,
    refuse_folder,
    stoppable,
    stopped_with,
    wrapped,
)

if TYPE_CHECKING:
    from shrinksim.compare.comparison import Comparison

STORE = "compared_runs"


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    compare = commands.add_parser(
        "compare",
        help="put two to eight cases side by side",
        description="Compute cases of one view that are not finished yet, and write one "
        "page: differences of the input, results with the best one marked where the "
        "difference is larger than the numerical error, curves and shapes on the same "
        "axes.",
    )
    compare.add_argument(
        "cases",
        metavar="CASE",
        type=Path,
        nargs="+",
        help="two to eight case files (TOML)",
    )
    compare.add_argument(
        "--out", metavar="DIR", type=Path, default=Path("results") / "compare",
        help="folder for the page (default: results/compare)",
    )  # fmt: skip
    compare.add_argument(
        "--store", metavar="DIR", type=Path,
        help=f"folder that keeps finished runs (default: {STORE} beside --out)",
    )  # fmt: skip
    compare.add_argument(
        "--jobs", metavar="N", type=int, choices=range(1, 9), default=2,
        help="runs at the same time, 1 to 8 (default: 2)",
    )  # fmt: skip
    compare.add_argument("--quiet", action="store_true", help="show no progress")
    compare.add_argument(
        "--force", action="store_true", help="replace an earlier comparison there"
    )
    compare.set_defaults(command=_compare)


def _compare(args: argparse.Namespace) -> int:
    """Compute, write the page, print its main results."""
    from shrinksim.process.machine import set_up_process
    from shrinksim.process.stopping import install_stop_handlers

    install_stop_handlers()
    set_up_process()
    from shrinksim.compare.comparison import compare, load_sides
    from shrinksim.compare.page import PAGE, write_comparison
    from shrinksim.errors import CaseError
    from shrinksim.process.progress import shown_progress

    load_sides(args.cases)
    refuse_folder(args.out, args.force)
    store = args.store or args.out.absolute().parent / STORE
    try:
        with shown_progress(args.quiet) as report:
            say = stoppable(report)
            found = compare(args.cases, store, args.jobs, say)
            say("write", 0.0, "figures and page")
            try:
                folder = write_comparison(found, args.out, args.force)
            except CaseError as error:  # of the disk: the cases were in order
                print(error, file=sys.stderr)
                return FAILED
            say("write", 1.0, "done")
    except KeyboardInterrupt:
        return stopped_with(store)
    print(comparison_summary(found))
    print(f"Page: {folder / PAGE}")
    return DONE


def comparison_summary(found: Comparison) -> str:
    """The comparison in a few lines."""
    from shrinksim.compare.words import cell, headline

    lines = [f"{side.letter}: {side.title} ({side.path})" for side in found.sides]
    lines += ["", *(wrapped(sentence) for sentence in headline(found)), ""]
    for measure in found.measures:
        parts = []
        for k, side in enumerate(found.sides):
            entry = cell(found.units, measure, k)
            text_and_error = " ".join(p for p in (entry.value, entry.error) if p)
            parts.append(f"{side.letter} {text_and_error}")
        text = f"{measure.name}: {', '.join(parts)}: {measure.verdict}"
        lines.append(wrapped(text, "  - "))
    return "\n".join(lines)

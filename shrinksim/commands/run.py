"""``run``: compute a case and write its results."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from shrinksim.commands.outcome import outcome
from shrinksim.commands.terminal import (
    DONE,
    FAILED,
    load_case,
    refuse_folder,
    stoppable,
)
from shrinksim.errors import CaseError


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    run = commands.add_parser(
        "run",
        help="compute a case and write its results",
        description="Compute the permanent movement of a case and its numerical error, "
        "and write a results folder with the report, the numbers and the fields.",
    )
    run.add_argument("case", metavar="CASE", type=Path, help="the case file (TOML)")
    run.add_argument(
        "--out", metavar="DIR", type=Path, help="results folder (default: results/CASE)"
    )
    run.add_argument(
        "--search-again",
        action="store_true",
        help="search for the travel schedule of the torch again on the coarser mesh of "
        "the numerical error (slower; leaves out the 3 %% scatter of the search)",
    )
    run.add_argument("--quiet", action="store_true", help="show no progress")
    run.add_argument(
        "--force", action="store_true", help="replace results of an earlier run"
    )
    run.set_defaults(command=_run)


def _run(args: argparse.Namespace) -> int:
    """Compute a case, write its folder, print the main results."""
    case = load_case(args.case)
    folder = args.out or Path("results") / args.case.stem
    from shrinksim.process.progress import shown_progress
    from shrinksim.report.folder import write_results
    from shrinksim.runs.run import run

    refuse_folder(folder, args.force)
    with shown_progress(args.quiet) as report:
        result = run(case, progress=stoppable(report), search_again=args.search_again)
        report("write", 0.0, "figures and report")
        try:
            written = write_results(result, folder, args.case, args.force)
        except CaseError as error:  # of the disk: the case was in order
            print(error, file=sys.stderr)
            return FAILED
        report("write", 1.0, "done")
    print(outcome(result.summary(), case.print_units))
    print(f"Report: {written / 'report.html'}")
    return DONE if result.outcome == "complete" else FAILED

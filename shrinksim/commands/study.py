"""``study``: compute the runs of a study, those that are not finished yet."""

from __future__ import annotations

import argparse
import sys
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import TYPE_CHECKING

from shrinksim.commands.terminal import DONE, FAILED, STOPPED, stoppable, wrapped
from shrinksim.errors import CaseError

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from shrinksim.study.file import Study
    from shrinksim.study.table import StudyRows

STORE = "store"
SHOWN = 5
"""Failures that the terminal shows; all are in the table."""


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    study = commands.add_parser(
        "study",
        help="compute many variants of a case",
        description="Compute every run of a study that is not finished yet. Stopped "
        "or cut off, the same command goes on from there. A run that fails is recorded "
        "with its reason, and the study continues.",
    )
    study.add_argument(
        "study", metavar="STUDY", type=Path, help="the study file (TOML)"
    )
    study.add_argument(
        "--out", metavar="DIR", type=Path,
        help="folder for the table (default: results/STUDY)",
    )  # fmt: skip
    study.add_argument(
        "--store", metavar="DIR", type=Path,
        help=f"folder that keeps finished runs (default: {STORE} in --out)",
    )  # fmt: skip
    study.add_argument(
        "--jobs", metavar="N", type=_jobs,
        help="runs at the same time, 1 to 1024 (default: one for each processor)",
    )  # fmt: skip
    study.add_argument(
        "--scheduler", metavar="ADDRESS",
        help="let the workers of this dask scheduler compute, tcp://HOST:PORT, "
        "in place of this machine",
    )  # fmt: skip
    study.add_argument(
        "--search-again", action="store_true",
        help="search for the travel schedule of the torch again on the coarser mesh of "
        "the numerical error (slower; leaves out the 3 %% scatter of the search)",
    )  # fmt: skip
    study.add_argument(
        "--reports",
        action="store_true",
        help="write a results folder for each run as well",
    )
    study.add_argument("--again", action="store_true", help="compute failed runs again")
    study.add_argument(
        "--list",
        action="store_true",
        help="list the runs and their state, compute nothing",
    )
    study.add_argument("--quiet", action="store_true", help="show no progress")
    study.set_defaults(command=_study)


def _jobs(text: str) -> int:
    """A number of processes."""
    if not (text.isdecimal() and 1 <= int(text) <= 1024):
        message = f"{text!r} is not a number of processes, 1 to 1024"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def _study(args: argparse.Namespace) -> int:
    """Compute, write the table, print a summary."""
    from shrinksim.process.machine import set_up_process
    from shrinksim.process.stopping import install_stop_handlers

    install_stop_handlers()
    set_up_process()
    from shrinksim.process.progress import shown_progress
    from shrinksim.study.file import load_study
    from shrinksim.study.sweep import stored_rows, sweep
    from shrinksim.study.table import write_rows

    folder = args.out or Path("results") / args.study.stem
    store = args.store or folder / STORE
    if args.scheduler and args.jobs:
        message = "--jobs is for this machine and --scheduler for others; leave one out"
        raise CaseError(message)
    study = None
    try:
        with shown_progress(args.quiet) as report:
            say = stoppable(report)
            study = load_study(args.study, say)
            if args.list:
                return _list(stored_rows(study, store))
            with _executor(args.scheduler) as executor:
                rows = sweep(
                    study, store, args.jobs, executor, say,
                    refine=args.search_again, reports=args.reports, again=args.again,
                )  # fmt: skip
    except KeyboardInterrupt:
        return _stopped(study, folder, store)
    csv, jsonl = write_rows(rows, folder)
    print(study_summary(rows))
    print(f"Table: {csv}\nEverything about each run: {jsonl}")
    bad = {"worker died", "program fault"} & set(rows.outcomes)
    return FAILED if bad or "complete" not in rows.outcomes else DONE


def _executor(address: str | None) -> AbstractContextManager[Executor | None]:
    """The scheduler's executor, None for processes of this machine."""
    if address is None:
        return nullcontext()
    from shrinksim.runs.cluster import scheduler

    return scheduler(address)


def _stopped(study: Study | None, folder: Path, store: Path) -> int:
    """Print which runs are kept and how to continue."""
    from shrinksim.study.sweep import stored_rows
    from shrinksim.study.table import write_rows

    if study is None:
        print("stopped before the first run", file=sys.stderr)
        return STOPPED
    rows = stored_rows(study, store)
    done = sum(run is not None for run in rows.runs)
    text = f"stopped; {done} of {len(rows.runs)} runs are finished and kept in {store}"
    if done:
        text += f", their table is {write_rows(rows, folder)[0]}"
    print(f"{text}; the same command goes on from there", file=sys.stderr)
    return STOPPED


def study_summary(rows: StudyRows) -> str:
    """Outcomes of the runs in a few lines."""
    counts = {name: rows.outcomes.count(name) for name in dict.fromkeys(rows.outcomes)}
    text = ", ".join(f"{many} {name}" for name, many in counts.items())
    there = sum(bool(run and run.cached) for run in rows.runs)
    lines = [rows.study.title, f"  {len(rows.runs)} runs: {text}"]
    if there:
        lines.append(f"  {there} of them were finished before")
    failed = [k for k, name in enumerate(rows.outcomes) if name != "complete"]
    for k in failed[:SHOWN]:
        text = f"run {k + 1} ({_values(rows, k)}): {rows.outcomes[k]}: {rows.reason(k)}"
        lines.append(wrapped(text, "  - "))
    if len(failed) > SHOWN:
        lines.append(f"  and {len(failed) - SHOWN} more, see the table")
    return "\n".join(lines)


def _values(rows: StudyRows, number: int) -> str:
    """The varied values of a run, in short."""
    from shrinksim.study.file import value_text

    pairs = zip(rows.study.keys, rows.study.runs[number].values, strict=True)
    return ", ".join(f"{key.rsplit('.', 1)[-1]} {value_text(v)}" for key, v in pairs)


def _list(rows: StudyRows) -> int:
    """Print the runs and their state."""
    for k, outcome in enumerate(rows.outcomes):
        print(f"{k + 1:>5}  {_values(rows, k)}: {outcome}")
    left = rows.outcomes.count("not done yet")
    print(f"{len(rows.outcomes)} runs, {left} of them to compute")
    return DONE

"""``gallery``: run every case of a folder, and one page that shows them all."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from shrinksim.commands.terminal import (
    DONE,
    FAILED,
    STOPPED,
    load_case,
    refuse_folder,
    stoppable,
    wrapped,
)
from shrinksim.errors import CaseError, NotConverged
from shrinksim.process.stopping import stop_requested

if TYPE_CHECKING:
    from shrinksim.process.progress import Progress
    from shrinksim.runs.gallery import Entry


def add(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Put the command among the others."""
    gallery = commands.add_parser(
        "gallery",
        help="run every case of a folder, and show them on one page",
        description="Run every case file (*.toml) of a folder and write a page with a "
        "picture of each. Complete results are kept; a case that fails is listed with its "
        "reason, and the others are run.",
    )
    gallery.add_argument(
        "cases", metavar="FOLDER", type=Path, help="folder of the case files"
    )
    gallery.add_argument(
        "--out", metavar="DIR", type=Path,
        help="folder for the page and the results (default: results/FOLDER)",
    )  # fmt: skip
    gallery.add_argument("--quiet", action="store_true", help="show no progress")
    gallery.set_defaults(command=_gallery)


def _gallery(args: argparse.Namespace) -> int:
    """Run the cases that have no results, write the page, print the outcomes."""
    paths = _case_files(args.cases)
    folder = args.out or Path("results") / args.cases.resolve().name
    from shrinksim.process.progress import shown_progress
    from shrinksim.runs.gallery import counts_sentence, refuse_index, write_gallery
    from shrinksim.text.quoting import printable

    refuse_index(folder)
    entries: list[Entry] = []
    stopped = False
    try:
        for k, path in enumerate(paths):
            name = f"{printable(path.name)} ({k + 1} of {len(paths)})"
            with shown_progress(args.quiet) as report:
                if not args.quiet:
                    print(name, file=sys.stderr)
                entries.append(_entry(path, folder / path.stem, stoppable(report)))
    except KeyboardInterrupt:
        stopped = True
    page = write_gallery(
        entries, folder, f"Cases of {printable(args.cases.resolve().name)}"
    )
    print(counts_sentence(entries))
    for entry in entries:
        for reason in entry.reasons:
            print(wrapped(f"{entry.name}: {reason}", "  - "))
    print(f"Page: {page}")
    if stopped:
        left = len(paths) - len(entries)
        text = (
            f"stopped; {left} of {len(paths)} cases are left, the same command goes on"
        )
        print(text, file=sys.stderr)
        return STOPPED
    return FAILED if any(entry.reasons for entry in entries) else DONE


def _case_files(folder: Path) -> list[Path]:
    """The case files of a folder, in order of their names."""
    if not folder.is_dir():
        message = f"{folder} is no folder; name one that holds case files"
        raise CaseError(message)
    found = sorted(folder.glob("*.toml"))
    if not found:
        message = f"{folder} holds no case files (*.toml)"
        raise CaseError(message)
    return found


def _entry(path: Path, folder: Path, report: Progress) -> Entry:
    """One case: run, kept, or failed with the reason."""
    try:
        case = load_case(path)
        from shrinksim.casefile.resolving import resolved
        from shrinksim.report.folder import write_results
        from shrinksim.runs.gallery import Entry, is_kept
        from shrinksim.runs.run import run
        from shrinksim.version import __version__
        from shrinksim.views.result import hash_of

        key = hash_of(resolved(case), case.steel.file)
        if is_kept(folder, key, __version__):
            return Entry(path.name, folder, kept=True)
        refuse_folder(folder, force=True)
        result = run(case, progress=report)
        report("write", 0.0, "figures and report")
        write_results(result, folder, path, force=True)
        report("write", 1.0, "done")
    except Exception as error:
        from shrinksim.runs.gallery import Entry

        if stop_requested():
            raise KeyboardInterrupt from error
        return Entry(path.name, None, _reasons(error))
    return Entry(path.name, folder)


def _reasons(error: Exception) -> tuple[str, ...]:
    """Why there is no result, in sentences."""
    match error:
        case CaseError():
            return error.problems
        case NotConverged():
            return (str(error),)
    text = str(error).split("\n")[0][:200]
    return (f"a fault of the program ({type(error).__name__}: {text}), report it",)

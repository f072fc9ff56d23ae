"""Shared by all commands: exit codes, wrapped text, cautions, loading, stopping."""

from __future__ import annotations

import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.errors import CaseError

if TYPE_CHECKING:
    from shrinksim.process.progress import Progress

DONE, FAILED, BAD_INPUT, STOPPED = 0, 1, 2, 130


def load_case(path: Path) -> Any:
    """The case, after the process is set up for what comes."""
    from shrinksim.process.machine import set_up_process
    from shrinksim.process.stopping import defer_stops, install_stop_handlers

    install_stop_handlers()
    set_up_process()
    with defer_stops():  # compiled packages make a panic of a stop while they load
        from shrinksim.views.reading import load

    return load(path)


def refuse_folder(folder: Path, force: bool) -> None:
    """CaseError, before anything is computed, if the results could not be written."""
    from shrinksim.process.results_folder import refuse_taken

    refuse_taken(folder, force)
    parent = next(p for p in folder.absolute().parents if p.exists())
    if not (parent.is_dir() and os.access(parent, os.W_OK | os.X_OK)):
        message = (
            f"{folder} cannot be made: {parent} cannot be written; name another folder "
            "with --out"
        )
        raise CaseError(message)


def cautions(texts: Sequence[str]) -> list[str]:
    """Cautions as an indented list, with a heading if there are any."""
    return ["", "Cautions:", *(wrapped(text, "  - ") for text in texts)] * bool(texts)


def wrapped(text: str, mark: str = "") -> str:
    """Text in lines of a terminal's width, indented under its mark."""
    wide = min(max(shutil.get_terminal_size((88, 24)).columns, 40), 100)
    return textwrap.fill(text, wide, initial_indent=mark, subsequent_indent="    ")


def stoppable(report: Progress) -> Progress:
    """The progress; a stop that was swallowed in what a library calls back is heard."""
    from shrinksim.process.stopping import stop_requested

    def report_on(stage: str, fraction: float, text: str) -> None:
        if stop_requested():
            raise KeyboardInterrupt
        report(stage, fraction, text)

    return report_on


def stopped_with(store: Path) -> int:
    """Print how to continue a stopped command; its exit code."""
    text = f"stopped; finished runs are kept in {store}"
    print(f"{text}; the same command goes on from there", file=sys.stderr)
    return STOPPED

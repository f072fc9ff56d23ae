"""The lesson as one page: words, computed states and scripts in a single file."""

from __future__ import annotations

import json
import os
from pathlib import Path

from shrinksim.errors import CaseError
from shrinksim.lesson.benches import benches
from shrinksim.lesson.embedded import states
from shrinksim.lesson.states import Lesson
from shrinksim.lesson.units import formatters
from shrinksim.lesson.words import facts
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import write_atomically

MAKER = "shrinksim lesson"
"""Stands in the head of every page of ours; only such files are replaced."""


def lesson_page(lesson: Lesson, units: str = "metric") -> str:
    """The page, in "metric" or "us" units."""
    embedded = json.dumps(states(lesson, units), separators=(",", ":"), allow_nan=False)
    return filled_in(
        "lesson/templates/lesson.html.j2",
        maker=MAKER,
        states=embedded.replace("</", "<\\/"),
        benches={bench.name: bench for bench in benches(units)},
        n=facts(lesson),
        seconds=lesson.seconds,
        versions=dict(lesson.versions),
        **formatters(units),
    )


def refuse_page(path: Path, force: bool) -> None:
    """CaseError, before anything is computed, if the page could not be written."""
    folder = path.absolute().parent
    message = None
    if path.is_dir():
        message = (
            f"{path} is a folder; name a file with --out, for instance lesson.html"
        )
    elif path.exists() and not force:
        message = (
            f"{path} is there already; name another file, or --force to replace it"
        )
    elif path.exists() and not _ours(path):
        message = f"{path} is no lesson page of ours; name another file with --out"
    elif not folder.is_dir():
        message = f"{path} cannot be written: there is no folder {folder}"
    elif not os.access(folder, os.W_OK | os.X_OK):
        message = f"{path} cannot be written: {folder} takes no files from you"
    if message is not None:
        raise CaseError(message)


def _ours(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return MAKER.encode() in file.read(4096)
    except OSError:
        return False


def write_page(page: str, path: Path, force: bool = False) -> Path:
    """Write the page whole or not at all: beside its place first, then renamed."""
    refuse_page(path, force)
    try:
        write_atomically(path, page)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        message = f"{path} cannot be written: {reason}; nothing is left of it"
        raise CaseError(message) from error
    return path

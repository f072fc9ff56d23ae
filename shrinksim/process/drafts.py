"""Atomic writing: drafts beside their place, renamed when they are complete."""

from __future__ import annotations

import glob
import hashlib
import os
import platform
import secrets
import shutil
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from shrinksim.process.stopping import defer_stops

UNFINISHED, REPLACED = "unfinished", "old"
INSIDE = "results"
"""Name of the replaced results inside their temporary folder."""

LONGEST_NAME = 200
"""Bytes; file systems take 255, and the name of a draft is up to 45 longer."""


@contextmanager
def draft_folder(folder: Path) -> Iterator[Path]:
    """Context with a new folder beside ``folder``, removed at the end unless renamed."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    draft = _new(folder, UNFINISHED)
    try:
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def replace_folder(draft: Path, folder: Path) -> None:
    """Rename the draft to ``folder``; an older folder is removed only after that."""
    with defer_stops():
        if not folder.exists():
            draft.rename(folder)
            return
        old = _new(folder, REPLACED)
        try:
            folder.rename(old / INSIDE)
            draft.rename(folder)
        except BaseException:
            if (old / INSIDE).exists() and not folder.exists():
                (old / INSIDE).rename(folder)
            if not (old / INSIDE).exists():
                old.rmdir()
            raise
        shutil.rmtree(old, ignore_errors=True)


def write_atomically(path: Path, text: str) -> None:
    """Write a text file atomically: the file is on the disk before it gets its name.

    Raises OSError, and then leaves the old file as it was.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    for leftover, _ in _leftovers(path):
        with suppress(OSError):
            leftover.unlink()
    draft = _hidden(path, UNFINISHED)
    try:
        with draft.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def clear_leftovers(folder: Path) -> None:
    """Remove the drafts of killed runs beside ``folder``; restore replaced results.

    Drafts of processes that may still run, here or on another machine, are kept, and
    those that cannot be removed.
    """
    for path, purpose in _leftovers(folder):
        with suppress(OSError):
            if purpose == REPLACED and (path / INSIDE).is_dir() and not folder.exists():
                (path / INSIDE).rename(folder)
            shutil.rmtree(path, ignore_errors=True)


def _leftovers(final: Path) -> list[tuple[Path, str]]:
    """Drafts of killed runs beside a folder or a file, each with its purpose."""
    found = []
    prefix = glob.escape(f".{_short(final)}-")
    for path in sorted(final.absolute().parent.glob(f"{prefix}*")):
        rest = path.name.removeprefix(f".{_short(final)}-").split("-")
        if len(rest) != 4 or rest[0] not in (UNFINISHED, REPLACED):
            continue
        if rest[1] == _machine() and rest[2].isdecimal() and not _alive(int(rest[2])):
            found.append((path, rest[0]))
    return found


def _new(folder: Path, purpose: str) -> Path:
    """New hidden folder beside ``folder``, named after its process."""
    path = _hidden(folder, purpose)
    path.mkdir()
    return path


def _hidden(path: Path, purpose: str) -> Path:
    """New hidden name beside ``path`` with machine and process number."""
    owner = f"{_machine()}-{os.getpid()}"
    return path.parent / f".{_short(path)}-{purpose}-{owner}-{secrets.token_hex(4)}"


def _short(path: Path) -> str:
    """Name of the path, or its hash where a draft's name would be too long."""
    name = os.fsencode(path.name)
    return (
        path.name
        if len(name) <= LONGEST_NAME
        else hashlib.sha256(name).hexdigest()[:16]
    )


def _machine() -> str:
    """Short hash of the machine's name: process numbers are local to a machine."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def _alive(process: int) -> bool:
    """Whether a process of that number runs; True where that is unknown."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True

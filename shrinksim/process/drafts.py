"""Results are written beside their place and renamed there: whole or not at all."""

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

from shrinksim.process.stopping import stops_held

UNFINISHED, REPLACED = "unfinished", "old"
INSIDE = "results"
"""Where the replaced results lie in their folder."""

LONG = 200
"""Bytes of a name; the disk takes 255, and a draft's name is up to 45 longer."""


@contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """A new folder next to ``folder``, gone again unless it was renamed away."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    draft = _new(folder, UNFINISHED)
    try:
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def put(draft: Path, folder: Path) -> None:
    """Rename the draft to ``folder``; an older one goes only when this has worked."""
    with stops_held():
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


def write_whole(path: Path, text: str) -> None:
    """Write a text file: whole under its name, or not at all; OSError when it cannot.

    The file is on the disk before it has its name.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    for left, _ in _left(path):
        with suppress(OSError):
            left.unlink()
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
    """Take away what killed runs left beside ``folder``; bring back what one replaced.

    What belongs to runs that may still be going, here or on another machine, stays, and
    what cannot be taken away.
    """
    for path, what in _left(folder):
        with suppress(OSError):
            if what == REPLACED and (path / INSIDE).is_dir() and not folder.exists():
                (path / INSIDE).rename(folder)
            shutil.rmtree(path, ignore_errors=True)


def _left(whole: Path) -> list[tuple[Path, str]]:
    """What killed runs left beside a folder or a file, and what it was for them."""
    left = []
    begins = glob.escape(f".{_short(whole)}-")
    for path in sorted(whole.absolute().parent.glob(f"{begins}*")):
        rest = path.name.removeprefix(f".{_short(whole)}-").split("-")
        if len(rest) != 4 or rest[0] not in (UNFINISHED, REPLACED):
            continue
        if rest[1] == _machine() and rest[2].isdecimal() and not _alive(int(rest[2])):
            left.append((path, rest[0]))
    return left


def _new(folder: Path, what: str) -> Path:
    """A new hidden folder next to ``folder`` that tells whose it is."""
    path = _hidden(folder, what)
    path.mkdir()
    return path


def _hidden(path: Path, what: str) -> Path:
    """A new place beside ``path`` whose name tells whose it is."""
    owner = f"{_machine()}-{os.getpid()}"
    return path.parent / f".{_short(path)}-{what}-{owner}-{secrets.token_hex(4)}"


def _short(path: Path) -> str:
    """The name, or a mark of one that has no room for what a draft adds to it."""
    name = os.fsencode(path.name)
    return path.name if len(name) <= LONG else hashlib.sha256(name).hexdigest()[:16]


def _machine() -> str:
    """A short mark of this machine: process numbers of others say nothing here."""
    return hashlib.sha256(platform.node().encode()).hexdigest()[:8]


def _alive(process: int) -> bool:
    """Whether a process of that number runs; where that cannot be asked, it does."""
    if os.name != "posix":
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True

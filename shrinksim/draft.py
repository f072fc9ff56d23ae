"""Results are written beside their place and renamed there: whole or not at all."""

from __future__ import annotations

import hashlib
import os
import platform
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from shrinksim.stopping import stops_held

UNFINISHED, REPLACED = "unfinished", "old"
INSIDE = "results"
"""Where the replaced results lie in their folder."""


@contextmanager
def beside(folder: Path) -> Iterator[Path]:
    """A new folder next to ``folder``, gone again unless it was renamed away."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    draft = _new(folder, UNFINISHED)
    try:
        draft.chmod(0o777 & ~_umask())
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
    clear_leftovers(path)
    handle, name = tempfile.mkstemp(prefix=_hidden(path, UNFINISHED), dir=path.parent)
    draft = Path(name)
    try:
        with open(handle, "w", encoding="utf-8", newline="\n") as file:  # noqa: PTH123
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        draft.chmod(0o666 & ~_umask())
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def clear_leftovers(whole: Path) -> None:
    """Take away what killed runs left beside a folder or file; bring back the folder
    that one replaced.

    What belongs to runs that may still be going, here or on another machine, stays.
    """
    for path in sorted(whole.absolute().parent.glob(f".{_escaped(whole)}-*")):
        rest = path.name.removeprefix(f".{whole.name}-").split("-")
        if len(rest) != 4 or rest[0] not in (UNFINISHED, REPLACED):
            continue
        if rest[1] != _machine() or not rest[2].isdigit() or _alive(int(rest[2])):
            continue
        if rest[0] == REPLACED and (path / INSIDE).is_dir() and not whole.exists():
            (path / INSIDE).rename(whole)
        if path.is_dir():
            shutil.rmtree(path, ignore_errors=True)
        else:
            path.unlink(missing_ok=True)


def _new(folder: Path, what: str) -> Path:
    """A new hidden folder next to ``folder`` that tells whose it is."""
    return Path(tempfile.mkdtemp(prefix=_hidden(folder, what), dir=folder.parent))


def _hidden(path: Path, what: str) -> str:
    """How the name of a draft begins, which tells whose it is."""
    return f".{path.name}-{what}-{_machine()}-{os.getpid()}-"


def _escaped(path: Path) -> str:
    """The name as a pattern that matches nothing else."""
    return "".join(f"[{c}]" if c in "*?[" else c for c in path.name)


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


def _umask() -> int:
    """The mask for new files: mkdtemp's folders are for their maker alone."""
    mask = os.umask(0)
    os.umask(mask)
    return mask

"""File of the log beside the job: append only, synced to disk, one writer at a time.

A line is one write and an fsync.  An interrupted write leaves a line without its end
mark, which is reported when the log is read; the next entry begins on a new line.
"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from shrinksim.errors import CaseError
from shrinksim.member.log.log import (
    END,
    Log,
    LoggedHeat,
    log_line,
    now,
    one_line,
    parse_log,
)
from shrinksim.process.stopping import defer_stops

LARGEST_LOG = 1_000_000
"""bytes; more is no log of heats."""

PATIENCE = 2.0
"""s to wait for another process that is writing the same log."""


def log_path(job_path: Path) -> Path:
    """Path of the log, beside the job."""
    return Path(job_path).with_name(f"{Path(job_path).stem}_log.txt")


def read_log(path: Path) -> Log:
    """Read the log at ``path``, empty where there is none; bad lines become its faults.

    Raises CaseError only where the file cannot be read at all.
    """
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_LOG + 1)
    except FileNotFoundError:
        return Log(path)
    except (OSError, ValueError) as error:
        raise CaseError(_unreadable(path, error)) from None
    if len(content) > LARGEST_LOG:
        message = f"{path}: is larger than 1 MB; that is no log of heats"
        raise CaseError(message)
    return parse_log(path, content.decode("utf-8-sig", errors="replace"))


def append(path: Path, heat: LoggedHeat, title: str, units: str) -> LoggedHeat:
    """Append a heat to the log; it is on the disk when this returns.

    A heat of number 0 gets the next one.  Raises CaseError when its number is in the
    log, another process writes, or the disk does not take it.
    """
    with _held(path) as number_of_file:
        log = read_log(path)
        number = heat.number or log.next_number
        there = next((h for h in log.heats if h.number == number), None)
        if there is not None:
            message = (
                f"{path.name}: heat {number} is in the log already (line {there.line}); "
                f"strike that one first, or give another number"
            )
            raise CaseError(message)
        heat = replace(heat, number=number)
        _put(path, number_of_file, log_line(heat, units), title)
    return heat


def strike(path: Path, number: int, why: str, title: str) -> None:
    """Append a line that strikes a heat from the log."""
    with _held(path) as number_of_file:
        log = read_log(path)
        if number not in {heat.number for heat in log.heats}:
            message = f"{path.name}: there is no heat {number} in the log to strike"
            raise CaseError(message)
        note = one_line(why) or "no reason"
        text = f"{now()} | heat {number} struck | note: {note} {END}"
        _put(path, number_of_file, text, title)


@contextmanager
def _held(path: Path) -> Iterator[int]:
    """The log open for appending, for this process alone; the file's descriptor."""
    flags = os.O_RDWR | os.O_APPEND | os.O_CREAT
    try:
        descriptor = os.open(path, flags, 0o666)
    except (OSError, ValueError) as error:
        raise CaseError(_unreadable(path, error, "written")) from None
    try:
        _lock(descriptor, path)
        yield descriptor
    finally:
        os.close(descriptor)  # which frees the lock


def _lock(descriptor: int, path: Path) -> None:
    """Hold the file, or CaseError when another process does not let go of it."""
    try:
        import fcntl
    except ImportError:  # not POSIX: one append is one write all the same
        return
    until = time.monotonic() + PATIENCE
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            if time.monotonic() < until:
                time.sleep(0.05)
                continue
            message = (
                f"{path.name} is being written by another process; wait until that one "
                "is done, then log the heat again"
            )
            raise CaseError(message) from None
        except OSError:  # a disk without locks
            return
        return


def _put(path: Path, descriptor: int, line: str, title: str) -> None:
    """One write and fsync; a cut-off line before it is left, and closed by a line end."""
    size = os.fstat(descriptor).st_size
    if size == 0:
        head = (
            f"# Heats given to: {one_line(title)}.  One line for each heat, only added to; "
            f'a line counts when it ends with "{END}".\n'
        )
    else:
        os.lseek(descriptor, size - 1, os.SEEK_SET)
        head = "" if os.read(descriptor, 1) == b"\n" else "\n"
    content = f"{head}{line}\n".encode()
    try:
        with defer_stops():
            while content:
                content = content[os.write(descriptor, content) :]
            os.fsync(descriptor)
            _settle(path.parent)
    except OSError as error:
        raise CaseError(_unreadable(path, error, "written")) from None


def _settle(folder: Path) -> None:
    """Have the file's name in its folder on the disk as well, where that can be asked."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _unreadable(path: Path, error: Exception, verb: str = "read") -> str:
    """Sentence on a log that cannot be read or written."""
    reason = (getattr(error, "strerror", None) or str(error)).lower()
    return f"{path}: the log cannot be {verb} ({reason})"

"""Store of finished runs: an append-only index, one line for each run.

A line holds the run's key, a checksum and everything needed to read and to repeat it.
It is on the disk (fsync) before the run counts as finished; a truncated or damaged line
fails its checksum, is not used, and its run is computed again.
"""

from __future__ import annotations

import dataclasses
import errno
import functools
import hashlib
import json
import os
import platform
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from io import FileIO
from pathlib import Path
from typing import IO, Any

from shrinksim.casefile.own import own_parts
from shrinksim.casefile.tables import AnyCase
from shrinksim.errors import CaseError

PHYSICS = "3"
"""Version of the physics, raised when a number changes: older runs are computed again."""

INDEX, LOCK = "index.jsonl", "lock"

CASE_FAILURES = ("hot hinge", "not converged", "refused")
"""Failures due to the case itself: the same run would fail again."""


@dataclass(frozen=True)
class Row:
    """A finished run.

    key : of `run_key`.  summary : as in summary.json, units in the names.  input : the
    resolved case as tables of a case file.  record : the rest of the line in the store.
    cached : the run was in the store already.
    """

    key: str
    summary: Mapping[str, Any]
    input: Mapping[str, Any]
    record: Mapping[str, Any]
    cached: bool = False

    outcome = "complete"
    reason = ""


@dataclass(frozen=True)
class Failure:
    """Run without a movement, and the reason.

    outcome : "hot hinge" (the member folds while hot; summary up to there),
    "not converged", "refused" (cannot be computed as described), "worker died" or
    "program fault".
    """

    key: str
    outcome: str
    reason: str
    input: Mapping[str, Any]
    record: Mapping[str, Any]
    summary: Mapping[str, Any] | None = None
    cached: bool = False


def run_key(case: AnyCase) -> str:
    """Key of a run: first 24 hex digits of the SHA-256 of its input.

    The input is the resolved case in SI to 12 digits, the text of its steel's file, and
    the version of the physics, without title and output.
    """
    own = own_parts(case)
    if own:
        message = (
            f"{case.title}: its {' and '.join(own)} is the caller's own, which a store "
            "cannot tell from another; compute it with run, or write it to a file"
        )
        raise CaseError(message)
    given = case.model_dump(mode="python", by_alias=True, exclude={"title", "output"})
    steel = given["steel"]
    if steel.get("file") is not None:
        steel["file"] = _text_of(Path(steel["file"]))
    text = json.dumps([PHYSICS, _rounded(given)], sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:24]


def _text_of(path: Path) -> str:
    """Text of a steel file, read again only when it has changed."""
    try:
        found = path.stat()
        return _read(path, found.st_mtime_ns, found.st_size)
    except OSError as error:
        message = f"{path}: cannot be read ({error.strerror or error})"
        raise CaseError(message) from None


@functools.lru_cache(maxsize=64)
def _read(path: Path, changed: int, size: int) -> str:  # noqa: ARG001 (keys of the cache)
    return path.read_text(encoding="utf-8")


def _rounded(value: Any) -> Any:
    """Value in JSON's types, numbers to 12 digits: 3/8 in is 9.525 mm."""
    match value:
        case float():
            return f"{value + 0.0:.12g}"
        case dict():
            return {key: _rounded(part) for key, part in value.items()}
        case list() | tuple():
            return [_rounded(part) for part in value]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _rounded(dataclasses.asdict(value))
    return value


class Store:
    """Finished runs in a folder; `writing` holds the lock of the one writer.

    lines : key -> text of its last valid line.  damaged : number of invalid lines.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = Path(folder)
        self.index = self.folder / INDEX
        self.lines: dict[str, bytes] = {}
        self.damaged = 0
        self._read_to = 0
        self._file: FileIO | None = None
        self.refresh()

    def refresh(self) -> None:
        """Read the lines added to the index since the last call."""
        try:
            with self.index.open("rb") as file:
                file.seek(self._read_to)
                added = file.read()
        except FileNotFoundError:
            return
        except OSError as error:
            raise CaseError(_cannot("read", self.index, error)) from error
        end = added.rfind(b"\n") + 1
        self._read_to += end
        for line in added[:end].split(b"\n"):
            found = unsealed(line)
            if found is not None:
                self.lines[found[0]] = found[1]
            elif line.strip():
                self.damaged += 1

    def get(self, key: str) -> Row | Failure | None:
        """Run with a key, None if it is not in the store."""
        text = self.lines.get(key)
        return None if text is None else _record(key, json.loads(text), cached=True)

    def add(self, key: str, record: Mapping[str, Any]) -> Row | Failure:
        """Append the line of a run, and flush it to the disk."""
        if self._file is None:
            message = "a store is written inside `with store.writing():`"
            raise RuntimeError(message)
        text = json.dumps(record, ensure_ascii=False, allow_nan=False).encode()
        line = sealed(key, text)
        try:
            if self._file.write(line) != len(line):
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            os.fsync(self._file.fileno())
        except OSError as error:
            raise CaseError(_cannot("write", self.index, error)) from error
        self.lines[key] = text
        return _record(key, json.loads(text), cached=False)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """Context that locks the store for writing; CaseError if another process has it."""
        try:
            self.folder.mkdir(parents=True, exist_ok=True)
            lock = (self.folder / LOCK).open("a+", encoding="utf-8")
        except OSError as error:
            raise CaseError(_cannot("write", self.folder, error)) from error
        with lock:
            if not _locked(lock):
                raise CaseError(_in_use(self.folder, lock))
            lock.truncate(0)
            lock.write(f"process {os.getpid()} on {platform.node()}")
            lock.write(time.strftime(", since %H:%M on %Y-%m-%d\n"))
            lock.flush()
            self.refresh()
            try:
                self._file = _opened(self.index)
            except OSError as error:
                raise CaseError(_cannot("write", self.index, error)) from error
            try:
                yield
            finally:
                self._file.close()
                self._file = None
                lock.truncate(0)


def sealed(key: str, text: bytes) -> bytes:
    """Line of the index: JSON with a checksum over key and run."""
    head = f'{{"key": "{key}", "checksum": "{_checksum(key, text)}", "run": '
    return head.encode() + text + b"}\n"


def unsealed(line: bytes) -> tuple[str, bytes] | None:
    """Key and text of a valid line, None of any other."""
    head, found, rest = line.partition(b', "run": ')
    try:
        given = json.loads(head + b"}") if found else {}
        key, checksum = given["key"], given["checksum"]
    except (ValueError, KeyError, TypeError, RecursionError):
        return None
    text = rest[:-1]
    valid = rest[-1:] == b"}" and _checksum(str(key), text) == checksum
    return (key, text) if valid else None


def _checksum(key: str, text: bytes) -> str:
    return hashlib.sha256(key.encode() + b" " + text).hexdigest()[:16]


def _record(key: str, given: Mapping[str, Any], cached: bool) -> Row | Failure:
    """Row or Failure from the record of a run."""
    rest = {k: v for k, v in given.items() if k not in ("summary", "input")}
    summary, tables = given["summary"], given["input"]
    if given["outcome"] == "complete":
        return Row(key, summary, tables, rest, cached)
    outcome, reason = given["outcome"], given["reason"]
    return Failure(key, outcome, reason, tables, rest, summary, cached)


def _opened(index: Path) -> FileIO:
    """Index opened for appending; a truncated last line gets a line end."""
    new = not index.exists()
    file = index.open("ab", buffering=0)
    if new and hasattr(os, "O_DIRECTORY"):
        folder = os.open(index.parent, os.O_RDONLY | os.O_DIRECTORY)
        os.fsync(folder)
        os.close(folder)
    if file.tell():
        with index.open("rb") as before:
            before.seek(-1, os.SEEK_END)
            if before.read(1) != b"\n":
                file.write(b"\n")
    return file


def _locked(file: IO[str]) -> bool:
    """Lock the file; False if another process has it.  The lock ends with the process."""
    try:
        if sys.platform == "win32":
            import msvcrt

            file.seek(0)
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


def _in_use(folder: Path, lock: IO[str]) -> str:
    lock.seek(0)
    holder = lock.read(200).strip() or "another process"
    return (
        f"{folder} is in use by {holder}; wait until it is done or stop it, or give "
        "another folder"
    )


def _cannot(what: str, path: Path, error: OSError) -> str:
    reason = (error.strerror or str(error)).lower()
    return (
        f"{path}: cannot {what}: {reason}; runs that were finished are kept; make room, "
        "or give a folder that can be written"
    )

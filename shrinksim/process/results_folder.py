"""Results folders: sealed when complete, replaced only if made by this package."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path

from shrinksim.errors import CaseError
from shrinksim.process.drafts import clear_leftovers
from shrinksim.text.records import write_json

SEAL = "complete.json"
"""Name of the seal, written last; a folder without it, or with files that it does
not list, is never replaced."""

MAKER = "shrinksim"


def refuse_taken(folder: Path, force: bool) -> None:
    """Raise CaseError when ``folder`` may not be written; removes drafts of killed runs."""
    try:
        clear_leftovers(folder)
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            message = f"{folder} is not a folder; give another name for the results"
            raise CaseError(message)
        if not folder.exists() or not any(folder.iterdir()):
            return
        strange = foreign_files(folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    if strange:
        message = (
            f"{folder} holds files that are not results of ours ({strange[0]}); "
            "give another name for the results"
        )
        raise CaseError(message)
    if not force:
        message = (
            f"{folder} holds the results of an earlier run; give another name, or "
            "--force to replace them"
        )
        raise CaseError(message)


def foreign_files(folder: Path) -> list[str]:
    """Files in ``folder`` that its seal does not list; all files without a seal."""
    present = sorted(
        path.relative_to(folder).as_posix()
        for path in folder.rglob("*")
        if path.is_symlink() or not path.is_dir()
    )
    try:
        seal = json.loads((folder / SEAL).read_text(encoding="utf-8"))
        listed = set(seal["files"]) if seal["made_by"] == MAKER else set()
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return present or ["an empty folder"]
    return [name for name in present if name != SEAL and name not in listed]


def seal(draft: Path, versions: Mapping[str, str], input_hash: str) -> None:
    """Write the seal, with every file and its size; the last file of a folder."""
    files = {
        path.relative_to(draft).as_posix(): path.stat().st_size
        for path in sorted(draft.rglob("*"))
        if path.is_file()
    }
    record = {
        "made_by": MAKER,
        "versions": versions,
        "input_hash": input_hash,
        "files": files,
    }
    write_json(record, draft / SEAL)


def unwritten(folder: Path, error: OSError) -> str:
    """Message of a failed write: the error, its place, and what to do."""
    reason = (error.strerror or str(error)).lower()
    place = f" ({error.filename})" if error.filename else ""
    return (
        f"the results cannot be written to {folder}: {reason}{place}; nothing is left "
        "of them; make room, or give a folder that can be written"
    )

"""Whether a results folder is whole: what its seal lists is there, in full, and reads."""

from __future__ import annotations

import csv
import json
from html.parser import HTMLParser
from pathlib import Path

SEAL = "complete.json"
PARTS = (
    "case.toml",
    "case_resolved.json",
    "summary.json",
    "history.csv",
    "report.html",
)


def faults_of(folder: Path) -> list[str]:
    """What keeps the results of a run from being whole, [] if nothing."""
    found = seal_faults(folder)
    if found and found[0].startswith("its seal"):
        return found
    seal = json.loads((folder / SEAL).read_text(encoding="utf-8"))
    found += [f"{name} is not listed" for name in PARTS if name not in seal["files"]]
    return found or _unread(folder, seal)


def seal_faults(folder: Path) -> list[str]:
    """Where a folder is not what its seal lists.  It must exist."""
    try:
        seal = json.loads((folder / SEAL).read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        return [f"its seal does not read: {error}"]
    present = {
        path.relative_to(folder).as_posix(): path.stat().st_size
        for path in folder.rglob("*")
        if path.is_file() and path.name != SEAL
    }
    listed = seal["files"]
    found = [f"{name} is not listed" for name in sorted(set(present) - set(listed))]
    found += [f"{name} is missing" for name in sorted(set(listed) - set(present))]
    found += [
        f"{name} has {present[name]} of {listed[name]} bytes"
        for name in sorted(set(present) & set(listed))
        if present[name] != listed[name]
    ]
    return found


def _unread(folder: Path, seal: dict[str, object]) -> list[str]:
    """Files that are there and do not say what they should."""
    summary = json.loads((folder / "summary.json").read_text(encoding="utf-8"))
    found = []
    if summary["input_hash"] != seal["input_hash"]:
        found.append("summary.json and the seal are of different inputs")
    with (folder / "history.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    if len(rows) < 3 or len({len(row) for row in rows}) != 1:
        found.append("history.csv has rows of different lengths")
    page = (folder / "report.html").read_text(encoding="utf-8")
    HTMLParser().feed(page)
    if not page.rstrip().endswith("</html>"):
        found.append("report.html does not end")
    return found


def leftovers(folder: Path) -> list[str]:
    """Names beside ``folder`` that a run of it left: its drafts and what it replaced."""
    return sorted(path.name for path in folder.parent.glob(f".{folder.name}-*"))

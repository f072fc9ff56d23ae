"""Gallery page: a picture and the main numbers of each result, and the failures."""

from __future__ import annotations

import base64
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote

from shrinksim.errors import CaseError
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import write_atomically
from shrinksim.process.results_folder import MAKER, SEAL, foreign_files
from shrinksim.text.quoting import printable
from shrinksim.views import VIEWS
from shrinksim.views.rows import terminal_rows

INDEX = "index.html"
PICTURE = "peak_temperature.svg"
MARK = f'<meta name="generator" content="{MAKER} gallery">'


@dataclass(frozen=True)
class Entry:
    """One case of the page.

    name : of its file.  folder : of its results, beside the page, None if it has none.
    reasons : of the failure, in sentences.  kept : the results were complete already.
    """

    name: str
    folder: Path | None
    reasons: tuple[str, ...] = ()
    kept: bool = False


def is_kept(folder: Path, input_hash: str, version: str) -> bool:
    """Whether ``folder`` holds complete results of that input, by that version."""
    try:
        seal = json.loads((folder / SEAL).read_text(encoding="utf-8"))
        sizes = {name: (folder / name).stat().st_size for name in seal["files"]}
        same = (seal["input_hash"], seal["versions"]["shrinksim"])
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return False
    whole = sizes == seal["files"] and not foreign_files(folder)
    return whole and same == (input_hash, version)


def refuse_index(folder: Path) -> None:
    """Raise CaseError when the page would replace a file of another program."""
    path = folder / INDEX
    try:
        if path.exists() and MARK not in path.read_text("utf-8", "replace")[:2000]:
            message = f"{path} is no page of ours; give another folder with --out"
            raise CaseError(message)
    except OSError as error:
        message = f"{path} cannot be read: {error.strerror or error}"
        raise CaseError(message) from error


def write_gallery(entries: Sequence[Entry], folder: Path, heading: str) -> Path:
    """Write the page into ``folder``, which holds the results' folders."""
    page = filled_in(
        "runs/templates/gallery.html.j2",
        maker=f"{MAKER} gallery",
        heading=heading,
        counts=counts_sentence(entries),
        entries=[_card(entry) for entry in entries],
    )
    try:
        write_atomically(folder / INDEX, page)
    except OSError as error:
        message = f"{folder / INDEX} cannot be written: {error.strerror or error}"
        raise CaseError(message) from error
    return folder / INDEX


def counts_sentence(entries: Sequence[Entry]) -> str:
    """Sentence with the numbers of cases, computed and failed."""
    failed = sum(entry.folder is None for entry in entries)
    kept = sum(entry.kept for entry in entries)
    parts = [f"{len(entries)} case{'s' * (len(entries) != 1)}"]
    parts += [f"{len(entries) - failed} computed"]
    parts += [f"{kept} of them before"] * bool(kept)
    parts += [f"{failed} could not be"] * bool(failed)
    return ", ".join(parts) + "."


def _card(entry: Entry) -> dict[str, Any]:
    """Template values of an entry."""
    name = printable(entry.name)
    if entry.folder is None:
        return {"name": name, "title": name, "page": "", "picture": "",
                "alt": "", "lines": [], "reasons": entry.reasons,
                "folds": False}  # fmt: skip
    summary = json.loads((entry.folder / "summary.json").read_text(encoding="utf-8"))
    given = json.loads(
        (entry.folder / "case_resolved.json").read_text(encoding="utf-8")
    )
    picture = _picture(entry.folder).read_bytes()
    return {
        "name": name,
        "title": summary["title"],
        "page": quote(os.fsencode(f"{entry.folder.name}/report.html")),
        "picture": f"data:image/svg+xml;base64,{base64.b64encode(picture).decode()}",
        "alt": f"Picture of the result: {summary['title']}",
        "lines": lines(summary, given.get("print_units", "metric")),
        "reasons": (),
        "folds": not summary["converged"],
    }


def _picture(folder: Path) -> Path:
    """The map of peak temperatures, else the first picture of a results folder."""
    wanted = folder / "figures" / PICTURE
    return wanted if wanted.exists() else min((folder / "figures").glob("*.svg"))


def lines(summary: Mapping[str, Any], units: str) -> list[str]:
    """Main numbers of a result, one line each."""
    folds = ["Do not heat it like this: the member folds while hot."]
    rows = terminal_rows(VIEWS[summary["view"]].stages().measures, summary, units)
    found = [f"{name} {value}" for name, value in rows.items()]
    return found if summary["converged"] else folds + found

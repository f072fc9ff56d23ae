"""The results folder: everything written beside it first, then renamed into place."""

from __future__ import annotations

import base64
import json
import re
import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from shrinksim.draft import beside, clear_leftovers, put
from shrinksim.errors import CaseError
from shrinksim.output.fields import write_fields
from shrinksim.output.figures import Picture, pictures
from shrinksim.output.section_words import section_told
from shrinksim.output.shown import SectionShown, Shown, folds, is_section
from shrinksim.output.tables import write_history, write_json
from shrinksim.output.words import further, told

SEAL = "complete.json"
"""Written last; a folder without it, or with other files, is none of ours."""

MAKER = "shrinksim"
TURNING = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def write_results(
    result: Shown | SectionShown, folder: Path, case_path: Path, force: bool = False
) -> Path:
    """Write the results folder and return it.

    A folder that holds anything is refused, unless it is a complete results folder and
    ``force`` is given.  Raises CaseError when the disk does not take it; what stood at
    ``folder`` before then still stands there.
    """
    folder = Path(folder)
    refuse_taken(folder, force)
    try:
        with beside(folder) as draft:
            _fill(result, draft, Path(case_path))
            _seal(draft, result)
            put(draft, folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    return folder


def refuse_taken(folder: Path, force: bool) -> None:
    """CaseError when ``folder`` may not be written; what killed runs left there goes."""
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
    """Files in ``folder`` that its seal does not list; all of them without a seal."""
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


def _fill(result: Shown | SectionShown, draft: Path, case_path: Path) -> None:
    """Everything but the seal."""
    shutil.copyfile(case_path, draft / "case.toml")
    given = case_path.read_text(encoding="utf-8", errors="replace")
    summary = result.summary()
    write_json(result.resolved, draft / "case_resolved.json")
    write_json(summary, draft / "summary.json")
    write_history(result, draft / "history.csv")
    output = result.resolved.get("output")
    if not isinstance(output, dict) or output.get("fields", True):
        (draft / "fields").mkdir()
        write_fields(result, draft / "fields")
    drawn = pictures(result)
    (draft / "figures").mkdir()
    for picture in drawn:
        (draft / "figures" / f"{picture.plate.name}.svg").write_bytes(picture.svg)
    page = report_page(result, drawn, given, summary)
    (draft / "report.html").write_text(page, encoding="utf-8")


def _seal(draft: Path, result: Shown | SectionShown) -> None:
    """The result's seal."""
    seal(draft, result.versions, result.input_hash)


def seal(draft: Path, versions: Mapping[str, str], input_hash: str) -> None:
    """List every file with its size; the last file to be written."""
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
    """What went wrong on the disk, where, and what to do."""
    reason = (error.strerror or str(error)).lower()
    place = f" ({error.filename})" if error.filename else ""
    return (
        f"the results cannot be written to {folder}: {reason}{place}; nothing is left "
        "of them; make room, or give a folder that can be written"
    )


def filled_in(template: str, **said: Any) -> str:
    """A page from its template; every text is shown as text."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_visible,
    )
    return environment.get_template(template).render(**said)


def _visible(value: Any) -> Any:
    """Marks that turn the direction of writing, and so hide what a text says, as codes."""
    if type(value) is not str:
        return value
    return TURNING.sub(lambda mark: f"\\u{ord(mark[0]):04x}", value)


def report_page(
    result: Shown | SectionShown,
    drawn: list[Picture],
    given: str,
    summary: dict[str, Any],
) -> str:
    """report.html: one page with everything in it, no scripts and no links."""
    said = (
        section_told(result, summary) if is_section(result) else told(result, summary)
    )
    return filled_in(
        "report.html.j2",
        title=result.title,
        folds=folds(result),
        **said,
        cautions=[caution.text for caution in result.cautions],
        setup=_shown(drawn[0]),
        pictures=[_shown(picture) for picture in drawn[1:]],
        further=further(summary),
        trust=list(result.trust),
        given=given,
        versions=dict(result.versions),
        input_hash=result.input_hash,
    )


def _shown(picture: Picture) -> dict[str, str]:
    """A picture for the page."""
    body = base64.b64encode(picture.svg).decode()
    return {
        "heading": picture.plate.heading,
        "caption": picture.plate.caption,
        "alt": picture.alt,
        "source": f"data:image/svg+xml;base64,{body}",
    }

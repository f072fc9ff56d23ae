"""The results folder: everything written beside it first, then renamed into place."""

from __future__ import annotations

import base64
import json
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

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
        with _beside(folder) as draft:
            _fill(result, draft, Path(case_path))
            _seal(draft, result)
            _put(draft, folder)
    except OSError as error:
        raise CaseError(_sentence(folder, error)) from error
    return folder


def refuse_taken(folder: Path, force: bool) -> None:
    """CaseError when ``folder`` may not be written."""
    try:
        if folder.is_symlink() or (folder.exists() and not folder.is_dir()):
            message = f"{folder} is not a folder; give another name for the results"
            raise CaseError(message)
        if not folder.exists() or not any(folder.iterdir()):
            return
        strange = foreign_files(folder)
    except OSError as error:
        raise CaseError(_sentence(folder, error)) from error
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
    except (OSError, ValueError, KeyError, TypeError):
        return present or ["an empty folder"]
    return [name for name in present if name != SEAL and name not in listed]


@contextmanager
def _beside(folder: Path) -> Iterator[Path]:
    """A new folder next to ``folder``, gone again unless it was renamed away."""
    folder.parent.mkdir(parents=True, exist_ok=True)
    name = f".{folder.name}-unfinished-"
    draft = Path(tempfile.mkdtemp(prefix=name, dir=folder.parent))
    try:
        draft.chmod(0o777 & ~_umask())
        yield draft
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def _umask() -> int:
    """The mask for new files: mkdtemp's folders are for their maker alone."""
    import os

    mask = os.umask(0)
    os.umask(mask)
    return mask


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
        name = picture.plate.name
        (draft / "figures" / f"{name}.png").write_bytes(picture.png)
        (draft / "figures" / f"{name}.svg").write_bytes(picture.svg)
    page = report_page(result, drawn, given, summary)
    (draft / "report.html").write_text(page, encoding="utf-8")


def _seal(draft: Path, result: Shown | SectionShown) -> None:
    """List every file with its size; the last file to be written."""
    files = {
        path.relative_to(draft).as_posix(): path.stat().st_size
        for path in sorted(draft.rglob("*"))
        if path.is_file()
    }
    seal = {
        "made_by": MAKER,
        "versions": result.versions,
        "input_hash": result.input_hash,
        "files": files,
    }
    write_json(seal, draft / SEAL)


def _put(draft: Path, folder: Path) -> None:
    """Rename the draft to ``folder``; an older one goes only when this has worked."""
    if not folder.exists():
        draft.rename(folder)
        return
    old = Path(tempfile.mkdtemp(prefix=f".{folder.name}-old-", dir=folder.parent))
    folder.rename(old / "results")
    try:
        draft.rename(folder)
    except OSError:
        (old / "results").rename(folder)
        raise
    finally:
        shutil.rmtree(old, ignore_errors=True)


def _sentence(folder: Path, error: OSError) -> str:
    """What went wrong on the disk, where, and what to do."""
    reason = (error.strerror or str(error)).lower()
    place = f" ({error.filename})" if error.filename else ""
    return (
        f"the results cannot be written to {folder}: {reason}{place}; nothing is left "
        "of them; make room, or give a folder that can be written"
    )


def report_page(
    result: Shown | SectionShown,
    drawn: list[Picture],
    given: str,
    summary: dict[str, Any],
) -> str:
    """report.html: one page with everything in it, no scripts and no links."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    folder = Path(__file__).parent / "templates"
    environment = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    said = (
        section_told(result, summary) if is_section(result) else told(result, summary)
    )
    template = environment.get_template("report.html.j2")
    return template.render(
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
    """A picture for the page: maps as PNG, drawings as SVG."""
    plate = picture.plate
    kind, body = ("png", picture.png) if plate.map else ("svg+xml", picture.svg)
    return {
        "heading": plate.heading,
        "caption": plate.caption,
        "alt": picture.alt,
        "source": f"data:image/{kind};base64,{base64.b64encode(body).decode()}",
    }

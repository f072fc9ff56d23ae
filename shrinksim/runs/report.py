"""The results folder: everything written beside it first, then renamed into place."""

from __future__ import annotations

import base64
import shutil
from pathlib import Path
from typing import Any

from shrinksim.errors import CaseError
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import beside, put
from shrinksim.process.results_folder import refuse_taken, seal, unwritten
from shrinksim.runs.fields import write_fields
from shrinksim.runs.tables import write_history
from shrinksim.text.records import write_json
from shrinksim.views.effort import further
from shrinksim.views.elevation.pictures import Picture, pictures
from shrinksim.views.elevation.words import told
from shrinksim.views.protocols import SectionShown, Shown, folds, is_section
from shrinksim.views.section.words import section_told


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
        "runs/templates/report.html.j2",
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

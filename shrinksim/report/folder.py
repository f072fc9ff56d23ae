"""The results folder: everything written beside it first, then renamed into place."""

from __future__ import annotations

import base64
import shutil
from html import escape
from pathlib import Path
from typing import Any

from shrinksim.casefile.resolving import toml_text
from shrinksim.errors import CaseError
from shrinksim.page.picture import Picture
from shrinksim.page.style import drawing, svg
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import draft_folder, replace_folder
from shrinksim.process.results_folder import refuse_taken, seal, unwritten
from shrinksim.report.effort import all_numbers
from shrinksim.report.fields import write_fields
from shrinksim.report.history import write_history
from shrinksim.report.reported import Reported
from shrinksim.text.records import write_json


def write_results(
    result: Reported,
    folder: Path | str,
    case_path: Path | None = None,
    force: bool = False,
) -> Path:
    """Write the results folder and return it.

    case_path : the case's file, which is copied into the folder; without one the resolved
    case is written.  A folder that holds anything is refused, unless it is a complete
    results folder and ``force`` is given.  Raises CaseError when the disk refuses the
    writing; an earlier folder is then left as it was.
    """
    folder = Path(folder)
    refuse_taken(folder, force)
    try:
        with draft_folder(folder) as draft:
            _fill(result, draft, case_path)
            _seal(draft, result)
            replace_folder(draft, folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    return folder


def _fill(result: Reported, draft: Path, case_path: Path | None) -> None:
    """Everything but the seal."""
    if case_path is None:
        text = toml_text(result.resolved)
        (draft / "case.toml").write_text(text, encoding="utf-8")
    else:
        shutil.copyfile(case_path, draft / "case.toml")
    given = (draft / "case.toml").read_text(encoding="utf-8", errors="replace")
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


def _seal(draft: Path, result: Reported) -> None:
    """The result's seal."""
    seal(draft, result.versions, result.input_hash)


def pictures(result: Reported) -> list[Picture]:
    """Draw every picture of the view that applies to the result."""
    face = result.view.face()
    with drawing():
        return [
            Picture(
                plate,
                face.alternative(result, plate),
                svg(plate.draw(result), plate.heading),
            )
            for plate in face.pictures(result)
        ]


def report_page(
    result: Reported,
    drawn: list[Picture],
    given: str,
    summary: dict[str, Any],
) -> str:
    """report.html: one page with everything in it, no scripts and no links."""
    texts = result.view.face().words(result, summary)
    return filled_in(
        "report/templates/report.html.j2",
        title=result.title,
        folds=result.outcome == "hot hinge",
        **texts,
        cautions=[caution.text for caution in result.cautions],
        setup=_for_page(drawn[0]),
        pictures=[_for_page(picture) for picture in drawn[1:]],
        further=all_numbers(summary),
        trust=list(result.trust),
        given=given,
        versions=dict(result.versions),
        input_hash=result.input_hash,
    )


def _for_page(picture: Picture) -> dict[str, str]:
    """A picture for the page."""
    body = base64.b64encode(picture.svg).decode()
    return {
        "heading": picture.plate.heading,
        "caption": picture.plate.caption,
        "alt": picture.alt,
        "source": f"data:image/svg+xml;base64,{body}",
    }


def snippet(result: Reported, picture: str = "peak_temperature") -> str:
    """A result as a piece of HTML: title, main numbers, one picture, cautions."""
    face = result.view.face()
    rows = "".join(
        f"<tr><th>{escape(name)}</th><td>{escape(value)}</td></tr>"
        for name, value in result.rows().items()
    )
    plates = list(face.pictures(result))
    plate = next((p for p in plates if p.name == picture), plates[0])
    with drawing():
        drawn = base64.b64encode(svg(plate.draw(result), plate.heading)).decode()
    careful = "".join(f"<li>{escape(c.text)}</li>" for c in result.cautions)
    return (
        f"<div><strong>{escape(result.title)}</strong> ({escape(result.outcome)})"
        f"<table>{rows}</table>"
        f'<img width="480" alt="{escape(face.alternative(result, plate))}" '
        f'src="data:image/svg+xml;base64,{drawn}">'
        f"<details><summary>Cautions</summary><ul>{careful}</ul></details></div>"
    )

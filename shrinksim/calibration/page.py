"""The folder of a calibration: page, figures, records, data and pastable formulas."""

from __future__ import annotations

import base64
import hashlib
import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.calibration import words
from shrinksim.calibration.figures import CalibrationFigure, figures
from shrinksim.calibration.formula_use import file_name
from shrinksim.calibration.table import csv_text
from shrinksim.errors import CaseError
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import draft_folder, replace_folder
from shrinksim.process.results_folder import refuse_taken, seal, unwritten
from shrinksim.text.records import write_json
from shrinksim.views.caution import LOADED, always
from shrinksim.views.result import versions_here

if TYPE_CHECKING:
    from shrinksim.calibration.calibrate import Found
    from shrinksim.calibration.file import Calibrating

PAGE = "calibration.html"


def write_calibrations(
    asked: Calibrating,
    found: Sequence[Found],
    folder: Path,
    study: Path,
    force: bool = False,
) -> Path:
    """Write the folder and return it: whole or not at all.

    A folder that holds anything else is refused, an earlier calibration goes only with
    ``force`` and only when the new one stands.  CaseError when the disk does not take it.
    """
    folder = Path(folder)
    refuse_taken(folder, force)
    try:
        with draft_folder(folder) as draft:
            _fill(asked, found, draft, Path(study))
            hashes = "".join(one.calibration.record["design_hash"] for one in found)
            key = hashlib.sha256(hashes.encode()).hexdigest()[:16]
            seal(draft, versions_here(), key)
            replace_folder(draft, folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    return folder


def _fill(
    asked: Calibrating, found: Sequence[Found], draft: Path, study: Path
) -> None:  # fmt: skip
    """Everything but the seal."""
    shutil.copyfile(study, draft / "calibration.toml")
    (draft / "figures").mkdir()
    parts = []
    for one in found:
        name, record = file_name(one.calibration.of), one.calibration.record
        write_json(record, draft / f"{name}.json")
        table = csv_text(one.calibration, one.data)
        (draft / f"{name}.csv").write_text(table, encoding="utf-8")
        (draft / f"{name}.py").write_text(record["python"], encoding="utf-8")
        drawn = figures(one)
        for figure in drawn:
            (draft / "figures" / f"{name}_{figure.name}.svg").write_bytes(figure.svg)
        parts.append(_part(one, drawn))
    text = study.read_text(encoding="utf-8", errors="replace")
    page = filled_in(
        "calibration/templates/calibration.html.j2",
        title=asked.title,
        parts=parts,
        cautions=[caution.text for caution in (*always(), LOADED)],
        limits=words.LIMITS,
        given=text,
        versions=versions_here(),
    )
    (draft / PAGE).write_text(page, encoding="utf-8")


def _part(found: Found, drawn: Sequence[CalibrationFigure]) -> dict[str, Any]:
    """Data of one formula for the template."""
    one = found.calibration
    return {
        "id": file_name(one.of),
        "title": words.TITLES[one.of],
        "headline": words.headline(one),
        "tiles": words.tiles(one),
        "formula": words.unbroken(one.record["formula"]),
        "variables": words.variable_rows(one),
        "coefficients": words.coefficient_rows(one),
        "surprises": words.surprises(one),
        "published": words.published_rows(one),
        "published_words": words.published_words(one),
        "rounded": one.bend == "rounded",
        "plates": one.of == "plates",
        "ranges": words.range_rows(one),
        "python": one.record["python"],
        "sheet": one.record["spreadsheet"]["formula"],
        "sheet_words": words.sheet_words(one),
        "making": words.making(one),
        "pictures": [_for_page(figure) for figure in drawn],
        "hash": one.record["design_hash"],
        "files": [f"{file_name(one.of)}.{end}" for end in ("json", "csv", "py")],
    }


def _for_page(figure: CalibrationFigure) -> dict[str, str]:
    """Data of a figure for the page."""
    body = base64.b64encode(figure.svg).decode()
    return {
        "heading": figure.heading,
        "caption": figure.caption,
        "alt": figure.alt,
        "source": f"data:image/svg+xml;base64,{body}",
    }

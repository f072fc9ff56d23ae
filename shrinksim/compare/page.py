"""The folder of a comparison: its page, figures and numbers, whole or not at all."""

from __future__ import annotations

import base64
import hashlib
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from shrinksim.compare import words
from shrinksim.compare.figures import movements, temperatures
from shrinksim.compare.shapes import lines, shapes
from shrinksim.errors import CaseError
from shrinksim.page.style import drawing, svg
from shrinksim.page.template import filled_in
from shrinksim.process.drafts import draft_folder, replace_folder
from shrinksim.process.results_folder import refuse_taken, seal, unwritten
from shrinksim.text.quoting import printable
from shrinksim.text.records import write_json
from shrinksim.units.scales import time_text
from shrinksim.views.result import versions_here

if TYPE_CHECKING:
    from collections.abc import Callable

    from matplotlib.figure import Figure

    from shrinksim.compare.comparison import Comparison, Side

PAGE = "compare.html"


@dataclass(frozen=True)
class ComparisonFigure:
    """A figure of a comparison: file name, heading, caption, text alternative, SVG."""

    name: str
    heading: str
    caption: str
    alt: str
    svg: bytes


def write_comparison(comparison: Comparison, folder: Path, force: bool = False) -> Path:
    """Write the comparison's folder and return it.

    As with results: a folder that holds anything else is refused, an earlier comparison
    goes only with ``force`` and only when the new one stands.  CaseError when the disk
    does not take it.
    """
    folder = Path(folder)
    refuse_taken(folder, force)
    try:
        with draft_folder(folder) as draft:
            _fill(comparison, draft)
            hashes = "".join(side.summary["input_hash"] for side in comparison.sides)
            key = hashlib.sha256(hashes.encode()).hexdigest()[:16]
            seal(draft, versions_here(), key)
            replace_folder(draft, folder)
    except OSError as error:
        raise CaseError(unwritten(folder, error)) from error
    return folder


def _fill(comparison: Comparison, draft: Path) -> None:
    """Everything but the seal."""
    (draft / "cases").mkdir()
    for side in comparison.sides:
        shutil.copyfile(side.path, draft / "cases" / f"{side.letter}.toml")
    drawn = figures(comparison)
    (draft / "figures").mkdir()
    for figure in drawn:
        (draft / "figures" / f"{figure.name}.svg").write_bytes(figure.svg)
    write_json(record(comparison), draft / "compare.json")
    (draft / PAGE).write_text(compare_page(comparison, drawn), encoding="utf-8")


def record(comparison: Comparison) -> dict[str, Any]:
    """The comparison as plain numbers: differences of the input, measures, summaries."""
    letters = [side.letter for side in comparison.sides]
    return {
        "view": comparison.view,
        "cases": {side.letter: printable(str(side.path)) for side in comparison.sides},
        "differences": {
            d.what: dict(zip(letters, d.values, strict=True))
            for d in comparison.differences
        },
        "measures": [
            {
                "name": m.name,
                "unit": {"mrad": "mrad", "share": "1"}.get(m.dimension, "SI, degC"),
                "values": dict(zip(letters, m.values, strict=True)),
                "numerical_errors": dict(zip(letters, m.errors, strict=True)),
                "best": m.best,
                "verdict": m.verdict,
            }
            for m in comparison.measures
        ],
        "summaries": {side.letter: side.summary for side in comparison.sides},
    }


def figures(comparison: Comparison) -> list[ComparisonFigure]:
    """The figures that apply to the cases."""
    not_folded = [side for side in comparison.sides if not side.folds]
    sentences = " ".join(words.headline(comparison))
    plates: list[tuple[str, str, str, Callable[[Comparison], Figure]]] = [
        (
            "temperatures", "Hottest point",
            "Each case by its letter and its dash. Heating close up, then the cooling, "
            "on a scale that is not even.", temperatures,
        ),
        (
            "movements", "Movement over time",
            "While it is hot the member moves the other way first; the permanent movement "
            "is at the end of the curves.", movements,
        ),
        (
            "lines", "The bent member",
            "Offsets are many times as large as lengths, on the same scale for all.",
            lines,
        ),
        (
            "shapes", "The heated part before and after",
            "All drawn to the same scale, the movement exaggerated by the given factor.",
            shapes,
        ),
    ]  # fmt: skip
    if not not_folded:
        plates = plates[:2]
    with drawing():
        return [
            ComparisonFigure(name, heading, caption, f"{heading}. {sentences}",
                  svg(draw(comparison), heading))
            for name, heading, caption, draw in plates
        ]  # fmt: skip


def compare_page(comparison: Comparison, drawn: list[ComparisonFigure]) -> str:
    """compare.html: one page with everything in it, no scripts and no network."""
    sides = comparison.sides
    mixed = {side.case.print_units for side in sides} != {comparison.units}
    return filled_in(
        "compare/templates/compare.html.j2",
        title=f"{len(sides)} cases compared",
        headline=words.headline(comparison),
        folds=any(side.hinged for side in sides),
        sides=sides,
        differences=comparison.differences,
        mixed=mixed,
        measures=comparison.measures,
        table=words.table(comparison),
        pictures=[_for_page(figure) for figure in drawn],
        cautions=words.cautions(sides),
        trust=words.trust(comparison),
        about=[_about(side) for side in sides],
        versions=dict(sides[0].summary["versions"]),
    )


def _about(side: Side) -> dict[str, str]:
    """Origin of a case and its own report."""
    seconds = float(side.summary["seconds"].get("total", 0.0))
    return {
        "letter": side.letter,
        "title": side.title,
        "file": printable(str(side.path)),
        "kept": f"cases/{side.letter}.toml",
        "hash": str(side.summary["input_hash"]),
        "took": "found among earlier runs"
        if side.cached
        else f"took {time_text(seconds)}",
    }


def _for_page(figure: ComparisonFigure) -> dict[str, str]:
    """A figure for the page."""
    body = base64.b64encode(figure.svg).decode()
    return {
        "heading": figure.heading,
        "caption": figure.caption,
        "alt": figure.alt,
        "source": f"data:image/svg+xml;base64,{body}",
    }

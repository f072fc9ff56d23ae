"""Main results of a run, in lines for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shrinksim.commands.terminal import cautions


def outcome(summary: Mapping[str, Any], units: str) -> str:
    """Title, main quantities and cautions.  ``summary`` as in summary.json."""
    from shrinksim.views import VIEWS
    from shrinksim.views.rows import numerical_errors, terminal_rows

    measures = VIEWS[summary["view"]].stages().measures
    rows = terminal_rows(measures, summary, units)
    if not summary["converged"]:
        rows = {"outcome": "hot hinge: the member folds while hot"} | rows
    refinement = summary.get("refinement")
    if refinement:
        rows["numerical error"] = numerical_errors(measures, refinement)
    wide = max(map(len, rows)) + 2
    table = "\n".join(f"  {name:<{wide}}{value}" for name, value in rows.items())
    texts = [caution["text"] for caution in summary["cautions"]]
    return "\n".join([summary["title"], table, *cautions(texts)])

"""What a run came to, in lines for the terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shrinksim.commands.terminal import cautions


def outcome(summary: Mapping[str, Any], units: str) -> str:
    """What came out, for the terminal.  ``summary`` as in summary.json."""
    from shrinksim.views import VIEWS

    face = VIEWS[summary["view"]].face()
    margin = summary.get("hot_hinge_margin")
    rows = face.terminal(summary, units) | {
        "peak temperature": _shown(
            summary, "peak_temperature_C", "degC", "temperature", units
        ),
        "heating time": _shown(summary, "heating_time_s", "s", "time", units),
        "residual tension": _shown(
            summary, "max_residual_tension_MPa", "MPa", "stress", units
        ),
        "hot-hinge margin": "no moment on it" if margin is None else f"{margin:.2f}",
    }
    rows = {name: value for name, value in rows.items() if value}
    if not summary["converged"]:
        rows = {"outcome": "hot hinge: the member folds while hot"} | rows
    refinement = summary.get("refinement")
    if refinement:
        rows["numerical error"] = face.error(refinement)
    wide = max(map(len, rows)) + 2
    table = "\n".join(f"  {name:<{wide}}{value}" for name, value in rows.items())
    texts = [caution["text"] for caution in summary["cautions"]]
    return "\n".join([summary["title"], table, *cautions(texts)])


def _shown(
    summary: Mapping[str, Any], key: str, unit: str, dimension: str, units: str
) -> str:
    """A value of the summary in the reader's units, "" if there is none."""
    from shrinksim.units.quantity import quantity, show

    if summary.get(key) is None:  # a member that folds leaves no cold stress
        return ""
    return show(quantity(f"{summary[key]!r} {unit}", dimension), dimension, units)

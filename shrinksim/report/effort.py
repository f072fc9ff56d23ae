"""Size and time of a run, its coarser repeat, and all numbers of its summary, in rows."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shrinksim.report.reported import Reported

Row = tuple[str, str]


def effort(result: Reported) -> list[Row]:
    """Size and time of the computation, and changes in the coarser repeat."""
    heat, strain = result.heat, result.strain
    spent = ", ".join(f"{name} {value:.1f} s" for name, value in result.seconds.items())
    other = [
        _coarser(name, text) for name, text in all_numbers(result.refinement or {})
    ]
    return [
        ("unknowns: heat, strain", f"{heat.unknowns}, {strain.unknowns}"),
        ("steps: heat, strain", f"{heat.steps}, {strain.steps}"),
        ("computing time", spent),
        *other,
    ]


def _coarser(name: str, text: str) -> Row:
    """A change or error from the coarser repeat, with its unit."""
    words = name.split("_")
    unit = {"mrad": " mrad", "mm": " mm", "percent": " %"}.get(words[-1], "")
    name_in_words = " ".join(words[:-1] if unit else words)
    if name == "factor":
        return "coarser repeat: element sides and steps over those of the run", text
    if name == "torch_anew":
        return "coarser repeat: travel schedule searched for again", text
    if name_in_words.endswith(" error"):
        quantity = name_in_words.removesuffix(" error")
        return f"numerical error (standard deviation): {quantity}", text + unit
    return f"coarser repeat: {name_in_words}", text + unit


def share_of(value: float) -> str:
    """A small share in per cent."""
    return "under 0.001 %" if abs(value) < 1e-5 else f"{100.0 * value:.2g} %"


def time_above(result: Reported, limit: float) -> float:
    """Longest time (s) of one node above ``limit`` degC, straight between rows."""
    heat = result.heat
    hot = heat.peak > limit
    if not hot.any():
        return 0.0
    T = heat.temperature[:, hot] - limit
    a, b = T[:-1], T[1:]
    above = np.maximum(a, 0.0) + np.maximum(b, 0.0)
    span = np.maximum(np.abs(a) + np.abs(b), 1e-30)
    return float((np.diff(heat.times) @ (above / span)).max())


def all_numbers(summary: Mapping[str, Any], before: str = "") -> list[Row]:
    """Every number of the summary under its own name."""
    rows: list[Row] = []
    for key, value in summary.items():
        name = f"{before}{key}"
        if isinstance(value, Mapping):
            rows += all_numbers(value, f"{name}.") if key != "versions" else []
        elif isinstance(value, (bool, int, float, np.number)):
            rows.append((name, short_text(value)))
    return rows


def short_text(value: Any) -> str:
    """A value as short text."""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (float, np.floating)):
        return f"{value:.4g}"
    return str(value)

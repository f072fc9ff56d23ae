"""The run itself in words: its size and time, its coarser repeat, every number it keeps."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shrinksim.report.reported import Reported

Row = tuple[str, str]


def effort(result: Reported) -> list[Row]:
    """Size and time of the computation, and what a finer or coarser one changed."""
    heat, strain = result.heat, result.strain
    spent = ", ".join(f"{name} {value:.1f} s" for name, value in result.seconds.items())
    other = [_coarser(name, text) for name, text in further(result.refinement or {})]
    return [
        ("unknowns: heat, strain", f"{heat.unknowns}, {strain.unknowns}"),
        ("steps: heat, strain", f"{heat.steps}, {strain.steps}"),
        ("computing time", spent),
        *other,
    ]


def _coarser(name: str, text: str) -> Row:
    """What the coarser repeat gave, its unit with the number."""
    words = name.split("_")
    unit = {"mrad": " mrad", "mm": " mm", "percent": " %"}.get(words[-1], "")
    said = " ".join(words[:-1] if unit else words)
    if name == "factor":
        return "coarser repeat: sides and steps over those of the run", text
    if name == "torch_anew":
        return "coarser repeat: the torch's way looked for anew", text
    if said.endswith(" error"):
        return f"numerical error: {said.removesuffix(' error')}", text + unit
    return f"coarser repeat: {said}", text + unit


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


def further(summary: Mapping[str, Any], before: str = "") -> list[Row]:
    """Every number of the summary under its own name."""
    rows: list[Row] = []
    for key, value in summary.items():
        name = f"{before}{key}"
        if isinstance(value, Mapping):
            rows += further(value, f"{name}.") if key != "versions" else []
        elif isinstance(value, (bool, int, float, np.number)):
            rows.append((name, brief(value)))
    return rows


def brief(value: Any) -> str:
    """A value as short text."""
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (float, np.floating)):
        return f"{value:.4g}"
    return str(value)

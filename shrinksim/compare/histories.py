"""What a comparison keeps of a run besides its summary: its histories and its shape."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.runs.store import AnyCase
from shrinksim.views.protocols import is_section

if TYPE_CHECKING:
    from shrinksim.arrays import FloatArray
    from shrinksim.views.elevation.result import Result
    from shrinksim.views.section.result import SectionResult

MOST = 400
"""Times kept of a history."""


def compared(case: AnyCase) -> Mapping[str, Any]:
    """The summary of a case, and "held", "torch_way" and "traces" beside its numbers."""
    from shrinksim.views.elevation.chain import run

    result = run(case)
    return result.summary() | {
        "held": _held(case),
        "torch_way": _way(result),
        "traces": traces(result),
    }


def _held(case: AnyCase) -> bool:
    """Whether a torch is led by what the steel shows."""
    patterns = [pattern for heat in case.heats for pattern in heat.patterns]
    return any(pattern.torch.drive != "travel" for pattern in patterns)


def _way(result: Result | SectionResult) -> str:
    """A mark of what the steel saw until the last torch was off: the same in two runs
    means that the torch went the same way on the same mesh.
    """
    heat = result.heat
    on = np.flatnonzero(np.isfinite(heat.torch[:, 0]))
    last = int(on[-1]) + 1 if len(on) else 0
    seen = np.column_stack([heat.times[:last], heat.temperature[:last]])
    return hashlib.sha256(np.round(seen, 6).tobytes()).hexdigest()[:16]


def traces(result: Result | SectionResult) -> dict[str, Any]:
    """Histories and shape, SI (degC), six digits.

    hottest : time s, degC.  moved : time s and rotation rad, shortening m (elevation)
    or camber, sweep 1/m and strain (section).  torch : from, to s.  outline : closed
    line (k, 2) m, and how it moved.
    """
    from shrinksim.views.curves import torch_spells

    heat = result.heat
    hottest = heat.temperature.max(axis=1)
    movement = result.movement
    moved = {"time": movement.times} | _histories(result)
    outline, shift = _outline(result)
    return {
        "hottest": _thin({"time": heat.times, "hottest": hottest}),
        "moved": _thin(moved),
        "torch": [list(spell) for spell in torch_spells(result)],
        "outline": _list(outline),
        "shift": _list(shift),
        "heated_length": _list(movement.heated_length),
        "sense": _sense(result),
    }


def _histories(result: Result | SectionResult) -> dict[str, FloatArray]:
    """How the member moved, at the strain's times."""
    if is_section(result):
        names = ("camber", "sweep", "strain")
    else:
        names = ("rotation", "shortening")
    return {name: getattr(result.movement, f"{name}_history") for name in names}


def _outline(result: Any) -> tuple[FloatArray, FloatArray]:
    """Points (k, 2) m around what was computed, and how they moved for good."""
    if is_section(result):
        from shrinksim.views.section.deformed import fine_ring, shifted

        ring = fine_ring(result)
        return ring, shifted(result, ring)
    from shrinksim.views.elevation.deformed import ring_of

    nodes = ring_of(result)
    return result.mesh.points[nodes], result.strain.displacement[-1][nodes]


def _sense(result: Any) -> float:
    """Whether the bent member's middle goes up or down, as drawn: 1 or -1."""
    if is_section(result):
        return 1.0
    from shrinksim.views.elevation.setup_drawing import end_turn

    return 1.0 if end_turn(result, -1) > 0.0 else -1.0


def _thin(columns: Mapping[str, FloatArray]) -> dict[str, list[float]]:
    """Columns, at times with about equal changes between them when they are many."""
    from shrinksim.runs.fields import chosen

    rows = np.arange(len(columns["time"]))
    if len(rows) > MOST:
        values = [
            v / max(float(np.ptp(v)), 1e-30) for k, v in columns.items() if k != "time"
        ]
        rows = np.array(chosen(columns["time"], np.stack(values, axis=1), MOST))
    return {name: _list(values[rows]) for name, values in columns.items()}


def _list(values: Any) -> Any:
    """Numbers as lists, to six digits."""
    array = np.asarray(values, float)
    flat = [float(f"{v:.6g}") for v in array.ravel().tolist()]
    return np.array(flat).reshape(array.shape).tolist()

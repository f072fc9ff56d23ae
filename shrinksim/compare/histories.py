"""Histories and shape of a run that a comparison keeps beside its summary."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.report.fields import rows_to_write

if TYPE_CHECKING:
    from shrinksim.arrays import FloatArray
    from shrinksim.views.result import Result

MOST = 400
"""Times kept of a history."""


def compared(case: Any) -> Mapping[str, Any]:
    """The summary of a case, and "held", "torch_way" and "traces" beside its numbers."""
    from shrinksim.runs.run import run

    result = run(case)
    return result.summary() | {
        "held": result.heating.held,
        "torch_way": _schedule_hash(result),
        "traces": traces(result),
    }


def _schedule_hash(result: Result[Any, Any, Any]) -> str:
    """Hash of the temperatures until the last torch is off: equal in two runs with the
    same travel schedule on the same mesh.
    """
    heat = result.heat
    on = np.flatnonzero(np.isfinite(heat.torch[:, 0]))
    last = int(on[-1]) + 1 if len(on) else 0
    temperatures = np.column_stack([heat.times[:last], heat.temperature[:last]])
    return hashlib.sha256(np.round(temperatures, 6).tobytes()).hexdigest()[:16]


def traces(result: Result[Any, Any, Any]) -> dict[str, Any]:
    """Histories and shape, SI (degC), six digits.

    hottest : time s, degC.  moved : time s and the traces of the view's measures.
    torch : from, to s.  outline : closed line (k, 2) m, and how it moved.
    """
    heat, movement = result.heat, result.movement
    hottest = heat.temperature.max(axis=1)
    moved: dict[str, FloatArray] = {"time": result.strain.times}
    for measure in result.view.stages().measures:
        if measure.trace is not None and measure.history is not None:
            moved[measure.trace.name] = measure.history(result)
    outline, shift, sense = result.view.face().shape(result)
    return {
        "hottest": _thin({"time": heat.times, "hottest": hottest}),
        "moved": _thin(moved),
        "torch": [list(spell) for spell in heat.torch_spells],
        "outline": _list(outline),
        "shift": _list(shift),
        "heated_length": _list(movement.heated_length),
        "sense": sense,
    }


def _thin(columns: Mapping[str, FloatArray]) -> dict[str, list[float]]:
    """Columns, at times with about equal changes between them when they are many."""
    rows = np.arange(len(columns["time"]))
    if len(rows) > MOST:
        values = [
            v / max(float(np.ptp(v)), 1e-30) for k, v in columns.items() if k != "time"
        ]
        rows = np.array(rows_to_write(columns["time"], np.stack(values, axis=1), MOST))
    return {name: _list(values[rows]) for name, values in columns.items()}


def _list(values: Any) -> Any:
    """Numbers as lists, to six digits."""
    array = np.asarray(values, float)
    flat = [float(f"{v:.6g}") for v in array.ravel().tolist()]
    return np.array(flat).reshape(array.shape).tolist()

"""history.csv: every quantity of a result that has a history, over time."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.report.reported import Reported


def _rows(heat: FloatArray, strain: FloatArray) -> tuple[FloatArray, IntArray]:
    """All times (r,) of heat (s,) and strain (t,), and the row (t,) of each strain time.

    Two strain times that are equal, as when the load goes on, keep a row each.
    """
    extra = heat[~np.isin(heat, strain)]
    times = np.sort(np.concatenate([strain, extra]))
    at = np.searchsorted(times, strain, side="left")
    for k in np.flatnonzero(np.diff(strain) == 0.0) + 1:
        at[k] = at[k - 1] + 1
    return times, at


def history(result: Reported) -> dict[str, FloatArray]:
    """Columns (name with unit -> values) over every time of heat and strain.

    A stage's values at the other's times are on the straight line between its own; nan
    after the strain stopped.
    """
    heat, strain = result.heat, result.strain
    times, at = _rows(heat.times, strain.times)

    def strained(values: FloatArray) -> FloatArray:
        whole = np.interp(times, strain.times, values, right=np.nan)
        whole[at] = values
        return whole

    def heated(values: FloatArray) -> FloatArray:
        return np.interp(times, heat.times, values)

    row = np.minimum(np.searchsorted(heat.times, times), len(heat.times) - 1)
    on = np.isfinite(heat.torch[row, 0]) & (times <= heat.times[-1])
    columns = {
        "time [s]": times,
        "strain step [1 = computed]": np.isin(np.arange(len(times)), at).astype(float),
        "torch [1 = on]": on.astype(float),
        "load fraction [1]": strained(strain.fraction),
        "hottest [degC]": heated(heat.temperature.max(axis=1)),
    }
    stages = result.view.stages()
    for name, T in stages.point_temperatures(result).items():
        columns[f"temperature at {name} [degC]"] = heated(T)
    for measure in stages.measures:
        if measure.history is not None:
            spread = heated if measure.at_heat_times else strained
            columns[measure.column] = spread(measure.history(result)) / measure.scale
    return columns


def write_history(result: Reported, path: Path) -> None:
    """history.csv: one row for each time, the unit in the header, nan left empty."""
    columns = history(result)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        for row in zip(*columns.values(), strict=True):
            writer.writerow(["" if np.isnan(v) else f"{v:.7g}" for v in row])

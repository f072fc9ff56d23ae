"""Files of numbers: history.csv, and records as plain JSON."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.units.quantity import quantity
from shrinksim.views.named_points import point_temperatures
from shrinksim.views.protocols import SectionShown, Shown, is_section


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


def history(result: Shown | SectionShown) -> dict[str, FloatArray]:
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
    moved = _of_section(result) if is_section(result) else _of_member(result)
    used = 1.0 / np.maximum(result.movement.hinge_margin_history, 1e-9)
    per = "/m" if is_section(result) else ""
    columns = {
        "time [s]": times,
        "strain step [1 = computed]": np.isin(np.arange(len(times)), at).astype(float),
        "torch [1 = on]": on.astype(float),
        "load fraction [1]": strained(strain.fraction),
        "hottest [degC]": heated(heat.temperature.max(axis=1)),
    }
    for name, T in point_temperatures(result).items():
        columns[f"temperature at {name} [degC]"] = heated(T)
    return columns | {
        **{name: strained(values) for name, values in moved.items()},
        "moment over hot plastic moment [1]": strained(used),
        "largest stress [MPa]": strained(strain.hot_stress) / _one("MPa", "stress"),
        f"heat absorbed [kJ{per}]": heated(heat.absorbed) / _one("kJ", "energy"),
        f"heat lost [kJ{per}]": heated(heat.lost) / _one("kJ", "energy"),
        f"heat stored [kJ{per}]": heated(heat.stored) / _one("kJ", "energy"),
    }


def _of_member(result: Shown) -> dict[str, FloatArray]:
    """How a patch of the elevation moved and what acted on it, at the strain's times."""
    movement = result.movement
    return {
        "rotation [mrad]": movement.rotation_history / _one("mrad", "angle"),
        "shortening [mm]": movement.shortening_history / _one("mm", "length"),
        "moment [kN m]": movement.moment_history / _one("kN m", "moment"),
    }


def _of_section(result: SectionShown) -> dict[str, FloatArray]:
    """How a section moved and what acted on it, at the strain's times."""
    movement = result.movement
    curvature, moment = _one("mrad/m", "curvature"), _one("kN m", "moment")
    return {
        "camber [mrad/m]": movement.camber_history / curvature,
        "sweep [mrad/m]": movement.sweep_history / curvature,
        "strain along the member [mm/m]": movement.strain_history * 1e3,
        "camber moment [kN m]": movement.camber_moment_history / moment,
        "sweep moment [kN m]": movement.sweep_moment_history / moment,
    }


def _one(unit: str, dimension: str) -> float:
    return quantity(f"1 {unit}", dimension)


def write_history(result: Shown | SectionShown, path: Path) -> None:
    """history.csv: one row for each time, the unit in the header, nan left empty."""
    columns = history(result)
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        for row in zip(*columns.values(), strict=True):
            writer.writerow(["" if np.isnan(v) else f"{v:.7g}" for v in row])

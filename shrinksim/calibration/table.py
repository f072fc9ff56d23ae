"""Table of a calibration's heats: input, computed results, and the formula's estimate."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from typing import Any

import numpy as np

from shrinksim.calibration.fitting import LICENCE, Computed
from shrinksim.calibration.formula_use import NAMES, Calibration, estimated, given_of


def data_table(
    calibration: Calibration, data: Sequence[Computed]
) -> dict[str, list[Any]]:
    """Columns (name with unit -> values) of all heats, those left out too."""
    table: dict[str, list[Any]] = {}

    def put(name: str, values: Sequence[Any]) -> None:
        table[name] = list(values)

    put("heat [1]", range(1, len(data) + 1))
    put("used for [-]", ["trying" if d.fresh else "fitting" for d in data])
    for name in ("section", "steel", "cooling", "load"):
        if name in data[0].point:
            put(f"{name} [-]", [d.point[name] for d in data])
    given = [given_of(d.heat) for d in data]
    for name, (words, unit) in NAMES.items():
        if name in given[0]:
            put(f"{words} [{unit or '1'}]", [g[name] for g in given])
    put("radius of the torch [mm]", [d.heat.radius * 1e3 for d in data])
    put("net power at the vee [kW]", [d.heat.power * 1e-3 for d in data])
    put("outcome [-]", [d.run.outcome for d in data])
    put("turn [mrad]", [d.turn if d.whole else None for d in data])
    put("numerical error of the turn [mrad]", [d.error for d in data])
    estimates = [estimated(calibration, d.heat) for d in data]
    put("turn by the formula [mrad]", [1e3 * e.turn for e in estimates])
    put("standard deviation [mrad]", [1e3 * e.sigma for e in estimates])
    put("inside the data [1 = yes]", [int(e.inside) for e in estimates])
    for name, key in OTHERS.items():
        put(name, [(d.run.summary or {}).get(key) if d.whole else None for d in data])
    put("computing time [s]", [d.run.record.get("seconds") for d in data])
    put("reason [-]", [d.run.reason for d in data])
    put("run [-]", [d.run.key for d in data])
    return table


OTHERS = {
    "shortening [mm]": "shortening_mm",
    "hottest steel [degC]": "peak_temperature_C",
    "heating time [s]": "heating_time_s",
    "cooling time [s]": "cooling_time_s",
    "hot plastic moment over the moment [1]": "hot_hinge_margin",
    "largest residual tension [MPa]": "max_residual_tension_MPa",
}


def csv_text(calibration: Calibration, data: Sequence[Computed]) -> str:
    """The table as CSV; lines with # say what it is and the licence."""
    of, made = calibration.of, calibration.record.get("made_by", "")
    text = io.StringIO(newline="")
    text.write(f"# Heats of the calibration of {of}, {made}. {LICENCE}.\n")
    text.write("# Computed by a finite-element model, not measured.\n")
    columns = data_table(calibration, data)
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    for row in zip(*columns.values(), strict=True):
        writer.writerow([_cell(value) for value in row])
    return text.getvalue()


def _cell(value: Any) -> str:
    if value is None or (isinstance(value, float) and not np.isfinite(value)):
        return ""
    return f"{value:.6g}" if isinstance(value, float) else str(value)

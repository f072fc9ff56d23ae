"""Vee heats on a plate against the published relation: a table, no pass or fail.

The relation (from memory): rotation = (0.6 + 2 M/Mp) 0.0147 sin(angle/3) rad for a heat
to 650 degC, the mean of many heats on plates with jacks; Avent, Mukai & Robinson, J.
Struct. Eng. 2000, and the FHWA guide for heat-straightening, ch. 5.  Nothing is fitted.

    python benchmarks/published_vee.py
"""

from __future__ import annotations

import json
import platform
import sys
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim import __version__, run
from shrinksim.views.reading import case_from

TARGET = 650
"""degC of the hottest steel, the temperature of the published heats."""

ANGLES = (20, 30, 45, 60)
RATIOS = (0.0, 0.25, 0.5)
PLATE = {"section": "plate", "width": "4 in", "thickness": "1/4 in"}


def published(angle: float, ratio: float) -> float:
    """Rotation, mrad, of the published relation."""
    return (0.6 + 2.0 * ratio) * 14.7 * np.sin(np.radians(angle) / 3.0)


def computed(angle: float, ratio: float, kind: str, **steel: Any) -> float:
    """Rotation, mrad, with the default torch and steel."""
    load = {"kind": "none"}
    if ratio:
        load = {"kind": kind, "moment": f"{ratio} Mp"}
        if kind == "jack":
            load["stiffness"] = "1 EI/L"
    vee = {"kind": "vee", "angle": f"{angle} deg", "depth_ratio": 0.75, "open": "top"}
    tables = {
        "title": "published vee",
        "member": PLATE,
        "steel": {"grade": "A36", **steel},
        "torch": {"target": f"{TARGET} degC"},
        "load": load,
        "heat": [{"pattern": [vee]}],
    }
    return run(case_from(tables, "published vee", Path())).movement.rotation * 1e3


def main() -> int:
    """Print the table and write it beside this file."""
    rows = []
    print(
        "angle  M/Mp  published   jack  weight   jack, real yield 1.2 x nominal [mrad]"
    )
    for angle in ANGLES:
        for ratio in RATIOS:
            row = {
                "angle_deg": angle,
                "moment_ratio": ratio,
                "published_mrad": published(angle, ratio),
                "jack_mrad": computed(angle, ratio, "jack"),
                "weight_mrad": computed(angle, ratio, "weight") if ratio else None,
            }
            strong = ratio / 1.2
            row["jack_strong_mrad"] = computed(
                angle, strong, "jack", yield_stress="298 MPa"
            )
            rows.append(row)
            weight = (
                "     -" if row["weight_mrad"] is None else f"{row['weight_mrad']:6.2f}"
            )
            print(
                f"{angle:5d}  {ratio:4.2f}  {row['published_mrad']:9.2f} "
                f"{row['jack_mrad']:6.2f}  {weight}   {row['jack_strong_mrad']:6.2f}",
                flush=True,
            )
    folder = Path(__file__).parent / "results"
    folder.mkdir(exist_ok=True)
    record = {
        "problem": "published vee",
        "shrinksim": __version__,
        "python": platform.python_version(),
        "numpy": np.__version__,
        "machine": platform.machine(),
        "rows": rows,
    }
    name = folder / f"published_vee_{platform.machine()}.json"
    name.write_text(json.dumps(record, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""Three vee heats at one place: how much of the first heat's turn comes again.

Plate 100 x 6 mm, S235, 45 degree vee, small heating tip, hottest steel led to 640 degC,
each heat left in still air until it is cold; by kind of hardening and by the
temperature at which hardening is forgotten.  A table, no pass or fail.

    python benchmarks/repeated_heats.py                # one to two minutes
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim import __version__, run
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result

HEATS = 3
BAR = {"section": "plate", "width": "100 mm", "thickness": "6 mm"}
VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
COLD = {"kind": "still air", "until": "25 degC"}
LOADS: dict[str, dict[str, Any]] = {
    "free": {"kind": "none"},
    "jack": {"kind": "jack", "moment": "0.25 Mp", "stiffness": "1 EI/L"},
    "weight": {"kind": "weight", "moment": "0.25 Mp"},
}
HARDENINGS = ("isotropic", "kinematic", "mixed")
RECORD = Path(__file__).parent / "results" / f"repeated_{platform.machine()}.json"


def specs() -> Iterator[tuple[str, str, str]]:
    """Load, hardening and annealing temperature of every run."""
    for load in ("free", "jack"):
        for hardening in HARDENINGS:
            yield load, hardening, "800 degC"
    yield "free", "isotropic", "none"
    for load in ("free", "jack"):
        yield load, "isotropic", "600 degC"
    yield "free", "kinematic", "600 degC"
    for hardening in ("isotropic", "kinematic"):
        yield "weight", hardening, "800 degC"


def computed(load: str, hardening: str, annealing: str) -> Result:
    """Three heats of one case."""
    tables = {
        "title": "repeated heats",
        "member": BAR,
        "steel": {"grade": "S235", "hardening": hardening, "annealing": annealing},
        "torch": {"flame": "heating tip, small", "target": "640 degC"},
        "load": LOADS[load],
        "heat": [{"pattern": [VEE], "cooling": COLD}] * HEATS,
    }
    return run(case_from(tables, "repeated heats", Path()))


def turns(result: Result) -> tuple[list[float], list[float]]:
    """Turn without the load's elastic part (mrad), and moment over the first, when each
    heat is cold.

    The elastic part is taken from the first knot, where the load goes onto the cold bar.
    """
    moved, heat = result.movement, result.heat
    names = np.array([f"heat {name.heat}" for name in heat.phases])
    first = float(moved.moment_history[1])
    give = float(moved.rotation_history[1]) / first if first else 0.0
    left = moved.rotation_history - give * moved.moment_history
    ends = [heat.times[names == f"heat {k + 1}"][-1] for k in range(HEATS)]
    last = len(moved.times) - 1 if not first else len(moved.times) - 2
    t = moved.times[1 : last + 1]
    turn = [float(np.interp(end, t, left[1 : last + 1])) * 1e3 for end in ends]
    kept = np.interp(ends, t, moved.moment_history[1 : last + 1])
    return turn, [float(m) / first for m in kept] if first else []


def row_of(load: str, hardening: str, annealing: str) -> dict[str, Any]:
    """The numbers of one run."""
    result = computed(load, hardening, annealing)
    turn, kept = turns(result)
    return {
        "load": load,
        "hardening": hardening,
        "annealing": annealing,
        "outcome": result.outcome,
        "turn_mrad": turn,
        "per_heat_mrad": np.diff([0.0, *turn]).tolist(),
        "moment_kept": kept,
        "rotation_mrad": result.movement.rotation * 1e3,
        "peak_C": float(result.heat.peak.max()),
        "largest_plastic_strain": float(result.strain.equivalent_plastic.max()),
        "heat_imbalance": result.heat.imbalance,
        "seconds": result.seconds["total"],
    }


def main() -> int:
    """Run, print the table and write it beside this file."""
    rows = []
    print("load    hardening  forgotten at   turn by each heat, mrad   load left")
    for spec in specs():
        row = row_of(*spec)
        rows.append(row)
        each = " ".join(f"{turn:6.3f}" for turn in row["per_heat_mrad"])
        kept = " ".join(f"{part:.2f}" for part in row["moment_kept"])
        print(f"{spec[0]:7} {spec[1]:10} {spec[2]:12} {each}   {kept}", flush=True)
        record = {
            "problem": "repeated heats",
            "shrinksim": __version__,
            "python": platform.python_version(),
            "numpy": np.__version__,
            "machine": platform.machine(),
            "rows": rows,
        }
        RECORD.parent.mkdir(exist_ok=True)
        RECORD.write_text(json.dumps(record, indent=1), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

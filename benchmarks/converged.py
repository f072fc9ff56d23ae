"""The values that the reference problem's errors are told against, by two programs.

    python benchmarks/converged.py                     # some ten minutes

Both cases of `tests/reference_problem.py` on uniform meshes of quadratic triangles with
backward Euler steps, each mesh with 60 + 100 steps and with twice, four and eight times
as many, by the package and, where it does not take too long, by scikit-fem (``kept``).
Rotations of one row are extrapolated to endless steps by Richardson's rule, its order
being what the row shows; what the limits of the rows tend to is the converged value.
The package's own way, graded meshes and second-order heat steps, goes beside it.
Writes results/converged_<machine>.json.
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from pathlib import Path
from typing import Any

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE.parent / "tests"))

import peer_scikit_fem as peer  # noqa: E402 (tests' folder comes first)
import reference_problem as reference  # noqa: E402

from shrinksim.fem.mesher import graded  # noqa: E402
from shrinksim.strain import knots  # noqa: E402
from shrinksim.views.result import versions_here  # noqa: E402

OURS = {20: (1, 2, 4, 8), 10: (1, 2, 4, 8), 5: (1, 2, 4)}
"""Side of the triangles, mm: how many times 60 + 100 steps."""
THEIRS = {20: (1, 2, 4), 10: (1, 2)}
GRADED = [
    (8, 0.1, 2.0),
    (4, 0.1, 2.0),
    (4, 0.025, 0.5),
    (2.5, 0.1, 2.0),
    (2.5, 0.025, 0.5),
]
"""Element side in the vee (mm), heat tolerance (K), temperature step (K)."""

FORCES = 1e-6
"""Out of balance: what 1e-4 leaves adds up to 0.1 % over a thousand steps."""


def ours(number: int, side: float, times: int) -> float:
    """Rotation, mrad, of the package with ``times`` the steps."""
    mesh = reference.uniform_mesh(side * 1e-3)
    ends = reference.step_ends(60 * times, 100 * times)
    case = reference.CASES[number]
    answer = reference.solve(mesh, case, ends, tolerance=FORCES, newton=1e-4)
    return 1e3 * answer.rotation


def theirs(number: int, side: float, times: int) -> float:
    """Rotation, mrad, of scikit-fem with ``times`` the steps."""
    mesh = reference.uniform_mesh(side * 1e-3)
    ends = reference.step_ends(60 * times, 100 * times)
    problem = peer.plate_problem(mesh, reference.CASES[number], ends)
    return 1e3 * peer.solve(problem, tolerance=FORCES, plain=False).rotation


def own_way(number: int, side: float, tolerance: float, step: float) -> float:
    """Rotation, mrad, with a graded mesh and steps of the package's choice."""
    mesh = reference.mesh(graded([reference.OUTLINE], side * 1e-3, 0.03))
    case = reference.CASES[number]
    warm = reference.heat(mesh, case, None, True, tolerance)
    rows = knots(warm.times, warm.temperature, step)
    T = warm.temperature[rows]
    moved = reference.strain(mesh, case, warm.times[rows], T, FORCES)
    return 1e3 * reference.movement(mesh, moved.displacement[-1])[0]


def limit(values: list[float]) -> float | None:
    """Where a row goes as its steps are halved for ever, from its last three."""
    if len(values) < 3:
        return None
    a, b, c = values[-3:]
    if not 0.0 < (c - b) / (b - a) < 1.0:
        return None
    return c + (c - b) ** 2 / ((b - a) - (c - b))


def main() -> None:
    """Compute, print, write."""
    rows: list[dict[str, Any]] = []
    for number in reference.CASES:
        for code, solve, plan in (
            ("shrinksim", ours, OURS),
            ("scikit-fem", theirs, THEIRS),
        ):
            for side, steps in plan.items():
                began = time.perf_counter()
                values = [solve(number, side, times) for times in steps]
                row = {
                    "case": number,
                    "code": code,
                    "side_mm": side,
                    "times_160_steps": list(steps),
                    "rotation_mrad": values,
                    "limit_mrad": limit(values),
                    "wall_s": time.perf_counter() - began,
                }
                rows.append(row)
                told = " ".join(f"{v:8.5f}" for v in values)
                end = "" if row["limit_mrad"] is None else f"-> {row['limit_mrad']:.5f}"
                print(f"case {number} {code:12}{side:5g} mm  {told} {end}", flush=True)
        for setting in GRADED:
            value = own_way(number, *setting)
            rows.append(
                {
                    "case": number,
                    "code": "shrinksim, its own steps",
                    "side_mm": setting[0],
                    "heat_tolerance_K": setting[1],
                    "temperature_step_K": setting[2],
                    "rotation_mrad": value,
                }
            )
            print(f"case {number} graded {setting}: {value:.5f}", flush=True)
    record = {"versions": versions_here(), "rows": rows}
    path = HERE / "results" / f"converged_{platform.machine()}.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

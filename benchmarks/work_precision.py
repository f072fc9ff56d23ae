"""Work against precision: seconds for an error of the reference problem's rotation.

    python benchmarks/work_precision.py

Both cases of `tests/reference_problem.py`.  The package runs as it does by default: mesh
graded from the vee, second-order heat steps and joined strain steps of its own choice.
scikit-fem (test extra) runs uniform meshes of 20 and 10 mm with quadratic temperatures and
backward Euler steps, ``plain`` and ``kept`` as in `reference_problem.py`: its error falls
with its steps.  Errors are against values that two programs agree on and that are good
to 0.2 and 0.15 % (`converged.py`).  One thread, CPU seconds,
caches warm, side by side in one run; writes results/work_precision_<machine>.json, .png.
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

CONVERGED = {1: 3.356, 2: 1.0685}
BAND = {1: 0.2, 2: 0.15}
"""mrad, and how good they are, %."""
TICKS = 0.1, 0.3, 1.0, 3.0, 10.0, 30.0
OURS = [
    (20, 4.0, 30.0),
    (12, 4.0, 30.0),
    (8, 4.0, 30.0),
    (8, 0.5, 8.0),
    (6, 0.25, 4.0),
    (4, 0.1, 2.0),
    (4, 0.025, 0.5),
]
"""Element side in the vee (mm), heat tolerance (K), temperature step (K)."""
PEERS = [(20, 60, 100), (20, 120, 200), (20, 240, 400), (10, 60, 100), (10, 120, 200)]
"""Side of the triangles (mm), heating and cooling steps."""


def ours(number: int, side: float, tolerance: float, step: float) -> dict[str, Any]:
    """One run of the package."""
    mesh = reference.mesh(graded([reference.OUTLINE], side * 1e-3, 0.03))
    case = reference.CASES[number]
    wall, cpu = time.perf_counter(), time.process_time()
    warm = reference.heat(mesh, case, None, True, tolerance)
    rows = knots(warm.times, warm.temperature, step)
    moved = reference.strain(
        mesh, case, warm.times[rows], warm.temperature[rows], 1e-4
    )  # fmt: skip
    turn, _ = reference.movement(mesh, moved.displacement[-1])
    name = f"{side} mm, {tolerance:g} K, {step:g} K"
    return row("shrinksim", name, number, 2 * len(mesh.points), turn, wall, cpu)


def theirs(
    number: int, side: int, steps: tuple[int, int], plain: bool
) -> dict[str, Any]:
    """One run of scikit-fem."""
    mesh = reference.uniform_mesh(side * 1e-3)
    problem_mesh = peer.plate_problem(
        mesh, reference.CASES[number], reference.step_ends(*steps)
    )  # fmt: skip
    wall, cpu = time.perf_counter(), time.process_time()
    answer = peer.solve(problem_mesh, plain=plain)
    kind = f"scikit-fem {'plain' if plain else 'kept'}, {answer.factor}, {side} mm"
    name = f"{steps[0]} + {steps[1]} steps"
    return row(kind, name, number, 2 * len(mesh.points), answer.rotation, wall, cpu)


def row(
    code: str, setting: str, case: int, unknowns: int, turn: float, wall: float,
    cpu: float,
) -> dict[str, Any]:  # fmt: skip
    """A line of the table; clocks as they were before."""
    return {
        "code": code,
        "setting": setting,
        "case": case,
        "unknowns": unknowns,
        "rotation_mrad": turn * 1e3,
        "error_percent": 100.0 * (turn * 1e3 / CONVERGED[case] - 1.0),
        "cpu_s": time.process_time() - cpu,
        "wall_s": time.perf_counter() - wall,
    }


def draw(rows: list[dict[str, Any]], path: Path) -> None:
    """Error against seconds, a panel for each case."""
    import matplotlib as mpl

    mpl.use("Agg")
    import matplotlib.pyplot as plt
    from matplotlib.ticker import NullFormatter

    figure, panels = plt.subplots(1, 2, figsize=(9, 4), sharey=True)
    codes = list(dict.fromkeys(r["code"] for r in rows))
    for number, axes in zip((1, 2), panels, strict=True):
        for code, mark in zip(codes, "os^Dv", strict=False):
            mine = [r for r in rows if r["case"] == number and r["code"] == code]
            x = [r["cpu_s"] for r in mine]
            y = [abs(r["error_percent"]) for r in mine]
            axes.loglog(x, y, mark + "-", label=code)
        axes.set(title=f"case {number}", xlabel="CPU time [s]", xticks=TICKS)
        axes.set_xticklabels([f"{tick:g}" for tick in TICKS])
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.grid(alpha=0.3, which="both")
        axes.axhspan(1e-2, BAND[number], color="0.9")
        axes.annotate("not known", (28.0, 0.9 * BAND[number]), ha="right", va="top")
        axes.set_ylim(1e-2, 15.0)
    panels[0].set_ylabel("error of the rotation [%]")
    panels[0].legend(loc="lower left", fontsize="small")
    figure.tight_layout()
    figure.savefig(path, dpi=120)


def main() -> None:
    """Measure, print, write."""
    ours(1, 20, 4.0, 30.0)
    theirs(1, 20, (12, 18), False)
    rows = []
    for number in (1, 2):
        for setting in OURS:
            rows.append(ours(number, *setting))
        for side, *steps in PEERS:
            rows += [
                theirs(number, side, (steps[0], steps[1]), plain)
                for plain in (True, False)
            ]
    for r in rows:
        print(
            f"case {r['case']}  {r['code']:34} {r['setting']:24} {r['unknowns']:5d} "
            f"{r['rotation_mrad']:7.4f} mrad {r['error_percent']:+6.2f} % "
            f"{r['cpu_s']:6.2f} s"
        )
    name = f"work_precision_{platform.machine()}"
    record = {"versions": versions_here(), "converged_mrad": CONVERGED, "rows": rows}
    text = json.dumps(record, indent=1) + "\n"
    (HERE / "results" / f"{name}.json").write_text(text, encoding="utf-8")
    draw(rows, HERE / "results" / f"{name}.png")


if __name__ == "__main__":
    main()

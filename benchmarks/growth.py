"""How time and memory grow with the mesh, at the same steps.

    python benchmarks/growth.py [--smallest]

Reference problem 1 (60 + 100 steps, T6 for temperature and displacement), 1.7 to 91
thousand unknowns, each in a process of its own on one thread, warmed up on a small mesh.
Memory is the peak above what the process had after that warm-up.  A step that had to be
cut or done anew counts as failed.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.runs.workers import ONE_THREAD

HERE = Path(__file__).resolve().parent
STEPS = 60, 100
SIDES = [0.02, 0.01, 0.005, 0.0025]


def peak() -> float:
    """MB that this process has had at most."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def one_run(side: float) -> dict[str, Any]:
    """Solve once in this process.  side : m, of the triangles."""
    sys.path.insert(0, str(HERE.parent / "tests"))
    import reference_problem as reference

    case = reference.CASES[1]
    reference.solve(reference.uniform_mesh(0.04), case, reference.step_ends(12, 18))
    before = peak()
    mesh, ends = reference.uniform_mesh(side), reference.step_ends(*STEPS)
    wall, cpu = time.perf_counter(), time.process_time()
    answer = reference.solve(mesh, case, ends)
    return {
        "unknowns": 2 * len(mesh.points),
        "cpu_s": time.process_time() - cpu,
        "wall_s": time.perf_counter() - wall,
        "above_mb": peak() - before,
        "peak_mb": peak(),
        "rotation_mrad": 1e3 * answer.rotation,
        "iterations": answer.iterations,
        "cut_steps": answer.steps - (sum(STEPS) + 3),
    }


def main() -> int:
    parser = argparse.ArgumentParser(description="Time and memory against size.")
    parser.add_argument("--smallest", action="store_true", help="two small sizes")
    parser.add_argument("--child", type=float, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.child:
        print(json.dumps(one_run(given.child)))
        return 0
    rows = []
    print(
        f"{'unknowns':>9}{'CPU s':>8}{'wall s':>8}{'MB above':>10}{'mrad':>9}  cut steps"
    )
    for side in SIDES[: 2 if given.smallest else None]:
        words = [sys.executable, __file__, "--child", str(side)]
        env = os.environ | dict.fromkeys(ONE_THREAD, "1")
        done = subprocess.run(words, env=env, capture_output=True, text=True)
        if done.returncode:
            raise SystemExit(done.stderr)
        rows.append(json.loads(done.stdout.splitlines()[-1]))
        r = rows[-1]
        print(
            f"{r['unknowns']:9d}{r['cpu_s']:8.2f}{r['wall_s']:8.2f}{r['above_mb']:10.0f}"
            f"{r['rotation_mrad']:9.4f}{r['cut_steps']:6d}",
            flush=True,
        )
    n, t = np.log([[r["unknowns"], r["cpu_s"]] for r in rows]).T
    power, steepest = np.polyfit(n, t, 1)[0], np.max(np.diff(t) / np.diff(n))
    print(
        f"time grows as unknowns^{power:.2f}, at most ^{steepest:.2f} between two sizes"
    )
    if not given.smallest:
        from reference_problem import conditions

        record = {**conditions("scikit-fem"), "rows": rows, "power": power}
        target = HERE / "results" / "growth_x86_64.json"
        target.write_text(json.dumps(record, indent=1) + "\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""How near a step is to what the machine can do: flops, bytes and measured peaks.

    python benchmarks/floor.py [--sizes 2 6 23 91]

One thread.  Peaks: dgemm of 1024 square for floating-point operations, a triad
a = b + s c over 64 MB arrays for memory.  The factor is set against the peak of dgemm by
its exact number of multiplications and additions; the solve, which reads every number of
the factor twice, against the triad; the element sweep (return mapping and residual, and
the tangent) against both by the bytes that it must read and write at the least.
"""

from __future__ import annotations

import argparse
import json
import platform
import sys
import time
from collections.abc import Callable
from datetime import date
from importlib.metadata import version
from pathlib import Path

import numpy as np
from scipy.linalg.blas import dgemm

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import reference_problem as reference
from reference_steel import strain_table
from sparse_factor import SIDES, stiffness

from shrinksim.fem.frontal import Fronts
from shrinksim.fem.sparse import one_blas_thread, ties
from shrinksim.fem.structure import support
from shrinksim.strain import strain_body

HERE = Path(__file__).resolve().parent


def least(work: Callable[[], object], repeat: int = 7) -> float:
    """Shortest time (s) of a few."""
    times = []
    for _ in range(repeat):
        began = time.perf_counter()
        work()
        times.append(time.perf_counter() - began)
    return min(times)


def peaks() -> tuple[float, float]:
    """Floating-point operations (1/s) and bytes (1/s) of one thread."""
    n = 1024
    a = np.asfortranarray(np.random.default_rng(0).random((n, n)))
    flops = 2.0 * n**3 / least(lambda: dgemm(1.0, a, a))
    b, c = np.ones(8_000_000), np.ones(8_000_000)
    out = np.empty_like(b)

    def triad() -> None:
        np.multiply(c, 3.0, out=out)
        np.add(out, b, out=out)

    return flops, 5.0 * 8.0 * len(b) / least(triad)


def factor_flops(plan: Fronts) -> float:
    """Multiplications and additions of a factor: sum over columns of (height below)^2."""
    total = 0.0
    for count, rest in zip(np.diff(plan.first), np.diff(plan.ends), strict=True):
        below = np.arange(count) + float(rest)
        total += float(np.sum(below * (below + 2.0) + 1.0))
    return total


def sweep_times(side: float) -> tuple[float, float, int]:
    """Seconds of an evaluation and of a tangent with its sum, and elements."""
    mesh = reference.uniform_mesh(side)
    body = strain_body(mesh, reference.THICKNESS, strain_table())
    held = np.unique(mesh.edges["left"])
    hang = ties(2 * len(mesh.points), np.concatenate([2 * held, 2 * held + 1]))
    structure = body.structure(support(hang))
    T = 20.0 + 500.0 * np.exp(-np.sum(mesh.points**2, axis=1) / 0.05**2)
    phase_strain = np.zeros((len(mesh.triangles), 3))
    evaluate = structure.evaluator(structure.begin, T, 0.0, phase_strain)
    q = np.zeros(hang.unknowns)
    point = evaluate(q)
    point.matrix()
    return least(lambda: evaluate(q)), least(point.matrix), len(mesh.triangles)


def measured(size: int, flops: float, stream: float) -> dict[str, float]:
    """One row of the table."""
    plan, matrix, _ = stiffness(SIDES[size])
    fronts = plan.layout
    if not isinstance(fronts, Fronts):
        from shrinksim.fem.frontal import fronts as planned

        entries = matrix.tocoo()
        fronts = planned(
            entries.row.astype(np.int64), entries.col.astype(np.int64), matrix.shape[0]
        )
    entries = matrix.tocoo()
    i, j = fronts.order[entries.row], fronts.order[entries.col]
    low = i >= j
    position, values = fronts.positions(i[low], j[low]), entries.data[low]

    def factored() -> Callable[[np.ndarray], np.ndarray]:
        storage = np.zeros(fronts.size)
        storage[position] = values
        solve = fronts.factorise(storage)
        assert solve is not None
        return solve

    solve, b = factored(), np.ones(matrix.shape[0])
    spent, back = least(factored), least(lambda: solve(b))
    evaluation, tangent, elements = sweep_times(SIDES[size])
    work = factor_flops(fronts)
    points = 3 * elements
    state = points * 8.0 * (3 + 3 + 3 + 1) * 2 + elements * 8.0 * (6 * 4 + 3 * 12)
    blocks = elements * 8.0 * 144 * 2
    return {
        "unknowns": matrix.shape[0],
        "factor_ms": 1e3 * spent,
        "factor_Mflop": work / 1e6,
        "factor_share_of_peak": work / spent / flops,
        "solve_ms": 1e3 * back,
        "solve_share_of_stream": 2.0 * 8.0 * fronts.size / back / stream,
        "evaluation_ms": 1e3 * evaluation,
        "evaluation_share_of_stream": state / evaluation / stream,
        "tangent_ms": 1e3 * tangent,
        "tangent_share_of_stream": (blocks + 8.0 * fronts.size) / tangent / stream,
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sizes", type=int, nargs="+", default=list(SIDES))
    options = parser.parse_args()
    with one_blas_thread():
        flops, stream = peaks()
        rows = [measured(size, flops, stream) for size in options.sizes]
    print(f"peaks of one thread: {flops / 1e9:.1f} Gflop/s, {stream / 1e9:.1f} GB/s")
    print("| " + " | ".join(rows[0]) + " |")
    for row in rows:
        print("| " + " | ".join(f"{value:.3g}" for value in row.values()) + " |")
    packages = ("numpy", "scipy", "numba")
    record = {
        "date": date.today().isoformat(),
        "machine": platform.machine(),
        "python": platform.python_version(),
        "versions": {name: version(name) for name in packages},
        "peak_flops": flops,
        "peak_bytes_per_s": stream,
        "rows": rows,
    }
    path = HERE / "results" / f"floor_{platform.machine()}.json"
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

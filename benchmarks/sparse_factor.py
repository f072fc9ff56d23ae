"""Sparse factors side by side in one run: SuperLU, band, fronts and, if there, CHOLMOD.

    python benchmarks/sparse_factor.py [--sizes 2 6 23 91] [--repeat 10]

The elastic stiffness of the plate of reference problem 1 (T6, clamped at one end) in
double precision on one thread.  Planning, done once for a mesh, includes the ordering;
a factor is of new numbers on the same pattern, which ours first put into their storage
and SuperLU orders again; the least of ``repeat`` counts.  CHOLMOD takes the system's
BLAS, which may be the slow reference one: the list at the end names the fast ones.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import time
from collections.abc import Callable
from datetime import date
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from scipy.sparse import csc_array, csc_matrix
from scipy.sparse.linalg import splu
from threadpoolctl import threadpool_info

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import reference_problem as reference

from shrinksim.fem.band import band
from shrinksim.fem.basis import quadrature
from shrinksim.fem.frontal import fronts
from shrinksim.fem.kernels.plane import plane_stiffness
from shrinksim.fem.sparse import Assembly, assembly, one_blas_thread, ties

HERE = Path(__file__).resolve().parent
RESULTS = HERE / "results"
ONE_THREAD = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1"
)
SIDES = {2: 0.02, 6: 0.01, 23: 0.005, 91: 0.0025}
"""Thousands of unknowns: side of the triangles, m."""

AGREE = 1e-8
Solve = Callable[[np.ndarray], np.ndarray]


def stiffness(side: float) -> tuple[Assembly, csc_array, np.ndarray]:
    """The package's plan, the matrix, and an x along the plate for every unknown."""
    mesh = reference.uniform_mesh(side)
    rule = quadrature(mesh, "interior 3")
    moduli = np.zeros((*rule.area.shape, 6))
    weight = 2.1e11 / (1 - 0.3**2) * reference.THICKNESS * rule.area
    for entry, value in enumerate((1.0, 1.0, 0.35, 0.3, 0.0, 0.0)):
        moduli[..., entry] = value * weight
    blocks = np.empty((len(mesh.triangles), 12, 12))
    plane_stiffness(np.ascontiguousarray(rule.dN), moduli, blocks)
    held = np.unique(mesh.edges["left"])
    hang = ties(2 * len(mesh.points), np.concatenate([2 * held, 2 * held + 1]))
    dofs = np.stack([2 * mesh.triangles, 2 * mesh.triangles + 1], axis=2)
    dofs = dofs.reshape(-1, 12)
    x = np.repeat(mesh.points[:, 0], 2)
    plan = assembly(dofs, hang, x)
    number = hang.target[dofs, 0]
    shape = (*dofs.shape, 12)
    i = np.broadcast_to(number[:, :, None], shape).ravel()
    j = np.broadcast_to(number[:, None, :], shape).ravel()
    kept = (i >= 0) & (j >= 0)
    whole = np.tril(blocks) + np.tril(blocks, -1).transpose(0, 2, 1)
    m = hang.unknowns
    matrix = csc_array((whole.ravel()[kept], (i[kept], j[kept])), shape=(m, m))
    matrix.sum_duplicates()
    return plan, matrix, x[hang.target[:, 0] >= 0]


def superlu(a: csc_array) -> Solve:
    lu = splu(
        a,
        permc_spec="MMD_AT_PLUS_A",
        diag_pivot_thresh=0.0,
        options={"SymmetricMode": True},
    )
    return lu.solve


def cholmod(matrix: csc_array) -> Callable[[csc_array], Solve]:
    from sksparse.cholmod import analyze

    symbolic = analyze(csc_matrix(matrix), mode="supernodal")

    def factor(a: csc_array) -> Solve:
        symbolic.cholesky_inplace(csc_matrix(a))
        return symbolic

    return factor


def ours(plan: Any, matrix: csc_array) -> Callable[[csc_array], Solve]:
    entries = matrix.tocoo()
    i, j = plan.order[entries.row], plan.order[entries.col]
    low = i >= j
    position = plan.positions(i[low], j[low])

    def factor(a: csc_array) -> Solve:
        storage = np.zeros(plan.size)
        storage[position] = a.data[low]
        return plan.factorise(storage)

    return factor


def planned(
    name: str, matrix: csc_array, along: np.ndarray
) -> Callable[[csc_array], Solve]:
    """What factorises new numbers on the pattern of the matrix."""
    if name == "SuperLU":
        return superlu
    if name == "CHOLMOD":
        return cholmod(matrix)
    entries, m = matrix.tocoo(), matrix.shape[0]
    i, j = entries.row.astype(np.int64), entries.col.astype(np.int64)
    plan = band(i, j, m, along) if name == "band" else fronts(i, j, m)
    return ours(plan, matrix)


def measure(
    name: str, matrix: csc_array, along: np.ndarray, repeat: int
) -> tuple[dict[str, float], np.ndarray]:
    """Milliseconds of one factorisation and the answer to a load of ones."""
    began = time.perf_counter()
    factor = planned(name, matrix, along)
    plan = time.perf_counter() - began
    b, x = np.ones(matrix.shape[0]), np.empty(0)
    factors, solves = [], []
    for _ in range(repeat):
        began = time.perf_counter()
        solve = factor(matrix)
        middle = time.perf_counter()
        x = solve(b)
        solves.append(time.perf_counter() - middle)
        factors.append(middle - began)
    times = {"plan": plan, "factor": min(factors), "solve": min(solves)}
    return {word: 1e3 * value for word, value in times.items()}, x


def one_size(thousands: int, names: list[str], repeat: int) -> dict[str, Any]:
    """All factors of one size, printed."""
    plan, matrix, along = stiffness(SIDES[thousands])
    runs, answers = {}, {}
    for name in names:
        runs[name], answers[name] = measure(name, matrix, along, repeat)
    chosen = type(plan.layout).__name__.lower()
    print(f"\n{matrix.shape[0]} unknowns; the package chooses {chosen}")
    print(
        f"{'':10}{'plan ms':>10}{'factor ms':>11}{'solve ms':>10}{'times SuperLU':>15}"
    )
    apart = 0.0
    for name, r in runs.items():
        gain = runs["SuperLU"]["factor"] / r["factor"]
        print(
            f"{name:10}{r['plan']:10.0f}{r['factor']:11.2f}{r['solve']:10.2f}", end=""
        )
        print(f"{gain:15.2f}")
        difference = answers[name] - answers["SuperLU"]
        apart = max(apart, float(np.abs(difference / answers["SuperLU"].max()).max()))
    return {
        "unknowns": matrix.shape[0],
        "chosen": chosen,
        "milliseconds": runs,
        "largest_difference": apart,
    }


def conditions() -> dict[str, Any]:
    """Date, versions and machine of a run."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    names = [x.split(":", 1)[1].strip() for x in lines if x.startswith("model name")]
    packages = ["numpy", "scipy", "numba"]
    if find_spec("sksparse"):
        packages.append("scikit-sparse")
    versions = {p: version(p) for p in packages} | {"python": platform.python_version()}
    processor = names[0] if names else platform.processor()
    return {
        "date": date.today().isoformat(),
        "versions": versions,
        "machine": f"{processor}, {os.cpu_count()} cores, {platform.system()}",
        "load_average": os.getloadavg()[0],
    }


def main() -> int:
    parser = argparse.ArgumentParser(description="Sparse factors side by side.")
    parser.add_argument("--sizes", type=int, nargs="+", default=[*SIDES], choices=SIDES)
    parser.add_argument("--repeat", type=int, default=10)
    given = parser.parse_args()
    if any(os.environ.get(name) != "1" for name in ONE_THREAD):
        os.execve(
            sys.executable, [sys.executable, *sys.argv], {**os.environ, **ONE_THREAD}
        )
    names = ["SuperLU", "band", "fronts"]
    if find_spec("sksparse"):
        names.append("CHOLMOD")
    record: dict[str, Any] = {**conditions(), "sizes": []}
    print(", ".join(f"{k} {v}" for k, v in record["versions"].items()))
    print(record["machine"], f"load {record['load_average']:.1f}", sep=", ")
    with one_blas_thread():
        fronts(np.arange(9), np.arange(9), 9)  # compile, or load what is compiled
        for size in given.sizes:
            record["sizes"].append(one_size(size, names, given.repeat))
    record["blas"] = [
        f"{x['internal_api']} {x['version']} {Path(x['filepath']).name}"
        for x in threadpool_info()
        if x["user_api"] == "blas"
    ]
    print("\nBLAS loaded:", "; ".join(record["blas"]))
    RESULTS.mkdir(exist_ok=True)
    target = RESULTS / f"sparse_factor_{platform.machine()}.json"
    target.write_text(json.dumps(record, indent=1) + "\n")
    print(f"\nwritten: {target.relative_to(HERE.parent)}")
    apart = max(s["largest_difference"] for s in record["sizes"])
    if apart > AGREE:
        print(f"the answers differ by {apart:.1e} of the largest, more than {AGREE}")
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())

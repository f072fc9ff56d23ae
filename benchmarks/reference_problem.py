"""Reference problem 1 in the package and in a general library, side by side in one run.

    python benchmarks/reference_problem.py [--smallest | --full] [--repeat 2]
    python benchmarks/reference_problem.py --peer ngsolve

Same mesh, elements (T6 for temperature and displacement), steps and tolerances; each
run in a process of its own on one thread, warmed up on a small mesh before the clock
starts, which runs from the mesh in hand to the answer.  The other library (scikit-fem,
or NGSolve by ``--peer ngsolve``) is run twice: ``plain`` is full Newton from the last
balanced state, ``kept`` has the package's devices too (factors kept in the heat stage,
each step started from the last motion).  scikit-fem is assembled by numpy and takes the
best factorisation that is installed; NGSolve takes its own (``peer_ngsolve.py``).
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import resource
import subprocess
import sys
import time
from datetime import date
from importlib.metadata import version
from importlib.util import find_spec
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
RESULTS = HERE / "results"
PEERS = ("scikit-fem", "ngsolve")
SIDES = {"smallest": [0.04], "usual": [0.02, 0.01], "full": [0.02, 0.01, 0.005]}
STEPS = 60, 100
AGREE = 0.003
ONE_THREAD = dict.fromkeys(
    ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS", "NUMBA_NUM_THREADS"),
    "1",
)


def one_run(name: str, side: float, factor: str) -> dict[str, Any]:
    """Solve once in this process and measure it.  side : m, of the triangles."""
    sys.path.insert(0, str(HERE.parent / "tests"))
    import peer_scikit_fem as peer
    import reference_problem as reference

    case = reference.CASES[1]

    def solve(side: float, steps: tuple[int, int]) -> tuple[Any, Any, float, float]:
        mesh, ends = reference.uniform_mesh(side), reference.step_ends(*steps)
        wall, cpu = time.perf_counter(), time.process_time()
        if name == "shrinksim":
            answer = reference.solve(mesh, case, ends)
        elif name.startswith("ngsolve"):
            import peer_ngsolve

            problem = peer.plate_problem(mesh, case, ends)
            answer = peer_ngsolve.solve(problem, plain=name.endswith("plain"))
        else:
            problem = peer.plate_problem(mesh, case, ends)
            answer = peer.solve(problem, factor=factor, plain=name.endswith("plain"))
        return mesh, answer, time.perf_counter() - wall, time.process_time() - cpu

    solve(0.02, (12, 18))
    mesh, answer, wall, cpu = solve(side, STEPS)
    return {
        "unknowns": 2 * len(mesh.points),
        "mesh": [len(mesh.triangles), float((mesh.points**2).sum())],
        "rotation_mrad": 1e3 * answer.rotation,
        "shortening_mm": 1e3 * answer.shortening,
        "wall_s": wall,
        "cpu_s": cpu,
        "heat_s": answer.heat_seconds,
        "strain_s": answer.strain_seconds,
        "heat_iterations": answer.iterations[0],
        "strain_iterations": answer.iterations[1],
        "factor": getattr(answer, "factor", "as the package chooses"),
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }


def in_child(name: str, side: float, factor: str) -> dict[str, Any]:
    """The same in a process of its own."""
    words = [sys.executable, __file__, "--child", name, str(side), "--factor", factor]
    done = subprocess.run(
        words, env={**os.environ, **ONE_THREAD}, capture_output=True, text=True
    )
    if done.returncode:
        raise SystemExit(done.stderr)
    return json.loads(done.stdout.splitlines()[-1])


def measure(
    side: float, peer: str, factor: str, repeat: int
) -> dict[str, dict[str, Any]]:
    """The three runs of one size, in turn, each the fastest of ``repeat``."""
    names = "shrinksim", f"{peer} plain", f"{peer} kept"
    rounds = [{n: in_child(n, side, factor) for n in names} for _ in range(repeat)]
    return {n: min((r[n] for r in rounds), key=lambda x: x["cpu_s"]) for n in names}


def compare(runs: dict[str, dict[str, Any]]) -> dict[str, float]:
    """Ratios of time (above 1: the package is faster) and differences of the answers."""
    ours = runs["shrinksim"]
    out: dict[str, float] = {}
    for name, theirs in list(runs.items())[1:]:
        if theirs["mesh"] != ours["mesh"]:
            raise SystemExit(f"{name} did not get the same mesh")
        word = name.split()[1]
        for key in ("wall", "cpu"):
            out[f"{key}_ratio_{word}"] = theirs[f"{key}_s"] / ours[f"{key}_s"]
        for key in ("rotation_mrad", "shortening_mm"):
            out[f"{key}_difference_{word}"] = ours[key] / theirs[key] - 1.0
    return out


def show(runs: dict[str, dict[str, Any]], verdict: dict[str, float]) -> bool:
    """Print one size; True when the answers agree."""
    print(f"\n{runs['shrinksim']['unknowns']} unknowns, {sum(STEPS) + 3} strain steps")
    print(f"{'':18}{'wall s':>8}{'CPU s':>8}{'heat':>7}{'strain':>8}{'MB':>6}", end="")
    print(f"{'iterations':>12}{'mrad':>9}{'mm':>9}  factor")
    for name, r in runs.items():
        count = f"{r['heat_iterations']}+{r['strain_iterations']}"
        print(f"{name:18}{r['wall_s']:8.2f}{r['cpu_s']:8.2f}{r['heat_s']:7.2f}", end="")
        print(f"{r['strain_s']:8.2f}{r['peak_mb']:6.0f}{count:>12}", end="")
        print(f"{r['rotation_mrad']:9.4f}{r['shortening_mm']:9.5f}  {r['factor']}")
    for word in ("plain", "kept"):
        turn = verdict[f"rotation_mrad_difference_{word}"]
        shorter = verdict[f"shortening_mm_difference_{word}"]
        print(
            f"against {word}: {verdict[f'cpu_ratio_{word}']:.2f} times faster by CPU, "
            f"{verdict[f'wall_ratio_{word}']:.2f} by the wall; rotation differs by "
            f"{100 * turn:+.4f} %, shortening by {100 * shorter:+.4f} %"
        )
    apart = [abs(v) for k, v in verdict.items() if "difference" in k]
    return max(apart) <= AGREE


def processor() -> str:
    """What the kernel calls the processor."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    names = [x.split(":", 1)[1].strip() for x in lines if x.startswith("model name")]
    return names[0] if names else platform.processor()


def conditions(peer: str) -> dict[str, Any]:
    """Date, versions and machine of a run."""
    packages = ["numpy", "scipy", "numba", peer]
    if peer == "scikit-fem" and find_spec("sksparse"):
        packages.append("scikit-sparse")
    versions = {p: version(p) for p in packages} | {"python": platform.python_version()}
    return {
        "date": date.today().isoformat(),
        "versions": versions,
        "machine": f"{processor()}, {os.cpu_count()} cores, {platform.system()}",
        "load_average": os.getloadavg()[0],
    }


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Ours and a library side by side.")
    size = parser.add_mutually_exclusive_group()
    size.add_argument("--smallest", action="store_true", help="one size, a smoke test")
    size.add_argument("--full", action="store_true", help="also 23 thousand unknowns")
    parser.add_argument("--repeat", type=int, help="runs, the fastest counts")
    parser.add_argument("--peer", choices=PEERS, default=PEERS[0])
    parser.add_argument(
        "--factor", choices=("best", "superlu", "cholmod"), help="of scikit-fem"
    )
    parser.add_argument("--child", nargs=2, help=argparse.SUPPRESS)
    return parser.parse_args()


def main() -> int:
    given = arguments()
    factor = given.factor or "best"
    if given.child:
        print(json.dumps(one_run(given.child[0], float(given.child[1]), factor)))
        return 0
    size = "smallest" if given.smallest else "full" if given.full else "usual"
    repeat = given.repeat or (1 if size == "smallest" else 2)
    record, agree = {**conditions(given.peer), "sizes": []}, True
    for side in SIDES[size]:
        runs = measure(side, given.peer, factor, repeat)
        verdict = compare(runs)
        agree = show(runs, verdict) and agree
        record["sizes"].append({"side_m": side, "runs": runs, "compared": verdict})
    RESULTS.mkdir(exist_ok=True)
    used = record["sizes"][0]["runs"][f"{given.peer} plain"]["factor"]
    target = RESULTS / f"reference_problem_{size}_{used}.json"
    target.write_text(json.dumps(record, indent=1) + "\n")
    print(f"\nwritten: {target.relative_to(HERE.parent)}")
    if not agree:
        print(f"the answers differ by more than {100 * AGREE} %")
    return 0 if agree else 1


if __name__ == "__main__":
    raise SystemExit(main())

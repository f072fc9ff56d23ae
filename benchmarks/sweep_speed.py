"""How well a sweep uses the processors, and what a finished run costs.

    python benchmarks/sweep_speed.py               # 100 runs, 1 and 2 workers
    python benchmarks/sweep_speed.py --runs 20

Runs are of a small plate with coarse numerics (a line across a bar, about half a second
each), no two alike.  Printed and written to results/sweep_speed_<machine>.json: wall
seconds with one worker and with several, parallel efficiency (wall of one over workers
times wall of several, start of the workers included), CPU seconds, the largest worker, the
time that a run costs when it is in the store already, and the time to open an index of
5,000 runs.  Wants a quiet machine.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import time
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from shrinksim.process.machine import set_up_process
from shrinksim.runs.store import AnyCase, Row, Store, sealed
from shrinksim.runs.sweep import run_cases
from shrinksim.views.reading import case_from
from shrinksim.views.result import versions_here

MANY = 5000
TABLES: dict[str, Any] = {
    "title": "Line on a bar",
    "member": {"section": "plate", "width": "100 mm", "thickness": "6 mm"},
    "steel": {"grade": "S235"},
    "torch": {"drive": "travel", "speed": "4 mm/s"},
    "numerics": {
        "element": "12 mm",
        "far_element": "40 mm",
        "temperature_step": "90 K",
        "heat_tolerance": "20 K",
    },
}


def tables(number: int) -> dict[str, Any]:
    """The case that is told from others by where its line ends."""
    to = ["0 mm", f"{80 + 0.1 * number:.1f} mm"]
    line = {"kind": "line", "from": ["0 mm", "20 mm"], "to": to}
    return TABLES | {"heat": [{"pattern": [line]}]}


def cases_of(runs: int) -> list[AnyCase]:
    """That many different cases."""
    return [case_from(tables(k), "benchmark", Path()) for k in range(runs)]


def timed(cases: list[AnyCase], store: Path, jobs: int) -> dict[str, Any]:
    """One sweep with an empty store."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    rows = run_cases(cases, store, jobs)
    wall = time.perf_counter() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert all(isinstance(row, Row) for row in rows)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    seconds = [row.record["seconds"] for row in rows]
    return {
        "workers": jobs,
        "wall_s": round(wall, 2),
        "workers_cpu_s": round(cpu, 2),
        "mean_run_s": round(sum(seconds) / len(seconds), 3),
        "largest_worker_MB": max(row.record["peak_memory_MB"] for row in rows),
    }


def cached(runs: int, store: Path) -> dict[str, float]:
    """CPU ms for a run that is in the store: to check its case, and to find its row."""
    clock = [time.process_time()]
    cases = cases_of(runs)
    clock.append(time.process_time())
    rows = run_cases(cases, store, 0)
    clock.append(time.process_time())
    assert all(row.cached for row in rows)
    check, find = (round(1e3 * (b - a) / runs, 3) for a, b in pairwise(clock))
    return {"check_cpu_ms": check, "find_cpu_ms": find}


def opened(store: Path, folder: Path) -> float:
    """s to open an index of ``MANY`` runs, made of a real one's line."""
    text = next(iter(Store(store).lines.values()))
    lines = [sealed(f"{k:024x}", text) for k in range(MANY)]
    folder.mkdir()
    (folder / "index.jsonl").write_bytes(b"".join(lines))
    began = time.process_time()
    found = Store(folder)
    spent = time.process_time() - began
    assert len(found.lines) == MANY
    return round(spent, 3)


def main() -> None:
    """Measure, print and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=100)
    parser.add_argument("--jobs", type=int, default=2)
    asked = parser.parse_args()
    set_up_process()
    with TemporaryDirectory() as place:
        folder = Path(place)
        run_cases(cases_of(1), folder / "warm", 1)  # kernels are compiled by then
        cases = cases_of(asked.runs)
        one, several = (
            timed(cases, folder / str(jobs), jobs) for jobs in (1, asked.jobs)
        )
        efficiency = one["wall_s"] / (asked.jobs * several["wall_s"])
        record = {
            "runs": asked.runs,
            "sweeps": [one, several],
            "efficiency": round(efficiency, 3),
            "finished_run": cached(asked.runs, folder / "1"),
            f"open_{MANY}_runs_cpu_s": opened(folder / "1", folder / "many"),
            "versions": versions_here(),
        }
    print(json.dumps(record, indent=1))
    out = Path(__file__).parent / "results" / f"sweep_speed_{platform.machine()}.json"
    out.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

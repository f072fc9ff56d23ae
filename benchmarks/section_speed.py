"""Time of the section view: an IPE 300 with a strip along its top flange.

    python benchmarks/section_speed.py

Prints seconds of heat (with the search for the torch's speed) and strain, by wall clock
and by CPU, for growing meshes; the second run of each counts.  Writes
results/section_speed_<machine>.json.
"""

from __future__ import annotations

import argparse
import json
import platform
import resource
import time
from pathlib import Path
from typing import Any

from shrinksim.process.machine import set_up_process
from shrinksim.runs.run import run_once
from shrinksim.views.reading import case_from
from shrinksim.views.result import versions_here

SIZES = {
    "default": {},
    "5k": {"element": "1.6 mm", "far_element": "4.5 mm", "temperature_step": "12 K"},
    "10k": {"element": "1.0 mm", "far_element": "2.8 mm", "temperature_step": "12 K"},
    "20k": {"element": "0.7 mm", "far_element": "1.9 mm", "temperature_step": "12 K"},
}


def tables(numerics: dict[str, str]) -> dict[str, Any]:
    """The case as a file would give it."""
    return {
        "title": "Strip along a flange",
        "view": "section",
        "member": {"section": "IPE 300"},
        "steel": {"grade": "S275"},
        "torch": {"flame": "heating tip, medium", "target": "600 degC"},
        "heat": [
            {
                "pattern": [
                    {
                        "kind": "strip along",
                        "on": "flange top",
                        "width": "60 mm",
                        "length": "2 m",
                    }
                ]
            }
        ],
        "numerics": numerics,
    }


def measured(name: str) -> dict[str, Any]:
    """The second run of a size."""
    case = case_from(tables(SIZES[name]), name, Path())
    run_once(case)  # type: ignore[arg-type] (a section case)
    cpu, wall = time.process_time(), time.perf_counter()
    run = run_once(case)  # type: ignore[arg-type] (a section case)
    heat = run.heat
    return {
        "size": name,
        "unknowns": run.strain.unknowns,
        "heat_steps": heat.steps,
        "strain_steps": run.strain.steps,
        "strain_iterations": run.strain.iterations,
        "seconds": {k: round(v, 3) for k, v in run.seconds.items()},
        "wall_s": round(time.perf_counter() - wall, 3),
        "cpu_s": round(time.process_time() - cpu, 3),
        "peak_memory_MB": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024,
        "camber_per_m": run.movement.camber,
    }


def main() -> None:
    """Measure and write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("sizes", nargs="*", default=list(SIZES), help="of SIZES")
    sizes = parser.parse_args().sizes
    set_up_process()
    rows = []
    for name in sizes:
        rows.append(measured(name))
        print(rows[-1], flush=True)
    out = Path(__file__).parent / "results"
    path = out / f"section_speed_{platform.machine()}.json"
    record = {"versions": versions_here(), "rows": rows}
    path.write_text(json.dumps(record, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()

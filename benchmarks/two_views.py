"""A torch that passes along a bar: the section view against the elevation view.

A line of heat off the middle of a thin bar, even through its thickness, in both views at
the same power and speed.  The elevation's curvature is the turn of a long heat less
that of a short one, over the difference of their lengths: the ends drop out.

    python benchmarks/two_views.py           # 15 pairs, twenty minutes; may be interrupted
    python benchmarks/two_views.py --table   # prints THICKNESS.md's second table
"""

from __future__ import annotations

import json
import platform
import sys
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.runs.run import run_once
from shrinksim.runs.run import run_once as run_section
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result
from shrinksim.views.section.cautions import warm_share
from shrinksim.views.section.record import SectionCase

RECORD = Path(__file__).parent / "results" / f"two_views_{platform.machine()}.json"
KEYS = (
    "width", "thickness", "radius", "at", "speed", "element", "short", "long", "far",
    "rise",
)  # fmt: skip
SPECS: tuple[tuple[float, ...], ...] = (
    (40, 1, 10, 10, 5, 2.5, 80, 160, 8, 540),
    (40, 1, 10, 10, 10, 2.5, 80, 160, 8, 540),
    (40, 1, 10, 10, 20, 2.5, 80, 160, 8, 540),
    (40, 1, 10, 10, 40, 2.5, 80, 160, 8, 540),
    (40, 1, 10, 10, 40, 1.8, 80, 160, 8, 540),
    (40, 0.4, 10, 10, 1000, 2.5, 80, 160, 8, 540),
    (60, 2, 12, 15, 10, 3.5, 120, 240, 12, 540),
    (100, 2, 15, 30, 5, 4, 150, 300, 15, 540),
    (100, 2, 15, 30, 10, 4, 150, 300, 15, 540),
    (100, 2, 15, 30, 30, 4, 150, 300, 15, 540),
    (100, 2, 15, 30, 100, 4, 150, 300, 15, 540),
    (100, 2, 15, 30, 10, 4, 150, 300, 15, 340),
    (100, 2, 15, 0, 10, 4, 150, 300, 15, 540),
    (150, 3, 15, 45, 10, 4.5, 200, 350, 25, 540),
    (200, 4, 15, 70, 10, 4.5, 240, 400, 30, 540),
)
"""mm and mm/s; what the face under the torch rises in the section view, K."""

Row = dict[str, Any]


def tables(s: Row, power: float, element: float, far: float, **more: Any) -> Row:
    """What both views share; power in kW."""
    size = {"width": f"{s['width']} mm", "thickness": f"{s['thickness']} mm"}
    return {
        "title": "two views",
        "member": {"section": "plate", **size},
        "steel": {"grade": "S235"},
        "torch": {
            "power": f"{power:.8g} kW",
            "efficiency": 1.0,
            "radius": f"{s['radius']} mm",
            "drive": "travel",
            "speed": f"{s['speed']} mm/s",
        },
        "numerics": {
            "element": f"{element} mm",
            "far_element": f"{far} mm",
            "heat_tolerance": "4 K",
            "temperature_step": "30 K",
        },
        **more,
    }


def section(s: Row, power: float) -> Result:
    """The section, half the power on each face."""
    line = {"kind": "line along", "on": ["top", "bottom"], "at": f"{s['at']} mm"}
    heat = [{"pattern": [{**line, "length": "1 m"}]}]
    fine = min(s["element"], s["thickness"])
    given = tables(s, power / 2, fine, 2 * s["element"], view="section", heat=heat)
    case = case_from(given, "section", Path())
    assert isinstance(case, SectionCase)
    return run_section(case)


def elevation(s: Row, power: float, length: float) -> tuple[float, float]:
    """Turn and shortening of the bar under a torch that goes ``length`` mm."""
    y, half = f"{0.5 * s['width'] + s['at']} mm", 0.5 * length
    line = {"kind": "line", "from": [f"{-half} mm", y], "to": [f"{half} mm", y]}
    given = tables(s, power, s["element"], s["far"], heat=[{"pattern": [line]}])
    given["member"]["patch"] = f"{length + 3 * s['width']} mm"
    case = case_from(given, "elevation", Path())
    assert isinstance(case, Case)
    moved = run_once(case).movement
    return moved.rotation, moved.shortening


def hot(found: Result, s: Row) -> tuple[float, float]:
    """Rise (K) of the face under the torch; m of the bar that is over half of it."""
    points = found.mesh.points
    gap = np.hypot(points[:, 0] - s["at"] / 1e3, points[:, 1] - s["thickness"] / 1e3)
    rise = found.heat.temperature[:, int(np.argmin(gap))] - 20.0
    times, top = found.heat.times, float(rise.max())
    peak = int(rise.argmax())
    cold = np.interp(-0.5 * top, -rise[peak:], times[peak:])
    begun = np.interp(0.5 * top, rise[: peak + 1], times[: peak + 1])
    return top, float(cold - begun) * s["speed"] / 1e3


def row_of(s: Row) -> Row:
    """Find the power for the rise, then run both views."""
    power = 0.6 * s["thickness"] * s["speed"] * s["radius"] / 400
    found = section(s, power)
    top, zone = hot(found, s)
    while abs(top / s["rise"] - 1.0) >= 0.01:
        power *= s["rise"] / top
        found = section(s, power)
        top, zone = hot(found, s)
    ends = [elevation(s, power, length) for length in (s["short"], s["long"])]
    (turn, short), (more, longer) = ends
    apart = (s["long"] - s["short"]) / 1e3
    return {
        **s,
        "power_kW": power,
        "rise_K": top,
        "zone_over_width": zone * 1e3 / s["width"],
        "warm_share": warm_share(found.geometry, found.heat),
        "sweep_per_m": found.movement.sweep,
        "elevation_per_m": (more - turn) / apart,
        "strain": -found.movement.strain,
        "elevation_strain": (longer - short) / apart,
    }


def table(rows: list[Row]) -> None:
    """The record as markdown, by the share of the rise that is left when even."""
    head = (
        "bar, mm | line off the middle, mm | speed, mm/s | rise, K | hot zone over "
        "width | share | curvature, section over elevation | shortening"
    )
    print(f"| {head} |\n|{'---|' * 8}")
    for r in sorted(rows, key=lambda r: r["warm_share"]):
        ratio = (
            "none" if r["at"] == 0 else f"{r['sweep_per_m'] / r['elevation_per_m']:.2f}"
        )
        cells = [
            f"{r['width']:g} x {r['thickness']:g}",
            f"{r['at']:g}",
            f"{r['speed']:g}",
            f"{r['rise_K']:.0f}",
            f"{r['zone_over_width']:.1f}",
            f"{r['warm_share']:.2f}",
            ratio,
            f"{r['strain'] / r['elevation_strain']:.2f}",
        ]
        print(f"| {' | '.join(cells)} |")


def main() -> int:
    """Run what the record lacks, or print it."""
    rows: list[Row] = []
    if RECORD.exists():
        rows = json.loads(RECORD.read_text(encoding="utf-8"))["rows"]
    if "--table" in sys.argv:
        table(rows)
        return 0
    done = {tuple(r[k] for k in KEYS) for r in rows}
    for spec in SPECS:
        if spec in done:
            continue
        rows.append(row_of(dict(zip(KEYS, spec, strict=True))))
        RECORD.write_text(json.dumps({"rows": rows}, indent=1) + "\n", "utf-8")
        print(rows[-1], flush=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())

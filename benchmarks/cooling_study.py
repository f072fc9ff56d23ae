"""What cooling with air and water changes: one plate, many coolings, a table and a plot.

The trade says that water and air make a piece move more and sooner (common practice, no
source); Johnson (MIT, 1971, as restated by others) found that water-cooled line heats
move more than uncooled ones.  Nothing is fitted here: laws of cooling, steel and torch
are the package's own, and the laws' stated uncertainty is run as well.

    python benchmarks/cooling_study.py    # 134 runs, eight minutes; may be interrupted
    python benchmarks/cooling_plot.py     # draws the record
"""

from __future__ import annotations

import json
import os
import platform
import sys
import time
from collections.abc import Iterator
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.errors import NotConverged
from shrinksim.runs.run import run
from shrinksim.shop.cooling import COOLINGS
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result

RESULTS = Path(__file__).parent / "results"
RECORD = RESULTS / f"cooling_study_{platform.machine()}.json"

NEXT = 120.0
"""degC of the hottest point at which the next heat may start: FHWA guide (from memory)."""

PLATE = {"section": "plate", "width": "100 mm", "thickness": "10 mm"}
TORCH = {"flame": "heating tip, small", "target": "650 degC"}
VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
LINE = {"kind": "line", "from": ["-150 mm", "90 mm"], "to": ["150 mm", "90 mm"]}
LOADS = {
    "free": {"kind": "none"},
    "jack": {"kind": "jack", "moment": "0.25 Mp", "stiffness": "2 EI/L"},
    "weight": {"kind": "weight", "moment": "0.25 Mp"},
}
STILL = {"kind": "still air"}
THREE = {
    "still air": STILL,
    "mist at once": {"kind": "mist"},
    "mist 60 mm behind": {"kind": "mist", "behind": "60 mm"},
}
FOUR = THREE | {"mist below 315 degC": {"kind": "mist", "start_below": "315 degC"}}
FINER = {"element": "7 mm", "far_element": "20 mm"}
FINER |= {"temperature_step": "20 K", "heat_tolerance": "2 K"}
PLACES = {"mist": (30, 40, 60, 90, 120, 180), "air jet": (30, 60, 120)}

CURVES = ("kind", "behind")
"""Groups whose turn over time is kept."""

Spec = tuple[str, str, str, dict[str, Any]]
"""Group, piece, cooling in words, and what the case changes of the plate's."""


def specs() -> Iterator[Spec]:
    """Every run of the study."""
    for kind in ("mist", "air jet", "water stream", "wet rag"):
        for word, strength in band(kind):
            yield "kind", "vee", f"{kind} at once{word}", cool(kind, strength=strength)
    yield "kind", "vee", "still air", {}
    everywhere = cool("mist", everywhere=True)
    yield "kind", "vee", "mist at once, everywhere", everywhere
    for word, strength in band("mist"):
        late = cool("mist", start_below="315 degC", strength=strength)
        yield "kind", "vee", f"mist below 315 degC{word}", late
    for kind, places in PLACES.items():
        for place in places:
            for word, strength in band(kind):
                text = f"{kind} {place} mm behind{word}"
                changes = cool(kind, behind=f"{place} mm", strength=strength)
                yield "behind", "vee", text, changes
    only = {"kind": "mist", "behind": "60 mm", "start_below": "120 degC"}
    yield "behind", "vee", "mist 60 mm behind, then air to 120 degC", {"cooling": only}
    for load in ("jack", "weight"):
        for name, cooling in FOUR.items():
            yield (
                "load",
                f"vee, {load}",
                name,
                {"load": LOADS[load], "cooling": cooling},
            )
    for piece, changes in pieces().items():
        for name, cooling in THREE.items():
            yield "spread", piece, name, {**changes, "cooling": cooling}
    for word, strength in band("mist")[1:]:
        for place in ("at once", "60 mm behind"):
            behind = {} if place == "at once" else {"behind": "60 mm"}
            changes = {"pattern": LINE, **cool("mist", strength=strength, **behind)}
            yield "spread", "edge line", f"mist {place}{word}", changes
    yield from lines_and_repeats()
    for piece, pattern in {"vee": VEE, "edge line": LINE}.items():
        for name, cooling in THREE.items():
            changes = {"pattern": pattern, "cooling": cooling, "numerics": FINER}
            yield "finer mesh and steps", piece, name, changes


def lines_and_repeats() -> Iterator[Spec]:
    """More of what follows a line, and three heats at one place."""
    for place in (30, 40, 90, 120, 180):
        changes = {"pattern": LINE, **cool("mist", behind=f"{place} mm")}
        yield "behind", "edge line", f"mist {place} mm behind", changes
    for piece, pattern in {"vee": VEE, "edge line": LINE}.items():
        changes = {"pattern": pattern, **cool("water stream", behind="60 mm")}
        yield "behind", piece, "water stream 60 mm behind", changes
    wide = cool("mist", behind="60 mm", reach="40 mm")
    yield "behind", "vee", "mist 60 mm behind, 40 mm about it", wide
    for piece, pattern in {"vee": VEE, "edge line": LINE}.items():
        torch = {"flame": TORCH["flame"], "drive": "travel", "speed": "4 mm/s"}
        for name, cooling in THREE.items():
            changes = {"pattern": pattern, "torch": torch, "cooling": cooling}
            yield "spread", f"{piece}, torch travels", name, changes
    across = {**LINE, "from": ["0 mm", "6 mm"], "to": ["0 mm", "94 mm"]}
    for name, cooling in THREE.items():
        yield "spread", "line across", name, {"pattern": across, "cooling": cooling}
        for load in ("jack", "weight"):
            changes = {"pattern": LINE, "load": LOADS[load], "cooling": cooling}
            yield "load", f"edge line, {load}", name, changes
        thrice = {"cooling": {**cooling, "until": f"{NEXT:.0f} degC"}, "heats": 3}
        yield "three heats", "vee", name, thrice
        member = {"member": {**PLATE, "patch": "1 m"}}
        yield "longer patch", "vee", name, {"cooling": cooling, **member}
        yield "longer patch, three heats", "vee", name, {**thrice, **member}


def pieces() -> dict[str, dict[str, Any]]:
    """Plates, torches and patterns that spread the heat more or less."""
    wide = {**PLATE, "width": "200 mm"}
    high = {**LINE, "from": ["-150 mm", "190 mm"], "to": ["150 mm", "190 mm"]}
    drawn = {
        "vee": {"pattern": VEE},
        "vee 20 deg": {"pattern": {**VEE, "angle": "20 deg"}},
        "vee, 200 mm plate": {"pattern": VEE, "member": wide},
        "edge line": {"pattern": LINE},
        "edge line, 200 mm plate": {"pattern": high, "member": wide},
    }
    for name, pattern in {"vee": VEE, "edge line": LINE}.items():
        for thick in (6, 20):
            member = {**PLATE, "thickness": f"{thick} mm"}
            drawn[f"{name}, {thick} mm thick"] = {"pattern": pattern, "member": member}
        for power in (5, 15):
            torch = {**TORCH, "power": f"{power} kW"}
            drawn[f"{name}, torch {power} kW"] = {"pattern": pattern, "torch": torch}
    return drawn


def band(kind: str) -> tuple[tuple[str, float], ...]:
    """Words and strengths of a law as given, and at the ends of its uncertainty."""
    factor = COOLINGS[kind].factor
    return (
        ("", 1.0),
        (f", flux / {factor:g}", 1.0 / factor),
        (f", flux x {factor:g}", factor),
    )


def cool(kind: str, **keys: Any) -> dict[str, Any]:
    """The change of a case that cools so."""
    return {"cooling": {"kind": kind, **keys}}


def measured(changes: dict[str, Any]) -> dict[str, Any]:
    """Run one case; what it gives, or why it gives nothing."""
    tables = {
        "title": "cooling study",
        "member": changes.get("member", PLATE),
        "steel": {"grade": "S235"},
        "torch": changes.get("torch", TORCH),
        "load": changes.get("load", LOADS["free"]),
        "numerics": changes.get("numerics", {}),
        "heat": [
            {
                "pattern": [changes.get("pattern", VEE)],
                "cooling": changes.get("cooling", STILL),
            }
        ]
        * changes.get("heats", 1),
    }
    try:
        result = run(case_from(tables, "cooling study", Path()))
    except NotConverged as error:
        return {"failed": str(error)}
    return figures(result)


def figures(result: Result) -> dict[str, Any]:
    """The numbers of one run."""
    heat, moved = result.heat, result.movement
    hottest = heat.temperature.max(axis=1)
    t, turn = moved.times[:-1], moved.rotation_history[:-1] * 1e3
    last = np.flatnonzero(hottest > NEXT)[-1]
    fall = slice(last, last + 2)
    cold = float(np.interp(-NEXT, -hottest[fall], heat.times[fall]))
    return {
        "outcome": result.outcome,
        "rotation_mrad": moved.rotation * 1e3,
        "shortening_mm": moved.shortening * 1e3,
        "peak_C": float(heat.peak.max()),
        "torch_s": heat.heating_time,
        "below_120C_s": cold,
        "rotation_mrad_per_h": moved.rotation * 1e3 / cold * 3600.0,
        "moved_90_percent_s": settled(t, turn),
        "imbalance": heat.imbalance,
        "seconds": result.seconds["total"],
        "curve": {"t_s": np.round(t, 1).tolist(), "mrad": np.round(turn, 3).tolist()},
    }


def settled(t: Any, turn: Any) -> float:
    """When the turn since the load was put on stays within 10 % of its last, s."""
    final = turn[-1] - turn[1]
    off = np.flatnonzero(np.abs(turn - turn[-1]) > 0.1 * abs(final))
    return float(t[min(off[-1] + 1, len(t) - 1)])


def study() -> dict[str, Any]:
    """Run what is not yet in the record, writing it after each run."""
    record = {"rows": []}
    if RECORD.exists():
        record = json.loads(RECORD.read_text(encoding="utf-8"))
    done = {(r["group"], r["piece"], r["cooling"]) for r in record["rows"]}
    for group, piece, cooling, changes in specs():
        if (group, piece, cooling) in done:
            continue
        found = measured(changes)
        if piece != "vee" or group not in CURVES:
            found.pop("curve", None)
        row = {"group": group, "piece": piece, "cooling": cooling, "case": changes}
        record["rows"].append(row | found)
        record |= about()
        RECORD.write_text(json.dumps(record), encoding="utf-8")
        turn = found.get("rotation_mrad", float("nan"))
        print(
            f"{group:8.8} {piece:28} {cooling:44} {turn:7.3f} mrad "
            f"{found.get('below_120C_s', float('nan')):7.0f} s "
            f"({found.get('seconds', 0.0):.0f} s) {found.get('failed', '')}",
            flush=True,
        )
    return record


def about() -> dict[str, Any]:
    """Versions and machine."""
    names = ("shrinksim", "numpy", "scipy", "numba", "gmsh")
    return {
        "problem": "what cooling with air and water changes",
        "date": time.strftime("%Y-%m-%d"),
        "python": platform.python_version(),
        "versions": {name: version(name) for name in names},
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}",
    }


def main() -> int:
    """Run what is missing of the record."""
    RESULTS.mkdir(exist_ok=True)
    study()
    return 0


if __name__ == "__main__":
    sys.exit(main())

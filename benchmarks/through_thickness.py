"""Steel that is not even through its thickness: what the elevation view leaves out.

A line of heat along a plate 100 mm wide, 30 mm off its middle, in the section view: on
one face, against the same heat shared by both faces at the same speed.  The second is
what the elevation view takes for granted.  Nothing is fitted; the number that `check`
prints (`unevenness` of the elevation view) is set against what comes out.

    python benchmarks/through_thickness.py           # 174 runs, ten minutes
    python benchmarks/through_thickness.py --plot    # draws the record
    python benchmarks/through_thickness.py --table   # prints THICKNESS.md's table
"""

from __future__ import annotations

import json
import platform
import sys
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np

from shrinksim.errors import NotConverged
from shrinksim.fem.basis import locate
from shrinksim.runs.run import run_once
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result
from shrinksim.views.section.record import SectionCase
from shrinksim.views.unevenness import FACE, MORE, THROUGH, unevenness

RESULTS = Path(__file__).parent / "results"
RECORD = RESULTS / f"through_thickness_{platform.machine()}.json"
TARGET, AMBIENT = 560.0, 20.0
AT = 30.0
"""mm, of the line from the plate's middle."""

THICKNESSES = (4.0, 6.0, 8.0, 10.0, 12.0, 16.0, 20.0)
TORCHES = ((1.0, 20.0), (1.5, 20.0), (3.5, 20.0), (3.5, 30.0), (7.0, 30.0))
"""kW absorbed, mm of radius."""

LOADS = {"free": None, "0.25 Mp": {"kind": "weight", "sweep_moment": "0.25 Mp"}}
MOST = 2.0
"""Number above which the face would melt: not run."""

EVEN = 0.1
"""Difference through the thickness over the rise, taken for even again."""

Row = dict[str, Any]


def specs() -> Iterator[tuple[float, float, float, str]]:
    """Thickness mm, kW, radius mm, load in words."""
    for load in LOADS:
        for d in THICKNESSES:
            for power, radius in TORCHES:
                if number_of(d, power, radius) <= MOST:
                    yield d, power, radius, load


def number_of(d: float, power: float, radius: float) -> float:
    """The number that `check` would print."""
    return unevenness(power * 1e3, radius / 1e3, d / 1e3, TARGET - AMBIENT)


def case_of(
    d: float, power: float, radius: float, load: str, faces: int, speed: float | None
) -> SectionCase:
    """A line of ``power`` kW on one or both faces; held for the target, or at a speed."""
    torch: Row = {"power": f"{power / faces} kW", "radius": f"{radius} mm"}
    torch |= {"efficiency": 1.0}
    if speed is None:
        held = {"target": f"{TARGET} degC", "patience": "3000 s", "speed": "200 mm/s"}
        torch |= held
    else:
        torch |= {"drive": "travel", "speed": f"{speed * 1e3:.10g} mm/s"}
    on = ["top", "bottom"][:faces]
    line = {"kind": "line along", "on": on, "at": f"{AT} mm", "length": "1 m"}
    tables: Row = {
        "title": "through the thickness",
        "view": "section",
        "member": {"section": "plate", "width": "100 mm", "thickness": f"{d} mm"},
        "steel": {"grade": "S235"},
        "torch": torch,
        "numerics": {"element": f"{min(3.0, d / 4.0)} mm"},
        "heat": [{"pattern": [line]}],
    }
    if LOADS[load] is not None:
        tables["load"] = LOADS[load]
    case = case_from(tables, "through the thickness", Path())
    assert isinstance(case, SectionCase)
    return case


def row_of(d: float, power: float, radius: float, load: str) -> Row:
    """Both faces held for the target; one face at that speed; one face held."""
    both = run_once(case_of(d, power, radius, load, 2, None))
    speed = both.heating.schedules[0]
    assert speed is not None
    one = run_once(case_of(d, power, radius, load, 1, speed))
    rise = TARGET - AMBIENT
    face, back = faces_under(one, d)
    gap = face - back
    at = int(np.argmax(gap))
    later = np.flatnonzero(gap[at:] <= EVEN * rise)
    t = one.heat.times
    row: Row = {
        "thickness_mm": d,
        "power_kW": power,
        "radius_mm": radius,
        "load": load,
        "number": number_of(d, power, radius),
        "speed_mm_s": speed * 1e3,
        "difference_over_rise": float(gap.max()) / rise,
        "face_C": float(one.heat.peak.max()),
        "even_C": float(both.heat.peak.max()),
        "back_C": float(back.max()),
        "even_again_s": float(t[at + later[0]] - t[at]) if len(later) else None,
        "even_again_C": float(face[at + later[0]]) if len(later) else None,
        "sweep_per_m": one.movement.sweep,
        "even_sweep_per_m": both.movement.sweep,
        "camber_per_m": one.movement.camber,
        "angle_mrad": 1e3 * (one.movement.angular_change or 0.0),
    }
    try:
        held = run_once(case_of(d, power, radius, load, 1, None))
        row["held_face_sweep_per_m"] = held.movement.sweep
    except NotConverged as error:
        row["held_face"] = str(error)
    return row


def faces_under(found: Result, d: float) -> tuple[np.ndarray, np.ndarray]:
    """degC (s,) on the face under the torch's middle and on the back behind it."""
    mm = 1e-3
    points = np.array([[AT * mm, d * mm], [AT * mm, 0.0]])
    element, N = locate(found.mesh, points)
    T = found.heat.temperature[:, found.mesh.triangles[element]]
    face, back = np.einsum("ska,ka->ks", T, N)
    return face, back


def study(rows: list[Row]) -> None:
    """Run what the record lacks."""
    keys = ("thickness_mm", "power_kW", "radius_mm", "load")
    done = {tuple(r[k] for k in keys) for r in rows}
    for spec in specs():
        if spec in done:
            continue
        try:
            row = row_of(*spec)
        except NotConverged as error:
            row = {**dict(zip(keys, spec, strict=True)), "failed": str(error)}
            row["number"] = number_of(*spec[:3])
        rows.append(row)
        RECORD.write_text(json.dumps({"rows": rows}, indent=1) + "\n", "utf-8")
        print(row, flush=True)


COLOURS = {"free": "#0072B2", "0.25 Mp": "#D55E00"}
MARKS = {"free": "o", "0.25 Mp": "^"}


def plot(rows: list[Row]) -> None:
    """Difference, face temperature and movement over the number."""
    figure, axes = plt.subplots(1, 3, figsize=(15.0, 4.8), layout="constrained")
    title = (
        "Heat on one face against both, section view: plate 100 mm wide, S235, 560 degC"
    )
    figure.suptitle(title)
    for load, colour in COLOURS.items():
        some = [r for r in rows if r["load"] == load and "failed" not in r]
        x = np.array([r["number"] for r in some])
        style: Row = {"color": colour, "marker": MARKS[load], "ls": "", "label": load}
        gap = [r["difference_over_rise"] for r in some]
        hot = [r["face_C"] - r["even_C"] for r in some]
        moved = [100.0 * (r["sweep_per_m"] / r["even_sweep_per_m"] - 1) for r in some]
        for axis, y in zip(axes, (gap, hot, moved), strict=True):
            axis.plot(x, y, **style)
    x = np.linspace(0.0, MOST, 2)
    axes[0].plot(x, x, "k:", label="the number itself")
    curve = np.linspace(0.0, MOST, 50)
    words = f"{FACE:g} number x rise, {100 * MORE:g} number^2"
    axes[1].plot(x, FACE * x * (TARGET - AMBIENT), "k:", label=words)
    axes[2].plot(curve, 100.0 * MORE * curve**2, "k:")
    for axis in axes:
        axis.axvline(THROUGH, color="black", lw=1)
        axis.grid(alpha=0.3)
        axis.set_xlabel("number that check prints; line: limit of the caution")
    axes[0].set(ylabel="face less back, at most, over the rise", title="a. Difference")
    axes[1].set(ylabel="face over the even steel's peak, K", title="b. Face")
    axes[2].set(
        ylabel="sweep over that of even steel, %", title="c. Movement in the plane"
    )
    axes[0].legend()
    axes[1].legend()
    figure.savefig(RESULTS / "through_thickness.png", dpi=110)


GROUPS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.75, 1.0, 1.5, 2.0)


def table(rows: list[Row]) -> None:
    """Ranges by the number, as markdown."""
    good = [r for r in rows if "failed" not in r]
    head = (
        "number | cases | difference/rise | face hotter, K | movement | camber, 1/m | "
        "even again after, s | movement, face held"
    )
    print(f"| {head} |\n|{'---|' * 8}")
    for low, high in pairwise(GROUPS):
        some = [r for r in good if low <= r["number"] < high]
        if not some:
            continue
        even = [r["even_sweep_per_m"] for r in some]
        moved = [r["sweep_per_m"] / e - 1 for r, e in zip(some, even, strict=True)]
        held = [
            r["held_face_sweep_per_m"] / r["even_sweep_per_m"] - 1
            for r in some
            if "held_face_sweep_per_m" in r
        ]
        cells = [
            f"{low:g} to {high:g}",
            str(len(some)),
            span([r["difference_over_rise"] for r in some], ".2f"),
            span([r["face_C"] - r["even_C"] for r in some], ".0f"),
            span([100 * m for m in moved], "+.0f", " %"),
            span([r["camber_per_m"] for r in some], ".3f"),
            span([r["even_again_s"] for r in some if r["even_again_s"]], ".0f"),
            span([100 * h for h in held], "+.0f", " %"),
        ]
        print(f"| {' | '.join(cells)} |")


def span(values: list[float], form: str, unit: str = "") -> str:
    """From the least to the most."""
    if not values:
        return "-"
    return f"{min(values):{form}} to {max(values):{form}}{unit}"


def main() -> int:
    """Run, or draw or print the record."""
    plt.switch_backend("agg")
    rows: list[Row] = []
    if RECORD.exists():
        rows = json.loads(RECORD.read_text(encoding="utf-8"))["rows"]
    if "--table" in sys.argv:
        table(rows)
        return 0
    if "--plot" not in sys.argv:
        study(rows)
    plot(rows)
    return 0


if __name__ == "__main__":
    sys.exit(main())

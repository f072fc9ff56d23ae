"""The plot of `vee_study`'s record.

python benchmarks/vee_plot.py
"""

from __future__ import annotations

import json
import sys
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from published_vee import published
from vee_study import ANGLES, RECORD, RESULTS

COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00")
"""Okabe and Ito's, told apart by the colour-blind; shapes differ as well."""
LOADS = (
    ("free", "o", COLOURS[0]),
    ("jack 0.25", "s", COLOURS[1]),
    ("weight 0.25", "^", COLOURS[2]),
)
LEFT_OUT = ("jack", "base case", "20 degrees")
CANDIDATES = (
    ("base case", "o", "small heating tip, R 20 mm"),
    ("R 15 mm", "D", "R 15 mm, same power"),
    ("welding tip", "s", "welding tip, R 12 mm, 1.4 kW net"),
    ("welding tip, inset 0, real yield 1.25", "P", "R 12 mm, inset 0, yield 1.25 x"),
    ("at once, 0.5 MW/m2", "v", "whole vee at once, 0.5 MW/m2"),
)

Rows = list[dict[str, Any]]


def draw_factors(axis: Any, rows: Rows) -> None:
    """Every changed case of the 45 degree vee, a line each."""
    names = list(dict.fromkeys((r["factor"], r["name"]) for r in rows))
    names = [n for n in names if not n[0].startswith("angles") and n[0] not in LEFT_OUT]
    factors = list(dict.fromkeys(factor for factor, _ in names))
    names.sort(key=lambda name: factors.index(name[0]))
    place, height, last = {}, 0.0, ""
    for factor, name in names:
        height += 0.8 if factor != last else 0.0
        place[factor, name], last = height, factor
        height += 1.0
    for (load, mark, colour), ratio in zip(LOADS, (0.0, 0.25, 0.25), strict=True):
        centre = published(45, ratio)
        if load != "weight 0.25":
            axis.axvspan(0.8 * centre, 1.2 * centre, color=colour, alpha=0.10, lw=0)
            axis.axvline(centre, color=colour, lw=1, ls="--")
        found = [
            r for r in rows if r["load"] == load and (r["factor"], r["name"]) in place
        ]
        x = [r["rotation_mrad"] for r in found]
        y = [place[r["factor"], r["name"]] for r in found]
        base = next(
            r["rotation_mrad"]
            for r in rows
            if r["factor"] == "base case" and r["load"] == load
        )
        axis.axvline(base, color=colour, lw=0.8, ls=":")
        axis.plot(
            x,
            y,
            mark,
            color=colour,
            markersize=5,
            label=load.replace("0.25", "0.25 Mp"),
        )
    axis.set_yticks(list(place.values()), [f"{f}: {n}" for f, n in place], fontsize=7)
    axis.set_ylim(height, -1.0)
    axis.set(
        xlabel="rotation, mrad",
        title="a. 45 degree vee, one factor at a time\n"
        "(dotted: base case; dashed and band: published +-20 %)",
    )
    axis.legend(fontsize=8, loc="lower right")


def draw_angles(axis: Any, rows: Rows, load: str, ratio: float) -> None:
    """Rotation against the angle of the vee."""
    angle = np.linspace(18, 62, 45)
    curve = np.array([published(a, ratio) for a in angle])
    axis.fill_between(angle, 0.8 * curve, 1.2 * curve, color="0.85", lw=0)
    axis.plot(angle, curve, color="0.4", ls="--", label="published, +-20 %")
    for (name, mark, words), colour in zip(CANDIDATES, COLOURS, strict=False):
        turns = [
            r["rotation_mrad"]
            for a in ANGLES
            for r in rows
            if (r["factor"], r["name"], r["load"])
            == (f"angles: {name}", f"{a} deg", load)
        ]
        if len(turns) == len(ANGLES):
            axis.plot(ANGLES, turns, "-", marker=mark, color=colour, label=words, ms=5)
    axis.axhline(0.0, color="black", lw=0.6)
    axis.set(xticks=ANGLES, ylabel="rotation, mrad")


def draw_footprint(axis: Any, rows: Rows) -> None:
    """The 45 degree vee against the footprint over the plate's width."""
    for (load, mark, colour), ratio in zip(LOADS[:2], (0.0, 0.25), strict=True):
        centre = published(45, ratio)
        axis.axhspan(0.8 * centre, 1.2 * centre, color=colour, alpha=0.10, lw=0)
        axis.axhline(centre, color=colour, lw=1, ls="--")
        for factor, face, words in (
            ("radius", colour, "4 in plate, R 8 to 28 mm"),
            ("width", "white", "R 20 mm, plate 6 to 12 in"),
        ):
            found = [r for r in rows if r["factor"] == factor and r["load"] == load]
            x = [footprint(r["changes"]) for r in found]
            y = [r["rotation_mrad"] for r in found]
            label = f"{load.replace('0.25', '0.25 Mp')}, {words}"
            axis.plot(x, y, mark, color=colour, mfc=face, label=label)
    axis.set(xlabel="R over the plate's width", ylabel="rotation, mrad")
    axis.legend(fontsize=7)


def footprint(changes: dict[str, str]) -> float:
    """Radius of the torch over the width of the plate."""
    radius = float(changes.get("torch__radius", "20 mm").split()[0])
    width = 25.4 * float(changes.get("member__width", "4 in").split()[0])
    return radius / width


def plot(record: dict[str, Any]) -> None:
    """Draw the record."""
    rows = [r for r in record["rows"] if "rotation_mrad" in r]
    figure = plt.figure(figsize=(14.0, 17.0), layout="constrained")
    figure.suptitle(
        "Vee heats as computed: A36 plate 4 x 1/4 in, hottest steel brought to 650 degC"
    )
    grid = figure.add_gridspec(5, 2, width_ratios=(1.25, 1.0))
    left = figure.add_subplot(grid[:, 0])
    draw_factors(left, rows)
    left.grid(alpha=0.3, axis="x")
    shown = (
        ("free", 0.0, "b. free"),
        ("jack 0.25", 0.25, "c. jack, 0.25 Mp, 2 EI/L"),
        ("jack 0.5", 0.5, "d. jack, 0.5 Mp, 2 EI/L"),
        ("weight 0.5", 0.5, "e. weight, 0.5 Mp (published: jacks)"),
    )
    for number, (load, ratio, title) in enumerate(shown):
        axis = figure.add_subplot(grid[number, 1])
        draw_angles(axis, rows, load, ratio)
        axis.set_title(title)
        axis.grid(alpha=0.3)
        axis.set_xlabel("angle of the vee, degrees" if number == 3 else "")
        if number == 2:
            axis.legend(fontsize=7, loc="upper left")
    axis = figure.add_subplot(grid[4, 1])
    draw_footprint(axis, rows)
    axis.set_title("f. 45 degree vee: the footprint against the plate")
    axis.grid(alpha=0.3)
    figure.savefig(RESULTS / "vee_study.png", dpi=100)


def main() -> int:
    """Draw the record."""
    plt.switch_backend("agg")
    plot(json.loads(RECORD.read_text(encoding="utf-8")))
    return 0


if __name__ == "__main__":
    sys.exit(main())

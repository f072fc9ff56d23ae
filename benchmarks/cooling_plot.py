"""The plot of `cooling_study`'s record.

python benchmarks/cooling_plot.py
"""

from __future__ import annotations

import json
import sys
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
from cooling_study import PLACES, RECORD, RESULTS, THREE, band

COLOURS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7")
"""Okabe and Ito's, told apart by the colour-blind; shapes differ as well."""

Rows = dict[tuple[str, str, str], dict[str, Any]]


def plot(record: dict[str, Any]) -> None:
    """Draw the record."""
    rows = {(r["group"], r["piece"], r["cooling"]): r for r in record["rows"]}
    figure, axes = plt.subplots(2, 2, figsize=(13.0, 10.0), layout="constrained")
    title = "Cooling as computed: plate 100 x 10 mm, S235, small tip, hottest 650 degC"
    figure.suptitle(title)
    draw_turns(axes[0, 0], rows)
    draw_distances(axes[0, 1], rows)
    draw_pieces(axes[1, 0], rows)
    draw_rates(axes[1, 1], rows)
    for axis in axes.flat:
        axis.grid(alpha=0.3)
    figure.savefig(RESULTS / "cooling_study.png", dpi=110)


def draw_turns(axis: Any, rows: Rows) -> None:
    """The turn over time, and when the next heat may start."""
    shown = (
        ("kind", "still air", "o"),
        ("kind", "mist below 315 degC", "s"),
        ("kind", "mist at once", "D"),
        ("behind", "mist 60 mm behind", "^"),
        ("behind", "mist 60 mm behind, 40 mm about it", "v"),
    )
    for colour, (group, cooling, mark) in zip(COLOURS, shown, strict=True):
        row = rows[group, "vee", cooling]
        t, turn = row["curve"]["t_s"], row["curve"]["mrad"]
        axis.plot(t, turn, color=colour)
        cold = row["below_120C_s"]
        at = float(np.interp(cold, t, turn))
        axis.plot(cold, at, mark, color=colour, markersize=9, label=cooling)
    axis.set(
        xlim=(0, 400), xlabel="time after lighting the torch, s", ylabel="turn, mrad",
        title="a. A free 45 degree vee; mark: hottest point below 120 degC",
    )  # fmt: skip
    axis.legend(fontsize=8, loc="lower right")


def draw_distances(axis: Any, rows: Rows) -> None:
    """Movement against the distance behind the torch, with the laws' uncertainty."""
    shown = (
        ("vee", "mist", "^"),
        ("vee", "air jet", "o"),
        ("edge line", "mist", "s"),
    )
    for colour, (piece, kind, mark) in zip(COLOURS[1:], shown, strict=False):
        still = rows["spread", piece, "still air"]["rotation_mrad"]
        places, turns = PLACES[kind], []
        for place in places:
            name = f"{kind} {place} mm behind"
            group = "behind" if ("behind", piece, name) in rows else "spread"
            found = [
                rows[group, piece, name + word]["rotation_mrad"] / still
                for word, _ in band(kind)
                if (group, piece, name + word) in rows
            ]
            turns.append(100.0 * (np.array(found) - 1.0))
        label = f"{piece}, {kind}"
        axis.plot(
            places, [y[0] for y in turns], "-", marker=mark, color=colour, label=label
        )
        ends = [(y.min(), y.max()) for y in turns]
        low, high = zip(*ends, strict=True)
        axis.fill_between(places, low, high, color=colour, alpha=0.15, lw=0)
    axis.axhline(0.0, color="black", lw=1)
    axis.set(
        xlabel="path between torch and spray, mm", ylabel="movement over still air's, %",
        title="b. Following the torch; band: flux by the law's uncertainty",
    )  # fmt: skip
    axis.legend(fontsize=8)


def draw_pieces(axis: Any, rows: Rows) -> None:
    """Movement by piece, over that in still air."""
    names = list(dict.fromkeys(p for g, p, _ in rows if g in ("spread", "load")))
    names = [n for n in names if n not in ("vee 20 deg", "line across")]
    names.sort(key=lambda n: (n.startswith("vee"), n))
    for at, piece in enumerate(names):
        group = "spread" if ("spread", piece, "still air") in rows else "load"
        still = rows[group, piece, "still air"]["rotation_mrad"]
        for cooling, mark, colour in (
            ("mist at once", "D", COLOURS[2]),
            ("mist 60 mm behind", "^", COLOURS[3]),
        ):
            turn = rows[group, piece, cooling]["rotation_mrad"]
            change, label = 100.0 * (turn / still - 1.0), cooling if at == 0 else None
            axis.plot(change, at, mark, color=colour, markersize=8, label=label)
    axis.axvline(0.0, color="black", lw=1)
    axis.set_yticks(range(len(names)), names, fontsize=8)
    axis.set(xlabel="movement over still air's, %", title="c. By piece, torch and load")
    axis.legend(fontsize=8, loc="lower right")


def draw_rates(axis: Any, rows: Rows) -> None:
    """Movement per heat and per hour of three heats, over that in still air."""
    names = list(THREE)
    heights = np.arange(len(names))
    for k, (group, colour, words) in enumerate(
        (
            ("three heats", COLOURS[1], "patch 362 mm"),
            ("longer patch, three heats", COLOURS[2], "patch 1 m"),
        )
    ):
        rate = [rows[group, "vee", n]["rotation_mrad_per_h"] for n in names]
        total = [rows[group, "vee", n]["rotation_mrad"] for n in names]
        y = heights + 0.2 - 0.4 * k
        axis.barh(y, rate, 0.36, color=colour, alpha=0.6, hatch="/" * k, label=words)
        for place, value, turn in zip(y, rate, total, strict=True):
            text = f" {value:.0f} mrad/h; three heats {turn:.1f} mrad"
            axis.text(value, place, text, va="center", fontsize=8)
    axis.set_yticks(heights, names)
    axis.set(
        xlabel="movement per hour of torch and cooling, mrad/h",
        title="d. Three heats of the vee, the next when below 120 degC",
    )
    axis.set_xlim(0, 1.6 * axis.get_xlim()[1])
    axis.legend(fontsize=8, loc="lower right")


def main() -> int:
    """Draw the record."""
    plt.switch_backend("agg")
    plot(json.loads(RECORD.read_text(encoding="utf-8")))
    return 0


if __name__ == "__main__":
    sys.exit(main())

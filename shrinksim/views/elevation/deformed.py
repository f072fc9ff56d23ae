"""Drawing of the member's shape before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import IntArray
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    GREY,
    WIDTH,
    blank,
    place,
    round_factor,
)
from shrinksim.units.scales import scale, three_digits
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.elevation.setup_drawing import end_turn, extent
from shrinksim.views.result import folds
from shrinksim.views.words import sample_member

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


def ring_of(result: ElevationResult) -> IntArray:
    """Nodes (k,) around the patch, from its lower left corner."""
    edges, points = result.mesh.edges, result.mesh.points
    parts = []
    for name, axis, turn in (
        ("bottom", 0, 1), ("right", 1, 1), ("top", 0, -1), ("left", 1, -1),
    ):  # fmt: skip
        nodes = np.unique(edges[name])
        parts.append(nodes[np.argsort(points[nodes, axis])][::turn])
    return np.concatenate(parts)


def shape(result: ElevationResult) -> Figure:
    """Edge lines of the patch before and after, and what that does to a member."""
    *_, low, high = extent(result)
    nodes = ring_of(result)
    before = result.mesh.points[nodes]
    moved = result.strain.displacement[-1][nodes]
    largest = float(np.abs(moved).max())
    factor = round_factor(0.3 * (high - low) / max(largest, 1e-12))
    after = before + factor * moved
    both = np.vstack([before, after])
    span = np.ptp(both, axis=0) + 0.06 * (high - low)
    inch = max(span[0] / (WIDTH - 0.7), span[1] / 3.6)
    tall = span[1] / inch
    foot = 0.45 if folds(result) else 1.75
    figure = blank(tall + foot + 0.35)
    length = scale(result, "length")
    axes = place(figure, 0.6, foot, span[0] / inch, tall)
    for ring, colour, fill, dash in (
        (before, GREY, "none", DASHED), (after, BLUE, "#dbe9f4", "-"),
    ):  # fmt: skip
        x, y = length(np.vstack([ring, ring[:1]])).T
        axes.fill(x, y, fc=fill, ec=colour, lw=1.4, ls=dash)
    pad = 0.03 * (high - low)
    axes.set_xlim(*length([both[:, 0].min() - pad, both[:, 0].max() + pad]))
    axes.set_ylim(*length([both[:, 1].min() - pad, both[:, 1].max() + pad]))
    dress(axes, f"along the member [{length.unit}]", f"height [{length.unit}]")
    axes.set_title(
        f"The heated part before (dashed) and after, movement drawn {factor:g} times "
        "as large"
    )
    if not folds(result):
        _kinked(result, place(figure, 0.6, 0.15, WIDTH - 0.7, 0.95))
    return figure


def _kinked(result: ElevationResult, axes: Axes) -> None:
    """A long member with the heat at its middle, ends level; heights exaggerated."""
    span, name = sample_member(result)
    out = result.movement.rotation * span / 4.0
    sense = 1.0 if end_turn(result, -1) > 0.0 else -1.0
    rise = sense if out != 0.0 else 0.0
    axes.plot([0, 1], [0, 0], color=GREY, ls=DASHED, lw=1.2)
    axes.plot([0, 0.5, 1], [0, rise, 0], color=BLUE, lw=2.0)
    axes.plot([0, 1], [0, 0], "^", color=BLACK, ms=7)
    axes.plot([0.5, 0.5], [0, rise], color=BLACK, lw=0.8)
    length = scale(result, "length")
    offset = f"{three_digits(float(length(abs(out))))} {length.unit}"
    axes.text(0.51, 0.42 * rise, offset, va="center", fontweight="bold")
    axes.set_xlim(-0.02, 1.02)
    axes.set_ylim(min(rise, 0.0) - 0.35, max(rise, 0.0) + 0.35)
    axes.set_axis_off()
    axes.set_title(f"A {name} member heated like this at its middle (not to scale)")

"""Numbers, ticks, grids and names of axes, drawn directly.

matplotlib's own axis objects measure and build every tick several times over and take
two thirds of the time of a figure; these few lines take a tenth.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.page.style import FAINT, GREY

if TYPE_CHECKING:
    from matplotlib.axes import Axes

TICK, NUMBER, NAME = 0.035, 0.06, 0.23
"""Inches from the frame to the tick's end, the number and the name under an x axis."""

Mark = tuple[float, str]


def dress(
    axes: Axes, x: str | None = None, y: str | None = None, *, grid: str = "",
    x_marks: Sequence[Mark] | None = None, right: bool = False,
) -> None:  # fmt: skip
    """Finish axes whose limits are final.

    x, y : name of the axis; "" numbers without a name, None neither.  grid : "x", "y"
    or "xy".  x_marks : places with their texts, in place of round numbers.  right :
    the heights' numbers go on the right side.
    """
    axes.xaxis.set_visible(False)
    axes.yaxis.set_visible(False)
    figure = axes.get_figure(root=True)
    assert figure is not None
    width, height = figure.get_size_inches() * axes.get_position().size
    marks = x_marks
    if marks is None:
        marks = round_marks(axes.get_xlim(), round(np.clip(width / 0.8, 3, 7)))
    _lines(axes, marks, height, "x" in grid, x is not None, True, 0.0)
    if x is not None:
        across = axes.get_xaxis_transform()
        for at, text in marks:
            axes.text(
                at, -NUMBER / height, text, transform=across, ha="center", va="top"
            )
        axes.text(
            0.5, -NAME / height, x, transform=axes.transAxes, ha="center", va="top"
        )  # fmt: skip
    marks = round_marks(axes.get_ylim(), round(np.clip(height / 0.36, 3, 6)))
    _lines(axes, marks, width, "y" in grid, y is not None, False, float(right))
    if y is not None:
        _heights(axes, marks, y, width, right)


def _heights(
    axes: Axes, marks: Sequence[Mark], name: str, width: float, right: bool
) -> None:
    """Numbers and name of the y axis."""
    side, sign, align = (1.0, 1.0, "left") if right else (0.0, -1.0, "right")
    along = axes.get_yaxis_transform()
    for at, text in marks:
        axes.text(
            side + sign * NUMBER / width, at, text, transform=along, ha=align,
            va="center_baseline",
        )  # fmt: skip
    longest = max((len(text) for _, text in marks), default=1)
    away = 0.13 + 0.07 * longest
    axes.text(
        side + sign * away / width, 0.5, name, transform=axes.transAxes, rotation=90,
        ha=align, va="center",
    )  # fmt: skip


def round_marks(limits: tuple[float, float], count: int) -> list[Mark]:
    """About ``count`` round numbers within the limits, with equal decimals."""
    from matplotlib.ticker import MaxNLocator

    low, high = min(limits), max(limits)
    if high - low <= 1e-9 * max(abs(low), abs(high)):
        middle, half = 0.5 * (low + high), 0.05 * max(abs(low), abs(high)) or 0.5
        low, high = middle - half, middle + half
    values = MaxNLocator(count, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    step = float(values[1] - values[0])
    slack = 1e-6 * (high - low)
    fits = (d for d in range(13) if abs(round(step, d) - step) < 1e-6 * step)
    decimals = next(fits, 12)
    return [
        (float(v), f"{v + 0.0:.{decimals}f}".replace("-", "\u2212"))
        for v in np.where(np.abs(values) < 1e-6 * step, 0.0, values)
        if low - slack <= v <= high + slack
    ]


def _lines(
    axes: Axes, marks: Sequence[Mark], size: float, grid: bool, tick: bool,
    upright: bool, side: float,
) -> None:  # fmt: skip
    """Grid lines across the axes and ticks outside, at each mark."""
    from matplotlib.collections import LineCollection

    out = side + (TICK if side else -TICK) / size
    spans = [((0.0, 1.0), FAINT, 0.5)] * grid + [((out, side), GREY, 2.0)] * tick
    moved = axes.get_xaxis_transform() if upright else axes.get_yaxis_transform()
    for (a, b), colour, order in spans:
        ends = [
            [(at, a), (at, b)] if upright else [(a, at), (b, at)] for at, _ in marks
        ]
        lines = LineCollection(
            ends, colors=colour, linewidths=0.7, zorder=order, transform=moved,
            clip_on=False,
        )  # fmt: skip
        axes.add_collection(lines, autolim=False)

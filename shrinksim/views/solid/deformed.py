"""Drawing of the plate's bent shape, seen askew from above."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.movement import column_grid
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    GREY,
    SMALL,
    WIDTH,
    arrow,
    blank,
    place,
    round_factor,
)
from shrinksim.views.result import folds
from shrinksim.views.rows import NO_LENGTH
from shrinksim.views.solid.movement import at_height, moved_at
from shrinksim.views.solid.result import SolidResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ASIDE, ABOVE = np.radians(22.0), np.radians(35.0)
"""Where the drawing is seen from: to the right of straight in front, and above it."""

ALONG, UP = 61, 9
"""Points along the patch and over its height."""

SHOWN = 0.16
"""Largest movement as drawn, of the patch's length."""


SHORTEST = 0.7
"""Largest shortening of a piece as drawn, of its length."""


def askew(points: FloatArray) -> FloatArray:
    """Places (..., 2) on the sheet of points (..., 3), a parallel projection."""
    x, y, z = np.moveaxis(points, -1, 0)
    across = x * np.cos(ASIDE) - z * np.sin(ASIDE)
    toward = x * np.sin(ASIDE) + z * np.cos(ASIDE)
    return np.stack([across, y * np.cos(ABOVE) - toward * np.sin(ABOVE)], axis=-1)


def surfaces(result: SolidResult) -> tuple[FloatArray, FloatArray]:
    """Points (ALONG, UP, 3) m of the middle surface and how they moved, the left end
    held.

    Cross-sections move as their best straight lines in the plane, and along the member
    as the mean over a width: exaggerated, the upset steel of the heat would be drawn
    over itself.
    """
    work = result.geometry
    half = 0.5 * work.length * (1.0 - 1e-9)
    x, y = np.linspace(-half, half, ALONG), np.linspace(0.0, work.depth, UP)
    grid = column_grid(result.mesh, x, y)
    middle = at_height(result.body, moved_at(result.body, result.strain, -1), 0.0)
    moved = (grid.sample @ middle).reshape(ALONG, UP, 3)
    arm = (y - y.mean()) / np.sum((y - y.mean()) ** 2)
    mean = moved[..., :2].mean(axis=1, keepdims=True)
    turn = (moved[..., 0] @ arm)[:, None] * (y - y.mean())
    moved[..., :2] = mean
    moved[..., 0] = _evened(moved[..., 0] + turn, work.depth / float(x[1] - x[0]))
    X, Y = np.meshgrid(x, y, indexing="ij")
    before = np.stack([X, Y, np.zeros_like(X)], axis=-1)
    return before, moved - moved[0, UP // 2]


def _evened(values: FloatArray, width: float) -> FloatArray:
    """Means (ALONG, k) over ``width`` rows; straight lines and the ends stay."""
    half = int(np.clip(round(0.5 * width), 1, ALONG // 2))
    around = ((half, half), (0, 0))
    wider = np.pad(values, around, mode="reflect", reflect_type="odd")
    window = np.lib.stride_tricks.sliding_window_view(wider, 2 * half + 1, axis=0)
    return window.mean(axis=-1)


def factor_of(result: SolidResult) -> float:
    """Times as large as the movement is drawn; 1 where there is none.

    Not so large that shortened steel would be drawn over itself.
    """
    before, moved = surfaces(result)
    largest = float(np.abs(moved).max())
    if largest < NO_LENGTH:
        return 1.0
    step = before[1, 0, 0] - before[0, 0, 0]
    shortest = float(np.diff(moved[..., 0], axis=0).min()) / step
    most = SHORTEST / max(-shortest, 1e-12)
    return round_factor(min(SHOWN * result.geometry.length / largest, most))


def shape(result: SolidResult) -> Figure:
    """The middle surface before and after, in three dimensions."""
    before, moved = surfaces(result)
    factor = factor_of(result)
    flat, bent = askew(before), askew(before + factor * moved)
    both = np.concatenate([flat.reshape(-1, 2), bent.reshape(-1, 2)])
    low, high = both.min(axis=0), both.max(axis=0)
    span = high - low
    inch = max(span[0] / (WIDTH - 1.2), span[1] / 3.8)
    room = 0.55 * inch
    figure = blank(span[1] / inch + 1.05)
    wide, tall = span[0] / inch + 1.1, span[1] / inch + 0.7
    axes = place(figure, 0.5 * (WIDTH - wide), 0.02, wide, tall)
    axes.set_xlim(low[0] - room, high[0] + room)
    axes.set_ylim(low[1] - 0.35 * inch, high[1] + 0.35 * inch)
    _surface(axes, bent)
    x, y = _around(flat).T
    axes.plot(x, y, color=GREY, lw=1.2, ls=DASHED, zorder=4)
    _heat(result, axes, before, factor * moved)
    _ways(axes, before[-1, 0], 0.6 * inch)
    axes.set_axis_off()
    end = "when it stopped" if folds(result) else "after"
    axes.set_title(
        f"Before (dashed) and {end}, movement drawn {factor:g} times as large"
    )
    return figure


def _around(sheet: FloatArray) -> FloatArray:
    """Closed edge (k, 2) of a surface (ALONG, UP, 2)."""
    parts = sheet[:, 0], sheet[-1], sheet[::-1, -1], sheet[0, ::-1]
    return np.concatenate(parts)


def _surface(axes: Axes, sheet: FloatArray) -> None:
    """A surface as pale strips with lines along and across, and its edge."""
    from matplotlib.collections import LineCollection, PolyCollection

    strips = [
        np.concatenate([sheet[k], sheet[k + 1, ::-1]]) for k in range(len(sheet) - 1)
    ]
    pale = "#dbe9f4"
    axes.add_collection(PolyCollection(strips, fc=pale, ec=pale, lw=0.4, zorder=2))
    inner = [sheet[k] for k in range(5, ALONG - 1, 5)]
    inner += [sheet[:, k] for k in range(2, UP - 1, 2)]
    axes.add_collection(LineCollection(inner, colors="#9dbdd6", lw=0.6, zorder=2.5))
    x, y = _around(sheet).T
    axes.plot(x, y, color=BLUE, lw=1.6, zorder=3)


def _heat(
    result: SolidResult, axes: Axes, before: FloatArray, moved: FloatArray
) -> None:
    """Outlines of the patterns on the bent surface."""
    from scipy.interpolate import RegularGridInterpolator

    x, y = before[:, 0, 0], before[0, :, 1]
    of = RegularGridInterpolator((x, y), moved)
    for outline in result.geometry.outlines:
        ring = np.vstack([outline, outline[:1]])
        part = np.linspace(0.0, len(ring) - 1.0, 12 * len(ring))
        at = np.stack(
            [np.interp(part, np.arange(len(ring)), ring[:, k]) for k in (0, 1)], axis=-1
        )
        flat = np.column_stack([at, np.zeros(len(at))])
        line = askew(flat + of(np.clip(at, (x[0], y[0]), (x[-1], y[-1]))))
        axes.plot(*line.T, color=BLACK, lw=0.9, ls=":", zorder=3.5)


def _ways(axes: Axes, corner: FloatArray, long: float) -> None:
    """Arrows from the low right corner: along the member, and to the front."""
    start = askew(corner)
    for way, name, side in (
        ((1.0, 0.0, 0.0), "along", "center"), ((0.0, 0.0, 1.0), "front", "center"),
    ):  # fmt: skip
        step = askew(np.array(way))
        tip = start + 0.45 * long * step / float(np.hypot(*step))
        arrow(axes, start, tip, colour=GREY)
        axes.annotate(
            name, (float(tip[0]), float(tip[1])), (0, -3), textcoords="offset points",
            ha=side, va="top", fontsize=SMALL, color=GREY, annotation_clip=False,
        )  # fmt: skip

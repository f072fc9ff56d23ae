"""Pictures against time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    GREY,
    HOT,
    LINES,
    WIDTH,
    blank,
    foot_legend,
    place,
)
from shrinksim.units.scales import scale
from shrinksim.views.curves import (
    LEFT,
    RIGHT,
    Panel,
    finish,
    mark_load,
    time_axes,
    trace,
)
from shrinksim.views.result import folds
from shrinksim.views.rows import NO_LENGTH, TINY
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.words import milliradian

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TALL, FOOT = 1.25, 0.48
"""Inches: height of a row of panels, and of the room below the last."""


def growth(result: SolidResult) -> Figure:
    """Rotations, twist and shortening of the patch against time, those that there are."""
    rows = grown(result)
    step = TALL + 0.4
    figure = blank(len(rows) * step + FOOT)
    for k, (what, values, unit) in enumerate(rows):
        low = FOOT + (len(rows) - 1 - k) * step
        row = time_axes(figure, result, low, TALL)
        trace(row, result.movement.times, values, what, k)
        for panel in row:
            panel.axes.axhline(0.0, color=GREY, lw=0.8)
            if not values.any():
                panel.axes.set_ylim(-1.0, 1.0)
        finish(row, what, f"[{unit}]", k == len(rows) - 1)
        _end(result, row[-1], values, unit)
        mark_load(result, row)
    return figure


def grown(result: SolidResult) -> list[tuple[str, FloatArray, str]]:
    """Name, history in axis units and unit of every movement that is more than the
    rounding of the computation; the rotation in the plane always.
    """
    movement, mrad = result.movement, milliradian()
    length = scale(result, "length")
    turns = (
        ("rotation in the plane", movement.rotation_history),
        ("rotation out of the plane", movement.out_of_plane_history),
        ("twist", movement.twist_history),
    )
    rows = [(what, settled(turn, TINY * mrad) / mrad, "mrad") for what, turn in turns]
    shortening = settled(movement.shortening_history, NO_LENGTH)
    rows.append(("shortening", length(shortening), length.unit))
    return [row for k, row in enumerate(rows) if k == 0 or row[1].any()]


def settled(history: FloatArray, least: float) -> FloatArray:
    """A history, 0 throughout where it never gets to ``least``."""
    return history if np.abs(history).max() >= least else np.zeros_like(history)


def _end(result: SolidResult, last: Panel, values: FloatArray, unit: str) -> None:
    """A dot at the end of a curve and its value over the panel."""
    last.axes.plot(
        result.movement.times[-1] / last.one, values[-1], "o", color=BLACK, ms=5,
        clip_on=False, zorder=5,
    )  # fmt: skip
    end = "when it stopped" if folds(result) else "left"
    least = 1e-3 * float(np.abs(values).max())
    least = max(least, TINY) if unit == "mrad" else least
    value = values[-1] if abs(values[-1]) >= least else 0.0
    last.axes.set_title(f"{value:.3g} {unit} {end}", loc="right", weight="bold")


def bend(result: SolidResult) -> Figure:
    """Turns of the cross-sections along the patch, in the plane and out of it."""
    figure = blank(2.75)
    axes = place(figure, LEFT, 0.78, WIDTH - LEFT - RIGHT, 1.65)
    length, movement = scale(result, "length"), result.movement
    for ring in result.geometry.outlines:
        x = length(ring[:, 0])
        axes.axvspan(float(x.min()), float(x.max()), color=HOT, lw=0, zorder=0.3)
    axes.axhline(0.0, color=GREY, lw=0.8)
    for turn, what, (colour, dash) in zip(
        (movement.profile_rotation, movement.profile_out_of_plane),
        ("in the plane", "out of the plane"),
        LINES,
        strict=False,
    ):
        values = settled(turn - turn[0], TINY * milliradian()) / milliradian()
        axes.plot(length(movement.profile_x), values, color=colour, ls=dash, label=what)
    axes.margins(x=0)
    along = f"along the member [{length.unit}], heated part shaded"
    dress(axes, along, "rotation [mrad]", grid="xy")
    axes.set_title("Rotation of the cross-sections")
    foot_legend(figure, axes.get_legend_handles_labels()[0])
    return figure

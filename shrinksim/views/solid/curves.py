"""Pictures against time."""

from __future__ import annotations

from typing import TYPE_CHECKING

from shrinksim.page.style import BLACK, GREY, blank
from shrinksim.units.scales import scale
from shrinksim.views.curves import finish, mark_load, time_axes, trace
from shrinksim.views.result import folds
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.words import milliradian

if TYPE_CHECKING:
    from matplotlib.figure import Figure

TALL, FOOT = 1.25, 0.48
"""Inches: height of a row of panels, and of the room below the last."""


def growth(result: SolidResult) -> Figure:
    """Rotations, twist and shortening of the patch against time."""
    movement, mrad = result.movement, milliradian()
    length = scale(result, "length")
    rows = (
        ("rotation in the plane", movement.rotation_history / mrad, "mrad"),
        ("rotation out of the plane", movement.out_of_plane_history / mrad, "mrad"),
        ("twist", movement.twist_history / mrad, "mrad"),
        ("shortening", length(movement.shortening_history), length.unit),
    )
    step = TALL + 0.4
    figure = blank(len(rows) * step + FOOT)
    for k, (what, values, unit) in enumerate(rows):
        low = FOOT + (len(rows) - 1 - k) * step
        row = time_axes(figure, result, low, TALL)
        trace(row, movement.times, values, what, k)
        for panel in row:
            panel.axes.axhline(0.0, color=GREY, lw=0.8)
        finish(row, what, f"[{unit}]", k == len(rows) - 1)
        last = row[-1]
        last.axes.plot(
            movement.times[-1] / last.one, values[-1], "o", color=BLACK, ms=5,
            clip_on=False, zorder=5,
        )  # fmt: skip
        end = "when it stopped" if folds(result) else "left"
        last.axes.set_title(
            f"{values[-1]:.3g} {unit} {end}", loc="right", weight="bold"
        )
        mark_load(result, row)
    return figure

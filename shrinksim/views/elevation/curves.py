"""Curves over time, and along the member."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.page.axes import dress
from shrinksim.page.style import BLACK, BLUE, GREY, HOT, WIDTH, blank, place
from shrinksim.units.scales import scale
from shrinksim.views.curves import (
    LEFT,
    RIGHT,
    finish,
    legend,
    mark_load,
    time_axes,
    trace,
)
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.result import folds
from shrinksim.views.words import milliradian

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def growth(result: ElevationResult) -> Figure:
    """Rotation and shortening of the patch against time."""
    figure = blank(4.1)
    movement = result.movement
    length = scale(result, "length")
    mrad = movement.rotation_history / milliradian()
    shorter = length(movement.shortening_history)
    upper = time_axes(figure, result, 2.2, 1.6)
    lower = time_axes(figure, result, 0.48, 1.4)
    rows = (
        (upper, mrad, "rotation", "mrad"),
        (lower, shorter, "shortening", length.unit),
    )
    for k, (row, values, what, unit) in enumerate(rows):
        trace(row, movement.times, values, what, k)
        for panel in row:
            panel.axes.axhline(0.0, color=GREY, lw=0.8)
        finish(row, what, f"{what} [{unit}]", row is lower)
        last = row[-1]
        last.axes.plot(
            movement.times[-1] / last.one, values[-1], "o", color=BLACK, ms=5,
            clip_on=False, zorder=5,
        )  # fmt: skip
        end = "when it stopped" if folds(result) else "permanent"
        text = f"{values[-1]:.3g} {unit} {end}"
        last.axes.set_title(text, loc="right", weight="bold")
        mark_load(result, row)
    return figure


def margin(result: ElevationResult) -> Figure:
    """The moment of the load and the hot plastic moment of the section."""
    figure = blank(3.2)
    row = time_axes(figure, result, 0.85, 2.0)
    movement = result.movement
    moment = scale(result, "moment")
    acting = moment(np.abs(movement.moment_history))
    finite = np.isfinite(movement.hinge_margin_history)
    spare = np.where(finite, movement.hinge_margin_history, np.nan)
    capacity = acting * spare
    trace(row, movement.times, acting, "moment of the load", 0)
    trace(row, movement.times, capacity, "hot plastic moment", 1)
    for panel in row:
        panel.axes.set_ylim(0.0, 1.12 * float(np.nanmax([capacity, acting])))
    finish(row, "moment", f"moment [{moment.unit}]")
    if finite.any():
        at = int(np.nanargmin(spare))
        for panel in row:
            t = movement.times[at] / panel.one
            panel.axes.vlines(t, acting[at], capacity[at], color=BLACK, lw=2.0)
        row[-1].axes.set_title(
            f"hot-hinge margin {spare[at]:.2f}", loc="right", weight="bold"
        )
    legend(figure, row, result)
    return figure


def bend(result: ElevationResult) -> Figure:
    """Rotation of the cross-sections along the patch."""
    figure = blank(2.5)
    axes = place(figure, LEFT, 0.5, WIDTH - LEFT - RIGHT, 1.65)
    length = scale(result, "length")
    movement = result.movement
    for ring in result.geometry.outlines:
        x = length(np.asarray(ring)[:, 0])
        axes.axvspan(float(x.min()), float(x.max()), color=HOT, lw=0, zorder=0.3)
    axes.axhline(0.0, color=GREY, lw=0.8)
    axes.plot(length(movement.profile_x), movement.profile_rotation / milliradian(),
              color=BLUE)  # fmt: skip
    axes.margins(x=0)
    along = f"along the member [{length.unit}], heated part shaded"
    dress(axes, along, "rotation [mrad]", grid="xy")
    axes.set_title("Rotation of the cross-sections")
    return figure

"""Curves of a section over time: its movement, and its load over its hot strength."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.page.style import BLACK, GREY, LINES, blank
from shrinksim.units.scales import scale, three_digits
from shrinksim.views.curves import Panel, finish, legend, mark_load, time_axes, trace
from shrinksim.views.curves import temperature as temperatures
from shrinksim.views.load_words import loaded
from shrinksim.views.result import folds
from shrinksim.views.section.heating import FOLLOWED
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.words import bends, every_bend

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

COOL = "#dceaf5"
FORCED = ("air jet", "mist", "wet rag", "water stream", FOLLOWED)
"""Kinds of phases with a forced cooling."""

DRAWN_SHARE = 0.01
"""Share of the largest curvature under which the other one is not drawn."""


def forced_spells(result: SectionResult) -> list[tuple[float, float]]:
    """Start and end (s) of every period of air, mist or water after the torch."""
    heat = result.heat
    on = np.array([name.kind in FORCED for name in heat.phases]).astype(int)
    turns = np.diff(np.concatenate([[0], on, [0]]))
    starts, ends = np.flatnonzero(turns > 0), np.flatnonzero(turns < 0) - 1
    before = np.maximum(starts - 1, 0)
    pairs = zip(heat.times[before], heat.times[ends], strict=True)
    return [(float(a), float(b)) for a, b in pairs]


def shade(result: SectionResult, row: list[Panel]) -> list[Patch]:
    """Shade forced cooling in a row of panels; its key for the legend."""
    from matplotlib.patches import Patch

    spells = forced_spells(result)
    for a, b in spells:
        for panel in row:
            low, high = (panel.one * v for v in panel.axes.get_xlim())
            if a < high and b > low:
                span = max(a, low) / panel.one, min(b, high) / panel.one
                panel.axes.axvspan(*span, color=COOL, lw=0, zorder=0.2)
    return [Patch(color=COOL, label="forced cooling")] if spells else []


def temperature(result: SectionResult) -> Figure:
    """Temperature at the named points against time."""
    return temperatures(result, lambda row: shade(result, row))


def growth(result: SectionResult) -> Figure:
    """Camber and sweep curvature and the strain along the member against time."""
    movement, curvature = result.movement, scale(result, "curvature")
    histories = (movement.camber_history, movement.sweep_history)
    both = dict(zip(every_bend(result), histories, strict=True))
    most = max(float(np.abs(values).max()) for values in both.values())
    drawn = {
        bend.name: curvature(values)
        for bend, values in both.items()
        if bend in bends(result) or np.abs(values).max() >= DRAWN_SHARE * most
    }
    figure = blank(4.5)
    upper = time_axes(figure, result, 2.55, 1.65)
    lower = time_axes(figure, result, 0.88, 1.35)
    for k, (name, values) in enumerate(drawn.items()):
        trace(upper, movement.times, values, name, k)
    strain = 1e3 * movement.strain_history
    colour, dash = LINES[2]
    upper[0].axes.plot([], [], color=colour, ls=dash, label="strain along the member")
    trace(lower, movement.times, strain, "", 2)
    ends = "; ".join(three_digits(float(values[-1])) for values in drawn.values())
    _row(result, upper, "curvature", curvature.unit, ends, list(drawn.values()), False)
    _row(
        result, lower, "strain", "mm/m", three_digits(float(strain[-1])), [strain], True
    )
    patches = shade(result, upper)
    shade(result, lower)
    legend(figure, upper, result, patches)
    return figure


def _row(
    result: SectionResult, row: list[Panel], what: str, unit: str, left: str,
    values: Sequence[FloatArray], foot: bool,
) -> None:  # fmt: skip
    """Zero line, numbers, the load and the final value, for one row of panels."""
    for panel in row:
        panel.axes.axhline(0.0, color=GREY, lw=0.8)
    finish(row, what, f"{what} [{unit}]", foot)
    last = row[-1]
    for curve in values:
        last.axes.plot(
            result.movement.times[-1] / last.one, curve[-1], "o", color=BLACK, ms=5,
            clip_on=False, zorder=5,
        )  # fmt: skip
    end = "when it stopped" if folds(result) else "permanent"
    text = f"{left.replace('-', chr(0x2212))} {unit} {end}"
    last.axes.set_title(text, loc="right", weight="bold")
    mark_load(result, row)


def margin(result: SectionResult) -> Figure:
    """Share of the hot section's strength in bending that the load uses."""
    figure = blank(3.2)
    row = time_axes(figure, result, 0.85, 2.0)
    movement = result.movement
    spare = np.maximum(movement.hinge_margin_history, 1e-9)
    used = 1.0 / spare
    trace(row, movement.times, used, "moment over hot plastic moment", 0)
    for panel in row:
        panel.axes.axhline(1.0, color=BLACK, lw=1.2, ls=(0, (5, 2)))
        panel.axes.set_ylim(0.0, 1.12 * max(float(used.max()), 1.0))
    row[-1].axes.text(
        0.99, 1.0, "folds here", transform=row[-1].axes.get_yaxis_transform(),
        ha="right", va="bottom",
    )  # fmt: skip
    finish(row, "share of the hot strength", "share of strength [1]")
    row[-1].axes.set_title(
        f"hot-hinge margin {spare.min():.2f}", loc="right", weight="bold"
    )
    legend(figure, row, result, shade(result, row))
    return figure


def has_margin(result: SectionResult) -> bool:
    """Whether a moment acts while hot."""
    return loaded(result) and result.movement.hinge_margin is not None

"""Curves over time: panels of heating and cooling, and temperature curves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.page.axes import Mark, dress
from shrinksim.page.style import (
    BLACK,
    GREY,
    HOT,
    LINES,
    SMALL,
    WHITE,
    WIDTH,
    blank,
    foot_legend,
    place,
)
from shrinksim.units.scales import scale
from shrinksim.views.load_words import loaded
from shrinksim.views.maps import TRANSFORMATION
from shrinksim.views.result import AnyResult

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import Patch

LEFT, GAP, RIGHT = 0.84, 0.22, 0.12

CLOCK = (
    (1, "1 s"), (10, "10 s"), (30, "30 s"), (60, "1 min"), (120, "2 min"),
    (300, "5 min"), (600, "10 min"), (1800, "30 min"), (3600, "1 h"), (7200, "2 h"),
    (18000, "5 h"), (43200, "12 h"), (86400, "1 d"), (172800, "2 d"),
)  # fmt: skip
"""Marks (s) of a time axis in powers of ten."""


@dataclass(frozen=True)
class Panel:
    """A stretch of time with its axes: ``one`` seconds to a unit of the axes.

    heading, name : its title, and the name of its time axis.  marks : on its time.
    """

    axes: Axes
    one: float
    heading: str
    name: str
    marks: tuple[Mark, ...] | None = None


def time_axes(
    figure: Figure, result: AnyResult, low: float, height: float
) -> list[Panel]:
    """A row of time panels: the heating close up, then the cooling in powers of ten.

    One even panel where the two are about as long.  The times with a torch on are shaded.
    """
    whole = float(result.strain.times[-1])
    spells = result.heat.torch_spells
    close = 1.4 * spells[-1][1] if spells else whole
    row = split_time(figure, low, height, close, whole)
    for a, b in spells:
        axes, one = row[0].axes, row[0].one
        axes.axvspan(a / one, b / one, color=HOT, lw=0, zorder=0.3)
    return row


def _even(axes: Axes, end: float, heading: str) -> Panel:
    """Time from 0 to ``end`` s on an even scale."""
    one, unit = 1.0, "s"
    if end > 600.0:
        one, unit = (60.0, "min") if end < 4 * 3600.0 else (3600.0, "h")
    axes.set_xlim(0.0, end / one)
    return Panel(axes, one, heading, f"time [{unit}]")


def _stretched(axes: Axes, begin: float, end: float) -> Panel:
    """Time from ``begin`` to ``end`` s in powers of ten."""
    axes.set_xscale("log")
    axes.set_xlim(begin, end)
    room = 0.15 * np.log(end / begin)
    marks: list[Mark] = []
    for t, text in CLOCK:
        inside = 1.05 * begin < t <= end
        if inside and (not marks or np.log(t / marks[-1][0]) > room):
            marks.append((t, text))
    return Panel(axes, 1.0, "cooling", "time, not on an even scale", tuple(marks))


def split_time(
    figure: Figure, low: float, height: float, close: float, whole: float
) -> list[Panel]:
    """Panels for 0 to ``close`` s and on to ``whole``, one where they are about as long."""
    if close > 0.4 * whole:
        axes = place(figure, LEFT, low, WIDTH - LEFT - RIGHT, height)
        return [_even(axes, whole, "")]
    width = 0.5 * (WIDTH - LEFT - RIGHT - GAP)
    first = place(figure, LEFT, low, width, height)
    second = place(figure, LEFT + width + GAP, low, width, height)
    return [_even(first, close, "heating"), _stretched(second, close, whole)]


def finish(row: list[Panel], title: str, name: str, foot: bool = True) -> None:
    """One range of heights for a row, its grid and numbers, and its headings."""
    limits = [panel.axes.get_ylim() for panel in row]
    low, high = min(a for a, _ in limits), max(b for _, b in limits)
    for k, panel in enumerate(row):
        panel.axes.set_ylim(low, high)
        dress(
            panel.axes, panel.name if foot else None, name if k == 0 else None,
            grid="xy", x_marks=panel.marks,
        )  # fmt: skip
        parts = (title if k == 0 else "", panel.heading)
        text = ": ".join(part for part in parts if part)
        panel.axes.set_title(text[:1].upper() + text[1:])


def trace(
    row: list[Panel], times: FloatArray, values: FloatArray, label: str,
    number: int,
) -> None:  # fmt: skip
    """The same curve in every panel, in the number-th colour and dash."""
    colour, dash = LINES[number % len(LINES)]
    for panel in row:
        panel.axes.plot(times / panel.one, values, color=colour, ls=dash, label=label)


def temperature(
    result: AnyResult, shade: Callable[[list[Panel]], Sequence[Patch]] | None = None
) -> Figure:
    """Temperature at the named points against time.

    shade : shades more of a row of panels and gives the keys to it.
    """
    figure = blank(3.3)
    row = time_axes(figure, result, 0.85, 2.1)
    degrees = scale(result, "temperature")
    heat = result.heat
    hottest = degrees(heat.temperature.max(axis=1))
    for panel in row:
        panel.axes.plot(
            heat.times / panel.one, hottest, color=GREY, lw=0.9, label="hottest point"
        )
    named = result.view.stages().point_temperatures(result)
    for k, (name, T) in enumerate(named.items()):
        # a name with a leading underscore would be left out of the legend
        trace(row, heat.times, degrees(T), f"\u200a{name}", k)
    for limit, what in ((result.steel_limit, "limit"), (TRANSFORMATION, "transf.")):
        if float(heat.peak.max()) > 0.85 * limit:
            _limit(row, float(degrees(limit)), what)
    finish(row, "temperature", f"temperature [{degrees.unit}]")
    legend(figure, row, result, shade(row) if shade else ())
    return figure


def _limit(row: list[Panel], value: float, what: str) -> None:
    """A line across the row at ``value``, named at its right end."""
    for panel in row:
        panel.axes.axhline(value, color=BLACK, lw=0.9, ls=(0, (5, 2)))
    axes = row[-1].axes
    axes.text(
        0.99, value, f"{what} {value:.0f}", transform=axes.get_yaxis_transform(),
        ha="right", va="bottom",
    )  # fmt: skip


def legend(
    figure: Figure, row: list[Panel], result: AnyResult, more: Sequence[Patch] = ()
) -> None:
    """One legend along the foot, with the torch's shade and ``more`` patches in it."""
    from matplotlib.patches import Patch

    handles, _ = row[0].axes.get_legend_handles_labels()
    if result.heat.torch_spells:
        more = (Patch(color=HOT, label="torch on"), *more)
    foot_legend(figure, [*handles, *more])


def mark_load(result: AnyResult, row: list[Panel]) -> None:
    """Lines where the load goes on and off."""
    if not loaded(result):
        return
    times, fraction = result.strain.times, result.strain.fraction
    on = float(times[np.argmax(fraction > 0)])
    off = "load stays on" if fraction[-1] > 0 else "load off"
    marks = ((row[0], on, "load on", "left"), (row[-1], times[-1], off, "right"))
    for panel, t, text, side in marks:
        panel.axes.axvline(t / panel.one, color=BLACK, lw=2.0, ls=(0, (2, 1)))
        panel.axes.annotate(
            text, (t / panel.one, 0.05), xycoords=("data", "axes fraction"),
            xytext=(5 if side == "left" else -5, 0), textcoords="offset points",
            ha=side, fontsize=SMALL,
            bbox=WHITE,
        )  # fmt: skip

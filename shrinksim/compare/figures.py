"""Figures of a comparison: histories of all cases on the same axes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.page.style import (
    AMBER,
    BLACK,
    GREY,
    LINES,
    NORMAL,
    POINTS,
    Dash,
    blank,
    box,
    foot_legend,
)
from shrinksim.units.scales import scale_in
from shrinksim.views import VIEWS
from shrinksim.views.curves import Panel, finish, split_time
from shrinksim.views.view import Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from shrinksim.compare.comparison import Comparison

STYLES: tuple[tuple[str, Dash], ...] = (
    *LINES[:4],
    (AMBER, (0, (9.0, 2.0, 1.0, 2.0, 1.0, 2.0))),
    (BLACK, (0, (2.0, 1.0))),
    (GREY, (0, (12.0, 3.0))),
    ("#5d4a99", (0, (5.0, 1.5, 1.0, 1.5))),
)
"""Colour and dash of each case; dash and letter tell them apart in grey."""

LINE, FOOT, ROW = 0.18, 0.62, 1.75
"""Inches: of a line of the legend, under a row of axes, and a row's height."""

APART = 15.0
"""Points that letters on curves keep from each other."""

LONGEST = 64
"""Letters of a title in a legend."""


@dataclass(frozen=True)
class Curve:
    """A curve of one case over time: letter, times s, values in axis units."""

    letter: str
    times: FloatArray
    values: FloatArray


def style(number: int) -> tuple[str, Dash]:
    """Colour and dash of the number-th case."""
    return STYLES[number % len(STYLES)]


def keys(comparison: Comparison, more: Sequence[str] = ()) -> list[Line2D]:
    """The cases with their letters and titles; more : behind each title."""
    from matplotlib.lines import Line2D

    found = []
    for k, side in enumerate(comparison.sides):
        colour, dash = style(k)
        title = side.title if len(side.title) <= LONGEST else side.title[:LONGEST] + "…"
        behind = f", {more[k]}" if more else ""
        label = f"{side.letter}: {title}{behind}"
        found.append(Line2D([], [], color=colour, ls=dash, label=label))
    return found


def ends(comparison: Comparison) -> tuple[float, float]:
    """Until when (s) the heating is shown close up, and the end of everything."""
    off = [spell[1] for side in comparison.sides for spell in side.traces["torch"]]
    whole = max(side.traces["moved"]["time"][-1] for side in comparison.sides)
    return (1.4 * max(off) if off else whole), whole


def temperatures(comparison: Comparison) -> Figure:
    """Temperature of the hottest point over time."""
    degrees = scale_in(comparison.units, "temperature")
    curves = [
        Curve(
            side.letter,
            np.array(side.traces["hottest"]["time"]),
            degrees(side.traces["hottest"]["hottest"]),
        )
        for side in comparison.sides
    ]
    rows = [(curves, "hottest point", f"temperature [{degrees.unit}]")]
    return _rows(comparison, rows)


def movements(comparison: Comparison) -> Figure:
    """How each case moved: the traces of the view's measures that are not nothing."""
    rows = []
    for trace in _seen(comparison):
        one, unit = _unit(comparison.units, trace.dimension)
        curves = _moved(comparison, trace.name, one)
        rows.append((curves, trace.title, f"{trace.name} [{unit}]"))
    return _rows(comparison, rows)


SMALL_UNITS = {"mrad": (1e-3, "mrad"), "strain": (1e-3, "mm/m")}
"""Dimension -> one of its unit, and the unit, the same for all readers."""


def _unit(units: str, dimension: str) -> tuple[float, str]:
    """One of a dimension's unit in SI, and its name."""
    if dimension in SMALL_UNITS:
        return SMALL_UNITS[dimension]
    found = scale_in(units, dimension)
    return found.one, found.unit


def _seen(comparison: Comparison) -> list[Trace]:
    """Traces of the view; of curvatures those that any case has more of than rounding."""
    table = VIEWS[comparison.view].stages().measures
    traces = [measure.trace for measure in table if measure.trace is not None]
    most = {
        trace.name: max(
            float(np.abs(side.traces["moved"][trace.name]).max())
            for side in comparison.sides
        )
        for trace in traces
    }
    bends = [most[t.name] for t in traces if t.dimension == "curvature"]
    least = 0.01 * max(bends, default=0.0)
    return [t for t in traces if t.dimension != "curvature" or most[t.name] > least]


def _moved(comparison: Comparison, name: str, one: float) -> list[Curve]:
    """Histories of one movement, in units of ``one``."""
    return [
        Curve(side.letter, np.array(moved["time"]), np.array(moved[name]) / one)
        for side in comparison.sides
        for moved in [side.traces["moved"]]
    ]


def _rows(
    comparison: Comparison, rows: Sequence[tuple[Sequence[Curve], str, str]]
) -> Figure:
    """Rows of time axes over each other, each with its curves, and one legend."""
    named = keys(comparison)
    foot = FOOT + LINE * len(named)
    step = ROW + 0.4
    figure = blank(foot + step * len(rows))
    close, whole = ends(comparison)
    for k, (curves, title, name) in enumerate(rows):
        last = k == len(rows) - 1
        low = foot + step * (len(rows) - 1 - k)
        row = split_time(figure, low, ROW, close, whole)
        for panel in row:
            panel.axes.axhline(0.0, color=GREY, lw=0.8)
            for number, curve in enumerate(curves):
                colour, dash = style(number)
                x = curve.times / panel.one
                panel.axes.plot(x, curve.values, color=colour, ls=dash)
        for number, curve in enumerate(curves):
            x, y = curve.times[-1] / row[-1].one, curve.values[-1]
            colour, _ = style(number)
            row[-1].axes.plot(x, y, "o", color=colour, ms=4.5, clip_on=False)
        finish(row, title, name, last)
        for panel in row:
            letters(panel, curves)
    foot_legend(figure, named, 1)
    return figure


def letters(panel: Panel, curves: Sequence[Curve]) -> None:
    """The letter of each curve on it, where it is farthest from the others."""
    axes = panel.axes
    left, _, wide, _ = box(axes)
    spots = np.linspace(left + 0.12, left + wide - 0.12, 32) * POINTS
    heights = np.stack([_heights(panel, curve, spots) for curve in curves])
    gaps = _gaps(heights)
    placed: list[tuple[float, float]] = []
    for k in np.argsort(-gaps.max(axis=1)):
        score = gaps[k].copy()
        for x, y in placed:
            away = np.hypot(spots - x, heights[k] - y)
            score = np.where(away < APART, -np.inf, score)
        if not np.isfinite(score).any():
            continue
        at = int(np.argmax(score))
        placed.append((float(spots[at]), float(heights[k, at])))
        _letter(axes, curves[k].letter, style(int(k))[0], *placed[-1])


def _heights(panel: Panel, curve: Curve, spots: FloatArray) -> FloatArray:
    """Height (points) of a curve at places across, nan outside the axes."""
    axes = panel.axes
    places = np.stack([curve.times / panel.one, curve.values], axis=1)
    x, y = in_points(axes, places).T
    found = np.interp(spots, x, y, left=np.nan, right=np.nan)
    _, low, _, tall = box(axes)
    inside = (found > POINTS * low) & (found < POINTS * (low + tall))
    return np.where(inside, found, np.nan)


def in_points(axes: Axes, places: FloatArray) -> FloatArray:
    """Places (k, 2) of the axes as points (k, 2) from the sheet's lower left corner."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    least = 1e-12 if axes.get_xscale() == "log" else -np.inf
    shown = np.maximum(places, (least, -np.inf))
    return axes.transData.transform(shown) * POINTS / figure.dpi


def _gaps(heights: FloatArray) -> FloatArray:
    """Distance (k, p) of each curve from the nearest other one, -inf where it is not."""
    gaps = np.full(heights.shape, 100.0)
    for k in range(len(heights)):
        others = np.delete(heights, k, axis=0)
        if len(others):
            apart = np.abs(others - heights[k])
            gaps[k] = np.min(np.where(np.isnan(apart), 100.0, apart), axis=0)
    return np.where(np.isnan(heights), -np.inf, np.minimum(gaps, 3.0 * APART))


def _letter(axes: Axes, letter: str, colour: str, x: float, y: float) -> None:
    """A letter at a place in points."""
    left, low, wide, tall = box(axes)
    axes.text(
        (x / POINTS - left) / wide, (y / POINTS - low) / tall, letter, color=colour,
        transform=axes.transAxes, fontsize=NORMAL, fontweight="bold", ha="center",
        va="center_baseline", zorder=6, bbox={"fc": "white", "ec": "none", "pad": 0.5},
    )  # fmt: skip

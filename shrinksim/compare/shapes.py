"""Figures of a comparison: a member's line, and the steel before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.compare.figures import (
    LINE,
    Curve,
    keys,
    letters,
    style,
)
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    FLATTEST,
    GREY,
    LARGE,
    SMALL,
    WIDTH,
    blank,
    foot_legend,
    place,
    round_factor,
)
from shrinksim.units.scales import scale_in, three_digits
from shrinksim.views import VIEWS
from shrinksim.views.bend_names import mid_offset
from shrinksim.views.curves import Panel
from shrinksim.views.view import Measure
from shrinksim.views.words import sample_length

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from shrinksim.compare.comparison import Comparison, Side

WIDE, TALL, GAP, HEAD = 3.3, 1.9, 0.25, 0.3
"""Inches: room of one shape, between two, and over each for its title."""


def lines(comparison: Comparison) -> Figure:
    """A straight member with each heat at its middle, offsets on one scale."""
    span, name = sample_length(comparison.units)
    bends = _bends(comparison)
    named = 2 if len(bends) > 1 else 1
    foot, step = 0.25 + LINE * len(comparison.sides) * named, 1.95
    figure = blank(foot + step * len(bends))
    length = scale_in(comparison.units, "length")
    legend: list[str] = [""] * len(comparison.sides)
    x = np.linspace(-0.5, 0.5, 161) * span
    for row, bend in enumerate(bends):
        plane = bend.bend.plane if bend.bend else ""
        low = foot + step * (len(bends) - 1 - row) + 0.4
        axes = place(figure, 0.68, low, WIDTH - 0.8, step - 0.75)
        axes.plot(x, 0.0 * x, color=GREY, lw=1.0)
        curves = []
        for k, side in enumerate(comparison.sides):
            if side.folds:
                legend[k] = "folds"
                continue
            line = length(_line(side, bend, x, span))
            colour, dash = style(k)
            axes.plot(x, line, color=colour, ls=dash, lw=1.8)
            curves.append(Curve(side.letter, x, line))
            out = f"{three_digits(abs(float(line[80])))} {length.unit}"
            offset = f"{plane} {out}" if plane else out
            legend[k] = ", ".join(t for t in (legend[k], offset) if t)
        axes.set_xlim(-0.5 * span, 0.5 * span)
        ends = [(-0.5 * span, "end"), (0.0, "heat"), (0.5 * span, "end")]
        dress(axes, "", f"offset [{length.unit}]", grid="y", x_marks=ends)
        title = f"A straight {name} member heated like this at its middle"
        axes.set_title(f"{title}: {plane}" if plane else title)
        letters(Panel(axes, 1.0, "", ""), curves)
    foot_legend(figure, keys(comparison, legend), 1)
    return figure


def _bends(comparison: Comparison) -> list[Measure]:
    """The rotations of the line that are not negligible in all cases, at least one."""
    table = VIEWS[comparison.view].stages().measures
    bends = [measure for measure in table if measure.bend is not None]
    turns = [max(abs(_rotation(side, b)) for side in comparison.sides) for b in bends]
    least = 0.01 * max(turns)
    found = [b for b, most in zip(bends, turns, strict=True) if most > least]
    return found or bends[:1]


def _rotation(side: Side, bend: Measure) -> float:
    """Permanent rotation (rad)."""
    return float(side.summary[bend.key]) * 1e-3


def _line(side: Side, bend: Measure, x: FloatArray, span: float) -> FloatArray:
    """Offsets (m) from the string between the ends: bent evenly where it is heated."""
    turn, sense = _rotation(side, bend), side.traces["sense"]
    spread = bend.bend is not None and bend.bend.spread
    heated = min(float(side.traces["heated_length"]), 0.8 * span) if spread else 0.0
    half = max(0.5 * heated, 1e-9 * span)
    bent = np.where(np.abs(x) < half, x**2 / (2.0 * half), np.abs(x) - 0.5 * half)
    rise = bent[0] - bent
    out = mid_offset(abs(turn), heated, span)
    if not spread:
        return sense * out * rise / rise.max()
    return -np.sign(turn) * out * rise / rise.max()


def shapes(comparison: Comparison) -> Figure:
    """Each case's steel before and after, all drawn to the same two scales."""
    sides = comparison.sides
    rows = -(-len(sides) // 2)
    factor = min(_factor(comparison, side) for side in sides if not side.folds)
    spans = np.max([_span(side, factor) for side in sides], axis=0)
    thicker = max(spans[0] / spans[1] / FLATTEST, 1.0)
    inch = max(spans[0] / (WIDE - 0.1), spans[1] * thicker / TALL)
    tall = spans[1] * thicker / inch
    figure = blank(rows * (tall + HEAD + GAP) + 0.35)
    height = figure.get_figheight()
    for k, side in enumerate(sides):
        left = 0.12 + (k % 2) * (WIDE + GAP)
        low = height - 0.35 - (k // 2 + 1) * (tall + HEAD + GAP) + GAP
        _shape(figure, side, (left, low, WIDE, tall), factor, (inch, inch / thicker))
    note = f"Before dashed, after solid; movement drawn {factor:g} times as large"
    note += f", thickness {thicker:.2g} times" if thicker > 1.0 else ""
    figure.text(0.12 / WIDTH, 1.0 - 0.08 / height, note, fontsize=LARGE, va="top")
    return figure


def _factor(comparison: Comparison, side: Side) -> float:
    """How many times as large this case's movement could be drawn."""
    wide, tall = np.ptp(np.array(side.traces["outline"]), axis=0)
    table = VIEWS[comparison.view].stages().measures
    spread = any(m.bend is not None and m.bend.spread for m in table)
    room = 0.12 * min(wide, 4.0 * tall) if spread else 0.3 * min(wide, tall)
    largest = float(np.abs(side.traces["shift"]).max())
    return round_factor(room / max(largest, 1e-12))


def _span(side: Side, factor: float) -> FloatArray:
    """Width and height (m) of a case's drawing."""
    before, after = _rings(side, factor)
    return 1.04 * np.ptp(np.vstack([before, after]), axis=0)


def _rings(side: Side, factor: float) -> tuple[FloatArray, FloatArray]:
    """Outline (k, 2) m before and after; a folded one only before."""
    before = np.array(side.traces["outline"])
    shift = 0.0 if side.folds else factor * np.array(side.traces["shift"])
    return before, before + shift


def _shape(
    figure: Figure, side: Side, box: tuple[float, float, float, float], factor: float,
    inch: tuple[float, float],
) -> None:  # fmt: skip
    """One case in its box (inches); inch : metres to an inch, across and up."""
    before, after = _rings(side, factor)
    both = np.vstack([before, after])
    middle = 0.5 * (both.min(axis=0) + both.max(axis=0))
    left, low, wide, tall = box
    axes = place(figure, left, low, wide, tall)
    axes.set_axis_off()
    x, y = middle
    axes.set_xlim(x - 0.5 * wide * inch[0], x + 0.5 * wide * inch[0])
    axes.set_ylim(y - 0.5 * tall * inch[1], y + 0.5 * tall * inch[1])
    if side.folds:
        axes.text(
            x, y, "folds while hot: not drawn", fontsize=SMALL, color=BLACK,
            ha="center", va="center",
        )  # fmt: skip
    else:
        axes.fill(*after.T, fc="#dbe9f4", ec=BLUE, lw=1.4)
    axes.fill(*before.T, fc="none", ec=GREY, lw=1.2, ls=DASHED)
    title = side.title if len(side.title) <= 44 else side.title[:43] + "…"
    axes.set_title(f"{side.letter}: {title}", pad=4.0)

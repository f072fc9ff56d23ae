"""The drawing on a heat's card: the pattern on the steel with what there is to measure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.member.plan.chalk import (
    ChalkMark,
    card_marks,
    edge_name,
    flange_band,
    view_depth,
)
from shrinksim.member.plan.frame import drawn_plane
from shrinksim.page.style import (
    BLACK,
    DASHED,
    DIM,
    GREY,
    HOT,
    LIGHT,
    POINTS,
    RED,
    SMALL,
    SOLID,
    WHITE,
    arrow,
    blank,
    drawn_at,
    numbered,
)
from shrinksim.page.style import place as place_axes
from shrinksim.units.tape import place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import HeatCard

WIDE, TALL = 3.5, 2.55
"""Inches of the whole drawing."""

FRAME = (0.12, 0.42, 2.6, 1.75)
"""Inches: left, low, width and height of the member's part of it."""


def pattern_sheet(card: HeatCard, job: Job) -> Figure:
    """The heat as it is chalked, seen as the member lies, with its dimensions."""
    figure = blank(TALL, WIDE)
    axes = place_axes(figure, *FRAME)
    axes.set_axis_off()
    _, _, wide, tall = FRAME
    marks = card_marks(card, job)
    D = view_depth(card, job)
    scale = 0.80 * tall / D  # inches for a metre
    half = max(1.35 * max(max(-m.start, m.end) for m in marks), 0.25 * D)
    scale = min(scale, 0.5 * wide / half)
    span = wide / scale
    axes.set_xlim(-0.5 * span, 0.5 * span)
    axes.set_ylim(0.5 * D - 0.5 * tall / scale, 0.5 * D + 0.5 * tall / scale)
    turned = drawn_plane(job, card.plane).sign < 0
    _member(axes, card, job, 0.5 * span)
    for number, mark in enumerate(marks, start=1):
        _pattern(axes, mark, number, D, turned, len(marks) > 1)
    _measures(axes, marks, card, job, turned)
    _names(axes, card, job, turned)
    at = f"middle at {place(card.at, job.print_units)} from the marked end"
    figure.text(
        0.5, 0.14 / TALL, at, fontsize=SMALL, color=BLACK, fontweight="bold",
        ha="center", va="center",
    )  # fmt: skip
    return figure


def _up(y: float, D: float, turned: bool) -> float:
    """A height of the view as it is drawn."""
    return D - y if turned else y


def _member(axes: Axes, card: HeatCard, job: Job, half: float) -> None:
    """The stretch of the member with its flanges, broken off at both ends."""
    D, band = view_depth(card, job), flange_band(card, job)
    x = np.array([-half, half])
    axes.fill_between(x, 0.0, D, color=LIGHT, lw=0, zorder=0.5)
    heights = [0.0, D]
    if band > 0.0:
        for low in (0.0, D - band):
            axes.fill_between(x, low, low + band, color=SOLID, lw=0, zorder=0.6)
        heights += [band, D - band]
    for y in heights:
        axes.plot(x, [y, y], color=GREY, lw=0.8)
    axes.plot([0.0, 0.0], [0.0, D], color=DIM, lw=0.7, ls="-.", zorder=2.5)


def _pattern(
    axes: Axes, mark: ChalkMark, number: int, D: float, turned: bool, several: bool
) -> None:
    """One pattern, numbered where there are several."""
    x, y = mark.ring[:, 0], mark.ring[:, 1]
    y = D - y if turned else y
    axes.fill(x, y, fc=HOT, ec=RED, lw=1.3, ls=DASHED, zorder=1.5)
    if several:
        middle = (
            float(np.mean(y)) if mark.kind != "vee" else float(y[0] * 0.4 + y[1] * 0.6)
        )
        aside = float(np.ptp(x)) * 0.5 if mark.kind == "strip" else 0.0
        numbered(
            axes, float(np.mean(x)) + aside, middle, str(number), colour=RED,
            shift=(10.0 if aside else 0.0, 0.0),
        )  # fmt: skip


def _measures(
    axes: Axes, marks: list[ChalkMark], card: HeatCard, job: Job, turned: bool
) -> None:
    """Width at the open end, depth from the open edge, angle."""
    units, D = job.print_units, view_depth(card, job)
    first = marks[0]
    wide = first.end - first.start
    mouth = _up(first.ring[1, 1], D, turned) if first.kind == "vee" else None
    high = mouth is not None and float(mouth) > 0.5 * D
    edge = (D if high else 0.0) if mouth is not None else D
    way = 1.0 if edge > 0.5 * D else -1.0
    gap = 7.0 * way
    _dimension(axes, first.start, first.end, edge, gap)
    axes.annotate(
        f"{place(wide, units)} wide", (0.5 * (first.start + first.end), edge),
        (0.0, gap + 2.5 * way), textcoords="offset points", fontsize=SMALL, color=BLACK,
        ha="center", va="bottom" if way > 0 else "top",
    )  # fmt: skip
    if first.kind != "vee":
        return
    right = axes.get_xlim()[1]
    apex = float(_up(first.ring[0, 1], D, turned))
    axes.plot([first.ring[0, 0], right], [apex, apex], color=DIM, lw=0.6, ls=":")
    end = (right * 0.93, edge), (right * 0.93, apex)
    arrow(axes, *end, width=0.7, head=7.0, both=True)
    axes.annotate(
        f"{place(first.reach, units)}\nfrom the\nopen edge", (right, 0.5 * (edge + apex)),
        (5.0, 0.0), textcoords="offset points", fontsize=SMALL, color=BLACK, va="center",
    )  # fmt: skip
    if first.angle is not None:
        degrees = f"{round(float(np.degrees(first.angle)), 1):g}°"
        axes.annotate(
            degrees, (first.ring[0, 0], apex), (0.0, -2.0 * way),
            textcoords="offset points", fontsize=SMALL, color=BLACK, ha="center",
            va="top" if way > 0 else "bottom", bbox=WHITE,
        )  # fmt: skip


def _dimension(axes: Axes, a: float, b: float, y: float, gap: float) -> None:
    """An arrow between two places, ``gap`` points beside an edge."""
    beside = y + gap / POINTS * (axes.get_ylim()[1] - axes.get_ylim()[0]) / FRAME[3]
    arrow(axes, (a, beside), (b, beside), width=0.7, head=7.0, both=True)
    for x in (a, b):
        drawn_at(axes, x, y, ((0.0, 0.0), (0.0, 1.5 * gap)), mec=BLACK, mew=0.5)


def _names(axes: Axes, card: HeatCard, job: Job, turned: bool) -> None:
    """Which side of the member is where, and where it bulges."""
    D = view_depth(card, job)
    for edge, y in (("top", D), ("bottom", 0.0)):
        drawn = float(_up(y, D, turned))
        name = edge_name(card, edge)
        high = drawn > 0.5 * D
        open_end = name == card.side
        text = f"{name},\nbulging" if open_end else name
        up = "top" if high else "bottom"
        left, band = axes.get_xlim()[0], flange_band(card, job)
        inside = drawn - band if high else drawn + band
        axes.annotate(
            text, (left, inside), (2.0, -2.0 if high else 2.0),
            textcoords="offset points", fontsize=SMALL, color=DIM, va=up,
            fontweight="bold" if open_end else "normal",
        )  # fmt: skip

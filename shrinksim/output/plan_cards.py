"""The drawing on a heat's card: the pattern on the steel with what there is to measure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.member.tape import place
from shrinksim.output.paper.axes import Axes
from shrinksim.output.paper.ink import Type
from shrinksim.output.plan_chalk import (
    Chalked,
    chalked,
    edge_name,
    flange_band,
    view_depth,
)
from shrinksim.output.plan_frame import view_of
from shrinksim.output.sheet import BLACK, DASHED, DIM, GREY, HOT, RED, SMALL, Sheet

if TYPE_CHECKING:
    from shrinksim.member.job import Job
    from shrinksim.member.plan_records import HeatCard

WIDE, TALL = 3.5, 2.55
"""Inches of the whole drawing."""

LIGHT, SOLID = "#eceff1", "#c9d1d8"
FRAME = (0.12, 0.42, 2.6, 1.75)
"""Inches: left, low, width and height of the member's part of it."""


def pattern_sheet(card: HeatCard, job: Job) -> Sheet:
    """The heat as it is chalked, seen as the member lies, with its dimensions."""
    sheet = Sheet(TALL, WIDE)
    axes = sheet.place(*FRAME)
    axes.frame = ()
    marks = chalked(card, job)
    D = view_depth(card, job)
    scale = 0.80 * axes.height / D  # inches for a metre
    half = max(1.35 * max(max(-m.start, m.end) for m in marks), 0.25 * D)
    scale = min(scale, 0.5 * axes.width / half)
    span = axes.width / scale
    axes.set_xlim(-0.5 * span, 0.5 * span)
    axes.set_ylim(
        0.5 * D - 0.5 * axes.height / scale, 0.5 * D + 0.5 * axes.height / scale
    )
    turned = view_of(job, card.plane).sign < 0
    _member(axes, card, job, 0.5 * span)
    for number, mark in enumerate(marks, start=1):
        _pattern(axes, mark, number, D, turned, len(marks) > 1)
    _measures(axes, marks, card, job, turned)
    _names(axes, card, job, turned)
    at = f"middle at {place(card.at, job.print_units)} from the marked end"
    sheet.text(0.5 * WIDE, 0.14, at, Type(SMALL, BLACK, "center", bold=True))
    return sheet


def _up(y: float, D: float, turned: bool) -> float:
    """A height of the view as it is drawn."""
    return D - y if turned else y


def _member(axes: Axes, card: HeatCard, job: Job, half: float) -> None:
    """The stretch of the member with its flanges, broken off at both ends."""
    D, band = view_depth(card, job), flange_band(card, job)
    x = np.array([-half, half])
    axes.fill_between(x, 0.0, D, colour=LIGHT, order=0.5)
    heights = [0.0, D]
    if band > 0.0:
        for low in (0.0, D - band):
            axes.fill_between(x, low, low + band, colour=SOLID, order=0.6)
        heights += [band, D - band]
    for y in heights:
        axes.plot(x, [y, y], colour=GREY, width=0.8)
    axes.plot([0.0, 0.0], [0.0, D], colour=DIM, width=0.7, dash="-.", order=2.5)


def _pattern(
    axes: Axes, mark: Chalked, number: int, D: float, turned: bool, several: bool
) -> None:
    """One pattern, numbered where there are several."""
    x, y = mark.ring[:, 0], mark.ring[:, 1]
    y = D - y if turned else y
    if mark.kind == "line":
        axes.plot(x, y, colour=RED, width=2.5)
    else:
        axes.fill(x, y, colour=HOT, edge=RED, width=1.3, dash=DASHED, order=1.5)
    if several:
        middle = (
            float(np.mean(y)) if mark.kind != "vee" else float(y[0] * 0.4 + y[1] * 0.6)
        )
        aside = float(np.ptp(x)) * 0.5 if mark.kind == "strip" else 0.0
        axes.numbered(
            float(np.mean(x)) + aside, middle, str(number), colour=RED,
            shift=(10.0 if aside else 0.0, 0.0),
        )  # fmt: skip


def _measures(
    axes: Axes, marks: list[Chalked], card: HeatCard, job: Job, turned: bool
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
    small = Type(SMALL, BLACK, "center", "bottom" if way > 0 else "top", box="white")
    for x in (first.start, first.end):
        axes.plot([x, x], [edge, edge], colour=BLACK, width=0.6)
    _dimension(axes, first.start, first.end, edge, gap)
    axes.text(
        0.5 * (first.start + first.end), edge, f"{place(wide, units)} wide", small,
        shift=(0.0, gap + 2.0 * way),
    )  # fmt: skip
    if first.kind != "vee":
        return
    right = axes.xlim()[1]
    apex = float(_up(first.ring[0, 1], D, turned))
    axes.plot([first.ring[0, 0], right], [apex, apex], colour=DIM, width=0.6, dash=":")
    axes.arrow(
        (right * 0.93, edge), (right * 0.93, apex), colour=BLACK, width=0.7, head=5.0,
        both=True,
    )  # fmt: skip
    beside = Type(SMALL, BLACK, "left", "center")
    said = f"{place(first.reach, units)}\nfrom the\nopen edge"
    axes.text(right, 0.5 * (edge + apex), said, beside, shift=(5.0, 0.0))
    if first.angle is not None:
        degrees = f"{round(float(np.degrees(first.angle)), 1):g}°"
        under = Type(SMALL, BLACK, "center", "top" if way > 0 else "bottom")
        axes.text(first.ring[0, 0], apex, degrees, under, shift=(0.0, -2.0 * way))


def _dimension(axes: Axes, a: float, b: float, y: float, gap: float) -> None:
    """An arrow between two places, beside an edge."""
    from shrinksim.output.paper import ink
    from shrinksim.output.paper.ink import Pen

    def draw() -> str:
        x, (h, _) = axes.at((a, b), (y, y))
        tail, tip = np.array([x[0], h - gap]), np.array([x[1], h - gap])
        rows = [(float(v), float(h), float(v), float(h - 1.5 * gap)) for v in x]
        return ink.segments(rows, Pen(BLACK, 0.5)) + ink.arrow(
            tail, tip, Pen(BLACK, 0.7), 5.0, True
        )

    axes.piece(4.0, False, draw)


def _names(axes: Axes, card: HeatCard, job: Job, turned: bool) -> None:
    """Which side of the member is where, and where it bulges."""
    D = view_depth(card, job)
    for edge, y in (("top", D), ("bottom", 0.0)):
        drawn = float(_up(y, D, turned))
        name = edge_name(card, edge)
        high = drawn > 0.5 * D
        open_end = name == card.side
        said = f"{name},\nbulging" if open_end else name
        up = "top" if high else "bottom"
        type = Type(SMALL, DIM, "left", up, bold=open_end)
        left, band = axes.xlim()[0], flange_band(card, job)
        inside = drawn - band if high else drawn + band
        axes.text(left, inside, said, type, shift=(2.0, -2.0 if high else 2.0))

"""Drawings of a plan: the member as it lies, its line before and after, its moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.member.plan.frame import (
    DrawnPlane,
    allowed_offsets,
    drawn_planes,
    offset_unit,
    station_unit,
)
from shrinksim.member.plan.stacking import (
    NUMBERS,
    SHAFT,
    arrow_reaches,
    is_crowded,
    loads,
    number_rows,
    stacks,
)
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    DIM,
    FAINT,
    GREEN,
    GREY,
    HOT,
    POINTS,
    RED,
    SMALL,
    WHITE,
    WIDTH,
    blank,
    box,
    drawn_at,
    foot_legend,
    round_factor,
)
from shrinksim.page.style import place as place_axes
from shrinksim.units.quantity import show
from shrinksim.units.tape import place

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import HeatCard, Plan
    from shrinksim.member.setup.rig import SupportedMember

LEFT, RIGHT = 0.75, 0.35
ROOM, TALL = 0.62, 1.25
"""Inches: above and below the lines for loads, heats and supports; of the lines."""

LEGEND = 0.3
SHADE = "#dde3e8"


def member_lines(
    plan: Plan, job: Job, standing: SupportedMember | None = None
) -> Figure:
    """The lines as it lies, from the side and, where there is one, from above.

    standing : tells what the supports carry.
    """
    shown = [view for view in drawn_planes(job) if view.plane in plan.before]
    panel = TALL + 2 * ROOM + 0.25
    head = max((_head(plan, job, view) for view in shown if view.upright), default=0.0)
    figure = blank(panel * len(shown) + head + 0.45 + LEGEND)
    for k, view in enumerate(shown):
        low = 0.42 + LEGEND + panel * (len(shown) - 1 - k)
        wide = WIDTH - LEFT - RIGHT
        tall = TALL + 2 * ROOM + (head if view.upright else 0.0)
        axes = place_axes(figure, LEFT, low, wide, tall)
        _panel(plan, job, view, axes, last=k == len(shown) - 1)
        if view.upright:
            _carried(plan, job, view, axes, standing)
    if shown:
        foot_legend(figure, figure.axes[0].get_legend_handles_labels()[0])
    return figure


def _head(plan: Plan, job: Job, view: DrawnPlane) -> float:
    """Inches over the lines besides ROOM that the loads and numbers there ask for."""
    ways = zip(loads(job), _reaches(plan, job, view), strict=True)
    over = [text for (_, down, *_), (_, text) in ways if down]
    names = 2 * SMALL if job.splices else SMALL
    return max(0.0, (max(over, default=SHAFT) + names + 4.0) / POINTS - ROOM)


def exaggeration(plan: Plan, job: Job, view: DrawnPlane) -> float:
    """How many times larger offsets are drawn than lengths along the member."""
    low, high = _reach(plan, job, view)
    inch_along = job.member.length / (WIDTH - LEFT - RIGHT)
    return round_factor(TALL * inch_along / max(high - low, 1e-9))


def _reach(plan: Plan, job: Job, view: DrawnPlane) -> tuple[float, float]:
    """Lowest and highest offset (m) of a view: bands, tolerance and cribs included."""
    plane = view.plane
    limit = allowed_offsets(plan).get(plane, 0.0)
    lines = [
        view.sign * line[plane] + side * band[plane]
        for line, band in (
            (plan.before, plan.band_before), (plan.after, plan.band_after),
        )
        for side in (-1.0, 1.0)
    ]  # fmt: skip
    cribs = [
        view.sign * float(np.interp(rest.at, plan.x, plan.before[plane])) - rest.gap
        for rest in job.supports
        if view.upright
    ]
    every = np.concatenate([*lines, cribs, [0.0]])
    far = max(limit, 0.0)
    return min(float(every.min()), -far), max(float(every.max()), far)


def _panel(plan: Plan, job: Job, view: DrawnPlane, axes: Axes, *, last: bool) -> None:
    """One view: tolerance, lines with bands, heats, what carries and loads it."""
    one, name = station_unit(job.print_units)
    step, unit = offset_unit(job.print_units)
    factor = exaggeration(plan, job, view)
    _, _, wide, tall = box(axes)
    inch = job.member.length / wide / factor  # m off the chord in an inch of paper
    low, high = _reach(plan, job, view)
    foot = 0.5 * (low + high) - (0.5 * TALL + ROOM) * inch
    axes.set_xlim(0.0, job.member.length / one)
    axes.set_ylim(foot / step, (foot + tall * inch) / step)
    _tolerance(plan, job, view, axes)
    x = plan.x / one
    styles = (
        (plan.before, plan.band_before, BLACK, "-", "measured", SHADE, 1.2),
        (plan.after, plan.band_after, BLUE, DASHED, "expected after the heats",
         "#cfe3f2", 1.0),
    )  # fmt: skip
    for line, band, colour, dash, label, shade, order in styles:
        at = view.sign * line[view.plane] / step
        give = band[view.plane] / step
        axes.fill_between(x, at - give, at + give, color=shade, lw=0, zorder=order)
        axes.plot(x, at, color=colour, lw=2.0, ls=dash, label=label)
    _heats(plan, job, view, axes)
    _splices(job, axes)
    foot = f"from the marked end [{name}]" if last else None
    dress(axes, foot, f"off the chord, + {view.high} [{unit}]")
    seen = "As it lies, from the side" if view.upright else "The same, from above"
    where = "up" if view.upright else "at the head"
    axes.set_title(
        f"{seen}: {view.high} side of the member {where}; "
        f"offsets drawn {factor:g} times as large"
    )
    axes.annotate(
        "marked end", (0.0, 0.0), (4.0, 1.0), xycoords="axes fraction",
        textcoords="offset points", fontsize=SMALL, color=DIM, va="bottom",
    )  # fmt: skip


def _tolerance(plan: Plan, job: Job, view: DrawnPlane, axes: Axes) -> None:
    """The chord and what is allowed on each side of it."""
    one, _ = station_unit(job.print_units)
    step, _ = offset_unit(job.print_units)
    ends = np.array([0.0, job.member.length / one])
    limit = allowed_offsets(plan).get(view.plane)
    axes.plot(ends, [0.0, 0.0], color=GREY, lw=0.8)
    if limit is None:
        return
    for k, side in enumerate((-1.0, 1.0)):
        at = [side * limit / step] * 2
        axes.plot(
            ends, at, color=GREEN, lw=1.0, ls=":",
            label=None if k else "allowed off the chord",
        )  # fmt: skip


def _heats(plan: Plan, job: Job, view: DrawnPlane, axes: Axes) -> None:
    """Numbered vees on the side that each heat is open to, stacked where they repeat."""
    one, _ = station_unit(job.print_units)
    step, _ = offset_unit(job.print_units)
    cards = [card for card in plan.cards if card.plane == view.plane]
    found = stacks(cards, job.member.length)
    crowded = is_crowded(found, job.member.length)
    for at, side, numbers in found:
        high = side == view.high
        line = view.sign * np.interp(at, plan.x, plan.before[view.plane])
        _vee(
            axes, at / one, float(line) / step, high=high,
            text=number_rows(numbers, crowded),
        )  # fmt: skip


def _vee(axes: Axes, x: float, y: float, *, high: bool, text: str) -> None:
    """A vee with its apex on the line and its numbers at the open end."""
    way = 1.0 if high else -1.0
    corners = ((0.0, 0.0), (-4.5, 13.0 * way), (4.5, 13.0 * way), (0.0, 0.0))
    drawn_at(axes, x, y, corners, mfc=HOT, mec=RED, mew=1.0, zorder=4)
    _number(axes, x, y, text, NUMBERS * way)


def _carried(
    plan: Plan, job: Job, view: DrawnPlane, axes: Axes, standing: SupportedMember | None
) -> None:
    """Supports with their gaps and forces, weights and jacks, at the member's line."""
    one, _ = station_unit(job.print_units)
    step, _ = offset_unit(job.print_units)
    units = job.print_units
    below = any(c.side == view.low and c.plane == view.plane for c in plan.cards)
    clear = 20.0 if below else 0.0  # points: under the numbers of the heats there

    def height(at: float) -> float:
        return view.sign * float(np.interp(at, plan.x, plan.before[view.plane]))

    for k, rest in enumerate(job.supports):
        y = (height(rest.at) - rest.gap) / step
        _support(axes, rest.at / one, y)
        text = f"support {place(rest.at, units)}"
        if rest.gap > 0.0:
            text = f"crib {place(rest.at, units)}\ngap {place(rest.gap, units)}"
        elif standing is not None:
            text += f"\n{show(float(standing.reactions[k]), 'force', units)}"
        share = rest.at / job.member.length
        anchor = "left" if share < 0.06 else "right" if share > 0.94 else "center"
        axes.annotate(
            text, (rest.at / one, y), (0.0, -14.0 - clear), textcoords="offset points",
            fontsize=SMALL, color=DIM, ha=anchor, va="top", annotation_clip=False,
            bbox=WHITE, zorder=5,
        )  # fmt: skip
    for (at, down, size, kind), reach in zip(
        loads(job), _reaches(plan, job, view), strict=True
    ):
        text = show(size, "mass" if kind == "mass" else "force", units)
        text = f"jack {text}" if kind == "jack" else text
        _pressed(axes, at / one, height(at) / step, down, text, reach)


def _reaches(plan: Plan, job: Job, view: DrawnPlane) -> list[tuple[float, float]]:
    """Points from the line to the head and to the text of each load's arrow."""
    cards = [card for card in plan.cards if card.plane == view.plane]
    places = [(at, down) for at, down, *_ in loads(job)]
    length = job.member.length
    return arrow_reaches(places, stacks(cards, length), view.high, length)


def _support(axes: Axes, x: float, y: float) -> None:
    """A support under the line: its tip at (x, y)."""
    tip = ((0.0, -1.5), (-6.0, -11.0), (6.0, -11.0), (0.0, -1.5))
    drawn_at(axes, x, y, tip, mfc=FAINT, mec=BLACK, mew=1.0, zorder=3.5)
    drawn_at(axes, x, y, ((-9.0, -12.5), (9.0, -12.5)), mec=BLACK, mew=1.4, zorder=3.5)


def _pressed(
    axes: Axes, x: float, y: float, down: bool, label: str, reach: tuple[float, float]
) -> None:
    """An arrow of a weight or a jack at (x, y) with its size, over what is in its way."""
    head, text = (way if down else -way for way in reach)
    way = {"arrowstyle": "-|>", "color": GREEN, "lw": 2.0, "mutation_scale": 11,
           "shrinkA": 0, "shrinkB": 2}  # fmt: skip
    from matplotlib.transforms import offset_copy

    tip = offset_copy(axes.transData, axes.get_figure(root=True), 0.0, head, "points")
    axes.annotate(
        "", (x, y), (0.0, text - head), xycoords=tip, textcoords="offset points",
        arrowprops=way, zorder=4, annotation_clip=False,
    )  # fmt: skip
    # beside a shaft that pushes up: under its foot stand names of supports
    spot = (0.0, text) if down else (8.0, 0.5 * (head + text))
    axes.annotate(
        label, (x, y), spot, textcoords="offset points", fontsize=SMALL, color=GREEN,
        ha="center" if down else "left", va="bottom" if down else "center", zorder=5.5,
        annotation_clip=False, bbox=WHITE,
    )  # fmt: skip


def _splices(job: Job, axes: Axes) -> None:
    """Where pieces are joined."""
    one, _ = station_unit(job.print_units)
    for splice in job.splices:
        axes.axvline(splice.at / one, color=GREY, lw=0.8, ls="-.")
        axes.text(
            splice.at / one, 1.0, f"{splice.weld} weld", fontsize=SMALL, color=DIM,
            ha="center", va="top", transform=axes.get_xaxis_transform(),
        )  # fmt: skip


def moments(plan: Plan, job: Job, standing: SupportedMember | None) -> Figure:
    """M/Mp along the member as it lies, and at each heat."""
    one, name = station_unit(job.print_units)
    figure = blank(2.35)
    axes = place_axes(figure, LEFT, 0.45, WIDTH - LEFT - RIGHT, 1.55)
    axes.set_xlim(0.0, job.member.length / one)
    up = drawn_planes(job)[0]
    curve = np.zeros(0)
    if standing is not None:
        x, curve = standing.x, standing.moment / standing.plastic_moment
        axes.fill_between(x / one, 0.0, curve, color=SHADE, lw=0)
        axes.plot(x / one, curve, color=BLACK, lw=1.6)
    upright = [card for card in plan.cards if card.plane == up.plane]
    heats = [
        (card.at, card.moment_ratio * (1.0 if card.side == up.high else -1.0), card)
        for card in upright
    ]
    every = np.concatenate([curve, [m for _, m, _ in heats], [0.0]])
    span = max(float(np.ptp(every)), 0.02)
    room = 0.3 + 0.16 * max(
        (len(n) for *_, n in stacks(upright, job.member.length)), default=0
    )
    axes.set_ylim(float(every.min()) - 0.3 * span, float(every.max()) + room * span)
    axes.axhline(0.0, color=GREY, lw=0.8)
    _at_heats(axes, heats, one, job.member.length, standing)
    dress(axes, f"from the marked end [{name}]", "M / Mp [-]", grid="y")
    axes.set_title("Bending moment where it lies, over the plastic moment (+ sagging)")
    return figure


def _at_heats(
    axes: Axes, heats: Sequence[tuple[float, float, HeatCard]], one: float,
    length: float, standing: SupportedMember | None,
) -> None:  # fmt: skip
    """Stems at the heats with their numbers, clear of the curve."""
    ratio = {card.number: m for _, m, card in heats}
    found = stacks([card for *_, card in heats], length)
    crowded = is_crowded(found, length)
    for at, _, numbers in found:
        m = float(np.mean([ratio[int(n)] for n in numbers]))
        axes.plot([at / one] * 2, [0.0, m], color=RED, lw=1.2, ls=DASHED, zorder=3)
        axes.plot(at / one, m, "o", ms=6, color=RED, zorder=3)
        clear, way = m, 1.0 if m >= 0.0 else -1.0
        if standing is not None:
            curve = standing.moment / standing.plastic_moment
            here = float(np.interp(at, standing.x, curve))
            clear = way * max(way * m, way * here)
        _number(axes, at / one, clear, number_rows(numbers, crowded), 5.0 * way)


def _number(axes: Axes, x: float, y: float, text: str, away: float) -> None:
    """Numbers of heats ``away`` points over a place."""
    axes.annotate(
        text, (x, y), (0.0, away), textcoords="offset points", fontsize=SMALL, color=RED,
        fontweight="bold", ha="center", va="bottom" if away > 0.0 else "top",
        annotation_clip=False, bbox=WHITE, zorder=5,
    )  # fmt: skip

"""Drawings of a plan: the member as it lies, its line before and after, its moment."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.case.quantity import show
from shrinksim.member.tape import place
from shrinksim.output.marks import dress
from shrinksim.output.paper import ink
from shrinksim.output.paper.axes import Axes, Key
from shrinksim.output.paper.ink import Pen, Type
from shrinksim.output.plan_frame import View, across, allowed, along, views
from shrinksim.output.sheet import (
    BLACK,
    BLUE,
    DASHED,
    DIM,
    FAINT,
    GREEN,
    GREY,
    RED,
    SMALL,
    WIDTH,
    Sheet,
    round_factor,
)

if TYPE_CHECKING:
    from shrinksim.member.job import Job
    from shrinksim.member.plan_records import HeatCard, Plan
    from shrinksim.member.rig import Standing

LEFT, RIGHT = 0.75, 0.35
ROOM, TALL = 0.62, 1.25
"""Inches: above and below the lines for loads, heats and supports; of the lines."""

LEGEND = 0.3
SHADE = "#dde3e8"


def member_lines(plan: Plan, job: Job, standing: Standing | None = None) -> Sheet:
    """The lines as it lies, from the side and, where there is one, from above.

    standing : tells what the supports carry.
    """
    shown = [view for view in views(job) if view.plane in plan.before]
    panel = TALL + 2 * ROOM + 0.25
    sheet = Sheet(panel * len(shown) + 0.45 + LEGEND)
    keys: list[Key] = []
    for k, view in enumerate(shown):
        low = 0.42 + LEGEND + panel * (len(shown) - 1 - k)
        wide = WIDTH - LEFT - RIGHT
        axes = sheet.place(LEFT, low, wide, TALL + 2 * ROOM)
        _panel(plan, job, view, axes, last=k == len(shown) - 1)
        if view.upright:
            _carried(plan, job, view, axes, standing)
        keys = keys or axes.keys
    sheet.foot_legend(keys)
    return sheet


def exaggeration(plan: Plan, job: Job, view: View) -> float:
    """How many times larger offsets are drawn than lengths along the member."""
    low, high = _reach(plan, job, view)
    inch_along = job.member.length / (WIDTH - LEFT - RIGHT)
    return round_factor(TALL * inch_along / max(high - low, 1e-9))


def _reach(plan: Plan, job: Job, view: View) -> tuple[float, float]:
    """Lowest and highest offset (m) of a view: bands, tolerance and cribs included."""
    plane = view.plane
    limit = allowed(plan).get(plane, 0.0)
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


def _panel(plan: Plan, job: Job, view: View, axes: Axes, *, last: bool) -> None:
    """One view: tolerance, lines with bands, heats, what carries and loads it."""
    one, name = along(job.print_units)
    step, unit = across(job.print_units)
    factor = exaggeration(plan, job, view)
    span = job.member.length / axes.width * axes.height / factor
    low, high = _reach(plan, job, view)
    middle = 0.5 * (low + high)
    axes.set_xlim(0.0, job.member.length / one)
    axes.set_ylim((middle - 0.5 * span) / step, (middle + 0.5 * span) / step)
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
        axes.fill_between(x, at - give, at + give, colour=shade, order=order)
        axes.plot(x, at, colour=colour, width=2.0, dash=dash, label=label)
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
    ends = Type(SMALL, DIM, "left", "bottom")
    axes.text(0.0, 0.0, "marked end", ends, space=("axes", "axes"), shift=(4.0, 1.0))


def _tolerance(plan: Plan, job: Job, view: View, axes: Axes) -> None:
    """The chord and what is allowed on each side of it."""
    one, _ = along(job.print_units)
    step, _ = across(job.print_units)
    ends = np.array([0.0, job.member.length / one])
    limit = allowed(plan).get(view.plane)
    axes.plot(ends, [0.0, 0.0], colour=GREY, width=0.8)
    if limit is None:
        return
    for k, side in enumerate((-1.0, 1.0)):
        at = [side * limit / step] * 2
        axes.plot(
            ends, at, colour=GREEN, width=1.0, dash=":",
            label="" if k else "allowed off the chord",
        )  # fmt: skip


def _heats(plan: Plan, job: Job, view: View, axes: Axes) -> None:
    """Numbered vees on the side that each heat is open to, stacked where they repeat."""
    one, _ = along(job.print_units)
    step, _ = across(job.print_units)
    cards = [card for card in plan.cards if card.plane == view.plane]
    found = stacks(cards, job.member.length)
    crowded = _crowded([at for at, *_ in found], job.member.length)
    for at, side, numbers in found:
        high = side == view.high
        line = view.sign * np.interp(at, plan.x, plan.before[view.plane])
        _vee(
            axes,
            at / one,
            float(line) / step,
            high=high,
            said=_joined(numbers, crowded),
        )


def stacks(
    cards: Sequence[HeatCard], length: float
) -> list[tuple[float, str, list[str]]]:
    """Places (m), side and numbers of heats, those that would overlap put together."""
    found: list[tuple[float, str, list[str]]] = []
    for card in sorted(cards, key=lambda c: c.at):
        near = (
            found
            and card.side == found[-1][1]
            and card.at - found[-1][0] < 0.022 * length
        )
        if near:
            found[-1][2].append(str(card.number))
        else:
            found.append((card.at, card.side, [str(card.number)]))
    return [(at, side, sorted(numbers, key=int)) for at, side, numbers in found]


def _vee(axes: Axes, x: float, y: float, *, high: bool, said: str) -> None:
    """A vee with its apex on the line and its numbers at the open end."""
    way = -1.0 if high else 1.0

    def draw() -> str:
        a, b = (float(v[0]) for v in axes.at(x, y))
        corners = np.array(
            [[a, b], [a - 4.5, b + way * 13.0], [a + 4.5, b + way * 13.0]]
        )
        return ink.path(
            corners[:, 0], corners[:, 1], Pen(RED, 1.0), "#fbe3d0", closed=True
        )

    axes.piece(4.0, False, draw)
    type = Type(SMALL, RED, "center", "bottom" if high else "top", bold=True)
    axes.text(x, y, said, type, shift=(0.0, -way * 14.0))


def _joined(numbers: Sequence[str], crowded: bool) -> str:
    """Numbers of heats in rows of three, or of one where places are near together."""
    most = 1 if crowded else 3
    rows = [numbers[k : k + most] for k in range(0, len(numbers), most)]
    return ("\n" if crowded else ",\n").join(", ".join(row) for row in rows)


def _crowded(places: Sequence[float], length: float) -> bool:
    """Whether numbers side by side would run into one another."""
    return len(places) > 1 and float(np.diff(sorted(places)).min()) < 0.08 * length


def _carried(
    plan: Plan, job: Job, view: View, axes: Axes, standing: Standing | None
) -> None:
    """Supports with their gaps and forces, weights and jacks, at the member's line."""
    one, _ = along(job.print_units)
    step, _ = across(job.print_units)
    units = job.print_units
    below = any(c.side == view.low and c.plane == view.plane for c in plan.cards)
    clear = 20.0 if below else 0.0  # points: under the numbers of the heats there

    def height(at: float) -> float:
        return view.sign * float(np.interp(at, plan.x, plan.before[view.plane]))

    for k, rest in enumerate(job.supports):
        y = (height(rest.at) - rest.gap) / step
        _support(axes, rest.at / one, y)
        said = f"support {place(rest.at, units)}"
        if rest.gap > 0.0:
            said = f"crib {place(rest.at, units)}\ngap {place(rest.gap, units)}"
        elif standing is not None:
            said += f"\n{show(float(standing.reactions[k]), 'force', units)}"
        share = rest.at / job.member.length
        anchor = "left" if share < 0.06 else "right" if share > 0.94 else "center"
        under = Type(SMALL, DIM, anchor, "top")
        axes.text(rest.at / one, y, said, under, shift=(0.0, -14.0 - clear))
    for weight in job.weights:
        said = (
            show(weight.mass, "mass", units) if weight.mass
            else show(weight.down, "force", units)
        )  # fmt: skip
        _pressed(axes, weight.at / one, height(weight.at) / step, weight.down > 0, said)
    for jack in job.jacks:
        said = f"jack {show(abs(jack.force), 'force', units)}"
        _pressed(axes, jack.at / one, height(jack.at) / step, jack.force > 0, said)


def _support(axes: Axes, x: float, y: float) -> None:
    """A support under the line: its tip at (x, y)."""

    def draw() -> str:
        a, b = (float(v[0]) for v in axes.at(x, y))
        corners = np.array([[a, b + 1.5], [a - 6.0, b + 11.0], [a + 6.0, b + 11.0]])
        foot = ink.segments([(a - 9.0, b + 12.5, a + 9.0, b + 12.5)], Pen(BLACK, 1.4))
        return (
            ink.path(corners[:, 0], corners[:, 1], Pen(BLACK, 1.0), FAINT, closed=True)
            + foot
        )

    axes.piece(3.5, False, draw)


def _pressed(axes: Axes, x: float, y: float, down: bool, said: str) -> None:
    """An arrow of a weight or a jack at (x, y) with its size."""
    way = 1.0 if down else -1.0

    def draw() -> str:
        a, b = (float(v[0]) for v in axes.at(x, y))
        tail, tip = np.array([a, b - way * 22.0]), np.array([a, b - way * 2.0])
        return ink.arrow(tail, tip, Pen(GREEN, 2.0), 7.0, False)

    axes.piece(4.0, False, draw)
    type = Type(SMALL, GREEN, "center", "bottom" if down else "top")
    axes.text(x, y, said, type, shift=(0.0, way * 23.0))


def _splices(job: Job, axes: Axes) -> None:
    """Where pieces are joined."""
    one, _ = along(job.print_units)
    for splice in job.splices:
        axes.axvline(splice.at / one, colour=GREY, width=0.8, dash="-.")
        said = f"{splice.weld} weld"
        axes.text(
            splice.at / one, 1.0, said, Type(SMALL, DIM, "center", "top"),
            space=("data", "axes"),
        )  # fmt: skip


def moments(plan: Plan, job: Job, standing: Standing | None) -> Sheet:
    """M/Mp along the member as it lies, and at each heat."""
    one, name = along(job.print_units)
    sheet = Sheet(2.35)
    axes = sheet.place(LEFT, 0.45, WIDTH - LEFT - RIGHT, 1.55)
    axes.set_xlim(0.0, job.member.length / one)
    up = views(job)[0]
    curve = np.zeros(0)
    if standing is not None:
        x, curve = standing.x, standing.moment / standing.plastic_moment
        axes.fill_between(x / one, 0.0, curve, colour=SHADE)
        axes.plot(x / one, curve, colour=BLACK, width=1.6)
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
    axes.axhline(0.0, colour=GREY, width=0.8)
    _at_heats(axes, heats, one, job.member.length)
    dress(axes, f"from the marked end [{name}]", "M / Mp [-]", grid="y")
    axes.set_title("Bending moment where it lies, over the plastic moment (+ sagging)")
    return sheet


def _at_heats(
    axes: Axes,
    heats: Sequence[tuple[float, float, HeatCard]],
    one: float,
    length: float,
) -> None:
    """Stems at the heats with their numbers."""
    ratio = {card.number: m for _, m, card in heats}
    found = stacks([card for *_, card in heats], length)
    crowded = _crowded([at for at, *_ in found], length)
    for at, _, numbers in found:
        m = float(np.mean([ratio[int(n)] for n in numbers]))
        axes.plot(
            [at / one] * 2, [0.0, m], colour=RED, width=1.2, dash=DASHED, order=3.0
        )
        axes.mark(at / one, m, "o", size=6.0, colour=RED)
        up = m >= 0.0
        type = Type(SMALL, RED, "center", "bottom" if up else "top", bold=True)
        said = _joined(numbers, crowded)
        axes.text(at / one, m, said, type, shift=(0.0, 5.0 if up else -5.0))

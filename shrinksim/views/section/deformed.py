"""Drawing of the section and the member before and after a heat."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    GREY,
    HOT,
    SMALL,
    WIDTH,
    blank,
    place,
    round_factor,
)
from shrinksim.units.scales import scale
from shrinksim.views.bend_names import CAMBER, mid_offset
from shrinksim.views.result import folds
from shrinksim.views.section.frame import close_up, framed, ring
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.words import SectionBend, bends, every_bend, shown_member
from shrinksim.views.words import STRAIGHT, size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

STRIP = 1.25
"""Inches of one bent member."""


def shifted(result: SectionResult, at: FloatArray) -> FloatArray:
    """Displacement (k, 2) m at points (k, 2), without the rigid-body movement."""
    mesh = result.mesh
    u = result.strain.displacement[-1]
    centre = mesh.points.mean(axis=0)
    arm = mesh.points - centre
    mean = u.mean(axis=0)
    own = u - mean
    turn = float(np.sum(arm[:, 0] * own[:, 1] - arm[:, 1] * own[:, 0])) / float(
        np.sum(arm**2)
    )
    element, N = locate(mesh, at)
    there = np.einsum("kai,ka->ki", u[mesh.triangles[element]], N)
    away = at - centre
    return there - mean - turn * np.stack([-away[:, 1], away[:, 0]], axis=1)


def fine_ring(result: SectionResult) -> FloatArray:
    """The outline (k, 2) m with many points on its straight sides."""
    corners = ring(result.geometry.pieces)
    share = np.linspace(0.0, 1.0, 24)[:-1, None]
    parts = [a + share * (b - a) for a, b in pairwise(corners)]
    return np.concatenate([*parts, corners[-1:]])


def shape(result: SectionResult) -> Figure:
    """The section before and after, exaggerated; then the member in both planes."""
    before = fine_ring(result)
    moved = shifted(result, before)
    frame = close_up(result)
    small = min(frame.right - frame.left, 4.0 * (frame.high - frame.low))
    plate = result.geometry.shape.flat
    largest = max(float(np.abs(moved).max()), 1e-12)
    factor = round_factor((0.12 if plate else 0.06) * small / largest)
    after = before + factor * moved
    both = np.vstack([before, after])
    low, high = both.min(axis=0), both.max(axis=0)
    pad = 0.03 * float((high - low).max())
    box = framed(low[0] - pad, high[0] + pad, low[1] - pad, high[1] + pad)
    drawn = [] if folds(result) else bends(result) or every_bend(result)[:1]
    strips = STRIP * len(drawn)
    narrow = box.flat < 1.2
    width, height = box.fit(2.4 if narrow else WIDTH - 0.75, 2.8)
    foot = 0.5 if narrow else 0.5 + strips
    figure = blank(max(height + foot, strips * narrow) + 0.4)
    length = scale(result, "length")
    axes = place(figure, 0.62, foot, width, height)
    x, y = length(after).T
    axes.fill(x, y, fc="#dbe9f4", ec=BLUE, lw=1.4)
    x, y = length(before).T
    axes.plot(x, y, color=GREY, lw=1.2, ls=DASHED)
    axes.set_xlim(*map(float, length([box.left, box.right])))
    axes.set_ylim(*map(float, length([box.low, box.high])))
    dress(axes, f"across [{length.unit}]", f"height [{length.unit}]")
    axes.set_title(
        f"The section before (dashed) and after, movement {factor:g} times as large"
    )
    left = 0.62 + width + 0.9 if narrow else 0.95
    floor = 0.5 + max(0.5 * (height - strips), 0.0) if narrow else 0.08
    for k, bend in enumerate(drawn):
        low_edge = floor + STRIP * (len(drawn) - 1 - k)
        strip = place(figure, left, low_edge, WIDTH - left - 0.35, STRIP - 0.5)
        _member(result, strip, bend)
    return figure


def _member(result: SectionResult, axes: Axes, bend: SectionBend) -> None:
    """A member with the heat at its middle, ends level; heights exaggerated."""
    span, name = shown_member(result)
    ends = ("top", "bottom") if bend.name == CAMBER else ("right", "left")
    turn = bend.turn
    heated = min(result.movement.heated_length, span)
    out = mid_offset(turn, heated, span)
    z = np.linspace(-0.5 * span, 0.5 * span, 161)
    inside = 0.5 * heated
    bent = np.where(np.abs(z) < inside, z**2 / (2 * inside), np.abs(z) - 0.5 * inside)
    height = (bent - bent[0]) / max(bent[0] - bent.min(), 1e-12)
    height = np.sign(turn) * height if abs(turn) >= STRAIGHT else 0.0 * height
    x = z / span
    axes.axvspan(-inside / span, inside / span, color=HOT, lw=0, zorder=0.3)
    axes.plot(x, np.zeros_like(x), color=GREY, ls=DASHED, lw=1.2)
    axes.plot(x, height, color=BLUE, lw=2.0)
    axes.plot([-0.5, 0.5], [0, 0], "^", color=BLACK, ms=7, clip_on=False)
    middle = float(height[len(height) // 2])
    axes.plot([0, 0], [0, middle], color=BLACK, lw=0.8)
    axes.text(
        0.014, 0.45 * middle, size(result, abs(out)), va="center", fontweight="bold"
    )
    low, high = min(middle, 0.0) - 0.25, max(middle, 0.0) + 0.25
    axes.set_xlim(-0.51, 0.51)
    axes.set_ylim(low, high)
    for y, side, up in ((high, ends[0], "top"), (low, ends[1], "bottom")):
        axes.text(-0.52, y, side, ha="right", va=up, fontsize=SMALL, color=GREY)
    axes.set_axis_off()
    axes.set_title(
        f"{bend.name.capitalize()} of a {name} member, not to scale;\nheated where shaded"
    )

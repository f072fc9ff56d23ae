"""Sizes in the set-up's drawing: what there is to measure on the steel before a heat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.page.style import BLACK, DIM, POINTS, SMALL, WHITE, arrow
from shrinksim.units.scales import scale, three_digits

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from shrinksim.arrays import FloatArray
    from shrinksim.views.elevation.result import ElevationResult

GAP, LINE = 6.0, 12.0
"""Points from the edge to the arrow of a width, and of its text."""

SAME = 1e-3
"""m; outlines whose ends differ by less are measured once."""

MOST = 2
"""Outlines with sizes; of more, only the first has them."""


def sizes(
    result: ElevationResult, axes: Axes, low: float, high: float, inch: float
) -> bool:
    """Draw the sizes of the heat; whether there are any under the lower edge.

    low, high : m, of the member's edges.  inch : m of the member in an inch of paper.
    """
    rings = distinct(result)
    below = False
    for ring in rings if len(rings) <= MOST else rings[:1]:
        up = not (is_vee(ring) and ring[1, 1] < ring[0, 1])
        _width(result, axes, ring, high if up else low, up, inch)
        below |= not up
        if is_vee(ring):
            _depth(result, axes, ring, high if up else low, up, inch)
    return below


def distinct(result: ElevationResult) -> list[FloatArray]:
    """Outlines with a width, those of the same width at the same place once, vees first."""
    rings = [np.asarray(ring) for ring in result.geometry.outlines]
    found: list[FloatArray] = []
    for ring in sorted(rings, key=lambda r: not is_vee(r)):
        ends = [_ends(other) for other in found]
        if np.ptp(ring[:, 0]) > 0.0 and not any(
            np.allclose(_ends(ring), end, rtol=0.0, atol=SAME) for end in ends
        ):
            found.append(ring)
    return found


def heats_drawn(result: ElevationResult) -> str:
    """The outlines and their sizes in words."""
    said = []
    for ring in (np.asarray(ring) for ring in result.geometry.outlines):
        wide, deep = (_said(result, float(np.ptp(ring[:, k]))) for k in range(2))
        if is_vee(ring):
            said.append(f"vee of {angle_of(ring):.0f}°, {wide} wide, {deep} deep")
        else:
            said.append(f"heat {wide} wide, {deep} deep")
    return "; ".join(dict.fromkeys(said))


def _ends(ring: FloatArray) -> tuple[float, float]:
    """Left and right end (m) of an outline."""
    return float(ring[:, 0].min()), float(ring[:, 0].max())


def is_vee(ring: FloatArray) -> bool:
    """Whether an outline is a triangle with its apex first, as vees are drawn."""
    return len(ring) == 3 and bool(ring[1, 1] == ring[2, 1] != ring[0, 1])


def angle_of(ring: FloatArray) -> float:
    """Angle (degrees) of a vee at its apex."""
    half = 0.5 * abs(ring[2, 0] - ring[1, 0]) / abs(ring[1, 1] - ring[0, 1])
    return float(np.degrees(2.0 * np.arctan(half)))


def _said(result: ElevationResult, metres: float) -> str:
    length = scale(result, "length")
    return f"{three_digits(float(length(metres)))} {length.unit}"


def _width(
    result: ElevationResult,
    axes: Axes,
    ring: FloatArray,
    edge: float,
    up: bool,
    inch: float,
) -> None:
    """How wide a pattern is along the member, beside the edge."""
    length = scale(result, "length")
    way = 1.0 if up else -1.0
    left, right = _ends(ring)
    beside = edge + way * GAP / POINTS * inch
    a, b = length([left, beside]), length([right, beside])
    arrow(axes, a, b, width=0.7, head=7.0, both=True)
    mouth = float(ring[1, 1]) if is_vee(ring) else edge
    for x in (left, right):
        ends = [mouth, edge + way * (GAP + 2.0) / POINTS * inch]
        axes.plot(length([x, x]), length(ends), color=BLACK, lw=0.5, clip_on=False)
    axes.annotate(
        f"{_said(result, right - left)} wide",
        (float(length(0.5 * (left + right))), float(length(edge))),
        (0.0, way * LINE), textcoords="offset points", fontsize=SMALL, color=BLACK,
        ha="center", va="bottom" if up else "top", annotation_clip=False,
    )  # fmt: skip


def _depth(
    result: ElevationResult,
    axes: Axes,
    ring: FloatArray,
    edge: float,
    up: bool,
    inch: float,
) -> None:
    """How deep a vee is from the member's edge, and its angle."""
    length = scale(result, "length")
    apex = (float(ring[0, 0]), float(ring[0, 1]))
    beside = float(ring[:, 0].max()) + 0.14 * inch
    foot = length([apex[0], beside + 0.05 * inch])
    axes.plot(foot, length([apex[1]] * 2), color=DIM, lw=0.6, ls=":")
    arrow(
        axes, length([beside, edge]), length([beside, apex[1]]), width=0.7, head=7.0,
        both=True,
    )  # fmt: skip
    deep = _said(result, abs(edge - apex[1]))
    axes.annotate(
        f"{deep} deep", (float(length(beside)), float(length(0.5 * (edge + apex[1])))),
        (4.0, 0.0), textcoords="offset points", fontsize=SMALL, color=BLACK, va="center",
    )  # fmt: skip
    axes.annotate(
        f"{round(angle_of(ring), 1):g}°", tuple(map(float, length(apex))),
        (0.0, -2.0 if up else 2.0), textcoords="offset points", fontsize=SMALL,
        color=BLACK, ha="center", va="top" if up else "bottom", bbox=WHITE,
    )  # fmt: skip

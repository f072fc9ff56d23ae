"""Checks of patterns drawn on the face of a member, and cautions on them."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.heating import (
    AnyPattern,
    Line,
    Rectangle,
    Spot,
    Strip,
    Vee,
    vee_depth,
)
from shrinksim.casefile.tables import Numerics, Output
from shrinksim.shop.pattern import box_outline, vee_outline
from shrinksim.units.quantity import show
from shrinksim.views.caution import Caution

_SLACK = 1e-9
_TOUCH = 1e-6
_MOST_ELEMENTS = 1e6


@dataclass(frozen=True)
class SheetExtent:
    """Bounds (m) of what a pattern may cover; ``half`` is inf for an automatic patch.

    low, high : y of the face.  depth : of the whole view.  flanges : seen on edge?
    """

    half: float
    low: float
    high: float
    depth: float
    flanges: bool
    units: str = "metric"

    def text(self, value: float) -> str:
        """A length in the case's own unit."""
        return show(value, "length", self.units)


def pattern_faults(where: str, pattern: AnyPattern, view: SheetExtent) -> list[str]:
    """A pattern that is incomplete, of the wrong kind for the member, or off it."""
    faults = []
    if pattern.pitch is not None and pattern.path == "straight":
        faults.append(f"{where}.pitch is not used by a straight path; leave it out")
    if isinstance(pattern, Strip) and not view.flanges:
        flat = 'is for a flange seen on edge (axis = "strong"); use kind = "rectangle"'
        return [*faults, f"{where}.kind = 'strip' {flat}"]
    if isinstance(pattern, Vee):
        wrong = _vee_faults(where, pattern, view)
        if wrong:
            return faults + wrong
    return faults + [f"{where} {fault}" for fault in _off(pattern, view)]


def _vee_faults(where: str, vee: Vee, view: SheetExtent) -> list[str]:
    """A vee without a depth, with two, or deeper than the member."""
    given = vee.model_fields_set & {"depth", "depth_ratio"}
    if len(given) != 1:
        which = "twice over; leave one out" if given else "not at all"
        return [f"{where}: the vee's depth is given {which} (depth or depth_ratio)"]
    depth, key = vee_depth(vee, view.depth), f"{where}.{given.pop()}"
    if depth > view.high + _SLACK:
        most = f"the member allows, {view.text(view.high)}"
        return [f"{key}: a vee of {view.text(depth)} is deeper than {most}"]
    if depth <= view.low:
        flange = f"the flange is thick, {view.text(view.low)}"
        return [f"{key}: a vee of {view.text(depth)} is not deeper than {flange}"]
    return []


def outline(pattern: AnyPattern, view: SheetExtent) -> FloatArray:
    """Corners (k, 2) m of a pattern; of a line its two ends."""
    match pattern:
        case Vee():
            deep, top = vee_depth(pattern, view.depth), pattern.open == "top"
            apex, edge = (view.depth - deep, view.high) if top else (deep, view.low)
            return vee_outline(pattern.at, apex, edge, pattern.angle)
        case Strip():
            low, high = 0.0, view.low
            if pattern.on == "flange top":
                low, high = view.high, view.depth
            half = 0.5 * pattern.width
            return box_outline(pattern.at - half, low, pattern.at + half, high)
        case Line():
            return np.array([pattern.start, pattern.end])
        case Rectangle():
            half, top = 0.5 * pattern.width, pattern.height + pattern.depth
            return box_outline(
                pattern.at - half, pattern.height, pattern.at + half, top
            )
        case Spot():
            turn = np.linspace(0.0, 2.0 * np.pi, 17)[:-1]
            ring = 0.5 * pattern.diameter * np.array([np.cos(turn), np.sin(turn)]).T
            return ring + np.array([pattern.at, pattern.height])


def _off(pattern: AnyPattern, view: SheetExtent) -> list[str]:
    """Faults of a pattern that leaves the patch or the face."""
    points, faults = outline(pattern, view), []
    left, right = float(points[:, 0].min()), float(points[:, 0].max())
    if max(-left, right) > view.half + _SLACK:
        reach = view.text(max(-left, right))
        faults.append(
            f"is off the patch: it reaches {reach} from the middle, the patch "
            f"{view.text(view.half)}; move it, or give member.patch a longer length"
        )
    if isinstance(pattern, (Vee, Strip)):
        return faults
    low, high = float(points[:, 1].min()), float(points[:, 1].max())
    if low < view.low - _SLACK or high > view.high + _SLACK:
        name = "the web between the flanges" if view.flanges else "the member"
        faults.append(
            f"is off the member: it covers y = {view.text(low)} to {view.text(high)}, "
            f"{name} {view.text(view.low)} to {view.text(view.high)}"
        )
    if isinstance(pattern, Line) and pattern.start == pattern.end:
        faults.append("begins and ends at the same point; use kind = 'spot'")
    return faults


def overlaps(
    patterns: Sequence[tuple[int, str, AnyPattern]], view: SheetExtent
) -> Iterator[str]:
    """Pairs of areas of one heat that cover the same steel; lines may cross them."""
    areas = [
        (heat, where, outline(pattern, view))
        for heat, where, pattern in patterns
        if not isinstance(pattern, Line)
    ]
    for (i, a, one), (j, b, other) in itertools.combinations(areas, 2):
        if i == j and _share_area(one, other):
            yield (
                f"{b} overlaps {a} in the same heat; move it, or put it in a "
                "[[heat]] of its own"
            )


def _share_area(one: FloatArray, other: FloatArray) -> bool:
    """Whether two convex polygons overlap by more than a touch (separating axes)."""
    low, high = (
        np.maximum(one.min(0), other.min(0)),
        np.minimum(one.max(0), other.max(0)),
    )
    if np.any(high - low < _TOUCH):
        return False
    for polygon in (one, other):
        sides = np.roll(polygon, -1, axis=0) - polygon
        for dx, dy in sides:
            normal = np.array([-dy, dx]) / max(math.hypot(dx, dy), 1e-12)
            p, q = one @ normal, other @ normal
            if min(p.max(), q.max()) - max(p.min(), q.min()) < _TOUCH:
                return False
    return True


def numerics_faults(
    numerics: Numerics, patch: float | None, view: SheetExtent
) -> list[str]:
    """Elements too coarse for the member, or too many for any machine."""
    size, far, faults = numerics.element, numerics.far_element, []
    if size is not None and size > 0.5 * view.depth:
        faults.append(
            f"numerics.element = {view.text(size)} leaves fewer than two elements over "
            f"the depth of {view.text(view.depth)}"
        )
    if size is not None and far is not None and far < size:
        faults.append("numerics.far_element is smaller than numerics.element")
    length = patch or view.depth
    finest = [value for value in (size, far) if value is not None]
    if len(finest) == 2 and length * view.depth / finest[1] ** 2 > _MOST_ELEMENTS:
        faults.append(
            f"numerics.far_element asks for over {_MOST_ELEMENTS:.0e} elements"
        )
    return faults


def output_faults(output: Output, view: SheetExtent) -> list[str]:
    """Points to report that are not on the member."""
    return [
        f"output.points.{name} is off the member: ({view.text(x)}, {view.text(y)})"
        for name, (x, y) in output.points.items()
        if abs(x) > view.half + _SLACK or not -_SLACK <= y <= view.depth + _SLACK
    ]


def of_elements(side: float, radius: float, units: str) -> list[Caution]:
    """Caution on elements (m) that are wider than the flame's radius (m)."""
    if side <= radius * 1.001:
        return []
    sentence = (
        f"Elements of {show(side, 'length', units)} are wider than the radius of the "
        f"flame, {show(radius, 'length', units)}: they blur its heat, and the steel "
        "ahead of it comes out colder than anything around it (by 18 K where they "
        "were 1.8 times as wide). Take smaller ones, or leave numerics.element out."
    )
    return [Caution("coarse elements", sentence)]


def of_patch_ends(
    length: float, reach: float, depth: float, units: str
) -> list[Caution]:
    """Caution on a pattern near an end of the patch, where plane ends disturb it.

    length : m, of the patch.  reach : of the patterns from its middle.  depth : of the
    view.
    """
    gap = 0.5 * length - reach
    if gap >= depth:
        return []
    return [
        Caution(
            "patch end",
            f"A heat comes within {show(max(gap, 0.0), 'length', units)} of an end of "
            f"the patch, nearer than its depth, {show(depth, 'length', units)}: "
            "the ends are kept plane and disturb the result. Use a longer patch, or "
            "leave it out of the case file.",
        )
    ]

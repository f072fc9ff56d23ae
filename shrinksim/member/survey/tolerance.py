"""Straightness tolerances: mill standards, own values, and the verdict.

Straightness is judged by the largest offset of the fitted line from the chord between the
member's ends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.line import Plane
from shrinksim.shop.sections.shape import Rolled, Section
from shrinksim.units.quantity import quantity, show

Standard = Literal["ASTM A6", "EN 10034"]
STANDARDS: tuple[Standard, ...] = ("ASTM A6", "EN 10034")

Ordered = Literal["as beams", "as columns"]
"""ASTM A6 has a rule of its own for long W shapes with wide flanges bought as columns."""

A6 = "ASTM A6/A6M, straightness of {what}, as in AISC Manual Table 1-22"
EN = "EN 10034:1993, straightness of I and H sections, {what}"
SURE = 2.0
"""Standard deviations by which the line must be inside or outside to say so; the
expanded uncertainty of ISO 14253-1 (from memory)."""


@dataclass(frozen=True)
class StraightnessLimit:
    """allowed : m off the chord, None where the standard has none.  source : from where."""

    allowed: float | None
    source: str


@dataclass(frozen=True)
class Verdict:
    """Verdict of the tolerance on one plane.

    deviation : m, largest offset from the chord; sigma : m, its standard deviation;
    allowed : m.  inside : whether the deviation is within; text : in words, and whether
    the readings are good enough to tell.
    """

    plane: Plane
    deviation: float
    sigma: float
    allowed: float
    source: str
    inside: bool
    text: str


def straightness_limit(
    plane: Plane, section: Section, length: float, standard: Standard | None,
    own: float | None = None, ordered: Ordered = "as beams",
) -> StraightnessLimit:  # fmt: skip
    """Allowed offset from the chord; an own value (m) comes before the standard's.

    length : m of the member.
    """
    if own is not None:
        return StraightnessLimit(own, "value given in the job")
    rolled = section.rolled
    if standard is None or rolled is None:
        return StraightnessLimit(None, "no value given for this plane")
    if standard == "EN 10034":
        return _en10034(rolled, length)
    if ordered == "as columns" and not rolled.tapered:
        return _a6_columns(rolled, length)
    return _a6(plane, rolled, length)


def _en10034(section: Rolled, length: float) -> StraightnessLimit:
    """Both planes alike: 0.30, 0.15, 0.10 % of the length by the depth."""
    if section.tapered:
        text = "EN 10034 is for parallel flanges; tapered ones have EN 10024 (not here)"
        return StraightnessLimit(None, text)
    depth = section.depth / quantity("1 mm", "length")
    if depth <= 80.0:
        return StraightnessLimit(
            None, "EN 10034 has no straightness for depths up to 80 mm"
        )
    share, what = (
        (3.0e-3, "depth over 80 to 180 mm: 0.30 % of the length")
        if depth <= 180.0
        else (1.5e-3, "depth over 180 to 360 mm: 0.15 % of the length")
        if depth <= 360.0
        else (1.0e-3, "depth over 360 mm: 0.10 % of the length")
    )
    return StraightnessLimit(share * length, EN.format(what=what))


def _a6(plane: Plane, section: Rolled, length: float) -> StraightnessLimit:
    """W and HP: 1/8 in for every 10 ft, the sweep of narrow flanges for every 5 ft.

    S shapes: camber for every 5 ft (from memory), sweep by agreement.
    """
    eighth, feet = quantity("1/8 in", "length"), length / quantity("1 ft", "length")
    wide = section.flange_width >= quantity("6 in", "length") - 1e-6
    if section.tapered:
        if plane == "sweep":
            return StraightnessLimit(
                None, "ASTM A6 leaves the sweep of S shapes to agreement"
            )
        what = "S shapes, camber 1/8 in for every 5 ft (from memory)"
        return StraightnessLimit(eighth * feet / 5.0, A6.format(what=what))
    every = 10.0 if plane == "camber" or wide else 5.0
    width = "6 in and wider" if wide else "under 6 in"
    what = f"W and HP, flange {width}, {plane} 1/8 in for every {every:.0f} ft"
    return StraightnessLimit(
        eighth * feet / every, A6.format(what=what) + _borrowed(section)
    )


def _a6_columns(section: Rolled, length: float) -> StraightnessLimit:
    """W ordered as columns: 1/8 in for every 10 ft, up to 45 ft at most 3/8 in; beyond,
    3/8 in and 1/8 in for every 10 ft over 45 ft.
    """
    eighth, feet = quantity("1/8 in", "length"), length / quantity("1 ft", "length")
    if feet <= 45.0:
        allowed, what = min(eighth * feet / 10.0, 3.0 * eighth), "to 45 ft"
    else:
        allowed, what = eighth * (3.0 + (feet - 45.0) / 10.0), "over 45 ft"
    text = A6.format(what=f"W with flange about equal to depth, as columns, {what}")
    return StraightnessLimit(allowed, text + _borrowed(section))


def _borrowed(section: Rolled) -> str:
    """A word on shapes that the standard does not list."""
    listed = section.name.upper().startswith(("W", "HP"))
    return "" if listed else f"; the rule of W shapes, taken for {section.name}"


def straightness_verdict(
    plane: Plane,
    line: FloatArray,
    band: FloatArray,
    allowed: StraightnessLimit,
    units: str,
) -> Verdict | None:
    """The verdict on a fitted line (k,) m off its chord with its standard deviation (k,).

    Sure of being inside: the line with twice its band is within everywhere; outside:
    somewhere it is beyond by as much.  None when the plane has no limit.
    """
    if allowed.allowed is None:
        return None
    off, doubt = np.abs(line), SURE * band
    worst = int(np.argmax(off)) if off.any() else int(np.argmax(band))
    deviation, sigma = float(off[worst]), float(band[worst])
    inside = deviation <= allowed.allowed
    size, room, open_ = (
        show(value, "length", units) for value in (deviation, allowed.allowed, sigma)
    )
    text = f"{plane}: {size} off the chord, {room} allowed ({allowed.source}): "
    text += "inside" if inside else "outside"
    surely_in = float(np.max(off + doubt)) <= allowed.allowed
    surely_out = float(np.max(off - doubt)) > allowed.allowed
    if not (surely_in if inside else surely_out):
        text += (
            f" by the fitted line, but the readings cannot tell (they leave {open_} "
            "open, one standard deviation); read more stations, or read again"
        )
    return Verdict(
        plane, deviation, sigma, allowed.allowed, allowed.source, inside, text
    )


def twist_verdict(rate: float, sigma: float, allowed: float | None, units: str) -> str:
    """In words: a twist (rad/m) against an own value; standards here have none."""
    size = show(rate, "curvature", units)
    if allowed is None:
        return f"twist: {size}; no value given for it"
    word = "inside" if abs(rate) <= allowed else "outside"
    if abs(abs(rate) - allowed) < SURE * sigma:
        word += ", but the readings cannot tell"
    return f"twist: {size}, {show(allowed, 'curvature', units)} allowed: {word}"

"""Chalk marks of a heat: its patterns, measured from the marked end.

Patterns are [[heat.pattern]] tables in the view of their plane: y up from the bottom (or
left) edge, x from the heat's place.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.line import SIDES
from shrinksim.member.plan.patterns import seen
from shrinksim.units.quantity import quantity
from shrinksim.units.tape import place

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import HeatCard


@dataclass(frozen=True)
class ChalkMark:
    """One pattern of a heat on the steel.

    kind : of the pattern.  ring : (k, 2) m, its outline in the view; x from the heat's
    place.  start, end : m, of it along the member, from the heat's place.  reach : m
    from the open (or heated) edge to its far end.  angle : rad of a vee.  where : what
    is chalked, and on which part.  note : how far it goes across.
    """

    kind: str
    ring: FloatArray
    start: float
    end: float
    reach: float
    angle: float | None
    where: str
    note: str


def card_marks(card: HeatCard, job: Job) -> list[ChalkMark]:
    """The card's patterns on the steel, in their order."""
    return [_mark(dict(pattern), card, job) for pattern in card.patterns]


def view_depth(card: HeatCard, job: Job) -> float:
    """Height (m) of the member in the view of the card's plane."""
    return job.member.case_member(card.plane).view_depth


def flange_band(card: HeatCard, job: Job) -> float:
    """Thickness (m) of the flange seen on its edge in the card's view, 0 for none."""
    return seen(job, card.plane).lip


def edge_name(card: HeatCard, edge: str) -> str:
    """Side of the member that the view's "top" or "bottom" is."""
    return SIDES[card.plane][0 if edge == "top" else 1]


def _mark(pattern: Mapping[str, Any], card: HeatCard, job: Job) -> ChalkMark:
    """One pattern of `patterns.patterns_of`: a vee, or a strip across a flange."""
    drawn = _vee if pattern["kind"] == "vee" else _strip
    return drawn(pattern, card, job, _length(pattern, "at", 0.0))


def _vee(pattern: Mapping[str, Any], card: HeatCard, job: Job, at: float) -> ChalkMark:
    """A vee: on an I standing up it ends at the inside of the flange."""
    D, units = view_depth(card, job), job.print_units
    angle = quantity(pattern["angle"], "angle")
    ratio = pattern.get("depth_ratio")
    depth = _length(pattern, "depth") if ratio is None else float(ratio) * D
    band = flange_band(card, job)
    half = (depth - band) * math.tan(0.5 * angle)
    edge = pattern["open"]
    side = edge_name(card, edge)
    mouth, apex = (D - band, D - depth) if edge == "top" else (band, depth)
    ring = np.array([[at, apex], [at - half, mouth], [at + half, mouth]])
    degrees = round(math.degrees(angle), 1)
    where = f"vee {degrees:g} deg, open at the {side}"
    if band > 0.0:
        where = f"vee {degrees:g} deg on the web, open at the {side} flange"
    elif seen(job, card.plane).walls == 2:
        where = f"vees {degrees:g} deg on both flanges, open at the {side}"
    note = f"apex {place(depth, units)} from the {side} edge"
    return ChalkMark(
        kind="vee",
        ring=ring,
        start=at - half,
        end=at + half,
        reach=depth,
        angle=angle,
        where=where,
        note=note,
    )


def _strip(
    pattern: Mapping[str, Any], card: HeatCard, job: Job, at: float
) -> ChalkMark:
    """A strip across a flange that the view shows on its edge."""
    D, band = view_depth(card, job), flange_band(card, job)
    half = 0.5 * _length(pattern, "width")
    edge = "top" if str(pattern["on"]).endswith("top") else "bottom"
    low, high = (D - band, D) if edge == "top" else (0.0, band)
    ring = _box(at - half, at + half, low, high)
    where = f"strip across the {edge_name(card, edge)} flange"
    return ChalkMark(
        kind="strip",
        ring=ring,
        start=at - half,
        end=at + half,
        reach=band,
        angle=None,
        where=where,
        note="over its whole width",
    )


def _box(a: float, b: float, low: float, high: float) -> FloatArray:
    """Corners (4, 2) of a rectangle."""
    return np.array([[a, low], [b, low], [b, high], [a, high]])


def _length(
    pattern: Mapping[str, Any], key: str, default: float | None = None
) -> float:
    """A length of the table, m."""
    if default is not None and key not in pattern:
        return default
    return quantity(pattern[key], "length")

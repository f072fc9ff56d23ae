"""Patterns and stations of heats: vee sizes, order of patterns, places along a bend.

Practice (from memory unless named): strong axis, a vee in the web with its apex near the
far flange, then a strip across the flange at its open end, as wide as that; weak axis,
vees in both flanges open to the same side; plate, a vee.  Vees of 20 to 60 degrees, open
end at most 10 in.  Heats of one set lie a member's depth and 12 in apart (FHWA; the
12 in read in a state's repair order, SPD 4-100); the vee is shifted along the bend from
set to set, and one place is heated some three times at most, each time cold.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.fields import text_of
from shrinksim.member.job.read import Job
from shrinksim.member.line import SIDES, Bend, Plane, offsets
from shrinksim.member.setup.setup import HeatPlace
from shrinksim.shop.sections.shape import Elevation
from shrinksim.units.tape import place
from shrinksim.views.caution import OPEN_END

DEGREE = math.radians(1.0)
ANGLES = (20 * DEGREE, 30 * DEGREE, 45 * DEGREE)
"""rad, vees that a plan chooses from when the job names none."""

SPACING = 0.3048
"""m between heats of one set at least (12 in)."""

REPEAT = (1.0, 0.72, 0.70)
"""Share of its movement that a heat has the first, second and third time at one place:
this model's own, under a weight (benchmarks/REPEATED.md; free 0.64, 0.60)."""

STRAY = 0.25
"""Heats are spread along a bend as long as that leaves less than this share of the
allowed deviation off the line; our choice."""

FRESH = sum(REPEAT)


def vee_angles(job: Job, plane: Plane) -> tuple[float, ...]:
    """Vee angles (rad) to choose from, in rising order."""
    if job.heats.angle is not None:
        return (job.heats.angle,)
    widest = 2.0 * math.atan(0.5 * OPEN_END / _rise(job, plane))
    fit = tuple(angle for angle in ANGLES if angle <= widest)
    return fit or (max(math.floor(widest / DEGREE), 2) * DEGREE,)


def open_end(job: Job, plane: Plane, angle: float) -> float:
    """Width (m) of a vee's open end, at the inside of the flange on the strong axis."""
    return 2.0 * _rise(job, plane) * math.tan(0.5 * angle)


def _rise(job: Job, plane: Plane) -> float:
    """Height (m) of the triangle from its apex to its drawn open end."""
    view = seen(job, plane)
    return job.heats.depth_ratio * view.depth - view.lip


def seen(job: Job, plane: Plane) -> Elevation:
    """The member as a sheet that bends in ``plane``."""
    member = job.member.case_member(plane)
    return member.shape.elevation(member.bending)


def heat_spacing(job: Job, plane: Plane) -> float:
    """Metres between the heats of a set; the next set's lie half of it away."""
    if job.heats.spacing is not None:
        return job.heats.spacing
    widest = open_end(job, plane, vee_angles(job, plane)[-1])
    return max(SPACING, job.member.case_member(plane).view_depth, 2.0 * widest)


def patterns_of(
    job: Job, plane: Plane, side: str, angle: float
) -> tuple[Mapping[str, Any], ...]:
    """The heat's [[heat.pattern]] tables; right and left stand as top and bottom."""
    edge = "top" if side == SIDES[plane][0] else "bottom"
    ratio = job.heats.depth_ratio
    vee = {"kind": "vee", "angle": text_of(angle, "angle"), "depth_ratio": ratio}
    vee |= {"open": edge}
    if seen(job, plane).lip == 0.0:
        return (vee,)
    width = f"{open_end(job, plane, angle) * 1e3:.0f} mm"
    strip = {"kind": "strip", "on": f"flange {edge}", "width": width, "pause": "10 s"}
    return (vee, strip)


def pattern_words(job: Job, plane: Plane, side: str, angle: float) -> str:
    """Description of the heat in words."""
    units = job.print_units
    degrees = f"{angle / DEGREE:.0f} deg"
    view = seen(job, plane)
    depth = place(job.heats.depth_ratio * view.depth, units)
    wide = place(open_end(job, plane, angle), units)
    if view.lip == 0.0 and view.walls == 1:
        return (
            f"vee {degrees}, {depth} deep, {wide} wide at its open end at the {side}; "
            "from the apex to the open end"
        )
    if view.lip > 0.0:
        return (
            f"web vee {degrees}, apex {depth} from the {side} edge, {wide} wide at the "
            f"{side} flange; from the apex to the flange, then a strip {wide} wide "
            f"across the {side} flange"
        )
    return (
        f"vees {degrees} in both flanges, {depth} deep, {wide} wide at their open end at "
        f"the {side}; from the apex to the open end, both together or one after the other"
    )


@dataclass(frozen=True)
class Site:
    """A bend to straighten, with the places of its heats.

    side : that it bulges to and is heated on.  sense : +1 bulges up or right.
    lift : (k,) m offsets of the line by a bend of 1 rad that bulges to ``side``.
    arm : m, the largest of ``lift`` in size.  stations : (h,) m, places of the heats in
    order of work, none where all had their heats; visits : (h,) times that each place
    was heated before.
    """

    plane: Plane
    bend: Bend
    side: str
    sense: float
    lift: FloatArray
    arm: float
    stations: tuple[float, ...]
    visits: tuple[int, ...]

    @property
    def place(self) -> HeatPlace:
        """Middle of the bend and the side that it is heated on."""
        return HeatPlace(self.bend.at, self.side)

    @property
    def shares(self) -> FloatArray:
        """(h,) share of a fresh heat's movement that each has."""
        return np.array([REPEAT[min(v, len(REPEAT) - 1)] for v in self.visits], float)


def planes_in(sites: Iterable[Site]) -> list[Plane]:
    """The planes of some bends, each once."""
    return list(dict.fromkeys([site.plane for site in sites]))


def heating_site(
    job: Job,
    plane: Plane,
    bend: Bend,
    x: FloatArray,
    allowed: float,
    move: float,
    earlier: Sequence[float] = (),
) -> Site:
    """Plan the places of heats at a bend; ``move`` rad is the likely turn of one heat.

    allowed : m, deviation of the line.  x (k,) m.  earlier : m, places that were
    heated on this side before.
    """
    sense = 1.0 if bend.turn >= 0.0 else -1.0
    side = SIDES[plane][0 if sense > 0.0 else 1]
    unit = Bend(bend.at, sense, bend.length)
    lift = offsets([unit], x, job.member.length)
    at, visits = _sequence(job, plane, bend, allowed, move, earlier)
    arm = float(np.abs(lift).max())
    return Site(
        plane=plane,
        bend=bend,
        side=side,
        sense=sense,
        lift=lift,
        arm=arm,
        stations=tuple(at),
        visits=tuple(visits),
    )


def _sequence(
    job: Job,
    plane: Plane,
    bend: Bend,
    allowed: float,
    move: float,
    earlier: Sequence[float],
) -> tuple[list[float], list[int]]:
    """Places (m) of heats in order of work, and how often each was heated before.

    Sets stand ``spacing`` apart around the bend, every second one shifted by half of
    it.  As many places as the heats need fresh steel, as far as they stay on the bend;
    none when every place on the member had its three heats.
    """
    pitch = heat_spacing(job, plane)
    turn = max(abs(bend.turn), 1e-9)
    needed = turn / move if move > 0.0 else 1.0
    zone = max(bend.length, 8.0 * STRAY * allowed / turn)
    most = 1 + int(zone / pitch + 1e-9)
    count = min(max(math.ceil(0.5 * (needed - 1.0)), 1), most)
    count = max(count, math.ceil((0.5 * needed / FRESH) - 0.5), 1)
    if bend.length > 0.0 and count > 1:
        pitch = max(pitch, min(bend.length / count, zone / count))
    clear = 0.5 * open_end(job, plane, vee_angles(job, plane)[-1])
    found: list[tuple[int, float]] = []
    seen: dict[float, int] = {}
    most_of = job.member.length / pitch
    everywhere = 2 * math.ceil(most_of) + 1
    count = min(count, everywhere)
    while len(found) < 2 * job.heats.most and count <= everywhere:
        if found and count >= most_of:
            break
        odd = count + 1 - count % 2
        for number in (odd, 2 * count + 1 - odd) * len(REPEAT):
            for at in _set(bend.at, pitch, number):
                at = round(min(max(at, clear), job.member.length - clear), 3)
                if at not in seen:
                    seen[at] = sum(abs(other - at) < clear for other in earlier)
                if seen[at] < len(REPEAT):
                    found.append((seen[at], at))
                    seen[at] += 1
        count += 2
    if earlier:
        found.sort(key=lambda pair: pair[0])
    found = found[: job.heats.most]
    return [at for _, at in found], [visits for visits, _ in found]


def _set(middle: float, pitch: float, count: int) -> Iterable[float]:
    """Places of one set around the middle of a bend, from there outwards, m."""
    steps = [i - 0.5 * (count - 1) for i in range(count)]
    return [middle + pitch * i for i in sorted(steps, key=lambda i: (abs(i), i))]

"""The heats of a plan one after another, as they are expected to go.

After each heat the member is laid on its supports again, with the line that it then has,
so that the next heat is told for the moment that is really on it.  Bands are one
standard deviation, carried to the end without reading in between: bends as the survey
leaves them open, a factor common to all heats, and scatter of each.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.member.job.read import Job
from shrinksim.member.line import Bend, Plane, offsets
from shrinksim.member.plan.estimate import of_relation
from shrinksim.member.plan.minor_axis import (
    crossways,
    margin_across,
    of_crossways,
    refused,
)
from shrinksim.member.plan.next_heat import FOLDS, Aim, Belief, Way, choose
from shrinksim.member.plan.patterns import (
    Site,
    angles_of,
    open_end,
    patterns_of,
    words_of,
)
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import Move, move_at, spread_of
from shrinksim.member.plan.sentences import heat_cautions
from shrinksim.member.setup.cautions import refusals
from shrinksim.member.setup.rig import Standing, helping, stand
from shrinksim.member.setup.setup import Lay, drop_place


@dataclass
class _Course:
    """The member while the plan is made.

    bends : of each plane, heats among them.  turns (b,) rad still at each site.  given :
    heats at each site.  common (k,), single (k,) m of each plane: what the heats so far
    moved, for the band.
    """

    bends: dict[Plane, list[Bend]]
    turns: FloatArray
    given: list[int]
    standing: Standing
    common: dict[Plane, FloatArray] = field(default_factory=dict)
    single: dict[Plane, FloatArray] = field(default_factory=dict)


def cards_of(
    job: Job,
    way: Way,
    laid: Lay,
    bends: Mapping[Plane, Sequence[Bend]],
    x: FloatArray,
    belief: Belief,
) -> tuple[HeatCard, ...]:
    """The cards of a way of lying, until the line is straight or no heat is worth it."""
    course = _Course(
        {plane: list(of) for plane, of in bends.items()},
        way.turns.copy(),
        [0] * len(way.sites),
        laid.standing,
        {plane: np.zeros_like(x) for plane in bends},
        {plane: np.zeros_like(x) for plane in bends},
    )
    cards: list[HeatCard] = []
    if refusals(laid.standing):
        return ()
    while way.sites and len(cards) < job.heats.most:
        found = _next(job, way, course, x, belief)
        if found is None:
            break
        cards.append(_given(job, way, course, *found, len(cards) + 1, x, belief))
    return tuple(cards)


def _next(
    job: Job, way: Way, course: _Course, x: FloatArray, belief: Belief
) -> tuple[int, int, float] | None:
    """Site, size and M/Mp of the next heat; None when there is none."""
    sizes = max((len(c) for c in way.curves), default=1)
    moves, spreads = np.full((2, 1, len(way.sites), sizes), np.nan)
    ratios = []
    for b, (site, curves) in enumerate(zip(way.sites, way.curves, strict=True)):
        place = course.given[b]
        ratio = np.nan
        if place < len(site.stations):
            ratio = helping(course.standing, site.stations[place], site.side)
            for a, curve in enumerate(curves):
                move = move_at(curve, ratio, float(site.shares[place]))
                margin = move.hinge_margin
                across = _across(job, course.standing, site, place, move)
                if (margin is None or margin >= FOLDS) and not refused(*across):
                    moves[0, b, a] = move.turn
                    spreads[0, b, a] = spread_of(curve, move.turn)
        ratios.append(ratio)
    length = float(x[-1])
    off = [
        np.abs(offsets(course.bends[aim.plane], x, length) + aim.rest).max()
        for aim in way.aims
    ]
    factor = (np.array([belief.mean]), np.array([belief.sigma]))
    then = choose(
        way, course.turns[None], np.array([off]), moves, spreads, factor, belief.scatter
    )
    if not then.go[0]:
        return None
    return int(then.site[0]), int(then.size[0]), ratios[int(then.site[0])]


def _across(
    job: Job, standing: Standing, site: Site, place: int, move: Move
) -> tuple[float, float | None]:
    """M/Mp across a heat at one of a bend's places, and its margin to a hot hinge."""
    ratio = crossways(standing, site.plane, site.stations[place])
    hottest = max(move.peak, job.torch.target)
    return ratio, margin_across(job, site.plane, ratio, hottest)


def _given(
    job: Job,
    way: Way,
    course: _Course,
    b: int,
    a: int,
    ratio: float,
    number: int,
    x: FloatArray,
    belief: Belief,
) -> HeatCard:
    """Give the heat: the course after it, and its card."""
    site, place = way.sites[b], course.given[b]
    at = site.stations[place]
    angle = angles_of(job, site.plane)[a]
    curve = way.curves[b][a]
    move = move_at(curve, ratio, float(site.shares[place]))
    across, margin = _across(job, course.standing, site, place, move)
    if margin is not None:
        move = replace(move, hinge_margin=min(margin, move.hinge_margin or margin))
    said = (
        *heat_cautions(job, site, place, move, ratio, angle),
        *of_crossways(job, site.plane, across),
        *of_relation(job, ratio),
    )
    turn = belief.mean * move.turn
    spread = float(spread_of(curve, move.turn))
    heat = Bend(at, -site.sense * turn, open_end(job, site.plane, angle))
    before = course.standing
    bends = course.bends[site.plane]
    bends.append(heat)
    camber, sweep = (course.bends.get(p, []) for p in ("camber", "sweep"))
    course.standing = stand(before.rigging, camber, sweep)
    course.turns[b] -= turn
    course.given[b] += 1
    unit = offsets([Bend(at, 1.0)], x, job.member.length)
    course.common[site.plane] += spread * unit
    course.single[site.plane] += (belief.scatter * spread * unit) ** 2
    watch = drop_place(job)
    aim = next(aim for aim in way.aims if aim.plane == site.plane)
    return HeatCard(
        number, at, site.plane, site.side,
        patterns_of(job, site.plane, site.side, angle),
        words_of(job, site.plane, site.side, angle),
        job.torch.target, job.cooling.kind, ratio, turn,
        belief.sigma_of(spread),
        move.peak, move.heating_time, move.cooling_time, move.gas, move.hinge_margin,
        _height(before, watch) - _height(course.standing, watch), watch,
        frozen(offsets(bends, x, job.member.length) + aim.rest),
        frozen(_band(aim, course, belief)),
        said, across,
    )  # fmt: skip


def _height(standing: Standing, at: float) -> float:
    """Height (m) of the member at ``at`` m, as it lies."""
    return float(np.interp(at, standing.x, standing.line))


def _band(aim: Aim, course: _Course, belief: Belief) -> FloatArray:
    """(k,) m, one standard deviation of the plane's line after the heats so far."""
    common = belief.sigma * course.common[aim.plane]
    return np.sqrt(aim.band**2 + common**2 + course.single[aim.plane])

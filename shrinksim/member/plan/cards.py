"""Cards of the heats in order, with the expected course of the line.

After each heat the member is laid on its supports again, with the line that it then has,
so that the next heat is planned for the moment that acts on it then.  Bands are one
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
from shrinksim.member.plan.estimate import relation_cautions
from shrinksim.member.plan.minor_axis import (
    is_refused,
    other_axis_cautions,
    other_axis_margin,
    other_axis_ratio,
)
from shrinksim.member.plan.next_heat import (
    LEAST_MARGIN,
    HeatingScheme,
    MovementFactor,
    Target,
    choose_heat,
)
from shrinksim.member.plan.patterns import (
    Site,
    open_end,
    pattern_words,
    patterns_of,
    vee_angles,
)
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import HeatResponse, reference_turn, response_at
from shrinksim.member.plan.sentences import heat_cautions
from shrinksim.member.setup.cautions import refusals
from shrinksim.member.setup.rig import SupportedMember, helping_ratio, rest_on_supports
from shrinksim.member.setup.setup import Setup, drop_station


@dataclass
class _Progress:
    """The member while the plan is made.

    bends : of each plane, heats among them.  turns (b,) rad still at each site.  given :
    heats at each site.  common (k,), single (k,) m of each plane: what the heats so far
    moved, for the band.
    """

    bends: dict[Plane, list[Bend]]
    turns: FloatArray
    given: list[int]
    standing: SupportedMember
    common: dict[Plane, FloatArray] = field(default_factory=dict)
    single: dict[Plane, FloatArray] = field(default_factory=dict)


def cards_of(
    job: Job,
    scheme: HeatingScheme,
    setup: Setup,
    bends: Mapping[Plane, Sequence[Bend]],
    x: FloatArray,
    movement_factor: MovementFactor,
) -> tuple[HeatCard, ...]:
    """Cards of a scheme until the line is straight or no heat is worth it."""
    course = _Progress(
        {plane: list(of) for plane, of in bends.items()},
        scheme.turns.copy(),
        [0] * len(scheme.sites),
        setup.standing,
        {plane: np.zeros_like(x) for plane in bends},
        {plane: np.zeros_like(x) for plane in bends},
    )
    cards: list[HeatCard] = []
    if refusals(setup.standing):
        return ()
    while scheme.sites and len(cards) < job.heats.most:
        found = _choose(job, scheme, course, x, movement_factor)
        if found is None:
            break
        cards.append(
            _give_heat(job, scheme, course, *found, len(cards) + 1, x, movement_factor)
        )
    return tuple(cards)


def _choose(
    job: Job,
    scheme: HeatingScheme,
    course: _Progress,
    x: FloatArray,
    movement_factor: MovementFactor,
) -> tuple[int, int, float] | None:
    """Site, size and M/Mp of the next heat; None when there is none."""
    sizes = max((len(c) for c in scheme.curves), default=1)
    moves, spreads = np.full((2, 1, len(scheme.sites), sizes), np.nan)
    ratios = []
    for b, (site, curves) in enumerate(zip(scheme.sites, scheme.curves, strict=True)):
        place = course.given[b]
        ratio = np.nan
        if place < len(site.stations):
            ratio = helping_ratio(course.standing, site.stations[place], site.side)
            for a, curve in enumerate(curves):
                move = response_at(curve, ratio, float(site.shares[place]))
                margin = move.hinge_margin
                across = _across(job, course.standing, site, place, move)
                if (margin is None or margin >= LEAST_MARGIN) and not is_refused(
                    *across
                ):
                    moves[0, b, a] = move.turn
                    spreads[0, b, a] = reference_turn(curve, move.turn)
        ratios.append(ratio)
    length = float(x[-1])
    off = [
        np.abs(offsets(course.bends[target.plane], x, length) + target.rest).max()
        for target in scheme.targets
    ]
    factor = (np.array([movement_factor.mean]), np.array([movement_factor.sigma]))
    then = choose_heat(
        scheme,
        course.turns[None],
        np.array([off]),
        moves,
        spreads,
        factor,
        movement_factor.scatter,
    )
    if not then.go[0]:
        return None
    return int(then.site[0]), int(then.size[0]), ratios[int(then.site[0])]


def _across(
    job: Job, standing: SupportedMember, site: Site, place: int, move: HeatResponse
) -> tuple[float, float | None]:
    """M/Mp across a heat at one of a bend's places, and its margin to a hot hinge."""
    ratio = other_axis_ratio(standing, site.plane, site.stations[place])
    hottest = max(move.peak, job.torch.target)
    return ratio, other_axis_margin(job, site.plane, ratio, hottest)


def _give_heat(
    job: Job,
    scheme: HeatingScheme,
    course: _Progress,
    b: int,
    a: int,
    ratio: float,
    number: int,
    x: FloatArray,
    movement_factor: MovementFactor,
) -> HeatCard:
    """Apply the heat to the course and write its card."""
    site, place = scheme.sites[b], course.given[b]
    at = site.stations[place]
    angle = vee_angles(job, site.plane)[a]
    curve = scheme.curves[b][a]
    move = response_at(curve, ratio, float(site.shares[place]))
    across, margin = _across(job, course.standing, site, place, move)
    if margin is not None:
        move = replace(move, hinge_margin=min(margin, move.hinge_margin or margin))
    cautions = (
        *heat_cautions(job, site, place, move, ratio, angle),
        *other_axis_cautions(job, site.plane, across),
        *relation_cautions(job, ratio),
    )
    turn = movement_factor.mean * move.turn
    spread = float(reference_turn(curve, move.turn))
    before = course.standing
    heat = Bend(at, -site.sense * turn, open_end(job, site.plane, angle))
    _advance(course, site.plane, heat, x, (spread, movement_factor.scatter * spread))
    course.turns[b] -= turn
    course.given[b] += 1
    watch = drop_station(job)
    target = next(target for target in scheme.targets if target.plane == site.plane)
    return HeatCard(
        number=number,
        at=at,
        plane=site.plane,
        side=site.side,
        patterns=patterns_of(job, site.plane, site.side, angle),
        words=pattern_words(job, site.plane, site.side, angle),
        target=job.torch.target,
        cooling=job.cooling.kind,
        moment_ratio=ratio,
        move=turn,
        sigma=movement_factor.sigma_of(spread),
        peak=move.peak,
        heating_time=move.heating_time,
        cooling_time=move.cooling_time,
        gas=move.gas,
        hinge_margin=move.hinge_margin,
        drop=_height(before, watch) - _height(course.standing, watch),
        drop_at=watch,
        line_after=frozen(
            offsets(course.bends[site.plane], x, job.member.length) + target.rest
        ),
        band_after=frozen(_band(target, course, movement_factor)),
        cautions=cautions,
        other_axis_ratio=across,
    )


def _advance(
    course: _Progress,
    plane: Plane,
    heat: Bend,
    x: FloatArray,
    spreads: tuple[float, float],
) -> None:
    """Add a heat's bend to the course and put the member on its supports again.

    spreads : rad, common to all heats for a factor of 1, and of this heat alone.
    """
    rigging = course.standing.rigging
    course.bends[plane].append(heat)
    camber, sweep = (course.bends.get(p, []) for p in ("camber", "sweep"))
    course.standing = rest_on_supports(rigging, camber, sweep)
    unit = offsets([Bend(heat.at, 1.0)], x, rigging.length)
    common, single = spreads
    course.common[plane] += common * unit
    course.single[plane] += (single * unit) ** 2


def _height(standing: SupportedMember, at: float) -> float:
    """Height (m) of the member at ``at`` m, as it lies."""
    return float(np.interp(at, standing.x, standing.line))


def _band(
    target: Target, course: _Progress, movement_factor: MovementFactor
) -> FloatArray:
    """(k,) m, one standard deviation of the plane's line after the heats so far."""
    common = movement_factor.sigma * course.common[target.plane]
    return np.sqrt(target.band**2 + common**2 + course.single[target.plane])

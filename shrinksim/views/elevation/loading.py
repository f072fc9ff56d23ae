"""What is done to the workpiece: phases of heat, and the load with its release."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.case.heating import (
    AirJet,
    ForcedCooling,
    Heat,
    StillAir,
    WetRag,
    law_options,
)
from shrinksim.case.resolving import REACH
from shrinksim.fem.conduction import EdgeExchange, Exchange, Law, Medium
from shrinksim.fem.ends import PlaneEnds
from shrinksim.heat.march import HeatHistory, Phase
from shrinksim.heat.trailing_cooling import Following, faded
from shrinksim.shop.cooling import COOLINGS, still_air
from shrinksim.shop.pattern import Pattern
from shrinksim.strain import Body, Schedule, Support, elastic_response, knots, support
from shrinksim.views.elevation.geometry import Workpiece, by_band
from shrinksim.views.elevation.record import Case

LONGEST = 48 * 3600.0
EDGE = 5e-3
"""Width (m) over which a jet's or a spray's effect ends at the border of its reach."""


def heat_phases(case: Case, work: Workpiece, body: Medium) -> list[Phase]:
    """The heats of a case as phases: torch, pauses, cooling, and at last cold."""
    ambient = case.surroundings.ambient
    air = still_air(ambient, case.surroundings.emissivity)
    faces = by_band(work, body.mesh, "losing_faces")[:, None]
    calm = (Exchange(air, faces, steady=True),)
    edges = free_edges(work, air)
    phases: list[Phase] = []
    for number, (heat, drawn) in enumerate(zip(case.heats, work.patterns, strict=True)):
        name = f"heat {number + 1}"
        behind = _following(heat, work, body, air, ambient)
        for turn, pattern in enumerate(drawn):
            if pattern.path.pause > 0.0:
                wait, what = pattern.path.pause, f"{name}: pause"
                phases.append(Phase(wait, calm, edges, label=what))
            label = f"{name}: torch {turn + 1}"
            torch = {"torch": pattern.path, "following": behind}
            phases.append(Phase(LONGEST, calm, edges, label=label, **torch))
        if behind is not None:
            label = f"{name}: {heat.cooling.kind} to the end of the path"
            phases.append(Phase(LONGEST, calm, edges, label=label, trailing=True))
        last = number == len(case.heats) - 1
        until = max(heat.cooling.until, ambient + 5.0)
        phases += _cooling(
            heat, drawn, work, body, calm, edges, air, ambient, until, name
        )
        if last:
            phases.append(
                Phase(LONGEST, calm, edges, until=ambient + 5.0, label="to cold")
            )
    return phases


def free_edges(work: Workpiece, air: Law) -> tuple[EdgeExchange, ...]:
    """Losses of a plate's edges and of flange tips seen in plan; flanges that are seen
    on edge carry theirs in their faces.
    """
    low, high = work.bands[0], work.bands[-1]
    if low.name == "flange bottom":
        return ()
    return (
        EdgeExchange("bottom", air, low.heat_thickness, steady=True),
        EdgeExchange("top", air, high.heat_thickness, steady=True),
    )


def _cooling(
    heat: Heat, drawn: tuple[Pattern, ...], work: Workpiece, body: Medium,
    calm: tuple[Exchange, ...], edges: tuple[EdgeExchange, ...], air: Law, ambient: float,
    until: float, name: str,
) -> list[Phase]:  # fmt: skip
    """Still air up to the start of the forced cooling, then that until cool enough."""
    cooling = heat.cooling
    if isinstance(cooling, StillAir):
        wait = cooling.longest
        return [Phase(wait, calm, edges, until=until, label=f"{name}: still air")]
    phases = []
    if cooling.start_below is not None:
        label = f"{name}: still air"
        wait = Phase(LONGEST, calm, edges, until=cooling.start_below, label=label)
        phases.append(wait)
    elif cooling.start_after:
        label = f"{name}: still air"
        phases.append(Phase(cooling.start_after, calm, edges, label=label))
    wet = _cover(body.quadrature.xy, drawn, cooling)
    outer = by_band(work, body.mesh, "torched_faces")[:, None] * wet
    losing = by_band(work, body.mesh, "losing_faces")[:, None]
    law = forced_law(cooling, ambient)
    both = (
        Exchange(law, outer, steady=True),
        Exchange(air, np.maximum(losing - outer, 0.0), steady=True),
    )
    label = f"{name}: {cooling.kind}"
    phases.append(Phase(cooling.longest, both, edges, until=until, label=label))
    return phases


def _following(
    heat: Heat, work: Workpiece, body: Medium, air: Law, ambient: float
) -> Following | None:
    """The cooling that follows a heat's torch, in the place of the air there."""
    cooling = heat.cooling
    if isinstance(cooling, (StillAir, WetRag)) or cooling.behind is None:
        return None
    forced = forced_law(cooling, ambient)

    def instead(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        (q, slope), (calm, less) = forced(T, t), air(T, t)
        return q - calm, slope - less

    faces = by_band(work, body.mesh, "torched_faces")[:, None]
    reach = REACH if cooling.reach is None else cooling.reach
    return Following(instead, faces, cooling.behind, reach, EDGE)


def forced_law(cooling: ForcedCooling, ambient: float) -> Law:
    """The law of a case's forced cooling; water has its own temperature."""
    law, options = COOLINGS[cooling.kind].law, law_options(cooling)
    if isinstance(cooling, AirJet):
        return law(ambient, **options)
    return law(cooling.water, **options)


def _cover(
    xy: FloatArray, drawn: tuple[Pattern, ...], cooling: ForcedCooling
) -> FloatArray:
    """Share (e, q) of each point that the forced cooling wets or blows on."""
    if cooling.everywhere:
        return np.ones(xy.shape[:2])
    reach = cooling.reach or 0.0
    gap = np.full(xy.shape[:2], np.inf)
    for pattern in drawn:
        gap = np.minimum(gap, outside_by(pattern.outline, xy))
    return faded(gap - reach, EDGE)


def outside_by(outline: FloatArray, xy: FloatArray) -> FloatArray:
    """Distance (...) m of points xy (..., 2) to a convex outline; negative inside."""
    ring = np.asarray(outline)
    x, y = ring.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        ring = ring[::-1]
    nearest = np.full(xy.shape[:-1], np.inf)
    inside = np.ones(xy.shape[:-1], bool)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        d, r = b - a, xy - a
        inside &= d[0] * r[..., 1] - d[1] * r[..., 0] >= 0.0
        share = np.clip((r @ d) / float(d @ d), 0.0, 1.0)
        foot = r - share[..., None] * d
        nearest = np.minimum(nearest, np.hypot(foot[..., 0], foot[..., 1]))
    return np.where(inside, -nearest, nearest)


def schedule_of(
    heat: HeatHistory, ambient: float, largest: float, release: bool = True
) -> Schedule:
    """Load cold, follow the heat, joining steps up to ``largest`` K, go cold, release."""
    rows = knots(heat.times, heat.temperature, largest)
    times = heat.times[rows]
    T = heat.temperature[rows]
    cold = np.full((1, T.shape[1]), ambient)
    end = times[-1] + 3600.0
    last = 2 if release else 1
    return Schedule(
        np.concatenate([[0.0], times, [end] * last]),
        np.concatenate([cold, cold, T[1:], *[cold] * last]),
        np.concatenate([[0.0], np.ones(len(rows)), [1.0, 0.0][:last]]),
    )


def load_of(case: Case, work: Workpiece, ends: PlaneEnds, body: Body) -> Support:
    """The case's load as forces and springs on the plane end.

    A weight stays; a jack is set to the moment cold and then locked, so that it loses
    load as the steel moves away (and cannot pull); a clamp does the same both ways;
    held ends are springs ten thousand times as stiff as the patch.
    """
    load = case.load
    m = ends.ties.unknowns
    force, spring, rest, one_way = (np.zeros(m) for _ in range(4))
    moment = load.moment if load.moment is not None else 0.0
    if load.moment_ratio is not None:
        moment = load.moment_ratio * work.plastic_moment
    flexural = work.bending_stiffness / work.length
    force[ends.stretch] = load.axial
    if load.kind == "weight":
        force[ends.turn] = moment / ends.arm
    if load.kind in ("jack", "clamp"):
        k = load.stiffness
        if load.stiffness_ratio is not None:
            k = load.stiffness_ratio * flexural
        push = np.zeros(m)
        push[ends.turn] = moment / ends.arm
        cold = np.full(len(body.mesh.points), case.surroundings.ambient)
        give = elastic_response(body, support(ends.ties), push, cold)
        assert k is not None
        spring[ends.turn] = k / ends.arm**2
        rest[ends.turn] = moment / k * ends.arm + give[ends.turn]
        one_way[ends.turn] = float(load.kind == "jack")
    if load.kind == "held":
        spring[ends.turn] = 1e4 * flexural / ends.arm**2
        spring[ends.stretch] = 1e4 * work.axial_stiffness / work.length
    return support(ends.ties, force=force, spring=spring, rest=rest, one_way=one_way)

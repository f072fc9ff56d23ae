"""Loading of the workpiece: phases of heat, and the load with its release."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.heating import ForcedCooling, Heat, StillAir, WetRag
from shrinksim.casefile.resolving import REACH
from shrinksim.fem.conduction import EdgeExchange, Exchange, Law, Medium
from shrinksim.fem.ends import PlaneEnds
from shrinksim.heat.phase import TORCH, Phase, PhaseName
from shrinksim.heat.trailing_cooling import TrailingCooling, smooth_cutoff
from shrinksim.shop.cooling import still_air
from shrinksim.shop.pattern import Pattern
from shrinksim.strain import Body, Support, elastic_response, support
from shrinksim.views.cooling_phases import EDGE, LONGEST, forced_law, is_steady
from shrinksim.views.elevation.geometry import Workpiece, by_band
from shrinksim.views.elevation.record import Case


def heat_phases(case: Case, work: Workpiece, body: Medium) -> list[Phase]:
    """The heats of a case as phases: torch, pauses, cooling, and at last cold."""
    ambient = case.surroundings.ambient
    air = still_air(ambient, case.surroundings.emissivity)
    faces = by_band(work, body.mesh, "losing_faces")[:, None]
    calm = (Exchange(air, faces, steady=True),)
    edges = free_edges(work, air)
    phases: list[Phase] = []
    for number, (heat, drawn) in enumerate(
        zip(case.heats, work.patterns, strict=True), start=1
    ):
        behind = _following(heat, work, body, air, ambient)
        for turn, pattern in enumerate(drawn):
            if pattern.path.pause > 0.0:
                pause = PhaseName("pause", number)
                phases.append(Phase(pattern.path.pause, calm, edges, name=pause))
            name = PhaseName(TORCH, number, turn + 1)
            torch = {"torch": pattern.path, "trailing_cooling": behind}
            phases.append(Phase(LONGEST, calm, edges, name=name, **torch))
        if behind is not None:
            name = PhaseName(f"{heat.cooling.kind} to the end of the path", number)
            phases.append(Phase(LONGEST, calm, edges, name=name, until_passes_end=True))
        last = number == len(case.heats)
        until = max(heat.cooling.until, ambient + 5.0)
        phases += _cooling(
            heat, drawn, work, body, calm, edges, air, ambient, until, number
        )
        if last:
            cold = PhaseName("to cold")
            phases.append(Phase(LONGEST, calm, edges, until=ambient + 5.0, name=cold))
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
    until: float, number: int,
) -> list[Phase]:  # fmt: skip
    """Still air up to the start of the forced cooling, then that until cool enough."""
    cooling = heat.cooling
    calmly = PhaseName("still air", number)
    if isinstance(cooling, StillAir):
        return [Phase(cooling.longest, calm, edges, until=until, name=calmly)]
    phases = []
    if cooling.start_below is not None:
        wait = Phase(LONGEST, calm, edges, until=cooling.start_below, name=calmly)
        phases.append(wait)
    elif cooling.start_after:
        phases.append(Phase(cooling.start_after, calm, edges, name=calmly))
    wet = _cover(body.quadrature.xy, drawn, cooling)
    outer = by_band(work, body.mesh, "torched_faces")[:, None] * wet
    losing = by_band(work, body.mesh, "losing_faces")[:, None]
    law = forced_law(cooling, ambient)
    both = (
        Exchange(law, outer, steady=is_steady(cooling)),
        Exchange(air, np.maximum(losing - outer, 0.0), steady=True),
    )
    name = PhaseName(cooling.kind, number)
    phases.append(Phase(cooling.longest, both, edges, until=until, name=name))
    return phases


def _following(
    heat: Heat, work: Workpiece, body: Medium, air: Law, ambient: float
) -> TrailingCooling | None:
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
    return TrailingCooling(instead, faces, cooling.behind, reach, EDGE)


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
    return smooth_cutoff(gap - reach, EDGE)


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

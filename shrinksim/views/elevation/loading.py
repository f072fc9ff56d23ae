"""Loading of the workpiece: phases of heat, and the load with its release."""

from __future__ import annotations

import numpy as np

from shrinksim.casefile.heating import Heat, StillAir, WetRag
from shrinksim.casefile.resolving import REACH
from shrinksim.fem.conduction import EdgeExchange, Exchange, Law, Medium
from shrinksim.fem.ends import PlaneEnds
from shrinksim.heat.phase import Phase
from shrinksim.heat.trailing_cooling import TrailingCooling
from shrinksim.shop.cooling import still_air
from shrinksim.shop.pattern import Pattern
from shrinksim.strain import Body, Support, elastic_response, support
from shrinksim.views.cooling_phases import (
    EDGE,
    Exposed,
    cover,
    forced_law,
    instead_of,
    is_steady,
    phases_in_turn,
)
from shrinksim.views.elevation.record import Case
from shrinksim.views.workpiece import Workpiece, by_band


def heat_phases(case: Case, work: Workpiece, body: Medium) -> list[Phase]:
    """The heats of a case as phases: torch, pauses, cooling, and at last cold."""
    ambient = case.surroundings.ambient
    air = still_air(ambient, case.surroundings.emissivity)
    faces = by_band(work, body.mesh, "losing_faces")[:, None]
    exposed = Exposed(
        (Exchange(air, faces, steady=True),),
        free_edges(work, air),
        lambda heat, drawn: _forced(heat, drawn, work, body, air, ambient),
        lambda heat: _following(heat, work, body, air, ambient),
    )
    return phases_in_turn(case.heats, work.patterns, ambient, exposed)


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


def _forced(
    heat: Heat, drawn: tuple[Pattern, ...], work: Workpiece, body: Medium, air: Law,
    ambient: float,
) -> tuple[Exchange, ...]:  # fmt: skip
    """The forced cooling where it wets or blows, air elsewhere."""
    cooling = heat.cooling
    assert not isinstance(cooling, StillAir)
    wet = cover(body.quadrature.xy, drawn, cooling)
    outer = by_band(work, body.mesh, "torched_faces")[:, None] * wet
    losing = by_band(work, body.mesh, "losing_faces")[:, None]
    law = forced_law(cooling, ambient)
    return (
        Exchange(law, outer, steady=is_steady(cooling)),
        Exchange(air, np.maximum(losing - outer, 0.0), steady=True),
    )


def _following(
    heat: Heat, work: Workpiece, body: Medium, air: Law, ambient: float
) -> TrailingCooling | None:
    """The cooling that follows a heat's torch, in the place of the air there."""
    cooling = heat.cooling
    if isinstance(cooling, (StillAir, WetRag)) or cooling.behind is None:
        return None
    instead = instead_of(air, forced_law(cooling, ambient))
    faces = by_band(work, body.mesh, "torched_faces")[:, None]
    reach = REACH if cooling.reach is None else cooling.reach
    return TrailingCooling(instead, faces, cooling.behind, reach, EDGE)


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

"""What is done to the plate: phases of heat on its faces, and the load on its ends."""

from __future__ import annotations

from typing import Any

import numpy as np

from shrinksim.casefile.heating import StillAir, WetRag
from shrinksim.casefile.resolving import REACH
from shrinksim.fem.conduction import EdgeExchange, Exchange, Law
from shrinksim.fem.plate import PlateBody
from shrinksim.fem.plate_ends import PlateEnds
from shrinksim.fem.slab import PlateMedium
from shrinksim.heat.gauge import TorchReading
from shrinksim.heat.phase import Phase
from shrinksim.heat.trailing_cooling import TrailingCooling
from shrinksim.shop.cooling import still_air
from shrinksim.shop.pattern import Pattern
from shrinksim.strain import Support, elastic_response, support
from shrinksim.views.cooling_phases import (
    EDGE,
    Exposed,
    cover,
    forced_law,
    instead_of,
    is_steady,
    phases_in_turn,
)
from shrinksim.views.solid.geometry import Slab
from shrinksim.views.solid.record import Side, SolidCase, side_shares

BACK, FRONT = 0, 1
"""Numbers of the faces: bottom and top of the columns."""

NEAR = 5.0
"""K, how near a reading is brought to the target: the face's peak is known no better, it
is read at the ends of steps."""

STIFF = 1e4
"""Of a spring that holds an end, over the plate's own stiffness."""


def heat_phases(case: SolidCase, work: Slab, body: PlateMedium) -> list[Phase]:
    """The heats of a case as phases: torch, pauses, cooling, and at last cold."""
    ambient = case.surroundings.ambient
    air = still_air(ambient, case.surroundings.emissivity)
    exposed = Exposed(
        (Exchange(air, np.full((1, 1), 2.0), steady=True),),
        tuple(
            EdgeExchange(edge, air, work.thickness, steady=True)
            for edge in ("bottom", "top")
        ),
        lambda heat, drawn: _forced(heat, drawn, body, air, ambient),
        lambda heat: _following(heat, air, ambient),
        lambda heat, turn: _torch(case.heats[heat].patterns[turn], body),
    )
    return phases_in_turn(case.heats, work.patterns, ambient, exposed)


def _torch(pattern: Any, body: PlateMedium) -> dict[str, Any]:
    """The faces that a pattern's torch is on, and where a held one is read."""
    torch, face = pattern.torch, pattern.face
    here = {"front": (FRONT,), "back": (BACK,), "both": (FRONT, BACK)}[face]
    if torch.read == "back":
        here = tuple(BACK + FRONT - side for side in here)
    after = torch.after if torch.read == "face after" else 0.0
    reading = TorchReading(tuple(body.face(side) for side in here), after or 0.0, NEAR)
    return {"sides": side_shares(face), "reading": reading}


def _faces(face: Side) -> tuple[float, float]:
    """How many of the back and the front a cooling is on, in this order."""
    return {"front": (0.0, 1.0), "back": (1.0, 0.0), "both": (1.0, 1.0)}[face]


def _forced(
    heat: Any, drawn: tuple[Pattern, ...], body: PlateMedium, air: Law, ambient: float
) -> tuple[Exchange, ...]:
    """The forced cooling where it wets or blows, air elsewhere and on the other face."""
    cooling = heat.cooling
    wet = cover(body.quadrature.xy, drawn, cooling)
    on = _faces(cooling.face)
    law, steady = forced_law(cooling, ambient), is_steady(cooling)
    found = [
        Exchange(law, wet, steady=steady, sides=on),
        Exchange(air, 1.0 - wet, steady=True, sides=on),
    ]
    if cooling.face != "both":
        other = (on[FRONT], on[BACK])
        found.append(Exchange(air, np.ones((1, 1)), steady=True, sides=other))
    return tuple(found)


def _following(heat: Any, air: Law, ambient: float) -> TrailingCooling | None:
    """The cooling that follows a heat's torch, in the place of the air there."""
    cooling = heat.cooling
    if isinstance(cooling, (StillAir, WetRag)) or cooling.behind is None:
        return None
    law = instead_of(air, forced_law(cooling, ambient))
    reach = REACH if cooling.reach is None else cooling.reach
    on = _faces(cooling.face)
    return TrailingCooling(law, np.ones((1, 1)), cooling.behind, reach, EDGE, on)


def moments_of(case: SolidCase, work: Slab) -> tuple[float, float]:
    """Moments (N m) of the load in the plane, + helps, and out of it, + presses the
    front.
    """
    load = case.load
    flat = load.flat_moment or (load.flat_ratio or 0.0) * work.flat_plastic_moment
    plane = load.moment or (load.moment_ratio or 0.0) * work.sheet.plastic_moment
    return plane, flat


def stiffness_of(case: SolidCase, work: Slab) -> float | None:
    """Stiffness (N m/rad) of a jack or clamp, None without one."""
    load = case.load
    if load.stiffness_ratio is not None:
        return load.stiffness_ratio * work.sheet.bending_stiffness / work.length
    return load.stiffness


def load_of(case: SolidCase, work: Slab, ends: PlateEnds, body: PlateBody) -> Support:
    """The case's load as forces and springs on the plane end.

    A weight stays; a jack is set to the moment cold and then locked, so that it loses
    load as the steel moves away (and cannot pull); a clamp does the same both ways;
    held ends are springs ten thousand times as stiff as the patch.  A moment out of the
    plane stays.
    """
    load, arm = case.load, ends.arm
    force, spring, rest, one_way = (np.zeros(ends.ties.unknowns) for _ in range(4))
    plane, flat = moments_of(case, work)
    plane *= work.opens
    force[ends.stretch], force[ends.bend] = load.axial, flat / arm
    if load.kind == "weight":
        force[ends.turn] = plane / arm
    if load.kind in ("jack", "clamp"):
        k = stiffness_of(case, work)
        assert k is not None
        push = np.zeros(ends.ties.unknowns)
        push[ends.turn] = plane / arm
        cold = np.full(len(body.mesh.points), case.surroundings.ambient)
        give = elastic_response(body, support(ends.ties), push, cold)
        spring[ends.turn] = k / arm**2
        rest[ends.turn] = plane / k * arm + give[ends.turn]
        one_way[ends.turn] = float(load.kind == "jack")
    if load.kind == "held":
        sheet, length = work.sheet, work.length
        spring[ends.turn] = STIFF * sheet.bending_stiffness / length / arm**2
        spring[ends.bend] = STIFF * work.flat_stiffness / length / arm**2
        spring[ends.stretch] = STIFF * sheet.axial_stiffness / length
    return support(ends.ties, force=force, spring=spring, rest=rest, one_way=one_way)

"""The stages of the solid view."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shrinksim.casefile.resolving import has_held_torch
from shrinksim.errors import NotConverged
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.plate import POINTS, PlateBody, plate_body
from shrinksim.fem.plate_ends import plane_ends
from shrinksim.fem.slab import ORDER, plate_medium
from shrinksim.fem.through import modes_through
from shrinksim.heat import Stepping, Timetable, solve_heat
from shrinksim.strain import Control, StrainHistory
from shrinksim.views.ranking import SCHEDULE_SCATTER
from shrinksim.views.solid import cautions
from shrinksim.views.solid.faces import point_temperatures
from shrinksim.views.solid.geometry import Slab, mesh_of, slab
from shrinksim.views.solid.loading import heat_phases, load_of
from shrinksim.views.solid.measures import MEASURES, trust
from shrinksim.views.solid.movement import PlateMovement, folded, move
from shrinksim.views.solid.record import SolidCase
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.view import Heating, Held, Loaded, Say, Stages

FOLD = 0.15
"""Turn of the patch (rad) taken for folding: a hundred times what one heat gives."""

COARSER = 1.6
"""Ratio of the two runs: element sides and step limits."""

NEWTON = 0.05
"""K, of Newton's method in the heat steps."""

CONTROL = Control(tolerance=1e-3, iterations=40, folding=2, slow=0.6)
"""A factor of a plate costs as much as ten solves and more, so that it is kept longer
than a sheet's; three times the usual tolerance of equilibrium moves rotations by less
than 0.06 % (trials on the README's bar).  The bend and the turn may show folding."""

READING_SCATTER = 0.015
"""Of the largest movement while hot, what a reading that is brought within 5 K of its
target leaves open: on the README's bar, held by its face, 2 K more turn it by 0.02 mrad
more, of 2.6 mrad while hot."""

OTHERS = 0.25
"""Of the share that the orders lose of the bend out of the plane: what they lose of the
other movements, from the same rows as `geometry.LOST`."""


def heat(
    case: SolidCase, work: Slab, mesh: Mesh, say: Say, schedules: Sequence[Timetable]
) -> Heating:
    """The heat stage of a case on its mesh."""
    table = work.steel.heat
    body = plate_medium(
        mesh, work.thickness, table.start, table.step, table.conductivity,
        table.heat_content, order=ORDER,
    )  # fmt: skip
    history = solve_heat(
        body,
        heat_phases(case, work, body),
        initial=case.surroundings.ambient,
        stepping=Stepping(tolerance=case.numerics.heat_tolerance, newton=NEWTON),
        progress=lambda t, text: say("heat", math.nan, f"t = {t:.0f} s, {text}"),
        timetables=schedules,
    )
    return Heating(history, history.timetables, held=has_held_torch(case.heats))


def body(case: SolidCase, work: Slab, mesh: Mesh) -> PlateBody:
    """The plate that is strained."""
    modes = modes_through(work.thickness, work.orders, POINTS)
    rule = "interior 6" if work.through == "4, 4" else "interior 3"
    return plate_body(
        mesh, work.thickness, work.steel.strain, modes=modes, rule=rule, order=ORDER,
        cold=case.surroundings.ambient,
    )  # fmt: skip


def hold(case: SolidCase, work: Slab, plate: PlateBody) -> Held:
    """Plane ends with the case's load on them."""
    ends = plane_ends(plate.solid, plate.modes, plate.carried)
    return Held(load_of(case, work, ends, plate), FOLD * ends.arm, ends, CONTROL)


def _folded(error: NotConverged, on: Loaded) -> StrainHistory:
    return folded(error, on.geometry, on.mesh, on.body, on.held.ends)


def _move(on: Loaded, strain: StrainHistory) -> PlateMovement:
    return move(on.geometry, on.mesh, on.body, on.held.ends, strain)


def coarser(case: SolidCase, work: Slab, factor: float = COARSER) -> SolidCase:
    """The case on the same patch with sides and step limits times ``factor``."""
    numerics = case.numerics.coarser(work.sheet.fine, work.sheet.far, factor)
    numerics = numerics.model_copy(update={"through": work.through})
    member = case.member.model_copy(update={"patch": work.length})
    return case.model_copy(update={"numerics": numerics, "member": member})


def refinement(
    main: SolidResult, other: SolidResult, searched: bool
) -> Mapping[str, float | bool]:
    """What the coarser run changed, and the numerical errors.

    An error is half of the change, what the schedule of a held torch leaves open, and
    what the orders through the thickness lose, as independent parts.  searched : the
    torch's schedule was searched for once more, too.
    """
    led = main.heating.held and not searched
    lost = main.geometry.lost
    found: dict[str, Any] = {"factor": COARSER, "torch_anew": searched}
    for key, unit, share in (
        ("rotation", "mrad", OTHERS * lost),
        ("out_of_plane", "mrad", lost),
        ("twist", "mrad", OTHERS * lost),
        ("shortening", "mm", OTHERS * lost),
        ("dish", "mm", lost),
    ):
        one, two = (1e3 * getattr(r.movement, key) for r in (main, other))
        found[f"{key}_change_{unit}"] = two - one
        lead = _left_open(main, key, one) if led else 0.0
        found[f"{key}_error_{unit}"] = math.hypot(0.5 * (two - one), lead, share * one)
    return found


def _left_open(main: SolidResult, key: str, one: float) -> float:
    """What the schedule of a held torch leaves open of a movement ``one`` (mrad, mm)."""
    history = getattr(main.movement, f"{key}_history", None)
    hot = 0.0 if history is None else 1e3 * float(np.abs(history).max())
    return SCHEDULE_SCATTER * abs(one) + READING_SCATTER * hot


def points(result: SolidResult) -> dict[str, tuple[float, float]]:
    """Where the first torch starts, is half way, and ends: (x, y) m."""
    path = result.geometry.paths[0].points
    middle = path[len(path) // 2]
    names = {"torch start": path[0], "half way": middle, "torch end": path[-1]}
    return {k: (float(p[0]), float(p[1])) for k, p in names.items()}


STAGES = Stages(
    draw=slab,
    mesh=mesh_of,
    heat=heat,
    body=body,
    hold=hold,
    folded=_folded,
    move=_move,
    coarser=coarser,
    refinement=refinement,
    before=cautions.before,
    after=cautions.after,
    measures=MEASURES,
    trust=trust,
    points=points,
    point_temperatures=point_temperatures,
)

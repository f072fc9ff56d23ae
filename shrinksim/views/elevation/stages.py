"""The stages of the elevation view."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from shrinksim.casefile.resolving import has_held_torch
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import medium
from shrinksim.fem.ends import PlaneEnds, plane_ends
from shrinksim.fem.mesh import Mesh
from shrinksim.heat import Stepping, Timetable, solve_heat
from shrinksim.movement import Movement
from shrinksim.strain import Body, StrainHistory, strain_body
from shrinksim.views.caution import Caution
from shrinksim.views.elevation import cautions
from shrinksim.views.elevation.loading import heat_phases, load_of
from shrinksim.views.elevation.measures import MEASURES, trust
from shrinksim.views.elevation.read_out import folded, move
from shrinksim.views.elevation.record import Case
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.named_points import point_temperatures
from shrinksim.views.ranking import SCHEDULE_SCATTER
from shrinksim.views.view import Heating, Held, Loaded, Say, Stages
from shrinksim.views.workpiece import (
    Workpiece,
    by_band,
    mesh_of,
    overlay_of,
    workpiece,
)

FOLD = 0.15
"""Rotation of the patch (rad) taken as folding: a hundred times that of one heat."""

COARSER = 1.6
"""Ratio of the two runs: element sides and step limits."""

WEAK_SCATTER = 0.05
"""SCHEDULE_SCATTER about the weak axis: the shipped weak-axis case moves by up to 5 %."""


def heat(
    case: Case, work: Workpiece, mesh: Mesh, say: Say, schedules: Sequence[Timetable]
) -> Heating:
    """The heat stage of a case on its mesh."""
    table = work.steel.heat
    body = medium(
        mesh,
        by_band(work, mesh, "heat_thickness"),
        table.start,
        table.step,
        table.conductivity,
        table.heat_content,
    )
    history = solve_heat(
        body,
        heat_phases(case, work, body),
        initial=case.surroundings.ambient,
        stepping=Stepping(tolerance=case.numerics.heat_tolerance),
        progress=lambda t, text: say("heat", math.nan, f"t = {t:.0f} s, {text}"),
        timetables=schedules,
    )
    return Heating(history, history.timetables, held=has_held_torch(case.heats))


def body(case: Case, work: Workpiece, mesh: Mesh) -> Body:
    """The sheet for the strain stage, with the layers that stay cold."""
    return strain_body(
        mesh,
        by_band(work, mesh, "thickness"),
        work.steel.strain,
        overlay=overlay_of(work, mesh),
        cold=case.surroundings.ambient,
    )


def hold(case: Case, work: Workpiece, sheet: Body) -> Held:
    """Plane ends with the case's load on them."""
    ends = plane_ends(sheet.mesh, work.axis, 0.5 * work.depth, work.opens)
    return Held(load_of(case, work, ends, sheet), FOLD * ends.arm, ends)


def _folded(error: NotConverged, on: Loaded) -> StrainHistory:
    ends: PlaneEnds = on.held.ends
    return folded(error, on.geometry, on.mesh, on.body.table, ends)


def _move(on: Loaded, strain: StrainHistory) -> Movement:
    return move(on.geometry, on.mesh, on.body, on.held.ends, strain)


def coarser(case: Case, work: Workpiece, factor: float = COARSER) -> Case:
    """The case on the same patch with sides and step limits times ``factor``."""
    numerics = case.numerics.coarser(work.fine, work.far, factor)
    member = case.member.model_copy(update={"patch": work.length})
    return case.model_copy(update={"numerics": numerics, "member": member})


def refinement(
    main: ElevationResult, other: ElevationResult, searched: bool
) -> Mapping[str, float | bool]:
    """Changes in the coarser run, and the numerical errors (standard deviation).

    searched : the travel schedule was searched for again on the coarser mesh.
    """
    case, one, two = main.case, main.movement, other.movement
    share = WEAK_SCATTER if case.member.bending == "weak" else SCHEDULE_SCATTER
    scatter = share if main.heating.held and not searched else 0.0
    rotation = (two.rotation - one.rotation) * 1e3
    shortening = (two.shortening - one.shortening) * 1e3
    return {
        "factor": COARSER,
        "rotation_change_mrad": rotation,
        "shortening_change_mm": shortening,
        "torch_anew": searched,
        "rotation_error_mrad": error_of(rotation, scatter * one.rotation * 1e3),
        "shortening_error_mm": error_of(shortening, scatter * one.shortening * 1e3),
    }


def error_of(change: float, scatter: float) -> float:
    """Numerical error of the finer run from the change in the coarser one.

    Half of the change; against mesh and steps half as coarse the shipped vees showed a
    third of it and less.  scatter : of the movement due to the schedule search.
    """
    return math.hypot(0.5 * change, scatter)


def after(main: ElevationResult) -> list[Caution]:
    """Cautions that follow from the result of the run."""
    peak = float(main.heat.peak.max())
    starts = list(main.heat.starting_temperatures[1:])
    margin = main.movement.hinge_margin
    return cautions.after(
        main.case, main.geometry, peak, margin, main.outcome, starts
    )  # fmt: skip


def points(result: ElevationResult) -> dict[str, tuple[float, float]]:
    """Where the first torch starts, is half way, and ends: (x, y) m."""
    path = result.geometry.paths[0].points
    middle = path[len(path) // 2]
    names = {"torch start": path[0], "half way": middle, "torch end": path[-1]}
    return {k: (float(p[0]), float(p[1])) for k, p in names.items()}


STAGES = Stages(
    draw=workpiece,
    mesh=mesh_of,
    heat=heat,
    body=body,
    hold=hold,
    folded=_folded,
    move=_move,
    coarser=coarser,
    refinement=refinement,
    before=cautions.before,
    after=after,
    measures=MEASURES,
    trust=trust,
    points=points,
    point_temperatures=point_temperatures,
)

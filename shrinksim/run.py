"""The chain: case -> workpiece -> mesh -> heat -> strain -> movement -> result."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from shrinksim.case.schema import Case
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import medium
from shrinksim.fem.ends import PlaneEnds, plane_ends
from shrinksim.fem.mesh import Mesh
from shrinksim.heat import HeatHistory, Stepping, solve_heat
from shrinksim.judge import folded, move
from shrinksim.movement import Movement
from shrinksim.operations import heat_phases, load_of, schedule_of
from shrinksim.strain import Body, Control, StrainHistory, solve_strain, strain_body
from shrinksim.workpiece import Workpiece, by_band, mesh_of, overlay_of, workpiece

Progress = Callable[[str, float, str], None]
"""progress(stage, share 0..1 or NaN, text)."""

FOLD = 0.15
"""Turn of the patch (rad) taken for folding: a hundred times what one heat gives."""


@dataclass(frozen=True)
class Run:
    """Everything that one run of a case made."""

    case: Case
    work: Workpiece
    mesh: Mesh
    ends: PlaneEnds
    body: Body
    heat: HeatHistory
    strain: StrainHistory
    movement: Movement
    outcome: str
    seconds: Mapping[str, float]


def run_once(case: Case, progress: Progress | None = None) -> Run:
    """Compute a case.  Raises NotConverged; a member that folds is an outcome."""
    say = progress or (lambda stage, share, text: None)
    clock = [time.perf_counter()]
    say("mesh", 0.0, "drawing and meshing the member")
    work = workpiece(case)
    mesh = mesh_of(work)
    clock.append(time.perf_counter())
    heat = run_heat(case, work, mesh, say)
    clock.append(time.perf_counter())
    table = work.steel.strain
    ambient = case.surroundings.ambient
    body = strain_body(
        mesh,
        by_band(work, mesh, "thickness"),
        table,
        overlay=overlay_of(work, mesh),
        cold=ambient,
    )
    ends = plane_ends(mesh, work.axis, 0.5 * work.depth, work.opens)
    plan = schedule_of(heat, ambient, case.numerics.temperature_step)
    hold = load_of(case, work, ends, body)
    last = float(plan.times[-1])
    control = Control(fold=FOLD * ends.arm)
    outcome = "complete"
    try:
        strain = solve_strain(
            body, plan, hold, control=control,
            progress=lambda t, text: say("strain", t / last, text),
        )  # fmt: skip
    except NotConverged as error:
        strain = folded(error, work, mesh, table, ends)
        outcome = "hot hinge"
    moved = move(work, mesh, body, ends, strain)
    clock.append(time.perf_counter())
    names = ("mesh", "heat", "strain")
    seconds = dict(zip(names, np.diff(clock), strict=True))
    seconds["total"] = clock[-1] - clock[0]
    return Run(
        case, work, mesh, ends, body, heat, strain, moved, outcome, seconds
    )  # fmt: skip


def run_heat(case: Case, work: Workpiece, mesh: Mesh, say: Progress) -> HeatHistory:
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
    return solve_heat(
        body,
        heat_phases(case, work, body),
        initial=case.surroundings.ambient,
        stepping=Stepping(tolerance=case.numerics.heat_tolerance),
        progress=lambda t, text: say("heat", float("nan"), f"t = {t:.0f} s, {text}"),
    )


def finer(case: Case, factor: float) -> Case:
    """The case with element sides times ``factor`` and step limits to match."""
    work = workpiece(case)
    old = case.numerics
    numerics = old.model_copy(
        update={
            "element": work.fine * factor,
            "far_element": work.far * factor,
            "temperature_step": old.temperature_step * factor,
            "heat_tolerance": old.heat_tolerance * factor**2,
        }
    )
    return case.model_copy(update={"numerics": numerics})


def same_patch(case: Case, work: Workpiece) -> Case:
    """The case with its automatic patch length written down."""
    member = case.member.model_copy(update={"patch": work.length})
    return case.model_copy(update={"member": member})


__all__ = ["Run", "finer", "replace", "run_heat", "run_once", "same_patch"]

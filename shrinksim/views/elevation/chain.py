"""The chain: case -> workpiece -> mesh -> heat -> strain -> movement -> result."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import medium
from shrinksim.fem.ends import PlaneEnds, plane_ends
from shrinksim.fem.mesh import Mesh
from shrinksim.heat.march import HeatHistory, Stepping, solve_heat
from shrinksim.heat.torch_motion import Timetable
from shrinksim.movement import Movement
from shrinksim.strain import Body, Control, StrainHistory, solve_strain, strain_body
from shrinksim.views.elevation.cautions import Caution, after, before
from shrinksim.views.elevation.geometry import (
    Workpiece,
    by_band,
    mesh_of,
    overlay_of,
    workpiece,
)
from shrinksim.views.elevation.loading import heat_phases, load_of, schedule_of
from shrinksim.views.elevation.read_out import folded, move
from shrinksim.views.elevation.record import Case
from shrinksim.views.elevation.result import Result
from shrinksim.views.section.record import SectionCase

if TYPE_CHECKING:
    from shrinksim.views.section.result import SectionResult

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


def run_once(
    case: Case,
    progress: Progress | None = None,
    timetables: Sequence[Timetable] = (),
) -> Run:
    """Compute a case.  Raises NotConverged; a member that folds is an outcome.

    timetables : of held torches, when they are not to be looked for.
    """
    say = progress or (lambda stage, share, text: None)
    clock = [time.perf_counter()]
    say("mesh", 0.0, "drawing and meshing the member")
    work = workpiece(case)
    mesh = mesh_of(work)
    clock.append(time.perf_counter())
    heat = run_heat(case, work, mesh, say, timetables)
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
    release = case.load.removed != "never"
    plan = schedule_of(heat, ambient, case.numerics.temperature_step, release)
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
    seconds = {
        name: end - start
        for name, start, end in zip(names, clock, clock[1:], strict=False)
    }
    seconds["total"] = clock[-1] - clock[0]
    return Run(
        case, work, mesh, ends, body, heat, strain, moved, outcome, seconds
    )  # fmt: skip


def run_heat(
    case: Case,
    work: Workpiece,
    mesh: Mesh,
    say: Progress,
    timetables: Sequence[Timetable] = (),
) -> HeatHistory:
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
        timetables=timetables,
    )


def run(
    case: Case | SectionCase, progress: Progress | None = None, refine: bool = False
) -> Result | SectionResult:
    """Compute a case in its view.

    A second, coarser run says how much mesh and steps matter; with ``refine`` it also
    looks for the torch's way once more.  Raises
    CaseError for input that cannot be drawn, NotConverged when a stage cannot go on.
    """
    if isinstance(case, SectionCase):
        from shrinksim.views.section import chain as crosscut

        return crosscut.run(case, progress, refine)
    main = run_once(case, progress)
    seconds = dict(main.seconds)
    refinement = None
    if main.outcome == "complete":
        began = time.perf_counter()
        refinement = _refined(main, progress, refine)
        seconds["error"] = time.perf_counter() - began
        seconds["total"] += seconds["error"]
    return Result(
        case,
        main.work,
        main.mesh,
        main.heat,
        main.strain,
        main.movement,
        tuple(_cautions(main)),
        main.outcome,
        seconds,
        refinement,
    )


COARSER = 1.6
"""Ratio of the two runs: element sides and step limits."""


LEAD, WEAK_LEAD = 0.03, 0.05
"""Share of the movement that the way of a held torch leaves open: looked for on four
meshes and with 4 to 10 passes, two shipped vees move by up to 2 % more or less than
their mean, the weak-axis one by up to 5 %, the hottest steel within 2 K of its target."""


def coarser(case: Case, work: Workpiece, factor: float) -> Case:
    """The case on the same patch with sides and step limits times ``factor``."""
    numerics = case.numerics.coarser(work.fine, work.far, factor)
    member = case.member.model_copy(update={"patch": work.length})
    return case.model_copy(update={"numerics": numerics, "member": member})


def _refined(
    main: Run, progress: Progress | None, anew: bool
) -> dict[str, float | bool] | None:
    """What a coarser run changed, None when it does not come to an end.

    anew : the way of the torch is looked for once more, too.
    """
    case = coarser(main.case, main.work, COARSER)
    try:
        other = run_once(case, progress, () if anew else main.heat.timetables)
    except NotConverged:
        return None
    if other.outcome != "complete":
        return None
    held = any(p.torch.drive != "travel" for h in case.heats for p in h.patterns)
    changed = change(main.movement, other.movement, COARSER)
    share = WEAK_LEAD if case.member.bending == "weak" else LEAD
    lead = share if held and not anew else 0.0
    return changed | {
        "torch_anew": anew,
        "rotation_error_mrad": error_of(
            changed["rotation_change_mrad"], lead * main.movement.rotation * 1e3
        ),
        "shortening_error_mm": error_of(
            changed["shortening_change_mm"], lead * main.movement.shortening * 1e3
        ),
    }


def error_of(change: float, lead: float) -> float:
    """Numerical error of the finer run, from what the coarser one changed.

    Half of it; against mesh and steps half as coarse the shipped vees showed a third of
    it and less.  lead : what the way of a
    held torch leaves open.
    """
    return math.hypot(0.5 * change, lead)


def change(one: Movement, other: Movement, factor: float) -> dict[str, float]:
    """What the second run changed."""
    return {
        "factor": factor,
        "rotation_change_mrad": (other.rotation - one.rotation) * 1e3,
        "shortening_change_mm": (other.shortening - one.shortening) * 1e3,
    }


def _cautions(main: Run) -> list[Caution]:
    heat = main.heat
    names = [label.split(":")[0] for label in heat.label]
    begins = [k for k in range(1, len(names)) if names[k] not in names[:k]]
    first = [
        float(heat.temperature[k - 1].max())
        for k in begins
        if names[k].startswith("heat")
    ]
    peak = float(heat.peak.max())
    margin = main.movement.hinge_margin
    found = after(main.case, main.work, peak, margin, main.outcome, first[1:])
    return before(main.case, main.work) + found

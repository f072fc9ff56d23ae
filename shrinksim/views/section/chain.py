"""The chain of the section view: case -> section -> heat -> strain -> movement."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from shrinksim.arrays import FloatArray
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import medium
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.section import SectionBody, section_body
from shrinksim.heat.history import HeatHistory
from shrinksim.strain import Control, StrainHistory, solve_strain
from shrinksim.views.load_schedule import schedule_of
from shrinksim.views.section.cautions import after, before
from shrinksim.views.section.geometry import Cut, cut_of, mesh_cut
from shrinksim.views.section.heating import Heating, heat_cut
from shrinksim.views.section.loading import hold_of
from shrinksim.views.section.movement import (
    SectionMovement,
    folded_section,
    section_movement,
)
from shrinksim.views.section.record import SectionCase
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.torch import with_outline

Progress = Callable[[str, float, str], None]

FOLD = 0.02
"""Strain at the arm of the section taken for folding: ten times a yield curvature."""


@dataclass(frozen=True)
class SectionRun:
    """Everything that one run of a section case made."""

    case: SectionCase
    cut: Cut
    mesh: Mesh
    body: SectionBody
    heating: Heating
    strain: StrainHistory
    movement: SectionMovement
    outcome: str
    seconds: Mapping[str, float]


def run(
    case: SectionCase, progress: Progress | None = None, refine: bool = False
) -> SectionResult:
    """Compute a section case; as `shrinksim.run`."""
    main = run_once(case, progress)
    seconds = dict(main.seconds)
    refinement = None
    if main.outcome == "complete":
        began = time.perf_counter()
        refinement = _refined(main, progress, refine)
        seconds["error"] = time.perf_counter() - began
        seconds["total"] += seconds["error"]
    heating, cut = main.heating, main.cut
    margin = main.movement.hinge_margin
    said = before(case, cut) + after(
        case, cut, heating.history, heating.speeds, margin, main.outcome
    )
    return SectionResult(
        case,
        cut,
        main.mesh,
        main.body,
        heating.history,
        heating.speeds,
        heating.torch_times,
        main.strain,
        main.movement,
        tuple(said),
        main.outcome,
        seconds,
        refinement,
    )


COARSER = 2.0
"""Ratio of the two runs: element sides and step limits."""


FLOOR = 0.004
"""Least numerical error, as a share: speeds are found to 2 K, and on meshes 0.6 times
as fine the shipped cases change by up to 0.4 %."""


def coarser(case: SectionCase, cut: Cut, factor: float) -> SectionCase:
    """The case with sides and step limits times ``factor``."""
    numerics = case.numerics.coarser(cut.fine, cut.far, factor)
    return case.model_copy(update={"numerics": numerics})


def _refined(
    main: SectionRun, progress: Progress | None, anew: bool
) -> dict[str, float | bool] | None:
    """What a coarser run changed, in per cent of the larger curvature.

    anew : the speed of the torch is looked for once more, too.
    """
    case = coarser(main.case, main.cut, COARSER)
    try:
        other = run_once(case, progress, () if anew else main.heating.speeds)
    except NotConverged:
        return None
    if other.outcome != "complete":
        return None
    one, two = main.movement, other.movement
    most = max(abs(one.camber), abs(one.sweep), 1e-12)
    bend = max(abs(one.camber_rotation), abs(one.sweep_rotation)) * 1e3
    camber = 100.0 * (two.camber - one.camber) / most
    sweep = 100.0 * (two.sweep - one.sweep) / most
    shorter = (two.shortening - one.shortening) * 1e3
    return {
        "factor": COARSER,
        "torch_anew": anew,
        "camber_change_percent": camber,
        "sweep_change_percent": sweep,
        "shortening_change_mm": shorter,
        "camber_error_mrad": max(abs(camber) / 100.0, FLOOR) * bend,
        "sweep_error_mrad": max(abs(sweep) / 100.0, FLOOR) * bend,
        "shortening_error_mm": max(abs(shorter), FLOOR * abs(one.shortening) * 1e3),
    }


def run_once(
    case: SectionCase,
    progress: Progress | None = None,
    speeds: Sequence[float | None] = (),
) -> SectionRun:
    """Compute a case.  Raises NotConverged; a member that folds is an outcome.

    speeds : m/s of the patterns' torches, when they are not to be looked for.
    """
    say = progress or (lambda stage, share, text: None)
    clock = [time.perf_counter()]
    say("mesh", 0.0, "drawing and meshing the section")
    cut = cut_of(case)
    mesh = mesh_cut(cut)
    clock.append(time.perf_counter())
    heating = run_heating(case, cut, mesh, say, speeds)
    clock.append(time.perf_counter())
    ambient = case.surroundings.ambient
    body = section_body(mesh, cut.steel.strain, cold=ambient)
    hold = hold_of(case, cut, body)
    release = case.load.removed != "never"
    step = case.numerics.temperature_step
    plan = schedule_of(heating.history, ambient, step, release)
    last = float(plan.times[-1])
    outcome = "complete"
    try:
        strain = solve_strain(
            body, plan, hold, control=Control(fold=FOLD),
            progress=lambda t, text: say("strain", t / last, text),
        )  # fmt: skip
    except NotConverged as error:
        strain = folded_section(error, body, FOLD)
        outcome = "hot hinge"
    ends = heat_ends(heating.history, len(case.heats))
    moved = section_movement(cut, body, hold, strain, ends)
    clock.append(time.perf_counter())
    seconds = {
        name: end - start
        for name, start, end in zip(
            ("mesh", "heat", "strain"), clock, clock[1:], strict=False
        )
    }
    seconds["total"] = clock[-1] - clock[0]
    return SectionRun(
        case, cut, mesh, body, heating, strain, moved, outcome, seconds
    )  # fmt: skip


def heat_ends(history: HeatHistory, count: int) -> FloatArray:
    """Times (h,) s at which each of ``count`` heats is over."""
    names = [label.split(":")[0] for label in history.label]
    last = [
        max(k for k, name in enumerate(names) if name == f"heat {i + 1}")
        for i in range(count)
    ]
    return history.times[last]


def run_heating(
    case: SectionCase,
    cut: Cut,
    mesh: Mesh,
    say: Progress,
    speeds: Sequence[float | None] = (),
) -> Heating:
    """The heat stage of a section case on its mesh."""
    table = cut.steel.heat
    body = medium(
        with_outline(mesh), 1.0, table.start, table.step, table.conductivity,
        table.heat_content,
    )  # fmt: skip
    return heat_cut(
        case,
        cut,
        body,
        lambda t, text: say("heat", float("nan"), f"t = {t:.0f} s, {text}"),
        speeds,
    )

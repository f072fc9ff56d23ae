"""Run of a case, from its tables to its result: the stages in order.

case -> geometry -> mesh -> heat -> strain -> movement -> result
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from shrinksim.casefile.own import own_parts, own_steel, with_own
from shrinksim.casefile.resolving import resolved
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.conduction import Law
from shrinksim.shop.steel import Steel
from shrinksim.strain import Control, solve_strain
from shrinksim.views import VIEWS
from shrinksim.views.caution import Caution
from shrinksim.views.load_schedule import schedule_of
from shrinksim.views.result import COMPLETE, HINGE, Result
from shrinksim.views.view import Loaded, View

OWN_INPUT = Caution(
    "own input",
    "Steel or cooling law are the caller's own, and not those that the case names: limits "
    "of practice and cautions are told for what the case names, unless the steel says "
    "otherwise.",
)

Progress = Callable[[str, float, str], None]
"""progress(stage, share 0..1 or NaN, text)."""


def run(
    case: Any,
    progress: Progress | None = None,
    search_again: bool = False,
    *,
    steel: Steel | None = None,
    cooling: Law | None = None,
) -> Result[Any, Any, Any]:
    """Result of a case in its view, with numerical error and cautions.

    A second, coarser run gives the numerical error; with ``search_again`` it searches
    for the torch's schedule again, too.  steel : your own, in place of the case's.
    cooling : your own law (T degC, t s of the run) -> (q W/m2, dq/dT W/m2K) in place of
    that of every forced cooling of the case.  Raises CaseError for input that cannot be
    drawn, NotConverged when a stage cannot go on.
    """
    _refuse_other_things(case)
    if steel is not None or cooling is not None:
        case = with_own(case, steel, cooling)
        _check_strength(case)
    main = run_once(case, progress)
    if main.outcome != COMPLETE:
        return main
    began = time.perf_counter()
    refinement = _refinement(main, progress, search_again)
    spent = time.perf_counter() - began
    seconds = {**main.seconds, "error": spent}
    seconds["total"] += spent
    return replace(main, refinement=refinement, seconds=seconds)


def _refuse_other_things(case: Any) -> None:
    """CaseError for what is no case of a view."""
    if getattr(case, "view", None) not in VIEWS:
        message = f"run takes a case, as load and case(...) make them; got {case!r:.80}"
        raise CaseError(message)


def _check_strength(case: Any) -> None:
    """CaseError where the case asks of the caller's own steel what it cannot bear."""
    steel = own_steel(case)
    if steel is None:
        return
    choice = case.steel.model_copy(update={"yield_stress": steel.yield_stress})
    asked = case.model_copy(update={"steel": choice})
    problems = VIEWS[case.view].faults(resolved(asked), asked, Path())
    problems = [problem for problem in problems if problem.startswith("load")]
    if problems:
        raise CaseError([f"with your own steel: {problem}" for problem in problems])


def run_once(
    case: Any, progress: Progress | None = None, schedules: Sequence[Any] = ()
) -> Result[Any, Any, Any]:
    """Result of a single run of a case, without numerical error and cautions.

    schedules : of the torches, from an earlier run; they are followed instead of being
    searched for.  Raises NotConverged; a member that folds is an outcome.
    """
    report = progress or (lambda stage, share, text: None)
    view: View = VIEWS[case.view]
    stages = view.stages()
    clock = [time.perf_counter()]
    report("mesh", 0.0, "drawing and meshing the member")
    geometry = stages.draw(case)
    mesh = stages.mesh(geometry)
    clock.append(time.perf_counter())
    heating = stages.heat(case, geometry, mesh, report, schedules)
    clock.append(time.perf_counter())
    body = stages.body(case, geometry, mesh)
    held = stages.hold(case, geometry, body)
    loaded = Loaded(case, geometry, mesh, body, held, heating)
    plan = schedule_of(
        heating.history,
        case.surroundings.ambient,
        case.numerics.temperature_step,
        release=case.load.removed != "never",
    )
    last = float(plan.times[-1])
    outcome = COMPLETE
    try:
        strain = solve_strain(
            body,
            plan,
            held.support,
            control=replace(held.control or Control(), fold=held.fold),
            progress=lambda t, text: report("strain", t / last, text),
        )
    except NotConverged as error:
        strain = stages.folded(error, loaded)
        outcome = HINGE
    movement = stages.move(loaded, strain)
    clock.append(time.perf_counter())
    found = Result(
        view=view,
        case=case,
        geometry=geometry,
        mesh=mesh,
        body=body,
        held=held,
        heating=heating,
        strain=strain,
        movement=movement,
        outcome=outcome,
        seconds=_seconds(clock),
    )
    before = stages.before(case, geometry)
    own = [OWN_INPUT] * bool(own_parts(case))
    return replace(found, cautions=(*before, *own, *stages.after(found)))


def _seconds(clock: Sequence[float]) -> dict[str, float]:
    """Computing time (s) of each stage, and in total."""
    pairs = zip(("mesh", "heat", "strain"), clock, clock[1:], strict=False)
    spent = {name: end - start for name, start, end in pairs}
    return spent | {"total": clock[-1] - clock[0]}


def _refinement(
    main: Result[Any, Any, Any], progress: Progress | None, search_again: bool
) -> Mapping[str, float | bool] | None:
    """Numerical error from a coarser run, None when that run is not complete."""
    stages = main.view.stages()
    case = stages.coarser(main.case, main.geometry)
    schedules = () if search_again else main.heating.schedules
    try:
        other = run_once(case, progress, schedules)
    except NotConverged:
        return None
    if other.outcome != COMPLETE:
        return None
    return stages.refinement(main, other, search_again)

"""A case to its result: the table of contents of the package.

case -> geometry -> mesh -> heat -> strain -> movement -> result
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from shrinksim.casefile.own import with_own
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import Law
from shrinksim.shop.steel import Steel
from shrinksim.strain import Control, solve_strain
from shrinksim.views import VIEWS
from shrinksim.views.load_schedule import schedule_of
from shrinksim.views.result import COMPLETE, HINGE, Result
from shrinksim.views.view import Loaded, View

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
    """Compute a case in its view.

    A second, coarser run gives the numerical error; with ``search_again`` it searches
    for the torch's schedule once more, too.  steel : your own, in place of the case's.
    cooling : your own law (T degC, t s of the run) -> (q W/m2, dq/dT W/m2K) in place of
    that of every forced cooling of the case.  Raises CaseError for input that cannot be
    drawn, NotConverged when a stage cannot go on.
    """
    if steel is not None or cooling is not None:
        case = with_own(case, steel, cooling)
    main = run_once(case, progress)
    stages = main.view.stages()
    before = stages.before(case, main.geometry)
    said = (*before, *stages.after(main))
    if main.outcome != COMPLETE:
        return replace(main, cautions=said)
    began = time.perf_counter()
    changed = _refinement(main, progress, search_again)
    spent = time.perf_counter() - began
    seconds = {**main.seconds, "error": spent}
    seconds["total"] += spent
    return replace(main, cautions=said, refinement=changed, seconds=seconds)


def run_once(
    case: Any, progress: Progress | None = None, schedules: Sequence[Any] = ()
) -> Result[Any, Any, Any]:
    """Compute a case once, without numerical error and cautions.

    schedules : of the torches, of an earlier run, to be followed and not searched for.
    Raises NotConverged; a member that folds is an outcome.
    """
    say = progress or (lambda stage, share, text: None)
    view: View = VIEWS[case.view]
    stages = view.stages()
    clock = [time.perf_counter()]
    say("mesh", 0.0, "drawing and meshing the member")
    geometry = stages.draw(case)
    mesh = stages.mesh(geometry)
    clock.append(time.perf_counter())
    heating = stages.heat(case, geometry, mesh, say, schedules)
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
            control=Control(fold=held.fold),
            progress=lambda t, text: say("strain", t / last, text),
        )
    except NotConverged as error:
        strain = stages.folded(error, loaded)
        outcome = HINGE
    movement = stages.move(loaded, strain)
    clock.append(time.perf_counter())
    return Result(
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


def _seconds(clock: Sequence[float]) -> dict[str, float]:
    """Seconds of each stage, and of all."""
    pairs = zip(("mesh", "heat", "strain"), clock, clock[1:], strict=False)
    spent = {name: end - start for name, start, end in pairs}
    return spent | {"total": clock[-1] - clock[0]}


def _refinement(
    main: Result[Any, Any, Any], progress: Progress | None, search_again: bool
) -> Mapping[str, float | bool] | None:
    """What a coarser run changes, None when it does not come to its end."""
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

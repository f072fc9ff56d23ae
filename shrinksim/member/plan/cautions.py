"""Cautions of a plan, the most pressing first."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shrinksim.member.job.read import Job
from shrinksim.member.plan.alternative_cautions import scheme_cautions
from shrinksim.member.plan.next_heat import (
    MARGIN_SIGMAS,
    HeatingScheme,
    MovementFactor,
    chance_inside,
)
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import heat_case
from shrinksim.member.plan.sentences import no_heat
from shrinksim.member.plan.targets import reading_margin
from shrinksim.member.setup.cautions import rig_cautions
from shrinksim.member.setup.setup import Setup
from shrinksim.member.survey.survey import SurveyResult
from shrinksim.units.tape import offset
from shrinksim.views.elevation.cautions import before
from shrinksim.views.workpiece import workpiece


def plan_cautions(
    job: Job,
    survey: SurveyResult,
    setup: Setup,
    scheme: HeatingScheme,
    cards: Sequence[HeatCard],
    movement_factor: MovementFactor,
) -> Iterator[str]:
    """Cautions from the log, the setup, the heats and the readings."""
    yield from (*survey.hold, *survey.stale, *survey.log_remarks)
    yield from no_heat(job, scheme, movement_factor)
    yield from scheme_cautions(job, setup, scheme)
    if scheme.targets and not cards:
        yield "As the member lies no heat is worth giving: see the other ways below."
    if cards:
        first = cards[0]
        case = heat_case(job, first.plane, first.patterns, round(first.moment_ratio, 3))
        yield from (caution.text for caution in before(case, workpiece(case)))
    yield from (caution.text for caution in rig_cautions(setup.standing))
    plate = job.member.shape.flat
    if plate and "sweep" in survey.shapes and "sweep" in survey.allowed:
        yield (
            "A plate is straightened in its own plane only; its sweep is not planned "
            "for: press it flat, or give line heats along its bulging face."
        )
    if any(jack.stiffness is None for jack in job.jacks):
        yield (
            "A jack loses its load as the steel gives; here it is taken for a weight, "
            "so the heats will move less than planned. Set it again, cold, before each."
        )
    yield from coarse_readings(job, survey)
    yield from survey.remarks


def coarse_readings(job: Job, survey: SurveyResult) -> Iterator[str]:
    """Planes whose readings take up more of the tolerance than is kept for them."""
    units = job.print_units
    for plane, shape in survey.shapes.items():
        allowed = survey.allowed.get(plane)
        if allowed is None:
            continue
        kept, sigma = reading_margin(survey, plane), float(shape.band.max())
        if kept >= MARGIN_SIGMAS * sigma * (1.0 - 1e-9):
            continue
        share = 100.0 * chance_inside(kept, sigma)
        yield (
            f"The {plane} is read too coarsely for its tolerance: the line is known to "
            f"{offset(sigma, units)} (one standard deviation), {offset(allowed, units)} "
            f"are allowed. Half of that is kept for it, so only "
            f"{share:.0f} in 100 lines that read just straight "
            "enough are. Read at more stations, finer, or twice."
        )

"""The plan of heats for a measured member: where, how large, how many, when to stop.

bends, tolerance -> arrangements -> response curves -> cards, range, alternatives
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.job.checks import supports_missing
from shrinksim.member.job.read import Job
from shrinksim.member.line import Plane
from shrinksim.member.plan.alternatives import (
    Arrangement,
    arrangements,
    compared,
    curves_of,
)
from shrinksim.member.plan.cards import cards_of
from shrinksim.member.plan.cautions import plan_cautions
from shrinksim.member.plan.forecast import Forecast, forecast
from shrinksim.member.plan.input_hash import input_hash
from shrinksim.member.plan.next_heat import HeatingScheme, MovementFactor
from shrinksim.member.plan.prior import prior_factor
from shrinksim.member.plan.records import Alternative, HeatCard, Plan
from shrinksim.member.plan.response import Progress
from shrinksim.member.plan.sentences import stop_rule
from shrinksim.member.plan.targets import heating_scheme, heating_sites, surveyed_line
from shrinksim.member.setup.setup import Setup, rigging_of, set_up
from shrinksim.member.survey.survey import SurveyResult, verdicts_on

STATIONS = 241
"""Stations along the member at which its line is given."""

NONE_NEEDED = Forecast(0.0, 0, 0, 1.0, 0.0, 0.0, None)
NO_HEATS = replace(NONE_NEEDED, chance=0.0)


@dataclass(frozen=True)
class _Prepared:
    """Prepared job: its setup, and the arrangements with their schemes, as laid first.

    x : (k,) m.  schemes : None where an arrangement is impossible.
    """

    x: FloatArray
    setup: Setup
    arrangements: tuple[Arrangement, ...]
    schemes: tuple[HeatingScheme | None, ...]

    @property
    def scheme(self) -> HeatingScheme:
        """Scheme as laid; without bends where the member needs no heat."""
        return (self.schemes[0] if self.schemes else None) or _empty_scheme()


def make_plan(
    job: Job,
    survey: SurveyResult,
    *,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
    movement_factor: MovementFactor | None = None,
    alone: bool = False,
) -> Plan:
    """Plan the heats of a surveyed job.

    store : folder of finished runs.  jobs : processes, None one for each processor.
    movement_factor : the factor on movements from the logged heats; None before any.
    alone : as laid only, without alternatives.  CaseError where the job cannot be
    planned.
    """
    began = time.perf_counter()
    ready = _prepared(job, survey, store, jobs, progress, alone)
    scheme, x = ready.scheme, ready.x
    movement_factor = movement_factor or prior_factor(job)
    cards = cards_of(job, scheme, ready.setup, survey.bends, x, movement_factor)
    none = NO_HEATS if survey.hold else NONE_NEEDED
    runs = forecast(scheme, movement_factor, job.heats.most) if scheme.sites else none
    line, band, after, wide = _lines_before_and_after(survey, cards, x)
    cautions = plan_cautions(job, survey, ready.setup, scheme, cards, movement_factor)
    return Plan(
        title=job.title,
        x=frozen(x),
        before=line,
        band_before=band,
        after=after,
        band_after=wide,
        cards=cards,
        least=min(runs.least, len(cards)) if cards else 0,
        most=max(runs.most, len(cards)) if cards else 0,
        chance=runs.chance,
        verdict_before=survey.verdicts,
        verdict_after=verdicts_on(job, after, wide),
        stop=(*survey.hold, *stop_rule(job, scheme, cards, movement_factor)),
        alternatives=_table(job, ready, movement_factor, runs),
        cautions=tuple(dict.fromkeys(cautions)),
        estimate=job.heats.estimate,
        hours=sum(c.heating_time + c.cooling_time for c in cards) / 3600.0,
        gas=sum(c.gas for c in cards),
        seconds=time.perf_counter() - began,
        input_hash=input_hash(job, survey.logged),
        factor=movement_factor.mean,
    )


def next_heat(
    job: Job,
    survey: SurveyResult,
    *,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
    movement_factor: MovementFactor | None = None,
) -> HeatCard | None:
    """The card of the next heat alone, as laid; None when it is time to stop."""
    ready = _prepared(job, survey, store, jobs, progress, True)
    movement_factor = movement_factor or prior_factor(job)
    one = job.model_copy(update={"heats": job.heats.model_copy(update={"most": 1})})
    cards = cards_of(
        one, ready.scheme, ready.setup, survey.bends, ready.x, movement_factor
    )
    return cards[0] if cards else None


def _prepared(
    job: Job,
    survey: SurveyResult,
    store: Path,
    jobs: int | None,
    progress: Progress | None,
    alone: bool,
) -> _Prepared:
    """Lay the member down and get the movements; ``alone`` : as laid only.

    A member that is held back gets none.
    """
    if faults := supports_missing(list(enumerate(job.supports))):
        raise CaseError(faults)
    x = np.linspace(0.0, job.member.length, STATIONS)
    sites = [] if survey.hold else heating_sites(job, survey, x)
    setup = set_up(rigging_of(job), survey.bends, [site.place for site in sites])
    found = list(arrangements(job, setup, survey.bends, sites)) if sites else []
    found = found[:1] if alone else found
    curves = curves_of(job, found, sites, store, jobs, progress)
    schemes = [
        None
        if arrangement.ratios is None
        else heating_scheme(job, survey, arrangement.ratios, of, x, arrangement.barred)
        for arrangement, of in zip(found, curves, strict=True)
    ]
    return _Prepared(x, setup, tuple(found), tuple(schemes))


def _table(
    job: Job, ready: _Prepared, movement_factor: MovementFactor, runs: Forecast
) -> tuple[Alternative, ...]:
    """Rows of the alternatives, as laid first."""
    return tuple(
        compared(
            job, arrangement, scheme, movement_factor, runs if number == 0 else None
        )
        for number, (arrangement, scheme) in enumerate(
            zip(ready.arrangements, ready.schemes, strict=True)
        )
    )


def _empty_scheme() -> HeatingScheme:
    """Scheme of a member that needs no heat."""
    none = np.zeros((0, 0))
    return HeatingScheme(np.zeros(0), (), np.zeros(0), none, (), none, ())


Lines = dict[Plane, FloatArray]


def _lines_before_and_after(
    survey: SurveyResult, cards: Sequence[HeatCard], x: FloatArray
) -> tuple[Lines, Lines, Lines, Lines]:
    """Lines and bands before all heats, and after them."""
    line: Lines = {}
    band: Lines = {}
    for plane, shape in survey.shapes.items():
        line[plane] = frozen(surveyed_line(survey, plane, x))
        band[plane] = frozen(np.interp(x, shape.x, shape.band))
    after, wide = dict(line), dict(band)
    for card in cards:
        after[card.plane], wide[card.plane] = card.line_after, card.band_after
    return line, band, after, wide

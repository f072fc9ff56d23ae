"""The plan of heats for a measured member: where, how large, how many, when to stop.

bends, tolerance -> ways to lie -> movements from the model -> cards, range, table
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
from shrinksim.member.plan.alternatives import Option, compared, curves_of, options
from shrinksim.member.plan.cards import cards_of
from shrinksim.member.plan.cautions import plan_cautions
from shrinksim.member.plan.forecast import Forecast, forecast
from shrinksim.member.plan.input_hash import input_hash
from shrinksim.member.plan.next_heat import Belief, Way
from shrinksim.member.plan.prior import first_belief
from shrinksim.member.plan.records import Alternative, HeatCard, Plan
from shrinksim.member.plan.response import Progress
from shrinksim.member.plan.sentences import stop_rule
from shrinksim.member.plan.targets import line_of, sites_of, way_of
from shrinksim.member.setup.setup import Lay, lay, rigging_of
from shrinksim.member.survey.survey import Surveyed, judged

STATIONS = 241
"""Stations along the member at which its line is told."""

NO_RUNS = Forecast(0.0, 0, 0, 1.0, 0.0, 0.0, None)
HELD = replace(NO_RUNS, chance=0.0)


@dataclass(frozen=True)
class _Ready:
    """A job made ready: how it lies, the ways to do it, as laid first.

    x : (k,) m.  ways : None where an option cannot be.
    """

    x: FloatArray
    laid: Lay
    options: tuple[Option, ...]
    ways: tuple[Way | None, ...]

    @property
    def way(self) -> Way:
        """The way as laid; without bends where the member needs no heat."""
        return (self.ways[0] if self.ways else None) or _nothing()


def make_plan(
    job: Job,
    survey: Surveyed,
    *,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
    belief: Belief | None = None,
    alone: bool = False,
) -> Plan:
    """The plan for a job as surveyed.

    store : folder of finished runs.  jobs : processes, None one for each processor.
    belief : the factor on movements as learnt from heats given; None before any.
    alone : as laid only, without the other ways.  CaseError where the job cannot be
    planned.
    """
    began = time.perf_counter()
    ready = _ready(job, survey, store, jobs, progress, alone)
    way, x = ready.way, ready.x
    belief = belief or first_belief(job)
    cards = cards_of(job, way, ready.laid, survey.bends, x, belief)
    none = HELD if survey.hold else NO_RUNS
    runs = forecast(way, belief, job.heats.most) if way.sites else none
    line, band, after, wide = _ends(survey, cards, x)
    cautions = plan_cautions(job, survey, ready.laid, way, cards, belief)
    return Plan(
        job.title, frozen(x), line, band, after, wide, cards,
        min(runs.least, len(cards)) if cards else 0,
        max(runs.most, len(cards)) if cards else 0,
        runs.chance, survey.verdicts, judged(job, after, wide),
        (*survey.hold, *stop_rule(job, way, cards, belief)),
        _table(job, ready, belief, runs),
        tuple(dict.fromkeys(cautions)), job.heats.estimate,
        sum(c.heating_time + c.cooling_time for c in cards) / 3600.0,
        sum(c.gas for c in cards), time.perf_counter() - began,
        input_hash(job, survey.given), belief.mean,
    )  # fmt: skip


def next_heat(
    job: Job,
    survey: Surveyed,
    *,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
    belief: Belief | None = None,
) -> HeatCard | None:
    """The card of the next heat alone, as laid; None when it is time to stop."""
    ready = _ready(job, survey, store, jobs, progress, True)
    belief = belief or first_belief(job)
    one = job.model_copy(update={"heats": job.heats.model_copy(update={"most": 1})})
    cards = cards_of(one, ready.way, ready.laid, survey.bends, ready.x, belief)
    return cards[0] if cards else None


def _ready(
    job: Job,
    survey: Surveyed,
    store: Path,
    jobs: int | None,
    progress: Progress | None,
    alone: bool,
) -> _Ready:
    """Lay the member down and get the movements; ``alone`` : as laid only.

    A member that is held back gets none.
    """
    if faults := supports_missing(list(enumerate(job.supports))):
        raise CaseError(faults)
    x = np.linspace(0.0, job.member.length, STATIONS)
    sites = [] if survey.hold else sites_of(job, survey, x)
    laid = lay(rigging_of(job), survey.bends, [site.place for site in sites])
    found = list(options(job, laid, survey.bends, sites)) if sites else []
    found = found[:1] if alone else found
    curves = curves_of(job, found, sites, store, jobs, progress)
    ways = [
        None
        if option.ratios is None
        else way_of(job, survey, option.ratios, of, x, option.barred)
        for option, of in zip(found, curves, strict=True)
    ]
    return _Ready(x, laid, tuple(found), tuple(ways))


def _table(
    job: Job, ready: _Ready, belief: Belief, runs: Forecast
) -> tuple[Alternative, ...]:
    """The options beside one another, as laid first."""
    return tuple(
        compared(job, option, way, belief, runs if number == 0 else None)
        for number, (option, way) in enumerate(
            zip(ready.options, ready.ways, strict=True)
        )
    )


def _nothing() -> Way:
    """The way of a member that needs no heat."""
    none = np.zeros((0, 0))
    return Way(np.zeros(0), (), np.zeros(0), none, (), none, ())


Lines = dict[Plane, FloatArray]


def _ends(
    survey: Surveyed, cards: Sequence[HeatCard], x: FloatArray
) -> tuple[Lines, Lines, Lines, Lines]:
    """Lines and bands before all heats, and after them."""
    line: Lines = {}
    band: Lines = {}
    for plane, shape in survey.shapes.items():
        line[plane] = frozen(line_of(survey, plane, x))
        band[plane] = frozen(np.interp(x, shape.x, shape.band))
    after, wide = dict(line), dict(band)
    for card in cards:
        after[card.plane], wide[card.plane] = card.line_after, card.band_after
    return line, band, after, wide

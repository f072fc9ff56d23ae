"""Update a survey with logged heats that are newer than its readings.

A heat at a makes a kink there.  Where it was read finely enough the kink is what the
readings tell, else what was expected of it; both with their error.  The line gets the
kink where the heat was; for the plan it is taken off the bend that it was to straighten.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job
from shrinksim.member.line import SIDES, Bend, Plane, offsets
from shrinksim.member.log.diagnosis import checks_before_next_heat, findings_in_words
from shrinksim.member.log.learn import Findings, measured_turn
from shrinksim.member.log.log import Log, LoggedHeat, heat_numbers
from shrinksim.member.plan.next_heat import MovementFactor, factor_from_log
from shrinksim.member.plan.prior import prior_factor
from shrinksim.member.survey.shape import Shape
from shrinksim.member.survey.survey import SurveyResult, verdicts_on

REACH = 0.2
"""Of the length: a heat further from every bend of its side makes one of its own."""

READ_AGAIN = (
    "read the whole line again, cold, enter the new readings in the job, and write "
    "after_heat = {last} in its [survey]"
)


@dataclass(frozen=True)
class HeatTurn:
    """A heat's turn, rad, + takes the bend off; sigma : its standard deviation.

    read : from readings, else as expected.
    """

    heat: LoggedHeat
    turn: float
    sigma: float
    read: bool

    @property
    def sense(self) -> float:
        """+1 where it takes off turns that are +."""
        return 1.0 if self.heat.side == SIDES[self.heat.plane][0] else -1.0


def with_logged_heats(
    job: Job, survey: SurveyResult, log: Log, findings: Findings
) -> SurveyResult:
    """Update the survey with the log's heats; CaseError where they do not fit."""
    _refuse(job, log)
    newer = [h for h in log.heats if h.number > job.survey.after_heat]
    newer = [h for h in newer if h.plane in survey.shapes]
    movement_factor = (
        factor_from_log(findings.factor) if findings.heats else prior_factor(job)
    )
    found = [(heat, heat_turn(job, heat, movement_factor)) for heat in newer]
    known = [t for _, t in found if t is not None]
    unknown = [heat for heat, t in found if t is None]
    shapes: dict[Plane, Shape] = dict(survey.shapes)
    for plane, shape in survey.shapes.items():
        if own := [t for t in known if t.heat.plane == plane]:
            shapes[plane] = straightened(shape, own)
    line: dict[Plane, FloatArray] = {p: shape.line for p, shape in shapes.items()}
    band: dict[Plane, FloatArray] = {p: shape.band for p, shape in shapes.items()}
    last = log.next_number - 1
    log_remarks = (
        (*findings_in_words(findings), *checks_before_next_heat(findings))
        if log.heats
        else ()
    )
    return replace(
        survey,
        shapes=shapes,
        verdicts=verdicts_on(job, line, band) if known else survey.verdicts,
        heated=tuple((h.side, h.at) for h in log.heats),
        logged=log.heats,
        hold=tuple(_held(job, findings, unknown, last)),
        stale=(_stale(known, last),) if known else (),
        log_remarks=(*log.faults, *log_remarks),
    )


def _refuse(job: Job, log: Log) -> None:
    """CaseError when the readings are from after heats that the log does not hold."""
    after, last = job.survey.after_heat, log.next_number - 1
    if after > last:
        holds = f"holds heats up to {last}" if last else "holds no heat"
        message = (
            f"survey.after_heat = {after}: {log.path.name} {holds}; write the number of "
            "the last heat before the readings, as in the log, 0 for none"
        )
        raise CaseError(message)


def heat_turn(
    job: Job, heat: LoggedHeat, movement_factor: MovementFactor
) -> HeatTurn | None:
    """Turn of a heat, as read or as expected; None where neither is known."""
    survey = job.survey
    read = measured_turn(
        heat, job.member.length, survey.reading_error, survey.inverted_planes
    )
    if heat.expected is None or not heat.factor > 0.0:
        return None if read is None else HeatTurn(heat, *read, True)
    plain = heat.expected / heat.factor
    sigma = movement_factor.sigma_of(abs(plain))
    if read is not None and read[1] <= sigma:
        return HeatTurn(heat, *read, True)
    return HeatTurn(heat, movement_factor.mean * plain, sigma, False)


def straightened(shape: Shape, heats: Sequence[HeatTurn]) -> Shape:
    """Fitted line after the heats in its plane.

    Errors of read turns are independent, those of expected turns common.
    """
    x, length = np.asarray(shape.x), shape.length
    bends = list(shape.bends)
    into = [_bend_for(shape, t) for t in heats]
    for i, t in enumerate(heats):
        if into[i] is None:
            into[i] = len(bends)
            bends.append(Bend(t.heat.at, 0.0))
    wide = len(bends) - len(shape.bends)
    C = np.pad(np.asarray(shape.covariance), (0, wide))
    line, single = np.array(shape.line), np.zeros_like(x)
    common, together = np.zeros_like(x), np.zeros(len(bends))
    for b, t in zip(into, heats, strict=True):
        assert b is not None
        unit = t.sense * offsets([Bend(t.heat.at, 1.0)], x, length)
        line -= t.turn * unit
        bends[b] = replace(bends[b], turn=bends[b].turn - t.sense * t.turn)
        if t.read:
            single += (t.sigma * unit) ** 2
            C[b, b] += t.sigma**2
        else:
            common += t.sigma * unit
            together[b] += t.sense * t.sigma
    C += np.outer(together, together)
    at_sigma = np.pad(np.asarray(shape.at_sigma), (0, wide))
    keep = [i for i in np.argsort([b.at for b in bends]) if abs(bends[i].turn) > 1e-9]
    turned = sum(t.sense * t.turn for t in heats)
    doubt = np.sqrt(sum(t.sigma**2 for t in heats if t.read) + together.sum() ** 2)
    return replace(
        shape,
        bends=tuple(replace(bends[i], sigma=float(np.sqrt(C[i, i]))) for i in keep),
        covariance=frozen(C[np.ix_(keep, keep)]),
        at_sigma=frozen(at_sigma[keep]),
        line=frozen(line),
        band=frozen(np.sqrt(np.asarray(shape.band) ** 2 + single + common**2)),
        total=shape.total - turned,
        total_sigma=float(np.hypot(shape.total_sigma, doubt)),
    )


def _bend_for(shape: Shape, heat: HeatTurn) -> int | None:
    """The bend that a heat was to straighten: the nearest one of its side."""
    gaps = {
        i: max(abs(bend.at - heat.heat.at) - 0.5 * bend.length, 0.0)
        for i, bend in enumerate(shape.bends)
        if bend.turn * heat.sense > 0.0
    }
    near = min(gaps, key=lambda i: gaps[i], default=None)
    return near if near is not None and gaps[near] <= REACH * shape.length else None


def _held(
    job: Job, findings: Findings, unknown: Sequence[LoggedHeat], last: int
) -> Iterator[str]:
    """Reasons why no heat may be given now."""
    after = job.survey.after_heat
    wrong = [h.number for h in findings.heats if h.backwards and h.number > after]
    if findings.diagnosis == "backwards" and wrong:
        named = "heat " + " and ".join(map(str, wrong))
        yield (
            f"No heat is planned: {named} went backwards. Find out why first (what to "
            "check stands below). Then strike the heat from the log if it was logged "
            f"wrongly (shrinksim log JOB --strike {wrong[-1]} --note WHY), or "
            f"{READ_AGAIN.format(last=last)}."
        )
    if unknown:
        yield (
            f"No heat is planned: {heat_numbers(unknown)} came after the job's readings, "
            "with no plan and no readings, so nobody knows what the line is now: "
            f"{READ_AGAIN.format(last=last)}."
        )


def _stale(known: Sequence[HeatTurn], last: int) -> str:
    """That the job's readings are older than heats in the log, and what was done."""
    read = [t.heat for t in known if t.read]
    unread = [t.heat for t in known if not t.read]
    how = [f"as read after {heat_numbers(read)}"] if read else []
    if unread:
        what = "was" if len(unread) == 1 else "were"
        how.append(
            f"only as expected of {heat_numbers(unread)}, which {what} not read finely "
            "enough"
        )
    return (
        f"The job's readings are from before {heat_numbers([t.heat for t in known])}. This "
        f"plan goes by those readings with the turns taken off: {', and '.join(how)}. "
        f"That is no survey: {READ_AGAIN.format(last=last)}."
    )

"""Fit the line of a member in one plane to its readings.

The line is taken as straight pieces with bends between: kinks, curves spread over a
length, or one bow from end to end (mill camber).  Beside them the string or laser line
has a height and a slope of its own, as its end blocks are read with the same error.  How
many bends there are is decided by what they save: each must lower the misfit (squared,
in reading errors) by more than noise would in a survey of a straight member, see
`trial_line`.  Bends nearer to one another than two readings come out as one.

The uncertainty is given by two numbers: ``sigma`` of each turn, and ``band``,
one standard deviation of the line (`fit_uncertainty`).  True bends are within one sigma
in two of three surveys, within two in nineteen of twenty.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc
from threadpoolctl import threadpool_limits

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, Plane
from shrinksim.member.survey.bend_search import search_lines
from shrinksim.member.survey.readings import Readings
from shrinksim.member.survey.trial_line import (
    MOST_BENDS,
    FitData,
    Term,
    TrialLine,
    fit_data,
    parameter_count,
)
from shrinksim.member.survey.uncertainty import FitUncertainty, fit_uncertainty
from shrinksim.units.tape import offset, place
from shrinksim.views.caution import Caution

FINE = 480
"""Intervals of the stations at which the line is given."""

ODD = 1e-3
"""Chance under which a misfit is not put down to luck."""

CROWDED = 0.2
"""Bends for each reading, from which on they may be scatter taken for bends."""

FEW = 5
"""Readings, under which a kink and a bow can hardly be told from one another."""

SPAN_SHARE = 0.9
"""Of the member, that readings should cover."""


@dataclass(frozen=True)
class SpliceStep:
    """A step of the line at a splice: m, + when the piece beyond stands higher."""

    at: float
    height: float
    sigma: float


@dataclass(frozen=True)
class Shape:
    """Fitted line of one plane.

    bends : in order of station; sigma of a turn holds the readings' error and what
    other descriptions of the same readings would say.  covariance (b, b) rad2 of their
    turns; at_sigma (b,) m, of their stations.  x (k,) m: even stations from end to end.
    line, band (k,) m: offsets from the end chord and one standard deviation of them.
    total, total_sigma : rad, turn from end to end.  residual : m, rms of readings less
    fit, those left out not counted.
    reading_error : m, the one that the fit went by: as stated, or the scatter where
    that is more.  misread (m,) m: stations of readings left out.
    """

    plane: Plane
    length: float
    bends: tuple[Bend, ...]
    covariance: FloatArray
    at_sigma: FloatArray
    x: FloatArray
    line: FloatArray
    band: FloatArray
    total: float
    total_sigma: float
    residual: float
    reading_error: float
    steps: tuple[SpliceStep, ...] = ()
    misread: tuple[float, ...] = ()
    cautions: tuple[Caution, ...] = ()

    @property
    def needed(self) -> FloatArray:
        """Turns (b,) rad that would straighten it, each at its bend."""
        return -np.array([bend.turn for bend in self.bends])


def fit_shape(
    readings: Readings,
    length: float,
    splices: Sequence[float] = (),
    units: str = "metric",
) -> Shape:
    """Fit the line of one plane to its readings.

    length : m of the member.  splices : (p,) m, stations where pieces are joined and the
    line may have a step; a reading at a splice belongs to the piece before it.
    """
    x, offsets = readings.x, readings.offset
    splices = sorted(splices)
    _splices_read(x, splices, units)
    fine = np.linspace(0.0, length, FINE + 1)
    with threadpool_limits(limits=1, user_api="blas"):
        data = fit_data(x, offsets, readings.error, length, splices)
        trials = search_lines(data)
        scatter = _scatter(x, offsets, splices)
        loose = scatter > (1.0 + 5.0 / np.sqrt(len(x))) * readings.error
        if loose and _strained(data, trials[-1]):
            data = fit_data(x, offsets, scatter, length, splices)
            trials = search_lines(data)
        known = fit_uncertainty(data, trials, fine)
    best = trials[-1]
    odds, error = _odds(data, best), data.error
    if odds < ODD:
        error *= float(np.sqrt(best.misfit / _spare(data, best)))
    grown = error / data.error
    cautions = _cautions(readings, best, error, 1.0 - odds < ODD, length, units)
    return _shape(readings, length, data, best, known, grown, fine, cautions)


def _shape(
    readings: Readings,
    length: float,
    data: FitData,
    best: TrialLine,
    known: FitUncertainty,
    grown: float,
    x: FloatArray,
    cautions: tuple[Caution, ...],
) -> Shape:
    """The record; ``grown`` multiplies every standard deviation."""
    turns = [i for i, term in enumerate(best.terms) if term.kind != "misread"]
    covariance = grown**2 * known.covariance[np.ix_(turns, turns)]
    sigma = np.sqrt(np.diag(covariance))
    bends = tuple(
        Bend(float(t.at), float(best.size[i]), float(t.length), float(s))
        for i, t, s in zip(turns, (best.terms[i] for i in turns), sigma, strict=True)
    )
    misread = tuple(float(term.at) for term in best.terms if term.kind == "misread")
    kept = len(readings.x) - len(misread)
    steps = zip(data.splices, known.step, grown * known.step_sigma, strict=True)
    return Shape(
        plane=readings.plane,
        length=length,
        bends=bends,
        covariance=frozen(covariance),
        at_sigma=frozen(grown * known.at_sigma[turns]),
        x=frozen(x),
        line=frozen(known.line),
        band=frozen(grown * known.band),
        total=sum(bend.turn for bend in bends),
        total_sigma=grown * known.total_sigma,
        residual=float(np.sqrt(best.misfit / kept)) * data.error,
        reading_error=grown * data.error,
        steps=tuple(SpliceStep(at, float(height), float(s)) for at, height, s in steps),
        misread=misread,
        cautions=cautions,
    )


def _splices_read(x: FloatArray, splices: Sequence[float], units: str) -> None:
    """CaseError when a splice lacks two readings on each side up to the next one."""
    edges = [-np.inf, *splices, np.inf]
    faults = [
        f"the splice at {place(splices[i], units)}: fewer than two readings on the "
        f"piece {'before' if side == 0 else 'beyond'} it; take two or more there, or "
        "leave the splice out"
        for i in range(len(splices))
        for side in (0, 1)
        if np.sum((x > edges[i + side] + 1e-9) & (x <= edges[i + side + 1] + 1e-9)) < 2
    ]
    if faults:
        raise CaseError(list(dict.fromkeys(faults)))


def _scatter(x: FloatArray, offset: FloatArray, splices: Sequence[float]) -> float:
    """Scatter (m) of readings about parabolas through four neighbours, by the median.

    Bends disturb a few fours only.  0 where there are too few readings to tell.
    """
    first = np.arange(len(x) - 3)
    whole = [not any(x[i] <= at < x[i + 3] for at in splices) for i in first]
    if sum(whole) < 6:
        return 0.0
    found = []
    for i in first[whole]:
        at = x[i : i + 4] - x[i]
        weight = [1.0 / np.prod(at[j] - np.delete(at, j)) for j in range(4)]
        found.append(abs(weight @ offset[i : i + 4]) / np.linalg.norm(weight))
    return float(np.median(found)) / 0.6745


def _strained(data: FitData, trial: TrialLine) -> bool:
    """Whether a line fits badly, or only with many bends for so few readings."""
    many = len(trial.terms) > max(2.0, CROWDED * len(data.x))
    return many or _odds(data, trial) < ODD


def _spare(data: FitData, trial: TrialLine) -> int:
    """Readings less the numbers taken from them."""
    used = 2 + len(data.splices) + sum(parameter_count(term) for term in trial.terms)
    return len(data.x) - used


def _odds(data: FitData, trial: TrialLine) -> float:
    """Chance of a misfit as large as this one, were the reading error as stated."""
    spare = _spare(data, trial)
    return float(gammaincc(0.5 * spare, 0.5 * trial.misfit)) if spare > 0 else 0.5


def _cautions(
    readings: Readings,
    best: TrialLine,
    error: float,
    neat: bool,
    length: float,
    units: str,
) -> tuple[Caution, ...]:
    """Cautions on the fit."""
    cautions = []
    stated = offset(readings.error, units)
    if error > readings.error:
        cautions.append(
            Caution(
                "scatter",
                f"The {readings.plane} readings scatter by {offset(error, units)}, more "
                f"than the {stated} that a reading is said to be good to; the larger is "
                "taken. Either the string was disturbed, or the member has more bends "
                "than so many readings show: read it again, closer.",
            )
        )
    elif neat:
        cautions.append(
            Caution(
                "neat",
                f"The {readings.plane} readings agree with one another far better than "
                f"{stated}: with a smaller reading_error more could be told.",
            )
        )
    cautions += [
        _misread(readings, term, size, units)
        for term, size in zip(best.terms, best.size, strict=True)
        if term.kind == "misread"
    ]
    return (*cautions, *_coverage(readings, best, length, units))


def _coverage(
    readings: Readings, best: TrialLine, length: float, units: str
) -> list[Caution]:
    """Cautions on few readings, unread ends, and more bends than can be fitted."""
    x, cautions = readings.x, []
    if x[-1] - x[0] < SPAN_SHARE * length:
        cautions.append(
            Caution(
                "unread ends",
                f"The {readings.plane} readings go from {place(x[0], units)} to "
                f"{place(x[-1], units)}; the rest of the member is taken as straight on "
                "from there.",
            )
        )
    if len(x) < FEW:
        cautions.append(
            Caution(
                "few readings",
                f"{len(x)} {readings.plane} readings tell that the member is bent, hardly "
                "where: a kink, which turns half as far as an even bow that stands off as "
                "much, looks the same. Read every metre or so, closer where it is bent.",
            )
        )
    cautions += _at_the_ends(readings, best, units)
    if len(best.terms) >= MOST_BENDS:
        cautions.append(
            Caution(
                "many bends",
                f"The line has {MOST_BENDS} bends or more; what is told is the best that "
                f"{MOST_BENDS} can do. Look at it piece by piece.",
            )
        )
    return cautions


def _misread(readings: Readings, term: Term, size: float, units: str) -> Caution:
    """A reading that was left out."""
    return Caution(
        "misread",
        f"The {readings.plane} reading at {place(term.at, units)} stands "
        f"{offset(abs(size), units)} {'above' if size > 0 else 'below'} what its "
        "neighbours say, and no bend explains it; it is left out. Read it again.",
    )


def _at_the_ends(readings: Readings, best: TrialLine, units: str) -> list[Caution]:
    """Bends that hang on the last reading."""
    x = readings.x
    ends = [
        (term, end)
        for term in best.terms
        for end, beyond in ((x[0], x < term.at - 1e-6), (x[-1], x > term.at + 1e-6))
        if term.kind == "bend" and term.length == 0.0 and beyond.sum() < 2
    ]
    return [
        Caution(
            "end bend",
            f"The bend at {place(term.at, units)} hangs on the reading at "
            f"{place(end, units)} alone: it may be anywhere between the last two "
            "readings, and a slip in that one reading would look the same. Take more "
            "readings there.",
        )
        for term, end in ends
    ]

"""Trial lines of a survey: terms, least squares, misfit and score.

A trial line is straight save for its terms: "bend" (a kink, or a curve spread evenly
over a length), "bow" (curved evenly from end to end), "splice" (a kink at a station
that is known) and "misread" (one reading that is left out).  Beside them every trial has
a height and a slope of the string line, and a step at each splice.  Its score is the
misfit, in squared reading errors, plus a price for each term; the lowest score wins.

Prices: noise alone, read along a straight member, lowers the misfit by the best bend by
more than 6 + ln k (k readings) in about one survey of fifty, likewise by the bow by more
than 5.5 (simulated for 4 to 60 readings).  So noise is rarely taken for a bend, and one
bend is not cut into several.  Bends do not overlap, but may lie on a bow.  Between
descriptions that fit alike the price goes up with large turns and with bends that turn
against the bow.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from shrinksim.arrays import FloatArray, IntArray

BoolArray = NDArray[np.bool_]

MOST_BENDS = 8
"""Of one line; a member with more needs a closer look at each."""

SPREADS = (0.0, 0.1, 0.2, 0.4, 0.7)
"""Lengths of bends that are tried, of the member's; then refined."""

FEWEST_FOR_MISREAD = 7
"""Readings, from which on a single bad one can be told from a bend."""

USUAL = {"bow": 0.05, "bend": 0.1, "splice": 0.1}
"""rad, turns that are nothing special; the limit of ASTM A6, L/960, is a bow of 8 mrad."""

AGAINST = 8.0
"""Price of a bend that turns against a bow."""


class Term(NamedTuple):
    """One feature of a trial line; at, length : m."""

    kind: Literal["bend", "bow", "splice", "misread"]
    at: float
    length: float = 0.0


@dataclass(frozen=True)
class FitData:
    """Readings to fit: stations x (k,) m, heights (k,) over the error of a reading.

    error : m.  splices : (p,) m, stations where pieces are joined.  base (k, 2 + p):
    orthonormal columns of the string's line and the steps at splices.
    """

    x: FloatArray
    height: FloatArray
    error: float
    length: float
    splices: tuple[float, ...]
    base: FloatArray


@dataclass(frozen=True)
class Candidates:
    """Candidate terms: their columns A (k, t) free of the base, normed.

    at, length (t,) m; bow, bent (t,): which is one, which no misread; cost, takes (t,):
    price, and numbers that it takes from the readings.
    """

    terms: tuple[Term, ...]
    A: FloatArray
    at: FloatArray
    length: FloatArray
    bow: BoolArray
    bent: BoolArray
    cost: FloatArray
    takes: IntArray


@dataclass(frozen=True)
class TrialLine:
    """A fitted trial line: terms in order of station, size (b,) of each (rad; misread m).

    misfit : sum of squared residuals over the reading error's.
    """

    terms: tuple[Term, ...]
    size: FloatArray
    misfit: float
    score: float


def fit_data(
    x: FloatArray,
    offset: FloatArray,
    error: float,
    length: float,
    splices: Sequence[float] = (),
) -> FitData:
    """The survey of offsets (k,) m at stations x (k,) m, good to ``error`` m."""
    base = np.linalg.qr(string_columns(x, length, splices))[0]
    return FitData(x, offset / error, error, length, tuple(splices), base)


def string_columns(
    x: FloatArray, length: float, splices: Sequence[float]
) -> FloatArray:
    """Columns (k, 2 + p): height and slope of the string's line, steps at splices."""
    parts = [np.ones_like(x), x / length]
    parts += [(x > at + 1e-9).astype(float) for at in splices]
    return np.stack(parts, axis=1)


def term_shapes(x: FloatArray, terms: Sequence[Term]) -> FloatArray:
    """Offsets (k, b) m by turns of 1 rad, the line before each being the axis."""
    at = np.array([term.at for term in terms])
    length = np.array([max(term.length, 1e-9) for term in terms])
    from_start = x[:, None] - at + 0.5 * length
    inside = np.minimum(np.maximum(from_start, 0.0), length)
    found = -(0.5 * inside**2 / length + np.maximum(from_start - length, 0.0))
    for i, term in enumerate(terms):
        if term.kind == "misread":
            found[:, i] = np.abs(x - term.at) < 1e-9
    return found


def term_columns(data: FitData, terms: Sequence[Term]) -> FloatArray:
    """The terms' columns (k, b) over the reading error, free of the base."""
    A = term_shapes(data.x, terms) / data.error
    return A - data.base @ (data.base.T @ A)


def price(term: Term, readings: int) -> float:
    """Price of a term in the score."""
    match term.kind:
        case "bow":
            return 5.5
        case "splice":
            return 4.0
        case "misread":
            return 9.0 + 2.0 * math.log(readings)
        case _:
            return 6.0 + math.log(readings) + (2.0 if term.length > 0.0 else 0.0)


def parameter_count(term: Term) -> int:
    """Number of fitted parameters of a term: turn, station, length."""
    return 1 + (term.kind == "bend") * (1 + (term.length > 0.0))


def fit_terms(data: FitData, terms: Iterable[Term]) -> TrialLine:
    """The trial line with these terms, its sizes by least squares."""
    ordered = tuple(sorted(terms, key=lambda term: (term.at, term.length)))
    if not ordered:
        rest = data.height - data.base @ (data.base.T @ data.height)
        return TrialLine((), np.zeros(0), float(rest @ rest), float(rest @ rest))
    A = term_columns(data, ordered)
    size, rest = _least_squares(A, data.height)
    rest = rest - data.base @ (data.base.T @ rest)
    misfit = float(rest @ rest)
    return TrialLine(ordered, size, misfit, misfit + _cost(data, ordered, size))


def _least_squares(A: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sizes and residuals; normal equations of normed columns, a little held."""
    norm = np.sqrt(np.einsum("ij,ij->j", A, A)) + 1e-30
    N = A / norm
    size = np.linalg.solve(N.T @ N + 1e-12 * np.eye(len(norm)), N.T @ y)
    return size / norm, y - N @ size


def _cost(data: FitData, terms: Sequence[Term], size: FloatArray) -> float:
    """Prices of the terms, of large turns, of bends against a bow; inf for overlaps."""
    total = sum(price(term, len(data.x)) for term in terms)
    for term, turn in zip(terms, size, strict=True):
        total += (turn / USUAL.get(term.kind, math.inf)) ** 2
    for (s, a), (t, b) in combinations(zip(terms, size, strict=True), 2):
        if overlap(s, t):
            on_bow = "bow" in {s.kind, t.kind}
            total += AGAINST * (a * b < 0.0) if on_bow else math.inf
    return total


def overlap(one: Term, two: Term) -> bool:
    """Whether two bends lie over one another."""
    reach = 0.5 * (one.length + two.length)
    return "misread" not in {one.kind, two.kind} and abs(one.at - two.at) < reach


def station_range(data: FitData, term: Term) -> tuple[float, float] | None:
    """Stations (m) that a bend may have; None where none can be resolved.

    Two readings of the same piece lie on each side of it; nearer to the end of a piece
    it would look like a slip in a reading, or like a step at a splice.
    """
    x, half = data.x, 0.5 * term.length
    low, high = max(x[1], half), min(x[-2], data.length - half)
    for at in data.splices:
        before, beyond = x[x <= at + 1e-9][-2], x[x > at + 1e-9][1]
        if term.at <= at:
            high = min(high, before)
        else:
            low = max(low, beyond)
    return (low, high) if low <= high + 1e-12 else None


def candidate_terms(data: FitData) -> Candidates:
    """Bends at and between readings, the bow, splices, misreads."""
    terms = _all_terms(data)
    A = term_columns(data, terms)
    whole = np.linalg.norm(term_shapes(data.x, terms), axis=0) / data.error
    norm = np.linalg.norm(A, axis=0)
    distinct = norm > 1e-6 * whole
    terms = [term for term, can in zip(terms, distinct, strict=True) if can]
    return _candidates(data, terms, A[:, distinct] / norm[distinct])


def selected(data: FitData, candidates: Candidates, keep: BoolArray) -> Candidates:
    """The terms (t,) of the pool that are kept."""
    terms = [term for term, kept in zip(candidates.terms, keep, strict=True) if kept]
    return _candidates(data, terms, candidates.A[:, keep])


def _candidates(data: FitData, terms: Sequence[Term], A: FloatArray) -> Candidates:
    """The pool of some terms with their columns."""
    return Candidates(
        terms=tuple(terms),
        A=A,
        at=np.array([term.at for term in terms]),
        length=np.array([term.length for term in terms]),
        bow=np.array([term.kind == "bow" for term in terms], dtype=bool),
        bent=np.array([term.kind != "misread" for term in terms], dtype=bool),
        cost=np.array([price(term, len(data.x)) for term in terms]),
        takes=np.array([parameter_count(term) for term in terms], dtype=int),
    )


def clear_of(candidates: Candidates, terms: Sequence[Term]) -> BoolArray:
    """Which of the pool (t,) overlap none of the terms; a bow may."""
    free = np.ones(len(candidates.at), dtype=bool)
    for term in terms:
        if term.kind in {"bend", "splice"}:
            free &= np.abs(candidates.at - term.at) >= 0.5 * (
                candidates.length + term.length
            )
    return free | candidates.bow | ~candidates.bent


def clashes(candidates: Candidates, of: IntArray) -> BoolArray:
    """Which two of the pool's entries ``of`` (u,) overlap (u, u); a bow may."""
    at, length, alone = (
        candidates.at[of],
        candidates.length[of],
        candidates.bow[of] | ~candidates.bent[of],
    )
    over = np.abs(at[:, None] - at) < 0.5 * (length[:, None] + length)
    return over & ~alone & ~alone[:, None]


def _all_terms(data: FitData) -> list[Term]:
    """The terms that are tried; spread bends at the readings only."""
    x, gap = data.x, float(np.median(np.diff(data.x)))
    halves = np.interp(np.arange(0.0, len(x) - 0.75, 0.5), np.arange(len(x)), x)
    found = [Term("bow", 0.5 * data.length, data.length)]
    found += [Term("splice", at) for at in data.splices]
    if len(x) >= FEWEST_FOR_MISREAD:
        found += [Term("misread", float(at)) for at in x[1:-1]]
    for share in SPREADS:
        spread = share * data.length
        if len(x) < 4 or 0.0 < spread < 1.5 * gap:
            continue
        for at in x if spread > 0.0 else halves:
            term = Term("bend", float(at), spread)
            inside = station_range(data, term)
            if inside and inside[0] <= at <= inside[1]:
                found.append(term)
    return found

"""A formula that is no longer than the data ask for, fitted by weighted least squares.

turn = scale x bend(sum of coefficient x term).  The bend is straight, or rounded off
towards zero where heats come out small and never backward (softplus, Dugas et al., NIPS
2000).  Terms are added one at a time, each time the one that helps most; how many, is
decided by k-fold cross-validation in which every fold adds its own, and by the
one-standard-error rule: the fewest whose error is within one standard error of the least
(Hastie, Tibshirani & Friedman, The Elements of Statistical Learning, 2009, 7.10).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shrinksim.arrays import FloatArray, IntArray

Bend = Literal["straight", "rounded"]
BENDS: tuple[Bend, ...] = ("straight", "rounded")

ROUND = 0.3
"""Of the rounded bend, 0.3 ln(1 + exp(x / 0.3)): x itself from about 1 on."""

FOLDS, REPEATS, DRAWS = 10, 5, 1000
TRIED = 4
"""Terms, the most promising by their gradient, that are tried for each further one."""

FLOOR, SHARE = 0.3, 0.1
"""Weights until the scatter is known: an error of so much of the median turn, and of the
turn itself."""

LEAST = 0.02
"""Of the median turn: the least absolute scatter, that of the numbers themselves."""


@dataclass(frozen=True)
class Rows:
    """What is fitted: columns (n, p) of terms, scale, turn and weight (n,), 1 / sigma."""

    columns: FloatArray
    scale: FloatArray
    turn: FloatArray
    weight: FloatArray

    def some(self, which: IntArray) -> Rows:
        """Some of the rows."""
        return Rows(
            self.columns[which], self.scale[which], self.turn[which], self.weight[which]
        )

    def terms(self, which: Sequence[int]) -> Rows:
        """Some of the columns."""
        return Rows(self.columns[:, list(which)], self.scale, self.turn, self.weight)


@dataclass(frozen=True)
class Scatter:
    """Standard deviation of the data about a formula: hypot(absolute, relative x turn).

    absolute : in the unit of the turn.
    """

    absolute: float
    relative: float

    def sigma(self, turn: FloatArray | float) -> FloatArray:
        """Standard deviation where the formula gives ``turn``."""
        return np.hypot(self.absolute, self.relative * np.asarray(turn, float))


@dataclass(frozen=True)
class Choice:
    """How many terms, and why.

    order : numbers of the terms as they were added to all data.  errors, spreads :
    (steps,) cross-validated mean square over its expected size, and its standard error.
    taken : how many terms.
    """

    order: tuple[int, ...]
    errors: FloatArray
    spreads: FloatArray
    taken: int
    begin: int

    @property
    def error(self) -> float:
        """Of the terms taken."""
        return float(self.errors[self.taken - self.begin])


@dataclass(frozen=True)
class Fit:
    """A fitted formula.

    coefficients, low, high : (p,), with 95 % limits.  residuals, apart : (n,) data less
    formula, and less a formula that was fitted without them.  covariance : (p, p).
    """

    coefficients: FloatArray
    low: FloatArray
    high: FloatArray
    scatter: Scatter
    residuals: FloatArray
    apart: FloatArray
    covariance: FloatArray


def bent(bend: Bend, x: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The bend's value and slope at x."""
    if bend == "straight":
        return x, np.ones_like(x)
    return ROUND * np.logaddexp(0.0, x / ROUND), 0.5 * (1.0 + np.tanh(0.5 * x / ROUND))


def told(rows: Rows, bend: Bend, found: FloatArray) -> FloatArray:
    """Turns (n,) by the formula."""
    return rows.scale * bent(bend, rows.columns @ found)[0]


def solve(rows: Rows, bend: Bend, start: FloatArray | None = None) -> FloatArray:
    """Coefficients (p,); rounded: by Levenberg and Marquardt from ``start``."""
    factor = rows.scale * rows.weight
    wanted = rows.turn * rows.weight
    straight = np.linalg.lstsq(rows.columns * factor[:, None], wanted, rcond=None)[0]
    if bend == "straight":
        return straight
    found = straight if start is None else start
    damp, square = 1e-3, _square(rows, bend, found)
    for _ in range(60):
        value, slope = bent(bend, rows.columns @ found)
        slopes = rows.columns * (factor * slope)[:, None]
        normal = slopes.T @ slopes
        heavier = normal + damp * np.diag(np.diag(normal) + 1e-9)
        step = np.linalg.solve(heavier, slopes.T @ (wanted - factor * value))
        tried = _square(rows, bend, found + step)
        if tried > square:
            damp *= 8.0
            if damp > 1e8:
                break
            continue
        gained, found, square = square - tried, found + step, tried
        damp = max(damp / 8.0, 1e-10)
        if gained <= 1e-9 * square:
            break
    return found


def _square(rows: Rows, bend: Bend, found: FloatArray) -> float:
    """Weighted sum of squares that is left."""
    return float(np.sum((rows.weight * (rows.turn - told(rows, bend, found))) ** 2))


def slopes_of(rows: Rows, bend: Bend, found: FloatArray) -> FloatArray:
    """Weighted slopes (n, p) of the formula in its coefficients."""
    slope = bent(bend, rows.columns @ found)[1]
    return rows.columns * (rows.scale * rows.weight * slope)[:, None]


def path(rows: Rows, bend: Bend, begin: int, most: int) -> list[tuple[int, FloatArray]]:
    """(number of the term, coefficients with it), as they help; the first stay.

    The entry before the first added one has the last of the ``begin`` that stay.
    """
    order = list(range(begin))
    found = solve(rows.terms(order), bend)
    steps = [(begin - 1, found)]
    while len(order) < min(most, rows.columns.shape[1]):
        first = _promising(rows, bend, order, found)
        tries = []
        for k in first:
            more = rows.terms([*order, k])
            one = solve(more, bend, np.append(found, 0.0))
            tries.append((_square(more, bend, one), k, one))
        _, k, found = min(tries, key=lambda entry: entry[0])
        order.append(k)
        steps.append((k, found))
    return steps


def _promising(
    rows: Rows, bend: Bend, order: Sequence[int], found: FloatArray
) -> list[int]:
    """The terms that take most off the square to first order."""
    here = rows.terms(order)
    slope = bent(bend, here.columns @ found)[1]
    every = rows.columns * (rows.scale * rows.weight * slope)[:, None]
    q, _ = np.linalg.qr(every[:, list(order)])
    left = rows.weight * (rows.turn - told(here, bend, found))
    left = left - q @ (q.T @ left)
    free = every - q @ (q.T @ every)
    gain = (free.T @ left) ** 2 / np.maximum(np.sum(free**2, axis=0), 1e-12)
    gain[list(order)] = -1.0
    many = min(TRIED, rows.columns.shape[1] - len(order))
    return [int(k) for k in np.argsort(-gain)[:many]]


def choose(rows: Rows, bend: Bend, begin: int, most: int, seed: int = 0) -> Choice:
    """The number of terms; the first ``begin`` columns always stay.

    The cross-validation is repeated with other folds; errors and their spreads are means
    of all repeats.
    """
    most = min(most, rows.columns.shape[1])
    found = [
        _validated(rows, bend, begin, most, folds(len(rows.turn), FOLDS, n))
        for n in range(seed, seed + REPEATS)
    ]
    errors, spreads = (np.mean(part, axis=0) for part in zip(*found, strict=True))
    best = int(np.argmin(errors))
    taken = begin + int(np.flatnonzero(errors <= errors[best] + spreads[best])[0])
    added = [k for k, _ in path(rows, bend, begin, most)[1:]]
    return Choice((*range(begin), *added), errors, spreads, taken, begin)


def folds(count: int, many: int, seed: int) -> IntArray:
    """Which fold (n,) each of ``count`` data is in."""
    return np.random.default_rng(seed).permutation(count) % many


def _validated(
    rows: Rows, bend: Bend, begin: int, most: int, fold: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Cross-validated mean square and its standard error, (most - begin + 1,)."""
    squares = np.zeros((len(rows.turn), most - begin + 1))
    for k in range(FOLDS):
        out = np.flatnonzero(fold == k)
        others = rows.some(out)
        order = list(range(begin))
        for step, (term, found) in enumerate(
            path(rows.some(np.flatnonzero(fold != k)), bend, begin, most)
        ):
            order += [term] * bool(step)
            away = others.turn - told(others.terms(order), bend, found)
            squares[out, step] = (others.weight * away) ** 2
    by_fold = np.array([squares[fold == k].mean(axis=0) for k in range(FOLDS)])
    return squares.mean(axis=0), by_fold.std(axis=0, ddof=1) / np.sqrt(FOLDS)


def first_weight(turn: FloatArray, about: FloatArray) -> FloatArray:
    """1 / sigma (n,) before the scatter is known; about : (n,) a first idea of the turn."""
    typical = float(np.median(np.abs(turn)))
    return 1.0 / np.hypot(FLOOR * typical, SHARE * about)


def fitted(rows: Rows, bend: Bend, seed: int = 0) -> Fit:
    """Fit all columns, with the scatter found from data that were left out.

    Weights and scatter are found in turn; limits are percentiles of a bootstrap of the
    data (Efron & Tibshirani, An Introduction to the Bootstrap, 1993, ch. 13).
    """
    scatter = Scatter(0.0, 0.0)
    found = solve(rows, bend)
    for _ in range(4):
        scatter = scatter_of(left_out(rows, bend, found), told(rows, bend, found))
        weight = 1.0 / scatter.sigma(told(rows, bend, found))
        rows = Rows(rows.columns, rows.scale, rows.turn, weight)
        found = solve(rows, bend, found)
    chance, many = np.random.default_rng(seed), len(rows.turn)
    draws = [
        solve(rows.some(chance.integers(many, size=many)), bend, found)
        for _ in range(DRAWS)
    ]
    low, high = np.percentile(draws, (2.5, 97.5), axis=0)
    slopes = slopes_of(rows, bend, found)
    return Fit(
        found, low, high, scatter, rows.turn - told(rows, bend, found),
        left_out(rows, bend, found), np.linalg.inv(slopes.T @ slopes),
    )  # fmt: skip


def left_out(rows: Rows, bend: Bend, found: FloatArray) -> FloatArray:
    """(n,) each datum less a formula that was fitted to all the others.

    e / (1 - h), h being the datum's leverage (Cook & Weisberg 1982, 2.2); to first order
    for the rounded bend.
    """
    q, _ = np.linalg.qr(slopes_of(rows, bend, found))
    leverage = np.sum(q**2, axis=1)
    return (rows.turn - told(rows, bend, found)) / np.maximum(1.0 - leverage, 1e-6)


def scatter_of(residuals: FloatArray, turn: FloatArray) -> Scatter:
    """The two parts of a scatter, most likely for residuals (n,) at turns (n,)."""
    from scipy.optimize import minimize

    size = float(np.sqrt(np.mean(residuals**2))) or 1e-12

    def unlikely(logs: FloatArray) -> float:
        sigma = Scatter(*np.exp(logs)).sigma(turn)
        return float(np.sum(np.log(sigma) + 0.5 * (residuals / sigma) ** 2))

    least = LEAST * float(np.median(np.abs(turn)))
    start = np.log([0.7 * size, 0.7 * size / max(float(np.abs(turn).mean()), 1e-12)])
    found = minimize(unlikely, start, method="Nelder-Mead", options={"maxiter": 2000})
    absolute, relative = np.exp(found.x)
    return Scatter(max(float(absolute), least), float(relative))


def agreement(turn: FloatArray, residuals: FloatArray) -> float:
    """Share of the turns' variance that a formula explains."""
    return 1.0 - float(np.sum(residuals**2) / np.sum((turn - turn.mean()) ** 2))


def rms(residuals: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(residuals**2)))

"""Selection of terms: the best models of each size, and the number of terms.

How many, is decided by k-fold cross-validation in which every fold finds its own models,
and by the one-standard-error rule: the fewest whose error is within one standard error
of the least (Hastie, Tibshirani & Friedman, The Elements of Statistical Learning, 2009,
7.10).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.calibration.fit import (
    Bend,
    FitRows,
    bent,
    predicted,
    slopes_of,
    solve,
    square_of,
)

FOLDS, REPEATS = 10, 5
TRIED = 4
"""Terms, the most promising by their gradient, that are tried for each further one."""


@dataclass(frozen=True)
class TermChoice:
    """How many terms, and why.

    models : (sizes,) terms of the best model of each size for all data.  errors,
    spreads : (sizes,) cross-validated mean square over its expected size, and its
    standard error.  taken : number of the model that is taken.
    """

    models: tuple[tuple[int, ...], ...]
    errors: FloatArray
    spreads: FloatArray
    taken: int

    @property
    def terms(self) -> tuple[int, ...]:
        """Numbers of the terms taken."""
        return self.models[self.taken]

    @property
    def error(self) -> float:
        """Of the model taken."""
        return float(self.errors[self.taken])


@dataclass(frozen=True)
class Model:
    """Some of the terms, their coefficients, and the weighted square that is left."""

    terms: tuple[int, ...]
    found: FloatArray
    square: float


def path(rows: FitRows, bend: Bend, begin: int, most: int) -> list[Model]:
    """The best model found of each size, from ``begin`` terms, which always stay, on.

    The term that helps most is added; then one that has become idle goes, as long as
    that betters the smaller model (floating search: Pudil, Novovicova & Kittler, Pattern
    Recognition Letters 15, 1994).
    """
    first = tuple(range(begin))
    best = {begin: _model(rows, bend, first, solve(rows.terms(first), bend))}
    size = begin
    while size < min(most, rows.columns.shape[1]):
        here = _added(rows, bend, best[size])
        size += 1
        if size in best and best[size].square <= here.square:
            continue
        best[size] = here
        while size - 1 > begin:
            less = _dropped(rows, bend, here, begin)
            if less.square >= best[size - 1].square * (1.0 - 1e-6):
                break
            here, size = less, size - 1
            best[size] = here
    return [best[k] for k in sorted(best)]


def _model(
    rows: FitRows, bend: Bend, terms: tuple[int, ...], found: FloatArray
) -> Model:  # fmt: skip
    return Model(terms, found, square_of(rows.terms(terms), bend, found))


def _added(rows: FitRows, bend: Bend, here: Model) -> Model:
    """The model with one more term."""
    tries = []
    for k in _promising(rows, bend, here.terms, here.found):
        terms = (*here.terms, k)
        found = solve(rows.terms(terms), bend, np.append(here.found, 0.0))
        tries.append(_model(rows, bend, terms, found))
    return min(tries, key=lambda model: model.square)


def _dropped(rows: FitRows, bend: Bend, here: Model, begin: int) -> Model:
    """The model without the term, after the first, that it misses least.

    To first order that is the one whose coefficient is smallest for its error.
    """
    slopes = slopes_of(rows.terms(here.terms), bend, here.found)
    error = np.sqrt(np.diag(np.linalg.inv(slopes.T @ slopes)))
    size = np.abs(here.found / error)
    k = begin + int(np.argmin(size[begin:]))
    terms = (*here.terms[:k], *here.terms[k + 1 :])
    found = solve(rows.terms(terms), bend, np.delete(here.found, k))
    return _model(rows, bend, terms, found)


def _promising(
    rows: FitRows, bend: Bend, order: Sequence[int], found: FloatArray
) -> list[int]:
    """The terms that take most off the square to first order."""
    here = rows.terms(order)
    slope = bent(bend, here.columns @ found)[1]
    every = rows.columns * (rows.scale * rows.weight * slope)[:, None]
    q, _ = np.linalg.qr(every[:, list(order)])
    left = rows.weight * (rows.turn - predicted(here, bend, found))
    left = left - q @ (q.T @ left)
    free = every - q @ (q.T @ every)
    gain = (free.T @ left) ** 2 / np.maximum(np.sum(free**2, axis=0), 1e-12)
    gain[list(order)] = -1.0
    many = min(TRIED, rows.columns.shape[1] - len(order))
    return [int(k) for k in np.argsort(-gain)[:many]]


def choose(
    rows: FitRows, bend: Bend, begin: int, most: int, seed: int = 0
) -> TermChoice:
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
    taken = int(np.flatnonzero(errors <= errors[best] + spreads[best])[0])
    models = tuple(model.terms for model in path(rows, bend, begin, most))
    return TermChoice(models, errors, spreads, taken)


def folds(count: int, many: int, seed: int) -> IntArray:
    """Which fold (n,) each of ``count`` data is in."""
    return np.random.default_rng(seed).permutation(count) % many


def _validated(
    rows: FitRows, bend: Bend, begin: int, most: int, fold: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Cross-validated mean square and its standard error, (most - begin + 1,)."""
    squares = np.zeros((len(rows.turn), most - begin + 1))
    for k in range(FOLDS):
        out = np.flatnonzero(fold == k)
        others = rows.some(out)
        for size, model in enumerate(
            path(rows.some(np.flatnonzero(fold != k)), bend, begin, most)
        ):
            away = others.turn - predicted(others.terms(model.terms), bend, model.found)
            squares[out, size] = (others.weight * away) ** 2
    by_fold = np.array([squares[fold == k].mean(axis=0) for k in range(FOLDS)])
    return squares.mean(axis=0), by_fold.std(axis=0, ddof=1) / np.sqrt(FOLDS)

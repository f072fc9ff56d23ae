"""Weighted least squares for a formula: coefficients, their limits, its scatter.

turn = scale x bend(sum of coefficient x term).  The bend is straight, or rounded off
towards zero where heats come out small and never backward (softplus, Dugas et al., NIPS
2000).  Which terms: see `selection`.
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

DRAWS = 1000
"""Of the bootstrap."""

FLOOR, SHARE = 0.3, 0.1
"""Weights: as if data erred by so much of the median turn, and so much of the turn itself.
Fixed, since weights by the scatter found would give up large turns for tiny ones."""

LEAST = 0.02
"""Of the median turn: the least absolute scatter, that of the numbers themselves."""


@dataclass(frozen=True)
class FitRows:
    """Data of a fit: columns (n, p) of terms, scale, turn and weight (n,)."""

    columns: FloatArray
    scale: FloatArray
    turn: FloatArray
    weight: FloatArray

    def some(self, which: IntArray) -> FitRows:
        """Some of the rows."""
        return FitRows(
            self.columns[which], self.scale[which], self.turn[which], self.weight[which]
        )

    def terms(self, which: Sequence[int]) -> FitRows:
        """Some of the columns."""
        return FitRows(self.columns[:, list(which)], self.scale, self.turn, self.weight)


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


def predicted(rows: FitRows, bend: Bend, found: FloatArray) -> FloatArray:
    """Rotations (n,) predicted by the formula."""
    return rows.scale * bent(bend, rows.columns @ found)[0]


def solve(rows: FitRows, bend: Bend, start: FloatArray | None = None) -> FloatArray:
    """Coefficients (p,); rounded: by Levenberg and Marquardt from ``start``."""
    factor = rows.scale * rows.weight
    wanted = rows.turn * rows.weight
    straight = np.linalg.lstsq(rows.columns * factor[:, None], wanted, rcond=None)[0]
    if bend == "straight":
        return straight
    found = straight if start is None else start
    damp, square = 1e-3, square_of(rows, bend, found)
    for _ in range(25):
        value, slope = bent(bend, rows.columns @ found)
        slopes = rows.columns * (factor * slope)[:, None]
        normal = slopes.T @ slopes
        heavier = normal + damp * np.diag(np.diag(normal) + 1e-9)
        step = np.linalg.solve(heavier, slopes.T @ (wanted - factor * value))
        tried = square_of(rows, bend, found + step)
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


def square_of(rows: FitRows, bend: Bend, found: FloatArray) -> float:
    """Weighted sum of squared residuals."""
    return float(
        np.sum((rows.weight * (rows.turn - predicted(rows, bend, found))) ** 2)
    )


def slopes_of(rows: FitRows, bend: Bend, found: FloatArray) -> FloatArray:
    """Weighted slopes (n, p) of the formula in its coefficients."""
    slope = bent(bend, rows.columns @ found)[1]
    return rows.columns * (rows.scale * rows.weight * slope)[:, None]


def weight_of(turn: FloatArray, about: FloatArray) -> FloatArray:
    """Weights (n,) of turns (n,); about : (n,) a first idea of them."""
    typical = float(np.median(np.abs(turn)))
    return 1.0 / np.hypot(FLOOR * typical, SHARE * about)


def fitted(rows: FitRows, bend: Bend, seed: int = 0) -> Fit:
    """Fit all columns; the scatter is that of data that were left out.

    The covariance allows for a scatter that is not as the weights say (White,
    Econometrica 48, 1980); limits are percentiles of a bootstrap of the data (Efron &
    Tibshirani, An Introduction to the Bootstrap, 1993, ch. 13).
    """
    found = solve(rows, bend)
    apart = left_out(rows, bend, found)
    scatter = scatter_of(apart, predicted(rows, bend, found))
    chance, many = np.random.default_rng(seed), len(rows.turn)
    draws = [
        solve(rows.some(chance.integers(many, size=many)), bend, found)
        for _ in range(DRAWS)
    ]
    low, high = np.percentile(draws, (2.5, 97.5), axis=0)
    slopes = slopes_of(rows, bend, found)
    inverse = np.linalg.inv(slopes.T @ slopes)
    errors = (
        slopes * (rows.weight * scatter.sigma(predicted(rows, bend, found)))[:, None]
    )
    residuals = rows.turn - predicted(rows, bend, found)
    covariance = inverse @ (errors.T @ errors) @ inverse
    return Fit(found, low, high, scatter, residuals, apart, covariance)


def left_out(rows: FitRows, bend: Bend, found: FloatArray) -> FloatArray:
    """(n,) each datum less a formula that was fitted to all the others.

    e / (1 - h), h being the datum's leverage (Cook & Weisberg 1982, 2.2); to first order
    for the rounded bend.
    """
    q, _ = np.linalg.qr(slopes_of(rows, bend, found))
    leverage = np.sum(q**2, axis=1)
    return (rows.turn - predicted(rows, bend, found)) / np.maximum(1.0 - leverage, 1e-6)


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
    """Share of the variance of the rotations that a formula explains."""
    return 1.0 - float(np.sum(residuals**2) / np.sum((turn - turn.mean()) ** 2))


def rms(residuals: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(residuals**2)))

"""Newton's method with an energy line search for one step of a nonlinear structure.

R(q) = f_ext - f_int(q) = 0 by K dq = R, q + s dq, with K the consistent tangent, kept
over iterations while it contracts (modified Newton), and s such that |dq . R(q + s dq)|
<= 0.7 dq . R(q).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.errors import NotConverged

SLOW = 0.3
"""Ratio of residuals above which the tangent is factored again: a new factor costs
several iterations with the old."""


@dataclass(frozen=True)
class Point:
    """Evaluation at a trial q: residual (m,) N, force scale N, tangent on demand, the
    material state there, and a measure of its loading.
    """

    residual: FloatArray
    scale: float
    matrix: Callable[[], Any]
    state: tuple[FloatArray, ...]
    measure: float

    @property
    def relative(self) -> float:
        """Residual over the force scale."""
        return float(np.linalg.norm(self.residual)) / max(self.scale, 1e-300)


@dataclass(frozen=True)
class Balance:
    """Equations of a step: evaluate(q) -> Point, factorise(matrix) -> solve, the elastic
    matrix on demand, tolerance on |residual| / scale, most iterations.  slow : ratio of
    residuals above which the tangent is factored again.
    """

    evaluate: Callable[[FloatArray], Point]
    factorise: Callable[[Any], Callable[[FloatArray], FloatArray]]
    elastic: Callable[[], Any]
    tolerance: float
    iterations: int
    slow: float = SLOW


@dataclass(frozen=True)
class Trial:
    """Equilibrium q (m,) with its relative residual and the number of iterations."""

    q: FloatArray
    residual: float
    iterations: int


@dataclass
class TangentCache:
    """Factor of the tangent, reused in this step and the next while it contracts."""

    solve: Callable[[FloatArray], FloatArray] | None = None


def solve_step(
    balance: Balance, start: FloatArray, guess: FloatArray, cache: TangentCache,
    cautious: bool,
) -> tuple[Trial, Point]:  # fmt: skip
    """Equilibrium of a step by Newton's method from ``start`` + ``guess``.

    cautious : full Newton, its first iteration with the elastic matrix, because the
    tangent of a state strained by heat alone gives a wrong direction.
    """
    q = start + guess
    point = balance.evaluate(q)
    before, relative = np.inf, np.inf
    for iteration in range(1, balance.iterations + 1):
        before, relative = relative, point.relative
        if relative <= balance.tolerance:
            return Trial(q, relative, iteration), point
        if not np.isfinite(relative):
            break
        slow = relative > balance.slow * before
        if cautious or slow or cache.solve is None:
            cache.solve = _factor(balance, point, cautious and iteration == 1)
        q, point = _line_search(balance, q, point, cache.solve(point.residual))
    message = (
        f"residual {relative:.2g} after {balance.iterations} iterations "
        f"(want {balance.tolerance:g})"
    )
    raise NotConverged(message)


def _factor(
    balance: Balance, point: Point, elastic: bool
) -> Callable[[FloatArray], FloatArray]:
    """Factor of the tangent, or of the elastic matrix where that is not definite."""
    if not elastic:
        try:
            return balance.factorise(point.matrix())
        except NotConverged:
            pass
    return balance.factorise(balance.elastic())


def _line_search(
    balance: Balance, q: FloatArray, point: Point, change: FloatArray
) -> tuple[FloatArray, Point]:
    """Line search along ``change`` until the work along it is small against its start."""
    work = float(change @ point.residual)
    low, high, share = 0.0, 1.0, 1.0
    best = balance.evaluate(q + change)
    ratio = float(change @ best.residual) / work if work > 0.0 else 0.0
    for _ in range(5):
        if abs(ratio) <= 0.7 or not np.isfinite(ratio):
            break
        if ratio < 0.0:
            high = share
        else:
            low = share
        if ratio > 0.0 and share >= 1.0:
            break
        secant = share / max(1.0 - ratio, 1e-12)
        share = float(np.clip(secant, 0.1 * share, 0.9 * share))
        share = max(share, low + 0.1 * (high - low))
        best = balance.evaluate(q + share * change)
        ratio = float(change @ best.residual) / work
    return q + share * change, best

"""One implicit step of a body that holds heat: backward Euler or SDIRK2.

The scheme of `fem.conduction`, for any body that can say what it holds and what flows:
Alexander 1977, two stages, stiffly accurate, L-stable, gamma = 1 - 1/sqrt 2, in
conserved form.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import (
    GAMMA,
    ITERATIONS,
    NEGLIGIBLE,
    FactorCache,
    HeatStep,
)
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Assembly, factorise

SLOW = 0.4
"""A factor that leaves more of the error than this is made anew: with many nodes through
a thickness it costs several iterations."""


def serves(cache: FactorCache, dt: float) -> bool:
    """Whether a factor takes the error down fast enough in a step of dt."""
    if cache.solve is None:
        return False
    return max(cache.contraction, abs(1.0 - dt / cache.dt)) <= SLOW


@dataclass(frozen=True)
class Sweep:
    """A body at a temperature field: heat held and flowing in at each node, J and W;
    element matrices (e, k, k), empty if not asked for; gain and loss in all, W.
    """

    stored: FloatArray
    flow: FloatArray
    matrix: FloatArray
    gain: float
    loss: float


Evaluate = Callable[[FloatArray, float, bool], Sweep]
"""evaluate(T, capacity, matrix): at one time, matrix = capacity d stored/dT - dt
d flow/dT."""


class Holder(Protocol):
    """A body that holds heat; at(t, dt) is its evaluation with what acts at a time,
    still() with nothing acting.  ``fixed`` nodes have the temperatures given at(t).
    """

    @property
    def mesh(self) -> Mesh: ...
    @property
    def plan(self) -> Assembly: ...
    @property
    def fixed(self) -> IntArray: ...


@dataclass(frozen=True)
class Acting:
    """What acts on a body: at(t, dt) -> its evaluation; fixed(t) -> (k,) degC."""

    at: Callable[[float, float], Evaluate]
    fixed: Callable[[float], FloatArray] | None = None


def implicit_step(
    body: Holder, acting: Acting, T: FloatArray, t: float, dt: float,
    held: FloatArray, *, second_order: bool = True, tolerance: float = 1e-3,
    rate: FloatArray | None = None, cache: FactorCache | None = None,
) -> HeatStep:  # fmt: skip
    """One step from t to t + dt.  Raises NotConverged with time and place.

    held (n,) J at T; the rest as in `fem.conduction.heat_step`.
    """
    stage = GAMMA * dt if second_order else dt
    cache = cache or FactorCache()
    first = T if rate is None else T + stage * rate
    T1, one, n1 = _stage(
        body, acting, first, held, t + stage, stage, cache, tolerance
    )  # fmt: skip
    if not second_order:
        return _summed(body, T1, held, [one], [dt], n1, float("nan"))
    base = held + (1.0 - GAMMA) * dt * one.flow
    base[body.fixed] = held[body.fixed]
    guess = T + (T1 - T) / GAMMA
    T2, two, n2 = _stage(body, acting, guess, base, t + dt, stage, cache, tolerance)
    error = float(np.max(np.abs(T2 - T - (T1 - T) / GAMMA)))
    shares = [(1.0 - GAMMA) * dt, GAMMA * dt]
    return _summed(body, T2, held, [one, two], shares, n1 + n2, error)


def _summed(
    body: Holder, T: FloatArray, start: FloatArray, sweeps: list[Sweep],
    shares: list[float], iterations: int, error: float,
) -> HeatStep:  # fmt: skip
    gained = sum(w * s.gain for w, s in zip(shares, sweeps, strict=True))
    lost = sum(w * s.loss for w, s in zip(shares, sweeps, strict=True))
    last = sweeps[-1].stored
    held = start + sum(w * s.flow for w, s in zip(shares, sweeps, strict=True))
    gained += float(np.sum((last - held)[body.fixed]))
    held[body.fixed] = last[body.fixed]
    stored, content = float(np.sum(last - start)), float(np.sum(last))
    return HeatStep(T, gained, lost, stored, error, iterations, held, content)


def _stage(
    body: Holder, acting: Acting, guess: FloatArray, base: FloatArray, t: float,
    dt: float, cache: FactorCache, tolerance: float,
) -> tuple[FloatArray, Sweep, int]:  # fmt: skip
    """Solve stored(T) - base = dt flow(T); ends as in `fem.conduction`."""
    T, evaluate, hang = guess.copy(), acting.at(t, dt), body.plan.ties
    if acting.fixed is not None:
        T[body.fixed] = acting.fixed(t)
    move, iteration, made = np.inf, 0, False
    change = np.zeros_like(T)
    for iteration in range(1, ITERATIONS + 1):
        fresh = not serves(cache, dt)
        sweep = evaluate(T, 1.0, fresh)
        if fresh:
            cache.solve = factorise(body.plan, body.plan.matrix(sweep.matrix))
            cache.dt, made = dt, True
        assert cache.solve is not None
        miss = base - sweep.stored + dt * sweep.flow
        change = hang.expand(cache.solve(hang.reduce(miss)))
        before, move = move, float(np.max(np.abs(change), initial=0.0))
        T = T + change
        cache.contraction = move / before if 0.0 < before < np.inf else SLOW
        leaves = cache.contraction if made else max(cache.contraction, SLOW)
        enough = move * leaves <= tolerance * (1.0 - leaves)
        if move <= NEGLIGIBLE * tolerance or (enough and (made or iteration > 1)):
            return T, evaluate(T, 1.0, False), iteration
        if not np.isfinite(move) or move > 1e7:
            break
    place = body.mesh.points[int(np.argmax(np.abs(change)))]
    message = (
        f"heat: no balance at t = {t:.4g} s with a step of {dt:.3g} s: the temperature "
        f"still moves by {move:.3g} K after {iteration} iterations (want {tolerance:g} "
        f"K), most at x = {place[0]:.4f} m, y = {place[1]:.4f} m"
    )
    raise NotConverged(message, time=t)

"""How many heats it will come to: many runs of the rule (Monte Carlo).

Each run has its own true bends (as the survey leaves them open), its own factor on all
movements (model, shop), scatter of every heat and reading errors; the factor is learnt
from reading to reading (normal prior, normal errors: a Kalman filter of one state).
Moments are those at the share of each bend that is still there.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.member.line import Bend, offsets
from shrinksim.member.plan.next_heat import FOLDS, Belief, Next, Way, choose, heat_sigma
from shrinksim.member.plan.response import spread_of, turn_at, use_at
from shrinksim.member.setup.setup import SHARES

RUNS = 400
RANGE = (5.0, 95.0)
"""Percentiles of the number of heats: 9 of 10 runs."""

COARSE = 4
"""Every so many stations of the lines are looked at in a run."""


@dataclass(frozen=True)
class Forecast:
    """Many runs of one way.

    heats : mean number.  least, most : of 9 in 10 runs.  chance : of ending inside the
    tolerance.  gas : J.  hours : h, with cooling; means.  first : site and size of the
    first heat, None when none is worth giving.
    """

    heats: float
    least: int
    most: int
    chance: float
    gas: float
    hours: float
    first: tuple[int, int] | None


@dataclass(frozen=True)
class _Set:
    """What all runs share.

    table (b, a, l) : turns rad of fresh heats at SHARES.  lift : (k, b) m of each plane,
    of a turn of 1 rad at its bends.  heats : of every site (h, k) m, of a turn of 1 rad
    taken off at its places.  root (b, b) : of the covariance.  gas J, seconds s (b, a).
    """

    table: FloatArray
    lift: list[FloatArray]
    heats: list[FloatArray]
    root: FloatArray
    gas: FloatArray
    seconds: FloatArray


@dataclass
class _Runs:
    """Many runs at once: true and read turns (n, b) still there, factor as believed.

    line : of each plane (n, k) m, true; off (n, p) m as read.  shop (n,) : each run's
    own factor.  given (n, b) : heats.  gas, seconds (n,) J, s spent.
    """

    true: FloatArray
    read: FloatArray
    line: list[FloatArray]
    off: FloatArray
    shop: FloatArray
    mean: FloatArray
    var: FloatArray
    given: IntArray
    gas: FloatArray
    seconds: FloatArray


def forecast(way: Way, belief: Belief, most: int, seed: int = 1) -> Forecast:
    """Run the rule many times from now to its end."""
    rng = np.random.default_rng(seed)
    of = _set_up(way)
    runs = _begin(way, of, belief, rng)
    first: Next | None = None
    for _ in range(most):
        moves, spreads = _moves(way, of.table, runs.read, runs.given)
        factor = (runs.mean, np.sqrt(runs.var))
        then = choose(way, runs.read, runs.off, moves, spreads, factor, belief.scatter)
        first = first or then
        if not then.go.any():
            break
        _heat(way, of, runs, then, belief, rng)
        _read(way, of, runs, then, belief, rng)
    heats = runs.given.sum(axis=1)
    least, largest = np.percentile(heats, RANGE)
    inside = np.ones(RUNS, bool)
    for aim, line in zip(way.aims, runs.line, strict=True):
        inside &= np.abs(line).max(axis=1) <= aim.allowed
    begun = first is not None and bool(first.go[0])
    return Forecast(
        float(heats.mean()), int(np.floor(least)), int(np.ceil(largest)),
        float(inside.mean()), float(runs.gas.mean()),
        float(runs.seconds.mean()) / 3600.0,
        (int(first.site[0]), int(first.size[0])) if begun and first else None,
    )  # fmt: skip


def _set_up(way: Way) -> _Set:
    """Tables of movements, lines and costs."""
    x, length = way.x[::COARSE], float(way.x[-1])
    heats = [
        site.sense
        * np.array([offsets([Bend(at, 1.0)], x, length) for at in site.stations])
        for site in way.sites
    ]
    lift = [aim.lift[::COARSE] for aim in way.aims]
    return _Set(_table(way), lift, heats, _root(way.covariance), *_costs(way))


def _begin(way: Way, of: _Set, belief: Belief, rng: np.random.Generator) -> _Runs:
    """The runs before any heat: all have read the same, each has its own truth."""
    shape = (RUNS, len(way.turns))
    true = way.turns + rng.standard_normal(shape) @ of.root.T
    line, off = [], []
    for aim, lift in zip(way.aims, of.lift, strict=True):
        rest = aim.rest[::COARSE]
        line.append(true[:, list(aim.sites)] @ lift.T + rest)
        seen = np.abs(lift @ way.turns[list(aim.sites)] + rest).max()
        off.append(np.full(RUNS, seen))
    shop = belief.mean * _lot(belief.sigma / belief.mean, RUNS, rng)
    return _Runs(
        true, way.turns + np.zeros(shape), line, np.stack(off, axis=1), shop,
        np.full(RUNS, belief.mean, float), np.full(RUNS, belief.sigma**2),
        np.zeros(shape, int), np.zeros(RUNS), np.zeros(RUNS),
    )  # fmt: skip


def _lot(relative: float, count: int, rng: np.random.Generator) -> FloatArray:
    """Log-normal factors (count,) of mean 1."""
    sigma = np.sqrt(np.log1p(relative**2))
    return np.exp(sigma * rng.standard_normal(count) - 0.5 * sigma**2)


def _heat(
    way: Way, of: _Set, runs: _Runs, then: Next, belief: Belief,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Give every run its next heat."""
    n = np.flatnonzero(then.go)
    i, a = then.site[n], then.size[n]
    moves, spreads = _moves(way, of.table, runs.true, runs.given)
    move, spread = moves[n, i, a], spreads[n, i, a]
    rest = spread - np.abs(move)
    spare = heat_sigma(rest, belief.mean, belief.sigma, belief.scatter)
    moved = move * runs.shop[n] * _lot(belief.scatter, len(n), rng)
    moved += spare * rng.standard_normal(len(n))
    for aim, line in zip(way.aims, runs.line, strict=True):
        for b in aim.sites:
            rows = n[i == b]
            place = runs.given[rows, b]
            line[rows] -= moved[i == b][:, None] * of.heats[b][place]
    runs.true[n, i] -= moved
    runs.given[n, i] += 1
    runs.gas[n] += of.gas[i, a]
    runs.seconds[n] += of.seconds[i, a]


def _read(
    way: Way, of: _Set, runs: _Runs, then: Next, belief: Belief,
    rng: np.random.Generator,
) -> None:  # fmt: skip
    """Read the lines again where there was a heat, and learn the factor from it."""
    n = np.flatnonzero(then.go)
    i, move = then.site[n], then.move[n]
    error = rng.standard_normal((len(n), len(of.root))) @ of.root.T
    for p, (aim, lift) in enumerate(zip(way.aims, of.lift, strict=True)):
        seen = runs.line[p][n] + error[:, list(aim.sites)] @ lift.T
        runs.off[n, p] = np.abs(seen).max(axis=1)
    after = runs.true[n] + error
    seen = runs.read[n, i] - after[np.arange(len(n)), i]
    mean, var = learnt(
        runs.mean[n], runs.var[n], move, seen,
        2.0 * way.covariance[i, i] + (belief.scatter * then.spread[n]) ** 2,
    )  # fmt: skip
    runs.mean[n], runs.var[n], runs.read[n] = mean, var, after


def learnt(
    mean: FloatArray, var: FloatArray, move: FloatArray, seen: FloatArray,
    noise: FloatArray,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Mean and variance of the factor after a heat of ``move`` rad turned ``seen`` rad.

    Normal prior, seen = factor move + error of variance ``noise``; kept above 0.
    """
    gain = var * move / (move**2 * var + noise)
    return np.maximum(mean + gain * (seen - move * mean), 0.05), var * (1 - gain * move)


def _root(covariance: FloatArray) -> FloatArray:
    """A square root (b, b) of a covariance that may be singular."""
    values, vectors = np.linalg.eigh(covariance)
    return vectors * np.sqrt(np.maximum(values, 0.0))


def _table(way: Way) -> FloatArray:
    """Turns (b, a, l) rad of fresh heats at SHARES; nan where the member would fold."""
    sizes = max((len(c) for c in way.curves), default=1)
    table = np.full((len(way.sites), sizes, len(SHARES)), np.nan)
    for b, (curves, ratios) in enumerate(zip(way.curves, way.ratios, strict=True)):
        for a, curve in enumerate(curves):
            sound = use_at(curve, ratios) <= 1.0 / FOLDS
            table[b, a] = np.where(sound, turn_at(curve, ratios), np.nan)
    return table


def _moves(
    way: Way, table: FloatArray, turns: FloatArray, given: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Turn and spread (n, b, a) of the next heat at every bend."""
    n, (bends, sizes, _) = len(turns), table.shape
    moves, spreads = np.full((2, n, bends, sizes), np.nan)
    for b, (site, curves) in enumerate(zip(way.sites, way.curves, strict=True)):
        places = len(site.stations)
        if not places:
            continue
        visit = site.shares[np.minimum(given[:, b], places - 1)]
        visit = np.where(given[:, b] < places, visit, np.nan)
        left = turns[:, b] / way.turns[b]
        for a, curve in enumerate(curves):
            turn = np.interp(left, SHARES, table[b, a]) * visit
            moves[:, b, a], spreads[:, b, a] = turn, spread_of(curve, turn)
    return moves, spreads


def _costs(way: Way) -> tuple[FloatArray, FloatArray]:
    """Gas J and time s with cooling (b, a) of the heats, without a moment."""
    sizes = max((len(c) for c in way.curves), default=1)
    gas, seconds = np.zeros((2, len(way.sites), sizes))
    for b, curves in enumerate(way.curves):
        for a, curve in enumerate(curves):
            near = int(np.argmin(np.abs(curve.ratio)))
            gas[b, a] = curve.gas[near]
            seconds[b, a] = curve.heating_time[near] + curve.cooling_time[near]
    return gas, seconds

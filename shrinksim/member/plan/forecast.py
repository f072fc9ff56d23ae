"""Forecast of the number of heats: many runs of the rule (Monte Carlo).

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
from shrinksim.member.plan.next_heat import (
    LEAST_MARGIN,
    HeatingScheme,
    MovementFactor,
    NextHeat,
    choose_heat,
    heat_sigma,
)
from shrinksim.member.plan.response import reference_turn, turn_at, utilisation_at
from shrinksim.member.setup.setup import SHARES

RUNS = 400
RANGE = (5.0, 95.0)
"""Percentiles of the number of heats: 9 of 10 runs."""

COARSE = 4
"""Every so many stations of the lines are looked at in a run."""


@dataclass(frozen=True)
class Forecast:
    """Summary of many runs of one scheme.

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
class _Shared:
    """Tables shared by all runs.

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


def forecast(
    scheme: HeatingScheme, movement_factor: MovementFactor, most: int, seed: int = 1
) -> Forecast:
    """Run the rule many times from the survey to the stop."""
    rng = np.random.default_rng(seed)
    of = _set_up(scheme)
    runs = _begin(scheme, of, movement_factor, rng)
    first: NextHeat | None = None
    for _ in range(most):
        moves, spreads = _moves(scheme, of.table, runs.read, runs.given)
        factor = (runs.mean, np.sqrt(runs.var))
        then = choose_heat(
            scheme, runs.read, runs.off, moves, spreads, factor, movement_factor.scatter
        )
        first = first or then
        if not then.go.any():
            break
        _heat(scheme, of, runs, then, movement_factor, rng)
        _read(scheme, of, runs, then, movement_factor, rng)
    heats = runs.given.sum(axis=1)
    least, largest = np.percentile(heats, RANGE)
    inside = np.ones(RUNS, bool)
    for target, line in zip(scheme.targets, runs.line, strict=True):
        inside &= np.abs(line).max(axis=1) <= target.allowed
    begun = first is not None and bool(first.go[0])
    return Forecast(
        float(heats.mean()), int(np.floor(least)), int(np.ceil(largest)),
        float(inside.mean()), float(runs.gas.mean()),
        float(runs.seconds.mean()) / 3600.0,
        (int(first.site[0]), int(first.size[0])) if begun and first else None,
    )  # fmt: skip


def _set_up(scheme: HeatingScheme) -> _Shared:
    """Tables of movements, lines and costs."""
    x, length = scheme.x[::COARSE], float(scheme.x[-1])
    heats = [
        site.sense
        * np.array([offsets([Bend(at, 1.0)], x, length) for at in site.stations])
        for site in scheme.sites
    ]
    lift = [target.lift[::COARSE] for target in scheme.targets]
    return _Shared(
        _table(scheme), lift, heats, _root(scheme.covariance), *_costs(scheme)
    )


def _begin(
    scheme: HeatingScheme,
    of: _Shared,
    movement_factor: MovementFactor,
    rng: np.random.Generator,
) -> _Runs:
    """Runs before any heat: the same readings, each with its own true line."""
    shape = (RUNS, len(scheme.turns))
    true = scheme.turns + rng.standard_normal(shape) @ of.root.T
    line, off = [], []
    for target, lift in zip(scheme.targets, of.lift, strict=True):
        rest = target.rest[::COARSE]
        line.append(true[:, list(target.sites)] @ lift.T + rest)
        seen = np.abs(lift @ scheme.turns[list(target.sites)] + rest).max()
        off.append(np.full(RUNS, seen))
    shop = movement_factor.mean * _lognormal_factors(
        movement_factor.sigma / movement_factor.mean, RUNS, rng
    )
    return _Runs(
        true=true,
        read=scheme.turns + np.zeros(shape),
        line=line,
        off=np.stack(off, axis=1),
        shop=shop,
        mean=np.full(RUNS, movement_factor.mean, float),
        var=np.full(RUNS, movement_factor.sigma**2),
        given=np.zeros(shape, int),
        gas=np.zeros(RUNS),
        seconds=np.zeros(RUNS),
    )


def _lognormal_factors(
    relative: float, count: int, rng: np.random.Generator
) -> FloatArray:
    """Log-normal factors (count,) of mean 1."""
    sigma = np.sqrt(np.log1p(relative**2))
    return np.exp(sigma * rng.standard_normal(count) - 0.5 * sigma**2)


def _heat(
    scheme: HeatingScheme, of: _Shared, runs: _Runs, then: NextHeat,
    movement_factor: MovementFactor, rng: np.random.Generator,
) -> None:  # fmt: skip
    """Give every run its next heat."""
    n = np.flatnonzero(then.go)
    i, a = then.site[n], then.size[n]
    moves, spreads = _moves(scheme, of.table, runs.true, runs.given)
    move, spread = moves[n, i, a], spreads[n, i, a]
    rest = spread - np.abs(move)
    spare = heat_sigma(
        rest, movement_factor.mean, movement_factor.sigma, movement_factor.scatter
    )
    moved = (
        move * runs.shop[n] * _lognormal_factors(movement_factor.scatter, len(n), rng)
    )
    moved += spare * rng.standard_normal(len(n))
    for target, line in zip(scheme.targets, runs.line, strict=True):
        for b in target.sites:
            rows = n[i == b]
            place = runs.given[rows, b]
            line[rows] -= moved[i == b][:, None] * of.heats[b][place]
    runs.true[n, i] -= moved
    runs.given[n, i] += 1
    runs.gas[n] += of.gas[i, a]
    runs.seconds[n] += of.seconds[i, a]


def _read(
    scheme: HeatingScheme, of: _Shared, runs: _Runs, then: NextHeat,
    movement_factor: MovementFactor, rng: np.random.Generator,
) -> None:  # fmt: skip
    """Read the lines again where there was a heat, and learn the factor from it."""
    n = np.flatnonzero(then.go)
    i, move = then.site[n], then.move[n]
    error = rng.standard_normal((len(n), len(of.root))) @ of.root.T
    for p, (target, lift) in enumerate(zip(scheme.targets, of.lift, strict=True)):
        seen = runs.line[p][n] + error[:, list(target.sites)] @ lift.T
        runs.off[n, p] = np.abs(seen).max(axis=1)
    after = runs.true[n] + error
    seen = runs.read[n, i] - after[np.arange(len(n)), i]
    mean, var = updated_factor(
        runs.mean[n], runs.var[n], move, seen,
        2.0 * scheme.covariance[i, i] + (movement_factor.scatter * then.spread[n]) ** 2,
    )  # fmt: skip
    runs.mean[n], runs.var[n], runs.read[n] = mean, var, after


def updated_factor(
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


def _table(scheme: HeatingScheme) -> FloatArray:
    """Turns (b, a, l) rad of fresh heats at SHARES; nan where the member would fold."""
    sizes = max((len(c) for c in scheme.curves), default=1)
    table = np.full((len(scheme.sites), sizes, len(SHARES)), np.nan)
    for b, (curves, ratios) in enumerate(
        zip(scheme.curves, scheme.ratios, strict=True)
    ):
        for a, curve in enumerate(curves):
            sound = utilisation_at(curve, ratios) <= 1.0 / LEAST_MARGIN
            table[b, a] = np.where(sound, turn_at(curve, ratios), np.nan)
    return table


def _moves(
    scheme: HeatingScheme, table: FloatArray, turns: FloatArray, given: IntArray
) -> tuple[FloatArray, FloatArray]:
    """Turn and spread (n, b, a) of the next heat at every bend."""
    n, (bends, sizes, _) = len(turns), table.shape
    moves, spreads = np.full((2, n, bends, sizes), np.nan)
    for b, (site, curves) in enumerate(zip(scheme.sites, scheme.curves, strict=True)):
        places = len(site.stations)
        if not places:
            continue
        visit = site.shares[np.minimum(given[:, b], places - 1)]
        visit = np.where(given[:, b] < places, visit, np.nan)
        left = turns[:, b] / scheme.turns[b]
        for a, curve in enumerate(curves):
            turn = np.interp(left, SHARES, table[b, a]) * visit
            moves[:, b, a], spreads[:, b, a] = turn, reference_turn(curve, turn)
    return moves, spreads


def _costs(scheme: HeatingScheme) -> tuple[FloatArray, FloatArray]:
    """Gas J and time s with cooling (b, a) of the heats, without a moment."""
    sizes = max((len(c) for c in scheme.curves), default=1)
    gas, seconds = np.zeros((2, len(scheme.sites), sizes))
    for b, curves in enumerate(scheme.curves):
        for a, curve in enumerate(curves):
            near = int(np.argmin(np.abs(curve.ratio)))
            gas[b, a] = curve.gas[near]
            seconds[b, a] = curve.heating_time[near] + curve.cooling_time[near]
    return gas, seconds

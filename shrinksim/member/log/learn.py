"""Shop factor on the movement of heats, estimated from the logged heats.

A heat that is expected to turn the member by m turns it by f m s.  f is the shop's own
factor, the same for all heats: torch, hand, steel, and what the model gets wrong;
log-normal before any heat, median 1.  s is the scatter of single heats, log-normal with
mean 1.  A reading adds its error.  Now and then a heat goes wrong (lost its load, soaked
through, was read warm): then its movement says nothing of f.  Bayes' rule on a grid of
ln f and a few sizes of the scatter; where readings have no error, no heat goes wrong and
one size of scatter is given, it is the normal mean with known variance (Gelman et al.,
Bayesian Data Analysis, 3rd ed., eq. 2.12).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.line import SIDES, Bend, Plane, offsets
from shrinksim.member.log.log import LoggedHeat

PRIOR_SIGMA = 0.40
"""Standard deviation of ln f before any heat where no job says more, see `prior`."""

SCATTERS = (0.25, 0.35, 0.50)
"""Standard deviations of ln s held for equally likely.

Single heats lie commonly within half of the mean, from memory, low confidence.
"""

WRONG = 0.05
"""Share of heats that go wrong; a guess, no source."""

STEP = 0.01
LOG_F = np.arange(-4.0, 3.0 + STEP / 2, STEP)
"""(k,) grid of ln f: from 1/55 to 20."""

CHANCE = 0.90
"""Probability of the interval that is reported."""

COARSE = 0.7
"""Reading error over the expected movement, above which a heat is uninformative."""


@dataclass(frozen=True)
class ObservedHeat:
    """Expected and observed turn of one heat; rad, + straightens.

    error : rad, standard deviation of ``observed`` from the readings alone.
    """

    number: int
    expected: float
    observed: float
    error: float
    moment_ratio: float | None = None

    @property
    def backwards(self) -> bool:
        """Whether it moved the wrong way (1 in 20 from reading error alone)."""
        return self.observed < -1.645 * self.error and self.observed < 0.0

    @property
    def is_informative(self) -> bool:
        """Whether the reading error is small enough against the expected turn."""
        return self.error <= COARSE * self.expected


@dataclass(frozen=True)
class ShopFactor:
    """Factor of the shop on the predicted movement of a heat.

    median : of f.  low, high : nine chances in ten that f lies between.  mean : of f,
    to multiply expected movements by; sigma : its standard deviation.  single : standard
    deviation of the next heat's movement over its own mean, f and scatter together.
    scatter : of single heats, rms.
    wrong : (n,) chance of each heat to have gone wrong.
    """

    median: float
    low: float
    high: float
    mean: float
    sigma: float
    single: float
    scatter: float
    wrong: tuple[float, ...] = ()


Diagnosis = Literal[
    "no readings", "cannot tell", "backwards", "less", "as predicted", "more"
]


@dataclass(frozen=True)
class Findings:
    """Findings from a log: shop factor, the heats behind it, and the diagnosis.

    unread : numbers of heats without a plan or without readings in their plane.
    """

    factor: ShopFactor
    heats: tuple[ObservedHeat, ...]
    unread: tuple[int, ...]
    diagnosis: Diagnosis


def evaluate_heats(
    heats: Iterable[LoggedHeat],
    length: float,
    reading_error: float,
    shop: float = PRIOR_SIGMA,
    scatters: Sequence[float] = SCATTERS,
    inverted_planes: Collection[Plane] = (),
) -> Findings:
    """Estimate the shop factor from the logged heats and diagnose the member.

    length : m of the member.  reading_error : m, standard deviation of one reading.
    inverted_planes : read from a line on the top or right, where readings grow as the
    member falls.
    """
    read: list[ObservedHeat] = []
    unread: list[int] = []
    for heat in heats:
        found = observed_heat(heat, length, reading_error, inverted_planes)
        if found is None:
            unread.append(heat.number)
        else:
            read.append(found)
    factor = shop_factor(read, shop, scatters)
    return Findings(factor, tuple(read), tuple(unread), _behaviour(read, factor))


def _behaviour(heats: Sequence[ObservedHeat], factor: ShopFactor) -> Diagnosis:
    """Diagnosis; backwards if the last heat or half of all heats moved the wrong way."""
    backwards = [heat.backwards for heat in heats]
    if not heats:
        return "no readings"
    if backwards[-1] or 2 * sum(backwards) >= len(heats):
        return "backwards"
    if not any(heat.is_informative for heat in heats):
        return "cannot tell"
    if factor.high < 1.0:
        return "less"
    return "more" if factor.low > 1.0 else "as predicted"


def observed_heat(
    heat: LoggedHeat,
    length: float,
    reading_error: float,
    inverted_planes: Collection[Plane] = (),
) -> ObservedHeat | None:
    """Turn of a heat from its readings; None without a plan or without readings.

    The expected turn is taken without the shop factor that its plan used.
    """
    if heat.expected is None or not (heat.expected > 0.0 and heat.factor > 0.0):
        return None
    read = measured_turn(heat, length, reading_error, inverted_planes)
    if read is None:
        return None
    return ObservedHeat(
        heat.number, heat.expected / heat.factor, *read, heat.moment_ratio
    )


def measured_turn(
    heat: LoggedHeat,
    length: float,
    reading_error: float,
    inverted_planes: Collection[Plane] = (),
) -> tuple[float, float] | None:
    """Turn from the heat's readings and its standard deviation, rad; None without any.

    Least squares over the stations of the plane it was to straighten: a kink of 1 rad at
    the heat lifts station x by ``offsets``.  length : m.  reading_error : m, one
    standard deviation of one reading; a difference of two has sqrt(2) of it.
    """
    of_plane = [
        r for r in heat.readings if r.plane == heat.plane and r.before is not None
    ]
    if not of_plane:
        return None
    x = np.array([reading.at for reading in of_plane])
    fallen = np.array([(r.before or 0.0) - r.after for r in of_plane])
    lift = offsets([Bend(heat.at, 1.0)], np.clip(x, 0.0, length), length)
    weight = float(lift @ lift)
    if not weight > 1e-12 * length**2:
        return None
    sense = 1.0 if heat.side == SIDES[heat.plane][0] else -1.0
    sense = -sense if heat.plane in inverted_planes else sense
    turn = sense * float(lift @ fallen) / weight
    return turn, reading_error * float(np.sqrt(2.0 / weight))


def shop_factor(
    heats: Sequence[ObservedHeat],
    shop: float = PRIOR_SIGMA,
    scatters: Sequence[float] = SCATTERS,
    wrong: float = WRONG,
) -> ShopFactor:
    """Posterior of the shop factor after ``heats``, independent of their order."""
    prior = -0.5 * (LOG_F / shop) ** 2
    well = np.array([[_likelihood(h, s) for h in heats] for s in scatters])  # (s, n, k)
    well = well.reshape(len(scatters), len(heats), len(LOG_F))
    ill = np.array([_gone_wrong(h) for h in heats])  # (n,)
    both = (1.0 - wrong) * well + wrong * ill[:, None]
    log_post = prior + np.log(np.maximum(both, 1e-300)).sum(axis=1)
    post = np.exp(log_post - log_post.max())
    post /= post.sum()
    of_f = post.sum(axis=0)
    share = wrong * ill[:, None] / np.maximum(both, 1e-300)
    astray = np.einsum("sk,snk->n", post, share)
    f, s = np.exp(LOG_F), np.array(scatters)
    mean = float(of_f @ f)
    second = float(np.einsum("sk,s,k->", post, np.exp(s**2), f**2))
    low, median, high = (
        _quantile(of_f, p) for p in (0.5 - CHANCE / 2, 0.5, 0.5 + CHANCE / 2)
    )
    return ShopFactor(
        median=median,
        low=low,
        high=high,
        mean=mean,
        sigma=float(np.sqrt(of_f @ (f - mean) ** 2)),
        single=float(np.sqrt(second / mean**2 - 1.0)),
        scatter=float(np.sqrt(post.sum(axis=1) @ s**2)),
        wrong=tuple(float(w) for w in astray),
    )


def _likelihood(heat: ObservedHeat, scatter: float) -> FloatArray:
    """Likelihood (k,) 1/rad of the observed turn, for each f of the grid.

    The normal reading error around m exp(u), u = ln f + ln s, folded with the normal
    ln s of mean -scatter^2 / 2.  An error finer than the grid is taken as the grid's.
    """
    reach = round(6.0 * scatter / STEP)
    steps = np.arange(-reach, reach + 1) * STEP
    u = np.concatenate([LOG_F[0] + steps[:reach], LOG_F, LOG_F[-1] + steps[-reach:]])
    error = max(heat.error, 2.0 * STEP * max(abs(heat.observed), heat.expected * 1e-3))
    z = (heat.observed - heat.expected * np.exp(u)) / error
    density = np.exp(-0.5 * z**2) / (error * np.sqrt(2.0 * np.pi))
    weights = np.exp(-0.5 * ((steps + 0.5 * scatter**2) / scatter) ** 2)
    return np.correlate(density, weights / weights.sum(), mode="valid")


def _gone_wrong(heat: ObservedHeat) -> float:
    """Density (1/rad) of a heat that went wrong: Cauchy around no movement."""
    wide = heat.expected
    return 1.0 / (np.pi * wide * (1.0 + (heat.observed / wide) ** 2))


def _quantile(weights: FloatArray, share: float) -> float:
    """The f under which ``share`` of the weights (k,) lies."""
    below = np.cumsum(weights) - 0.5 * weights
    return float(np.exp(np.interp(share, below, LOG_F)))

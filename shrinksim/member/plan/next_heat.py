"""Rule for the next heat and for stopping.

A bend of u rad (its remaining turn) is heated with a heat that takes off Y, normal with
mean m and standard deviation s.  The heat is worth E(u - |u - Y|): what it is likely to
straighten, what it may overdo taken off.  The heat that is worth most for the line's
deviation is given, unless that is less than a share GAIN of what it moves, or it is too
likely to bend the line beyond its tolerance on the other side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf, ndtr

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.member.line import Plane
from shrinksim.member.log.learn import ShopFactor
from shrinksim.member.plan.patterns import Site
from shrinksim.member.plan.response import HEAT_SIGMA, ResponseCurve

BoolArray = NDArray[np.bool_]

MARGIN_SIGMAS = 1.645
"""Standard deviations of the line's deviation that are kept off the tolerance: 19 of 20
lines that read just so are straight, fewer where less of the tolerance can be kept."""

LEAST_GAIN = 0.1
"""Least worth of a heat over what it moves; our choice."""

OVERDONE = 0.10
"""Most chance that a heat bends the line beyond the tolerance on the other side."""

LEAST_MARGIN = 1.2
"""Hot-hinge margin under which a heat is refused; our choice, no source."""


@dataclass(frozen=True)
class Target:
    """Line of one plane and its target.

    sites : numbers of its bends.  lift : (k, b) m of a turn of 1 rad at each.  rest :
    (k,) m of the line that is not of bends (a step at a splice).  allowed : m.  margin :
    m kept off it for the reading error.  band : (k,) m, one standard deviation of the
    line as surveyed.
    """

    plane: Plane
    sites: tuple[int, ...]
    lift: FloatArray
    rest: FloatArray
    allowed: float
    margin: float
    band: FloatArray

    @property
    def stop_below(self) -> float:
        """Deviation (m) as read at which heating stops."""
        return self.allowed - self.margin

    @property
    def chance_inside(self) -> float:
        """Share of the lines that read ``stop_below`` which are inside the tolerance."""
        return chance_inside(self.margin, float(self.band.max()))


def chance_inside(margin: float, sigma: float) -> float:
    """Chance that a normal deviation read ``margin`` m inside a limit is inside it."""
    return float(ndtr(margin / max(sigma, 1e-12)))


@dataclass(frozen=True)
class MovementFactor:
    """Factor on all movements: mean, standard deviation, scatter of single heats."""

    mean: float = 1.0
    sigma: float = 0.3
    scatter: float = HEAT_SIGMA

    @property
    def relative(self) -> float:
        """Standard deviation of a heat over its mean movement."""
        return float(heat_sigma(1.0, self.mean, self.sigma, self.scatter)) / self.mean

    def sigma_of(self, spread: float) -> float:
        """Standard deviation (rad) of a heat; spread : rad, as `heat_sigma`."""
        return float(heat_sigma(spread, self.mean, self.sigma, self.scatter))


def heat_sigma(spread: Any, mean: Any, sigma: Any, scatter: float) -> Any:
    """Standard deviation (rad) of what one heat moves.

    spread : rad, movement without the factor that relative deviations refer to.
    mean, sigma : of the factor.  scatter : of single heats over their mean.
    """
    return spread * np.hypot(sigma, scatter * mean)


def factor_from_log(factor: ShopFactor) -> MovementFactor:
    """Movement factor of a log; the log's ``single`` is factor and scatter together."""
    both = (1.0 + factor.single**2) / (1.0 + factor.scatter**2)
    own = float(np.sqrt(max(both - 1.0, 0.0)))
    return MovementFactor(factor.mean, own * factor.mean, factor.scatter)


@dataclass(frozen=True)
class HeatingScheme:
    """Heating scheme of one arrangement: bends, targets, moments, response curves.

    x : (k,) m, stations of the lines.  turns (b,) rad of the bends, + to the side of the
    site; covariance (b, b).  ratios : (b, l) M/Mp at SHARES.  curves : of every site, one
    for each size of vee.
    """

    x: FloatArray
    sites: tuple[Site, ...]
    turns: FloatArray
    covariance: FloatArray
    targets: tuple[Target, ...]
    ratios: FloatArray
    curves: tuple[tuple[ResponseCurve, ...], ...]


@dataclass(frozen=True)
class NextHeat:
    """Next heat of each of n runs: site (n,) and size (n,) of vee.

    go (n,) : whether there is one.  inside (n,) : the line reads as straight.  move,
    spread (n,) rad : expected turn without the factor, and what relative deviations
    refer to.
    """

    go: BoolArray
    inside: BoolArray
    site: IntArray
    size: IntArray
    move: FloatArray
    spread: FloatArray


def expected_gain(u: FloatArray, move: FloatArray, sigma: FloatArray) -> FloatArray:
    """E(|u| - |u - Y|) rad, Y normal with mean ``move`` and deviation ``sigma``."""
    mean = u - move
    sigma = np.maximum(sigma, 1e-12)
    z = mean / sigma
    folded = sigma * np.sqrt(2.0 / np.pi) * np.exp(-0.5 * z**2)
    return np.abs(u) - folded - mean * erf(z / np.sqrt(2.0))


def choose_heat(
    scheme: HeatingScheme,
    turns: FloatArray,
    deviation: FloatArray,
    moves: FloatArray,
    spreads: FloatArray,
    factor: tuple[FloatArray, FloatArray],
    scatter: float,
) -> NextHeat:
    """Choose the next heat of n runs.

    turns (n, b) rad still there as read; deviation (n, p) m as read.  moves, spreads
    (n, b, a) rad of every size of vee, nan where it may not be given.  factor : mean
    and standard deviation (n,).
    """
    count = len(turns)
    best, site, size = np.full(count, 0.0), np.zeros(count, int), np.zeros(count, int)
    done = np.ones(count, bool)
    for p, target in enumerate(scheme.targets):
        outside = deviation[:, p] > target.stop_below
        done &= ~outside
        for b in target.sites:
            arm = max(scheme.sites[b].arm, 1e-9)
            for a in range(moves.shape[2]):
                gain = _gain(
                    turns[:, b], moves[:, b, a], spreads[:, b, a], factor, scatter,
                    target.allowed / arm,
                )  # fmt: skip
                value = np.where(outside, arm * gain, 0.0)
                better = value > best
                best = np.where(better, value, best)
                site, size = np.where(better, b, site), np.where(better, a, size)
    row = np.arange(count)
    go = (best > 0.0) & ~done
    return NextHeat(
        go, done, site, size, moves[row, site, size], spreads[row, site, size]
    )


def _gain(
    u: FloatArray,
    move: FloatArray,
    spread: FloatArray,
    factor: tuple[FloatArray, FloatArray],
    scatter: float,
    room: float,
) -> FloatArray:
    """Worth (n,) rad of a heat, 0 where the rule says no.

    room : rad, turn that bends a straight line to its tolerance.
    """
    mean = np.nan_to_num(move * factor[0])
    sigma = heat_sigma(np.nan_to_num(spread), *factor, scatter)
    return allowed_gain(u, mean, sigma, room)


def allowed_gain(
    u: FloatArray, mean: FloatArray, sigma: FloatArray, room: float
) -> FloatArray:
    """Worth (n,) rad of heats that move ``mean``, give or take ``sigma``; 0 forbidden."""
    gain = expected_gain(u, mean, sigma)
    over = 1.0 - ndtr((u + room - mean) / np.maximum(sigma, 1e-12))
    good = (u > 0.0) & (mean > 0.0) & (gain >= LEAST_GAIN * mean) & (over <= OVERDONE)
    return np.where(good, gain, 0.0)

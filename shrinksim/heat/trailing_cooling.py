"""Trailing cooling: air or water that follows a torch, as exchanges of the faces."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.conduction import Exchange, Law
from shrinksim.shop.pattern import path_length, point_along

STRIDE = 0.4
"""Largest distance in a step, in radii of the footprint; as for the torch."""


@dataclass(frozen=True)
class TrailingCooling:
    """Spray that follows the torch along its path.

    law : heat leaving a face.  faces : per plan area, broadcasts to (e, q).  behind : m
    of path between the torch and its centre.  reach : m, radius of its footprint; its
    effect fades over a width of ``edge`` m, and it opens and closes over as much path.
    sides : as of an Exchange.
    """

    law: Law
    faces: FloatArray
    behind: float
    reach: float
    edge: float
    sides: tuple[float, float] = (0.5, 0.5)

    @property
    def stride(self) -> float:
        """Largest distance in a step, m."""
        return STRIDE * self.reach


@dataclass(frozen=True)
class CoolingPass:
    """One pass of trailing cooling along the path ``points`` (k, 2) m of a torch.

    distance : t s -> m along the path; the spray is off outside of it.  speed : m/s
    after the torch is out.  end : s, when the pass is over.
    """

    spray: TrailingCooling
    points: FloatArray
    distance: Callable[[float], float]
    speed: float = 0.0
    end: float = np.inf

    def coverage(self, xy: FloatArray, t: float) -> FloatArray:
        """Share (...) of the law that acts at the points xy (..., 2) m at t."""
        s, length = self.distance(t), float(path_length(self.points)[-1])
        edge = self.spray.edge
        opening = smooth_cutoff(0.5 * edge - np.asarray(min(s, length - s)), edge)
        if opening <= 0.0:
            return np.zeros(xy.shape[:-1])
        r = xy - point_along(self.points, s)
        gap = np.hypot(r[..., 0], r[..., 1]) - self.spray.reach
        return opening * smooth_cutoff(gap, edge)

    def longest_step(self, t: float) -> float:
        """Longest step (s) from t in which the spray skips no point of the path."""
        if self.speed == 0.0:
            return np.inf
        away = -self.distance(t)
        step = away if away > 0.01 * self.spray.edge else self.spray.stride
        return min(step / self.speed, self.end - t)


def remaining_pass(
    spray: TrailingCooling, points: FloatArray, begin: float, end: float
) -> CoolingPass | None:
    """Rest of the pass after the torch, on from begin to end (s), is out.

    The spray runs to the end of the path at the torch's mean speed.  None on a path
    without length.
    """
    length = float(path_length(points)[-1])
    if length == 0.0:
        return None
    speed = length / (end - begin)

    def distance(t: float) -> float:
        return length - spray.behind + speed * (t - end)

    return CoolingPass(spray, points, distance, speed, end + spray.behind / speed)


def smooth_cutoff(gap: FloatArray, edge: float) -> FloatArray:
    """Smooth step (C1) from 1 inside to 0 outside, over a border of width ``edge`` m.

    gap : m outside the border, negative inside.
    """
    r = np.clip(0.5 - gap / edge, 0.0, 1.0)
    return r * r * (3.0 - 2.0 * r)


def trailing_exchanges(
    passes: Sequence[CoolingPass], xy: FloatArray
) -> tuple[Exchange, ...]:
    """Exchange of the cooling passes of one heat at the points xy (e, q, 2).

    Where two passes overlap, the one with the larger coverage acts.
    """
    if not passes:
        return ()
    spray = passes[0].spray

    def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        share = reduce(np.maximum, [one.coverage(xy, t) for one in passes])
        q, slope = spray.law(T, t)
        return share * q, share * slope

    return (Exchange(law, spray.faces, sides=spray.sides),)

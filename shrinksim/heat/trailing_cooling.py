"""Cooling that follows a torch: where it is, and what leaves the faces under it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import reduce

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.conduction import Exchange, Law
from shrinksim.shop.pattern import along, path_length

STRIDE = 0.4
"""Farthest that it goes in a step, in radii of its footprint; as the torch."""


@dataclass(frozen=True)
class Following:
    """Air or water that goes the torch's way behind it.

    law : what leaves a face.  faces : per plan area, broadcasts to (e, q).  behind : m
    of path from the torch to its centre.  reach : m, radius of its footprint; its
    effect ends over a width of ``edge`` m, and it opens and closes over as much path.
    """

    law: Law
    faces: FloatArray
    behind: float
    reach: float
    edge: float

    @property
    def stride(self) -> float:
        """Farthest that it goes in a step, m."""
        return STRIDE * self.reach


@dataclass(frozen=True)
class Trail:
    """A following on its way along the path ``points`` (k, 2) m of one torch.

    distance : t s -> m along the path; off outside of it.  Behind a torch that is out
    it goes on with ``pace`` m/s and is through at ``end`` s.
    """

    spray: Following
    points: FloatArray
    distance: Callable[[float], float]
    pace: float = 0.0
    end: float = np.inf

    def cover(self, xy: FloatArray, t: float) -> FloatArray:
        """Share (...) of the points xy (..., 2) that it covers at t."""
        s, length = self.distance(t), float(path_length(self.points)[-1])
        edge = self.spray.edge
        opened = faded(0.5 * edge - np.asarray(min(s, length - s)), edge)
        if opened <= 0.0:
            return np.zeros(xy.shape[:-1])
        r = xy - along(self.points, s)
        gap = np.hypot(r[..., 0], r[..., 1]) - self.spray.reach
        return opened * faded(gap, edge)

    def longest(self, t: float) -> float:
        """Longest step (s) from t that does not pass over anything."""
        if self.pace == 0.0:
            return np.inf
        away = -self.distance(t)
        step = away if away > 0.01 * self.spray.edge else self.spray.stride
        return min(step / self.pace, self.end - t)


def left_behind(
    spray: Following, points: FloatArray, begin: float, end: float
) -> Trail | None:
    """What is still to come when the torch, on from begin to end (s), goes out.

    It goes on to the end of the path at the torch's mean pace.  None on a path without
    length.
    """
    length = float(path_length(points)[-1])
    if length == 0.0:
        return None
    pace = length / (end - begin)

    def distance(t: float) -> float:
        return length - spray.behind + pace * (t - end)

    return Trail(spray, points, distance, pace, end + spray.behind / pace)


def faded(gap: FloatArray, edge: float) -> FloatArray:
    """1 inside to 0 outside, smooth (C1) over a border of width ``edge`` m.

    gap : m outside the border, negative inside.
    """
    r = np.clip(0.5 - gap / edge, 0.0, 1.0)
    return r * r * (3.0 - 2.0 * r)


def exchange_under(trails: Sequence[Trail], xy: FloatArray) -> tuple[Exchange, ...]:
    """What leaves at the points xy (e, q, 2) under the trails of one heat.

    A point under two of them is cooled as under the one that covers it more.
    """
    if not trails:
        return ()
    spray = trails[0].spray

    def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        share = reduce(np.maximum, [trail.cover(xy, t) for trail in trails])
        q, slope = spray.law(T, t)
        return share * q, share * slope

    return (Exchange(law, spray.faces),)

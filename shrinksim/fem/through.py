"""Polynomials through the thickness of a plate: levels of nodes, points, their tables.

Temperatures are one polynomial on Gauss-Lobatto levels, whose points are the nodes, so
that levels meet only by conduction through the thickness.  Displacements are quadratic
in one layer or more.  Abramowitz & Stegun, 25.4.29 and 25.4.32 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial import legendre

from shrinksim.arrays import FloatArray, IntArray, frozen


def lagrange(levels: FloatArray, at: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values and slopes (z, k) at ``at`` (z,) of the polynomials of levels (k,)."""
    count = len(levels)
    value, slope = np.ones((len(at), count)), np.zeros((len(at), count))
    for k in range(count):
        others = np.delete(levels, k)
        gaps = levels[k] - others
        value[:, k] = np.prod((at[:, None] - others) / gaps, axis=1)
        for j in range(count - 1):
            rest = np.delete(others, j)
            part = np.prod((at[:, None] - rest) / np.delete(gaps, j), axis=1)
            slope[:, k] += part / gaps[j]
    return value, slope


def lobatto(order: int) -> tuple[FloatArray, FloatArray]:
    """Gauss-Lobatto levels and weights (order + 1,) on -1 to 1."""
    series = np.zeros(order + 1)
    series[order] = 1.0
    inner = legendre.legroots(legendre.legder(series)) if order > 1 else []
    levels = np.concatenate([[-1.0], np.sort(inner), [1.0]])
    levels = 0.5 * (levels - levels[::-1])
    weights = 2.0 / (order * (order + 1) * legendre.legval(levels, series) ** 2)
    return levels, weights


@dataclass(frozen=True)
class Lobatto:
    """One polynomial through a thickness; its levels (k,) m are its points.

    weight : (k,) m.  slope : (k, k) 1/m, of polynomial m at level k.
    """

    levels: FloatArray
    weight: FloatArray
    slope: FloatArray


def lobatto_through(thickness: float, order: int) -> Lobatto:
    """Levels of a polynomial of ``order`` through a plate of ``thickness`` m."""
    levels, weight = lobatto(order)
    half = 0.5 * thickness
    slope = lagrange(levels, levels)[1]
    return Lobatto(frozen(half * levels), frozen(half * weight), frozen(slope / half))


@dataclass(frozen=True)
class Modes:
    """How displacements go through a thickness, and the points they are summed at.

    z, weight : (z,) m.  first : (z,) lowest mode of each point's layer.  N, dN : (z, w)
    of the layer's modes; dN in 1/m.  exists : (k, 3) whether a component has the mode.
    height : (k,) m, where a mode is the displacement; NaN for a bubble.  low, high :
    modes that are the displacements of the bottom and the top face.
    """

    z: FloatArray
    weight: FloatArray
    first: IntArray
    N: FloatArray
    dN: FloatArray
    exists: np.ndarray
    height: FloatArray
    low: int
    high: int

    @property
    def count(self) -> int:
        """Modes of all layers."""
        return len(self.exists)

    @property
    def own(self) -> IntArray:
        """(3,) first modes of a layer that each component has."""
        return self.exists[: self.N.shape[1]].sum(axis=0)

    @property
    def full(self) -> FloatArray:
        """(z, k) of all modes."""
        out = np.zeros((len(self.z), self.count))
        for row, first, values in zip(out, self.first, self.N, strict=True):
            row[first : first + len(values)] = values
        return out


def bubbles(order: int, s: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Values and slopes (z, order + 1) at s (z,), -1 to 1, of two straight lines, from
    the bottom and from the top, and the integrals of Legendre polynomials.

    Szabo & Babuska, Finite Element Analysis, 1991, 6.1 (from memory).
    """
    value, slope = np.empty((2, len(s), order + 1))
    value[:, 0], value[:, 1] = 0.5 * (1.0 - s), 0.5 * (1.0 + s)
    slope[:, 0], slope[:, 1] = -0.5, 0.5
    for k in range(2, order + 1):
        P = [legendre.legval(s, np.eye(k + 1)[n]) for n in (k - 2, k - 1, k)]
        scale = np.sqrt(0.5 / (2 * k - 1))
        value[:, k] = scale * (P[2] - P[0])
        slope[:, k] = scale * (2 * k - 1) * P[1]
    return value, slope


def modes_through(thickness: float, orders: tuple[int, int], points: int) -> Modes:
    """One layer: the displacements in the plane and across it to their own ``orders``."""
    half, high = 0.5 * thickness, max(orders)
    at, weight = legendre.leggauss(points)
    N, slope = bubbles(high, at)
    exists = np.arange(high + 1)[:, None] <= [orders[0], orders[0], orders[1]]
    height = np.full(high + 1, np.nan)
    height[:2] = -half, half
    return Modes(
        frozen(half * at), frozen(half * weight), frozen(np.zeros(points), np.int64),
        frozen(N), frozen(slope / half), exists, frozen(height), 0, 1,
    )  # fmt: skip


def layers_through(thickness: float, count: int, points: int) -> Modes:
    """``count`` equal layers, quadratic, with ``points`` Gauss points each."""
    half = 0.5 * thickness / count
    at, weight = legendre.leggauss(points)
    N, slope = lagrange(np.array([-1.0, 0.0, 1.0]), at)
    middles = half * (2.0 * np.arange(count) + 1.0 - count)
    return Modes(
        frozen((middles[:, None] + half * at).ravel()),
        frozen(np.tile(half * weight, count)),
        frozen(np.repeat(2 * np.arange(count), points), np.int64),
        frozen(np.tile(N, (count, 1))),
        frozen(np.tile(slope / half, (count, 1))),
        np.ones((2 * count + 1, 3), bool),
        frozen(0.5 * thickness * np.linspace(-1.0, 1.0, 2 * count + 1)),
        0,
        2 * count,
    )

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
class Layers:
    """Quadratic layers through a thickness, and the points that they are summed at.

    levels : (2 layers + 1,) m.  z, weight : (z,) m.  first : (z,) lowest level of each
    point's layer.  N, dN : (z, 3) of the layer's three levels; dN in 1/m.
    """

    levels: FloatArray
    z: FloatArray
    weight: FloatArray
    first: IntArray
    N: FloatArray
    dN: FloatArray


def layers_through(thickness: float, count: int, points: int) -> Layers:
    """``count`` equal layers with ``points`` Gauss points each."""
    half = 0.5 * thickness / count
    at, weight = legendre.leggauss(points)
    N, slope = lagrange(np.array([-1.0, 0.0, 1.0]), at)
    middles = half * (2.0 * np.arange(count) + 1.0 - count)
    return Layers(
        frozen(0.5 * thickness * np.linspace(-1.0, 1.0, 2 * count + 1)),
        frozen((middles[:, None] + half * at).ravel()),
        frozen(np.tile(half * weight, count)),
        frozen(np.repeat(2 * np.arange(count), points), np.int64),
        frozen(np.tile(N, (count, 1))),
        frozen(np.tile(slope / half, (count, 1))),
    )

"""Quadrature on lines and arcs with the weights of Green's theorem.

12 Gauss points a piece: exact on the lines, to rounding on the arcs.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from shrinksim.arrays import FloatArray


@cache
def _gauss() -> tuple[FloatArray, FloatArray]:
    """Gauss points and weights on [0, 1]."""
    points, weights = np.polynomial.legendre.leggauss(12)
    return (points + 1) / 2, weights / 2


def line(start: tuple[float, float], end: tuple[float, float]) -> FloatArray:
    """Points x, y and weights dy along a straight piece; (3, 12)."""
    t, w = _gauss()
    rise = end[1] - start[1]
    return np.array([start[0] + (end[0] - start[0]) * t, start[1] + rise * t, rise * w])


def arc(centre: tuple[float, float], r: float, start: float, end: float) -> FloatArray:
    """Points x, y and weights dy along an arc from angle `start` to `end`; (3, 12)."""
    t, w = _gauss()
    angle = start + (end - start) * t
    x, y = centre[0] + r * np.cos(angle), centre[1] + r * np.sin(angle)
    return np.array([x, y, r * np.cos(angle) * (end - start) * w])

"""Slab cooled by convection on both faces, Biot number 1.

Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, sec. 5.5 and table 5.1
(zeta_1 = 0.8603 for Bi = 1); Heisler 1947.  Citation from memory; the series of the
plane wall is summed here.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection
from meshes import rectangle, values_at
from scipy.optimize import brentq

from shrinksim.fem.conduction import EdgeExchange
from shrinksim.heat import Phase, Stepping, solve_heat

HALF, K, CAPACITY, H = 0.020, 45.0, 7850.0 * 500.0, 2250.0
HOT, WATER = 650.0, 20.0
POINTS = [
    (3.48889, 645.6582, 475.8537),
    (17.44444, 506.6916, 337.8488),
    (34.88889, 356.3314, 239.3514),
    (69.77778, 180.4409, 124.6371),
]


def roots(count: int) -> np.ndarray:
    """zeta tan zeta = Bi = 1."""
    low = np.pi * np.arange(count)

    def f(z):
        return z * np.sin(z) - np.cos(z)

    return np.array([brentq(f, a, a + 0.5 * np.pi, xtol=1e-14) for a in low])


ZETA = roots(60)


def exact(depth: float, t: float) -> float:
    """depth : 0 at the middle, 1 at the face."""
    share = 4.0 * np.sin(ZETA) / (2.0 * ZETA + np.sin(2.0 * ZETA))
    fourier = K / CAPACITY * t / HALF**2
    terms = share * np.exp(-np.minimum(ZETA**2 * fourier, 700.0)) * np.cos(ZETA * depth)
    return WATER + (HOT - WATER) * float(np.sum(terms))


def test_roots():
    np.testing.assert_allclose(ZETA[:2], [0.8603335890, 3.4256184595], atol=1e-10)


def test_plane_wall():
    mesh = rectangle(HALF, 0.005, 20, 1)
    marks = [fo * HALF**2 * CAPACITY / K for fo in (0.1, 0.5, 1.0, 2.0)]
    starts = [0.0, *marks[:-1]]
    first = np.geomspace(1e-3, marks[0] / 30, 20)
    times = np.concatenate(
        [first, np.linspace(first[-1], marks[0], 30)[1:]]
        + [
            np.linspace(a, b, 31)[1:]
            for a, b in zip(starts[1:], marks[1:], strict=True)
        ]
    )
    history = solve_heat(
        body_of(mesh, constant(K, CAPACITY)),
        [
            Phase(
                marks[-1],
                edges=(EdgeExchange("right", convection(H, WATER), 1.0),),
                times=times,
            )
        ],
        initial=HOT,
        stepping=Stepping(newton=1e-8),
    )
    for mark, (t, centre, face) in zip(marks, POINTS, strict=True):
        assert mark == pytest.approx(t, abs=6e-6)
        assert exact(0.0, mark) == pytest.approx(centre, abs=6e-5)
        assert exact(1.0, mark) == pytest.approx(face, abs=6e-5)
        s = int(np.argmin(np.abs(history.times - mark)))
        T = values_at(mesh, history.temperature[s], [[0.0, 0.002], [HALF, 0.002]])
        assert T[0] == pytest.approx(exact(0.0, mark), abs=0.02)
        assert T[1] == pytest.approx(exact(1.0, mark), abs=0.02)

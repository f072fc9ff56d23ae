"""NAFEMS test T4, two-dimensional steady conduction with convection.

NAFEMS, The Standard NAFEMS Benchmarks, 1990, T4: 0.6 m x 1.0 m, target 18.3 degC at
(0.6, 0.2) (from memory).  The exact series is summed here.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection
from meshes import nodes_on, rectangle, values_at
from scipy.optimize import brentq

from shrinksim.fem.conduction import EdgeExchange, Loads, steady_heat

WIDTH, HEIGHT, K, H = 0.6, 1.0, 52.0, 750.0
POINTS = [
    (0.6, 0.2, 18.253757),
    (0.0, 0.2, 70.06066),
    (0.0, 0.5, 35.40115),
    (0.3, 0.2, 62.55367),
    (0.0, 1.0, 3.367769),
    (0.6, 1.0, 0.554130),
]


def roots(count: int) -> np.ndarray:
    """beta with beta tan(beta W) = h/k, one in each half period."""
    bi = H * WIDTH / K

    def f(z):
        return z * np.sin(z) - bi * np.cos(z)

    low = np.pi * np.arange(count)
    found = [brentq(f, a + 1e-12, a + 0.5 * np.pi, xtol=1e-14) for a in low]
    return np.array(found) / WIDTH


BETA = roots(150)


def exact(x: float, y: float) -> float:
    b, up = BETA, HEIGHT - y
    amplitude = np.sin(b * WIDTH) / b
    amplitude /= 0.5 * WIDTH + np.sin(2 * b * WIDTH) / (4 * b)
    r = H / (K * b)
    decay = np.exp(-b * y) * (1 + r + (1 - r) * np.exp(-2 * b * up))
    decay /= 1 + r + (1 - r) * np.exp(-2 * b * HEIGHT)
    return float(np.sum(100.0 * amplitude * np.cos(b * x) * decay))


def solution(nx: int, ny: int):
    mesh = rectangle(WIDTH, HEIGHT, nx, ny)
    hot = nodes_on(mesh, "bottom")
    body = body_of(mesh, constant(K, 1.0), fixed=hot)
    air = convection(H, 0.0)
    loads = Loads(
        edges=[EdgeExchange("right", air, 1.0), EdgeExchange("top", air, 1.0)],
        fixed=lambda t: np.full(len(hot), 100.0),
    )
    return mesh, steady_heat(body, np.zeros(len(mesh.points)), loads)


def test_published_target_on_a_coarse_mesh():
    mesh, T = solution(6, 10)
    assert values_at(mesh, T, [[0.6, 0.2]])[0] == pytest.approx(18.3, abs=0.1)


def test_exact_series():
    mesh, T = solution(30, 50)
    for x, y, digits in POINTS:
        assert exact(x, y) == pytest.approx(digits, rel=1e-6)
        assert values_at(mesh, T, [[x, y]])[0] == pytest.approx(exact(x, y), abs=0.005)

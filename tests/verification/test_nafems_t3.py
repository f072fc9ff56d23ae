"""NAFEMS test T3, one-dimensional transient conduction with an oscillating end.

NAFEMS, The Standard NAFEMS Benchmarks, 1990, T3: bar 0.1 m, T(L) = 100 sin(pi t/40),
target T(0.08 m, 32 s) = 36.60 degC.  The exact series (Duhamel) is summed here; the
digits below are its first 400 terms, up to 1e-5 K from the sum.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant
from meshes import nodes_on, rectangle, values_at

from shrinksim.heat import Phase, Stepping, solve_heat

LENGTH, K, CAPACITY = 0.1, 35.0, 7200.0 * 440.5
OMEGA = np.pi / 40.0
POINTS = [
    (0.08, 32.0, 36.603107),
    (0.02, 36.0, 0.18642676),
    (0.05, 32.0, 3.3742364),
    (0.08, 10.0, 5.1246074),
    (0.06, 40.0, 12.899439),
]


def exact(x: float, t: float, terms: int = 40000) -> float:
    """Linear profile of the moment, and the sine series that lags behind it."""
    n = np.arange(1, terms + 1)
    rate = K / CAPACITY * (n * np.pi / LENGTH) ** 2
    lag = (
        rate * np.cos(OMEGA * t)
        + OMEGA * np.sin(OMEGA * t)
        - rate * np.exp(-np.minimum(rate * t, 700.0))
    ) / (rate**2 + OMEGA**2)
    share = 2.0 * (-1.0) ** n / (n * np.pi)
    series = np.sum(100.0 * OMEGA * share * lag * np.sin(n * np.pi * x / LENGTH))
    return float(x / LENGTH * 100.0 * np.sin(OMEGA * t) + series)


def bar(cells: int, dt: float):
    mesh = rectangle(LENGTH, 0.01, cells, 1)
    cold, driven = nodes_on(mesh, "left"), nodes_on(mesh, "right")
    fixed = np.append(cold, driven)
    ends = np.append(np.zeros(len(cold)), np.full(len(driven), 100.0))
    history = solve_heat(
        body_of(mesh, constant(K, CAPACITY), fixed=fixed),
        [Phase(40.0, times=dt * np.arange(1, round(40.0 / dt) + 1))],
        initial=0.0,
        fixed=lambda t: ends * np.sin(OMEGA * t),
        stepping=Stepping(newton=1e-8),
    )
    return mesh, history


def at(mesh, history, x: float, t: float) -> float:
    s = int(np.argmin(np.abs(history.times - t)))
    return float(values_at(mesh, history.temperature[s], [[x, 0.004]])[0])


def test_published_target():
    mesh, history = bar(10, 0.5)
    assert at(mesh, history, 0.08, 32.0) == pytest.approx(36.60, abs=0.1)


def test_exact_series():
    mesh, history = bar(40, 0.1)
    for x, t, digits in POINTS:
        assert exact(x, t, 400) == pytest.approx(digits, rel=5e-8)
        assert at(mesh, history, x, t) == pytest.approx(exact(x, t), abs=1e-3)

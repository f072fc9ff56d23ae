"""Half-space heated at its surface.

Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, sec. 2.4-2.5 (surface
held) and 2.9 (constant flux); the flux pulse by superposition.  Citation from memory;
the closed forms are evaluated here.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, inflow
from meshes import grid, growing, nodes_on, values_at
from scipy.special import erf, erfc

from shrinksim.fem.conduction import EdgeExchange
from shrinksim.heat import Phase, Stepping, solve_heat

K, CAPACITY = 45.0, 7850.0 * 500.0
A = K / CAPACITY
COLD, HOT, FLUX = 20.0, 700.0, 5e5
MESH = grid(growing(0.06, 1e-3, 0.3), np.array([0.0, 0.01]))
HEIGHT = 0.01
STEPPING = Stepping(newton=1e-6)


def times(end: float, largest: float = 0.1) -> np.ndarray:
    """Steps that start small, for the jump at t = 0, and reach ``largest``."""
    first = np.geomspace(1e-3, largest, 20)
    return np.append(first, np.linspace(largest, end, round(end / largest))[1:])


def held(x, t):
    return COLD + (HOT - COLD) * (1.0 - erf(x / (2.0 * np.sqrt(A * t))))


def rise(x, t):
    """Temperature rise under a constant flux from t = 0."""
    spread = 2.0 * FLUX * np.sqrt(A * t / np.pi) / K * np.exp(-(x**2) / (4 * A * t))
    return spread - FLUX * x / K * erfc(x / (2.0 * np.sqrt(A * t)))


def profile(history, x, t):
    s = int(np.argmin(np.abs(history.times - t)))
    assert history.times[s] == pytest.approx(t, abs=1e-9)
    where = np.stack([x, np.full(len(x), 0.3 * HEIGHT)], axis=1)
    return values_at(MESH, history.temperature[s], where)


@pytest.fixture(scope="module")
def step_history():
    left = nodes_on(MESH, "left")
    body = body_of(MESH, constant(K, CAPACITY), fixed=left)
    return solve_heat(
        body,
        [Phase(60.0, times=times(60.0))],
        initial=COLD,
        fixed=lambda t: np.full(len(left), HOT),
        stepping=STEPPING,
    )


@pytest.mark.parametrize(
    ("t", "digits"),
    [
        (10.0, [524.0525, 366.1237, 146.8721, 25.6119]),
        (60.0, [627.0831, 555.4772, 421.0274, 210.9793]),
    ],
)
def test_surface_held(step_history, t, digits):
    x = np.array([0.005, 0.010, 0.020, 0.040])
    np.testing.assert_allclose(held(x, t), digits, atol=6e-5)
    np.testing.assert_allclose(profile(step_history, x, t), held(x, t), atol=0.01)


@pytest.mark.parametrize(("t", "digits"), [(10.0, 1612.353e3), (60.0, 658.240e3)])
def test_flux_into_the_held_surface(step_history, t, digits):
    exact = K * (HOT - COLD) / np.sqrt(np.pi * A * t)
    assert exact == pytest.approx(digits, rel=1e-6)
    s = int(np.argmin(np.abs(step_history.times - t)))
    before, after = s - 5, min(s + 5, len(step_history.times) - 1)
    heat = step_history.absorbed[after] - step_history.absorbed[before]
    span = np.sqrt(step_history.times[[before, after]])
    mean = 2.0 * K * (HOT - COLD) / np.sqrt(np.pi * A) * (span[1] - span[0])
    assert heat / HEIGHT == pytest.approx(mean, rel=1e-4)
    whole = 2.0 * K * (HOT - COLD) * np.sqrt(t / (np.pi * A))
    assert step_history.absorbed[s] / HEIGHT == pytest.approx(whole, rel=1e-4)


@pytest.fixture(scope="module")
def pulse_history():
    body = body_of(MESH, constant(K, CAPACITY))
    torch = EdgeExchange("left", inflow(FLUX), 1.0)
    on = Phase(20.0, edges=(torch,), times=times(20.0))
    off = Phase(20.0, times=times(20.0))
    return solve_heat(body, [on, off], initial=COLD, stepping=STEPPING)


@pytest.mark.parametrize(
    ("t", "digits"),
    [
        (5.0, [114.9257, 69.5357, 42.4471, 22.8582, 20.0053]),
        (20.0, [209.8515, 159.4473, 119.0714, 64.8942, 25.7164]),
        (40.0, [98.6391, 97.1385, 92.8130, 77.8816, 43.5955]),
    ],
)
def test_flux_and_flux_pulse(pulse_history, t, digits):
    x = np.array([0.0, 0.005, 0.010, 0.020, 0.040])
    exact = COLD + rise(x, t) - (rise(x, t - 20.0) if t > 20.0 else 0.0)
    np.testing.assert_allclose(exact, digits, atol=6e-5)
    np.testing.assert_allclose(profile(pulse_history, x, t), exact, rtol=1e-4)


def test_pulse_stays_in_the_steel(pulse_history):
    assert pulse_history.stored[-1] == pytest.approx(FLUX * 20.0 * HEIGHT, rel=1e-6)

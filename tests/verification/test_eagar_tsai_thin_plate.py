"""Thin plate, Gaussian torch that starts from rest, transient.

The two-dimensional analogue of Eagar & Tsai, Weld. J. 62 (1983) 346s (citation from
memory): the heat of every moment spreads as a Gaussian of variance 2 a (t - t') + s^2.
Integrated here.  The torch is the package's own, sent along a straight path.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant
from meshes import grid, growing, values_at
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from shrinksim.heat import Phase, Stepping, solve_heat
from shrinksim.shop.pattern import Drive, TorchPath, straight

pytestmark = pytest.mark.slow

Q, V, D, K, CAPACITY, AIR, S = 3000.0, 5e-3, 8e-3, 45.0, 7850.0 * 600.0, 20.0, 8e-3
A = K / CAPACITY
OFF = 60.0
"""s, when the torch, 200 mm beyond the last place looked at, is put out: its later heat
would raise the peak at y = 40 mm by less than 1e-6 K."""

POINTS = [
    (100.0, 0.0, 20.0, 406.9030),
    (100.0, 0.0, 30.0, 414.9764),
    (100.0, 10.0, 24.0, 385.4838),
    (100.0, 20.0, 30.0, 199.5380),
    (50.0, 0.0, 40.0, 260.7144),
    (100.0, 40.0, 40.0, 70.9492),
]
PEAKS = [
    (0.0, 578.5474, 22.398),
    (10.0, 386.3951, 23.523),
    (20.0, 210.9180, 37.916),
    (40.0, 114.8572, 96.34),
]


def exact(x: float, y: float, t: float) -> float:
    def heat(age):
        variance = 2 * A * age + S**2
        r2 = (x - V * (t - age)) ** 2 + y**2
        return np.exp(-r2 / (2 * variance)) / (2 * np.pi * variance)

    breaks = [b for b in (t - x / V, t - x / V - 3.0, t - x / V + 3.0) if 0.0 < b < t]
    total = quad(heat, 0.0, t, points=breaks, limit=400, epsrel=1e-11)[0]
    return AIR + Q / (CAPACITY * D) * total


@pytest.fixture(scope="module")
def pass_over():
    """Half plate y >= 0; torch on for ``OFF`` seconds, then waiting."""
    x = np.concatenate(
        [
            -0.02 - growing(4e-3, 4e-3, 0.13, 1.5)[:0:-1],
            np.linspace(-0.02, 0.2, 56),
            0.2 + growing(4e-3, 4e-3, 0.25, 1.15)[1:],
        ]
    )
    mesh = grid(x, growing(0.02, 4e-3, 0.15))
    body = body_of(mesh, constant(K, CAPACITY), D)
    drive = Drive(Q, np.sqrt(6.0) * S, V)
    torch = TorchPath(straight([[0.0, 0.0], [V * OFF, 0.0]]), drive, ("plate",))
    steps = np.arange(0.4, OFF + 1e-6, 0.4)
    phases = [
        Phase(OFF, torch=torch, times=steps),
        Phase(40.0, times=np.arange(1.0, 41.0)),
    ]
    stepping = Stepping(newton=1e4)  # linear: the first iteration is exact
    return mesh, solve_heat(body, phases, initial=AIR, stepping=stepping)


def test_points(pass_over):
    mesh, history = pass_over
    for x, y, t, digits in POINTS:
        reference = exact(x / 1e3, y / 1e3, t)
        assert reference == pytest.approx(digits, abs=6e-5)
        s = int(np.argmin(np.abs(history.times - t)))
        assert history.times[s] == pytest.approx(t, abs=1e-9)
        ours = values_at(mesh, history.temperature[s], [[x / 1e3, y / 1e3]])[0]
        assert ours == pytest.approx(reference, rel=0.005)


@pytest.mark.parametrize(("y", "digits", "when"), PEAKS)
def test_peaks_at_100_mm(pass_over, y, digits, when):
    found = minimize_scalar(
        lambda t: -exact(0.1, y / 1e3, t),
        bounds=(0.6 * when, 1.3 * when),
        options={"xatol": 1e-7},
    )
    assert -found.fun == pytest.approx(digits, abs=6e-5)
    assert found.x == pytest.approx(when, abs=6e-3)
    mesh, history = pass_over
    at = values_at(mesh, history.temperature, [[0.1, y / 1e3]])[:, 0]
    assert at.max() == pytest.approx(-found.fun, rel=0.005)
    # the top is flat: the time of the largest step is only good to a step and more
    assert history.times[np.argmax(at)] == pytest.approx(when, rel=0.04)


def test_all_the_power_goes_in(pass_over):
    _, history = pass_over
    assert history.absorbed[-1] == pytest.approx(0.5 * Q * OFF, rel=1e-4)
    assert abs(history.imbalance) < 1e-5

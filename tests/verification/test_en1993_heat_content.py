"""Heat content of carbon steel, and a lump heated at constant power through 735 degC.

EN 1993-1-2:2005, 3.4.1.2, density 7850 kg/m3.  The specific heat is integrated in
closed form here; the solver, which is in enthalpy form, must not step over the peak.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of
from meshes import rectangle
from scipy.integrate import quad
from scipy.optimize import brentq

from shrinksim.heat import Phase, Stepping, solve_heat
from shrinksim.shop.steel import steel

DENSITY, POWER, THICKNESS = 7850.0, 20e6, 0.010
CONTENT = [
    (100.0, 37.20698),
    (200.0, 88.19115),
    (300.0, 142.92032),
    (400.0, 201.34448),
    (500.0, 264.74565),
    (600.0, 335.73782),
    (700.0, 419.10608),
    (735.0, 475.42781),
    (750.0, 511.36895),
    (800.0, 561.60083),
    (900.0, 632.06384),
    (1000.0, 697.06384),
    (1200.0, 827.06384),
]
HEATING = [
    (50.0, 272.2565),
    (100.0, 484.9185),
    (150.0, 658.8569),
    (180.0, 729.6696),
    (200.0, 748.8011),
    (220.0, 798.6458),
]
REACHED = [
    (600.0, 131.7771),
    (735.0, 186.6054),
    (800.0, 220.4283),
    (900.0, 248.0851),
]


def specific_heat(T: float) -> float:
    """J/kgK."""
    if T < 600.0:
        return 425.0 + 0.773 * T - 1.69e-3 * T**2 + 2.22e-6 * T**3
    if T < 735.0:
        return 666.0 + 13002.0 / (738.0 - T)
    return 545.0 + 17820.0 / (T - 731.0) if T < 900.0 else 650.0


def cubic(T: float) -> float:
    return 425.0 * T + 0.3865 * T**2 - 1.69e-3 / 3.0 * T**3 + 0.555e-6 * T**4


def content(T: float) -> float:
    """J/kg from 20 degC."""
    H = cubic(min(T, 600.0)) - cubic(20.0)
    if T > 600.0:
        top = min(T, 735.0)
        H += 666.0 * (top - 600.0) + 13002.0 * np.log(138.0 / (738.0 - top))
    if T > 735.0:
        top = min(T, 900.0)
        H += 545.0 * (top - 735.0) + 17820.0 * np.log((top - 731.0) / 4.0)
    return float(H + 650.0 * max(T - 900.0, 0.0))


def lump(times):
    """A plate with a source spread evenly over it and nothing lost."""
    mesh = rectangle(0.05, 0.05, 1, 1)
    table = steel("S235").heat
    body = body_of(
        mesh,
        (table.start, table.step, table.conductivity, table.heat_content),
        THICKNESS,
    )

    def even(x, y, t):
        return np.full_like(x, POWER * THICKNESS)

    phase = Phase(times[-1], sources=(even,), times=times)
    return solve_heat(body, [phase], stepping=Stepping(newton=1e-6))


def test_closed_form():
    for T, digits in CONTENT:
        assert content(T) / 1e3 == pytest.approx(digits, abs=6e-6)
        breaks = [b for b in (600.0, 735.0, 900.0) if b < T]
        whole = quad(specific_heat, 20.0, T, points=breaks, epsabs=1e-6, limit=200)[0]
        assert content(T) == pytest.approx(whole, rel=1e-9)
    assert DENSITY * content(800.0) == pytest.approx(4408.5665e6, rel=1e-7)


def test_table_of_the_steel():
    table = steel("S235").heat
    grid = table.start + table.step * np.arange(len(table.heat_content))
    for T, _ in CONTENT:
        ours = np.interp(T, grid, table.heat_content)
        assert ours == pytest.approx(DENSITY * content(T), rel=1e-9)


@pytest.mark.parametrize("dt", [1.0, 5.0, 20.0])
def test_lump_at_constant_power(dt):
    """At every time the enthalpy is the energy given, whatever the step.

    What is left is the table: straight between whole degrees beside the peak.
    """
    history = lump(dt * np.arange(1, round(260.0 / dt) + 1))
    assert np.ptp(history.temperature, axis=1).max() < 1e-6
    T = history.temperature[1:, 0]
    held = DENSITY * np.array([content(x) for x in T])
    np.testing.assert_allclose(held, POWER * history.times[1:], rtol=5e-4)


def test_temperatures_and_times():
    history = lump(np.arange(1.0, 261.0))
    for t, digits in HEATING:
        exact = brentq(lambda T, t=t: DENSITY * content(T) - POWER * t, 20.0, 1200.0)
        assert exact == pytest.approx(digits, abs=6e-5)
        row = int(np.argmin(np.abs(history.times - t)))
        assert history.temperature[row, 0] == pytest.approx(exact, abs=0.02)
    for T, digits in REACHED:
        exact = DENSITY * content(T) / POWER
        assert exact == pytest.approx(digits, abs=6e-5)
        reached = np.interp(T, history.temperature[:, 0], history.times)
        assert reached == pytest.approx(exact, abs=0.05)

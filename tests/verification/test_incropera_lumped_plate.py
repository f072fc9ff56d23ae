"""Plate of even temperature that radiates and convects from both faces.

Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, ch. 5, lumped capacitance
with radiation (citation from memory); the balance is integrated here, and radiation to
0 K has the closed form T = (T0^-3 + 3 C t)^(-1/3).
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, radiation
from meshes import rectangle
from scipy.integrate import solve_ivp

from shrinksim.arrays import KELVIN, STEFAN_BOLTZMANN
from shrinksim.fem.conduction import EdgeExchange, Exchange
from shrinksim.heat import Phase, Stepping, solve_heat
from shrinksim.shop.cooling import still_air

THICKNESS, CAPACITY, HOT, AIR = 0.010, 7850.0 * 600.0, 700.0, 20.0
TIMES = [60.0, 120.0, 300.0, 600.0, 1200.0, 3600.0]
DIGITS = [601.3596, 531.2253, 399.3397, 283.0573, 170.9678, 47.8766]
BOTH = np.array(2.0)


def exact(times):
    c = 0.8 * STEFAN_BOLTZMANN

    def rate(t, T):
        q = c * ((T + KELVIN) ** 4 - (AIR + KELVIN) ** 4) + 10.0 * (T - AIR)
        return -2.0 * q / (CAPACITY * THICKNESS)

    span = (0.0, times[-1])
    return solve_ivp(
        rate, span, [HOT], "DOP853", t_eval=times, rtol=1e-11, atol=1e-9
    ).y[0]


def test_reference():
    np.testing.assert_allclose(exact(TIMES), DIGITS, atol=6e-5)


@pytest.mark.parametrize(
    "law",
    [radiation(0.8, AIR, h=10.0), still_air(AIR, 0.8, h=10.0)],
    ids=["own law", "still_air"],
)
def test_in_plane_model_with_face_losses(law):
    mesh = rectangle(0.05, 0.05, 2, 2)
    history = solve_heat(
        body_of(mesh, constant(45.0, CAPACITY), THICKNESS),
        [Phase(3600.0, (Exchange(law, BOTH),))],
        initial=HOT,
        stepping=Stepping(tolerance=1.0, newton=1e-6),
    )
    assert np.ptp(history.temperature, axis=1).max() < 1e-6
    np.testing.assert_allclose(
        history.temperature[1:, 0], exact(history.times[1:]), atol=0.2
    )


def test_fixed_steps_reach_the_digits():
    mesh = rectangle(0.05, 0.05, 1, 1)
    history = solve_heat(
        body_of(mesh, constant(45.0, CAPACITY), THICKNESS),
        [
            Phase(
                3600.0,
                (Exchange(radiation(0.8, AIR, h=10.0), BOTH),),
                times=np.arange(10.0, 3601.0, 10.0),
            )
        ],
        initial=HOT,
        stepping=Stepping(newton=1e-8),
    )
    rows = np.searchsorted(history.times, TIMES)
    np.testing.assert_allclose(history.temperature[rows, 0], DIGITS, atol=0.02)


def test_radiation_to_absolute_zero():
    C = 2.0 * 0.8 * STEFAN_BOLTZMANN / (CAPACITY * THICKNESS)
    kelvin = ((HOT + KELVIN) ** -3 + 3.0 * C * 600.0) ** (-1.0 / 3.0)
    assert kelvin == pytest.approx(603.37778, abs=6e-6)
    mesh = rectangle(0.05, 0.05, 1, 1)
    history = solve_heat(
        body_of(mesh, constant(45.0, CAPACITY), THICKNESS),
        [Phase(600.0, (Exchange(radiation(0.8, -KELVIN), BOTH),))],
        initial=HOT,
        stepping=Stepping(tolerance=0.5, newton=1e-6),
    )
    assert history.temperature[-1, 0] + KELVIN == pytest.approx(kelvin, abs=0.1)


def test_model_that_resolves_the_thickness():
    """Edges radiate; q d / 4 k = 2.6 K from centre to surface at the start (k = 45)."""
    mesh = rectangle(THICKNESS, 0.01, 8, 2)
    law = radiation(0.8, AIR, h=10.0)
    history = solve_heat(
        body_of(mesh, constant(45.0, CAPACITY)),
        [
            Phase(
                3600.0,
                edges=(EdgeExchange("left", law, 1.0), EdgeExchange("right", law, 1.0)),
            )
        ],
        initial=HOT,
        stepping=Stepping(tolerance=4.0),
    )
    late = history.times >= TIMES[0]
    even = exact(history.times[late])
    assert np.abs(history.temperature[late] - even[:, None]).max() < 2.0
    early = np.ptp(history.temperature[~late], axis=1).max()
    assert 2.0 < early < 4.0

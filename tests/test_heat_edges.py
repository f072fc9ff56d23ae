"""Heat through a named edge, and a phase that ends when the steel is hot enough."""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection, inflow
from meshes import annulus, grid, growing, rectangle, values_at
from scipy.special import erfc

from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import GAMMA, EdgeExchange, EdgeSource
from shrinksim.heat import Phase, PhaseName, Stepping, solve_heat
from shrinksim.shop.steel import steel

K, CAPACITY, FLUX, COLD = 45.0, 7850.0 * 500.0, 5e5, 20.0
A = K / CAPACITY
TIGHT = Stepping(newton=1e-6)
HEAT = steel("S235").heat
STEEL = (HEAT.start, HEAT.step, HEAT.conductivity, HEAT.heat_content)
BAR = grid(growing(0.06, 1e-3, 0.3), np.array([0.0, 0.01]))


def even(flux):
    return lambda x, y, t: np.full_like(x, flux)


def rise(x, t):
    """Half-space, constant flux: Carslaw & Jaeger 2nd ed. sec. 2.9 (from memory)."""
    spread = 2.0 * FLUX * np.sqrt(A * t / np.pi) / K * np.exp(-(x**2) / (4 * A * t))
    return spread - FLUX * x / K * erfc(x / (2.0 * np.sqrt(A * t)))


@pytest.mark.parametrize("thickness", [1.0, 0.012])
def test_constant_flux_into_a_half_space(thickness):
    """Digits at 5 and 20 s: the closed form."""
    first = np.geomspace(1e-3, 0.1, 20)
    steps = np.append(first, np.linspace(0.1, 20.0, 200)[1:])
    body = body_of(BAR, constant(K, CAPACITY), thickness)
    torch = EdgeSource("left", even(FLUX), thickness)
    phase = Phase(20.0, inlets=(torch,), times=steps)
    history = solve_heat(body, [phase], initial=COLD, stepping=TIGHT)
    x = np.array([0.0, 0.005, 0.010, 0.020, 0.040])
    digits = {
        5.0: [114.9257, 69.5357, 42.4471, 22.8582, 20.0053],
        20.0: [209.8515, 159.4473, 119.0714, 64.8942, 25.7164],
    }
    for t, values in digits.items():
        np.testing.assert_allclose(COLD + rise(x, t), values, atol=6e-5)
        s = int(np.argmin(np.abs(history.times - t)))
        where = np.stack([x, np.full(5, 0.003)], axis=1)
        ours = values_at(BAR, history.temperature[s], where)
        np.testing.assert_allclose(ours, COLD + rise(x, history.times[s]), rtol=1e-4)
    energy = FLUX * 0.01 * thickness * 20.0
    assert history.absorbed[-1] == pytest.approx(energy, rel=1e-9)
    assert history.stored[-1] == pytest.approx(energy, rel=1e-6)


def test_same_as_an_exchange_that_gives_heat():
    body = body_of(BAR, STEEL, 0.01)
    steps = np.arange(0.5, 20.1, 0.5)
    inlet = Phase(20.0, inlets=(EdgeSource("left", even(FLUX), 0.01),), times=steps)
    edge = Phase(20.0, edges=(EdgeExchange("left", inflow(FLUX), 0.01),), times=steps)
    one = solve_heat(body, [inlet], initial=COLD, stepping=TIGHT)
    two = solve_heat(body, [edge], initial=COLD, stepping=TIGHT)
    np.testing.assert_allclose(one.temperature, two.temperature, atol=1e-5)
    assert one.absorbed[-1] == pytest.approx(-two.lost[-1], rel=1e-9)


def test_flux_that_varies_along_the_edge_and_in_time():
    """(1 + 40 x)(1 + t / 5) on 0.1 m for 10 s is linear in both: 0.3 x 20 exactly."""
    mesh = rectangle(0.1, 0.02, 10, 2)
    body = body_of(mesh, STEEL, 0.008)

    def flux(x, y, t):
        return 1e5 * (1.0 + 40.0 * x) * (1.0 + t / 5.0)

    phase = Phase(10.0, inlets=(EdgeSource("top", flux, 0.008),))
    history = solve_heat(body, [phase], initial=COLD, stepping=TIGHT)
    assert history.absorbed[-1] == pytest.approx(1e5 * 0.008 * 0.3 * 20.0, rel=1e-9)
    assert abs(history.imbalance) < 1e-6
    assert history.lost[-1] == 0.0
    hottest = mesh.points[int(np.argmax(history.temperature[-1]))]
    np.testing.assert_allclose(hottest, [0.1, 0.02], atol=1e-12)


def test_flux_through_a_round_edge():
    """Energy over a quarter of a circle of 100 mm, edges with their middles on it."""
    mesh = annulus(0.05, 0.10, 4, 16, 0.5 * np.pi)
    body = body_of(mesh, constant(K, CAPACITY))
    phase = Phase(4.0, inlets=(EdgeSource("outer", even(FLUX)),))
    history = solve_heat(body, [phase], initial=COLD, stepping=TIGHT)
    energy = FLUX * 0.5 * np.pi * 0.10 * 4.0
    assert history.absorbed[-1] == pytest.approx(energy, rel=1e-6)


def test_time_of_an_inlet_starts_with_its_phase():
    """Off at 2.8 s of its phase, in the second as in the first.

    Of the step from 2.5 to 3 s the flux at its first stage counts, 1 - gamma of it.
    """
    mesh = rectangle(0.02, 0.02, 2, 2)
    body = body_of(mesh, constant(K, CAPACITY))

    def flux(x, y, t):
        return np.full_like(x, FLUX if t < 2.8 else 0.0)

    steps = np.arange(0.5, 5.1, 0.5)
    phase = Phase(5.0, inlets=(EdgeSource("left", flux),), times=steps)
    history = solve_heat(body, [phase, phase], initial=COLD, stepping=TIGHT)
    energy = FLUX * 0.02 * (3.0 - 0.5 * GAMMA)
    assert history.absorbed[10] == pytest.approx(energy, rel=1e-9)
    assert history.absorbed[20] == pytest.approx(2.0 * energy, rel=1e-9)


def reached(target, flux, table, tolerance=4.0):
    body = body_of(BAR, table)
    heating = Phase(600.0, inlets=(EdgeSource("left", even(flux)),), heat_to=target)
    waiting = Phase(5.0, name=PhaseName("waiting"))
    control = Stepping(tolerance=tolerance)
    return solve_heat(body, [heating, waiting], initial=COLD, stepping=control)


@pytest.mark.parametrize("target", [200.0, 450.0, 650.0, 700.0, 800.0, 900.0])
@pytest.mark.parametrize("flux", [5e5, 2e6])
def test_phase_ends_at_its_target(target, flux):
    """Within 0.5 K."""
    history = reached(target, flux, STEEL)
    assert history.temperature.max() == pytest.approx(target, abs=0.5)
    end = history.phases.index(PhaseName("waiting")) - 1
    assert history.temperature[end].max() == history.temperature.max()
    energy = flux * 0.01 * history.times[end]
    assert history.absorbed[-1] == pytest.approx(energy, rel=1e-9)


def test_time_to_the_target_is_that_of_the_half_space():
    """k (T - T0) = 2 q sqrt(a t / pi) at the surface."""
    target = 600.0
    exact = np.pi / A * (K * (target - COLD) / (2.0 * FLUX)) ** 2
    body = body_of(BAR, constant(K, CAPACITY))
    inlet = EdgeSource("left", even(FLUX))
    heating = Phase(600.0, inlets=(inlet,), heat_to=target)
    history = solve_heat(
        body, [heating], initial=COLD, stepping=Stepping(tolerance=1.0)
    )
    # 0.5 K of 580 K in the temperature is 0.17 % in the time
    assert history.times[-1] == pytest.approx(exact, rel=0.004)


def test_target_out_of_reach():
    """A film holds the edge at COLD + flux / h."""
    body = body_of(rectangle(0.02, 0.02, 2, 2), constant(K, CAPACITY))
    inlet = EdgeSource("left", even(1e5))
    film = EdgeExchange("left", convection(1000.0, COLD), 1.0)
    heating = Phase(900.0, edges=(film,), inlets=(inlet,), heat_to=400.0)
    with pytest.raises(NotConverged, match="at 120 degC of 400 degC"):
        solve_heat(body, [heating], initial=COLD)

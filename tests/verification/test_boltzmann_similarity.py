"""Half-space whose surface jumps to 700 or 900 degC, with k(T) and c(T) of EN steel.

Boltzmann, Ann. Phys. 289 (1894) 959; Carslaw & Jaeger 2nd ed. 1959, sec. 2.16; Crank,
The Mathematics of Diffusion, sec. 7.2 (citations from memory).  With only x / sqrt t in
the solution, rho c T_t = (k T_x)_x becomes two ordinary equations in eta = x / sqrt t:

    T' = -q / k,    q' = -(eta / 2) (rho c / k) q,    q sqrt t the flux in W/m2,

shot here from the surface so that T falls to the cold end.  Properties EN 1993-1-2:2005,
3.4.1.2 and 3.4.1.3, with the peak of 5000 J/kgK at 735 degC.
"""

from __future__ import annotations

from math import exp

import numpy as np
import pytest
from heat_media import body_of
from meshes import grid, growing, nodes_on, values_at
from reference_steel import DENSITY, heat_content
from scipy.integrate import quad, solve_ivp
from scipy.optimize import brentq
from scipy.special import erfc

from shrinksim.heat import Phase, Stepping, solve_heat
from shrinksim.shop.steel import steel

pytestmark = pytest.mark.slow

COLD, FAR, HEIGHT = 20.0, 0.06, 0.01
"""degC; m/sqrt s, where the heat has not come; m."""
MESH = grid(growing(0.06, 1e-3, 0.3), np.array([0.0, HEIGHT]))
PLACES = np.array([0.002, 0.005, 0.010, 0.020, 0.030, 0.040])
MOMENTS = (10.0, 30.0, 60.0)


def rho_c(T: float) -> float:
    """J/m3K."""
    if T < 600.0:
        T = max(T, COLD)
        c = 425.0 + 0.773 * T - 1.69e-3 * T**2 + 2.22e-6 * T**3
    elif T < 735.0:
        c = 666.0 + 13002.0 / (738.0 - T)
    else:
        c = 545.0 + 17820.0 / (T - 731.0) if T < 900.0 else 650.0
    return DENSITY * c


def conductivity(T: float) -> float:
    return 54.0 - 0.0333 * max(T, COLD) if T < 800.0 else 27.3


def shot(q, hot, k, capacity):
    """From the surface with T = hot and q: the solution in eta of (T, ln q)."""

    def rate(eta, y):
        T, log_q = y
        flat = k(T)
        return [-exp(log_q) / flat, -0.5 * eta * capacity(T) / flat]

    start = [hot, np.log(q)]
    return solve_ivp(
        rate, (0.0, FAR), start, "DOP853", rtol=1e-10, atol=1e-9, max_step=1e-3,
        dense_output=True,
    )  # fmt: skip


def similarity(hot, k=conductivity, capacity=rho_c):
    """T(eta) and q at the surface, W sqrt s / m2."""
    guess = 40.0 * (hot - COLD) * np.sqrt(5e6 / (40.0 * np.pi))

    def miss(q):
        return shot(q, hot, k, capacity).y[0, -1] - COLD

    q = brentq(miss, 0.5 * guess, 2.0 * guess, rtol=1e-10)
    found = shot(q, hot, k, capacity)
    return lambda eta: found.sol(eta)[0], q


def test_shooting_gives_the_error_function():
    k, capacity, hot = 45.0, 7850.0 * 500.0, 700.0
    T, q = similarity(hot, lambda T: k, lambda T: capacity)
    eta = np.linspace(0.0, 0.02, 9)
    a = k / capacity
    exact = COLD + (hot - COLD) * erfc(eta / np.sqrt(4.0 * a))
    np.testing.assert_allclose(T(eta), exact, atol=1e-6)
    assert q == pytest.approx(k * (hot - COLD) / np.sqrt(np.pi * a), rel=1e-8)


@pytest.fixture(scope="module", params=[700.0, 900.0], ids=["700", "900"])
def both(request):
    """The surface's temperature, the reference and the package's march."""
    hot = request.param
    table = steel("S235").heat
    left = nodes_on(MESH, "left")
    steps = np.append(np.geomspace(1e-3, 0.1, 20), np.linspace(0.1, 60.0, 600)[1:])
    history = solve_heat(
        body_of(
            MESH,
            (table.start, table.step, table.conductivity, table.heat_content),
            fixed=left,
        ),
        [Phase(60.0, times=steps)],
        initial=COLD,
        fixed=lambda t: np.full(len(left), hot),
        stepping=Stepping(newton=1e-3),
    )
    return hot, similarity(hot), history


def test_reference_keeps_the_heat(both):
    """What came in, 2 q sqrt t, is what is stored."""
    _, (T, q), _ = both
    at = [brentq(lambda eta, v=v: T(eta) - v, 0.0, 0.03) for v in (600.0, 300.0)]
    stored = quad(
        lambda eta: float(heat_content(T(eta))), 0.0, FAR, points=at, limit=1000,
        epsrel=1e-9,
    )[0]  # fmt: skip
    assert stored == pytest.approx(2.0 * q, rel=1e-6)


@pytest.mark.parametrize("t", MOMENTS)
def test_temperatures(both, t):
    _, (T, _), history = both
    s = int(np.argmin(np.abs(history.times - t)))
    where = np.stack([PLACES, np.full(len(PLACES), 0.3 * HEIGHT)], axis=1)
    ours = values_at(MESH, history.temperature[s], where)
    exact = T(PLACES / np.sqrt(history.times[s]))
    np.testing.assert_allclose(ours, exact, atol=0.5)


def test_heat_taken_up(both):
    _, (_, q), history = both
    for t in MOMENTS:
        s = int(np.argmin(np.abs(history.times - t)))
        exact = 2.0 * q * np.sqrt(history.times[s]) * HEIGHT
        assert history.absorbed[s] == pytest.approx(exact, rel=0.005)
    assert abs(history.imbalance) < 1e-5

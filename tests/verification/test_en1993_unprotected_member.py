"""Unprotected steel member in the ISO 834 fire.

EN 1993-1-2:2005, 4.2.5.1 (steel temperature), EN 1991-1-2:2002, 3.1 (net heat flux) and
3.2.1 (standard curve, 25 W/m2K): emissivity of steel 0.7 and of fire 1, view factor and
shadow factor 1; the member is a plate of thickness 2 / (Am/V) heated on both faces.  The
digits are the standard's own equation with dt -> 0, integrated here by scipy.  The
standard steps by 5 s with the gas at the end of each step, and published tables (ECCS;
Franssen & Vila Real, annex A, from memory) are of that kind: up to 3 K hotter.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from heat_media import body_of
from meshes import rectangle
from reference_steel import DENSITY, specific_heat
from scipy.integrate import solve_ivp

from shrinksim.fem.conduction import EdgeExchange, Exchange
from shrinksim.heat import Phase, Stepping, solve_heat
from shrinksim.shop.steel import steel

pytestmark = pytest.mark.slow

FILM, SIGMA, ICE, COLD, HOUR = 25.0, 0.7 * 5.67e-8, 273.0, 20.0, 3600.0
"""5.67e-8 and 273 as printed in the standards."""
MINUTES = np.array([10.0, 15.0, 20.0, 30.0, 60.0])
LIMIT = {
    50.0: [241.55, 383.46, 510.97, 690.30, 922.92],
    100.0: [392.21, 564.52, 675.98, 767.35, 937.99],
    300.0: [614.31, 707.77, 743.27, 834.68, 943.02],
}
FIVE_SECONDS = {
    50.0: [243.10, 385.17, 512.66, 691.53, 923.36],
    100.0: [394.89, 566.88, 677.70, 768.44, 938.22],
    300.0: [617.23, 709.00, 743.99, 835.17, 943.24],
}
HEAT = steel("S235").heat
STEEL = (HEAT.start, HEAT.step, HEAT.conductivity, HEAT.heat_content)
SECTIONS = pytest.mark.parametrize("factor", [50.0, 100.0, 300.0])


def gas(t):
    return COLD + 345.0 * np.log10(8.0 * t / 60.0 + 1.0)


def fire(T, t):
    """Heat leaving the steel and its slope."""
    q = FILM * (T - gas(t)) + SIGMA * ((T + ICE) ** 4 - (gas(t) + ICE) ** 4)
    return q, FILM + 4.0 * SIGMA * (T + ICE) ** 3


def rate(t, T, factor):
    return -factor * fire(T, t)[0] / (DENSITY * specific_heat(T))


@cache
def limit(factor):
    """The equation with dt -> 0, as a function of t."""
    return solve_ivp(
        rate, (0.0, HOUR), [COLD], "DOP853", args=(factor,), dense_output=True,
        rtol=1e-9, atol=1e-7, max_step=20.0,
    ).sol  # fmt: skip


def exact(times, factor):
    return limit(factor)(times)[0]


@SECTIONS
def test_reference(factor):
    ours = exact(60.0 * MINUTES, factor)
    np.testing.assert_allclose(ours, LIMIT[factor], atol=6e-3)
    T, steps = COLD, []
    for t in np.arange(5.0, HOUR + 1.0, 5.0):
        T += 5.0 * float(rate(t, np.array(T), factor))
        steps.append(T)
    five = np.array(steps)[np.rint(12 * MINUTES).astype(int) - 1]
    np.testing.assert_allclose(five, FIVE_SECONDS[factor], atol=6e-3)


def minutes(history):
    return [int(np.argmin(np.abs(history.times - 60.0 * m))) for m in MINUTES]


@SECTIONS
def test_plate_heated_on_its_faces(factor):
    """In-plane model, steps of the package's own choice."""
    mesh = rectangle(0.05, 0.05, 2, 2)
    history = solve_heat(
        body_of(mesh, STEEL, 2.0 / factor),
        [Phase(HOUR, (Exchange(fire, np.array(2.0)),))],
        initial=COLD,
        stepping=Stepping(tolerance=1.0),
    )
    assert np.ptp(history.temperature, axis=1).max() < 1e-6
    np.testing.assert_allclose(
        history.temperature[1:, 0], exact(history.times[1:], factor), atol=1.5
    )


@SECTIONS
@pytest.mark.parametrize("dt", [10.0, 30.0])
def test_plate_in_even_steps(factor, dt):
    mesh = rectangle(0.05, 0.05, 1, 1)
    phase = Phase(
        HOUR,
        (Exchange(fire, np.array(2.0)),),
        times=np.arange(dt, HOUR + 1.0, dt),
    )
    history = solve_heat(body_of(mesh, STEEL, 2.0 / factor), [phase], initial=COLD)
    ours = history.temperature[minutes(history), 0]
    np.testing.assert_allclose(ours, exact(60.0 * MINUTES, factor), atol=1.5)


def test_section_through_the_plate():
    """Am/V = 300 with its thickness of 6.7 mm resolved, heated at two named edges.

    The mean is compared; face and middle differ by q d / 4 k, less than 1 K.
    """
    mesh = rectangle(2.0 / 300.0, 0.005, 4, 2)
    body = body_of(mesh, STEEL)
    edges = tuple(EdgeExchange(side, fire, 1.0) for side in ("left", "right"))
    phase = Phase(HOUR, edges=edges, times=np.arange(10.0, HOUR + 1.0, 10.0))
    history = solve_heat(body, [phase], initial=COLD)
    at = history.temperature[:, mesh.triangles] @ body.quadrature.N.T
    mean = np.einsum("seq,eq->s", at, body.volume) / body.volume.sum()
    np.testing.assert_allclose(
        mean[minutes(history)], exact(60.0 * MINUTES, 300.0), atol=1.5
    )

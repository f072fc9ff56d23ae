"""Thin plate under a steadily moving point source, with and without face losses.

Rosenthal, Trans. ASME 68 (1946) 849; Carslaw & Jaeger 2nd ed. sec. 10.7 (citation from
memory).  T = T0 + Q/(2 pi k d) exp(-v xi/2a) K0(v r/2a), xi ahead of the source; with a
film h on each face the argument is r sqrt((v/2a)^2 + 2h/kd).  Evaluated here.

The torch starts 200 mm or more before the place looked at, which leaves out less than
1e-4 of the rise, and is a Gaussian of sigma no more than a third of the distance.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection
from meshes import grid, growing, values_at
from scipy.optimize import minimize_scalar
from scipy.special import kve

from shrinksim.fem.conduction import Exchange
from shrinksim.heat import Phase, Stepping, solve_heat

Q, V, D, K, CAPACITY, AIR = 3000.0, 5e-3, 8e-3, 45.0, 7850.0 * 600.0, 20.0
A = K / CAPACITY
POINTS = [
    (0.0, 10.0, 92.0459, 91.7765),
    (0.0, 20.0, 23.7928, 23.7666),
    (-20.0, 0.0, 730.8420, 725.9197),
    (-50.0, 0.0, 475.3418, 467.8855),
    (-50.0, 20.0, 180.2498, 177.4324),
    (-100.0, 30.0, 120.0345, 116.7068),
]
PEAKS = [
    (10.0, 393.0767, -27.766, 3e-3, 0.25),
    (20.0, 210.9610, -106.48, 6e-3, 0.5),
    (40.0, 116.1083, -420.55, 8e-3, 0.8),
]


def exact(xi: float, y: float, h: float = 0.0) -> float:
    """xi, y : m.  kve is exp(z) K0(z), which keeps large arguments finite."""
    r = np.hypot(xi, y)
    z = r * np.sqrt((V / (2 * A)) ** 2 + 2 * h / (K * D))
    rise = Q / (2 * np.pi * K * D) * np.exp(-V * xi / (2 * A) - z) * kve(0, z)
    return float(AIR + rise)


def travelling(sigma: float, start: float, end: float):
    """Gaussian flux on the half plate y >= 0; x = start at t = 0, put out at end."""

    def flux(x, y, t):
        at = start + V * t
        r2 = (x - at) ** 2 + y**2
        on = Q / (2 * np.pi * sigma**2) if at <= end + 1e-9 else 0.0
        return on * np.exp(-r2 / (2 * sigma**2))

    return flux


def half_plate(length: float, size: float, fine: float, depth: float, start: float):
    """Cells of ``size`` along x and for ``fine`` m of y, then growing."""
    x = np.linspace(0.0, length, round(length / size) + 1)
    mesh = grid(x - start, growing(fine, size, depth))
    return mesh, body_of(mesh, constant(K, CAPACITY), D)


@pytest.fixture(scope="module", params=[0.0, 30.0], ids=["adiabatic", "film"])
def behind_the_torch(request):
    """The torch comes from x = -0.25 to x = 0, where it is looked at."""
    h = request.param
    mesh, body = half_plate(0.34, 4e-3, 0.012, 0.13, 0.30)
    faces = (Exchange(convection(h, AIR), np.array(2.0)),)
    history = solve_heat(
        body,
        [
            Phase(
                50.0,
                faces,
                sources=(travelling(3e-3, -0.25, 0.0),),
                times=np.linspace(0.0, 50.0, 134)[1:],
            )
        ],
        initial=AIR,
        stepping=Stepping(newton=1e-3),
    )
    return h, mesh, history.temperature[-1]


def test_field_around_the_source(behind_the_torch):
    h, mesh, T = behind_the_torch
    for xi, y, adiabatic, film in POINTS:
        reference = exact(xi / 1e3, y / 1e3, h)
        assert reference == pytest.approx(film if h else adiabatic, abs=6e-5)
        ours = values_at(mesh, T, [[xi / 1e3, y / 1e3]])[0]
        assert ours == pytest.approx(reference, rel=0.02)


@pytest.mark.parametrize(("y", "digits", "where", "sigma", "dt"), PEAKS)
def test_peak_beside_the_path(y, digits, where, sigma, dt):
    """The torch passes x = 0 and goes out 0.2 m on: too far off to matter there."""
    y = y / 1e3
    found = minimize_scalar(
        lambda xi: -exact(xi, y), bounds=(-1.0, 0.0), options={"xatol": 1e-9}
    )
    assert -found.fun == pytest.approx(digits, abs=6e-5)
    assert found.x * 1e3 == pytest.approx(where, abs=6e-3)
    before, after = 0.20, min(0.20, -found.x + 0.06)
    mesh, body = half_plate(before + after + 0.1, sigma, 3 * sigma, 0.16, before + 0.05)
    passing = before / V
    end = passing - found.x / V * 1.15
    burning = min(passing + after / V, end)
    source = travelling(sigma, -before, after)
    phases = [
        Phase(
            burning,
            sources=(source,),
            times=np.linspace(0.0, burning, round(burning / dt) + 1)[1:],
        )
    ]
    if end > burning:
        phases.append(Phase(end - burning, times=np.arange(1.0, end - burning)))
    history = solve_heat(body, phases, initial=AIR, stepping=Stepping(newton=1e-3))
    at = values_at(mesh, history.temperature, [[0.0, y]])[:, 0]
    assert at.max() == pytest.approx(-found.fun, rel=0.02)

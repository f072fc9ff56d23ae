"""Thin plate that loses heat from its faces: the straight fin.

Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, sec. 3.6, extended surfaces
of uniform cross-section (citation from memory); the closed forms are evaluated here.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection
from meshes import nodes_on, rectangle, values_at

from shrinksim.fem.conduction import Exchange, Loads, heat_step, steady_heat

THICKNESS, K, H, BASE, AIR = 0.010, 45.0, 25.0, 600.0, 20.0
M = np.sqrt(2.0 * H / (K * THICKNESS))
WIDTH = 0.02


def fin(length: float, cells: int):
    """Mesh, temperatures, and heat flow into the base in W per m of width."""
    mesh = rectangle(length, WIDTH, cells, 1)
    base = nodes_on(mesh, "left")
    body = body_of(mesh, constant(K, 7850.0 * 500.0), THICKNESS, base)
    loads = Loads(
        [Exchange(convection(H, AIR), np.array(2.0))],
        fixed=lambda t: np.full(len(base), BASE),
    )
    T = steady_heat(body, np.full(len(mesh.points), AIR), loads)
    step = heat_step(body, T, 0.0, 10.0, loads, tolerance=1e-9)
    assert np.abs(step.T - T).max() < 1e-6  # it is steady
    assert step.lost == pytest.approx(step.gained, rel=1e-9)
    return mesh, T, step.gained / 10.0 / WIDTH


def at(mesh, T, x):
    return values_at(mesh, T, np.stack([x, np.full(len(x), 0.3 * WIDTH)], axis=1))


def test_long_fin():
    x = np.array([0.05, 0.10, 0.20])
    exact = AIR + (BASE - AIR) * np.exp(-M * x)
    assert pytest.approx(10.540926, abs=6e-7) == M
    np.testing.assert_allclose(exact, [362.4007, 222.1350, 90.4458], atol=6e-5)
    mesh, T, _ = fin(1.2, 120)
    np.testing.assert_allclose(at(mesh, T, x), exact, atol=0.005)


def test_fin_with_an_insulated_tip():
    length = 0.2
    x = np.array([0.1, 0.2])
    exact = AIR + (BASE - AIR) * np.cosh(M * (length - x)) / np.cosh(M * length)
    np.testing.assert_allclose(exact, [243.3904, 158.8433], atol=6e-5)
    mesh, T, flow = fin(length, 20)
    np.testing.assert_allclose(at(mesh, T, x), exact, atol=0.001)
    base = K * THICKNESS * M * (BASE - AIR) * np.tanh(M * length)
    assert base == pytest.approx(2671.190, abs=6e-4)
    assert flow == pytest.approx(base, rel=1e-5)

"""Steady conduction with k(T): the Kirchhoff transform.

Carslaw & Jaeger, Conduction of Heat in Solids, 2nd ed. 1959, sec. 1.6 (citation from
memory); k = 54 - 0.0333 T of EN 1993-1-2:2005, 3.4.1.3, 20 to 800 degC.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, convection
from meshes import annulus, nodes_on, rectangle, values_at
from scipy.optimize import brentq

from shrinksim.fem.conduction import EdgeExchange, Loads, heat_step, steady_heat

COLD, HOT, LENGTH = 20.0, 800.0, 0.1
TABLE = (0.0, 800.0, np.array([54.0, 54.0 - 0.0333 * 800.0]), np.array([0.0, 3.2e9]))


def potential(T):
    """Integral of k from 0 degC, W/m."""
    return 54.0 * T - 0.5 * 0.0333 * T**2


def temperature(U):
    return (54.0 - np.sqrt(54.0**2 - 2.0 * 0.0333 * U)) / 0.0333


DROP = potential(HOT) - potential(COLD)


def steady(mesh, held, edges=()):
    """Body and temperatures with the named edges held (edge -> degC)."""
    nodes = [nodes_on(mesh, name) for name in held]
    fixed = np.concatenate(nodes)
    ends = np.repeat(list(held.values()), [len(n) for n in nodes])
    body = body_of(mesh, TABLE, fixed=fixed)
    loads = Loads(edges=edges, fixed=lambda t: ends)
    T = steady_heat(body, np.full(len(mesh.points), 400.0), loads)
    return body, T


def test_slab_between_20_and_800():
    mesh = rectangle(LENGTH, 0.02, 8, 1)
    _, T = steady(mesh, {"left": COLD, "right": HOT})
    share = np.array([0.25, 0.5, 0.75])
    exact = temperature(potential(COLD) + share * DROP)
    np.testing.assert_allclose(exact, [175.01892, 348.77954, 550.36324], atol=6e-6)
    where = np.stack([share * LENGTH, np.full(3, 0.007)], axis=1)
    np.testing.assert_allclose(values_at(mesh, T, where), exact, atol=0.005)


def test_flow_through_the_slab():
    """Only the hot end is held; what leaves at the cold face is the flow."""
    flow = DROP / LENGTH
    assert flow == pytest.approx(314706.600, abs=1e-3)
    mesh = rectangle(LENGTH, 0.02, 8, 1)
    film = EdgeExchange("left", convection(1e7, COLD), 1.0)
    body, T = steady(mesh, {"right": HOT}, [film])
    hot = nodes_on(mesh, "right")
    loads = Loads(edges=[film], fixed=lambda t: np.full(len(hot), HOT))
    step = heat_step(body, T, 0.0, 1.0, loads, tolerance=1e-9)
    assert step.gained / 0.02 == pytest.approx(flow, rel=2e-4)


def test_hollow_cylinder():
    inner, outer = 0.05, 0.10
    mesh = annulus(inner, outer, 16, 24, 0.5 * np.pi)
    _, T = steady(mesh, {"inner": HOT, "outer": COLD})
    r = np.linalg.norm(mesh.points, axis=1)
    share = np.log(outer / r) / np.log(outer / inner)
    exact = temperature(potential(COLD) + share * DROP)
    np.testing.assert_allclose(T, exact, atol=0.05)
    for radius, digits in ((0.075, 287.18650), (0.0707107, 348.77954)):
        U = potential(COLD) + DROP * np.log(outer / radius) / np.log(outer / inner)
        assert temperature(U) == pytest.approx(digits, abs=6e-4)
    near = T[np.abs(r - 0.075) < 1e-9]
    assert len(near) > 5
    np.testing.assert_allclose(near, 287.18650, atol=0.05)


def test_power_through_the_hollow_cylinder():
    inner, outer = 0.05, 0.10
    power = 2.0 * np.pi * DROP / np.log(outer / inner)
    assert power == pytest.approx(285272.730, abs=1e-3)
    mesh = annulus(inner, outer, 8, 24)
    film = EdgeExchange("outer", convection(1e7, COLD), 1.0)
    body, T = steady(mesh, {"inner": HOT}, [film])
    hot = nodes_on(mesh, "inner")
    loads = Loads(edges=[film], fixed=lambda t: np.full(len(hot), HOT))
    step = heat_step(body, T, 0.0, 1.0, loads, tolerance=1e-9)
    assert step.gained == pytest.approx(power, rel=2e-4)


def test_slab_with_a_convective_face():
    h = 500.0

    def miss(T):
        return (potential(HOT) - potential(T)) / LENGTH - h * (T - COLD)

    face = brentq(miss, COLD, HOT, xtol=1e-12)
    assert face == pytest.approx(341.17356, abs=6e-6)
    assert h * (face - COLD) == pytest.approx(160586.779, abs=1e-3)
    mesh = rectangle(LENGTH, 0.02, 8, 1)
    film = EdgeExchange("left", convection(h, COLD), 1.0)
    _, T = steady(mesh, {"right": HOT}, [film])
    np.testing.assert_allclose(T[nodes_on(mesh, "left")], face, atol=0.005)

"""Heat steps with the factor of an earlier step: the same temperatures, fewer factors."""

import numpy as np
import pytest
from heat_media import body_of, convection
from hypothesis import given, settings
from hypothesis import strategies as some
from meshes import rectangle
from reference_problem import heat_table

from shrinksim.fem import conduction
from shrinksim.fem.conduction import Exchange, FactorCache, Loads, heat_step

TOLERANCE = 1e-3
"""K, of a step; what a chain of steps adds up to is a few of them."""


def plate(mesh, thickness):
    """Steel of EN 1993-1-2."""
    table = heat_table()
    parts = table.start, table.step, table.conductivity, table.heat_content
    return body_of(mesh, parts, thickness)


@pytest.fixture(scope="module")
def body():
    return plate(rectangle(0.2, 0.1, 8, 4), 0.01)


def march(body, steps, cache):
    """Temperatures after steps (s) under a torch that goes out half way."""
    x, y = body.quadrature.xy[..., 0], body.quadrature.xy[..., 1]
    hot = 4e5 * np.exp(-((x - 0.1) ** 2 + (y - 0.05) ** 2) / 0.02**2)
    out = sum(steps) / 2
    faces = (Exchange(convection(400.0, 20.0), np.full((1, 1), 2.0)),)
    loads = Loads(faces, source=lambda t: hot * (t <= out))
    T, t, nodal_heat, rate = np.full(len(body.mesh.points), 20.0), 0.0, None, None
    for dt in steps:
        step = heat_step(
            body, T, t, dt, loads, tolerance=TOLERANCE, nodal_heat=nodal_heat,
            rate=rate, cache=cache,
        )  # fmt: skip
        rate, nodal_heat = (step.T - T) / dt, step.nodal_heat
        T, t = step.T, t + dt
    return T


def stepped(body, T, steps, loads, tolerance, cache, second_order=True):
    """Temperatures (s, n) after equal steps (number, s)."""
    number, dt = steps
    nodal_heat, rate, rows = None, None, []
    for k in range(number):
        step = heat_step(
            body, T, k * dt, dt, loads, second_order=second_order, tolerance=tolerance,
            nodal_heat=nodal_heat, rate=rate, cache=cache,
        )  # fmt: skip
        rate, nodal_heat = (step.T - T) / dt, step.nodal_heat
        T = step.T
        rows.append(T)
    return np.array(rows)


def latent(times, width):
    """A plate whose heat capacity rises ``times`` around 700 degC, ``width`` K wide."""
    T = np.arange(-100.0, 1501.0)
    peak = np.exp(-0.5 * ((T - 700.0) / width) ** 2)
    capacity = 4.5e6 * (1.0 + (times - 1.0) * peak)
    content = np.append(0.0, np.cumsum(0.5 * (capacity[1:] + capacity[:-1])))
    table = (-100.0, 1.0, np.full(len(T), 30.0), content)
    return body_of(rectangle(0.2, 0.1, 8, 4), table, 0.003)


@pytest.mark.parametrize(("times", "width"), [(10.0, 10.0), (30.0, 2.0)])
def test_a_sharp_peak_of_capacity_is_not_slept_through(times, width):
    """Latent heat: a factor made inside the peak makes what is left look small."""
    body = latent(times, width)
    loads = Loads((Exchange(convection(20.0, 20.0), np.full((1, 1), 2.0)),))
    T = 704.0 + 40.0 * body.mesh.points[:, 0] / 0.2
    sharp = stepped(body, T, (400, 0.5), loads, 1e-8, None)
    reused = stepped(body, T, (400, 0.5), loads, 1e-2, FactorCache())
    assert np.abs(reused - sharp).max() <= 5e-2


def test_two_changes_of_unlike_kind_are_both_followed():
    """A torch comes on at one end, which a kept factor sees well, while the other end
    cools through the peak of EN 1993-1-2, which it does not."""
    body = plate(rectangle(0.4, 0.05, 16, 2), 0.003)
    number, dt = 26, 0.2
    right = body.quadrature.xy[..., 0] > 0.3
    loads = Loads(
        (Exchange(convection(400.0, 20.0), np.full((1, 1), 2.0)),),
        source=lambda t: np.where(right, 1e6 * (t > 0.3 * number * dt), 0.0),
    )
    T = np.where(body.mesh.points[:, 0] < 0.2, 745.0, 20.0)
    sharp = stepped(body, T, (number, dt), loads, 1e-8, None, False)
    reused = stepped(body, T, (number, dt), loads, 1e-2, FactorCache(), False)
    assert np.abs(reused - sharp).max() <= 5e-2


@settings(max_examples=25, deadline=None)
@given(some.lists(some.floats(0.3, 3.0), min_size=4, max_size=12))
def test_temperatures_are_those_of_new_factors(body, ratios):
    steps = list(0.5 * np.array(ratios))
    apart = np.abs(march(body, steps, FactorCache()) - march(body, steps, None))
    assert apart.max() <= 5 * TOLERANCE


def test_steps_alike_share_a_factor(body, monkeypatch):
    made = []

    def counted(plan, matrix, old=conduction.factorise):
        made.append(1)
        return old(plan, matrix)

    monkeypatch.setattr(conduction, "factorise", counted)
    march(body, [0.5] * 20, None)
    anew = len(made)
    made.clear()
    march(body, [0.5] * 20, FactorCache())
    assert anew >= 20
    assert len(made) <= anew / 2


def test_a_step_of_another_size_gets_its_own(body):
    cache = FactorCache()
    march(body, [1.0] * 3, cache)
    assert cache.is_fresh_enough(cache.dt)
    assert not cache.is_fresh_enough(2.0 * cache.dt)
    assert not cache.is_fresh_enough(0.5 * cache.dt)

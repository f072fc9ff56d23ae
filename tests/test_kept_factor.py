"""Heat steps with the factor of an earlier step: the same temperatures, fewer factors."""

import numpy as np
import pytest
from heat_media import convection
from hypothesis import given, settings
from hypothesis import strategies as some
from meshes import rectangle
from reference_problem import heat_table

from shrinksim.fem import conduction
from shrinksim.fem.conduction import Exchange, KeptFactor, Loads, heat_step, medium

TOLERANCE = 1e-3
"""K, of a step; what a chain of steps adds up to is a few of them."""


@pytest.fixture(scope="module")
def body():
    table = heat_table()
    return medium(
        rectangle(0.2, 0.1, 8, 4), 0.01, table.start, table.step, table.conductivity,
        table.heat_content,
    )  # fmt: skip


def march(body, steps, kept):
    """Temperatures after steps (s) under a torch that goes out half way."""
    x, y = body.quadrature.xy[..., 0], body.quadrature.xy[..., 1]
    hot = 4e5 * np.exp(-((x - 0.1) ** 2 + (y - 0.05) ** 2) / 0.02**2)
    out = sum(steps) / 2
    faces = (Exchange(convection(400.0, 20.0), np.full((1, 1), 2.0)),)
    loads = Loads(faces, source=lambda t: hot * (t <= out))
    T, t, held, rate = np.full(len(body.mesh.points), 20.0), 0.0, None, None
    for dt in steps:
        step = heat_step(
            body, T, t, dt, loads, tolerance=TOLERANCE, held=held, rate=rate, kept=kept
        )  # fmt: skip
        rate, held = (step.T - T) / dt, step.held
        T, t = step.T, t + dt
    return T


@settings(max_examples=25, deadline=None)
@given(some.lists(some.floats(0.3, 3.0), min_size=4, max_size=12))
def test_temperatures_are_those_of_new_factors(body, ratios):
    steps = list(0.5 * np.array(ratios))
    apart = np.abs(march(body, steps, KeptFactor()) - march(body, steps, None))
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
    march(body, [0.5] * 20, KeptFactor())
    assert anew >= 20
    assert len(made) <= anew / 2


def test_a_step_of_another_size_gets_its_own(body):
    kept = KeptFactor()
    march(body, [1.0] * 3, kept)
    assert kept.serves(kept.dt)
    assert not kept.serves(2.0 * kept.dt)
    assert not kept.serves(0.5 * kept.dt)

"""Torsion of a flat bar whose ends turn about its axis and are free to warp.

Timoshenko & Goodier, Theory of Elasticity, art. 109 (from memory): J = b d3 / 3
(1 - 192 d / (pi^5 b) sum tanh(n pi b / 2 d) / n^5, n odd).
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import grid
from plate_states import on_modes, rim_dofs
from strain_cases import NU, TIGHT, E, constant_steel, uniform

from shrinksim.fem.plate import plate_body
from shrinksim.fem.plate_ends import missing
from shrinksim.fem.sparse import ties
from shrinksim.fem.structure import support
from shrinksim.fem.through import modes_through

L, D, TURN = 0.06, 0.01, 1e-3


def torsion_constant(b: float) -> float:
    """m4, of a bar b wide and D thick."""
    n = np.arange(1, 40, 2)
    series = np.sum(np.tanh(0.5 * n * np.pi * b / D) / n**5)
    return b * D**3 / 3.0 * (1.0 - 192.0 / np.pi**5 * D / b * series)


def torque(b: float, modes=None) -> float:
    """N m of a bar turned by TURN, from its energy."""
    edge = 0.5 * b - D * np.array([0.6, 0.3, 0.12, 0.0])
    inner = np.linspace(-edge[0], edge[0], 2 * round(b / D))
    y = np.concatenate([-edge[:0:-1], inner, edge[1:]]) + 0.5 * b
    mesh = grid(np.linspace(0.0, L, 3), y)
    body = plate_body(mesh, D, constant_steel(level=1e12), modes=modes)
    ends = np.concatenate([np.unique(mesh.edges[s]) for s in ("left", "right")])
    dofs = rim_dofs(body, ends)
    across = dofs[dofs % 3 > 0]
    stop = rim_dofs(body, ends[:1])[:1]
    every = np.concatenate([across, stop, missing(body.solid, body.modes)])
    fixed = np.unique(every)

    def turned(x, y, z):
        angle = TURN * x / L
        return 0.0 * x, -angle * z, angle * (y - 0.5 * b)

    offset = np.zeros(3 * body.solid.nodes)
    offset[across] = on_modes(body, turned).ravel()[across]
    hold = support(ties(len(offset), fixed), offset=offset)
    out = uniform(body, hold, [20.0, 20.0], [0.0, 1.0], control=TIGHT)
    s, G = out.stress, 0.5 * E / (1.0 + NU)
    straight, shear = s[..., [0, 1, 3]], s[..., [2, 4, 5]]
    trace = straight.sum(axis=-1)
    density = (1.0 + NU) * (straight**2).sum(axis=-1) - NU * trace**2
    energy = 0.5 * density / E + 0.5 * (shear**2).sum(axis=-1) / G
    return 2.0 * float(np.sum(body.weight * energy)) / TURN


WIDTHS = [0.03, 0.06, 0.1]


@pytest.mark.parametrize(("ratio", "beta"), [(3.0, 0.263), (6.0, 0.299), (10.0, 0.312)])
def test_constant_is_that_of_the_table(ratio, beta):
    """J / b d3 of the same article's table 6 to three digits, the last one rounded."""
    assert torsion_constant(ratio * D) / (ratio * D**4) == pytest.approx(beta, abs=1e-3)


@pytest.mark.parametrize("width", WIDTHS)
def test_torque_of_the_usual_modes(width):
    """Second order in the plane leaves the shear at the edges out: 0.07 d / b of it."""
    want = 0.5 * E / (1.0 + NU) * torsion_constant(width) * TURN / L
    assert want < torque(width) < (1.0 + 0.07 * D / width) * want


@pytest.mark.parametrize("width", WIDTHS)
def test_torque_of_third_order_is_exact(width):
    want = 0.5 * E / (1.0 + NU) * torsion_constant(width) * TURN / L
    got = torque(width, modes_through(D, (3, 3), 6))
    assert got == pytest.approx(want, rel=2e-4)

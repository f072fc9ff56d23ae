"""Patch tests: a state of uniform strain must come out exactly, on a distorted mesh.

R. H. MacNeal & R. L. Harder, A proposed standard set of problems to test finite element
accuracy, Finite Elements in Analysis and Design 1 (1985) 3-20, membrane patch (from
memory): E 1e6, nu 0.25, u = 1e-3 (x + y/2), v = 1e-3 (y + x/2) on the boundary gives
stresses 4000/3, 4000/3, 400.  Units play no part; they are read as SI here.
"""

from __future__ import annotations

import numpy as np
import pytest
from strain_cases import ALPHA, NU, SY, E, constant_steel, uniform

from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sheet import strain_body, support
from shrinksim.fem.sparse import ties
from shrinksim.strain import Control

CORNERS = np.array(
    [
        [0.0, 0.0], [0.24, 0.0], [0.24, 0.12], [0.0, 0.12],
        [0.04, 0.02], [0.18, 0.03], [0.16, 0.08], [0.08, 0.08],
    ]
)  # fmt: skip
QUADS = [[0, 1, 5, 4], [1, 2, 6, 5], [2, 3, 7, 6], [3, 0, 4, 7], [4, 5, 6, 7]]


def patch() -> Mesh:
    """The patch of five quadrilaterals, each cut into two triangles."""
    points = [tuple(p) for p in CORNERS]
    middles: dict[tuple[int, int], int] = {}

    def middle(a: int, b: int) -> int:
        key = (min(a, b), max(a, b))
        if key not in middles:
            middles[key] = len(points)
            points.append(tuple(0.5 * (CORNERS[a] + CORNERS[b])))
        return middles[key]

    triangles = [
        [a, b, c, middle(a, b), middle(b, c), middle(c, a)]
        for q in QUADS
        for a, b, c in ((q[0], q[1], q[2]), (q[0], q[2], q[3]))
    ]
    return Mesh(np.array(points), np.array(triangles), np.zeros(len(triangles), int))


def boundary(mesh: Mesh) -> np.ndarray:
    x, y = mesh.points.T
    near = (x < 1e-9) | (x > 0.24 - 1e-9) | (y < 1e-9) | (y > 0.12 - 1e-9)
    return np.flatnonzero(near)


def strained(table, exx: float, eyy: float, gamma: float, rule: str, steps: int = 1):
    """The patch with its boundary moved by a uniform strain, and the wanted motion."""
    mesh = patch()
    x, y = mesh.points.T
    wanted = np.stack([exx * x + 0.5 * gamma * y, eyy * y + 0.5 * gamma * x], axis=1)
    rim = boundary(mesh)
    fixed = np.stack([2 * rim, 2 * rim + 1], axis=1).ravel()
    given = np.zeros(2 * len(mesh.points))
    given[fixed] = wanted.ravel()[fixed]
    hold = support(ties(len(given), fixed), offset=given)
    body = strain_body(mesh, 0.001, table, rule=rule)
    part = np.linspace(0.0, 1.0, steps + 1)
    control = Control(tolerance=1e-13, iterations=40)
    out = uniform(body, hold, np.full(steps + 1, 20.0), part, control=control)
    return out, wanted


@pytest.mark.parametrize("rule", ["interior 3", "interior 6", "mid-side 3"])
def test_elastic_patch(rule):
    """D8: exact to 1e-9."""
    table = constant_steel(1e6, 0.25, 0.0, 1e12)
    out, wanted = strained(table, 1e-3, 1e-3, 1e-3, rule)
    assert out.stress[..., :2] == pytest.approx(4000.0 / 3.0, rel=1e-9)
    assert out.stress[..., 2] == pytest.approx(400.0, rel=1e-9)
    assert out.displacement[-1] == pytest.approx(wanted, abs=1e-9 * 2.4e-4)


# strains; stresses MPa from the closed forms of test_hill_points
PLASTIC = [
    ((3e-3, 3e-3, 0.0), (243.75, 243.75, 0.0)),
    ((0.0, 0.0, 6e-3), (0.0, 0.0, 138.533859)),
]


@pytest.mark.parametrize(("strain", "stress"), PLASTIC)
@pytest.mark.parametrize("steps", [1, 5])
def test_plastic_patch(strain, stress, steps):
    """D8: the same patch well above yield, linear hardening 2 GPa."""
    out, wanted = strained(constant_steel(slope=2e9), *strain, "interior 3", steps)
    spread = np.ptp(out.stress, axis=(0, 1))
    assert spread.max() < 1e-9 * SY
    for k in range(3):
        assert out.stress[..., k] / 1e6 == pytest.approx(stress[k], rel=1e-8, abs=1e-6)
    assert out.displacement[-1] == pytest.approx(wanted, abs=1e-9 * 2.4e-4)
    assert out.equivalent_plastic.min() > 1e-3


@pytest.mark.parametrize("slope", [(0.0, 0.0), (2000.0, -700.0)])
def test_free_plate_in_a_linear_temperature_has_no_stress(slope):
    """D8: zero stress to 1e-9 of E alpha T, and the motion of the linear field."""
    mesh = patch()
    x, y = mesh.points.T
    a, (b, c) = 500.0, slope
    hold = support(ties(2 * len(x), np.array([0, 1, 3])))  # corner 0, and v of corner 1
    field = (a + b * x + c * y) / a
    body = strain_body(mesh, 0.01, constant_steel(level=1e12))
    out = uniform(
        body, hold, [20.0, 20.0 + a], field=field, control=Control(tolerance=1e-6)
    )
    assert np.abs(out.stress).max() < 1e-9 * E * ALPHA * a
    u = ALPHA * (a * x + 0.5 * b * (x**2 - y**2) + c * x * y)
    v = ALPHA * (a * y + b * x * y + 0.5 * c * (y**2 - x**2))
    v_spin = v[1] / 0.24  # the support takes this turn out
    wanted = np.stack([u + v_spin * y, v - v_spin * x], axis=1)
    assert out.displacement[-1] == pytest.approx(wanted, abs=1e-9 * ALPHA * a * 0.24)


def test_plate_held_both_ways():
    """D7: heated by 300 K and cooled, plane stress; algebra here."""
    mesh = patch()
    x, y = mesh.points.T
    sides = np.flatnonzero((x < 1e-9) | (x > 0.24 - 1e-9))
    flats = np.flatnonzero((y < 1e-9) | (y > 0.12 - 1e-9))
    hold = support(ties(2 * len(x), np.concatenate([2 * sides, 2 * flats + 1])))
    body = strain_body(mesh, 0.01, constant_steel())
    onset = SY * (1.0 - NU) / (E * ALPHA)
    assert onset == pytest.approx(65.27778, abs=1e-5)
    assert (
        uniform(body, hold, [20, 20 + onset * (1 - 1e-6)]).equivalent_plastic.max() == 0
    )
    assert (
        uniform(body, hold, [20, 20 + onset * (1 + 1e-6)]).equivalent_plastic.min() > 0
    )
    limit = (1.0 - NU) * SY / E
    plastic = {1: limit - ALPHA * 300.0, 2: -limit}
    assert plastic[1] == pytest.approx(-2.8166667e-3, rel=1e-7)
    assert plastic[2] == pytest.approx(-7.8333333e-4, rel=1e-7)
    for corners, sign in (((20.0, 320.0), -1), ((20.0, 320.0, 20.0), 1)):
        out = uniform(body, hold, corners)
        for k in (0, 1):
            assert out.stress[..., k] == pytest.approx(sign * SY, rel=1e-9)
            flowed = out.plastic_strain[..., k]
            assert flowed == pytest.approx(plastic[len(corners) - 1], rel=1e-9)

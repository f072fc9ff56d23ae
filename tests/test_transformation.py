"""Phase change in a march: hysteresis, strain, and nothing when left out.

References are computed here: the loop by hand, and a bar held between walls (the test of
Satoh, Trans. Japan Welding Society 3, 1972, from memory) by a scalar return map with
bisection.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from changing_steel import OWN, TABLE, own
from meshes import grid, nodes_on, rectangle
from strain_cases import (
    ALPHA,
    NU,
    SY,
    E,
    constant_steel,
    ramp,
    uniform,
)

from shrinksim.fem.section import section_body, section_ties
from shrinksim.fem.sheet import strain_body, support
from shrinksim.fem.sparse import ties
from shrinksim.fem.structure import State
from shrinksim.fem.transformation import austenite, transformation_strain
from shrinksim.shop.steel import steel, steel_from_file
from shrinksim.shop.steel_change import Transformation
from shrinksim.strain import Control, Schedule, solve_strain

UP, DOWN, DENSER = (720.0, 840.0), (680.0, 600.0), -0.0035
CHANGE = Transformation(UP, DOWN, DENSER, 60e3)
CHANGING = replace(constant_steel(), transformation=CHANGE)


def shares(temperatures) -> list[float]:
    """Share of austenite of one point along a path."""
    z, path = np.zeros(1), []
    for T in temperatures:
        z = austenite(z, np.array([T]), UP, DOWN)
        path.append(float(z[0]))
    return path


def test_the_loop_by_hand():
    """Start, middle and end of both ranges, and nothing between them."""
    there = [20, 719, 780, 840, 900, 681, 640, 600, 20]
    by_hand = [0, 0, 0.5, 1, 1, 1, 0.5, 0, 0]
    assert shares(there) == pytest.approx(by_hand, abs=1e-12)


def test_turning_half_way():
    """Half changed stays half until cooling takes its own half; heated again, it waits."""
    there = [780, 700, 650, 640, 630, 700, 760, 765, 810]
    by_hand = [0.5, 0.5, 0.5, 0.5, 0.375, 0.375, 0.375, 0.375, 0.75]
    assert shares(there) == pytest.approx(by_hand, abs=1e-12)


@pytest.mark.parametrize("size", [1.0, 7.0, 120.0])
def test_the_loop_does_not_hang_on_the_steps(size):
    corners = (20.0, 775.0, 630.0, 800.0, 610.0, 900.0, 20.0)
    legs = [ramp(*leg, step=size)[1:] for leg in pairwise(corners)]
    ends = np.cumsum([len(leg) for leg in legs])
    fine = np.array(shares([20.0, *np.concatenate(legs)]))[ends]
    by_hand = [55 / 120, 30 / 80, 80 / 120, 10 / 80, 1.0, 0.0]
    assert fine == pytest.approx(by_hand, abs=1e-12)


def block(kind: str, table):
    """One free square, as a sheet or as a section, and what holds it."""
    mesh = grid(np.linspace(0.0, 0.02, 3), np.linspace(0.0, 0.02, 3))
    if kind == "section":
        return section_body(mesh, table), support(section_ties(mesh))
    left, low = nodes_on(mesh, "left"), nodes_on(mesh, "bottom")
    fixed = np.concatenate([2 * left, 2 * low + 1])
    return strain_body(mesh, 0.01, table), support(ties(2 * len(mesh.points), fixed))


@pytest.mark.parametrize("kind", ["sheet", "section"])
def test_a_free_block_follows_the_loop_and_comes_back(kind):
    """Free steel: elongation plus share times strain, no stress, nothing left cold."""
    body, hold = block(kind, CHANGING)
    path = ramp(20.0, 900.0, 20.0, step=20.0)
    out = uniform(body, hold, path, control=Control(tolerance=1e-6))
    stretch = np.ptp(out.displacement[..., 0], axis=1) / 0.02
    by_hand = ALPHA * (path - 20.0) + DENSER * np.array(shares(path))
    assert stretch == pytest.approx(by_hand, abs=1e-9)
    if kind == "section":
        assert out.section_strain[:, 0] == pytest.approx(by_hand, abs=1e-9)
    assert np.ptp(stretch[path == 700.0]) == pytest.approx(-DENSER, abs=1e-9)
    assert stretch[-1] == pytest.approx(0.0, abs=1e-10)
    assert not out.plastic_strain.any()


def held_bar(path, flow, modulus, expansion) -> np.ndarray:
    """Stress (s,) Pa of a bar whose length is held: one fibre, by bisection.

    flow(T, p) and modulus(T) Pa, expansion(T); total form of the elasticity.
    """
    plastic, p, found = 0.0, 0.0, []
    for T, z in zip(path, shares(path), strict=True):
        trial = -modulus(T) * (expansion(T) + DENSER * z + plastic)
        low, high = 0.0, max(abs(trial) - flow(T, p), 0.0) / modulus(T)
        for _ in range(200):
            grown = 0.5 * (low + high)
            if abs(trial) - modulus(T) * grown > flow(T, p + grown):
                low = grown
            else:
                high = grown
        p, plastic = p + high, plastic + np.sign(trial) * high
        found.append(trial - np.sign(trial) * modulus(T) * high)
    return np.array(found)


def satoh(table, path) -> np.ndarray:
    """Axial stress (s,) Pa of a held bar: a section whose axial strain is held."""
    mesh = grid(np.linspace(0.0, 0.02, 3), np.linspace(0.0, 0.02, 3))
    body = section_body(mesh, table)
    hold = support(section_ties(mesh, held=(True, True, True)))
    every = tuple(range(1, len(path)))
    out = uniform(body, hold, path, snapshots=every)
    across = np.array([out.snapshots[k] for k in every])[..., :3]
    assert np.abs(across).max() < 1e-3 * SY  # nothing acts across the bar
    return np.array([0.0] + [out.snapshots[k][..., 3].mean() for k in every])


def test_satoh_bar_with_constant_steel():
    """Between walls, perfectly plastic: the change relieves the pull of cooling."""
    path = ramp(20.0, 900.0, 20.0, step=10.0)
    one = held_bar(path, lambda T, p: SY, lambda T: E, lambda T: ALPHA * (T - 20.0))
    here = satoh(CHANGING, path)
    assert here == pytest.approx(one, abs=1e-6 * SY)
    assert here[path == 600.0][1] == pytest.approx(-SY)  # pressed, where it was pulled
    plain = satoh(replace(CHANGING, transformation=None), path)
    assert plain[path == 600.0][1] == pytest.approx(SY)


@pytest.mark.parametrize("peak", [760.0, 900.0])
def test_satoh_bar_with_hot_weak_steel(tmp_path, peak):
    """The EN strengths of S235 in a file with the table; once turned half way."""
    made = steel_from_file(own(tmp_path, OWN + TABLE), annealing=np.inf).strain
    knots = made.start + made.step * np.arange(len(made.modulus))
    rows = made.flow_start + made.flow_step * np.arange(len(made.flow))

    def flow(T, p):
        row = int((T - made.flow_start) / made.flow_step)
        near = [np.interp(p, made.plastic, made.flow[r]) for r in (row, row + 1)]
        return float(np.interp(T, rows[row : row + 2], near))

    path = ramp(20.0, peak, 20.0, step=20.0)
    one = held_bar(
        path,
        flow,
        lambda T: float(np.interp(T, knots, made.modulus)),
        lambda T: float(np.interp(T, knots, made.thermal_strain)),
    )
    assert satoh(made, path) == pytest.approx(one, abs=1e-5 * SY)


def test_the_state_before_is_only_read():
    body, _ = block("sheet", CHANGING)
    T = np.full(len(body.mesh.points), 780.0)
    before = np.full(body.weight.shape, 0.2)
    strain, share = transformation_strain(body, before, T)
    assert np.all(before == 0.2)
    assert share == pytest.approx(0.5)
    assert strain == pytest.approx(0.5 * DENSER)


def test_an_overlay_stays_cold():
    """Its points change nothing, whatever its nodes' temperatures."""
    mesh = rectangle(0.02, 0.02, 2, 2)
    layer = (np.array([0, 3]), np.array([0.005, 0.005]))
    body = strain_body(mesh, 0.01, CHANGING, overlay=layer)
    _, share = transformation_strain(body, None, np.full(len(mesh.points), 900.0))
    assert share is not None
    assert np.all(share[: len(mesh.triangles)] == 1.0)
    assert not share[len(mesh.triangles) :].any()


def test_halved_steps_commit_only_what_balanced():
    """Jumps that Newton must halve: what strains at the end, less flow and Hooke's part,
    is elongation and the share that the jumps give by the loop.
    """
    mesh = rectangle(0.1, 0.05, 4, 2)
    ends = np.concatenate([nodes_on(mesh, "left"), nodes_on(mesh, "right")])
    hold = support(
        ties(2 * len(mesh.points), np.stack([2 * ends, 2 * ends + 1]).ravel())
    )
    body = strain_body(mesh, 0.01, replace(CHANGING, back_stress=np.full(2, 100e6)))
    T = np.repeat([[20.0], [820.0], [640.0]], len(mesh.points), axis=1)
    T[1:] += 3000.0 * (mesh.points[:, 0] - 0.05)  # 150 K to each side
    few = Control(tolerance=1e-6, iterations=7, halvings=12)
    out = solve_strain(body, Schedule(np.arange(3.0), T, np.ones(3)), hold, control=few)
    assert out.steps > 2
    u = out.displacement[-1][body.triangles]
    total = np.einsum("eqai,eai->eqi", body.dN, u)
    s = out.stress[..., :2]
    hooke = (s - NU * s[..., ::-1]) / E
    mid, end = (T[k][body.triangles] @ body.N.T for k in (1, 2))
    share = np.clip((mid - 720.0) / 120.0, 0.0, 1.0)
    share = np.minimum(share, np.clip((end - 600.0) / 80.0, 0.0, 1.0))
    rest = total - hooke - out.plastic_strain[..., :2] - ALPHA * (end - 20.0)[..., None]
    assert share.min() == 0.0
    assert share.max() == 1.0
    assert rest == pytest.approx(DENSER * share[..., None] * np.ones(2), abs=1e-9)


def test_left_out_it_is_the_same_to_the_bit():
    """A table of strain 0 marches as no table, and no table keeps no share."""
    mesh = rectangle(0.1, 0.05, 4, 2)
    hold = support(ties(2 * len(mesh.points), np.arange(4)))
    rise = np.exp(-(((mesh.points[:, 0] - 0.05) / 0.02) ** 2))
    plain = steel("S235").strain
    nothing = replace(CHANGE, strain=0.0)
    path = ramp(20.0, 900.0, 20.0, step=80.0)
    runs = [
        uniform(strain_body(mesh, 0.01, table), hold, path, field=rise)
        for table in (plain, replace(plain, transformation=nothing))
    ]
    for name in ("q", "stress", "plastic_strain", "equivalent_plastic"):
        np.testing.assert_array_equal(getattr(runs[0], name), getattr(runs[1], name))
    body = strain_body(mesh, 0.01, plain)
    strain, share = transformation_strain(body, None, np.full(len(mesh.points), 900.0))
    assert share is None
    assert not strain.any()
    zero = np.zeros(1)
    assert State(zero, zero, zero, zero, zero).austenite is None

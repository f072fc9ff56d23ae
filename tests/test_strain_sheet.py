"""Laws of the strained sheet and of what holds it, whatever the numbers."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from meshes import grid, mirrored, nodes_on, rectangle
from strain_cases import ALPHA, NU, SY, E, constant_steel, uniform

from shrinksim.errors import CaseError
from shrinksim.fem.basis import RULES, quadrature, shape
from shrinksim.fem.ends import plane_ends
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sheet import strain_body, support
from shrinksim.fem.sparse import ties
from shrinksim.shop.steel import steel
from shrinksim.strain import Control, Schedule, knots, solve_strain

S235 = steel("S235").strain


def clamped(mesh: Mesh):
    left = nodes_on(mesh, "left")
    return ties(2 * len(mesh.points), np.concatenate([2 * left, 2 * left + 1]))


def test_no_heat_and_no_load_move_nothing():
    mesh = rectangle(0.2, 0.1, 4, 2)
    body = strain_body(mesh, 0.01, S235)
    out = uniform(body, support(clamped(mesh)), [20.0, 20.0, 20.0])
    assert not out.plastic_strain.any()
    assert np.abs(out.displacement).max() < 1e-18  # m: the last bit of the strain at 20
    assert np.abs(out.stress).max() < 1e-6  # Pa


def hot_patch(points: np.ndarray, peak: float) -> np.ndarray:
    """Rise of an off-centre hot spot, K."""
    x, y = points.T
    return peak * np.exp(-((x - 0.03) ** 2 + (y - 0.02) ** 2) / (2 * 0.02**2))


def spot_cycle(mesh: Mesh, points: np.ndarray, **options):
    """A plate clamped at x = 0, a spot heated and cooled; points: where it sees them."""
    body = strain_body(mesh, 0.01, S235)
    rise = hot_patch(points, 1.0)
    part = 20.0 + 600.0 * np.concatenate(
        [np.linspace(0, 1, 9), np.linspace(0.9, 0, 10)]
    )
    held = np.flatnonzero(np.abs(mesh.points[:, 0]) < 1e-12)
    free = ties(2 * len(points), np.concatenate([2 * held, 2 * held + 1]))
    return body, free, uniform(body, support(free), part, field=rise, **options)


def test_mirrored_plate_moves_mirrored():
    mesh = rectangle(0.12, 0.06, 8, 4)
    other = mirrored(mesh)
    _, _, here = spot_cycle(mesh, mesh.points)
    _, _, there = spot_cycle(other, mesh.points)
    assert here.equivalent_plastic.max() > 1e-3
    size = np.abs(here.displacement).max()
    back = there.displacement * [-1.0, 1.0]
    assert back == pytest.approx(here.displacement, abs=1e-7 * size)


def test_stresses_balance_and_flow_keeps_volume():
    """At every free unknown of the cooled plate, summed here from the stresses."""
    mesh = rectangle(0.12, 0.06, 8, 4)
    body, free, out = spot_cycle(mesh, mesh.points, control=Control(tolerance=1e-9))
    assert out.residual.max() <= 1e-9
    s = out.stress * body.weight[..., None]
    fx = np.einsum("eqa,eq->ea", body.dN[..., 0], s[..., 0])
    fx += np.einsum("eqa,eq->ea", body.dN[..., 1], s[..., 2])
    fy = np.einsum("eqa,eq->ea", body.dN[..., 1], s[..., 1])
    fy += np.einsum("eqa,eq->ea", body.dN[..., 0], s[..., 2])
    force = np.zeros((len(mesh.points), 2))
    np.add.at(force, body.triangles, np.stack([fx, fy], axis=-1))
    assert np.abs(fx).max() > 100.0  # N: the plate is stressed
    assert np.abs(free.reduce(force.ravel())).max() < 1e-8 * np.abs(fx).sum()


K = np.pi / 0.1  # 1/m, wave number of the manufactured motion
LAME, SHEAR = E * NU / (1 - NU**2), E / (2 * (1 + NU))  # plane stress


def motion(x, y):
    """Displacements, m."""
    return np.stack(
        [np.sin(K * x) * np.cos(0.5 * K * y), np.cos(0.7 * K * x) * np.sin(K * y)], -1
    )


def motion_strain(x, y):
    """Strains xx, yy and engineering xy."""
    ux = K * np.cos(K * x) * np.cos(0.5 * K * y)
    uy = -0.5 * K * np.sin(K * x) * np.sin(0.5 * K * y)
    vx = -0.7 * K * np.sin(0.7 * K * x) * np.sin(K * y)
    vy = K * np.cos(0.7 * K * x) * np.cos(K * y)
    return np.stack([ux, vy, uy + vx])


def motion_load(x, y):
    """Body force that keeps the motion in balance, N/m3."""
    u, v = np.moveaxis(motion(x, y), -1, 0)
    v_xy = -0.7 * K * K * np.sin(0.7 * K * x) * np.cos(K * y)
    u_xy = -0.5 * K * K * np.cos(K * x) * np.sin(0.5 * K * y)
    fx = (LAME + 2.25 * SHEAR) * K**2 * u - (LAME + SHEAR) * v_xy
    fy = (LAME + 2.49 * SHEAR) * K**2 * v - (LAME + SHEAR) * u_xy
    return np.stack([fx, fy], -1)


def manufactured(cells: int) -> tuple[float, float, float]:
    """Mesh size, errors in energy and in displacement (L2) of the motion."""
    small = 1e-9  # m per m: keeps the load within an elastic steel
    mesh = rectangle(0.1, 0.06, cells, cells)
    rim = nodes_on(mesh, "left", "right", "bottom", "top")
    fixed = np.stack([2 * rim, 2 * rim + 1], axis=1).ravel()
    given = np.zeros(2 * len(mesh.points))
    given[fixed] = motion(*mesh.points.T).ravel()[fixed]
    free = ties(len(given), fixed)
    fine = quadrature(mesh, "interior 6")
    x, y = np.moveaxis(fine.xy, -1, 0)
    force = np.zeros((len(mesh.points), 2))
    shares = np.einsum("qa,eq,eqd->ead", fine.N, fine.area, motion_load(x, y))
    np.add.at(force, mesh.triangles, shares)
    load = small * free.reduce(force.ravel())
    body = strain_body(mesh, 1.0, constant_steel(level=1e20))
    hold = support(free, force=load, offset=small * given)
    u = uniform(body, hold, [20.0, 20.0]).displacement[-1] / small
    du = np.einsum("eqai,ead->eqdi", fine.dN, u[mesh.triangles])
    e = np.stack([du[..., 0, 0], du[..., 1, 1], du[..., 0, 1] + du[..., 1, 0]])
    e = e - motion_strain(x, y)
    shear = SHEAR * (2 * e[0] ** 2 + 2 * e[1] ** 2 + e[2] ** 2)
    energy = ((LAME * (e[0] + e[1]) ** 2 + shear) * fine.area).sum()
    miss = np.einsum("qa,ead->eqd", fine.N, u[mesh.triangles]) - motion(x, y)
    square = ((miss**2).sum(axis=-1) * fine.area).sum()
    return 0.1 / cells, float(np.sqrt(energy)), float(np.sqrt(square))


@pytest.mark.slow
def test_elastic_solution_converges_at_the_rate_of_quadratics():
    """2 in energy, 3 in displacement: a manufactured motion (P. J. Roache 1998)."""
    h, energy, moved = np.log([manufactured(n) for n in (4, 8, 16)]).T
    assert np.diff(energy) / np.diff(h) == pytest.approx(2.0, abs=0.15)
    assert np.diff(moved) / np.diff(h) == pytest.approx(3.0, abs=0.15)


def pulled_bar(annealing: float, **options):
    """A bar pulled past yield, let go, heated to 900 degC and cooled, pulled again.

    Returns the plastic stretch that the second pull adds.
    """
    mesh = rectangle(0.1, 0.02, 2, 1)
    ends = plane_ends(mesh, 0.01, 0.01)
    body = strain_body(mesh, 0.01, constant_steel(annealing=annealing, **options))
    force = np.zeros(ends.ties.unknowns)
    force[ends.stretch] = 1.2 * SY * 0.02 * 0.01
    hold = support(ends.ties, force=force)
    path = np.array([20.0, 20.0, 20.0, 500.0, 900.0, 500.0, 20.0, 20.0, 20.0])
    fraction = np.array([0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0])
    control = Control(tolerance=1e-7)
    q = uniform(body, hold, path, fraction, control=control).q[:, ends.stretch] / 0.1
    return q[2], q[8] - q[2]


@pytest.mark.parametrize(
    "hardening", [{"slope": 10e9}, {"back": 100e6, "back_strain": 5e-3}]
)
def test_annealing_forgets_hardening(hardening):
    """A second pull flows as the first did after annealing, and not at all without."""
    first, again = pulled_bar(800.0, **hardening)
    assert first > 1e-3
    assert again == pytest.approx(first, rel=1e-6)
    first, again = pulled_bar(1000.0, **hardening)
    assert first > 1e-3
    assert abs(again) < 1e-9


def spring_on_bar(rest: float, one_way: bool, temperatures: list[float]):
    mesh = rectangle(0.1, 0.02, 2, 1)
    ends = plane_ends(mesh, 0.01, 0.01)
    body = strain_body(mesh, 0.01, constant_steel())
    m = ends.ties.unknowns
    spring, goal, way = np.zeros(m), np.zeros(m), np.zeros(m)
    spring[ends.stretch] = E * 0.02 * 0.01 / 0.1
    goal[ends.stretch], way[ends.stretch] = rest, one_way
    hold = support(ends.ties, spring=spring, rest=goal, one_way=way)
    path = [20.0, 20.0, *temperatures]
    fraction = np.ones(len(path))
    fraction[0] = 0.0
    out = uniform(body, hold, path, fraction)
    return out.push[:, ends.stretch], out.q[:, ends.stretch]


def test_jack_relaxes_as_the_bar_gives_way():
    """Bar and jack of equal stiffness share the set; every move costs the jack force."""
    k = E * 0.02 * 0.01 / 0.1
    push, q = spring_on_bar(1e-5, False, [30.0, 50.0, 30.0, 20.0])
    assert push[1] == pytest.approx(0.5 * k * 1e-5, rel=1e-7)
    assert push == pytest.approx(np.r_[0.0, k * (1e-5 - q[1:])], abs=1e-6)
    heat = ALPHA * 30.0 * 0.1  # of length that the bar wants to gain at 50 degC
    assert q[3] == pytest.approx(0.5 * (1e-5 + heat), rel=1e-7)
    assert push[3] < 0.0  # a two-way jack holds the growing bar back
    assert push[5] == pytest.approx(push[1], rel=1e-7)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_one_way_jack_never_pulls(sign):
    rest = sign * 1e-5
    change = [T if sign > 0 else 40.0 - T for T in (30.0, 60.0, 25.0, 20.0)]
    push, q = spring_on_bar(rest, True, change)
    assert np.all(sign * push >= 0.0)
    assert push[3] == 0.0  # the bar has moved away from the jack
    assert q[3] == pytest.approx(sign * ALPHA * 40.0 * 0.1, rel=1e-7)
    assert sign * push[5] > 0.0
    assert push[5] == pytest.approx(push[1], rel=1e-7)


def test_halving_the_step_does_not_lose_the_path():
    """A step too long for Newton is cut, and ends where short steps end."""
    mesh = grid(np.linspace(0, 0.12, 9), np.linspace(0, 0.06, 5))
    body = strain_body(mesh, 0.01, S235)
    rise = hot_patch(mesh.points, 600.0)
    T = np.stack([np.full(len(rise), 20.0), 20.0 + rise])
    schedule = Schedule(np.array([0.0, 1.0]), T, np.ones(2))
    hold = support(clamped(mesh))
    easy = solve_strain(body, schedule, hold, control=Control(1e-8, 30, 6))
    hard = solve_strain(body, schedule, hold, control=Control(1e-8, 6, 8))
    assert hard.steps > easy.steps
    size = np.abs(easy.displacement[-1]).max()
    assert hard.displacement[-1] == pytest.approx(
        easy.displacement[-1], abs=0.03 * size
    )


def test_knots_keep_every_change_under_the_limit():
    times = np.linspace(0.0, 9.0, 10)
    T = np.array([20, 60, 100, 180, 300, 290, 250, 200, 100, 20.0])[:, None]
    rows = knots(times, T, 100.0)
    assert rows[0] == 0
    assert rows[-1] == 9
    for a, b in pairwise(rows):
        assert b == a + 1 or np.abs(T[b] - T[a]).max() <= 100.0
    assert len(rows) < len(times)


@pytest.mark.parametrize("rule", sorted(RULES))
def test_weights_of_a_rule_sum_to_the_area_and_shapes_to_one(rule):
    mesh = rectangle(0.3, 0.2, 3, 2)
    points = quadrature(mesh, rule)
    assert points.area.sum() == pytest.approx(0.06)
    assert shape(RULES[rule][0]).sum(axis=1) == pytest.approx(1.0)
    assert np.abs(points.dN.sum(axis=2)).max() < 1e-9


def test_an_element_that_runs_clockwise_is_named():
    mesh = rectangle(0.3, 0.2, 3, 2)
    triangles = mesh.triangles.copy()
    triangles[4] = triangles[4][[0, 2, 1, 5, 4, 3]]
    with pytest.raises(CaseError, match="element 4 has no positive area"):
        quadrature(replace(mesh, triangles=triangles), "interior 3")

"""Plates with thickness: tables, one point, tangents, heat, ends; thin against a sheet."""

from __future__ import annotations

import face_heat_problem as problem
import numpy as np
import pytest
from meshes import rectangle
from plate_states import heights
from strain_cases import NU, TIGHT, E, constant_steel, uniform

from shrinksim.fem.conduction import medium
from shrinksim.fem.exchange import EdgeExchange, EdgeSource, Exchange, Loads
from shrinksim.fem.kernels.solid import solid_return
from shrinksim.fem.kernels.wedge import bulk_return
from shrinksim.fem.plate import plate_body
from shrinksim.fem.plate_ends import plane_ends
from shrinksim.fem.plate_turns import free_ties, half_ties
from shrinksim.fem.sheet import strain_body
from shrinksim.fem.slab import BOTH, TOP, _at, all_round, plate_medium
from shrinksim.fem.sparse import ties
from shrinksim.fem.structure import rest, support
from shrinksim.fem.through import (
    bubbles,
    lagrange,
    layers_through,
    lobatto,
    lobatto_through,
    modes_through,
)
from shrinksim.heat import solve_heat
from shrinksim.heat.phase import Phase
from shrinksim.shop.pattern import Drive, TorchPath
from shrinksim.strain import Schedule, elastic_response, knots, solve_strain

D = 0.008
RNG = np.random.default_rng(3)


@pytest.mark.parametrize("order", [1, 2, 3, 4, 5])
def test_lobatto_is_exact_to_its_degree(order):
    """Degree 2 order - 1 (Abramowitz & Stegun 25.4.32, from memory)."""
    at, weight = lobatto(order)
    for degree in range(2 * order):
        want = 2.0 / (degree + 1) if degree % 2 == 0 else 0.0
        assert weight @ at**degree == pytest.approx(want, abs=1e-14)


def test_lobatto_slopes_differentiate_polynomials():
    through = lobatto_through(D, 4)
    for degree in range(5):
        slope = through.slope @ through.levels**degree
        want = degree * through.levels ** max(degree - 1, 0)
        assert slope == pytest.approx(want, abs=1e-10)


@pytest.mark.parametrize(
    "shapes",
    [lambda s: lagrange(np.array([-1.0, -0.3, 0.4, 1.0]), s), lambda s: bubbles(4, s)],
)
def test_slopes_are_those_of_the_values(shapes):
    s, h = np.linspace(-0.9, 0.9, 7), 1e-6
    by_difference = (shapes(s + h)[0] - shapes(s - h)[0]) / (2.0 * h)
    assert shapes(s)[1] == pytest.approx(by_difference, abs=1e-8)


def test_bubbles_vanish_on_the_faces():
    faces, _ = bubbles(4, np.array([-1.0, 1.0]))
    assert faces[:, 2:] == pytest.approx(0.0, abs=1e-14)
    assert faces[:, :2] == pytest.approx(np.eye(2), abs=1e-14)


def point(strain, alpha, table):
    """Stress, growth, tangent by the six-component return at 20 degC."""
    stress, rate, eta, C = np.empty(6), np.empty(6), np.empty(6), np.empty((6, 6))
    memory = alpha.copy()
    amount = bulk_return(
        E, NU, strain, 0, 0.0, table.plastic, table.flow, table.back_stress[0],
        table.back_strain, 0.0, memory, eta, stress, rate, C,
    )  # fmt: skip
    return stress, amount, C, memory


HARDENING = [
    constant_steel(slope=0.0),
    constant_steel(slope=3e9),
    constant_steel(slope=3e9, back=80e6, back_strain=4e-3),
]


@pytest.mark.parametrize("table", HARDENING)
def test_return_is_that_of_a_section_when_nothing_shears_along(table):
    strain = np.array([3e-3, -1e-3, 2e-3, 1.5e-3, 0.0, 0.0])
    alpha = np.array([1e-1, -2e-1, 5e-2, 1e-1, 0.0, 0.0])
    stress, amount, C, _ = point(strain, alpha, table)
    four, rate, D4 = np.empty(4), np.empty(4), np.empty((4, 4))
    other = solid_return(
        E, NU, strain[:4], 0, 0.0, table.plastic, table.flow, table.back_stress[0],
        table.back_strain, 0.0, alpha[:4].copy(), four, rate, D4,
    )  # fmt: skip
    assert amount == pytest.approx(other, rel=1e-13)
    assert stress == pytest.approx([*four, 0.0, 0.0], rel=1e-13, abs=1.0)
    assert C[:4, :4] == pytest.approx(D4, rel=1e-12, abs=1.0)


def tensor(v, shear):
    return np.array(
        [
            [v[0], shear * v[2], shear * v[4]],
            [shear * v[2], v[1], shear * v[5]],
            [shear * v[4], shear * v[5], v[3]],
        ]
    )


def vector(t, shear):
    return np.array(
        [t[0, 0], t[1, 1], shear * t[0, 1], t[2, 2], shear * t[0, 2], shear * t[1, 2]]
    )


@pytest.mark.parametrize("table", HARDENING)
def test_return_does_not_know_the_axes(table):
    turn = np.linalg.qr(RNG.standard_normal((3, 3)))[0]
    strain = 3e-3 * RNG.standard_normal(6)
    zero = np.zeros(6)
    stress, amount, _, _ = point(strain, zero, table)
    turned = vector(turn @ tensor(strain, 0.5) @ turn.T, 2.0)
    other, more, _, _ = point(turned, zero, table)
    assert more == pytest.approx(amount, rel=1e-10)
    want = vector(turn @ tensor(stress, 1.0) @ turn.T, 1.0)
    assert other == pytest.approx(want, abs=1e-8 * np.abs(want).max())


@pytest.mark.parametrize("table", HARDENING)
def test_point_tangent_is_the_slope_of_the_stress(table):
    strain, alpha = 3e-3 * RNG.standard_normal(6), 0.1 * RNG.standard_normal(6)
    alpha[[0, 1, 3]] -= alpha[[0, 1, 3]].mean()
    _, amount, C, _ = point(strain, alpha, table)
    assert amount > 0.0
    h = 1e-8
    for k in range(6):
        up, down = strain.copy(), strain.copy()
        up[k] += h
        down[k] -= h
        slope = (point(up, alpha, table)[0] - point(down, alpha, table)[0]) / (2 * h)
        assert C[:, k] == pytest.approx(slope, abs=2e-6 * E)


@pytest.mark.parametrize(
    "modes", [modes_through(D, (2, 3), 6), layers_through(D, 2, 3)]
)
def test_structure_tangent_is_the_slope_of_its_residual(modes):
    """With a plane end, partly yielded and unevenly hot; solved back from differences."""
    mesh = rectangle(0.05, 0.03, 2, 2)
    body = plate_body(mesh, D, constant_steel(slope=2e9), modes=modes)
    ends = plane_ends(body.solid, body.modes, body.carried)
    structure = body.structure(support(ends.ties))
    T = 20.0 + 200.0 * (0.5 + heights(body, D) / D)
    shape = body.weight.shape
    old = rest(ends.ties.unknowns, shape, 6)
    evaluate = structure.evaluator(old, T, 1.0, np.zeros(shape))
    q = 2e-6 * RNG.standard_normal(ends.ties.unknowns)
    here = evaluate(q)
    assert 0.05 < np.mean(here.state[1] > 0.0) < 0.98
    solve = structure.factorise(here.matrix())
    way = RNG.standard_normal(len(q))
    h = 1e-12
    push = (evaluate(q - h * way).residual - evaluate(q + h * way).residual) / (2.0 * h)
    assert solve(push) == pytest.approx(way, abs=1e-4)


def test_stress_under_a_plane_end_is_moment_over_inertia():
    mesh = rectangle(0.1, 0.03, 5, 2)
    body = plate_body(mesh, D, constant_steel())
    ends = plane_ends(body.solid, body.modes, body.carried)
    force = np.zeros(ends.ties.unknowns)
    force[ends.bend] = 20.0 / ends.arm
    hold = support(ends.ties, force=force)
    out = uniform(body, hold, [20.0, 20.0], [0.0, 1.0], control=TIGHT)
    z = np.tile(body.modes.z, 3)
    want = -20.0 * z / (0.03 * D**3 / 12.0)
    assert out.stress[..., 0] == pytest.approx(
        np.broadcast_to(want, out.stress.shape[:2]), abs=1e-6 * want.max()
    )


def test_held_bend_takes_the_moment_of_a_hot_face():
    """E I alpha dT / d of a bar that may not bend (beam theory): no turn, no bend."""
    mesh = rectangle(0.1, 0.02, 8, 2)
    body = plate_body(mesh, D, constant_steel(level=1e12))
    ends = plane_ends(body.solid, body.modes, body.carried)
    spring = np.zeros(ends.ties.unknowns)
    stiff = 1e12 / ends.arm**2
    spring[ends.bend] = stiff
    hold = support(ends.ties, spring=spring)
    T = np.stack(
        [np.full(len(body.mesh.points), 20.0), 20.0 + 50.0 * heights(body, D) / D]
    )
    out = solve_strain(body, Schedule(np.arange(2.0), T, np.ones(2)), hold)
    moment = -stiff * out.q[-1, ends.bend] * ends.arm
    want = E * 0.02 * D**3 / 12.0 * 1.2e-5 * 50.0 / D
    assert moment == pytest.approx(want, rel=1e-3)


STEEL = problem.STEEL.heat
MESH = rectangle(0.06, 0.04, 6, 4)


def plate(**options):
    return plate_medium(
        MESH, D, STEEL.start, STEEL.step, STEEL.conductivity, STEEL.heat_content,
        **options,
    )  # fmt: skip


def acting(body):
    faces, edges = all_round(body, problem.AIR)
    wind = EdgeExchange("left", lambda T, t: (50.0 * (T - 20.0), 0.0 * T + 50.0), D)
    inlet = EdgeSource("right", lambda x, y, t: 2e5 + 0.0 * x)
    mist = Exchange(lambda T, t: (80.0 * (T - 20.0), 0.0 * T + 80.0), np.ones((1, 1)))
    return Loads(
        (*faces, mist), (*edges, wind), lambda t: np.full(body.quadrature.area.shape, 3e5),
        inlets=(inlet,),
    )  # fmt: skip


def test_slab_tangent_is_the_slope_of_what_it_holds_and_lets_flow():
    """At an even temperature, where the frozen conductivity leaves nothing out."""
    body = plate()
    dt, h = 0.7, 1e-4
    evaluate = _at(body, acting(body), 0.0, dt)
    T = np.full(body.plan.ties.unknowns, 310.25)
    sweep = evaluate(T, 1.0, True)
    for seed in range(3):
        way = np.random.default_rng(seed).standard_normal(len(T))
        up, down = evaluate(T + h * way, 1.0, False), evaluate(T - h * way, 1.0, False)
        want = (up.stored - down.stored - dt * (up.flow - down.flow)) / (2.0 * h)
        low = np.tril(sweep.matrix)
        whole = low + np.tril(low, -1).transpose(0, 2, 1)
        nodal = np.einsum("eij,ej->ei", whole, way[body.warm.columns])
        got = np.bincount(body.warm.columns.ravel(), nodal.ravel(), len(T))
        assert got == pytest.approx(want, abs=1e-5 * np.abs(want).max())


def test_heat_is_counted():
    body = plate()
    loads = acting(body)
    sweep = _at(body, loads, 0.0, 1.0)(
        np.full(body.plan.ties.unknowns, 500.0), 1.0, False
    )
    assert sweep.flow.sum() == pytest.approx(sweep.gain - sweep.loss, rel=1e-12)
    area = 0.06 * 0.04
    assert sweep.gain == pytest.approx(3e5 * area + 2e5 * 0.04 * D, rel=1e-12)
    air, _ = problem.AIR(np.array(500.0), 0.0)
    around = float(air) * (2.0 * area + 0.2 * D)
    assert sweep.loss == pytest.approx(
        around + 480.0 * (80.0 * area + 50.0 * 0.04 * D), rel=1e-5
    )


def test_even_plate_heats_as_a_sheet():
    """A weak flux on both faces: the sheet's temperatures in the mean."""
    sheet = medium(
        MESH, D, STEEL.start, STEEL.step, STEEL.conductivity, STEEL.heat_content
    )
    body = plate(heated=BOTH, order=2)

    def source(x, y, t):
        return 3e5 * np.exp(-((x / 0.05) ** 2 + (y / 0.04) ** 2))

    faces, edges = all_round(body, problem.AIR, ["top"])
    times = 1.5 * np.arange(1, 41)
    phases = [Phase(60.0, faces, edges, sources=(source,), times=times)]
    thin = solve_heat(sheet, phases).temperature[-1]
    full = solve_heat(body, phases).temperature[-1].reshape(3, -1)
    mean = (full * lobatto(2)[1][:, None]).sum(axis=0) / 2.0
    assert mean == pytest.approx(thin, abs=0.5)
    assert thin.max() > 150.0


def test_torch_goes_along_its_path():
    body = plate(heated=TOP)
    drive = Drive(600.0, 0.008, 0.01, None, 300.0)
    path = TorchPath(np.array([[0.01, 0.02], [0.05, 0.02]]), drive, ("plate",))
    history = solve_heat(body, [Phase(60.0, torch=path)])
    assert history.times[-1] == pytest.approx(4.0)
    assert history.torch[-1] == pytest.approx([0.05, 0.02])
    assert abs(history.imbalance) < 1e-5


@pytest.mark.slow
def test_thin_plate_with_even_heat_turns_as_a_sheet():
    """2 mm under the reference's torch at 9.6 mm/s; its sheet: 0.4694 mrad."""
    mesh = problem.half_mesh(5e-3, 12e-3)
    thick = problem.THIN.thickness
    flat = medium(
        mesh, thick, STEEL.start, STEEL.step, STEEL.conductivity, STEEL.heat_content
    )
    body = plate_medium(
        mesh, thick, STEEL.start, STEEL.step, STEEL.conductivity, STEEL.heat_content
    )
    heat = solve_heat(flat, problem.phases(problem.THIN, body, (60, 40)))
    rows = knots(heat.times, heat.temperature, 30.0)
    T, times = heat.temperature[rows], heat.times[rows]
    solid = plate_body(mesh, thick, problem.STEEL.strain)
    _, turns = problem.bend(solid, times, np.tile(T, (1, 5)))
    left = np.unique(mesh.edges["left"])
    hold = support(ties(2 * len(mesh.points), np.append(2 * left, 2 * left[0] + 1)))
    sheet = strain_body(mesh, thick, problem.STEEL.strain)
    cold = np.concatenate([T, np.full((1, len(mesh.points)), 20.0)])
    plan = Schedule(np.append(times, times[-1] + 60.0), cold, np.ones(len(cold)))
    out = solve_strain(sheet, plan, hold)
    right = np.unique(mesh.edges["right"])
    u, y = out.displacement[-1][right, 0], mesh.points[right, 1]
    turn = -2.0 * np.polyfit(y, u, 1)[0]
    assert turns.in_plane == pytest.approx(turn, rel=0.01)
    assert turn * 1e3 == pytest.approx(0.4694, rel=0.01)
    assert abs(turns.out_of_plane) < 1e-6 * turn


def test_rigid_motions_are_six():
    """A plate on its six stops is stiff, and nothing is held beyond them."""
    body = plate_body(MESH, D, constant_steel())
    for hold in (free_ties(body), half_ties(body)):
        T = np.full(len(body.mesh.points), 20.0)
        force = np.zeros(hold.unknowns)
        assert elastic_response(body, support(hold), force, T) == pytest.approx(0.0)
    free = body.modes.exists.sum() * len(MESH.points)
    assert free_ties(body).unknowns == free - 6

"""Laws of nature that the heat stage keeps whatever the case, and its rates."""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant, convection, inflow, radiation
from meshes import mirrored, nodes_on, rectangle
from scipy.integrate import solve_ivp

from shrinksim.arrays import KELVIN
from shrinksim.fem.basis import shape
from shrinksim.fem.conduction import EdgeExchange, Exchange, Loads, steady_heat
from shrinksim.heat import Phase, PhaseName, Stepping, solve_heat
from shrinksim.shop.cooling import COOLINGS
from shrinksim.shop.pattern import Drive, TorchPath, straight
from shrinksim.shop.steel import steel

D = 0.010
BOTH = np.array(2.0)
TIGHT = Stepping(newton=1e-8)
MESH = rectangle(0.2, 0.1, 16, 8)
HEAT = steel("S235").heat
STEEL = (HEAT.start, HEAT.step, HEAT.conductivity, HEAT.heat_content)
AIR = Exchange(radiation(0.8, 20.0, 10.0), BOTH)


def stored_heat(body, T):
    """J, summed here from the table, apart from the solver's own account."""
    grid = HEAT.start + HEAT.step * np.arange(len(HEAT.heat_content))
    at = T[body.mesh.triangles] @ body.quadrature.N.T
    H = np.interp(at, grid, HEAT.heat_content)
    return float(np.sum(H * body.quadrature.area) * D)


def spot_source(x, y, t):
    r2 = (x - 0.1) ** 2 + (y - 0.05) ** 2
    return 2500.0 / (np.pi * 0.012**2) * np.exp(-r2 / 0.012**2)


def torch(target: float | None, mirror: float = 1.0) -> TorchPath:
    points = np.array([[0.05, 0.05], [0.15, 0.06]]) * [mirror, 1.0]
    return TorchPath(straight(points), Drive(3000.0, 0.025, 4e-3, target), ("plate",))


# --- energy


@pytest.mark.parametrize("name", COOLINGS)
def test_lost_is_what_the_law_takes(name):
    """Backward Euler: each step loses dt times the law at its end, and no more."""
    cooling = COOLINGS[name]
    law = cooling.law(20.0)
    body = body_of(MESH, STEEL, D)
    start = 300.0 + 400.0 * np.cos(8.0 * MESH.points[:, 0]) ** 2
    history = solve_heat(
        body,
        [Phase(30.0, (Exchange(law, BOTH),), times=np.arange(0.5, 30.1, 0.5))],
        initial=start,
        stepping=Stepping(second_order=False, newton=1e-6),
    )
    at = history.temperature[1:, MESH.triangles] @ body.quadrature.N.T
    rate = np.sum(2.0 * law(at, 0.0)[0] * body.quadrature.area, axis=(1, 2))
    lost = np.cumsum(rate * np.diff(history.times))
    np.testing.assert_allclose(history.lost[1:], lost, rtol=1e-9)
    fall = stored_heat(body, start) - stored_heat(body, history.temperature[-1])
    assert fall > 1e4
    assert history.lost[-1] == pytest.approx(fall, rel=1e-6)
    assert history.absorbed[-1] == 0.0


@pytest.mark.parametrize("second_order", [True, False])
@pytest.mark.parametrize(
    ("what", "power"),
    [
        ({"edges": (EdgeExchange("left", inflow(4e5), D),)}, 4e5 * 0.1 * D),
        ({"sources": (spot_source,)}, 2500.0),
        ({"torch": torch(None)}, 3000.0),
        ({"torch": torch(600.0)}, 3000.0),
    ],
    ids=["edge", "source", "travelling torch", "held torch"],
)
def test_what_is_given_is_stored(what, power, second_order):
    body = body_of(MESH, STEEL, D)
    history = solve_heat(
        body,
        [Phase(200.0 if "torch" in what else 20.0, **what)],
        stepping=Stepping(second_order=second_order, newton=1e-6, largest=0.5),
    )
    given = power * history.times[-1]
    stored = stored_heat(body, history.temperature[-1]) - stored_heat(
        body, history.temperature[0]
    )
    assert stored == pytest.approx(given, rel=1e-3)
    assert history.stored[-1] == pytest.approx(stored, rel=1e-9)
    assert history.absorbed[-1] - history.lost[-1] == pytest.approx(stored, rel=1e-6)


def test_everything_at_once_balances():
    """Torch, source, faces, edge film and a held edge, then water: nothing is missed."""
    held = nodes_on(MESH, "bottom")
    body = body_of(MESH, STEEL, D, held)
    film = EdgeExchange("right", convection(400.0, 15.0), D)
    water = Exchange(COOLINGS["water stream"].law(15.0), BOTH)
    history = solve_heat(
        body,
        [
            Phase(60.0, (AIR,), (film,), (spot_source,), torch(None)),
            Phase(40.0, (water, AIR), (film,)),
        ],
        fixed=lambda t: np.full(len(held), 20.0),
        stepping=Stepping(newton=1e-6),
    )
    stored = stored_heat(body, history.temperature[-1]) - stored_heat(
        body, history.temperature[0]
    )
    miss = history.absorbed[-1] - history.lost[-1] - stored
    assert history.peak.max() > 500.0
    assert abs(miss) < 1e-6 * np.abs(history.absorbed).max()
    assert abs(history.imbalance) < 1e-6


# --- nothing, the same, and mirrored


def test_without_heat_it_stays_at_ambient():
    """Every way of cooling, its medium at the temperature of the steel."""
    body = body_of(MESH, STEEL, D)
    faces = tuple(Exchange(c.law(20.0), BOTH) for c in COOLINGS.values())
    edges = (EdgeExchange("left", convection(500.0, 20.0), D),)
    history = solve_heat(body, [Phase(3600.0, faces, edges)], initial=20.0)
    np.testing.assert_allclose(history.temperature, 20.0, atol=1e-9)
    assert abs(history.lost[-1]) < 1e-6


def whole_case(mesh, mirror=1.0, target=600.0):
    film = EdgeExchange("left" if mirror > 0 else "right", convection(300.0, 15.0), D)
    return solve_heat(
        body_of(mesh, STEEL, D),
        [
            Phase(
                300.0,
                (AIR,),
                (film,),
                torch=torch(target, mirror),
                name=PhaseName("heat"),
            ),
            Phase(600.0, (AIR,), (film,), until=60.0, name=PhaseName("cool")),
        ],
        stepping=TIGHT,
    )


@pytest.mark.slow
def test_two_runs_agree_to_the_bit():
    one, two = whole_case(MESH), whole_case(MESH)
    for name in ("times", "temperature", "torch", "absorbed", "lost", "stored"):
        assert getattr(one, name).tobytes() == getattr(two, name).tobytes()


@pytest.mark.slow
@pytest.mark.parametrize("target", [None, 600.0], ids=["travelling", "held"])
def test_mirrored_case_gives_mirrored_field(target):
    one = whole_case(MESH, target=target)
    two = whole_case(mirrored(MESH), -1.0, target)
    np.testing.assert_allclose(one.times, two.times, rtol=1e-7)
    np.testing.assert_allclose(one.temperature, two.temperature, atol=1e-4)
    np.testing.assert_allclose(one.torch[:, 0], -two.torch[:, 0], atol=1e-7)


def test_symmetric_case_gives_symmetric_field():
    path = straight([[0.1, 0.03], [0.1, 0.07]])
    up = TorchPath(path, Drive(3000.0, 0.025, 4e-3, 600.0), ("plate",))
    history = solve_heat(
        body_of(MESH, STEEL, D),
        [Phase(300.0, (AIR,), torch=up), Phase(100.0, (AIR,))],
        stepping=TIGHT,
    )
    other = np.lexsort((MESH.points[:, 1], np.round(0.2 - MESH.points[:, 0], 9)))
    own = np.lexsort((MESH.points[:, 1], np.round(MESH.points[:, 0], 9)))
    T = history.temperature
    assert np.ptp(T[-1]) > 50.0
    np.testing.assert_allclose(T[:, own], T[:, other], atol=1e-6)


def test_reciprocity():
    """Linear: heat put in at A warms B as the same heat put in at B warms A."""
    body = body_of(MESH, constant(45.0, 7850.0 * 600.0), D)
    places = np.array([[0.04, 0.03], [0.13, 0.08]])
    shapes = [
        np.exp(-np.sum((body.quadrature.xy - p) ** 2, axis=2) / 0.02**2) for p in places
    ]

    def warming(into, at):
        def pulse(x, y, t):
            return 1e5 * shapes[into]

        film = EdgeExchange("left", convection(200.0, 20.0), D)
        history = solve_heat(
            body,
            [
                Phase(
                    60.0,
                    (Exchange(convection(30.0, 20.0), BOTH),),
                    (film,),
                    (pulse,),
                    times=np.arange(2.0, 61.0, 2.0),
                )
            ],
            stepping=TIGHT,
        )
        felt = history.temperature[-1][MESH.triangles] @ body.quadrature.N.T - 20.0
        return np.sum(felt * shapes[at] * body.quadrature.area)

    there, back = warming(0, 1), warming(1, 0)
    assert there > 0.0
    assert there == pytest.approx(back, rel=1e-9)


# --- rates


def triangle_gauss(n):
    """Area coordinates (q, 3) and weights (q,) that sum to 1: a collapsed square."""
    r, w = np.polynomial.legendre.leggauss(n)
    u, v = np.meshgrid(0.5 * (r + 1.0), 0.5 * (r + 1.0), indexing="ij")
    weight = 0.5 * np.outer(w, w) * (1.0 - u)
    area = np.stack([u, (1.0 - u) * v, (1.0 - u) * (1.0 - v)], axis=-1)
    return area.reshape(-1, 3), weight.ravel()


def made_field(x, y):
    """Temperature, its gradient, and its Laplacian (1/m2)."""
    p, q = 21.0, 13.0
    wave, rise = np.sin(p * x), np.exp(q * y)
    gradient = (120.0 * p * np.cos(p * x) * rise, 120.0 * q * wave * rise)
    return 300.0 + 120.0 * wave * rise, gradient, 120.0 * (q**2 - p**2) * wave * rise


def made_error(cells):
    """L2 error (K m) of k(T) with a source, faces, a film on the right, the rest held.

    The source and the film's medium are those that ``made_field`` needs.
    """
    mesh = rectangle(0.2, 0.1, 2 * cells, cells)
    held = nodes_on(mesh, "left", "bottom", "top")
    table = (0.0, 1000.0, np.array([54.0, 54.0 - 33.3]), np.array([0.0, 4e9]))
    body = body_of(mesh, table, D, held)
    x, y = np.moveaxis(body.quadrature.xy, -1, 0)
    T, (gx, gy), laplacian = made_field(x, y)
    spread = (54.0 - 0.0333 * T) * laplacian - 0.0333 * (gx**2 + gy**2)
    source = 2.0 * 25.0 * (T - 20.0) - D * spread
    facets = mesh.edges["right"]
    N = body.edge_rules["right"][0]
    places = np.einsum("ba,faj->fbj", N, mesh.points[facets])
    edge, (slope, _), _ = made_field(places[..., 0], places[..., 1])
    medium = edge + (54.0 - 0.0333 * edge) * slope / 500.0
    film = EdgeExchange("right", convection(500.0, medium), D)
    ends = made_field(*mesh.points[held].T)[0]
    loads = Loads(
        [Exchange(convection(25.0, 20.0), BOTH)],
        [film],
        lambda t: source,
        lambda t: ends,
    )
    ours = steady_heat(body, np.full(len(mesh.points), 300.0), loads)
    area, weight = triangle_gauss(6)
    N = shape(area)
    where = np.einsum("qa,eaj->eqj", N, mesh.points[mesh.triangles])
    miss = ours[mesh.triangles] @ N.T - made_field(where[..., 0], where[..., 1])[0]
    share = 0.2 * 0.1 / len(mesh.triangles)
    return float(np.sqrt(np.sum(miss**2 * weight) * share))


def rates(errors):
    return np.log2(np.array(errors[:-1]) / np.array(errors[1:]))


def test_error_falls_with_the_third_power_of_the_element():
    found = rates([made_error(cells) for cells in (4, 8, 16, 32)])
    np.testing.assert_allclose(found, 3.0, atol=0.15)


def lump_error(steps, second_order):
    """Nonlinear: a plate that only radiates, against the balance integrated finely."""
    c = 7850.0 * 600.0
    law = radiation(0.8, 20.0, 10.0)
    history = solve_heat(
        body_of(rectangle(0.02, 0.02, 1, 1), constant(45.0, c), D),
        [
            Phase(
                400.0,
                (Exchange(law, BOTH),),
                times=np.linspace(0, 400.0, steps + 1)[1:],
            )
        ],
        initial=700.0,
        stepping=Stepping(second_order=second_order, newton=1e-10),
    )
    exact = solve_ivp(
        lambda t, T: -2.0 * law(T, t)[0] / (c * D), (0.0, 400.0), [700.0], "DOP853",
        rtol=1e-12, atol=1e-10,
    ).y[0, -1]  # fmt: skip
    assert exact + KELVIN > 293.0
    return abs(history.temperature[-1, 0] - exact)


def driven_error(steps, second_order):
    """T = 300 + 1e4 x^2 sin(w t): ends and source follow; T6 holds x^2 exactly."""
    k, c, w, end = 45.0, 7850.0 * 600.0, 0.11, 20.0
    mesh = rectangle(0.1, 0.02, 4, 1)
    ends = nodes_on(mesh, "left", "right")
    square = 1e4 * mesh.points[:, 0] ** 2

    def source(x, y, t):
        return D * (c * w * 1e4 * x**2 * np.cos(w * t) - 2e4 * k * np.sin(w * t))

    history = solve_heat(
        body_of(mesh, constant(k, c), D, ends),
        [Phase(end, sources=(source,), times=np.linspace(0.0, end, steps + 1)[1:])],
        initial=300.0,
        fixed=lambda t: 300.0 + square[ends] * np.sin(w * t),
        stepping=Stepping(second_order=second_order, newton=1e-10),
    )
    exact = 300.0 + square * np.sin(w * end)
    return float(np.abs(history.temperature[-1] - exact).max())


def wave_error(steps, second_order):
    """Linear: a cosine along an insulated bar dies as exp(-a (pi/L)^2 t)."""
    k, c, length = 45.0, 7850.0 * 600.0, 0.1
    mesh = rectangle(length, 0.002, 50, 1)
    wave = np.cos(np.pi * mesh.points[:, 0] / length)
    end = c / k * (length / np.pi) ** 2
    history = solve_heat(
        body_of(mesh, constant(k, c), D),
        [Phase(end, times=np.linspace(0.0, end, steps + 1)[1:])],
        initial=300.0 + 100.0 * wave,
        stepping=Stepping(second_order=second_order, newton=1e-10),
    )
    exact = 300.0 + 100.0 * wave * np.exp(-1.0)
    return float(np.abs(history.temperature[-1] - exact).max())


@pytest.mark.parametrize("error", [lump_error, driven_error, wave_error])
@pytest.mark.parametrize(("second_order", "order"), [(False, 1.0), (True, 2.0)])
def test_error_falls_with_the_order_of_the_time_step(error, second_order, order):
    found = rates([error(steps, second_order) for steps in (16, 32, 64)])
    np.testing.assert_allclose(found, order, atol=0.15)

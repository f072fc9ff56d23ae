"""The same heat problem written with scikit-fem's own forms, element and assembly.

scikit-fem: Gustafsson & McBain, J. Open Source Softw. 5 (2020) 2369.  Plate with k(T) and
rho c(T), face losses by convection and radiation, an edge film, a held edge and a source:
the steady state, and a transient by backward Euler with its own Newton iteration.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, convection, radiation
from meshes import nodes_on, rectangle

from shrinksim.fem.conduction import (
    EdgeExchange,
    Exchange,
    Loads,
    heat_step,
    steady_heat,
)
from shrinksim.heat import Phase, Stepping, solve_heat

skfem = pytest.importorskip("skfem")

WIDTH, HEIGHT, D = 0.20, 0.10, 0.010
AIR, WATER, H_EDGE, H_AIR, EPS = 20.0, 15.0, 900.0, 12.0, 0.8
SIGMA, ZERO = 5.670374419e-8, 273.15
K0, K1 = 54.0, -0.0333  # k = K0 + K1 T
C0, C1 = 3.4e6, 2200.0  # rho c = C0 + C1 T
MESH = rectangle(WIDTH, HEIGHT, 12, 6)
HELD = nodes_on(MESH, "bottom")
GRID = np.arange(0.0, 1501.0, 0.5)
TABLE = (0.0, 0.5, K0 + K1 * GRID, C0 * GRID + 0.5 * C1 * GRID**2)


def flux(x, y):
    """W/m2 of plan area."""
    return 4e5 * np.exp(-((x - 0.08) ** 2 + (y - 0.06) ** 2) / 0.03**2)


LOADS = Loads(
    [Exchange(radiation(EPS, AIR, H_AIR), np.array(2.0))],
    [EdgeExchange("right", convection(H_EDGE, WATER), D)],
    fixed=lambda t: np.full(len(HELD), AIR),
)


class Peer:
    """The problem in scikit-fem; unknowns in its own order.

    ``mine`` : (n,) the number of its unknown at each node of our mesh.
    """

    def __init__(self) -> None:
        corners = MESH.triangles[:, :3]
        used = np.unique(corners)
        p, t = MESH.points[used].T, np.searchsorted(used, corners).T
        mesh = skfem.MeshTri(np.ascontiguousarray(p), np.ascontiguousarray(t))
        self.basis = skfem.Basis(mesh, skfem.ElementTriP2(), intorder=6)
        wet = mesh.facets_satisfying(lambda x: np.isclose(x[0], WIDTH))
        self.wet = skfem.FacetBasis(mesh, skfem.ElementTriP2(), facets=wet, intorder=6)
        self.held = self.basis.get_dofs(lambda x: np.isclose(x[1], 0.0)).all()
        places = np.round(self.basis.doflocs.T / 1e-7).astype(np.int64)
        number = {tuple(place): i for i, place in enumerate(places)}
        ours = np.round(MESH.points / 1e-7).astype(np.int64)
        self.mine = np.array([number[tuple(place)] for place in ours])

    def balance(self, T, T_old, rate):
        """Matrix and residual of stored heat times rate + flow out - source."""

        @skfem.BilinearForm
        def slope(u, v, w):
            K = w["T"] + ZERO
            film = 2 * (H_AIR + 4 * EPS * SIGMA * K**3)
            grad = w["T"].grad
            down = (
                D * (K0 + K1 * w["T"]) * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1])
            )
            down += D * K1 * u * (grad[0] * v.grad[0] + grad[1] * v.grad[1])
            return rate * D * (C0 + C1 * w["T"]) * u * v + down + film * u * v

        @skfem.LinearForm
        def miss(v, w):
            T, old = w["T"], w["old"]
            K = T + ZERO
            content = C0 * (T - old) + 0.5 * C1 * (T**2 - old**2)
            lost = H_AIR * (T - AIR) + EPS * SIGMA * (K**4 - (AIR + ZERO) ** 4)
            g = T.grad
            flow = D * (K0 + K1 * T) * (g[0] * v.grad[0] + g[1] * v.grad[1])
            return flow + (rate * D * content + 2 * lost - flux(*w.x)) * v

        film = skfem.BilinearForm(lambda u, v, w: D * H_EDGE * u * v)
        water = skfem.LinearForm(lambda v, w: D * H_EDGE * (w["T"] - WATER) * v)
        inside = {
            "T": self.basis.interpolate(T),
            "old": self.basis.interpolate(T_old),
        }
        A = slope.assemble(self.basis, **inside) + film.assemble(self.wet)
        b = miss.assemble(self.basis, **inside)
        return A, b + water.assemble(self.wet, T=self.wet.interpolate(T))

    def solve(self, T_old, rate):
        T = T_old.copy()
        T[self.held] = AIR
        for _ in range(20):
            A, b = self.balance(T, T_old, rate)
            change = skfem.solve(*skfem.condense(A, -b, D=self.held))
            T = T + change
            if np.abs(change).max() < 1e-9:
                return T
        raise AssertionError


@pytest.fixture(scope="module")
def peer():
    return Peer()


def source(x, y, t):
    return flux(x, y)


@pytest.fixture(scope="module")
def at_points():
    body = body_of(MESH, TABLE, D, HELD)
    return body, flux(body.quadrature.xy[..., 0], body.quadrature.xy[..., 1])


def test_steady(peer, at_points):
    body, given = at_points
    loads = Loads(LOADS.exchanges, LOADS.edges, lambda t: given, LOADS.fixed)
    ours = steady_heat(body, np.full(len(MESH.points), 300.0), loads)
    theirs = peer.solve(np.full(len(MESH.points), 300.0), 0.0)[peer.mine]
    assert ours.max() > 400.0
    np.testing.assert_allclose(ours, theirs, atol=0.02)


def test_transient(peer, at_points):
    """Every backward Euler step, heating for 60 s."""
    body, _ = at_points
    dt, steps = 3.0, 20
    phase = Phase(
        dt * steps,
        tuple(LOADS.exchanges),
        tuple(LOADS.edges),
        (source,),
        times=dt * np.arange(1, steps + 1),
    )
    history = solve_heat(
        body,
        [phase],
        initial=AIR,
        fixed=LOADS.fixed,
        stepping=Stepping(second_order=False, newton=1e-9),
    )
    T = np.full(len(MESH.points), AIR)
    for row in history.temperature[1:]:
        T = peer.solve(T, 1.0 / dt)
        np.testing.assert_allclose(row, T[peer.mine], atol=0.02)
    assert T.max() > 250.0


def test_one_step_is_the_same_to_rounding_when_linear(peer):
    """Constant coefficients leave no difference of quadrature: held and wet edge, faces."""
    linear = (0.0, 1000.0, np.full(2, K0), np.array([0.0, C0 * 1000.0]))
    body = body_of(MESH, linear, D, HELD)
    loads = Loads(
        [Exchange(convection(H_AIR, AIR), np.array(2.0))],
        LOADS.edges,
        None,
        LOADS.fixed,
    )
    start = 100.0 + 50.0 * np.cos(20.0 * MESH.points[:, 0]) + 900.0 * MESH.points[:, 1]
    start[HELD] = AIR
    step = heat_step(body, start, 0.0, 5.0, loads, second_order=False, tolerance=1e-11)
    mass = skfem.BilinearForm(lambda u, v, w: D * C0 / 5.0 * u * v).assemble(peer.basis)
    spread = skfem.BilinearForm(
        lambda u, v, w: (
            D * K0 * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1]) + 2 * H_AIR * u * v
        )
    ).assemble(peer.basis)
    film = skfem.BilinearForm(lambda u, v, w: D * H_EDGE * u * v).assemble(peer.wet)
    air = skfem.LinearForm(lambda v, w: 2 * H_AIR * AIR * v).assemble(peer.basis)
    water = skfem.LinearForm(lambda v, w: D * H_EDGE * WATER * v).assemble(peer.wet)
    old = np.empty_like(start)
    old[peer.mine] = start
    held = np.zeros_like(old)
    held[peer.held] = AIR
    theirs = skfem.solve(
        *skfem.condense(
            mass + spread + film, mass @ old + air + water, x=held, D=peer.held
        )
    )
    np.testing.assert_allclose(step.T, theirs[peer.mine], rtol=1e-9)

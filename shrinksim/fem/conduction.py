"""Transient heat conduction on T6 triangles: one step of the enthalpy form.

d(rho H(T))/dt = div(k grad T) + q, q the gain less the loss of faces and edges.  Steps are
backward Euler or SDIRK2 (Alexander 1977, two stages, stiffly accurate, L-stable;
gamma = 1 - 1/sqrt 2), both conservative: the heat stored at the end of a step is that
at its start plus the inflow, to the tolerance of Newton's method.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import NotConverged
from shrinksim.fem.basis import EDGE_POINTS, EDGE_WEIGHTS, Quadrature, quadrature
from shrinksim.fem.exchange import (
    APART,
    COLDEST,
    EdgeExchange,
    EdgeSource,
    Exchange,
    Law,
    Loads,
    tabulated,
)
from shrinksim.fem.kernels.heat import edge_loss, face_loss, heat_sweep
from shrinksim.fem.kernels.scatter import add_edge
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Assembly, Solve, assembly, factorise, ties

__all__ = [
    "GAMMA",
    "EdgeExchange",
    "EdgeSource",
    "Exchange",
    "HeatStep",
    "Law",
    "Loads",
    "Medium",
    "edge_points",
    "edge_rule",
    "heat_step",
    "medium",
    "steady_heat",
]

GAMMA = 1.0 - np.sqrt(0.5)
ITERATIONS = 40

EdgeRule = tuple[FloatArray, FloatArray, IntArray, IntArray]


@dataclass(frozen=True)
class Medium:
    """Mesh with its thickness and thermal properties.

    conductivity, content : (k,) tables on the grid start + step * i, W/mK and J/m3.
    volume : (e, q) m3.  edge_rules : edge name -> its ``edge_rule``.
    """

    mesh: Mesh
    quadrature: Quadrature
    volume: FloatArray
    start: float
    step: float
    conductivity: FloatArray
    content: FloatArray
    fixed: IntArray
    plan: Assembly
    edge_rules: Mapping[str, EdgeRule]

    def step_to(
        self, T: FloatArray, t: float, dt: float, loads: Loads, **more: Any
    ) -> HeatStep:
        """One implicit step, `heat_step`."""
        return heat_step(self, T, t, dt, loads, **more)


def medium(
    mesh: Mesh,
    thickness: FloatArray | float,
    start: float,
    step: float,
    conductivity: FloatArray,
    content: FloatArray,
    fixed: IntArray | Sequence[int] = (),
) -> Medium:
    """Medium of ``mesh`` with ``thickness`` (e,) m; ``fixed`` : nodes of given T."""
    rule = quadrature(mesh, "interior 6")
    depth = np.broadcast_to(np.asarray(thickness, float), len(mesh.triangles))
    held = np.asarray(fixed, np.int64)
    plan = assembly(mesh.triangles, ties(len(mesh.points), held), mesh.points[:, 0])
    return Medium(
        mesh,
        rule,
        rule.area * depth[:, None],
        start,
        step,
        np.ascontiguousarray(conductivity),
        np.ascontiguousarray(content),
        held,
        plan,
        {name: edge_rule(mesh, facets) for name, facets in mesh.edges.items()},
    )


@dataclass
class _Evaluation:
    """Nodal heat stored (n,) J and heat flow (n,) W at a temperature field, the element
    matrices, and the rates of gain and loss in W.
    """

    stored: FloatArray
    flow: FloatArray
    matrix: FloatArray
    gain: float
    loss: float


@dataclass(frozen=True)
class _Incoming:
    """Source at one time: flux (e, q) W/m2 of plan area, and its total W."""

    flux: FloatArray
    gain: float


def _incoming(body: Medium, loads: Loads, t: float) -> _Incoming:
    """The source of the loads at t."""
    if loads.source is None:
        return _Incoming(np.zeros_like(body.volume), 0.0)
    flux = np.ascontiguousarray(loads.source(t))
    return _Incoming(flux, float(np.vdot(flux, body.quadrature.area)))


def _evaluate(
    body: Medium, T: FloatArray, t: float, loads: Loads, dt: float, capacity: float,
    matrix: bool, incoming: _Incoming,
) -> _Evaluation:  # fmt: skip
    """Assemble stored_a = int N_a rho H(T) dV and flow_a = - int grad N_a . k grad T dV
    + int N_a (q_in - q_out) dA; ``matrix`` asks for capacity d stored/dT - dt d flow/dT.
    """
    mesh, rule = body.mesh, body.quadrature
    loss, slope = np.zeros_like(rule.area), np.zeros_like(rule.area)
    lost = 0.0
    for exchange in loads.exchanges:
        lost += _face(body, exchange, T, t, loss, slope)
    stored, flow = np.zeros((2, len(mesh.points)))
    blocks = np.empty((len(mesh.triangles) if matrix else 0, 6, 6))
    heat_sweep(
        T, mesh.triangles, rule.N, rule.dN, body.volume, rule.area, body.start,
        body.step, body.conductivity, body.content, loss, slope, incoming.flux, dt,
        capacity, matrix, stored, flow, blocks,
    )  # fmt: skip
    for edge in loads.edges:
        lost += _edge(body, edge, T, t, dt, matrix, flow, blocks)
    gain = incoming.gain
    for inlet in loads.inlets:
        gain += _inlet(body, inlet, t, flow)
    return _Evaluation(stored, flow, blocks, gain, lost)


def _face(
    body: Medium, exchange: Exchange, T: FloatArray, t: float, loss: FloatArray,
    slope: FloatArray,
) -> float:  # fmt: skip
    """Add an exchange to loss and slope (e, q) W/m2; heat lost, W."""
    mesh, rule = body.mesh, body.quadrature
    if exchange.steady:
        return face_loss(
            T, mesh.triangles, rule.N, rule.area, np.atleast_2d(exchange.faces),
            COLDEST, APART, tabulated(exchange.law), loss, slope,
        )  # fmt: skip
    q, dq = exchange.law(T[mesh.triangles] @ rule.N.T, t)
    out = q * exchange.faces
    loss += out
    slope += dq * exchange.faces
    return float(np.sum(out * rule.area))


def _edge(
    body: Medium, edge: EdgeExchange, T: FloatArray, t: float, dt: float, matrix: bool,
    flow: FloatArray, blocks: FloatArray,
) -> float:  # fmt: skip
    """Add an edge's exchange to flow (n,) and blocks (e, 6, 6); heat lost, W."""
    facets = body.mesh.edges[edge.edge]
    N, weight, owner, local = body.edge_rules[edge.edge]
    cover = np.ones_like(weight) if edge.cover is None else edge.cover
    if edge.steady:
        return edge_loss(
            T, facets, owner, local, N, weight, cover, edge.thickness, COLDEST, APART,
            tabulated(edge.law), dt, matrix, flow, blocks,
        )  # fmt: skip
    q, dq = edge.law(T[facets] @ N.T, t)
    share = weight * edge.thickness * cover
    slope = np.maximum(dq, 0.0) * share * dt
    add_edge(facets, owner, local, share, slope, q, N, matrix, flow, blocks)
    return float(np.sum(q * share))


def _inlet(body: Medium, inlet: EdgeSource, t: float, flow: FloatArray) -> float:
    """Add the heat input through an edge to flow (n,); heat gained, W."""
    facets = body.mesh.edges[inlet.edge]
    N, weight, _, _ = body.edge_rules[inlet.edge]
    xy = edge_points(body, inlet.edge)
    share = weight * inlet.thickness * inlet.flux(xy[..., 0], xy[..., 1], t)
    nodal = np.einsum("fb,ba->fa", share, N)
    flow += np.bincount(facets.ravel(), nodal.ravel(), len(flow))
    return float(np.sum(share))


def edge_points(body: Medium, edge: str) -> FloatArray:
    """Integration points (f, b, 2) m of a named edge."""
    N = body.edge_rules[edge][0]
    return np.einsum("ba,faj->fbj", N, body.mesh.points[body.mesh.edges[edge]])


def edge_rule(mesh: Mesh, facets: IntArray) -> EdgeRule:
    """Three-point Gauss on facets (f, 3) with a node in the middle.

    Returns N (b, 3), weight (f, b) m, owner element (f,), its local nodes (f, 3).
    """
    r = EDGE_POINTS
    N = np.stack([(1 - r) * (1 - 2 * r), r * (2 * r - 1), 4 * r * (1 - r)], axis=1)
    dN = np.stack([4 * r - 3, 4 * r - 1, 4 - 8 * r], axis=1)
    tangent = np.einsum("ba,faj->fbj", dN, mesh.points[facets])
    weight = np.linalg.norm(tangent, axis=2) * EDGE_WEIGHTS
    middle = {
        int(node): (e, a)
        for e, row in enumerate(mesh.triangles[:, 3:])
        for a, node in enumerate(row)
    }
    owner = np.array([middle[int(m)][0] for m in facets[:, 2]], np.int64)
    match = mesh.triangles[owner][:, None, :] == facets[:, :, None]
    return N, weight, owner, np.argmax(match, axis=2)


@dataclass(frozen=True)
class HeatStep:
    """Result of a step: T (n,), heat in/out/stored during it (J), error estimate (K).

    nodal_heat : (n,) J at the end by the balance: heat at the start plus inflow.  A next
    step that starts from it corrects the residual left by Newton's method.
    content : J stored at T, the zero that of the heat table.
    """

    T: FloatArray
    gained: float
    lost: float
    stored: float
    error: float
    iterations: int
    nodal_heat: FloatArray
    content: float


def heat_step(
    body: Medium,
    T: FloatArray,
    t: float,
    dt: float,
    loads: Loads,
    *,
    second_order: bool = True,
    tolerance: float = 1e-3,
    nodal_heat: FloatArray | None = None,
    rate: FloatArray | None = None,
    cache: FactorCache | None = None,
) -> HeatStep:
    """One implicit step from t to t + dt.  Raises NotConverged with time and place.

    nodal_heat : (n,) J at T, from the last step.  rate : (n,) K/s, first guess.
    cache : of the last step on the same medium; its factor is replaced when needed.
    The error estimate is gamma dt |rate_2 - rate_1|, the difference to the embedded
    first-order formula: a safe size for the second-order result.
    """
    start = nodal_heat
    if start is None:
        nothing = _incoming(body, Loads(), t)
        start = _evaluate(body, T, t, Loads(), 0.0, 1.0, False, nothing).stored
    # SDIRK2: H1 = H0 + g dt F1, H2 = H0 + (1 - g) dt F1 + g dt F2, g = 1 - 1/sqrt 2
    # (Alexander, SIAM J. Numer. Anal. 14 (1977)); H nodal heat, F nodal heat flow
    stage = GAMMA * dt if second_order else dt
    cache = cache or FactorCache()
    first = T if rate is None else T + stage * rate
    T1, one, n1 = _stage(body, first, start, t + stage, stage, loads, cache, tolerance)
    if not second_order:
        return _step_result(body, T1, start, [one], [dt], n1, float("nan"))
    base = start + (1.0 - GAMMA) * dt * one.flow
    if len(body.fixed):
        base[body.fixed] = start[body.fixed]
    guess = T + (T1 - T) / GAMMA
    if loads.fixed is not None:
        guess[body.fixed] = loads.fixed(t + dt)
    T2, two, n2 = _stage(body, guess, base, t + dt, stage, loads, cache, tolerance)
    error = float(np.max(np.abs(T2 - T - (T1 - T) / GAMMA)))
    shares = [(1.0 - GAMMA) * dt, GAMMA * dt]
    return _step_result(body, T2, start, [one, two], shares, n1 + n2, error)


def _step_result(
    body: Medium, T: FloatArray, start: FloatArray, stages: list[_Evaluation],
    shares: list[float], iterations: int, error: float,
) -> HeatStep:  # fmt: skip
    """Result of a step from its stages, weighted by ``shares`` s."""
    gained = sum(w * s.gain for w, s in zip(shares, stages, strict=True))
    lost = sum(w * s.loss for w, s in zip(shares, stages, strict=True))
    last = stages[-1].stored
    flow = sum(w * s.flow for w, s in zip(shares, stages, strict=True))
    heat = start + flow
    if len(body.fixed):
        gained += float(np.sum((last - heat)[body.fixed]))
        heat[body.fixed] = last[body.fixed]
    stored, content = float(np.sum(last - start)), float(np.sum(last))
    return HeatStep(T, gained, lost, stored, error, iterations, heat, content)


@dataclass
class FactorCache:
    """Factor of the matrix, reused over iterations and steps; the step (s) it is for,
    and the contraction: the ratio of the last two changes of an iteration with it.
    """

    solve: Solve | None = None
    dt: float = 0.0
    contraction: float = 1.0

    def is_fresh_enough(self, dt: float) -> bool:
        """Whether iterations with it contract fast enough in a step of dt."""
        if self.solve is None:
            return False
        other = abs(1.0 - dt / self.dt)
        return max(self.contraction, other) <= SLOW


SLOW = 0.2
"""Contraction above which the matrix is factored again."""

NEGLIGIBLE = 1e-3
"""Share of the tolerance below which a change is rounding, no measure of contraction."""


def _stage(
    body: Medium, guess: FloatArray, base: FloatArray, t: float, dt: float,
    loads: Loads, cache: FactorCache, tolerance: float, capacity: float = 1.0,
) -> tuple[FloatArray, _Evaluation, int]:  # fmt: skip
    """Solve capacity (stored(T) - base) = dt flow(T) by simplified Newton iterations.

    Ends when theta / (1 - theta) |change|, theta the contraction, is within the
    tolerance (Hairer & Wanner, Solving Ordinary Differential Equations II, IV.8).  With
    a reused factor theta is at least SLOW, and is measured before it is used.
    With capacity 0 and dt 1 this is the steady state.
    """
    T = guess.copy()
    if loads.fixed is not None:
        T[body.fixed] = loads.fixed(t)
    incoming = _incoming(body, loads, t)
    tied = body.plan.ties
    size, iteration = np.inf, 0
    change = np.zeros_like(T)
    factored = False
    for iteration in range(1, ITERATIONS + 1):
        again = not cache.is_fresh_enough(dt)
        now = _evaluate(body, T, t, loads, dt, capacity, again, incoming)
        if again:
            cache.solve = factorise(body.plan, body.plan.matrix(now.matrix))
            cache.dt, factored = dt, True
        assert cache.solve is not None
        residual = capacity * (base - now.stored) + dt * now.flow
        change = tied.expand(cache.solve(tied.reduce(residual)))
        before, size = size, float(np.max(np.abs(change), initial=0.0))
        T = T + change
        cache.contraction = size / before if 0.0 < before < np.inf else SLOW
        theta = cache.contraction if factored else max(cache.contraction, SLOW)
        enough = size * theta <= tolerance * (1.0 - theta)
        if size <= NEGLIGIBLE * tolerance or (enough and (factored or iteration > 1)):
            last = _evaluate(body, T, t, loads, dt, capacity, False, incoming)
            return T, last, iteration
        if not np.isfinite(size) or size > 1e7:
            break
    place = body.mesh.points[int(np.argmax(np.abs(change)))]
    message = (
        f"heat: no balance at t = {t:.4g} s with a step of {dt:.3g} s: the temperature "
        f"still moves by {size:.3g} K after {iteration} iterations (want {tolerance:g} "
        f"K), most at x = {place[0]:.4f} m, y = {place[1]:.4f} m"
    )
    raise NotConverged(message, time=t)


def steady_heat(body: Medium, guess: FloatArray, loads: Loads) -> FloatArray:
    """Steady temperatures (n,) degC, by iteration from a guess (n,)."""
    base = np.zeros(len(body.mesh.points))
    T, _, _ = _stage(
        body, guess, base, 0.0, 1.0, loads, FactorCache(), 1e-8, capacity=0.0
    )
    return T

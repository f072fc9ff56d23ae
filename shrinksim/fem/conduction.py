"""Transient heat conduction on T6 triangles: one step of the enthalpy form.

rho H(T) is stored, div(k grad T) flows, faces and edges gain or lose.  Steps are
backward Euler or SDIRK2 (Alexander 1977, two stages, stiffly accurate, L-stable;
gamma = 1 - 1/sqrt 2), both in conserved form: the sum of heat stored at the end of a
step is the sum at its start plus what came in, to the tolerance of Newton's method.
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
    """A mesh with its thickness and heat table, ready to step.

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
    """Prepare ``mesh`` of ``thickness`` (e,) m for conduction; ``fixed`` node numbers."""
    rule = quadrature(mesh, "interior 6")
    depth = np.broadcast_to(np.asarray(thickness, float), len(mesh.triangles))
    held = np.asarray(fixed, np.int64)
    hang = ties(len(mesh.points), held)
    plan = assembly(mesh.triangles, hang, mesh.points[:, 0])
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
class _Sweep:
    """One evaluation at a temperature field: nodal heat and flow, and rates in W."""

    stored: FloatArray
    flow: FloatArray
    matrix: FloatArray
    gain: float
    loss: float


@dataclass(frozen=True)
class _Incoming:
    """A source at one time: (e, q) W/m2 of plan area, and W in all."""

    flux: FloatArray
    gain: float


def _incoming(body: Medium, loads: Loads, t: float) -> _Incoming:
    if loads.source is None:
        return _Incoming(np.zeros_like(body.volume), 0.0)
    flux = np.ascontiguousarray(loads.source(t))
    return _Incoming(flux, float(np.vdot(flux, body.quadrature.area)))


def _evaluate(
    body: Medium, T: FloatArray, t: float, loads: Loads, dt: float, capacity: float,
    matrix: bool, incoming: _Incoming,
) -> _Sweep:  # fmt: skip
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
    return _Sweep(stored, flow, blocks, gain, lost)


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
    """Add what comes in through an edge to flow (n,); heat gained, W."""
    facets = body.mesh.edges[inlet.edge]
    N, weight, _, _ = body.edge_rules[inlet.edge]
    xy = edge_points(body, inlet.edge)
    share = weight * inlet.thickness * inlet.flux(xy[..., 0], xy[..., 1], t)
    nodal = np.einsum("fb,ba->fa", share, N)
    flow += np.bincount(facets.ravel(), nodal.ravel(), len(flow))
    return float(np.sum(share))


def edge_points(body: Medium, edge: str) -> FloatArray:
    """Points (f, b, 2) m that a named edge is integrated at."""
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

    held : (n,) J that each node should hold at the end: what it held and what came in.
    The next step may start from it, which makes up for what Newton's method left.
    content : J really held at T, the zero that of the heat table.
    """

    T: FloatArray
    gained: float
    lost: float
    stored: float
    error: float
    iterations: int
    held: FloatArray
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
    held: FloatArray | None = None,
    rate: FloatArray | None = None,
    kept: KeptFactor | None = None,
) -> HeatStep:
    """One implicit step from t to t + dt.  Raises NotConverged with time and place.

    held : (n,) J at T, from the last step.  rate : (n,) K/s, a first guess of the step.
    kept : of the last step on the same medium, replaced when it serves no more.
    The error estimate is gamma dt |rate_2 - rate_1|, the difference to the embedded
    first-order formula: a safe size for the second-order result.
    """
    start = held
    if start is None:
        nothing = _incoming(body, Loads(), t)
        start = _evaluate(body, T, t, Loads(), 0.0, 1.0, False, nothing).stored
    stage = GAMMA * dt if second_order else dt
    kept = kept or KeptFactor()
    first = T if rate is None else T + stage * rate
    T1, one, n1 = _stage(body, first, start, t + stage, stage, loads, kept, tolerance)
    if not second_order:
        return _summed(body, T1, start, [one], [dt], n1, float("nan"))
    base = start + (1.0 - GAMMA) * dt * one.flow
    if len(body.fixed):
        base[body.fixed] = start[body.fixed]
    guess = T + (T1 - T) / GAMMA
    if loads.fixed is not None:
        guess[body.fixed] = loads.fixed(t + dt)
    T2, two, n2 = _stage(body, guess, base, t + dt, stage, loads, kept, tolerance)
    error = float(np.max(np.abs(T2 - T - (T1 - T) / GAMMA)))
    shares = [(1.0 - GAMMA) * dt, GAMMA * dt]
    return _summed(body, T2, start, [one, two], shares, n1 + n2, error)


def _summed(
    body: Medium, T: FloatArray, start: FloatArray, sweeps: list[_Sweep],
    shares: list[float], iterations: int, error: float,
) -> HeatStep:  # fmt: skip
    gained = sum(w * s.gain for w, s in zip(shares, sweeps, strict=True))
    lost = sum(w * s.loss for w, s in zip(shares, sweeps, strict=True))
    last = sweeps[-1].stored
    flow = sum(w * s.flow for w, s in zip(shares, sweeps, strict=True))
    held = start + flow
    if len(body.fixed):
        gained += float(np.sum((last - held)[body.fixed]))
        held[body.fixed] = last[body.fixed]
    stored, content = float(np.sum(last - start)), float(np.sum(last))
    return HeatStep(T, gained, lost, stored, error, iterations, held, content)


@dataclass
class KeptFactor:
    """A factor in use, the step (s) it was made for, and how much of the error an
    iteration with it leaves.
    """

    solve: Solve | None = None
    dt: float = 0.0
    leaves: float = 1.0

    def serves(self, dt: float) -> bool:
        """Whether it takes the error down fast enough in a step of dt."""
        if self.solve is None:
            return False
        other = abs(1.0 - dt / self.dt)
        return max(self.leaves, other) <= SLOW


SLOW = 0.2
"""A factor that leaves more of the error than this is made anew."""

NOTHING = 1e-3
"""Share of the tolerance under which a change says nothing of the contraction any more."""


def _stage(
    body: Medium, guess: FloatArray, base: FloatArray, t: float, dt: float,
    loads: Loads, kept: KeptFactor, tolerance: float, capacity: float = 1.0,
) -> tuple[FloatArray, _Sweep, int]:  # fmt: skip
    """Solve capacity (stored(T) - base) = dt flow(T); factors are kept while they help.

    Ends when what the seen contraction leaves of the last change is in the tolerance
    (Hairer & Wanner, Solving Ordinary Differential Equations II, IV.8); of a factor
    made earlier nothing better than SLOW is believed, and that only once it is seen.
    With capacity 0 and dt 1 this is the steady state.
    """
    T = guess.copy()
    if loads.fixed is not None:
        T[body.fixed] = loads.fixed(t)
    incoming = _incoming(body, loads, t)
    hang = body.plan.ties
    move, iteration = np.inf, 0
    change = np.zeros_like(T)
    made = False
    for iteration in range(1, ITERATIONS + 1):
        fresh = not kept.serves(dt)
        sweep = _evaluate(body, T, t, loads, dt, capacity, fresh, incoming)
        if fresh:
            kept.solve = factorise(body.plan, body.plan.matrix(sweep.matrix))
            kept.dt, made = dt, True
        assert kept.solve is not None
        miss = capacity * (base - sweep.stored) + dt * sweep.flow
        change = hang.expand(kept.solve(hang.reduce(miss)))
        before, move = move, float(np.max(np.abs(change), initial=0.0))
        T = T + change
        kept.leaves = move / before if 0.0 < before < np.inf else SLOW
        leaves = kept.leaves if made else max(kept.leaves, SLOW)
        enough = move * leaves <= tolerance * (1.0 - leaves)
        if move <= NOTHING * tolerance or (enough and (made or iteration > 1)):
            last = _evaluate(body, T, t, loads, dt, capacity, False, incoming)
            return T, last, iteration
        if not np.isfinite(move) or move > 1e7:
            break
    place = body.mesh.points[int(np.argmax(np.abs(change)))]
    message = (
        f"heat: no balance at t = {t:.4g} s with a step of {dt:.3g} s: the temperature "
        f"still moves by {move:.3g} K after {iteration} iterations (want {tolerance:g} "
        f"K), most at x = {place[0]:.4f} m, y = {place[1]:.4f} m"
    )
    raise NotConverged(message, time=t)


def steady_heat(body: Medium, guess: FloatArray, loads: Loads) -> FloatArray:
    """Temperatures (n,) at which nothing changes any more, from a guess (n,)."""
    base = np.zeros(len(body.mesh.points))
    T, _, _ = _stage(
        body, guess, base, 0.0, 1.0, loads, KeptFactor(), 1e-8, capacity=0.0
    )
    return T

"""Heat in a plate with thickness: T6 in the plane, a polynomial through the thickness.

Enthalpy form.  What acts is told as for a sheet (`fem.exchange.Loads`): a face's
exchange and source are per plan area, and are shared out to the two faces here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.basis import Quadrature, quadrature, shape, shape_slopes
from shrinksim.fem.conduction import EdgeRule, FactorCache, HeatStep, edge_rule
from shrinksim.fem.exchange import (
    APART,
    COLDEST,
    EdgeExchange,
    EdgeSource,
    Exchange,
    Loads,
    tabulated,
)
from shrinksim.fem.extruded import Extruded, warm_mesh
from shrinksim.fem.implicit import Acting, Evaluate, Sweep, implicit_step
from shrinksim.fem.kernels.heat import edge_loss, face_loss
from shrinksim.fem.kernels.scatter import add_edge
from shrinksim.fem.kernels.slab import slab_sweep
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Assembly, assembly, ties
from shrinksim.fem.through import Lobatto, lobatto_through

ORDER = 4
"""Of the temperatures through the thickness."""

TOP, BOTH, BOTTOM = (0.0, 1.0), (0.5, 0.5), (1.0, 0.0)
"""Shares of a source on the bottom and the top face."""


@dataclass(frozen=True)
class Rim:
    """A named edge at all levels: facets (f, 3), their owners (f,) and local nodes
    (f, 3) in these columns, weight (f, b) m2, and N (b, 3).  f counts level by level.
    """

    N: FloatArray
    facets: IntArray
    owner: IntArray
    local: IntArray
    weight: FloatArray


@dataclass(frozen=True)
class PlateMedium:
    """A plate ready to be heated.

    mesh : record of the temperatures, see fem.plate.warm_mesh.  quadrature : of a face,
    at which sources and losses are summed; inside : of a level.  volume : (e, f) m3 at
    the face's points.  heated : shares of the bottom and the top face in a source.
    conductivity, content : tables on start + step * i, W/mK and J/m3.
    """

    mesh: Mesh
    warm: Extruded
    through: Lobatto
    quadrature: Quadrature
    inside: Quadrature
    volume: FloatArray
    heated: tuple[float, float]
    start: float
    step: float
    conductivity: FloatArray
    content: FloatArray
    fixed: IntArray
    plan: Assembly
    edge_rules: Mapping[str, EdgeRule]
    rims: Mapping[str, Rim]

    def step_to(
        self, T: FloatArray, t: float, dt: float, loads: Loads, *,
        second_order: bool = True, tolerance: float = 1e-3,
        nodal_heat: FloatArray | None = None, rate: FloatArray | None = None,
        cache: FactorCache | None = None,
    ) -> HeatStep:  # fmt: skip
        """One implicit step, as `fem.conduction.heat_step` does it for a sheet."""
        acting = Acting(lambda t, dt: _at(self, loads, t, dt), loads.fixed)
        start = nodal_heat
        if start is None:
            start = _at(self, Loads(), t, 0.0)(T, 1.0, False).stored
        return implicit_step(
            self, acting, T, t, dt, start, second_order=second_order,
            tolerance=tolerance, rate=rate, cache=cache,
        )  # fmt: skip

    def face(self, side: int) -> IntArray:
        """Triangles (e, 6) of the bottom face (0) or the top face (1)."""
        count = self.warm.columns.shape[1]
        start = side * (count - 6)
        return np.ascontiguousarray(self.warm.columns[:, start : start + 6])


def plate_medium(
    mesh: Mesh, thickness: float, start: float, step: float, conductivity: FloatArray,
    content: FloatArray, *, heated: tuple[float, float] = TOP, order: int = ORDER,
    face_points: int = 3, fixed: IntArray | Sequence[int] = (),
) -> PlateMedium:  # fmt: skip
    """Prepare a plate of ``thickness`` m on the mesh of its middle surface.

    order : of the temperatures through the thickness.  face_points : squared, the
    points of an element's face that a source is summed at.
    """
    warm, record = warm_mesh(mesh, order)
    face = collapsed(mesh, face_points)
    held = np.asarray(fixed, np.int64)
    x, through = record.points[:, 0], lobatto_through(thickness, order)
    rules = {name: edge_rule(mesh, facets) for name, facets in mesh.edges.items()}
    return PlateMedium(
        record,
        warm,
        through,
        face,
        quadrature(mesh, "interior 6"),
        face.area * thickness,
        heated,
        start,
        step,
        np.ascontiguousarray(conductivity),
        np.ascontiguousarray(content),
        held,
        assembly(warm.columns, ties(len(x), held), x),
        rules,
        {name: _rim(warm, through, name, rule) for name, rule in rules.items()},
    )


def _rim(warm: Extruded, through: Lobatto, name: str, rule: EdgeRule) -> Rim:
    """An edge of the mesh of the middle surface at all levels."""
    N, weight, owner, local = rule
    up = np.arange(warm.levels)[:, None, None]
    facets = warm.flat.edges[name] + up * len(warm.flat.points)
    area = through.weight[:, None, None] * weight
    return Rim(
        N,
        facets.reshape(-1, 3),
        np.tile(owner, warm.levels),
        (local + 6 * up).reshape(-1, 3),
        area.reshape(-1, weight.shape[1]),
    )


def collapsed(mesh: Mesh, points: int) -> Quadrature:
    """Gauss points of a square collapsed to each triangle, (points)^2 of them.

    Stroud, Approximate Calculation of Multiple Integrals, 1971, conical products (from
    memory): exact to degree 2 points - 2 on straight-sided triangles.
    """
    at, weight = np.polynomial.legendre.leggauss(points)
    at, weight = 0.5 * (1.0 + at), 0.5 * weight
    l2 = np.repeat(at, points)
    l3 = (1.0 - l2) * np.tile(at, points)
    area = np.stack([1.0 - l2 - l3, l2, l3], axis=1)
    weights = 2.0 * np.outer(weight * (1.0 - at), weight).ravel()
    corners, N = mesh.points[mesh.triangles], shape(area)
    J = np.einsum("qai,eaj->eqij", shape_slopes(area), corners)
    det = J[..., 0, 0] * J[..., 1, 1] - J[..., 0, 1] * J[..., 1, 0]
    xy = np.einsum("qa,eaj->eqj", N, corners)
    return Quadrature(N, np.empty((0, 0, 6, 2)), 0.5 * det * weights, xy)


def _at(body: PlateMedium, loads: Loads, t: float, dt: float) -> Evaluate:
    """The plate with what acts on it at one time."""
    come, gain = _incoming(body, loads, t)
    through = body.through

    def evaluate(T: FloatArray, capacity: float, matrix: bool) -> Sweep:
        stored, flow = np.zeros_like(T), come.copy()
        count, size = body.warm.columns.shape
        blocks = np.empty((count if matrix else 0, size, size))
        slab_sweep(
            T, body.warm.columns, body.inside.N, body.inside.dN, body.inside.area,
            through.weight, through.slope, body.start, body.step, body.conductivity,
            body.content, dt, capacity, matrix, stored, flow, blocks,
        )  # fmt: skip
        lost = sum(
            _face(body, loads.exchanges, side, T, t, dt, flow, blocks)
            for side in (0, 1)
        )
        for edge in loads.edges:
            lost += _edge(body, edge, T, t, dt, flow, blocks)
        return Sweep(stored, flow, blocks, gain, lost)

    return evaluate


def _incoming(body: PlateMedium, loads: Loads, t: float) -> tuple[FloatArray, float]:
    """Heat (k n,) W that comes in at a time, and its sum."""
    come = np.zeros(body.warm.nodes)
    if loads.source is not None:
        nodal = (loads.source(t) * body.quadrature.area) @ body.quadrature.N
        for side, share in enumerate(loads.sides or body.heated):
            if share:
                np.add.at(come, body.face(side), share * nodal)
    for inlet in loads.inlets:
        _inlet(body, inlet, t, come)
    return come, float(come.sum())


def _inlet(body: PlateMedium, inlet: EdgeSource, t: float, come: FloatArray) -> None:
    """Add what comes in through an edge, even through the thickness, to come (k n,)."""
    rim, points = body.rims[inlet.edge], body.mesh.points
    xy = np.einsum("ba,faj->fbj", rim.N, points[rim.facets])
    nodal = (rim.weight * inlet.flux(xy[..., 0], xy[..., 1], t)) @ rim.N
    np.add.at(come, rim.facets, nodal)


def _face(
    body: PlateMedium, exchanges: Sequence[Exchange], side: int, T: FloatArray,
    t: float, dt: float, flow: FloatArray, blocks: FloatArray,
) -> float:  # fmt: skip
    """Take a face's share of the exchanges off flow (k n,); heat lost, W."""
    if not exchanges:
        return 0.0
    rule, triangles = body.quadrature, body.face(side)
    loss, slope = np.zeros((2, *rule.area.shape))
    lost = 0.0
    for exchange in exchanges:
        if not exchange.sides[side]:
            continue
        half = exchange.sides[side] * np.atleast_2d(exchange.faces)
        if exchange.steady:
            lost += face_loss(
                T, triangles, rule.N, rule.area, half, COLDEST, APART,
                tabulated(exchange.law), loss, slope,
            )  # fmt: skip
            continue
        q, dq = exchange.law(T[triangles] @ rule.N.T, t)
        loss += half * q
        slope += half * dq
        lost += float(np.sum(half * q * rule.area))
    np.subtract.at(flow, triangles, (loss * rule.area) @ rule.N)
    if len(blocks):
        square = (rule.N[:, :, None] * rule.N[:, None, :]).reshape(len(rule.N), 36)
        stiff = (dt * np.maximum(slope, 0.0) * rule.area) @ square
        start = side * (blocks.shape[1] - 6)
        here = slice(start, start + 6)
        blocks[:, here, here] += stiff.reshape(-1, 6, 6)
    return lost


def _edge(
    body: PlateMedium, edge: EdgeExchange, T: FloatArray, t: float, dt: float,
    flow: FloatArray, blocks: FloatArray,
) -> float:  # fmt: skip
    """Take an edge's exchange off flow (k n,); heat lost, W.  Its thickness is ours."""
    rim, matrix = body.rims[edge.edge], len(blocks) > 0
    cover = np.ones_like(rim.weight)
    if edge.cover is not None:
        cover = np.tile(edge.cover, (body.warm.levels, 1))
    if edge.steady:
        return edge_loss(
            T, rim.facets, rim.owner, rim.local, rim.N, rim.weight, cover, 1.0, COLDEST,
            APART, tabulated(edge.law), dt, matrix, flow, blocks,
        )  # fmt: skip
    q, dq = edge.law(T[rim.facets] @ rim.N.T, t)
    share = rim.weight * cover
    slope = np.maximum(dq, 0.0) * share * dt
    add_edge(
        rim.facets, rim.owner, rim.local, share, slope, q, rim.N, matrix, flow, blocks
    )
    return float(np.sum(q * share))


def all_round(
    body: PlateMedium, law: object, edges: Sequence[str] | None = None
) -> tuple[tuple[Exchange, ...], tuple[EdgeExchange, ...]]:
    """A steady law on both faces and the named edges (None: all)."""
    names = list(body.edge_rules) if edges is None else edges
    thick = float(body.through.weight.sum())
    faces = Exchange(law, np.full((1, 1), 2.0), steady=True)  # type: ignore[arg-type]
    every = (EdgeExchange(n, law, thick, steady=True) for n in names)  # type: ignore[arg-type]
    return (faces,), tuple(every)

"""A plate with thickness: columns of quadratic wedges on a mesh of its middle surface.

Displacements are three-dimensional and conform; stress is three-dimensional.  The mesh
of the middle surface is extruded: node j of level k is k n + j, its dofs three times
that and the component x, y, z.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.basis import quadrature
from shrinksim.fem.kernels.wedge import wedge_elastic, wedge_stiffness, wedge_sweep
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import Assembly, Ties, assembly, factorise
from shrinksim.fem.structure import State, SteelTable, Structure, Support, rest
from shrinksim.fem.through import Modes, lagrange, lobatto_through, modes_through

ORDERS, POINTS = (2, 4), 5
"""Orders through the thickness of the displacements in the plane and across it, and
Gauss points."""


@dataclass(frozen=True)
class Extruded:
    """A mesh of a middle surface, repeated: for levels, or modes, through a thickness.

    columns : (e, 6 k) node numbers, level by level.
    """

    flat: Mesh
    levels: int
    columns: IntArray

    @property
    def nodes(self) -> int:
        """On all levels."""
        return self.levels * len(self.flat.points)

    def start(self, level: int) -> int:
        """The first node of a level; -1 is the last level."""
        return len(self.flat.points) * (level % self.levels)

    def at(self, level: int) -> slice:
        """The nodes of a level."""
        start = self.start(level)
        return slice(start, start + len(self.flat.points))


def extrude(mesh: Mesh, levels: int) -> Extruded:
    """Nodes of ``mesh`` on so many levels."""
    up = np.arange(levels) * len(mesh.points)
    columns = (up[:, None, None] + mesh.triangles).transpose(1, 0, 2)
    columns = columns.reshape(len(mesh.triangles), 6 * levels)
    return Extruded(mesh, levels, frozen(columns, np.int64))


@dataclass(frozen=True)
class PlateBody:
    """Columns of wedges with their steel, ready to strain.

    mesh : its points (nodes of temperature, 2) m are where the temperatures are that
    the march brings: those of the Lobatto levels.  triangles (e, 6 k) and N (q, 6 k):
    the temperatures' columns, and their polynomials at the points.  solid : nodes of
    displacement.  flat_N (g, 6), flat_dN (e, g, 6, 2), area (e, g): of the points in
    the plane; q = points in the plane times heights.
    """

    mesh: Mesh
    triangles: IntArray
    N: FloatArray
    solid: Extruded
    modes: Modes
    flat_N: FloatArray
    flat_dN: FloatArray
    area: FloatArray
    hot_share: FloatArray
    cold: float
    table: SteelTable

    @property
    def weight(self) -> FloatArray:
        """(e, q) m3."""
        return (self.area[..., None] * self.modes.weight).reshape(len(self.area), -1)

    @property
    def floor(self) -> float:
        """Force (N) too small to matter: a stress of 1e-9 of the modulus all over."""
        length = float(np.ptp(self.mesh.points[:, 0]))
        return 1e-9 * float(self.table.modulus.max() * self.weight.sum()) / length

    def structure(self, hold: Support) -> Structure:
        """The plate on a support."""
        plan = plate_assembly(self, hold.ties)
        shape = self.weight.shape
        return Structure(
            rest(hold.ties.unknowns, shape, 6),
            lambda old, T, fraction, swell: _evaluator(
                self, hold, plan, old, T, fraction, swell
            ),
            lambda T, q, fraction: _elastic(self, plan, hold, T, q, fraction),
            lambda matrix: factorise(plan, matrix),
        )


def warm_mesh(mesh: Mesh, order: int) -> tuple[Extruded, Mesh]:
    """Nodes of the temperatures, and a mesh record of them.

    The record has the top face's triangles and edges, so that places on it are found
    as in the plane; its points are in the plane too, those of all levels.
    """
    warm = extrude(mesh, order + 1)
    top = warm.start(-1)
    edges = {name: frozen(f + top, np.int64) for name, f in mesh.edges.items()}
    triangles = frozen(mesh.triangles + top, np.int64)
    points = frozen(np.tile(mesh.points, (order + 1, 1)))
    return warm, Mesh(points, triangles, mesh.region, mesh.regions, edges)


def plate_body(
    mesh: Mesh, thickness: float, table: SteelTable, *, modes: Modes | None = None,
    rule: str = "interior 3", order: int = 4, cold: float = 20.0,
) -> PlateBody:  # fmt: skip
    """A plate of ``thickness`` m on the mesh of its middle surface.

    modes : of the displacements through the thickness; rule : in the plane.  order :
    of the temperatures through the thickness, as the heat stage has it.
    """
    warm, record = warm_mesh(mesh, order)
    if modes is None:
        modes = modes_through(thickness, ORDERS, POINTS)
    flat = quadrature(mesh, rule)
    up, _ = lagrange(lobatto_through(thickness, order).levels, modes.z)
    count = flat.N.shape[0] * len(modes.z)
    N = np.einsum("ga,zk->gzka", flat.N, up).reshape(count, -1)
    return PlateBody(
        record,
        warm.columns,
        frozen(N),
        extrude(mesh, modes.count),
        modes,
        flat.N,
        flat.dN,
        flat.area,
        np.ones(len(mesh.triangles)),
        cold,
        table,
    )


def column_dofs(solid: Extruded) -> IntArray:
    """Full dofs (e, 18 k) of the columns, component by component."""
    dofs = 3 * solid.columns[:, None, :] + np.arange(3)[:, None]
    return dofs.reshape(len(dofs), -1)


def plate_assembly(body: PlateBody, ties: Ties) -> Assembly:
    """The scatter maps of a plate's dofs."""
    x = np.tile(body.solid.flat.points[:, 0].repeat(3), body.solid.levels)
    return assembly(column_dofs(body.solid), ties, x)


def _evaluator(
    body: PlateBody, hold: Support, plan: Assembly, old: State, T: FloatArray,
    fraction: float, swell: FloatArray,
) -> Callable[[FloatArray], Point]:  # fmt: skip
    """The residual of a step to temperatures T (n,) as a function of the unknowns."""
    table, solid, modes = body.table, body.solid, body.modes
    heat = T[body.triangles] @ body.N.T
    shape, floor = heat.shape, body.floor
    size_of = solid.columns.shape[1] * 3

    def evaluate(q: FloatArray) -> Point:
        u = (hold.ties.expand(q) + fraction * hold.offset).reshape(-1, 3)
        forces, moduli = np.empty((shape[0], size_of)), np.empty((*shape, 21))
        stress, eps, alpha = (np.empty((*shape, 6)) for _ in range(3))
        p = np.empty(shape)
        hot = wedge_sweep(
            u, heat, body.cold, solid.columns, body.flat_N, body.flat_dN, body.area,
            modes.first, modes.N, modes.dN, modes.weight, table.start, table.step,
            table.modulus, table.thermal_strain, table.poisson, table.flow_start,
            table.flow_step, table.plastic, table.flow, table.back_stress,
            table.back_strain, swell, old.eps, old.p, old.alpha, forces, moduli, stress,
            eps, p, alpha,
        )  # fmt: skip
        push, stiff = hold.push(q, fraction)
        inside, size = plan.vector(forces)

        def matrix() -> FloatArray:
            return _stored(body, plan, moduli, stiff)

        scale = max(float(np.linalg.norm(size) + np.linalg.norm(push)), floor)
        return Point(push - inside, scale, matrix, (eps, p, alpha, stress), hot)

    return evaluate


def _elastic(
    body: PlateBody, plan: Assembly, hold: Support, T: FloatArray, q: FloatArray,
    fraction: float,
) -> FloatArray:  # fmt: skip
    """The elastic stiffness at temperatures T (n,), springs included, ready to factor."""
    table = body.table
    heat = T[body.triangles] @ body.N.T
    moduli = np.empty((*heat.shape, 21))
    wedge_elastic(
        heat, body.area, body.modes.weight, table.start, table.step, table.modulus,
        table.poisson, moduli,
    )  # fmt: skip
    return _stored(body, plan, moduli, hold.push(q, fraction)[1])


def _stored(
    body: PlateBody, plan: Assembly, moduli: FloatArray, stiff: FloatArray
) -> FloatArray:
    """The stiffness of moduli (e, q, 21) and springs (m,), ready to factor."""
    size, modes = 3 * body.solid.columns.shape[1], body.modes
    tangents = np.empty((len(moduli), size, size))
    wedge_stiffness(
        body.flat_N, body.flat_dN, modes.first, modes.N, modes.dN, modes.own, moduli,
        tangents,
    )  # fmt: skip
    storage = plan.matrix(tangents)
    plan.add_diagonal(storage, stiff)
    return storage

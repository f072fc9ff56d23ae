"""A plate with thickness: wedges on a mesh of its middle surface, solid and conforming.

Displacements are T6 in the plane times polynomials through the thickness, stress is
three-dimensional.  Across the thickness the displacement has a higher order than in the
plane: it takes up the thermal expansion of a steep temperature, without which half the
bend would be lost.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.basis import quadrature
from shrinksim.fem.bordered import Bordered, factorise_bordered
from shrinksim.fem.extruded import Extruded, column_dofs, extrude, warm_mesh
from shrinksim.fem.kernels.wedge import wedge_elastic, wedge_stiffness, wedge_sweep
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.plate_ends import Carried, carried
from shrinksim.fem.sparse import Assembly, Ties, assembly
from shrinksim.fem.structure import State, SteelTable, Structure, Support, rest
from shrinksim.fem.through import Modes, lagrange, lobatto_through, modes_through

ORDERS, POINTS = (2, 3), 6
"""Orders through the thickness of the displacements in the plane and across it, and
Gauss points: five sum a plastic moment to 94 %, six to 102 %."""


@dataclass(frozen=True)
class PlateBody:
    """Columns of wedges with their steel, ready to strain.

    mesh : its points (nodes of temperature, 2) m are where the temperatures are that
    the march brings: those of the Lobatto levels.  triangles (e, 6 k) and N (q, 6 k):
    the temperatures' columns, and their polynomials at the points.  solid : nodes of
    displacement.  flat_N (g, 6), flat_dN (e, g, 6, 2), area (e, g): of the points in
    the plane; q = points in the plane times heights.  carried : see fem.plate_ends.
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
    carried: Carried

    @property
    def weight(self) -> FloatArray:
        """(e, q) m3."""
        return (self.area[..., None] * self.modes.weight).reshape(len(self.area), -1)

    @property
    def nodal_shape(self) -> tuple[int, int]:
        """Modes of all nodes, and displacements of each; a plane end's come after."""
        return self.solid.nodes, 3

    @property
    def points_shape(self) -> tuple[int, int]:
        """Elements, and points of each."""
        return len(self.triangles), len(self.N)

    def at_points(self, T: FloatArray) -> FloatArray:
        """Temperatures (e, q) at the points, from those of the nodes (n,), degC."""
        return T[self.triangles] @ self.N.T

    @property
    def floor(self) -> float:
        """Force (N) too small to matter: a stress of 1e-9 of the modulus all over."""
        length = float(np.ptp(self.mesh.points[:, 0]))
        return 1e-9 * float(self.table.modulus.max() * self.weight.sum()) / length

    def structure(self, hold: Support) -> Structure:
        """The plate on a support; the last full dofs may be those of a plane end."""
        plan = plate_assembly(self, hold.ties)
        shape = self.weight.shape
        return Structure(
            rest(hold.ties.unknowns, shape, 6),
            lambda old, T, fraction, swell: _evaluator(
                self, hold, plan, old, T, fraction, swell
            ),
            lambda T, q, fraction: _elastic(self, plan, hold, T, q, fraction),
            lambda matrix: factorise_bordered(plan, matrix),
        )


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
    solid = extrude(mesh, modes.count)
    return PlateBody(
        record,
        warm.columns,
        frozen(N),
        solid,
        modes,
        flat.N,
        flat.dN,
        flat.area,
        np.ones(len(mesh.triangles)),
        cold,
        table,
        carried(solid, modes),
    )


def plate_assembly(body: PlateBody, ties: Ties) -> Assembly:
    """The scatter maps of a plate's dofs."""
    count = 3 * body.solid.nodes
    beyond = int((ties.target[count:].max(axis=1) >= 0).sum())
    own = Ties(ties.target[:count], ties.weight[:count], ties.unknowns - beyond)
    x = np.tile(body.solid.flat.points[:, 0].repeat(3), body.solid.levels)
    return assembly(column_dofs(body.solid), own, x)


def _evaluator(
    body: PlateBody, hold: Support, plan: Assembly, old: State, T: FloatArray,
    fraction: float, swell: FloatArray,
) -> Callable[[FloatArray], Point]:  # fmt: skip
    """The residual of a step to temperatures T (n,) as a function of the unknowns."""
    table, solid, modes = body.table, body.solid, body.modes
    heat = T[body.triangles] @ body.N.T
    shape, floor = heat.shape, body.floor
    size_of, more = solid.columns.shape[1] * 3, body.carried.free(hold.ties)

    def evaluate(q: FloatArray) -> Point:
        u = body.carried.moved(hold.ties.expand(q) + fraction * hold.offset)
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
        along, wide = body.carried.forces(forces, more)
        inside, size = np.concatenate([inside, along]), np.concatenate([size, wide])

        def matrix() -> Bordered:
            return _stored(body, plan, more, moduli, stiff)

        scale = max(float(np.linalg.norm(size) + np.linalg.norm(push)), floor)
        return Point(push - inside, scale, matrix, (eps, p, alpha, stress), hot)

    return evaluate


def _elastic(
    body: PlateBody, plan: Assembly, hold: Support, T: FloatArray, q: FloatArray,
    fraction: float,
) -> Bordered:  # fmt: skip
    """The elastic stiffness at temperatures T (n,), springs included, ready to factor."""
    table = body.table
    heat = T[body.triangles] @ body.N.T
    moduli = np.empty((*heat.shape, 21))
    wedge_elastic(
        heat, body.area, body.modes.weight, table.start, table.step, table.modulus,
        table.poisson, moduli,
    )  # fmt: skip
    more, stiff = body.carried.free(hold.ties), hold.push(q, fraction)[1]
    return _stored(body, plan, more, moduli, stiff)


def _stored(
    body: PlateBody, plan: Assembly, more: IntArray, moduli: FloatArray,
    stiff: FloatArray,
) -> Bordered:  # fmt: skip
    """The stiffness of moduli (e, q, 21) and springs (m,), ready to factor."""
    size, modes = 3 * body.solid.columns.shape[1], body.modes
    tangents = np.empty((len(moduli), size, size))
    wedge_stiffness(
        body.flat_N, body.flat_dN, modes.first, modes.N, modes.dN, modes.own, moduli,
        tangents,
    )  # fmt: skip
    storage, m = plan.matrix(tangents), plan.ties.unknowns
    plan.add_diagonal(storage, stiff[:m])
    border, corner = body.carried.border(plan, tangents, more)
    return Bordered(storage, border, corner + np.diag(stiff[m:]))

"""Sheet of plane-stress elements on supports: forces, tangents, new state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.basis import quadrature
from shrinksim.fem.kernels.plane import (
    elastic_moduli,
    plane_stiffness,
    plane_sweep,
)
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import Assembly, assembly, factorise
from shrinksim.fem.structure import (
    State,
    SteelTable,
    Structure,
    Support,
    rest,
    support,
)

__all__ = ["Body", "Support", "strain_body", "support"]


@dataclass(frozen=True)
class Body:
    """Elements of a sheet with their thickness and steel.

    weight (e, q) m3.  hot_share (e,): 0 for overlays that stay at ``cold`` degC.
    """

    mesh: Mesh
    triangles: IntArray
    N: FloatArray
    dN: FloatArray
    weight: FloatArray
    hot_share: FloatArray
    cold: float
    table: SteelTable

    @property
    def floor(self) -> float:
        """Negligible force (N): a stress of 1e-9 of the modulus everywhere."""
        length = float(np.ptp(self.mesh.points[:, 0]))
        return 1e-9 * float(self.table.modulus.max() * self.weight.sum()) / length

    @property
    def nodal_shape(self) -> tuple[int, int]:
        """Number of nodes, and displacements of each; dofs after them are not nodal."""
        return len(self.mesh.points), 2

    @property
    def points_shape(self) -> tuple[int, int]:
        """Number of elements, and points of each."""
        return len(self.triangles), self.N.shape[0]

    def at_points(self, T: FloatArray) -> FloatArray:
        """Temperatures (e, q) at the points, from those of the nodes (n,), degC."""
        return T[self.triangles] @ self.N.T

    def structure(self, hold: Support) -> Structure:
        """Structure of the sheet on a support."""
        dofs = np.stack([2 * self.triangles, 2 * self.triangles + 1], axis=2)
        x = np.repeat(self.mesh.points[:, 0], 2)
        plan = assembly(dofs.reshape(len(dofs), 12), hold.ties, x)
        shape = (len(self.triangles), self.N.shape[0])
        return Structure(
            rest(hold.ties.unknowns, shape, 3),
            lambda old, T, fraction, phase_strain: evaluator(
                self, hold, plan, old, T, fraction, phase_strain
            ),
            lambda T, q, fraction: elastic_matrix(self, plan, hold, T, q, fraction),
            lambda matrix: factorise(plan, matrix),
        )


def strain_body(
    mesh: Mesh,
    thickness: FloatArray | float,
    table: SteelTable,
    *,
    overlay: tuple[IntArray, FloatArray] | None = None,
    cold: float = 20.0,
    rule: str = "interior 3",
) -> Body:
    """Body of a meshed sheet.

    thickness : (e,) m.  overlay : element numbers and thickness (k,) m of layers that
    share those elements' nodes but stay at ``cold`` degC.
    """
    points = quadrature(mesh, rule)
    depth = np.broadcast_to(np.asarray(thickness, float), len(mesh.triangles))
    extra = np.empty(0, np.int64) if overlay is None else overlay[0]
    every = np.concatenate([np.arange(len(mesh.triangles)), extra])
    if overlay is not None:
        depth = np.concatenate([depth, overlay[1]])
    hot = np.ones(len(every))
    hot[len(mesh.triangles) :] = 0.0
    return Body(
        mesh,
        np.ascontiguousarray(mesh.triangles[every]),
        points.N,
        np.ascontiguousarray(points.dN[every]),
        points.area[every] * depth[:, None],
        hot,
        cold,
        table,
    )


def evaluator(
    body: Body, hold: Support, plan: Assembly, old: State, T: FloatArray,
    fraction: float, phase_strain: FloatArray,
) -> Callable[[FloatArray], Point]:  # fmt: skip
    """Residual of a step to temperatures T (n,), as a function of the unknowns."""
    table = body.table
    shape = (len(body.triangles), body.N.shape[0])
    floor = body.floor

    def evaluate(q: FloatArray) -> Point:
        u = (hold.ties.expand(q) + fraction * hold.offset).reshape(-1, 2)
        forces, moduli = np.empty((shape[0], 12)), np.empty((*shape, 6))
        stress, eps, alpha = (np.empty((*shape, 3)) for _ in range(3))
        p = np.empty(shape)
        hot = plane_sweep(
            u, T, body.cold, body.triangles, body.N, body.dN, body.weight,
            body.hot_share, table.start, table.step, table.modulus,
            table.thermal_strain, table.poisson, table.flow_start, table.flow_step,
            table.plastic, table.flow, table.back_stress, table.back_strain, phase_strain,
            old.eps, old.p, old.alpha, forces, moduli, stress, eps, p, alpha,
        )  # fmt: skip
        push, stiff = hold.push(q, fraction)
        inside, size = plan.vector(forces)

        def matrix() -> FloatArray:
            return _stored(body, plan, moduli, stiff)

        scale = max(float(np.linalg.norm(size) + np.linalg.norm(push)), floor)
        return Point(push - inside, scale, matrix, (eps, p, alpha, stress), hot)

    return evaluate


def elastic_matrix(
    body: Body, plan: Assembly, hold: Support, T: FloatArray, q: FloatArray,
    fraction: float,
) -> FloatArray:  # fmt: skip
    """Elastic stiffness at temperatures T (n,), springs included, ready to factor."""
    table = body.table
    moduli = np.empty((*body.weight.shape, 6))
    elastic_moduli(
        T, body.cold, body.triangles, body.N, body.weight, body.hot_share, table.start,
        table.step, table.modulus, table.poisson, moduli,
    )  # fmt: skip
    return _stored(body, plan, moduli, hold.push(q, fraction)[1])


def _stored(
    body: Body, plan: Assembly, moduli: FloatArray, stiff: FloatArray
) -> FloatArray:
    """Stiffness of moduli (e, q, 6) and springs (m,), ready to factor."""
    tangents = np.empty((len(body.triangles), 12, 12))
    plane_stiffness(body.dN, moduli, tangents)
    storage = plan.matrix(tangents)
    plan.add_diagonal(storage, stiff)
    return storage

"""Cross-section in generalised plane strain: forces, tangents, new state.

The section is strained along the member by e0 + k_strong (y - yc) - k_weak (x - xc);
these three are unknowns beside the displacements in its plane, eliminated exactly by the
Schur complement of the bordered system.  Everything is for one metre of length.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.fem.basis import quadrature
from shrinksim.fem.kernels.plane import plane_stiffness
from shrinksim.fem.kernels.solid import section_border, section_elastic, section_sweep
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import (
    INDEFINITE,
    Assembly,
    Solve,
    Ties,
    assembly,
    factorise,
)
from shrinksim.fem.structure import State, SteelTable, Structure, Support, rest


@dataclass(frozen=True)
class SectionBody:
    """Elements of a section with their steel.

    weight (e, q) m3 of one metre.  centre (2,) m, the centroid.  arm : m, by which the
    curvatures are multiplied as unknowns, so that all are strains.  arms (e, q, 2):
    (y - yc) / arm and -(x - xc) / arm.  area m2; second_moments (2,) m4 about the
    horizontal and the vertical axis.
    """

    mesh: Mesh
    triangles: IntArray
    N: FloatArray
    dN: FloatArray
    weight: FloatArray
    hot_share: FloatArray
    cold: float
    table: SteelTable
    centre: FloatArray
    arm: float
    arms: FloatArray

    @property
    def area(self) -> float:
        """Area, m2."""
        return float(self.weight.sum())

    @property
    def second_moments(self) -> FloatArray:
        """Second moments, strong (of y) and weak (of x), m4."""
        square = self.weight[..., None] * (self.arm * self.arms) ** 2
        return square.sum(axis=(0, 1))

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

    @property
    def inertia(self) -> FloatArray:
        """Tensor of inertia (2, 2) m4: second moments and their product."""
        arms = self.arm * self.arms
        return np.einsum("eq,eqi,eqj->ij", self.weight, arms, arms)

    def structure(self, hold: Support) -> Structure:
        """Structure of the section on a support; the last dofs are the axial strains."""
        count = 2 * len(self.mesh.points)
        every = hold.ties
        beyond = int((every.target[count:].max(axis=1) >= 0).sum())
        nodal = every.unknowns - beyond
        ties = Ties(every.target[:count], every.weight[:count], nodal)
        dofs = np.stack([2 * self.triangles, 2 * self.triangles + 1], axis=2)
        x = np.repeat(self.mesh.points[:, 0], 2)
        plan = assembly(dofs.reshape(len(dofs), 12), ties, x)
        free = np.flatnonzero(every.target[count:, 0] >= 0)
        shape = (len(self.triangles), self.N.shape[0])
        return Structure(
            rest(every.unknowns, shape, 4),
            lambda old, T, fraction, phase_strain: _evaluator(
                self, hold, plan, free, old, T, fraction, phase_strain
            ),
            lambda T, q, fraction: _elastic(self, hold, plan, free, T, q, fraction),
            lambda matrix: _factor(plan, matrix),
        )


def section_body(
    mesh: Mesh, table: SteelTable, *, cold: float = 20.0, rule: str = "interior 3"
) -> SectionBody:
    """Section body of a mesh; ``cold`` degC is its stress-free temperature."""
    points = quadrature(mesh, rule)
    area = float(points.area.sum())
    centre = np.einsum("eq,eqi->i", points.area, points.xy) / area
    reach = points.xy - centre
    polar = np.einsum("eq,eqi->", points.area, reach**2) / area
    arm = float(np.sqrt(polar))
    arms = np.stack([reach[..., 1], -reach[..., 0]], axis=2) / arm
    return SectionBody(
        mesh,
        mesh.triangles,
        points.N,
        points.dN,
        points.area,
        np.ones(len(mesh.triangles)),
        cold,
        table,
        frozen(centre),
        arm,
        frozen(arms),
    )


def section_ties(
    mesh: Mesh, *, held: tuple[bool, bool, bool] = (False, False, False),
    fixed: IntArray | None = None,
) -> Ties:  # fmt: skip
    """Ties of a section: three dofs fixed in its plane, the axial strains free.

    held : whether e0, k_strong and k_weak are given (the support's offset) and no
    unknowns.  fixed : dofs of nodes in place of the three that stop a rigid motion.
    """
    count = 2 * len(mesh.points)
    if fixed is None:
        far = np.unravel_index(np.argmax(np.ptp(mesh.points, axis=0)), (2,))[0]
        across = 1 - int(far)
        one = int(np.argmin(mesh.points[:, far]))
        other = int(np.argmax(mesh.points[:, far]))
        fixed = np.array([2 * one, 2 * one + 1, 2 * other + across])
    free = np.ones(count + 3, bool)
    free[fixed] = False
    free[count:] = ~np.array(held)
    target = np.full((count + 3, 2), -1, np.int64)
    target[free, 0] = np.arange(free.sum())
    weight = np.zeros((count + 3, 2))
    weight[free, 0] = 1.0
    return Ties(target, weight, int(free.sum()))


@dataclass(frozen=True)
class _Bordered:
    """Stored nodal stiffness, its border (m, b) and the corner (b, b)."""

    nodal: FloatArray
    border: FloatArray
    corner: FloatArray


def _evaluator(
    body: SectionBody, hold: Support, plan: Assembly, free: IntArray, old: State,
    T: FloatArray, fraction: float, phase_strain: FloatArray,
) -> Callable[[FloatArray], Point]:  # fmt: skip
    """Residual of a step to temperatures T (n,), as a function of the unknowns."""
    table = body.table
    shape = body.weight.shape
    floor = 1e-8 * float(table.modulus.max()) * body.area

    def evaluate(q: FloatArray) -> Point:
        full = hold.ties.expand(q) + fraction * hold.offset
        u, along = full[:-3].reshape(-1, 2), full[-3:]
        forces, axial = np.empty((shape[0], 12)), np.empty(3)
        moduli, axial_moduli = np.empty((*shape, 6)), np.empty((*shape, 4))
        stress, eps, alpha = (np.empty((*shape, 4)) for _ in range(3))
        p = np.empty(shape)
        hot = section_sweep(
            u, along, T, body.cold, body.triangles, body.N, body.dN, body.weight,
            body.arms, table.start, table.step, table.modulus, table.thermal_strain,
            table.poisson, table.flow_start, table.flow_step, table.plastic, table.flow,
            table.back_stress, table.back_strain, phase_strain, old.eps, old.p, old.alpha,
            forces, axial, moduli, axial_moduli, stress, eps, p, alpha,
        )  # fmt: skip
        push, stiff = hold.push(q, fraction)
        inside, size = plan.vector(forces)
        inside = np.concatenate([inside, axial[free]])
        size = np.concatenate(
            [size, np.abs(axial)]
        )  # includes the forces on given strains

        def matrix() -> _Bordered:
            return _stored(body, plan, free, moduli, axial_moduli, stiff)

        scale = max(float(np.linalg.norm(size) + np.linalg.norm(push)), floor)
        return Point(push - inside, scale, matrix, (eps, p, alpha, stress), hot)

    return evaluate


def _elastic(
    body: SectionBody, hold: Support, plan: Assembly, free: IntArray, T: FloatArray,
    q: FloatArray, fraction: float,
) -> _Bordered:  # fmt: skip
    """Elastic tangent at temperatures T (n,), springs included."""
    table, shape = body.table, body.weight.shape
    moduli, axial_moduli = np.empty((*shape, 6)), np.empty((*shape, 4))
    section_elastic(
        T, body.triangles, body.N, body.weight, table.start, table.step, table.modulus,
        table.poisson, moduli, axial_moduli,
    )  # fmt: skip
    stiff = hold.push(q, fraction)[1]
    return _stored(body, plan, free, moduli, axial_moduli, stiff)


def _stored(
    body: SectionBody, plan: Assembly, free: IntArray, moduli: FloatArray,
    axial_moduli: FloatArray, stiff: FloatArray,
) -> _Bordered:  # fmt: skip
    """Stiffness of moduli (e, q, 6), (e, q, 4) and springs (m + b,), ready to factor."""
    count = len(body.triangles)
    tangents = np.empty((count, 12, 12))
    plane_stiffness(body.dN, moduli, tangents)
    m = plan.ties.unknowns
    storage = plan.matrix(tangents)
    plan.add_diagonal(storage, stiff[:m])
    border, corner = np.empty((3, count, 12)), np.empty((3, 3))
    section_border(body.dN, body.arms, axial_moduli, border, corner)
    columns = np.empty((m, len(free)))
    for k, number in enumerate(free):
        columns[:, k] = plan.vector(border[number])[0]
    return _Bordered(storage, columns, corner[np.ix_(free, free)] + np.diag(stiff[m:]))


def _factor(plan: Assembly, matrix: _Bordered) -> Solve:
    """Solve by the nodal factor and the Schur complement S = C - B^T K^-1 B."""
    nodal = factorise(plan, matrix.nodal)
    if not len(matrix.corner):
        return nodal
    m = plan.ties.unknowns
    inner = np.stack([nodal(column) for column in matrix.border.T], axis=1)
    schur = matrix.corner - matrix.border.T @ inner
    try:
        np.linalg.cholesky(schur)
    except np.linalg.LinAlgError as error:
        raise NotConverged(INDEFINITE) from error
    across = np.linalg.inv(schur)

    def solve(b: FloatArray) -> FloatArray:
        y = nodal(b[:m])
        z = across @ (b[m:] - matrix.border.T @ y)
        return np.concatenate([y - inner @ z, z])

    return solve

"""The strain stage of the NGSolve peer: plane-stress plasticity over all points.

Radial return in the modes of plane stress (sum and difference of the normal stresses,
shear), where it is one scalar equation; consistent tangent from its differential.
"""

from __future__ import annotations

import ngsolve as ng
import numpy as np
import reference_steel as steel
from peer_ngsolve_space import Points, Solver
from peer_sparse import PlateProblem, at

from shrinksim.arrays import FloatArray

THREE = ng.IntegrationRule(
    [(1 / 6, 1 / 6), (2 / 3, 1 / 6), (1 / 6, 2 / 3)], [1 / 6] * 3
)
"""NGSolve's own rule of this order has its points on the edges."""
NU = steel.POISSON
State = tuple[FloatArray, FloatArray]
"""Plastic strain (k, 3) and equivalent plastic strain (k,)."""


def plane(sum_: FloatArray, difference: FloatArray) -> FloatArray:
    """Matrices (k, 3, 3) that scale e1 + e2 and e2 - e1 (shear: half of the latter)."""
    D = np.zeros((len(sum_), 3, 3))
    D[:, 0, 0] = D[:, 1, 1] = 0.5 * (sum_ + difference)
    D[:, 0, 1] = D[:, 1, 0] = 0.5 * (sum_ - difference)
    D[:, 2, 2] = 0.5 * difference
    return D


def yield_step(
    a: FloatArray, b: FloatArray, ka: FloatArray, kb: FloatArray, sy: FloatArray,
    H: FloatArray,
) -> FloatArray:  # fmt: skip
    """x = plastic strain over flow stress, with sqrt(q)(1 - H x) = sy.

    q(x) = a/(1 + ka x)^2 + b/(1 + kb x)^2.  Convex and falling, so that Newton's method
    from 0 never overshoots.
    """
    x = np.zeros_like(a)
    for _ in range(60):
        fa, fb, left = 1 / (1 + ka * x), 1 / (1 + kb * x), 1 - H * x
        qa, qb = a * fa * fa, b * fb * fb
        root = np.sqrt(qa + qb)
        miss = root * left - sy
        if np.all(np.abs(miss) <= 1e-11 * sy):
            return x
        x = x + miss / ((qa * ka * fa + qb * kb * fb) / root * left + root * H)
    raise AssertionError("the return mapping does not converge")


def stresses(
    strain: FloatArray, E: FloatArray, sy: FloatArray, H: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Stress (k, 3), tangent (k, 3, 3), plastic strain (k, 3) and its measure (k,).

    In plane stress with s = (s1 + s2)/2, d = (s2 - s1)/2: mises^2 = s^2 + 3 d^2 + 3 t^2,
    and a backward Euler step divides s by 1 + E x/(2 (1 - nu)), d and t by 1 + 3 G x.
    """
    A, B = E / (1 - NU), E / (1 + NU)
    D = plane(A, B)
    stress = np.matmul(D, strain[:, :, None])[:, :, 0]
    plastic, measure = np.zeros_like(stress), np.zeros(len(E))
    a = 0.25 * (stress[:, 0] + stress[:, 1]) ** 2
    b = 0.75 * (stress[:, 1] - stress[:, 0]) ** 2 + 3 * stress[:, 2] ** 2
    k = np.flatnonzero(a + b > sy**2)
    if not len(k):
        return stress, D, plastic, measure
    ka, kb = 0.5 * A[k], 1.5 * B[k]
    x = yield_step(a[k], b[k], ka, kb, sy[k], H[k])
    soft = plane(A[k] / (1 + ka * x), B[k] / (1 + kb * x))
    s = np.matmul(soft, strain[k][:, :, None])[:, :, 0]
    along = np.stack(
        [s[:, 0] - 0.5 * s[:, 1], s[:, 1] - 0.5 * s[:, 0], 3 * s[:, 2]], axis=1
    )
    flow = sy[k] / (1 - H[k] * x)
    m = np.matmul(soft, along[:, :, None])[:, :, 0]
    below = (along * m).sum(axis=1) + flow**2 * H[k] / (1 - H[k] * x)
    D[k] = soft - m[:, :, None] * (m / below[:, None])[:, None, :]
    stress[k], plastic[k], measure[k] = s, x[:, None] * along, x * flow
    return stress, D, plastic, measure


Evaluation = tuple[FloatArray, float, FloatArray, State]
"""Forces (n, 2), their scale, tangents (k, 3, 3) and state."""


class Sheet:
    """The plate's strain problem; displacements (n, 2)."""

    def __init__(self, problem: PlateProblem, mesh: ng.Mesh) -> None:
        space = ng.H1(mesh, order=2, dim=2, dirichlet="left")
        p = self.points = Points(space, THREE)
        B = np.zeros((*p.area.shape, 3, 6, 2))
        B[:, :, 0, :, 0] = B[:, :, 2, :, 1] = p.dN[:, :, 0]
        B[:, :, 1, :, 1] = B[:, :, 2, :, 0] = p.dN[:, :, 1]
        self.B = B.reshape(len(p.area), -1, 12)
        self.weight = (p.area * problem.thickness).reshape(-1, 1)
        self.where = (2 * p.dofs[:, :, None] + np.arange(2)).ravel()
        self.free = np.array(space.FreeDofs())
        # the tangent, thickness in it, as a linear field through the three points
        linear = ng.L2(mesh, order=1, dim=9)
        shapes = [linear.GetFE(e) for e in mesh.Elements()]
        values = np.array(
            [[np.ravel(f.CalcShape(*q)) for q in THREE.points] for f in shapes]
        )
        self.to_linear = problem.thickness * np.linalg.inv(values)
        self.tangent = ng.GridFunction(linear)
        places = np.array([linear.GetDofNrs(e) for e in mesh.Elements()])
        assert np.array_equal(places.ravel(), np.arange(linear.ndof))
        u, v = space.TnT()
        form = ng.BilinearForm(space)
        inside = ng.InnerProduct(self.tangent.Reshape((3, 3)) * strain(u), strain(v))
        form += inside * ng.dx(intrules={ng.TRIG: THREE})
        self.solver = Solver(form)
        self.ends(problem, space)

    def ends(self, problem: PlateProblem, space: ng.FESpace) -> None:
        """Force of the traction, and rows that give rotation and shortening."""
        v = space.TestFunction()
        depth = np.ptp(problem.corners[:, 1])
        middle = problem.corners[:, 1].min() + 0.5 * depth

        def along(density: ng.CoefficientFunction) -> FloatArray:
            row = ng.LinearForm(space)
            row += density * v[0] * ng.ds("right", bonus_intorder=2)
            return row.Assemble().vec.FV().NumPy().reshape(-1, 2).copy()

        self.force = along(problem.traction(ng.y) * problem.thickness)
        self.turn = along(-12 / depth**3 * (ng.y - middle))
        self.shorten = along(ng.CF(-1 / depth))
        self.unit_load = float(np.linalg.norm(self.force))

    def material(self, T: FloatArray) -> list[FloatArray]:
        """Thermal strain, modulus, yield stress and hardening (k,) at T (n,)."""
        here = (T[self.points.dofs] @ self.points.N.T).ravel()
        names = ("thermal_strain", "modulus", "yield_stress", "hardening")
        return [at(name, here) for name in names]

    def internal(
        self, u: FloatArray, props: list[FloatArray], old: State
    ) -> Evaluation:
        """Forces, their scale, tangents and new state at u."""
        heat, E, sy, H = props
        eps, p = old
        local = u[self.points.dofs].reshape(-1, 12, 1)
        elastic = np.matmul(self.B, local).reshape(-1, 3) - eps
        elastic[:, :2] -= heat[:, None]
        stress, D, plastic, grown = stresses(elastic, E, sy + H * p, H)
        pull = (stress * self.weight).reshape(len(local), 1, -1)
        parts = np.matmul(pull, self.B).ravel()
        scale = np.bincount(self.where, np.abs(parts), u.size).reshape(u.shape)
        forces = np.bincount(self.where, parts, u.size).reshape(u.shape)
        size = float(np.linalg.norm(scale[self.free]))
        return forces, size, D, (eps + plastic, p + grown)

    def renew(self, D: FloatArray) -> None:
        """Matrix of tangents D (k, 3, 3) and its factors."""
        field = np.matmul(self.to_linear, D.reshape(-1, 3, 9))
        self.tangent.vec.FV().NumPy()[:] = field.ravel()
        self.solver.renew()

    def step(
        self, u: FloatArray, guess: FloatArray, T: FloatArray, load: float, old: State,
        tolerance: float, cautious: bool,
    ) -> tuple[FloatArray, State, int] | None:  # fmt: skip
        """Newton from u + guess; None when it does not balance.

        cautious : the first matrix is elastic.
        """
        props = self.material(T)
        u = u + guess
        point = self.internal(u, props, old)
        for iteration in range(1, 31):
            forces, scale, D, state = point
            miss = (load * self.force - forces) * self.free[:, None]
            size = np.linalg.norm(miss)
            if size <= tolerance * (scale + load * self.unit_load) + 1e-6:
                return u, state, iteration
            if not np.isfinite(size):
                return None
            if cautious and iteration == 1:
                D = plane(props[1] / (1 - NU), props[1] / (1 + NU))
            self.renew(D)
            change = self.solver.solve(miss)
            work, share = abs(np.vdot(change, miss)), 1.0
            while True:  # the whole change, or the half, quarter ... that leaves little
                trial = u + share * change
                point = self.internal(trial, props, old)
                left = abs(np.vdot(change, load * self.force - point[0]))
                if left <= 0.9 * work or share < 0.05:
                    break
                share *= 0.5
            u = trial
        return None


def strain(u: ng.CoefficientFunction) -> ng.CoefficientFunction:
    """xx, yy and engineering shear."""
    g = ng.Grad(u)
    return ng.CF((g[0, 0], g[1, 1], g[0, 1] + g[1, 0]))


def solve_strain(
    problem: PlateProblem, sheet: Sheet, temperature: FloatArray, tolerance: float,
    plain: bool,
) -> tuple[float, float, int]:  # fmt: skip
    """Load cold, follow the temperatures (s + 1, n), 20 degC, unload.

    Returns rotation rad, shortening m and iterations.
    """
    start = temperature[0]
    pace = np.diff(np.append(0.0, problem.ends))
    knots = [(T, 1.0, dt) for T, dt in zip(temperature[1:], pace, strict=True)]
    schedule = [(start, 1.0, 0.0), *knots, (start, 1.0, 60.0), (start, 0.0, 0.0)]
    u, rate, iterations = 0.0 * sheet.force, None, 0
    points = sheet.weight.size
    state: State = (np.zeros((points, 3)), np.zeros(points))
    for T, load, dt in schedule:
        found = None
        if rate is not None and dt > 0.0 and not plain:
            found = sheet.step(u, rate * dt, T, load, state, tolerance, False)
        if found is None:
            found = sheet.step(u, 0.0 * u, T, load, state, tolerance, True)
        if found is None:
            raise AssertionError("no equilibrium")
        new, state, count = found
        rate = (new - u) / dt if dt > 0.0 else None
        u, iterations = new, iterations + count
    return float(np.vdot(sheet.turn, u)), float(np.vdot(sheet.shorten, u)), iterations

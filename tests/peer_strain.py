"""The strain stage of the scikit-fem peer: plane-stress plasticity over all points.

Plane-stress projected von Mises return with its consistent tangent (de Souza Neto,
Peric & Owen, Computational Methods for Plasticity, 2008, boxes 9.3-9.5, from memory),
full Newton started from the last motion, or (plain) from rest.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import reference_steel as steel
from peer_sparse import PlateProblem, System, at, functions
from skfem import Basis, ElementTriP2, FacetBasis

from shrinksim.arrays import FloatArray

NU = steel.POISSON
PROJECTOR = np.array([[2.0, -1.0, 0.0], [-1.0, 2.0, 0.0], [0.0, 0.0, 6.0]]) / 3.0
Hardened = tuple[FloatArray, FloatArray]
"""Plastic strain (k, 3) and equivalent plastic strain (k,)."""
Step = tuple[FloatArray, Hardened, FloatArray, int]
"""Displacements, state, stress and iterations of a balanced step."""


def return_map(
    strain: FloatArray, E: FloatArray, sy: FloatArray, H: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Stress (k, 3), tangent (k, 3, 3), plastic strain (k, 3) and its measure (k,).

    strain (k, 3): trial elastic strain with engineering shear; sy (k,) Pa: flow stress
    now, growing by H (k,) per unit of equivalent plastic strain.
    """
    G, bulk = 0.5 * E / (1 + NU), E / (3 * (1 - NU))
    D = np.zeros((len(E), 3, 3))
    D[:, 0, 0] = D[:, 1, 1] = E / (1 - NU**2)
    D[:, 0, 1] = D[:, 1, 0] = NU * E / (1 - NU**2)
    D[:, 2, 2] = G
    stress = np.einsum("kij,kj->ki", D, strain)
    plastic, measure = np.zeros_like(stress), np.zeros(len(E))
    a1 = (stress[:, 0] + stress[:, 1]) ** 2 / 6
    a2 = 0.5 * (stress[:, 1] - stress[:, 0]) ** 2 + 2 * stress[:, 2] ** 2
    y = np.flatnonzero(0.5 * (a1 + a2) > sy**2 / 3)
    if not len(y):
        return stress, D, plastic, measure
    step, xi, f1, f2 = _plastic_step(a1[y], a2[y], bulk[y], G[y], sy[y], H[y])
    plus, minus = 0.5 * (1 / f1 + 1 / f2), 0.5 * (1 / f1 - 1 / f2)
    s = stress[y]
    both = plus * s[:, 0] + minus * s[:, 1], minus * s[:, 0] + plus * s[:, 1]
    stress[y] = np.stack([*both, s[:, 2] / f2], axis=1)
    A = np.zeros((len(y), 3, 3))
    A[:, 0, 0] = A[:, 1, 1] = plus
    A[:, 0, 1] = A[:, 1, 0] = minus
    A[:, 2, 2] = 1 / f2
    soft = A @ D[y]
    normal = stress[y] @ PROJECTOR
    n = np.einsum("kij,kj->ki", soft, normal)
    below = np.einsum("ki,ki->k", normal, n) + 2 * xi * H[y] / (3 - 2 * H[y] * step)
    D[y] = soft - n[:, :, None] * n[:, None, :] / below[:, None, None]
    plastic[y] = step[:, None] * normal
    measure[y] = step * np.sqrt(2 * xi / 3)
    return stress, D, plastic, measure


def _plastic_step(
    a1: FloatArray, a2: FloatArray, bulk: FloatArray, G: FloatArray, sy: FloatArray,
    H: FloatArray,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """The plastic multiplier (1/Pa) by Newton's method, and what it scales by."""
    step = np.zeros_like(a1)
    for _ in range(50):
        f1, f2 = 1 + bulk * step, 1 + 2 * G * step
        xi = a1 / f1**2 + a2 / f2**2
        fall = -2 * bulk * a1 / f1**3 - 4 * G * a2 / f2**3
        root = np.sqrt(xi)
        level = sy + H * step * root * np.sqrt(2 / 3)
        miss = 0.5 * xi - level**2 / 3
        if np.all(np.abs(miss) <= 1e-11 * level**2):
            return step, xi, f1, f2
        rise = H * np.sqrt(2 / 3) * (root + 0.5 * step * fall / root)
        step = step - miss / (0.5 * fall - 2 / 3 * level * rise)
    raise AssertionError("the return mapping does not converge")


Evaluation = tuple[FloatArray, float, FloatArray, Hardened, FloatArray]
"""Forces (d,), their scale, tangents (k, 3, 3), state and stress (k, 3)."""


class Sheet:
    """The plate's strain problem on a scalar P2 basis; dof 2 i + c of node i."""

    def __init__(self, problem: PlateProblem, basis: Basis, factor: str) -> None:
        N, dN, area = functions(basis)
        self.N, self.nodes = N, basis.element_dofs.T
        B = np.zeros((*area.shape, 3, 12))
        B[:, :, 0, 0::2] = B[:, :, 2, 1::2] = dN[:, :, 0]
        B[:, :, 1, 1::2] = B[:, :, 2, 0::2] = dN[:, :, 1]
        self.B = B.reshape(len(area), -1, 12)
        self.weight = area * problem.thickness
        self.dofs = np.stack([2 * self.nodes, 2 * self.nodes + 1], 2).reshape(-1, 12)
        left = basis.mesh.p[0].min()
        clamped = basis.get_dofs(lambda x: np.isclose(x[0], left)).flatten()
        free = np.ones(2 * basis.N, bool)
        free[2 * clamped] = free[2 * clamped + 1] = False
        self.system = System(self.dofs, free, factor)
        self.free, self.shape = free, area.shape
        self.force, self.turn, self.shorten = _right_end(problem, basis)
        self.unit_load = np.linalg.norm(self.force)

    def material(self, T: FloatArray) -> list[FloatArray]:
        """Thermal strain, modulus, yield stress and hardening (k,) at nodal T (n,)."""
        here = (T[self.nodes] @ self.N.T).ravel()
        names = ("thermal_strain", "modulus", "yield_stress", "hardening")
        return [at(name, here) for name in names]

    def internal(
        self, u: FloatArray, props: list[FloatArray], old: Hardened
    ) -> Evaluation:
        """Forces (d,), their scale, tangents (k, 3, 3) and new state at u (d,)."""
        heat, E, sy, H = props
        eps, p = old
        strain = (self.B @ u[self.dofs][:, :, None]).reshape(-1, 3) - eps
        strain[:, :2] -= heat[:, None]
        stress, D, plastic, grown = return_map(strain, E, sy + H * p, H)
        pull = (stress * self.weight.reshape(-1, 1)).reshape(len(self.dofs), 1, -1)
        parts = np.matmul(pull, self.B).ravel()
        count, where = len(self.free), self.dofs.ravel()
        scale = np.bincount(where, np.abs(parts), count)[self.free]
        forces = np.bincount(where, parts, count)
        state = (eps + plastic, p + grown)
        return forces, float(np.linalg.norm(scale)), D, state, stress

    def solver(self, D: FloatArray) -> Callable[[FloatArray], FloatArray]:
        """Factors of the stiffness of tangents D (k, 3, 3)."""
        B = self.B.reshape(*self.shape, 3, 12)
        DB = (D.reshape(*self.shape, 3, 3) * self.weight[..., None, None]) @ B
        wide = DB.reshape(self.B.shape)
        return self.system.solver(np.matmul(self.B.transpose(0, 2, 1), wide))

    def step(
        self, u: FloatArray, guess: FloatArray, T: FloatArray, load: float,
        old: Hardened, tolerance: float, cautious: bool,
    ) -> Step | None:  # fmt: skip
        """Newton from u + guess; None when it does not balance.

        cautious : the first matrix is elastic.
        """
        props = self.material(T)
        u = u + guess
        point = self.internal(u, props, old)
        for iteration in range(1, 31):
            forces, scale, D, state, stress = point
            miss = (load * self.force - forces)[self.free]
            size = np.linalg.norm(miss)
            if size <= tolerance * (scale + load * self.unit_load) + 1e-6:
                return u, state, stress, iteration
            if not np.isfinite(size):
                return None
            if cautious and iteration == 1:
                D = return_map(np.zeros((len(D), 3)), *props[1:])[1]
            change = np.zeros_like(u)
            change[self.free] = self.solver(D)(miss)
            u, point = self.search(u, change, load, props, old, miss)
        return None

    def search(
        self, u: FloatArray, change: FloatArray, load: float, props: list[FloatArray],
        old: Hardened, miss: FloatArray,
    ) -> tuple[FloatArray, Evaluation]:  # fmt: skip
        """The whole change, or the largest half, quarter ... that leaves little work."""
        work = abs(change[self.free] @ miss)
        share = 1.0
        while True:
            trial = u + share * change
            point = self.internal(trial, props, old)
            left = abs(change @ (load * self.force - point[0]))
            if left <= 0.9 * work or share < 0.05:
                return trial, point
            share *= 0.5


def _right_end(
    problem: PlateProblem, basis: Basis
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Force (d,) of the traction, and rows (d,) that give rotation and shortening."""
    right = basis.mesh.p[0].max()
    facets = basis.mesh.facets_satisfying(lambda x: np.isclose(x[0], right))
    edge = FacetBasis(basis.mesh, ElementTriP2(), facets=facets, intorder=5)
    y, where = edge.global_coordinates().value[1], edge.element_dofs
    depth = float(np.asarray(edge.dx).sum())
    middle = float(np.sum(y * edge.dx)) / depth

    def along(values: FloatArray) -> FloatArray:
        out = np.zeros(2 * basis.N)
        for i, function in enumerate(edge.basis):
            share = np.sum(np.asarray(function[0].value) * values * edge.dx, axis=1)
            np.add.at(out, 2 * where[i], share)
        return out

    force = along(problem.traction(y) * problem.thickness)
    return force, along(-12 / depth**3 * (y - middle)), along(-1 / depth + 0 * y)


def solve_strain(
    problem: PlateProblem, basis: Basis, temperature: FloatArray, factor: str,
    tolerance: float, plain: bool,
) -> tuple[float, float, FloatArray, int]:  # fmt: skip
    """Load cold, follow the temperatures (s + 1, n), 20 degC, unload.

    Returns rotation rad, shortening m, stress (e, q, 3) Pa and iterations.
    """
    sheet = Sheet(problem, basis, factor)
    cold = np.full(basis.N, 20.0)
    pace = np.diff(np.append(0.0, problem.ends))
    knots = [(T, 1.0, dt) for T, dt in zip(temperature[1:], pace, strict=True)]
    schedule = [(temperature[0], 1.0, 0.0), *knots, (cold, 1.0, 60.0), (cold, 0.0, 0.0)]
    u, rate, iterations = np.zeros(2 * basis.N), None, 0
    points = sheet.weight.size
    state: Hardened = (np.zeros((points, 3)), np.zeros(points))
    stress = state[0]
    for T, load, dt in schedule:
        found = None
        if rate is not None and dt > 0.0 and not plain:
            found = sheet.step(u, rate * dt, T, load, state, tolerance, False)
        if found is None:
            found = sheet.step(u, 0.0 * u, T, load, state, tolerance, True)
        if found is None:
            raise AssertionError("no equilibrium")
        new, state, stress, count = found
        rate = (new - u) / dt if dt > 0.0 else None
        u, iterations = new, iterations + count
    rotation, shortening = float(sheet.turn @ u), float(sheet.shorten @ u)
    return rotation, shortening, stress.reshape(*sheet.shape, 3), iterations

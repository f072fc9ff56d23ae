"""The reference problem in scikit-fem: a second opinion that shares no kernel.

Quadratic triangles for temperatures and displacements, assembled with numpy over all
elements at once.  Heat: enthalpy form, backward Euler, Newton's method with factors
kept while they contract.  Strain: see ``peer_strain``.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
import reference_problem as reference
import reference_steel as steel
from peer_sparse import PlateProblem, System, at, choose_factor, functions
from peer_strain import solve_strain
from skfem import Basis, ElementTriP2, MeshTri

from shrinksim.arrays import FloatArray
from shrinksim.fem.mesh import Mesh

HEAT_TOLERANCE = 1e-2
"""K, the package's own default."""


@dataclass(frozen=True)
class PeerAnswer:
    """Rotation rad, shortening m; node places (n, 2), temperature (s + 1, n) degC;
    stress places (e, q, 2), stress (e, q, 3) Pa; CPU seconds and iterations of both stages.
    """

    rotation: float
    shortening: float
    nodes: FloatArray
    temperature: FloatArray
    places: FloatArray
    stress: FloatArray
    heat_seconds: float
    strain_seconds: float
    iterations: tuple[int, int]
    factor: str


def plate_problem(mesh: Mesh, case: reference.Case, ends: FloatArray) -> PlateProblem:
    """The reference problem on the corners of the same triangles."""
    used, flat = np.unique(mesh.triangles[:, :3], return_inverse=True)

    def traction(y: FloatArray) -> FloatArray:
        return -1.5 * steel.YIELD * case.load * (2 * y / reference.DEPTH - 1)

    return PlateProblem(
        mesh.points[used],
        flat.reshape(-1, 3),
        reference.THICKNESS,
        reference.in_vee(mesh.points, mesh.triangles),
        reference.HEATING,
        case.source,
        reference.air,
        ends,
        traction,
    )


class Medium:
    """The plate's heat problem: sums over its elements at a temperature field."""

    def __init__(self, problem: PlateProblem, basis: Basis, factor: str) -> None:
        self.problem = problem
        self.N, dN, self.area = functions(basis)
        self.dofs, self.count = basis.element_dofs.T, basis.N
        self.system = System(self.dofs, np.ones(basis.N, bool), factor)
        self.gradients = dN.reshape(len(self.dofs), -1, 6)
        products = np.einsum("qa,qb->qab", self.N, self.N)
        self.products = products.reshape(len(self.N), 36)
        self.volume = self.area * problem.thickness

    def total(self, parts: FloatArray) -> FloatArray:
        """Sums (n,) of element vectors (e, 6)."""
        return np.bincount(self.dofs.ravel(), parts.ravel(), self.count)

    def stored(self, T: FloatArray) -> FloatArray:
        """Heat content (n,) J at nodal temperatures T (n,)."""
        here = T[self.dofs] @ self.N.T
        return self.total((at("heat_content", here) * self.volume) @ self.N)

    def flow(self, T: FloatArray, t: float, gain: FloatArray) -> FloatArray:
        """Heat (n,) W that comes to the nodes; gain (e, q) W/m2 from the torch."""
        local = T[self.dofs]
        here = local @ self.N.T
        k = (at("conductivity", here) * self.volume)[..., None]
        slope = (self.gradients @ local[:, :, None]).reshape(*here.shape, 2) * k
        spread = np.matmul(slope.reshape(len(here), 1, -1), self.gradients)
        loss, _ = self.problem.law(here, t)
        net = ((gain - 2 * loss) * self.area) @ self.N
        return self.total(net - spread[:, 0])

    def blocks(self, T: FloatArray, t: float, dt: float) -> FloatArray:
        """Element matrices (e, 6, 6) of stored - dt flow, conductivity frozen."""
        here = T[self.dofs] @ self.N.T
        mass = at("specific_heat", here) * steel.DENSITY * self.volume
        mass += 2 * dt * self.problem.law(here, t)[1] * self.area
        k = dt * at("conductivity", here) * self.volume
        right = self.gradients * np.repeat(k, 2, axis=1)[:, :, None]
        spread = np.matmul(self.gradients.transpose(0, 2, 1), right)
        return spread + (mass @ self.products).reshape(-1, 6, 6)


def solve_heat(
    problem: PlateProblem, basis: Basis, factor: str, plain: bool
) -> tuple[FloatArray, int]:
    """Temperatures (s + 1, n) at the start and the ends of the steps; iterations."""
    body = Medium(problem, basis, factor)
    x, y = basis.global_coordinates().value
    T = np.full(basis.N, reference.AMBIENT)
    rows, t0, iterations = [T], 0.0, 0
    for t in problem.ends:
        on = problem.heated[:, None] * (t <= problem.heating + 1e-6)
        gain = problem.source(x, y, t) * on
        base, dt = body.stored(T), t - t0
        before, move, solve = np.inf, np.inf, None
        for _ in range(40):
            if solve is None or plain or move > 0.3 * before:
                solve = body.system.solver(body.blocks(T, t, dt))
            change = solve(base - body.stored(T) + dt * body.flow(T, t, gain))
            before, move = move, np.abs(change).max()
            T = T + change
            iterations += 1
            if move <= HEAT_TOLERANCE:
                break
        else:
            raise AssertionError(f"heat does not balance at {t} s")
        rows.append(T)
        t0 = t
    return np.array(rows), iterations


def solve(
    problem: PlateProblem,
    *,
    tolerance: float = 1e-4,
    factor: str = "best",
    plain: bool = False,
) -> PeerAnswer:
    """Both stages.

    plain : every iteration with a new matrix and every step from rest, as one writes it
    at first; otherwise the devices of the package (kept factors, a start from the last
    motion) are used here too.
    """
    factor = choose_factor(factor)
    began = time.process_time()
    mesh = MeshTri(problem.corners.T.copy(), problem.triangles.T.copy())
    warm = Basis(mesh, ElementTriP2(), intorder=4)
    temperature, heat_iterations = solve_heat(problem, warm, factor, plain)
    middle = time.process_time()
    basis = Basis(mesh, ElementTriP2(), intorder=2)
    turn, shorter, stress, iterations = solve_strain(
        problem, basis, temperature, factor, tolerance, plain
    )
    done = time.process_time()
    places = np.moveaxis(basis.global_coordinates().value, 0, -1)
    return PeerAnswer(
        turn, shorter, basis.doflocs.T, temperature, places, stress, middle - began,
        done - middle, (heat_iterations, iterations), factor,
    )  # fmt: skip

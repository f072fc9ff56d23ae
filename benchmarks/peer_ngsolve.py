"""The reference problem in NGSolve: another program for ``reference_problem.py``.

Quadratic H1 elements for temperatures and displacements on the package's corners and
triangles.  NGSolve gives the mesh, spaces, shape functions, boundary forms, assembly of
the matrices and their factors (sparsecholesky, its ordering kept); laws of the steel and
sums of forces are numpy over all points at once.  One thread: no TaskManager.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import ngsolve as ng
import numpy as np
import reference_steel as steel
from ngsolve.comp import IntegrationRuleSpace
from peer_ngsolve_space import Points, Solver, plate
from peer_ngsolve_strain import Sheet, solve_strain
from peer_sparse import PlateProblem, at

from shrinksim.arrays import FloatArray

HEAT_TOLERANCE = 1e-2
"""K, the package's own default."""


@dataclass(frozen=True)
class NgsolveAnswer:
    """Rotation rad, shortening m; CPU seconds and iterations of both stages."""

    rotation: float
    shortening: float
    heat_seconds: float
    strain_seconds: float
    iterations: tuple[int, int]
    factor: str = "sparsecholesky"


class Medium:
    """The plate's heat problem."""

    def __init__(self, problem: PlateProblem, mesh: ng.Mesh) -> None:
        self.problem = problem
        space = ng.H1(mesh, order=2)
        values = IntegrationRuleSpace(mesh, order=2)
        rules = values.GetIntegrationRules()
        self.points = Points(space, rules[ng.TRIG])
        self.volume = self.points.area * problem.thickness
        self.heated = np.array([e.mat == "vee" for e in mesh.Elements()])
        self.count = space.ndof
        u, v = space.TnT()
        self.mass, self.spread = ng.GridFunction(values), ng.GridFunction(values)
        form = ng.BilinearForm(space)
        inside = self.mass * u * v + self.spread * ng.grad(u) * ng.grad(v)
        form += inside * ng.dx(intrules=rules)
        self.solver = Solver(form)
        self.start = np.zeros(space.ndof)
        self.start[: mesh.nv] = 20.0

    def balance(
        self, T: FloatArray, t: float, dt: float, gain: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """dt flow (n,) J into the nodes, and heat content (n,) J, at T (n,)."""
        p = self.points
        local = T[p.dofs]
        here = local @ p.N.T
        slope = np.einsum("eqia,ea->eqi", p.dN, local, optimize=True)
        slope *= (at("conductivity", here) * self.volume)[..., None]
        loss, _ = self.problem.law(here, t)
        flow = ((gain - 2 * loss) * p.area) @ p.N
        flow -= np.matmul(
            slope.reshape(len(here), 1, -1), p.dN.reshape(len(here), -1, 6)
        )[:, 0]
        stored = (at("heat_content", here) * self.volume) @ p.N
        return self.total(dt * flow), self.total(stored)

    def total(self, parts: FloatArray) -> FloatArray:
        return np.bincount(self.points.dofs.ravel(), parts.ravel(), self.count)

    def renew(self, T: FloatArray, t: float, dt: float) -> None:
        """Matrix of stored - dt flow, conductivity frozen."""
        here = T[self.points.dofs] @ self.points.N.T
        thick = self.problem.thickness
        mass = at("specific_heat", here) * steel.DENSITY * thick
        mass += 2 * dt * self.problem.law(here, t)[1]
        self.mass.vec.FV().NumPy()[:] = mass.ravel()
        spread = dt * at("conductivity", here) * thick
        self.spread.vec.FV().NumPy()[:] = spread.ravel()
        self.solver.renew()


def solve_heat(body: Medium, plain: bool) -> tuple[FloatArray, int]:
    """Temperatures (s + 1, n) at the start and the ends of the steps; iterations."""
    problem, p = body.problem, body.points
    x, y = p.places[..., 0], p.places[..., 1]
    T, t0, iterations = body.start, 0.0, 0
    rows = [T]
    for t in problem.ends:
        on = body.heated[:, None] * (t <= problem.heating + 1e-6)
        gain, dt = problem.source(x, y, t) * on, t - t0
        base = body.balance(T, t, dt, gain)[1]
        before, move = np.inf, np.inf
        for iteration in range(40):
            if iteration == 0 or plain or move > 0.3 * before:
                body.renew(T, t, dt)
            flow, stored = body.balance(T, t, dt, gain)
            change = body.solver.solve(base - stored + flow)
            before, move = move, np.abs(change[p.dofs] @ p.N.T).max()
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
    problem: PlateProblem, *, tolerance: float = 1e-4, plain: bool = False
) -> NgsolveAnswer:
    """Both stages.

    plain : every iteration with a new matrix and every step from rest; otherwise heat
    factors are kept while they contract and a step starts from the last motion.
    """
    ng.SetNumThreads(1)
    began = time.process_time()
    mesh = plate(problem)
    temperature, heat_iterations = solve_heat(Medium(problem, mesh), plain)
    middle = time.process_time()
    turn, shorter, iterations = solve_strain(
        problem, Sheet(problem, mesh), temperature, tolerance, plain
    )
    done = time.process_time()
    return NgsolveAnswer(
        turn, shorter, middle - began, done - middle, (heat_iterations, iterations)
    )

"""A heated vee in a bent plate: the reference problem, and its run in the package.

Plate 600 x 100 x 10 mm, left end clamped, constant moment by a traction on the right
end that compresses the open edge of a 45 degree vee, depth ratio 0.75.  Case 1 heats the
whole vee at once, case 2 sweeps a band of heat from the apex to the opening.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from reference_steel import YIELD, heat_table, strain_table
from scipy.optimize import brentq

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import EDGE_POINTS, EDGE_WEIGHTS
from shrinksim.fem.conduction import Exchange, medium
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.mesher import Size, mesh_elevation
from shrinksim.fem.sparse import ties
from shrinksim.heat import HeatHistory, Phase, Stepping, solve_heat
from shrinksim.shop.pattern import vee_outline
from shrinksim.strain import (
    Control,
    Schedule,
    StrainHistory,
    solve_strain,
    strain_body,
    support,
)

LENGTH, DEPTH, THICKNESS, APEX = 0.6, 0.1, 0.01, 0.025
ANGLE = np.pi / 4
HEATING, ALL = 90.0, 7200.0
AMBIENT = 20.0
OUTLINE = vee_outline(0.0, APEX, DEPTH, ANGLE)


@dataclass(frozen=True)
class Case:
    """Flux W/m2 of both faces together, its spread m, bending over the plastic moment."""

    flux: float
    spread: float
    load: float

    def source(self, x: FloatArray, y: FloatArray, t: float) -> FloatArray:
        """W/m2 at a time of the heating, before the vee cuts it out."""
        centre = APEX + (DEPTH - APEX) * t / HEATING
        return self.flux * np.exp(-0.5 * ((y - centre) / self.spread) ** 2)


CASES = {1: Case(0.6e6, 100.0, 0.5), 2: Case(1.2e6, 0.010, 0.25)}


@dataclass(frozen=True)
class Answer:
    """Rotation rad (+ closes the opening), shortening m, times (s,) and temperatures
    (s, n) of the strain's knots, stress (e, q, 3) Pa, CPU seconds, iterations of both
    stages and steps of the strain.
    """

    rotation: float
    shortening: float
    temperature: FloatArray
    stress: FloatArray
    peak: float
    heat_seconds: float
    strain_seconds: float
    iterations: tuple[int, int]
    steps: int


def uniform_mesh(side: float) -> Mesh:
    """The plate in triangles of one size, the vee's edges on element sides."""
    return mesh(lambda x, y: side)


def mesh(size: Size) -> Mesh:
    return mesh_elevation(LENGTH, [("plate", 0.0, DEPTH)], [OUTLINE], size)


def in_vee(points: FloatArray, triangles: FloatArray) -> np.ndarray:
    """Elements (e,) that lie in the vee, by their centroids."""
    x, y = points[triangles[:, :3]].mean(axis=1).T
    return (y - APEX) * np.tan(ANGLE / 2) >= np.abs(x)


def air(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
    """Heat leaving one face, W/m2, and its slope: convection 25 W/m2K, emissivity 0.8."""
    K, c = T + 273.15, 0.8 * 5.67e-8
    square = K * K
    q = 25 * (T - AMBIENT) + c * (square * square - 293.15**4)
    return q, 25 + 4 * c * square * K


def step_ends(heating: int, cooling: int) -> FloatArray:
    """Ends (s,) of equal heating steps, then of steps that grow to two hours in all."""
    dt, rest = HEATING / heating, ALL - HEATING

    def miss(r: float) -> float:
        return dt * r * (r**cooling - 1) / (r - 1) - rest

    growth = brentq(miss, 1.0001, min(5.0, 10.0 ** (300 / cooling)))
    warm = dt * np.arange(1, heating + 1)
    return np.append(
        warm, HEATING + np.cumsum(dt * growth ** np.arange(1, cooling + 1))
    )


def traction_force(mesh: Mesh, case: Case) -> FloatArray:
    """Nodal forces (2 n,) N of the bending traction on the right end."""
    force = np.zeros((len(mesh.points), 2))
    facets = mesh.edges["right"]
    height = mesh.points[facets[:, 1], 1] - mesh.points[facets[:, 0], 1]
    for r, w in zip(EDGE_POINTS, EDGE_WEIGHTS, strict=True):
        N = np.array([(1 - r) * (1 - 2 * r), r * (2 * r - 1), 4 * r * (1 - r)])
        y = mesh.points[facets, 1] @ N
        pull = -1.5 * YIELD * case.load * (2 * y / DEPTH - 1)
        share = pull * THICKNESS * w * np.abs(height)
        np.add.at(force[:, 0], facets, share[:, None] * N)
    return force.ravel()


def movement(mesh: Mesh, u: FloatArray) -> tuple[float, float]:
    """Rotation rad and shortening m of the right end at displacements u (n, 2) m."""
    facets = mesh.edges["right"]
    height = np.abs(mesh.points[facets[:, 1], 1] - mesh.points[facets[:, 0], 1])
    y, ux = mesh.points[facets, 1] - 0.5 * DEPTH, u[facets, 0]
    weights = height[:, None] * np.array([1.0, 1.0, 4.0]) / 6.0  # Simpson
    turn = -12.0 / DEPTH**3 * float(np.sum(weights * ux * y))
    return turn, -float(np.sum(weights * ux)) / DEPTH


def heat(
    mesh: Mesh, case: Case, ends: FloatArray | None, second_order: bool,
    tolerance: float = 4.0, newton: float = Stepping.newton,
) -> HeatHistory:  # fmt: skip
    """The package's heat stage; ``ends`` None lets it choose its own steps, K."""
    table = heat_table()
    body = medium(
        mesh, THICKNESS, table.start, table.step, table.conductivity, table.heat_content
    )
    vee = in_vee(mesh.points, mesh.triangles)[:, None]
    faces = (Exchange(air, np.full((1, 1), 2.0), steady=True),)
    warm = cool = None
    if ends is not None:
        warm = ends[ends <= HEATING + 1e-9]
        cool = ends[len(warm) :] - HEATING
    phases = [
        Phase(
            HEATING,
            faces,
            sources=(lambda x, y, t: vee * case.source(x, y, t),),
            times=warm,
        ),
        Phase(ALL - HEATING, faces, times=cool),
    ]
    control = Stepping(tolerance=tolerance, second_order=second_order, newton=newton)
    return solve_heat(body, phases, initial=AMBIENT, stepping=control)


def strain(
    mesh: Mesh, case: Case, times: FloatArray, temperature: FloatArray, tolerance: float
) -> StrainHistory:
    """The package's strain stage: load cold, follow the heat, 20 degC, unload."""
    held = np.unique(mesh.edges["left"])
    free = ties(2 * len(mesh.points), np.concatenate([2 * held, 2 * held + 1]))
    hold = support(free, force=free.reduce(traction_force(mesh, case)))
    cold = np.full((2, len(mesh.points)), AMBIENT)
    T = np.concatenate([temperature[:1], temperature, cold])
    fraction = np.concatenate([[0.0], np.ones(len(T) - 2), [0.0]])
    knots = np.concatenate([[0.0], times, ALL + np.array([60.0, 120.0])])
    body = strain_body(mesh, THICKNESS, strain_table())
    return solve_strain(
        body, Schedule(knots, T, fraction), hold, control=Control(tolerance=tolerance)
    )


def solve(
    mesh: Mesh,
    case: Case,
    ends: FloatArray | None,
    *,
    second_order: bool = False,
    tolerance: float = 1e-4,
    newton: float = Stepping.newton,
    keep: slice = slice(None),
) -> Answer:
    """Both stages.  keep : rows of the heat history that the strain follows."""
    began = time.process_time()
    warm = heat(mesh, case, ends, second_order, newton=newton)
    middle = time.process_time()
    T = warm.temperature[keep]
    moved = strain(mesh, case, warm.times[keep], T, tolerance)
    done = time.process_time()
    turn, shorter = movement(mesh, moved.displacement[-1])
    return Answer(
        turn, shorter, T, moved.stress, float(warm.peak.max()), middle - began,
        done - middle, (warm.iterations, moved.iterations), moved.steps,
    )  # fmt: skip

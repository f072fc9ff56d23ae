"""A torch on one face of a plate: the three-dimensional reference problem.

Plate 200 x 60 x d mm, a Gaussian flux on the face z = +d/2 from (0, 60) straight to
(0, 15), then air.  Half of it is meshed, x = 0 is a plane of symmetry.  Steel: heat and
elongation of EN 1993-1-2, perfectly plastic at 235 MPa times ky.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq

from shrinksim.arrays import FloatArray
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.mesher import graded, mesh_elevation
from shrinksim.fem.plate import PlateBody, plate_body
from shrinksim.fem.plate_turns import Turns, displacement, half_rotations, half_ties
from shrinksim.fem.slab import TOP, PlateMedium, all_round, plate_medium
from shrinksim.fem.structure import support
from shrinksim.fem.through import Modes, modes_through
from shrinksim.heat.history import HeatHistory
from shrinksim.heat.march import solve_heat
from shrinksim.heat.phase import Phase, Stepping
from shrinksim.shop.cooling import still_air
from shrinksim.shop.steel import steel
from shrinksim.strain import Control, Schedule, StrainHistory, solve_strain

HALF, WIDTH = 0.1, 0.06
POWER, RADIUS, TRAVEL = 800.0, 0.012, 0.045
COOLING = 3600.0
AIR = still_air(20.0, 0.8, h=25.0)
STEEL = steel("S235", yield_stress=235e6, curve="plateau")


@dataclass(frozen=True)
class Plate:
    """Thickness m, speed of the torch m/s."""

    thickness: float
    speed: float

    def source(self, x: FloatArray, y: FloatArray, t: float) -> FloatArray:
        """W/m2 of plan area."""
        square = (x**2 + (y - WIDTH + self.speed * t) ** 2) / RADIUS**2
        return 3.0 * POWER / (np.pi * RADIUS**2) * np.exp(-3.0 * square)


S1, S2, THIN = Plate(0.008, 2.4e-3), Plate(0.004, 4.4e-3), Plate(0.002, 9.6e-3)


@dataclass(frozen=True)
class Answer:
    """face, back : highest temperatures, degC.  seconds : of heat and strain."""

    turns: Turns
    face: float
    back: float
    heat: HeatHistory
    strain: StrainHistory
    seconds: tuple[float, float]


def half_mesh(fine: float, far: float, growth: float = 0.3) -> Mesh:
    """x from 0 to 100 mm: side ``fine`` to 20 mm from the torch's line, then growing."""
    strip = np.array([[0, 0], [0.02, 0], [0.02, WIDTH], [0, WIDTH]]) - [0.5 * HALF, 0]
    size = graded([strip], fine, far, growth)
    mesh = mesh_elevation(HALF, [("plate", 0.0, WIDTH)], [strip], size)
    moved = mesh.points + np.array([0.5 * HALF, 0.0])
    return Mesh(moved, mesh.triangles, mesh.region, mesh.regions, mesh.edges)


def step_ends(duration: float, heating: int, cooling: int) -> list[FloatArray]:
    """Ends (s,) of equal heating steps; of cooling steps that grow to an hour."""
    dt = duration / heating

    def miss(r: float) -> float:
        return dt * r * (r**cooling - 1) / (r - 1) - COOLING

    growth = brentq(miss, 1.0001, 4.0)
    cool = np.cumsum(dt * growth ** np.arange(1, cooling + 1))
    return [dt * np.arange(1, heating + 1), cool]


def phases(
    plate: Plate, body: PlateMedium, steps: tuple[int, int] | None
) -> list[Phase]:
    """Torch and air; ``steps`` None: of the march's own choice."""
    faces, edges = all_round(body, AIR, ["right", "top", "bottom"])
    duration = TRAVEL / plate.speed
    ends = [None, None] if steps is None else step_ends(duration, *steps)
    heat = Phase(duration, faces, edges, sources=(plate.source,), times=ends[0])
    return [heat, Phase(COOLING, faces, edges, times=ends[1])]


def warm(
    plate: Plate, mesh: Mesh, *, order: int = 4, heated: tuple[float, float] = TOP,
    steps: tuple[int, int] | None = (60, 40), tolerance: float = 4.0,
) -> tuple[PlateMedium, HeatHistory]:  # fmt: skip
    """The heat stage."""
    table = STEEL.heat
    body = plate_medium(
        mesh, plate.thickness, table.start, table.step, table.conductivity,
        table.heat_content, order=order, heated=heated,
    )  # fmt: skip
    stepping = Stepping(tolerance=tolerance)
    return body, solve_heat(body, phases(plate, body, steps), stepping=stepping)


def bend(
    body: PlateBody, times: FloatArray, temperature: FloatArray
) -> tuple[StrainHistory, Turns]:
    """The strain stage, and at last 20 degC everywhere."""
    hold = support(half_ties(body))
    cold = np.full((1, temperature.shape[1]), 20.0)
    T = np.concatenate([temperature, cold])
    knots = np.append(times, times[-1] + 60.0)
    plan = Schedule(knots, T, np.ones(len(T)))
    out = solve_strain(body, plan, hold, control=Control())
    u = displacement(body, hold.ties, out.q[-1])
    return out, half_rotations(body, u)


def solve(
    plate: Plate, mesh: Mesh, *, modes: Modes | None = None, rule: str = "interior 3",
    order: int = 4, heated: tuple[float, float] = TOP,
    steps: tuple[int, int] | None = (60, 40), tolerance: float = 4.0,
) -> Answer:  # fmt: skip
    """Both stages."""
    began = time.perf_counter()
    medium, heat = warm(
        plate, mesh, order=order, heated=heated, steps=steps, tolerance=tolerance
    )
    middle = time.perf_counter()
    body = plate_body(
        mesh, plate.thickness, STEEL.strain, modes=modes, rule=rule, order=order
    )
    out, turns = bend(body, heat.times, heat.temperature)
    done = time.perf_counter()
    T = heat.temperature
    face, back = T[:, medium.warm.at(-1)].max(), T[:, medium.warm.at(0)].max()
    return Answer(
        turns, float(face), float(back), heat, out, (middle - began, done - middle)
    )


def orders(plate: Plate, flat: int, across: int, points: int) -> Modes:
    """Modes of the displacements through the thickness of a plate."""
    return modes_through(plate.thickness, (flat, across), points)

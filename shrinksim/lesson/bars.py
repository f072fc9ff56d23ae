"""Bars of a lesson: one heated bar, free, held, sprung or between two cold ones.

Each is a sheet of plane-stress elements that marches through an even temperature, with
the solver that computes everything else.  The steel is perfectly plastic at the yield
plateau of EN 1993-1-2, so that every corner of a stress loop can be checked by hand.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shrinksim.arrays import FloatArray, frozen
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Ties, ties
from shrinksim.lesson.states import BarTrack, Holding, Stop
from shrinksim.shop.steel import Steel, StrainTable, steel
from shrinksim.strain import (
    Control,
    Schedule,
    StrainHistory,
    Support,
    solve_strain,
    strain_body,
    support,
)

LENGTH, DEPTH, THICK = 1.0, 0.04, 0.02
"""m, of every bar; only their ratios matter."""

COLD, STEP = 20.0, 10.0
"""degC at the start; K from step to step."""

RIGID = 1e4
"""Stiffness of walls and jaws over that of the bar: rigid to a tenth of a per mille."""

BEGUN = 1e-6
"""Least plastic strain and share of the yield stress that count."""

TIGHT = Control(tolerance=1e-6, last=1e-6)


FREE = Holding("free")
JAWS = Holding("jaws", RIGID, "only pushes")
WALLS = Holding("walls", RIGID)


def lesson_steel(grade: str = "S235") -> Steel:
    """A grade, perfectly plastic at ky fy, without annealing."""
    return steel(grade, curve="plateau", annealing=np.inf)


def bar_track(holding: Holding, peak: float, grade: Steel) -> BarTrack:
    """Heat a bar to ``peak`` degC in small steps, cool it, and release it."""
    up = np.linspace(COLD, peak, 1 + max(1, round((peak - COLD) / STEP)))
    T = np.concatenate([up, up[-2::-1]])
    fraction = np.ones(len(T))
    if holding.stiffness > 0.0 and holding.way == "pushes and pulls":
        T, fraction = np.append(T, COLD), np.append(fraction, 0.0)
    out, per_bar = _march(holding, grade, T, fraction)
    stress = np.zeros((len(T), 1 if holding.sides == 0.0 else 3))
    for knot, field in out.snapshots.items():
        stress[knot] = field[..., 0].reshape(-1, per_bar).mean(axis=1)
    stretch = out.q[:, -1] / LENGTH
    grown, modulus = curves_at(grade.strain, T)
    plastic = stretch - grown - stress[:, 0] / modulus
    thicker = out.displacement[:, 2, 1] / DEPTH
    stops = _stops(stress[:, 0] / grade.yield_stress, plastic, len(up) - 1, fraction)
    return BarTrack(
        holding,
        peak,
        frozen(T),
        frozen(stress),
        frozen(stretch),
        frozen(plastic),
        frozen(thicker),
        stops,
    )


def curves_at(table: StrainTable, T: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Free elongation and modulus (Pa) at temperatures T, any shape."""
    grid = table.start + table.step * np.arange(len(table.modulus))
    grown = np.interp(T, grid, table.thermal_strain)
    return grown - np.interp(COLD, grid, table.thermal_strain), np.interp(
        T, grid, table.modulus
    )


def strength_at(table: StrainTable, T: FloatArray) -> FloatArray:
    """Stress (Pa) at which the steel yields without end, at temperatures T."""
    rows = table.flow_start + table.flow_step * np.arange(len(table.flow))
    return np.interp(T, rows, table.flow[:, -1])


def _march(
    holding: Holding, grade: Steel, T: FloatArray, fraction: FloatArray
) -> tuple[StrainHistory, int]:
    """The history of the bars, and the number of stress points of each."""
    count = 1 if holding.sides == 0.0 else 3
    mesh = _mesh(count)
    thick = np.full(len(mesh.triangles), THICK)
    thick[2:] *= holding.sides
    body = strain_body(mesh, thick, grade.strain, cold=COLD)
    heated = (np.arange(len(mesh.points)) < 9).astype(float)
    schedule = Schedule(
        np.arange(len(T), dtype=float), COLD + np.outer(T - COLD, heated), fraction
    )
    out = solve_strain(
        body,
        schedule,
        _support(mesh, holding, grade),
        control=TIGHT,
        snapshots=tuple(range(1, len(T))),
    )
    return out, 2 * body.N.shape[0]


def _mesh(count: int) -> Mesh:
    """Bars one above the other, each two six-node triangles on a lattice of 3 x 3."""
    x, y = (0.5 * s * np.arange(3) for s in (LENGTH, DEPTH))
    one = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    two = np.array([[0, 6, 8, 3, 7, 4], [0, 8, 2, 4, 5, 1]])
    up = np.array([0.0, 2.0 * DEPTH])
    return Mesh(
        frozen(np.concatenate([one + k * up for k in range(count)])),
        frozen(np.concatenate([two + 9 * k for k in range(count)]), np.int64),
        frozen(np.zeros(2 * count), np.int64),
    )


def _support(mesh: Mesh, holding: Holding, grade: Steel) -> Support:
    """Left ends held, right ends moving as one (the last unknown) against the spring."""
    nodes = np.arange(len(mesh.points))
    left, right = nodes[nodes % 9 < 3], nodes[nodes % 9 > 5]
    free = ties(
        2 * len(nodes), np.concatenate([2 * left, 2 * left[::3] + 1, 2 * right])
    )
    target, weight = free.target.copy(), free.weight.copy()
    target[2 * right, 0], weight[2 * right, 0] = free.unknowns, 1.0
    tied = Ties(target, weight, free.unknowns + 1)
    spring, rest, one_way = (np.zeros(tied.unknowns) for _ in range(3))
    _, modulus = curves_at(grade.strain, np.array(COLD))
    spring[-1] = holding.stiffness * float(modulus) * DEPTH * THICK / LENGTH
    if holding.way == "only pushes":
        rest[-1], one_way[-1] = -1e-12 * LENGTH, 1.0  # its sense: against growing
    return support(tied, spring=spring, rest=rest, one_way=one_way)


def _stops(
    stress: FloatArray, plastic: FloatArray, hottest: int, fraction: FloatArray
) -> tuple[Stop, ...]:
    """Named steps; stress (s,) of the heated bar over the yield stress."""
    end = len(stress) - 1 - int(fraction[-1] == 0.0)
    flows = np.abs(np.diff(plastic)) > BEGUN
    found = {
        0: "cold",
        **_first(flows[:hottest], 1, "starts to yield"),
        hottest: "hottest",
    }
    if stress[hottest] < -BEGUN:
        found |= _first(stress[hottest:] > -BEGUN, hottest, "push gone")
    found |= _first(flows[hottest:end], hottest + 1, "yields in pull")
    found[end] = "cold again"
    if end < len(stress) - 1:
        found[end + 1] = "let go"
    return tuple(Stop(step, name) for step, name in sorted(found.items()))


def _first(where: NDArray[np.bool_], offset: int, name: str) -> dict[int, str]:
    """A stop at the first place, if there is one."""
    found = np.flatnonzero(where)
    return {offset + int(found[0]): name} if len(found) else {}

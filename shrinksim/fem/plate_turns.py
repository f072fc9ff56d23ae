"""What a plate did, read from its two ends; supports and loads for its ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.conduction import edge_rule
from shrinksim.fem.plate import Extruded
from shrinksim.fem.sparse import Ties, ties


@dataclass(frozen=True)
class Turns:
    """Movement of the right end against the left one, least squares over both.

    in_plane : rad, + when the edge with larger y gets shorter.  out_of_plane : rad, +
    when the face with larger z gets shorter.  twist : rad about x.  shortening : m.
    """

    in_plane: float
    out_of_plane: float
    twist: float
    shortening: float


def rotations(solid: Extruded, u: FloatArray) -> Turns:
    """Turns of the ends "left" and "right" at displacements u (nodes, 3) m."""
    left, right = (end_fit(solid, side, u) for side in ("left", "right"))
    return turns_of(right - left)


def half_rotations(solid: Extruded, u: FloatArray, side: str = "right") -> Turns:
    """Turns of a plate of which half is meshed: twice those of one end."""
    sign = 1.0 if side == "right" else -1.0
    return turns_of(2.0 * sign * end_fit(solid, side, u))


def turns_of(gap: FloatArray) -> Turns:
    """From the differences (4,) of stretch, slopes over y and z, and twist."""
    stretch, over_y, over_z, twist = (float(v) for v in gap)
    return Turns(-over_y, -over_z, twist, -stretch)


def end_fit(solid: Extruded, side: str, u: FloatArray) -> FloatArray:
    """u_x = a + b (y - middle) + c z over an end face, and its turn about x: a b c w.

    Weighted by area: Simpson along the edge and between the levels.
    """
    nodes, weight = end_weights(solid, side)
    y, z = solid.points[nodes, 1:].T
    y = y - 0.5 * (y.max() + y.min())
    basis = np.stack([np.ones_like(y), y, z])
    fit = np.linalg.solve((basis * weight) @ basis.T, (basis * weight) @ u[nodes, 0])
    v, w = u[nodes, 1], u[nodes, 2]
    still = np.stack([np.ones_like(y), np.zeros_like(y), -z])
    rise = np.stack([np.zeros_like(y), np.ones_like(y), y])
    left = (still * weight) @ still.T + (rise * weight) @ rise.T
    right = (still * weight) @ v + (rise * weight) @ w
    return np.append(fit, np.linalg.solve(left, right)[2])


def end_weights(solid: Extruded, side: str) -> tuple[IntArray, FloatArray]:
    """Nodes (k,) of an end face, and the area (k,) m2 that each stands for."""
    facets = solid.flat.edges[side]
    N, weight, _, _ = edge_rule(solid.flat, facets)
    line = np.bincount(facets.ravel(), (weight @ N).ravel(), len(solid.flat.points))
    layers = (len(solid.levels) - 1) // 2
    up = np.zeros(len(solid.levels))
    for k in range(layers):
        high = solid.levels[2 * k + 2] - solid.levels[2 * k]
        up[2 * k : 2 * k + 3] += high * np.array([1.0, 4.0, 1.0]) / 6.0
    along = np.unique(facets)
    nodes = (np.arange(len(up))[:, None] * len(line) + along).ravel()
    return nodes, (up[:, None] * line[along]).ravel()


def free_ties(solid: Extruded) -> Ties:
    """All free but for the six dofs that stop rigid motions, on three nodes."""
    x, y, z = solid.points.T
    middle = np.flatnonzero(np.abs(z) == np.abs(z).min())
    first = middle[np.lexsort((y[middle], x[middle]))[0]]
    second = middle[np.lexsort((y[middle], -x[middle]))[0]]
    third = middle[np.lexsort((-y[middle], x[middle]))[0]]
    fixed = [3 * first, 3 * first + 1, 3 * first + 2, 3 * second + 1, 3 * second + 2]
    return ties(3 * len(x), np.array([*fixed, 3 * third + 2]))


def half_ties(solid: Extruded, side: str = "left") -> Ties:
    """An end on a plane of symmetry across x; otherwise only rigid motions held."""
    n = len(solid.flat.points)
    on = np.unique(solid.flat.edges[side])
    planed = (np.arange(len(solid.levels))[:, None] * n + on).ravel()
    middle = n * (len(solid.levels) // 2)
    order = on[np.argsort(solid.flat.points[on, 1])] + middle
    low, high = order[0], order[-1]
    fixed = [*(3 * planed), 3 * low + 1, 3 * low + 2, 3 * high + 2]
    return ties(3 * len(solid.points), np.array(fixed))


def displacement(ends: Ties, q: FloatArray) -> FloatArray:
    """(..., nodes, 3) m of unknowns (..., m), nothing given."""
    rows = np.atleast_2d(q)
    full = np.stack([ends.expand(np.ascontiguousarray(row)) for row in rows])
    return full.reshape(*q.shape[:-1], -1, 3)


def end_moments(
    solid: Extruded, side: str, in_plane: float, out_of_plane: float
) -> FloatArray:
    """Nodal forces (d,) N of a stress that is linear over an end face.

    Moments in N m; positive closes the edge with larger y, the face with larger z.
    """
    nodes, weight = end_weights(solid, side)
    y, z = solid.points[nodes, 1:].T
    y = y - 0.5 * (y.max() + y.min())
    sign = 1.0 if side == "right" else -1.0
    force = np.zeros((len(solid.points), 3))
    pull = -in_plane * y / float(weight @ y**2) - out_of_plane * z / float(
        weight @ z**2
    )
    force[nodes, 0] = sign * weight * pull
    return force.ravel()

"""What a plate did, read from its two ends; supports and loads for its ends."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from shrinksim.arrays import FloatArray
from shrinksim.fem.conduction import edge_rule
from shrinksim.fem.plate import PlateBody
from shrinksim.fem.plate_ends import missing
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


def rotations(body: PlateBody, u: FloatArray) -> Turns:
    """Turns of the ends "left" and "right" at displacements u (nodes, 3) m."""
    left, right = (end_fit(body, side, u) for side in ("left", "right"))
    return turns_of(right - left)


def half_rotations(body: PlateBody, u: FloatArray) -> Turns:
    """Turns of a plate of which the half to the right is meshed: twice its end's."""
    return turns_of(2.0 * end_fit(body, "right", u))


def turns_of(gap: FloatArray) -> Turns:
    """From the differences (4,) of stretch, slopes over y and z, and twist."""
    stretch, over_y, over_z, twist = (float(v) for v in gap)
    return Turns(-over_y, -over_z, twist, -stretch)


def end_fit(body: PlateBody, side: str, u: FloatArray) -> FloatArray:
    """u_x = a + b (y - middle) + c z over an end face, and its turn about x: a b c w.

    Least squares by area.
    """
    N, weight, y, z = end_points(body, side)
    ux, uy, uz = (N @ u).T
    flat = np.stack([np.ones_like(y), y, z])
    fit = np.linalg.solve((flat * weight) @ flat.T, (flat * weight) @ ux)
    across = np.stack([np.ones_like(y), np.zeros_like(y), -z])
    rise = np.stack([np.zeros_like(y), np.ones_like(y), y])
    square = (across * weight) @ across.T + (rise * weight) @ rise.T
    moved = (across * weight) @ uy + (rise * weight) @ uz
    return np.append(fit, np.linalg.solve(square, moved)[2])


def end_points(
    body: PlateBody, side: str
) -> tuple[csr_array, FloatArray, FloatArray, FloatArray]:
    """Points (p,) of an end face: the matrix (p, nodes) that takes displacements there,
    area m2, height y from the middle and z, m.
    """
    solid, modes = body.solid, body.modes
    facets = solid.flat.edges[side]
    N, weight, _, _ = edge_rule(solid.flat, facets)
    y = (solid.flat.points[facets, 1] @ N.T).ravel()
    up = modes.full
    ends = solid.flat.points[facets, 1]
    y = y - 0.5 * float(ends.max() + ends.min())
    values = np.einsum("ba,zk->bzka", N, up).reshape(-1, up.shape[1] * 3)
    starts = np.arange(solid.levels) * len(solid.flat.points)
    nodes = (
        (facets[:, None, None, None, :] + starts[:, None])
        .repeat(len(N), 1)
        .repeat(len(modes.z), 2)
        .reshape(-1, values.shape[1])
    )
    rows = np.repeat(np.arange(len(nodes)), values.shape[1])
    shape = (len(nodes), solid.nodes)
    entries = np.tile(values, (len(facets), 1)).ravel()
    area = (weight.ravel()[:, None] * modes.weight).ravel()
    matrix = csr_array((entries, (rows, nodes.ravel())), shape=shape)
    return matrix, area, np.repeat(y, len(modes.z)), np.tile(modes.z, y.size)


def free_ties(body: PlateBody) -> Ties:
    """All free but for the six dofs that stop rigid motions, on three nodes."""
    solid = body.solid
    x, y = solid.flat.points.T
    low = solid.start(body.modes.low)
    first, second = (low + np.lexsort((y, sign * x))[0] for sign in (1.0, -1.0))
    third = low + np.lexsort((-y, x))[0]
    fixed = [3 * first, 3 * first + 1, 3 * first + 2, 3 * second + 1, 3 * second + 2]
    every = np.union1d(missing(solid, body.modes), [*fixed, 3 * third + 2])
    return ties(3 * solid.nodes, every)


def half_ties(body: PlateBody, side: str = "left") -> Ties:
    """An end on a plane of symmetry across x; otherwise only rigid motions held."""
    solid = body.solid
    on = np.unique(solid.flat.edges[side])
    planed = (np.arange(solid.levels)[:, None] * len(solid.flat.points) + on).ravel()
    order = on[np.argsort(solid.flat.points[on, 1])] + solid.start(body.modes.low)
    low, high = order[0], order[-1]
    fixed = [*(3 * planed), 3 * low + 1, 3 * low + 2, 3 * high + 2]
    return ties(3 * solid.nodes, np.union1d(missing(solid, body.modes), fixed))


def displacement(body: PlateBody, hold: Ties, q: FloatArray) -> FloatArray:
    """Modes (nodes, 3) m of unknowns (m,), where nothing but these moves."""
    return body.carried.moved(hold.expand(np.ascontiguousarray(q)))


def end_moments(
    body: PlateBody, side: str, in_plane: float, out_of_plane: float
) -> FloatArray:
    """Nodal forces (d,) N of a stress that is linear over an end face.

    Moments in N m; positive closes the edge with larger y, the face with larger z.
    """
    N, weight, y, z = end_points(body, side)
    sign = -1.0 if side == "right" else 1.0
    pull = in_plane * y / float(weight @ y**2)
    pull += out_of_plane * z / float(weight @ z**2)
    force = np.zeros((body.solid.nodes, 3))
    force[:, 0] = N.T @ (sign * weight * pull)
    return force.ravel()


def twist_rows(body: PlateBody, side: str) -> FloatArray:
    """Rows (2, nodes) that u_y and u_z (nodes,) m give the turn (rad) of an end with
    about x: that of `end_fit`.
    """
    N, weight, y, z = end_points(body, side)
    across = np.stack([np.ones_like(y), np.zeros_like(y), -z])
    rise = np.stack([np.zeros_like(y), np.ones_like(y), y])
    square = (across * weight) @ across.T + (rise * weight) @ rise.T
    pick = np.linalg.solve(square, np.eye(3)[2])
    return np.stack([N.T @ ((pick @ part) * weight) for part in (across, rise)])

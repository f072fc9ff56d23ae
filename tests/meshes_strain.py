"""Structured meshes of the strain tests: any map of a grid on the unit square."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from meshes import grid

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.basis import EDGE_POINTS, EDGE_WEIGHTS
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Ties, ties

Where = Callable[[FloatArray, FloatArray], tuple[FloatArray, FloatArray]]


def mapped(nx: int, ny: int, where: Where, *, curved: bool = False) -> Mesh:
    """Cells nx by ny, two T6 each; where(s, t) takes the unit square to m.

    Sides are straight unless ``curved``.
    """
    s, t = np.meshgrid(
        np.linspace(0, 1, 2 * nx + 1), np.linspace(0, 1, 2 * ny + 1), indexing="ij"
    )
    points = np.stack(where(s.ravel(), t.ravel()), axis=1)
    at = np.arange(points.shape[0]).reshape(s.shape)
    i, j = (2 * k.ravel() for k in np.meshgrid(np.arange(nx), np.arange(ny)))
    lower = [(0, 0), (2, 0), (2, 2), (1, 0), (2, 1), (1, 1)]
    upper = [(0, 0), (2, 2), (0, 2), (1, 1), (1, 2), (0, 1)]
    triangles = np.concatenate(
        [np.stack([at[i + a, j + b] for a, b in k], axis=1) for k in (lower, upper)]
    )
    if not curved:
        for middle, a, b in ((3, 0, 1), (4, 1, 2), (5, 2, 0)):
            ends = points[triangles[:, a]] + points[triangles[:, b]]
            points[triangles[:, middle]] = 0.5 * ends
    sides = {"left": at[0], "right": at[-1], "bottom": at[:, 0], "top": at[:, -1]}
    region = np.zeros(len(triangles), np.int64)
    edges = {name: chain(nodes) for name, nodes in sides.items()}
    return Mesh(points, triangles, region, edges=edges)


def chain(nodes: IntArray) -> IntArray:
    """Edges (f, 3) along a line of nodes: first end, second end, middle."""
    return np.stack([nodes[:-1:2], nodes[2::2], nodes[1::2]], axis=1)


def cook(cells: int) -> Mesh:
    """Cook's trapezoid: 48 long, from 44 high on the left to 16 on the right."""
    return mapped(
        cells, cells, lambda s, t: (48.0 * s, 44.0 * s + t * (44.0 - 28.0 * s))
    )


def quarter_with_hole(half: float, radius: float, around: int, out: int) -> Mesh:
    """A quarter of a square plate of side 2 half with a hole; "left" is the hole,
    "bottom" is y = 0, "top" is x = 0, "right" the outer two sides.

    around : cells along the quarter circle, even.  out : cells from hole to edge.
    """

    def where(s: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        angle = 0.5 * np.pi * t
        ring = radius * np.cos(angle), radius * np.sin(angle)
        edge = half * np.minimum(1.0, 2.0 - 2.0 * t), half * np.minimum(1.0, 2.0 * t)
        part = s * (0.6 + 0.4 * s)
        return tuple(
            (1.0 - part) * r + part * e for r, e in zip(ring, edge, strict=True)
        )

    return mapped(out, around, where, curved=True)


def wedge(radii: FloatArray, angle: float) -> Mesh:
    """A slice of a disc, one cell wide: "bottom" on the x axis, "top" at ``angle``.

    radii : (k,) m of the rings, from 0; the innermost cell is one triangle.
    """
    cells = len(radii) - 2

    def where(s: FloatArray, t: FloatArray) -> tuple[FloatArray, FloatArray]:
        r = np.interp(s * cells, np.arange(cells + 1), radii[1:])
        return r * np.cos(angle * t), r * np.sin(angle * t)

    ring = mapped(cells, 1, where, curved=True)
    count = len(ring.points)
    (a, c, arc) = ring.edges["left"][0]
    tip = np.array([[0.0, 0.0], *(0.5 * ring.points[[a, c]])])
    triangle = np.array([[count, a, c, count + 1, arc, count + 2]])
    bottom = np.vstack([[count, a, count + 1], ring.edges["bottom"]])
    top = np.vstack([[count, c, count + 2], ring.edges["top"]])
    return Mesh(
        np.concatenate([ring.points, tip]),
        np.concatenate([ring.triangles, triangle]),
        np.zeros(len(ring.triangles) + 1, np.int64),
        edges={"bottom": bottom, "top": top, "right": ring.edges["right"]},
    )


def wedge_ties(mesh: Mesh, angle: float) -> Ties:
    """Both straight sides of a wedge only move along themselves; its tip is held."""
    bottom, top = np.unique(mesh.edges["bottom"]), np.unique(mesh.edges["top"])
    tip = np.flatnonzero(np.hypot(*mesh.points.T) < 1e-12)
    top = np.setdiff1d(top, tip)
    fixed = np.concatenate([2 * bottom + 1, 2 * top + 1, 2 * tip, 2 * tip + 1])
    free = ties(2 * len(mesh.points), fixed)
    target, weight = free.target.copy(), free.weight.copy()
    target[2 * top + 1, 0] = target[2 * top, 0]
    weight[2 * top, 0], weight[2 * top + 1, 0] = np.cos(angle), np.sin(angle)
    return Ties(target, weight, free.unknowns)


def strips(across: Sequence[FloatArray], y: FloatArray) -> Mesh:
    """Rectangles side by side between coordinates across (k,) each, y (l,), m.

    The nodes of their borders are doubled, so that a field may jump there; ``region``
    numbers the rectangles.
    """
    points, triangles, region = [], [], []
    count = 0
    for number, x in enumerate(across):
        one = grid(x, y)
        points.append(one.points)
        triangles.append(one.triangles + count)
        region.append(np.full(len(one.triangles), number))
        count += len(one.points)
    return Mesh(
        np.concatenate(points), np.concatenate(triangles), np.concatenate(region)
    )


def joined(mesh: Mesh, free: Ties) -> Ties:
    """Ties of a section in which nodes at one place move as one."""
    _, first, which = np.unique(
        np.round(mesh.points, 9), axis=0, return_index=True, return_inverse=True
    )
    same = first[which.ravel()]
    dofs = np.arange(len(free.target))
    count = 2 * len(mesh.points)
    dofs[:count] = np.stack([2 * same, 2 * same + 1], axis=1).ravel()
    target, weight = free.target[dofs], free.weight[dofs]
    used = np.unique(target[target >= 0])
    numbers = np.full(free.unknowns + 1, -1)
    numbers[used] = np.arange(len(used))
    return Ties(numbers[target], weight, len(used))


def pressure(mesh: Mesh, side: str, out: bool = False) -> FloatArray:
    """Nodal forces (d,) N per Pa and m of a pressure on a curved side of a ring about
    the origin: away from the origin, towards it with ``out`` (on the outer side).
    """
    r = EDGE_POINTS
    N = np.stack([(1 - r) * (1 - 2 * r), r * (2 * r - 1), 4 * r * (1 - r)], axis=1)
    dN = np.stack([4 * r - 3, 4 * r - 1, 4 - 8 * r], axis=1)
    force = np.zeros((len(mesh.points), 2))
    for edge in mesh.edges[side]:
        along, place = dN @ mesh.points[edge], N @ mesh.points[edge]
        normal = np.stack([along[:, 1], -along[:, 0]], axis=1)
        normal *= np.sign((normal * place).sum(axis=1, keepdims=True))
        share = (N * EDGE_WEIGHTS[:, None]).T @ normal
        np.add.at(force, edge, -share if out else share)
    return force.ravel()


def side_forces(mesh: Mesh, side: str, load: Where) -> FloatArray:
    """Nodal forces (d,) N of a traction times thickness, load(x, y) -> N/m, on a side.

    Straight sides; loads that are constant on each.
    """
    force = np.zeros((len(mesh.points), 2))
    for a, b, middle in mesh.edges[side]:
        length = np.hypot(*(mesh.points[b] - mesh.points[a]))
        value = np.array(load(*mesh.points[middle]))
        for node, share in ((a, 1), (b, 1), (middle, 4)):
            force[node] += share / 6.0 * length * value
    return force.ravel()

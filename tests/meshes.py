"""Structured T6 meshes in numpy, and values read off them: for tests, without gmsh."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.basis import locate
from shrinksim.fem.mesh import Mesh


def rectangle(width: float, height: float, nx: int, ny: int) -> Mesh:
    """x from 0 to width, y from 0 to height, m, in nx by ny cells of two triangles."""
    return grid(np.linspace(0.0, width, nx + 1), np.linspace(0.0, height, ny + 1))


def grid(x: FloatArray, y: FloatArray) -> Mesh:
    """Cells between increasing coordinates; named edges left, right, bottom, top.

    The diagonals alternate, so an even number of cells of mirrored sizes is mirrored.
    """
    xs, ys = _with_middles(x), _with_middles(y)
    number = np.arange(len(xs) * len(ys)).reshape(len(xs), len(ys))
    points = np.stack(np.meshgrid(xs, ys, indexing="ij"), axis=-1).reshape(-1, 2)
    sides = _sides(number, ("left", "right", "bottom", "top"))
    return _mesh(points, _triangles(number), sides)


def annulus(
    inner: float, outer: float, n_radial: int, n_around: int, sweep: float = 2 * np.pi
) -> Mesh:
    """Ring, or a sector of it from the x axis, with its middle nodes on the arcs.

    Named edges inner, outer; a sector also has start (on the x axis) and end.
    """
    r = _with_middles(np.linspace(inner, outer, n_radial + 1))
    angle = _with_middles(np.linspace(0.0, sweep, n_around + 1))
    closed = abs(sweep - 2 * np.pi) < 1e-12
    columns = len(angle) - closed
    around = np.arange(len(angle)) % columns
    number = np.arange(len(r))[:, None] * columns + around
    R, A = np.meshgrid(r, angle[:columns], indexing="ij")
    points = np.stack([R * np.cos(A), R * np.sin(A)], axis=-1).reshape(-1, 2)
    sides = _sides(number, ("inner", "outer", "start", "end"))
    if closed:
        del sides["start"], sides["end"]
    return _mesh(points, _triangles(number), sides)


def mirrored(mesh: Mesh) -> Mesh:
    """The mesh with x -> -x, the same node and element numbers; left is right."""
    swap = {"left": "right", "right": "left"}
    return Mesh(
        frozen(mesh.points * [-1.0, 1.0]),
        frozen(mesh.triangles[:, [0, 2, 1, 5, 4, 3]], np.int64),
        mesh.region,
        mesh.regions,
        {
            swap.get(name, name): frozen(facets[:, [1, 0, 2]], np.int64)
            for name, facets in mesh.edges.items()
        },
    )


def growing(first: float, size: float, end: float, ratio: float = 1.4) -> FloatArray:
    """Coordinates in cells of ``size`` from 0 to ``first``, then growing to ``end``."""
    near = np.linspace(0.0, first, round(first / size) + 1)
    steps = [size]
    while sum(steps[1:]) < end - first:
        steps.append(steps[-1] * ratio)
    far = np.cumsum(steps[1:])
    return np.append(near, first + far * (end - first) / far[-1])


def values_at(mesh: Mesh, nodal: FloatArray, where: object) -> FloatArray:
    """Nodal values (..., n) interpolated at points ``where`` (k, 2) m: (..., k)."""
    element, N = locate(mesh, np.asarray(where, float))
    return np.einsum("...ka,ka->...k", nodal[..., mesh.triangles[element]], N)


def nodes_on(mesh: Mesh, *edges: str) -> IntArray:
    """Numbers of all nodes on the named edges."""
    return np.unique(np.concatenate([mesh.edges[name].ravel() for name in edges]))


def _with_middles(x: FloatArray) -> FloatArray:
    x = np.asarray(x, float)
    out = np.empty(2 * len(x) - 1)
    out[::2], out[1::2] = x, 0.5 * (x[1:] + x[:-1])
    return out


def _triangles(number: IntArray) -> IntArray:
    """(e, 6) from a lattice of node numbers that holds corners and middles."""
    i, j = np.meshgrid(
        np.arange(0, number.shape[0] - 1, 2),
        np.arange(0, number.shape[1] - 1, 2),
        indexing="ij",
    )
    odd = ((i + j) // 2 % 2).astype(bool)
    a, b, c, d = (0, 0), (2, 0), (2, 2), (0, 2)
    pairs = ((~odd, ((a, b, c), (a, c, d))), (odd, ((a, b, d), (b, c, d))))
    parts = [
        number[_corners(i[cells], j[cells], triangle)]
        for cells, pair in pairs
        for triangle in pair
    ]
    return np.concatenate(parts)


def _corners(
    i: IntArray, j: IntArray, triangle: tuple[tuple[int, int], ...]
) -> tuple[IntArray, IntArray]:
    """Lattice places (e, 6) of the three corners and then the three middles."""
    corner = np.array(triangle)
    middle = (corner + np.roll(corner, -1, axis=0)) // 2
    all_six = np.concatenate([corner, middle])
    return i[:, None] + all_six[:, 0], j[:, None] + all_six[:, 1]


def _sides(number: IntArray, names: tuple[str, ...]) -> dict[str, IntArray]:
    """Facets (f, 3) of the first and last column and row, counter-clockwise."""
    rows = (number[0, ::-1], number[-1], number[:, 0], number[::-1, -1])
    return {
        name: np.stack([row[:-1:2], row[2::2], row[1::2]], axis=1)
        for name, row in zip(names, rows, strict=True)
    }


def _mesh(points: FloatArray, triangles: IntArray, edges: dict[str, IntArray]) -> Mesh:
    return Mesh(
        frozen(points),
        frozen(triangles, np.int64),
        frozen(np.zeros(len(triangles)), np.int64),
        edges={name: frozen(facets, np.int64) for name, facets in edges.items()},
    )

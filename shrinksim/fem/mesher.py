"""T6 meshes by gmsh: elevations cut into bands and patterns, and outlines of lines and
arcs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, Protocol

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.mesh import Mesh
from shrinksim.process.stopping import defer_stops

Size = Callable[[float, float], float]
"""size(x, y) -> wanted element side, m."""


class OutlinePiece(Protocol):
    """A straight line of an outline, or with a centre an arc under 180 degrees; m."""

    @property
    def name(self) -> str: ...
    @property
    def start(self) -> tuple[float, float]: ...
    @property
    def end(self) -> tuple[float, float]: ...
    @property
    def centre(self) -> tuple[float, float] | None: ...


LIBRARIES = "libglu1-mesa libgl1 libxrender1 libxcursor1 libxft2 libxinerama1 libgomp1"


@contextmanager
def _gmsh(name: str) -> Iterator[Any]:
    """Context of one gmsh model with fixed options, always finalised."""
    try:
        import gmsh
    except OSError as error:
        message = (
            f"gmsh cannot load its libraries ({error}); on Debian or Ubuntu: "
            f"apt-get install {LIBRARIES}"
        )
        raise ImportError(message) from error
    # gmsh loses an exception of a callback, and replaces the handler of SIGTERM
    with defer_stops() as hold:
        gmsh.initialize(readConfigFiles=False, interruptible=False)
        hold()
        try:
            for option, value in {
                "General.Terminal": 0,
                "General.NumThreads": 1,
                "Mesh.Algorithm": 6,
                "Mesh.MeshSizeFromPoints": 0,
                "Mesh.MeshSizeFromCurvature": 0,
                "Mesh.MeshSizeExtendFromBoundary": 0,
                "Mesh.SecondOrderLinear": 1,
                "Mesh.RandomSeed": 1,
                # the usual 1e-9 asks for the size ten times as often, for the same mesh
                "Mesh.LcIntegrationPrecision": 1e-5,
            }.items():
                gmsh.option.setNumber(option, value)
            gmsh.model.add(name)
            yield gmsh
        finally:
            gmsh.finalize()


def mesh_elevation(
    length: float,
    bands: Sequence[tuple[str, float, float]],
    outlines: Sequence[FloatArray],
    size: Size,
) -> Mesh:
    """Mesh of x in [-length/2, length/2] over ``bands`` (name, low, high), bottom to top.

    outlines : closed polygons (k, 2) m whose edges become element sides.  Named edges:
    left, right, bottom, top.  Raises NotConverged when gmsh fails.
    """
    with _gmsh("elevation") as gmsh:
        try:
            _draw(gmsh, length, bands, outlines)
            points, triangles, _ = _generate(gmsh, size)
            return elevation_record(points, triangles, length, bands)
        except (CaseError, NotConverged):
            raise
        except Exception as error:
            message = f"gmsh could not mesh the member: {error}"
            raise NotConverged(message) from error


def mesh_outline(pieces: Sequence[OutlinePiece], size: Size) -> Mesh:
    """Mesh of the inside of a closed, counter-clockwise outline; curved sides on arcs.

    The names of the surfaces become the edges; one region, "section".
    Raises NotConverged when gmsh fails.
    """
    with _gmsh("outline") as gmsh:
        gmsh.option.setNumber("Mesh.SecondOrderLinear", 0)
        try:
            curves = _draw_outline(gmsh, pieces)
            points, triangles, row = _generate(gmsh, _refined_at_roots(pieces, size))
            middles = {
                name: row[np.concatenate([_middles(gmsh, tag) for tag in tags])]
                for name, tags in curves.items()
            }
        except (CaseError, NotConverged):
            raise
        except Exception as error:
            message = f"gmsh could not mesh the section: {error}"
            raise NotConverged(message) from error
    across, along = np.argsort(np.ptp(points, axis=0), kind="stable")
    triangles = _counter_clockwise(points, triangles)
    points, triangles, position = _in_order(points, triangles, along, across)
    sides = _sides(triangles)
    edges = {
        name: frozen(sides[np.isin(sides[:, 2], position[nodes])], np.int64)
        for name, nodes in middles.items()
    }
    region = frozen(np.zeros(len(triangles)), np.int64)
    triangles = frozen(triangles, np.int64)
    return Mesh(frozen(points), triangles, region, ("section",), edges)


def _refined_at_roots(pieces: Sequence[OutlinePiece], size: Size) -> Size:
    """Size below the radius near a concave arc: its curve would cross longer sides."""
    hollows = []
    for piece in pieces:
        if piece.centre is not None:
            (cx, cy), (ax, ay), (bx, by) = piece.centre, piece.start, piece.end
            if (ax - cx) * (by - cy) < (ay - cy) * (bx - cx):
                hollows.append((cx, cy, math.dist(piece.centre, piece.start)))

    def refined(x: float, y: float) -> float:
        side = size(x, y)
        for cx, cy, radius in hollows:
            gap = max(0.0, math.hypot(x - cx, y - cy) - radius)
            side = min(side, 0.7 * radius + 0.5 * gap)
        return side

    return refined


def _draw_outline(gmsh: Any, pieces: Sequence[OutlinePiece]) -> dict[str, list[int]]:
    """Draw one surface inside the pieces; returns their curves by name."""
    geo = gmsh.model.geo
    corners = [geo.addPoint(*piece.start, 0.0) for piece in pieces]
    curves: dict[str, list[int]] = {}
    for piece, a, b in zip(pieces, corners, [*corners[1:], corners[0]], strict=True):
        if piece.centre is None:
            tag = geo.addLine(a, b)
        else:
            tag = geo.addCircleArc(a, geo.addPoint(*piece.centre, 0.0), b)
        curves.setdefault(piece.name, []).append(tag)
    ring = [tag for tags in curves.values() for tag in tags]
    geo.addPlaneSurface([geo.addCurveLoop(ring, reorient=True)])
    geo.synchronize()
    return curves


def _middles(gmsh: Any, curve: int) -> IntArray:
    """Mid-side nodes on a curve, by their gmsh number."""
    nodes = gmsh.model.mesh.getElementsByType(8, curve)[1]
    return nodes.reshape(-1, 3)[:, 2].astype(np.int64)


def _draw(
    gmsh: Any,
    length: float,
    bands: Sequence[tuple[str, float, float]],
    outlines: Sequence[FloatArray],
) -> None:
    """Draw the rectangles of the bands, cut by the outlines into conforming surfaces."""
    occ = gmsh.model.occ
    low, high = bands[0][1], bands[-1][2]
    boxes = [
        (2, occ.addRectangle(-0.5 * length, b[1], 0.0, length, b[2] - b[1]))
        for b in bands
    ]
    tools = []
    for outline in outlines:
        inside = _clip(outline, (-0.5 * length, low), (0.5 * length, high))
        if len(inside) < 3:
            continue
        points = [occ.addPoint(x, y, 0.0) for x, y in inside]
        turn = [*points[1:], points[0]]
        lines = [occ.addLine(a, b) for a, b in zip(points, turn, strict=True)]
        tools.append((2, occ.addPlaneSurface([occ.addCurveLoop(lines)])))
    if len(boxes) + len(tools) > 1:
        occ.fragment(boxes, tools)
    occ.synchronize()


def _clip(
    outline: FloatArray, low: tuple[float, float], high: tuple[float, float]
) -> list[tuple[float, float]]:
    """Convex polygon clipped to a rectangle (Sutherland & Hodgman 1974)."""
    polygon = [tuple(map(float, p)) for p in outline]
    for axis, bound, sign in (
        (0, low[0], 1.0),
        (0, high[0], -1.0),
        (1, low[1], 1.0),
        (1, high[1], -1.0),
    ):
        kept: list[tuple[float, ...]] = []
        for a, b in zip(polygon, polygon[1:] + polygon[:1], strict=True):
            da, db = sign * (a[axis] - bound), sign * (b[axis] - bound)
            if da >= 0:
                kept.append(a)
            if da * db < 0:
                r = da / (da - db)
                kept.append(tuple(p + r * (q - p) for p, q in zip(a, b, strict=True)))
        polygon = kept
    return [
        (p[0], p[1])
        for i, p in enumerate(polygon)
        if max(abs(p[0] - polygon[i - 1][0]), abs(p[1] - polygon[i - 1][1])) > 1e-9
    ]


def _generate(gmsh: Any, size: Size) -> tuple[FloatArray, IntArray, IntArray]:
    """Points (n, 2) m, triangles (e, 6), and the row of each gmsh node or -1."""
    gmsh.model.mesh.setSizeCallback(lambda dim, tag, x, y, z, lc: size(x, y))
    gmsh.model.mesh.generate(2)
    gmsh.model.mesh.setOrder(2)
    tags, xyz, _ = gmsh.model.mesh.getNodes()
    elements, nodes = gmsh.model.mesh.getElementsByType(9)
    if not len(elements):
        message = "gmsh made no triangles"
        raise NotConverged(message)
    rank = np.full(int(tags.max()) + 1, -1, np.int64)
    triangles = nodes.reshape(-1, 6).astype(np.int64)
    used = np.unique(triangles)
    rank[used] = np.arange(len(used))
    row = np.empty(int(tags.max()) + 1, np.int64)
    row[tags.astype(np.int64)] = np.arange(len(tags))
    points = xyz.reshape(-1, 3)[row[used], :2]
    return points, rank[triangles], rank


def elevation_record(
    points: FloatArray,
    triangles: IntArray,
    length: float,
    bands: Sequence[tuple[str, float, float]],
) -> Mesh:
    """Mesh record: orientation, regions by centroid, the four named edges."""
    triangles = _counter_clockwise(points, triangles)
    middle = points[triangles[:, :3]].mean(axis=1)
    tops = np.array([b[2] for b in bands])
    region = np.minimum(np.searchsorted(tops, middle[:, 1]), len(bands) - 1)
    low, high = bands[0][1], bands[-1][2]
    points, triangles, _ = _in_order(points, triangles, 0, 1)
    edges = _edges(points, triangles, length, low, high)
    return Mesh(
        frozen(points),
        frozen(triangles, np.int64),
        frozen(region, np.int64),
        tuple(b[0] for b in bands),
        edges,
    )


def _counter_clockwise(points: FloatArray, triangles: IntArray) -> IntArray:
    """Triangles (e, 6) with corners counter-clockwise."""
    p = points[triangles[:, :3]]
    a, b = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    wrong = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0] < 0
    out = triangles.copy()
    out[wrong] = triangles[wrong][:, [0, 2, 1, 5, 4, 3]]
    return out


def _in_order(
    points: FloatArray, triangles: IntArray, along: int, across: int
) -> tuple[FloatArray, IntArray, IntArray]:
    """Points sorted along an axis, triangles renumbered, and the number of each point."""
    order = np.lexsort((points[:, across], points[:, along]))
    position = np.empty_like(order)
    position[order] = np.arange(len(order))
    return points[order], position[triangles], position


def _sides(triangles: IntArray) -> IntArray:
    """Sides (3 e, 3): first end, second end and middle node."""
    return triangles[:, [[0, 1, 3], [1, 2, 4], [2, 0, 5]]].reshape(-1, 3)


def _edges(
    points: FloatArray, triangles: IntArray, length: float, low: float, high: float
) -> Mapping[str, IntArray]:
    """Sides on the left, right, bottom and top of an elevation."""
    sides = _sides(triangles)
    x, y = points[sides[:, 2]].T
    near = 1e-7 * max(length, high - low)
    return {
        "left": frozen(sides[np.abs(x + 0.5 * length) < near], np.int64),
        "right": frozen(sides[np.abs(x - 0.5 * length) < near], np.int64),
        "bottom": frozen(sides[np.abs(y - low) < near], np.int64),
        "top": frozen(sides[np.abs(y - high) < near], np.int64),
    }


def graded(
    outlines: Sequence[FloatArray], fine: float, far: float, growth: float = 0.35
) -> Size:
    """Size function: ``fine`` in the convex outlines, growing with the distance to them.

    growth : m of side per m of distance.
    """
    polygons = [_half_planes(np.asarray(o)) for o in outlines]

    def size(x: float, y: float) -> float:
        if not polygons:
            return far
        gap = min(_gap(p, x, y) for p in polygons)
        return min(far, fine + growth * gap)

    return size


def graded_from(
    points: FloatArray, fine: float, far: float, growth: float = 0.35
) -> Size:
    """Size function: ``fine`` at the points (k, 2) m, growing with the distance to them.

    growth : m of side per m of distance.  Points on a heated surface should be closer
    than ``fine``.
    """
    from scipy.spatial import KDTree  # takes 0.3 s to import

    tree = KDTree(np.asarray(points, float))
    reach = (far - fine) / growth

    def size(x: float, y: float) -> float:
        gap, _ = tree.query((x, y), distance_upper_bound=reach)
        return min(far, fine + growth * gap)

    return size


def _half_planes(outline: FloatArray) -> list[tuple[float, float, float, float]]:
    """Sides of a polygon as corner pairs, counter-clockwise."""
    x, y = outline.T
    area = float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    ring = outline if area > 0 else outline[::-1]
    return [
        (float(a[0]), float(a[1]), float(b[0]), float(b[1]))
        for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True)
    ]


def _gap(sides: list[tuple[float, float, float, float]], x: float, y: float) -> float:
    """Distance from a point to a convex polygon, 0 inside."""
    nearest, inside = np.inf, True
    for ax, ay, bx, by in sides:
        dx, dy = bx - ax, by - ay
        if dx * (y - ay) - dy * (x - ax) < 0.0:
            inside = False
        square = dx * dx + dy * dy
        r = min(max(((x - ax) * dx + (y - ay) * dy) / square, 0.0), 1.0)
        d = ((x - ax - r * dx) ** 2 + (y - ay - r * dy) ** 2) ** 0.5
        nearest = min(nearest, d)
    return 0.0 if inside else nearest

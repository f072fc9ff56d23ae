"""Heat patterns drawn on the member, and the torch paths that cover them.

Every pattern becomes the same plain datum, a ``TorchPath``: a polyline with a
footprint, a power and a speed or target.  The heat stage knows nothing else of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shrinksim.arrays import FloatArray, frozen


@dataclass(frozen=True)
class Drive:
    """Power, footprint and motion of a torch.

    power : W absorbed by the steel (burnt power times efficiency times torches).
    radius : m, 95 % of the heat falls within it.  speed : m/s of travel, or the
    fastest that the hand moves when ``target`` (degC) is set; its schedule is then found
    so that the hottest steel comes to the target.  patience : s, longest at one place.
    """

    power: float
    radius: float
    speed: float
    target: float | None = None
    patience: float = 300.0


@dataclass(frozen=True)
class TorchPath:
    """Path of a torch: points (k, 2) m, its drive, and the regions that it heats.

    on : names of the mesh regions that take heat.  across : m, when the torch weaves
    over a width that the view does not show (a flange seen on edge), the depth of the
    band over which its heat is spread evenly; 0 for a round footprint.
    pause : s of waiting before it starts.
    """

    points: FloatArray
    drive: Drive
    on: tuple[str, ...]
    across: float = 0.0
    pause: float = 0.0

    def flux(self, x: FloatArray, y: FloatArray, at: FloatArray) -> FloatArray:
        """Absorbed flux, W per m2 of plan area, with the torch at ``at`` (2,).

        q = 3 P / (pi R^2) exp(-3 r^2 / R^2); spread over a band of depth D:
        q = P sqrt(3 / pi) / (R D) exp(-3 dx^2 / R^2).
        """
        R, P = self.drive.radius, self.drive.power
        along = 3.0 * (x - at[0]) ** 2 / R**2
        if self.across > 0.0:
            return P * np.sqrt(3.0 / np.pi) / (R * self.across) * np.exp(-along)
        return P * 3.0 / (np.pi * R**2) * np.exp(-along - 3.0 * (y - at[1]) ** 2 / R**2)


@dataclass(frozen=True)
class Pattern:
    """Drawn pattern: closed outline (k, 2) m, its torch path, and its open edge.

    opens : +1 when the wide end is at the top edge, -1 at the bottom: the sign that
    makes a rotation that closes it positive.
    """

    outline: FloatArray
    path: TorchPath
    opens: int


def vee_outline(at: float, apex: float, edge: float, angle: float) -> FloatArray:
    """Triangle (3, 2) with its apex at height ``apex`` and its base on ``edge``, m."""
    half = abs(edge - apex) * np.tan(0.5 * angle)
    return frozen([[at, apex], [at - half, edge], [at + half, edge]])


def box_outline(left: float, low: float, right: float, high: float) -> FloatArray:
    """Rectangle (4, 2), m."""
    return frozen([[left, low], [right, low], [right, high], [left, high]])


def rows_over(
    outline: FloatArray, pitch: float, inset: float, upward: bool
) -> FloatArray:
    """Serpentine over a convex outline, row by row from its narrow or first end.

    pitch : m between rows, fitted so that rows start and end ``inset`` m inside.
    Rows also stay ``inset`` inside the sides where there is room; a vee's first row
    is a point at its apex.
    """
    low, high = outline[:, 1].min(), outline[:, 1].max()
    first, last = (low, high) if upward else (high, low)
    sign = 1.0 if upward else -1.0
    narrow = _width(outline, first + sign * 1e-9)[1] <= 1e-6
    begin = first + (0.0 if narrow else sign * min(inset, 0.5 * (high - low)))
    end = last - sign * min(inset, 0.5 * (high - low))
    count = int(np.ceil(abs(end - begin) / pitch - 1e-9))
    points = []
    for k, y in enumerate(np.linspace(begin, end, count + 1)):
        middle, width = _width(outline, y)
        reach = max(0.5 * width - inset, 0.0)
        ends = [(middle - reach, y), (middle + reach, y)]
        points += ends if k % 2 == 0 else ends[::-1]
    path = np.array(points)
    keep = np.append(True, np.linalg.norm(np.diff(path, axis=0), axis=1) > 1e-9)
    return frozen(path[keep])


def _width(outline: FloatArray, y: float) -> tuple[float, float]:
    """Middle and width, m, of a convex outline at height y."""
    cuts = []
    for a, b in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        if a[1] == b[1]:
            if abs(a[1] - y) < 1e-12:
                cuts += [a[0], b[0]]
        elif min(a[1], b[1]) - 1e-12 <= y <= max(a[1], b[1]) + 1e-12:
            cuts.append(a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1]))
    if not cuts:
        return float(outline[:, 0].mean()), 0.0
    return 0.5 * (min(cuts) + max(cuts)), max(cuts) - min(cuts)


def straight(points: ArrayLike) -> FloatArray:
    """Path through the given points (k, 2) m; a single point is a torch at rest."""
    return frozen(np.atleast_2d(np.asarray(points, float)))


def path_length(points: FloatArray) -> FloatArray:
    """Distance (k,) m along a polyline from its first point to each point."""
    return np.append(0.0, np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1)))


def point_along(points: FloatArray, distance: FloatArray | float) -> FloatArray:
    """Point (..., 2) m at a distance along a polyline."""
    s = path_length(points)
    return np.stack(
        [np.interp(distance, s, points[:, 0]), np.interp(distance, s, points[:, 1])],
        axis=-1,
    )


@dataclass(frozen=True)
class HeatedFace:
    """Surface that patterns are drawn on: depth of the view and names of its bands.

    depth : m.  faces : regions whose face is seen and torched.  edge_bands : the
    flanges of a strong-axis view as (name, low, high), bottom then top; empty else.
    """

    depth: float
    faces: tuple[str, ...]
    edge_bands: tuple[tuple[str, float, float], ...] = ()

    @property
    def low(self) -> float:
        """Lowest height (m) that a torch can reach on the face."""
        return self.edge_bands[0][2] if self.edge_bands else 0.0

    @property
    def high(self) -> float:
        """Greatest height (m) that a torch can reach on the face."""
        return self.edge_bands[1][1] if self.edge_bands else self.depth


INSET = 0.3
"""Radii that the torch's centre keeps inside the chalk lines: most of the steel out to
them then comes to heat, and little beyond.  Common practice, no source."""


@dataclass(frozen=True)
class Coverage:
    """Rows of a torch over an outline: their pitch and their inset from the sides, m."""

    pitch: float
    inset: float
    serpentine: bool = True
    pause: float = 0.0


def vee(
    face: HeatedFace, drive: Drive, rows: Coverage, *, at: float, angle: float,
    depth: float, opens: int,
) -> Pattern:  # fmt: skip
    """Vee with its wide end at the top (opens +1) or bottom edge, heated apex first.

    at, depth : m, depth from the open edge to the apex.  angle : rad at the apex.  On
    a section with flanges the vee ends at the inside of the flange.
    """
    apex = face.depth - depth if opens > 0 else depth
    edge = face.high if opens > 0 else face.low
    outline = vee_outline(at, apex, edge, angle)
    if rows.serpentine:
        points = rows_over(outline, rows.pitch, rows.inset, opens > 0)
    else:
        end = edge - opens * rows.inset
        points = straight([[at, apex], [at, end]])
    path = TorchPath(points, drive, face.faces, pause=rows.pause)
    return Pattern(outline, path, opens)


def strip(
    face: HeatedFace,
    drive: Drive,
    rows: Coverage,
    *,
    at: float,
    width: float,
    opens: int,
) -> Pattern:
    """Strip across a flange seen on edge; the torch weaves over the flange's width.

    at, width : m along the member.  opens : +1 the top flange, -1 the bottom one.
    """
    name, low, high = face.edge_bands[1 if opens > 0 else 0]
    outline = box_outline(at - 0.5 * width, low, at + 0.5 * width, high)
    reach = max(0.5 * width - rows.inset, 0.0)
    middle = 0.5 * (low + high)
    ends = [[at - reach, middle], [at + reach, middle]]
    points = straight(ends if reach > 0.0 else ends[:1])
    path = TorchPath(points, drive, (name,), across=high - low, pause=rows.pause)
    return Pattern(outline, path, opens)


def rectangle(
    face: HeatedFace, drive: Drive, rows: Coverage, *, at: float, low: float, width: float,
    depth: float, opens: int,
) -> Pattern:  # fmt: skip
    """Rectangle on the face: at, width along the member, low, depth in height, m."""
    outline = box_outline(at - 0.5 * width, low, at + 0.5 * width, low + depth)
    if rows.serpentine:
        points = rows_over(outline, rows.pitch, rows.inset, opens > 0)
    else:
        reach = max(0.5 * width - rows.inset, 0.0)
        y = low + 0.5 * depth
        points = straight([[at - reach, y], [at + reach, y]])
    path = TorchPath(points, drive, face.faces, pause=rows.pause)
    return Pattern(outline, path, opens)


def line(
    face: HeatedFace, drive: Drive, rows: Coverage, *, start: tuple[float, float],
    end: tuple[float, float], opens: int,
) -> Pattern:  # fmt: skip
    """Straight line of heat from ``start`` to ``end`` (x, y) m."""
    a, b = np.asarray(start), np.asarray(end)
    side = 0.3 * drive.radius * _left_of(b - a)
    outline = frozen([a - side, b - side, b + side, a + side])
    path = TorchPath(straight([a, b]), drive, face.faces, pause=rows.pause)
    return Pattern(outline, path, opens)


def spot(
    face: HeatedFace, drive: Drive, rows: Coverage, *, at: float, height: float,
    diameter: float, opens: int,
) -> Pattern:  # fmt: skip
    """Round spot: the torch stays at its centre; a wide spot is covered by rings."""
    turn = np.linspace(0.0, 2.0 * np.pi, 17)[:-1]
    centre = np.array([at, height])
    ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    outline = frozen(centre + 0.5 * diameter * ring)
    rings = [[at, height]]
    for radius in np.arange(rows.pitch, 0.5 * diameter - rows.inset + 1e-9, rows.pitch):
        rings += list(centre + radius * np.vstack([ring, ring[:1]]))
    path = TorchPath(straight(rings), drive, face.faces, pause=rows.pause)
    return Pattern(outline, path, opens)


def _left_of(direction: FloatArray) -> FloatArray:
    """Unit normal to the left of a direction (2,)."""
    length = float(np.linalg.norm(direction))
    return np.array([-direction[1], direction[0]]) / max(length, 1e-12)


PATTERNS = {
    "vee": vee,
    "strip": strip,
    "rectangle": rectangle,
    "line": line,
    "spot": spot,
}

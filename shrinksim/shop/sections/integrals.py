"""Section properties from an outline, by Green's theorem.

Pieces are straight lines and circular arcs, so that the integrals are exact to rounding;
a plastic neutral axis cuts them where they cross it.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.shop.contour import arc, line
from shrinksim.shop.outline import Piece, Point
from shrinksim.shop.sections.shape import STEEL_DENSITY, SectionProperties


def properties_of(pieces: Sequence[Piece]) -> SectionProperties:
    """Properties of the section inside a closed outline, about its centroid."""
    x, y, dy = _contour(pieces)
    area = float(x @ dy)
    xc, yc = float((x**2 / 2) @ dy) / area, float((x * y) @ dy) / area
    x, y = x - xc, y - yc
    strong, weak = float((x * y**2) @ dy), float((x**3 / 3) @ dy)
    ends = np.array([piece.start for piece in pieces]) - (xc, yc)
    reach = np.abs(ends).max(axis=0)
    return SectionProperties(
        area=area,
        second_moment_strong=strong,
        second_moment_weak=weak,
        plastic_modulus_strong=plastic_modulus([_turned(p) for p in pieces]),
        plastic_modulus_weak=plastic_modulus(pieces),
        elastic_modulus_strong=strong / float(reach[1]),
        elastic_modulus_weak=weak / float(reach[0]),
        mass_per_length=STEEL_DENSITY * area,
        centroid=(xc, yc),
        product_moment=float((x**2 / 2 * y) @ dy),
    )


def plastic_modulus(pieces: Sequence[Piece]) -> float:
    """Plastic modulus (m3) about the vertical axis that halves the area."""
    x, _, dy = _contour(pieces)
    area, moment = float(x @ dy), float((x**2 / 2) @ dy)
    ends = [piece.start[0] for piece in pieces]

    def beyond(c: float) -> tuple[float, float]:
        """Area right of x = c, and its first moment about that line."""
        x, _, dy = _contour(part for p in pieces for part in _cut(p, c))
        right = np.maximum(x - c, 0.0)
        return float(right @ dy), float((right**2 / 2) @ dy)

    from scipy.optimize import brentq  # half a second to load

    def excess(c: float) -> float:
        return beyond(c)[0] - area / 2

    c = float(brentq(excess, min(ends), max(ends), xtol=1e-13))  # pyright: ignore[reportArgumentType]
    # the moment of the left part is that of the right one less that of the whole
    return 2.0 * beyond(c)[1] - (moment - c * area)


def _contour(pieces: Iterable[Piece]) -> FloatArray:
    """Points x, y and weights dy (3, points) along the pieces."""
    parts = [
        line(p.start, p.end) if p.centre is None else _arc(p, p.centre) for p in pieces
    ]
    return np.concatenate(parts, axis=1)


def _arc(piece: Piece, centre: Point) -> FloatArray:
    begin = _angle(piece, centre)
    return arc(centre, math.dist(centre, piece.start), begin, begin + piece.turn)


def _angle(piece: Piece, centre: Point) -> float:
    return math.atan2(piece.start[1] - centre[1], piece.start[0] - centre[0])


def _turned(piece: Piece) -> Piece:
    """Piece rotated by a quarter turn clockwise: its y becomes x."""

    def turned(point: Point) -> Point:
        return point[1], -point[0]

    centre = None if piece.centre is None else turned(piece.centre)
    return replace(
        piece, start=turned(piece.start), end=turned(piece.end), centre=centre
    )


def _cut(piece: Piece, c: float) -> Iterator[Piece]:
    """Parts of the piece that do not cross x = c."""
    at = piece.start
    for point in _crossings(piece, c):
        yield replace(piece, start=at, end=point)
        at = point
    yield replace(piece, start=at)


def _crossings(piece: Piece, c: float) -> list[Point]:
    """Points inside a piece where it crosses x = c, in its direction."""
    (x, y), (u, v) = piece.start, piece.end
    if piece.centre is None:
        inside = (x - c) * (u - c) < 0.0
        return [(c, y + (v - y) * (c - x) / (u - x))] if inside else []
    centre, turn = piece.centre, piece.turn
    r, begin = math.dist(centre, piece.start), _angle(piece, centre)
    if abs(c - centre[0]) >= r:
        return []
    half = math.acos((c - centre[0]) / r)
    turns = [
        (angle - begin) % (math.copysign(2.0 * math.pi, turn))
        for angle in (half, -half)
    ]
    hit = sorted((t for t in turns if 0.0 < abs(t) < abs(turn)), key=abs)
    return [(c, centre[1] + r * math.sin(begin + t)) for t in hit]

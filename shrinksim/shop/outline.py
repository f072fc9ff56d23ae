"""Outline of a section: straight pieces and arcs, each part of a named surface.

x from the middle of the width, y from the lowest fibre, m.  The pieces run
counter-clockwise, without gaps; a shape of `shop.sections` gives them.

Distances along a surface count from its middle: left to right on one that runs across
more than up, such as the faces of flanges and a plate's top and bottom; bottom to top on
the others, such as webs, upright edges and roots.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.errors import CaseError

Point = tuple[float, float]


@dataclass(frozen=True)
class Piece:
    """Straight line or arc of an outline, on the surface `name`; m.

    An arc has a `centre` and is the shorter one from `start` to `end`, under 180
    degrees.
    """

    name: str
    start: Point
    end: Point
    centre: Point | None = None

    @property
    def turn(self) -> float:
        """Angle (rad) of an arc, counter-clockwise positive; 0 for a line."""
        if self.centre is None:
            return 0.0
        (ax, ay), (bx, by) = (
            _from(self.centre, self.start),
            _from(self.centre, self.end),
        )
        return math.atan2(ax * by - ay * bx, ax * bx + ay * by)

    @property
    def length(self) -> float:
        """Length (m), along the arc."""
        if self.centre is None:
            return math.dist(self.start, self.end)
        return math.dist(self.centre, self.start) * abs(self.turn)


def surfaces(pieces: Iterable[Piece]) -> tuple[str, ...]:
    """Names of the surfaces, in the order of the outline."""
    return tuple(dict.fromkeys(piece.name for piece in pieces))


def runs_across(pieces: Iterable[Piece], name: str) -> bool:
    """Whether distances on the surface `name` count from left to right."""
    return _across(_surface(pieces, name))


def surface_length(pieces: Iterable[Piece], name: str) -> float:
    """Length (m) of the surface `name`, along its arcs."""
    return sum(piece.length for piece in _surface(pieces, name))


def along_surface(pieces: Iterable[Piece], name: str, s: FloatArray) -> FloatArray:
    """Points (k, 2) m on the surface `name`, `s` (k,) m from its middle.

    A distance past an end gives that end.
    """
    run = _surface(pieces, name)
    ends = np.cumsum([0.0, *(piece.length for piece in run)])
    distance = np.clip(np.asarray(s, float) + 0.5 * ends[-1], 0.0, ends[-1])
    which = np.clip(np.searchsorted(ends, distance, "right") - 1, 0, len(run) - 1)
    points = np.empty((*distance.shape, 2))
    for k, piece in enumerate(run):
        here = which == k
        points[here] = _points(piece, (distance[here] - ends[k]) / piece.length)
    return points


def surface_coordinate(
    pieces: Iterable[Piece], name: str, x: FloatArray, y: FloatArray
) -> FloatArray:
    """Distance (m) from the middle of the surface `name` of points on it; as `x`.

    The nearest place of the surface counts; points past an end take that end.
    """
    run = _surface(pieces, name)
    ends = np.cumsum([0.0, *(piece.length for piece in run)])
    where = np.stack(np.broadcast_arrays(x, y), axis=-1).astype(float)
    nearest = np.full(where.shape[:-1], np.inf)
    s = np.zeros_like(nearest)
    for start, piece in zip(ends[:-1], run, strict=True):
        share = _share(piece, where)
        gap = np.linalg.norm(_points(piece, share) - where, axis=-1)
        closer = gap < nearest
        nearest[closer] = gap[closer]
        s[closer] = start + share[closer] * piece.length
    return s - 0.5 * ends[-1]


def with_length(pieces: Sequence[Piece], least: float) -> list[Piece]:
    """Pieces longer than ``least`` m, each from the end of the one before."""
    kept: list[Piece] = []
    at = pieces[0].start
    for piece in pieces:
        if math.dist(piece.start, piece.end) > least:
            kept.append(replace(piece, start=at))
            at = piece.end
    return kept


def joined(pieces: Sequence[Piece]) -> tuple[Piece, ...]:
    """Pieces with halves of webs and faces merged, from the bottom left corner."""
    lowest = min(range(len(pieces)), key=lambda k: pieces[k].start[::-1])
    ring = [*pieces[lowest:], *pieces[:lowest]]
    out: list[Piece] = []
    for piece in ring:
        if out and out[-1].name == piece.name and not (out[-1].centre or piece.centre):
            out[-1] = replace(out[-1], end=piece.end)
        else:
            out.append(piece)
    return tuple(out)


def _surface(pieces: Iterable[Piece], name: str) -> list[Piece]:
    """Pieces of one surface, in the direction of distances on it."""
    pieces = tuple(pieces)
    run = [piece for piece in pieces if piece.name == name]
    if not run:
        message = f"'{name}' is not one of the surfaces {', '.join(surfaces(pieces))}"
        raise CaseError(message)
    axis = 0 if _across(run) else 1
    if run[-1].end[axis] < run[0].start[axis]:
        return [replace(p, start=p.end, end=p.start) for p in reversed(run)]
    return run


def _across(run: Sequence[Piece]) -> bool:
    """Whether a surface runs across more than up, by more than rounding."""
    wide, tall = (abs(run[-1].end[k] - run[0].start[k]) for k in (0, 1))
    return wide > (1.0 + 1e-6) * tall


def _points(piece: Piece, share: FloatArray) -> FloatArray:
    """Points (..., 2) m at shares of the piece's length."""
    start, t = np.array(piece.start), np.asarray(share, float)[..., None]
    if piece.centre is None:
        return start + t * (np.array(piece.end) - start)
    arm, centre = _from(piece.centre, piece.start), np.array(piece.centre)
    angle = math.atan2(arm[1], arm[0]) + t * piece.turn
    return centre + math.hypot(*arm) * np.concatenate(
        [np.cos(angle), np.sin(angle)], axis=-1
    )


def _share(piece: Piece, where: FloatArray) -> FloatArray:
    """Share of the piece's length at the place nearest to points (..., 2) m."""
    if piece.centre is None:
        line = np.array(_from(piece.start, piece.end))
        return np.clip((where - np.array(piece.start)) @ line / (line @ line), 0.0, 1.0)
    # angles from the arc's middle, so that none comes near the jump at 180 degrees
    middle = _points(piece, np.array(0.5)) - np.array(piece.centre)
    arm = where - np.array(piece.centre)
    across = middle[0] * arm[..., 1] - middle[1] * arm[..., 0]
    return np.clip(0.5 + np.arctan2(across, arm @ middle) / piece.turn, 0.0, 1.0)


def _from(origin: Point, point: Point) -> Point:
    """Vector from a point to another."""
    return point[0] - origin[0], point[1] - origin[1]

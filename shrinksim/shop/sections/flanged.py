"""One quarter of a flanged section: a web, a root radius and a flange, tapered or not.

An I-section is four of them, a channel two, mirrored.  x counts from the line that the
quarter begins at (the middle of an I-section's web, the back of a channel's), y from
mid-depth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from shrinksim.shop.outline import Piece, Point, with_length


@dataclass(frozen=True)
class Quarter:
    """Half the depth, reach of the flange and of the web from x = 0, radii; m.

    flange : thickness half-way along the reach.  slope : tangent of the inner face.
    """

    depth: float
    reach: float
    web: float
    flange: float
    root: float
    toe: float
    slope: float


def arc_centres(q: Quarter) -> tuple[float, float, float, float]:
    """Centres (x, y) of the root arc and of the toe arc, from the middle; m."""
    s, r, toe = q.slope, q.root, q.toe
    x_root = q.web + r
    x_toe = q.reach - toe
    across = math.hypot(1.0, s)  # vertical distance of a centre, over its radius
    y_root = inner_face(q, x_root) - r * across
    y_toe = inner_face(q, x_toe) + toe * across
    return x_root, y_root, x_toe, y_toe


def inner_face(q: Quarter, x: float) -> float:
    """Height above mid-depth of the flange's inner face at `x`; m."""
    level = q.depth - q.flange
    return level - q.slope * (q.reach / 2 - x)


def corners(q: Quarter) -> tuple[Point, Point, Point, Point]:
    """Ends of the root arc and of the toe arc, from the middle; m."""
    x_root, y_root, x_toe, y_toe = arc_centres(q)
    phi = math.atan(q.slope)
    r, toe = q.root, q.toe
    return (
        (x_root - r, y_root),
        (x_root - r * math.sin(phi), y_root + r * math.cos(phi)),
        (x_toe + toe * math.sin(phi), y_toe - toe * math.cos(phi)),
        (x_toe + toe, y_toe),
    )


def quarter_pieces(q: Quarter) -> list[Piece]:
    """Outline of a quarter from mid-depth round to x = 0, counter-clockwise."""
    x_root, y_root, x_toe, y_toe = arc_centres(q)
    web, root, face, tip = corners(q)
    corner = (tip[0], q.depth)
    pieces = [
        Piece("web", (web[0], 0.0), web),
        Piece("root", web, root, (x_root, y_root)),
        Piece("inside", root, face),
        Piece("edge", face, tip, (x_toe, y_toe)),
        Piece("edge", tip, corner),
        Piece("flange", corner, (0.0, corner[1])),
    ]
    return with_length(pieces, 2e-8 * q.depth)


def placed(
    piece: Piece, half: float, sx: float, sy: float, names: Mapping[str, str]
) -> Piece:
    """A piece in the quarter of the signs, with its full name.

    half : m, half the depth.  names : of the quarter's parts there.  One mirroring reverses
    the direction, two keep it.
    """

    def moved(point: Point) -> Point:
        return sx * point[0], half + sy * point[1]

    start, end = moved(piece.start), moved(piece.end)
    if sx * sy < 0:
        start, end = end, start
    centre = None if piece.centre is None else moved(piece.centre)
    return Piece(names[piece.name], start, end, centre)


def misfits(q: Quarter, words: Mapping[str, str]) -> list[str]:
    """Faults of contradictory dimensions; words : of each dimension."""
    x_root, y_root, x_toe, y_toe = arc_centres(q)
    tip, slack = q.depth - inner_face(q, q.reach), 2e-9 * q.depth
    if q.web >= q.reach:
        return [f"{words['web_thickness']} leaves no flange, {words['flange_width']}"]
    if q.flange >= q.depth:
        return [
            f"two flanges, {words['flange_thickness']}, fill all of {words['depth']}"
        ]
    if tip <= 0:
        return [f"{words['flange_slope']} leaves no steel at the tip of the flange"]
    faults = []
    if x_root > x_toe + slack or y_root < -slack:
        faults.append(f"{words['root_radius']} does not fit between web and flanges")
    if y_toe > q.depth + slack:
        faults.append(f"{words['toe_radius']} is more than the tip of the flange has")
    return faults

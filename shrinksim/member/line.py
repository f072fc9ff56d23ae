"""A member's line: bends along it, and the offsets from the chord that they make.

x runs along the member from the marked end, m.  Two planes: "camber", up and down with
the member standing as it is surveyed, + up; "sweep", sideways, + to the right when one
looks from the marked end.  A bend turns + when it bulges up or right, so that the chord
lies below or to the left of it: it is straightened by heat on the top or right side.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shrinksim.arrays import FloatArray

Plane = Literal["camber", "sweep"]
Side = Literal["top", "bottom", "left", "right"]
PLANES: tuple[Plane, Plane] = ("camber", "sweep")
SIDES: dict[Plane, tuple[Side, Side]] = {
    "camber": ("top", "bottom"),
    "sweep": ("right", "left"),
}
"""Side that a bend of + turn bulges to, side that one of - turn bulges to."""


@dataclass(frozen=True)
class Bend:
    """A turn of the member's line.

    at : m, its middle.  turn : rad, + bulges up (camber) or right (sweep).
    length : m over which it is spread evenly, 0 a kink.  sigma : rad, standard
    deviation of the turn.
    """

    at: float
    turn: float
    length: float = 0.0
    sigma: float = 0.0


def offsets(bends: Iterable[Bend], x: FloatArray, length: float) -> FloatArray:
    """Offsets (k,) m from the chord between the ends, at ``x`` (k,) m.

    A kink t at a gives t a (L - x) / L beyond it and t x (L - a) / L before it; a
    spread bend is the integral of kinks (second derivative -t / s over its length).
    """
    x = np.asarray(x, dtype=float)
    total = np.zeros_like(x)
    for bend in bends:
        total += _ramp(x, bend) - _ramp(np.array([length]), bend)[0] * x / length
    return total


def _ramp(x: FloatArray, bend: Bend) -> FloatArray:
    """Offset at ``x`` of a line that is straight along the axis before the bend."""
    if bend.length <= 0.0:
        return -bend.turn * np.maximum(x - bend.at, 0.0)
    start = bend.at - 0.5 * bend.length
    inside = np.clip(x - start, 0.0, bend.length)
    beyond = np.maximum(x - start - bend.length, 0.0)
    return -bend.turn * (0.5 * inside**2 / bend.length + beyond)

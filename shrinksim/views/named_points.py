"""The named points of a case: where, how hot, and by which letter in a drawing."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.views.result import AnyResult


def named_points(result: AnyResult) -> dict[str, tuple[float, float]]:
    """The case's points, or the hottest point."""
    if result.points:
        return dict(result.points)
    x, y = result.mesh.points[int(np.argmax(result.heat.peak))]
    return {"hottest place": (float(x), float(y))}


def point_temperatures(result: AnyResult) -> dict[str, FloatArray]:
    """Temperature (s,) degC at each named point."""
    points = named_points(result)
    element, N = locate(result.mesh, np.array(list(points.values()), float))
    nodes = result.mesh.triangles[element]
    T = np.einsum("ska,ka->ks", result.heat.temperature[:, nodes], N)
    return dict(zip(points, T, strict=True))


def letter_of(number: int) -> str:
    """A letter for the number-th point: a to z, then aa, ab and so on."""
    first, last = divmod(number, 26)
    return (chr(96 + first) if first else "") + chr(97 + last)

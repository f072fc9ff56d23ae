"""Temperatures and stresses of a plate's two faces."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.views.solid.result import SolidResult


def on_levels(result: SolidResult, T: FloatArray) -> FloatArray:
    """Temperatures (..., levels, n) of nodal ones (..., levels n), back to front."""
    return T.reshape(*T.shape[:-1], -1, len(result.mesh.points))


def peaks(result: SolidResult) -> tuple[float, float]:
    """Hottest of the face, where the first pattern is (the front, if on both), and of
    the other one, degC.
    """
    levels = on_levels(result, np.asarray(result.heat.peak))
    front, back = float(levels[-1].max()), float(levels[0].max())
    return (front, back) if result.geometry.first_front else (back, front)


def along(result: SolidResult) -> tuple[FloatArray, FloatArray]:
    """Residual stress along the member (e, g) Pa at the points nearest to front and back:
    3 % of the thickness under them with six points.
    """
    body = result.body
    stress = result.strain.stress[..., 0]
    shape = (len(stress), len(body.flat_N), len(body.modes.z))
    through = stress.reshape(shape)
    return through[..., -1], through[..., 0]


def point_temperatures(result: SolidResult) -> dict[str, FloatArray]:
    """Temperature (s,) degC at each named point, on the face and opposite to it."""
    points = dict(result.points)
    element, N = locate(result.mesh, np.array(list(points.values()), float))
    nodes = result.mesh.triangles[element]
    T = on_levels(result, result.heat.temperature)
    front = result.geometry.first_front
    found = {}
    for name, level in (("", -1 if front else 0), (", other face", 0 if front else -1)):
        rows = np.einsum("ska,ka->ks", T[:, level][:, nodes], N)
        found |= {
            f"{point}{name}": row for point, row in zip(points, rows, strict=True)
        }
    return found

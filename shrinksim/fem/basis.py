"""Quadratic triangle: shape functions, quadrature, and their values on a mesh.

Node order of T6: corners 1 2 3, then the middles of sides 1-2, 2-3, 3-1.
Quadrature points are area coordinates (l1, l2, l3) with weights that sum to 1.
Rules: Hammer & Stroud 1956 (3 points, degree 2), Strang & Fix 1973 (6 points,
degree 4); the 6-point rule is solved for to full precision.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import CaseError
from shrinksim.fem.kernels.place import nearest_triangle
from shrinksim.fem.mesh import Mesh

_A, _B = 0.445948490915964886, 0.091576213509770743
_WA, _WB = 0.223381589678011466, 0.109951743655321868

RULES: dict[str, tuple[FloatArray, FloatArray]] = {
    "interior 3": (
        np.array([[4, 1, 1], [1, 4, 1], [1, 1, 4]]) / 6.0,
        np.full(3, 1 / 3),
    ),
    "mid-side 3": (
        np.array([[1, 1, 0], [0, 1, 1], [1, 0, 1]]) / 2.0,
        np.full(3, 1 / 3),
    ),
    "interior 6": (
        np.array(
            [
                [1 - 2 * _A, _A, _A],
                [_A, 1 - 2 * _A, _A],
                [_A, _A, 1 - 2 * _A],
                [1 - 2 * _B, _B, _B],
                [_B, 1 - 2 * _B, _B],
                [_B, _B, 1 - 2 * _B],
            ]
        ),
        np.array([_WA] * 3 + [_WB] * 3),
    ),
}

EDGE_POINTS = 0.5 + 0.5 * np.sqrt(0.6) * np.array([-1.0, 0.0, 1.0])
EDGE_WEIGHTS = np.array([5.0, 8.0, 5.0]) / 18.0


def shape(area: FloatArray) -> FloatArray:
    """Shape functions (q, 6) at area coordinates (q, 3)."""
    l1, l2, l3 = np.asarray(area, float).T
    return np.stack(
        [
            l1 * (2 * l1 - 1),
            l2 * (2 * l2 - 1),
            l3 * (2 * l3 - 1),
            4 * l1 * l2,
            4 * l2 * l3,
            4 * l3 * l1,
        ],
        axis=1,
    )


def shape_slopes(area: FloatArray) -> FloatArray:
    """Derivatives (q, 6, 2) of the shape functions to (l2, l3), with l1 = 1 - l2 - l3."""
    l1, l2, l3 = np.asarray(area, float).T
    zero = np.zeros_like(l1)
    to_l2 = [1 - 4 * l1, 4 * l2 - 1, zero, 4 * (l1 - l2), 4 * l3, -4 * l3]
    to_l3 = [1 - 4 * l1, zero, 4 * l3 - 1, -4 * l2, 4 * l2, 4 * (l1 - l3)]
    return np.stack([np.stack(to_l2, 1), np.stack(to_l3, 1)], axis=2)


@dataclass(frozen=True)
class Quadrature:
    """Shape functions, gradients and weights of one rule on a mesh.

    N : (q, 6).  dN : (e, q, 6, 2) 1/m.  area : (e, q) m2 (weight times Jacobian).
    xy : (e, q, 2) m.
    """

    N: FloatArray
    dN: FloatArray
    area: FloatArray
    xy: FloatArray


def quadrature(mesh: Mesh, rule: str) -> Quadrature:
    """Evaluate ``rule`` (a key of RULES) on every element; isoparametric.

    Raises CaseError when an element is inside out or degenerate.
    """
    points, weights = RULES[rule]
    N, slopes = shape(points), shape_slopes(points)
    corners = mesh.points[mesh.triangles]
    J = np.einsum("qai,eaj->eqij", slopes, corners)
    det = J[..., 0, 0] * J[..., 1, 1] - J[..., 0, 1] * J[..., 1, 0]
    if not np.all(det > 0.0):
        bad = int(np.argmin(det.min(axis=1)))
        message = (
            f"mesh: element {bad} has no positive area; "
            "its corners must run counter-clockwise and not fall on one line"
        )
        raise CaseError(message)
    inverse = np.empty_like(J)
    inverse[..., 0, 0], inverse[..., 1, 1] = J[..., 1, 1] / det, J[..., 0, 0] / det
    inverse[..., 0, 1], inverse[..., 1, 0] = -J[..., 0, 1] / det, -J[..., 1, 0] / det
    dN = np.einsum("eqji,qai->eqaj", inverse, slopes)
    area = 0.5 * det * weights
    xy = np.einsum("qa,eaj->eqj", N, corners)
    return Quadrature(N, np.ascontiguousarray(dN), area, xy)


def locate(mesh: Mesh, where: FloatArray) -> tuple[IntArray, FloatArray]:
    """Element (k,) and shape functions (k, 6) at points ``where`` (k, 2) m.

    Straight-sided elements.  A point outside takes the nearest element's clipped
    area coordinates, so a torch that overhangs an edge still reads the edge.
    """
    points = np.ascontiguousarray(where, float)
    element, area = np.empty(len(points), np.int64), np.empty((len(points), 3))
    nearest_triangle(mesh.points[mesh.triangles[:, :3]], points, element, area)
    area = np.clip(area, 0.0, 1.0)
    area /= area.sum(axis=1, keepdims=True)
    return element, shape(area)

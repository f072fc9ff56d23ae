"""Plane end sections of a patch, as ties of their dofs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Ties, ties


@dataclass(frozen=True)
class PlaneEnds:
    """Left end held plane and upright; right end plane, free to move and to turn.

    Unknown ``stretch`` is the displacement of the right end at height ``axis``, m,
    outward positive; unknown ``turn`` is its rotation times ``arm``, m, so that all
    forces are in N: a moment M acts on it as M / arm.
    """

    ties: Ties
    stretch: int
    turn: int
    arm: float


def plane_ends(mesh: Mesh, axis: float, arm: float, opens: int = 1) -> PlaneEnds:
    """Ties of both ends of an elevation.  axis : m, height of ``stretch``.

    opens : +1 if the edge that shortens when ``turn`` is positive is the top, -1 for
    the bottom.  Saint-Venant: the effect of the ends fades over one depth.
    """
    count = len(mesh.points)
    left, right = np.unique(mesh.edges["left"]), np.unique(mesh.edges["right"])
    foot = left[np.argmin(np.abs(mesh.points[left, 1] - axis))]
    fixed = np.concatenate([2 * left, [2 * foot + 1], 2 * right])
    free = ties(2 * count, fixed)
    stretch, turn = free.unknowns, free.unknowns + 1
    target, weight = free.target.copy(), free.weight.copy()
    target[2 * right] = stretch, turn
    weight[2 * right, 0] = 1.0
    weight[2 * right, 1] = -opens * (mesh.points[right, 1] - axis) / arm
    return PlaneEnds(Ties(target, weight, free.unknowns + 2), stretch, turn, arm)

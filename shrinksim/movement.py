"""Movement stage: permanent rotation and shortening of the member, and the margin
against a plastic hinge while hot.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_array

from shrinksim.arrays import FloatArray, frozen
from shrinksim.fem.basis import locate
from shrinksim.fem.mesh import Mesh


@dataclass(frozen=True)
class Movement:
    """Permanent movement, and its history.

    rotation : rad, after release, + when the open end closes.  shortening : m at the
    centroid.  curvature : 1/m, rotation over the heated length.  rotation_elastic :
    rad recovered on release.  rotation_from_plastic : the same rotation from the
    plastic strains, by the unit-moment theorem.  profile_x (p,) m, profile_rotation (p,)
    rad: rotation of the cross-sections along the patch.  Histories at times (s,): rotation
    rad, shortening m, moment N m, hinge_margin (hot plastic moment over moment, inf
    without moment).  hinge_margin : its smallest value.
    """

    rotation: float
    shortening: float
    curvature: float
    heated_length: float
    rotation_elastic: float
    rotation_from_plastic: float
    profile_x: FloatArray
    profile_rotation: FloatArray
    times: FloatArray
    rotation_history: FloatArray
    shortening_history: FloatArray
    moment_history: FloatArray
    hinge_margin_history: FloatArray
    hinge_margin: float | None

    @property
    def moment_ratio_history(self) -> FloatArray:
        """Ratio of moment to hot plastic moment (s,); 1 is a hinge."""
        return 1.0 / self.hinge_margin_history


@dataclass(frozen=True)
class Grid:
    """Sampling points in columns across the patch: x (i,), y (j,) m, and the matrix
    (i * j, n) that interpolates nodal values at them.
    """

    x: FloatArray
    y: FloatArray
    sample: csr_array


def column_grid(mesh: Mesh, x: FloatArray, y: FloatArray) -> Grid:
    """Grid of columns at x (i,) with points at heights y (j,), m."""
    where = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)
    element, N = locate(mesh, where)
    rows = np.repeat(np.arange(len(where)), 6)
    size = (len(where), len(mesh.points))
    nodes = mesh.triangles[element].ravel()
    return Grid(x, y, csr_array((N.ravel(), (rows, nodes)), shape=size))


def heights(bands: list[tuple[float, float]], fine: int = 24) -> FloatArray:
    """Mid-heights (j,) m of thin layers, whole numbers of them in each (low, high)."""
    depth = bands[-1][1] - bands[0][0]
    parts = []
    for low, high in bands:
        count = max(2, round(fine * (high - low) / depth))
        parts.append(low + (high - low) * (np.arange(count) + 0.5) / count)
    return np.concatenate(parts)


def section_rotations(grid: Grid, displacement: FloatArray, opens: int) -> FloatArray:
    """Rotation (i,) rad of each column from nodal displacements (n, 2), by regression."""
    u = (grid.sample @ displacement[:, 0]).reshape(len(grid.x), len(grid.y))
    arm = grid.y - grid.y.mean()
    return -opens * (u @ arm) / float(arm @ arm)


def hot_plastic_moment(
    strength: FloatArray,
    layer: FloatArray,
    y: FloatArray,
    axial: FloatArray,
    sense: FloatArray,
    axis: float,
) -> FloatArray:
    """Plastic moment (s, i) N m about ``axis`` (m) of columns in the given sense.

    strength : (s, i, j) Pa of layers of area ``layer`` (j,) m at height y (j,) m.
    axial : (s,) N, + pulls, acting at ``axis``.  sense : (s,) +1 presses the top, -1
    the bottom.  The neutral axis cuts a layer where the forces balance; where
    the section cannot carry the axial force, its limit is taken.
    """
    force = strength * layer
    total = force.sum(axis=2)
    above = np.cumsum(force, axis=2)
    split = 0.5 * (total + (sense * axial)[:, None])
    split = np.clip(split, 0.0, total)[..., None]
    below = np.clip(split - (above - force), 0.0, force)
    side = 2.0 * below - force
    return (side * (axis - y)).sum(axis=2)


def movement(
    *,
    times: FloatArray,
    turn: FloatArray,
    stretch: FloatArray,
    moment: FloatArray,
    hot_moment: FloatArray,
    unloaded: tuple[float, float],
    heated_length: float,
    from_plastic: float,
    grid: Grid,
    displacement: FloatArray,
    opens: int,
) -> Movement:
    """Movement record from the histories at the right end.

    turn, stretch, moment : (s,) rad, m, N m at the right end.  unloaded : turn and
    stretch without the load at the end, with or without a release in the history.
    hot_moment (s,) N m: plastic moment of the weakest column.  displacement : (n, 2) m.
    """
    load = np.abs(moment)
    none = load < 1e-9 * max(float(hot_moment.max(initial=0.0)), 1e-30)
    margin = np.where(none, np.inf, hot_moment / np.where(none, 1.0, load))
    least = float(margin.min())
    rotation, stretched = unloaded
    loaded = turn[-2] if load[-1] == 0.0 else turn[-1]
    return Movement(
        rotation,
        -stretched,
        rotation / heated_length,
        heated_length,
        float(loaded - rotation),
        from_plastic,
        frozen(grid.x),
        frozen(section_rotations(grid, displacement, opens)),
        frozen(times),
        frozen(turn),
        frozen(-stretch),
        frozen(moment),
        frozen(margin),
        least if np.isfinite(least) else None,
    )

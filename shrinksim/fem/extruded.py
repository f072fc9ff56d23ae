"""Nodes of a mesh of a middle surface, repeated through a thickness.

Node j of level k is k n + j; the dofs of a displacement are three times that and the
component x, y, z.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import IntArray, frozen
from shrinksim.fem.mesh import Mesh


@dataclass(frozen=True)
class Extruded:
    """A mesh of a middle surface, repeated: for levels, or modes, through a thickness.

    columns : (e, 6 k) node numbers, level by level.
    """

    flat: Mesh
    levels: int
    columns: IntArray

    @property
    def nodes(self) -> int:
        """On all levels."""
        return self.levels * len(self.flat.points)

    def start(self, level: int) -> int:
        """The first node of a level; -1 is the last level."""
        return len(self.flat.points) * (level % self.levels)

    def at(self, level: int) -> slice:
        """The nodes of a level."""
        start = self.start(level)
        return slice(start, start + len(self.flat.points))


def extrude(mesh: Mesh, levels: int) -> Extruded:
    """Nodes of ``mesh`` on so many levels."""
    up = np.arange(levels) * len(mesh.points)
    columns = (up[:, None, None] + mesh.triangles).transpose(1, 0, 2)
    columns = columns.reshape(len(mesh.triangles), 6 * levels)
    return Extruded(mesh, levels, frozen(columns, np.int64))


def warm_mesh(mesh: Mesh, order: int) -> tuple[Extruded, Mesh]:
    """Nodes of the temperatures, and a mesh record of them.

    The record has the top face's triangles and edges, so that places on it are found
    as in the plane; its points are in the plane too, those of all levels.
    """
    warm = extrude(mesh, order + 1)
    top = warm.start(-1)
    edges = {name: frozen(f + top, np.int64) for name, f in mesh.edges.items()}
    triangles = frozen(mesh.triangles + top, np.int64)
    points = frozen(np.tile(mesh.points, (order + 1, 1)))
    return warm, Mesh(points, triangles, mesh.region, mesh.regions, edges)


def column_dofs(solid: Extruded) -> IntArray:
    """Full dofs (e, 18 k) of the columns, component by component."""
    dofs = 3 * solid.columns[:, None, :] + np.arange(3)[:, None]
    return dofs.reshape(len(dofs), -1)

"""An end of a plate that stays plane: the right one, which stretches, bends and turns.

Its displacement along the member is s - turn (y - yc) / arm - bend z / arm, three
unknowns beside the nodes' (a dof can hang on two unknowns only, see fem.sparse.Ties, so
that they are solved for as a border).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.extruded import Extruded, column_dofs
from shrinksim.fem.sparse import Assembly, Ties
from shrinksim.fem.through import Modes


@dataclass(frozen=True)
class Carried:
    """Dofs (r,) of the nodes that a plane end carries, and their motion (r, 3) when it
    stretches, bends and turns by one.  elements (c,) there are, their dofs' motion
    (c, d, 3).  arm : m, that bend and turn are multiplied with as unknowns.
    count : full dofs of all nodes.
    """

    dofs: IntArray
    motion: FloatArray
    elements: IntArray
    local: FloatArray
    arm: float
    count: int

    def free(self, ties: Ties) -> IntArray:
        """Which of the motions are unknowns."""
        return np.flatnonzero(ties.target[self.count :, 0] >= 0)

    def moved(self, full: FloatArray) -> FloatArray:
        """Displacements (nodes, 3) of full dofs, those of the end at their end."""
        u = full[: self.count].copy()
        more = full[self.count :]
        if len(more):
            u[self.dofs] += self.motion @ more
        return u.reshape(-1, 3)

    def forces(
        self, vectors: FloatArray, free: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """Sums over the free motions of element vectors (e, d), and of their sizes."""
        parts = self.local[..., free] * vectors[self.elements][..., None]
        return parts.sum(axis=(0, 1)), np.abs(parts).sum(axis=(0, 1))

    def border(
        self, plan: Assembly, tangents: FloatArray, free: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """Border (m, b) and corner (b, b) from element matrices, lower triangles."""
        border = np.empty((plan.ties.unknowns, len(free)))
        if not len(free):
            return border, np.empty((0, 0))
        low = np.tril(tangents[self.elements])
        whole = low + np.tril(low, -1).transpose(0, 2, 1)
        pull = whole @ self.local[..., free]
        every = np.zeros(tangents.shape[:2])
        for k in range(len(free)):
            every[self.elements] = pull[..., k]
            border[:, k] = plan.vector(every)[0]
        return border, np.einsum("cdi,cdj->ij", self.local[..., free], pull)


def carried(solid: Extruded, modes: Modes, side: str = "right") -> Carried:
    """What the end ``side`` carries; nothing when the mesh has no such edge."""
    facets = solid.flat.edges.get(side, np.empty((0, 3), np.int64))
    on = np.unique(facets)
    y = solid.flat.points[on, 1]
    middle = 0.5 * (y.max(initial=0.0) + y.min(initial=np.inf)) if len(on) else 0.0
    arm = 0.5 * float(np.ptp(y)) if len(on) else 1.0
    motion = np.zeros((modes.count, len(on), 3))
    straight = np.flatnonzero(np.isfinite(modes.height))
    motion[straight, :, 0] = 1.0
    motion[straight, :, 1] = -modes.height[straight, None] / arm
    motion[straight, :, 2] = -(y - middle) / arm
    n = len(solid.flat.points)
    dofs = 3 * (np.arange(modes.count)[:, None] * n + on).ravel()
    motion = motion.reshape(-1, 3)
    whole = np.zeros((3 * solid.nodes, 3))
    whole[dofs] = motion
    columns = column_dofs(solid)
    elements = np.flatnonzero((whole[columns] != 0.0).any(axis=(1, 2)))
    return Carried(
        frozen(dofs, np.int64), frozen(motion), frozen(elements, np.int64),
        frozen(whole[columns[elements]]), arm, 3 * solid.nodes,
    )  # fmt: skip


@dataclass(frozen=True)
class PlateEnds:
    """Left end held plane and upright; right end plane, free to move and to turn.

    Unknowns: stretch m outward; bend and turn (rad times arm, m), + when the face with
    larger z, the edge with larger y, get shorter.  A moment M acts as M / arm.
    """

    ties: Ties
    stretch: int
    bend: int
    turn: int
    arm: float


def plane_ends(
    solid: Extruded, modes: Modes, carry: Carried,
    held: tuple[bool, bool, bool] = (False, False, False),
) -> PlateEnds:  # fmt: skip
    """Ties of a plate with plane ends; ``held`` : stretch, bend, turn are given."""
    flat = solid.flat
    left = np.unique(flat.edges["left"])
    n = len(flat.points)
    planed = 3 * (np.arange(modes.count)[:, None] * n + left).ravel()
    order = left[np.argsort(flat.points[left, 1])] + solid.start(modes.low)
    rigid = [3 * order[0] + 1, 3 * order[0] + 2, 3 * order[-1] + 2]
    free = np.ones(carry.count + 3, bool)
    for fixed in (planed, carry.dofs, rigid, missing(solid, modes)):
        free[fixed] = False
    free[carry.count :] = ~np.array(held)
    target = np.full((len(free), 2), -1, np.int64)
    target[free, 0] = np.arange(free.sum())
    weight = np.zeros((len(free), 2))
    weight[free, 0] = 1.0
    stretch, bend, turn = target[carry.count :, 0]
    ties = Ties(target, weight, int(free.sum()))
    return PlateEnds(ties, int(stretch), int(bend), int(turn), carry.arm)


def missing(solid: Extruded, modes: Modes) -> IntArray:
    """Full dofs that have no displacement: modes that a component lacks."""
    lacks = np.repeat(~modes.exists, len(solid.flat.points), axis=0)
    return np.flatnonzero(lacks.ravel())

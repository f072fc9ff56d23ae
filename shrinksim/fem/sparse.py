"""Symmetric sparse systems on a fixed pattern: scatter maps, Cholesky factors.

The symbolic work (ordering, positions of every element entry) is done once for a
mesh and its restraints; each iteration only adds numbers and factorises.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cache

import numpy as np
from threadpoolctl import ThreadpoolController

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import NotConverged
from shrinksim.fem.band import BandedFactor, band
from shrinksim.fem.frontal import Fronts, fronts
from shrinksim.fem.kernels.scatter import add_entries, add_vector, expand, reduce

Solve = Callable[[FloatArray], FloatArray]

INDEFINITE = "the stiffness is not positive definite"

SMALL, NARROW = 2e-4, 2e-7
"""Time (s) of a band factor, total and per unknown, below which fronts are no faster."""


def one_blas_thread() -> AbstractContextManager[object]:
    """A context with one BLAS thread: two make a band factor many times slower."""
    return _controller().limit(limits=1, user_api="blas")


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


@dataclass(frozen=True)
class Ties:
    """Full dofs as combinations of the unknowns: value = sum_k weight_k unknown[target_k].

    target : (d, 2) unknown numbers, -1 for none.  weight : (d, 2).  unknowns : m.
    A fixed dof has no target; a dof of a plane end section has two (stretch, turn).
    """

    target: IntArray
    weight: FloatArray
    unknowns: int

    def expand(self, q: FloatArray) -> FloatArray:
        """Full dof values (d,) of the unknowns (m,)."""
        out = np.empty(len(self.target))
        expand(self.target, self.weight, q, out)
        return out

    def reduce(self, full: FloatArray) -> FloatArray:
        """Forces on the unknowns (m,) from forces on the full dofs (d,)."""
        out = np.zeros(self.unknowns)
        reduce(self.target, self.weight, full, out)
        return out


def ties(dofs: int, fixed: IntArray) -> Ties:
    """Ties in which each of ``dofs`` is an unknown, except the ``fixed`` ones."""
    free = np.ones(dofs, bool)
    free[fixed] = False
    target = np.full((dofs, 2), -1, np.int64)
    target[free, 0] = np.arange(free.sum())
    weight = np.zeros((dofs, 2))
    weight[free, 0] = 1.0
    return Ties(target, weight, int(free.sum()))


@dataclass(frozen=True)
class Assembly:
    """Scatter maps of one pattern into the storage of a band or of fronts."""

    ties: Ties
    dofs: IntArray
    layout: BandedFactor | Fronts
    position: IntArray
    source: IntArray
    scale: FloatArray
    diagonal: IntArray

    def matrix(self, element_matrices: FloatArray) -> FloatArray:
        """Sum (e, k, k) symmetric element matrices into factor-ready storage."""
        out = np.zeros(self.layout.size)
        add_entries(self.position, self.source, self.scale, element_matrices, out)
        return out

    def vector(self, element_vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Sums (m,) over the unknowns of (e, k) element vectors and of their sizes."""
        out, size = np.zeros((2, self.ties.unknowns))
        ties = self.ties
        add_vector(self.dofs, ties.target, ties.weight, element_vectors, out, size)
        return out, size

    def add_diagonal(self, storage: FloatArray, values: FloatArray) -> None:
        """Add springs (m,) to the diagonal of a stored matrix, in place."""
        storage[self.diagonal] += values


def assembly(dofs: IntArray, ties: Ties, x: FloatArray | None = None) -> Assembly:
    """Scatter maps for elements with full dof numbers ``dofs`` (e, k).

    x : (d,) a coordinate of each dof along a slender body, for the order of a band.
    """
    rows, columns, source, scale = _entries(dofs, ties)
    layout = _layout(rows, columns, ties, x)
    i, j = layout.order[rows], layout.order[columns]
    low = i >= j
    position, source, scale = layout.positions(i[low], j[low]), source[low], scale[low]
    by_source = np.argsort(source, kind="stable")
    return Assembly(
        ties,
        np.ascontiguousarray(dofs),
        layout,
        np.ascontiguousarray(position[by_source]),
        np.ascontiguousarray(source[by_source]),
        np.ascontiguousarray(scale[by_source]),
        layout.positions(layout.order, layout.order),
    )


def _layout(
    rows: IntArray, columns: IntArray, ties: Ties, x: FloatArray | None
) -> BandedFactor | Fronts:
    """Band or fronts, whichever has the shorter estimated time of a factor."""
    narrow = band(rows, columns, ties.unknowns, _along(ties, x))
    if narrow.seconds <= max(SMALL, NARROW * ties.unknowns):
        return narrow
    dense = fronts(rows, columns, ties.unknowns)
    return narrow if narrow.seconds <= dense.seconds else dense


def _along(ties: Ties, x: FloatArray | None) -> FloatArray | None:
    """Largest coordinate (m,) of the dofs (d,) tied to each unknown."""
    if x is None:
        return None
    along = np.full(ties.unknowns, -np.inf)
    for a in range(2):
        has = ties.target[:, a] >= 0
        np.maximum.at(along, ties.target[has, a], x[has])
    return along


def _entries(
    dofs: IntArray, ties: Ties
) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """Entries (unknown, unknown, flat element entry, weight) of the tied matrices.

    Only the lower triangles of the element matrices are read.
    """
    count, k = dofs.shape
    flat = np.arange(count * k * k).reshape(count, k, k)
    upper = np.triu_indices(k, 1)
    flat[:, *upper] = flat[:, upper[1], upper[0]]
    parts = []
    for a in range(2):
        for b in range(2):
            has_a = ties.target[dofs, a] >= 0
            has_b = ties.target[dofs, b] >= 0
            some = np.flatnonzero(has_a.any(axis=1) & has_b.any(axis=1))
            e, i, j = np.nonzero(has_a[some][:, :, None] & has_b[some][:, None, :])
            e = some[e]
            di, dj = dofs[e, i], dofs[e, j]
            parts.append(
                (
                    ties.target[di, a],
                    ties.target[dj, b],
                    flat[e, i, j],
                    ties.weight[di, a] * ties.weight[dj, b],
                )
            )
    rows, columns, source, scale = (
        np.concatenate([p[c] for p in parts]) for c in range(4)
    )
    return rows, columns, source, scale


def factorise(plan: Assembly, storage: FloatArray) -> Solve:
    """Factor a stored matrix; the returned function solves for one right-hand side.

    Raises NotConverged when the matrix is not positive definite (the hot structure has
    no stiffness in some direction).
    """
    solve = plan.layout.factorise(storage)
    if solve is None:
        raise NotConverged(INDEFINITE)
    return solve

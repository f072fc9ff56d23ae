"""Symmetric sparse systems on a fixed pattern: scatter maps, band or SuperLU factors.

The symbolic work (ordering, positions of every element entry) is done once for a
mesh and its restraints; each iteration only adds numbers and factorises.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.linalg import get_lapack_funcs
from scipy.sparse import coo_array, csc_array
from scipy.sparse.csgraph import reverse_cuthill_mckee
from scipy.sparse.linalg import splu
from threadpoolctl import ThreadpoolController

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import NotConverged
from shrinksim.fem.kernels.scatter import add_entries, add_vector, expand

Solve = Callable[[FloatArray], FloatArray]

INDEFINITE = "the stiffness is not positive definite"

_BAND_FACTOR, _BAND_SOLVE = get_lapack_funcs(("pbtrf", "pbtrs"), dtype=np.float64)

BAND_WORK = 6.0e9
"""Above this work (unknowns x half-width squared) SuperLU is the faster factor."""


def one_blas_thread() -> AbstractContextManager[object]:
    """A context with one BLAS thread: two make a band factor many times slower."""
    return _controller().limit(limits=1, user_api="blas")


@cache
def _controller() -> ThreadpoolController:
    return ThreadpoolController()


@dataclass(frozen=True)
class Ties:
    """How full dofs hang on the unknowns: value = sum_k weight_k unknown[target_k].

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
        out = np.zeros(self.unknowns + 1)
        np.add.at(out, self.target.ravel(), (self.weight * full[:, None]).ravel())
        return out[:-1]


def ties(dofs: int, fixed: IntArray) -> Ties:
    """Each of ``dofs`` is its own unknown, except the ``fixed`` ones."""
    free = np.ones(dofs, bool)
    free[fixed] = False
    target = np.full((dofs, 2), -1, np.int64)
    target[free, 0] = np.arange(free.sum())
    weight = np.zeros((dofs, 2))
    weight[free, 0] = 1.0
    return Ties(target, weight, int(free.sum()))


@dataclass(frozen=True)
class Assembly:
    """Scatter maps of one pattern, in an order with a small band.

    order : (m,) position of every unknown in the ordered system.
    """

    ties: Ties
    dofs: IntArray
    order: IntArray
    half_width: int
    banded: bool
    position: IntArray
    source: IntArray
    scale: FloatArray
    shape: tuple[int, ...]
    pattern: tuple[IntArray, IntArray]
    diagonal: IntArray

    def matrix(self, element_matrices: FloatArray) -> FloatArray:
        """Sum (e, k, k) symmetric element matrices into factor-ready storage."""
        out = np.zeros(self.shape, order="F" if self.banded else "C")
        flat = out.reshape(-1, order="F" if self.banded else "C")
        add_entries(self.position, self.source, self.scale, element_matrices, flat)
        return out

    def vector(self, element_vectors: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Sums (m,) over the unknowns of (e, k) element vectors and of their sizes."""
        out, size = np.zeros((2, self.ties.unknowns))
        hang = self.ties
        add_vector(self.dofs, hang.target, hang.weight, element_vectors, out, size)
        return out, size

    def add_diagonal(self, storage: FloatArray, values: FloatArray) -> None:
        """Add springs (m,) to the diagonal of a stored matrix, in place."""
        flat = storage.reshape(-1, order="F" if self.banded else "C")
        flat[self.diagonal] += values


def assembly(dofs: IntArray, ties: Ties, x: FloatArray | None = None) -> Assembly:
    """Plan the sums for elements with full dof numbers ``dofs`` (e, k).

    x : (d,) a coordinate of each dof along a slender body; the better of x-sorted
    and reverse Cuthill-McKee order is taken.
    """
    m = ties.unknowns
    rows, columns, source, scale = _entries(dofs, ties)
    order, width = _order(rows, columns, m, ties, x)
    i, j = order[rows], order[columns]
    low = i >= j
    i, j, source, scale = i[low], j[low], source[low], scale[low]
    if m * float(width) ** 2 <= BAND_WORK:
        position = (i - j) + j * (width + 1)
        size: tuple[int, ...] = (width + 1, m)
        diagonal = order * (width + 1)
        pattern = (np.empty(0, np.int64), np.empty(0, np.int64))
        banded = True
    else:
        position, pattern, diagonal = _full_positions(i, j, m, order)
        size = (len(pattern[1]),)
        banded = False
    by_source = np.argsort(source, kind="stable")
    return Assembly(
        ties,
        np.ascontiguousarray(dofs),
        order,
        width,
        banded,
        np.ascontiguousarray(position[by_source]),
        np.ascontiguousarray(source[by_source]),
        np.ascontiguousarray(scale[by_source]),
        size,
        pattern,
        diagonal,
    )


def _entries(
    dofs: IntArray, ties: Ties
) -> tuple[IntArray, IntArray, IntArray, FloatArray]:
    """Every (unknown, unknown, flat element entry, weight) of the tied matrices.

    Of the symmetric element matrices only the lower triangles are read.
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


def _order(
    rows: IntArray, columns: IntArray, m: int, ties: Ties, x: FloatArray | None
) -> tuple[IntArray, int]:
    """Position of each unknown and the half-width, by the better of two orders."""
    links = coo_array((np.ones(len(rows), np.int8), (rows, columns)), shape=(m, m))
    orders = []
    permutation = reverse_cuthill_mckee(links.tocsr(), symmetric_mode=True)
    position = np.empty(m, np.int64)
    position[permutation] = np.arange(m)
    orders.append(position)
    if x is not None:
        along = np.full(m, -np.inf)
        for a in range(2):
            has = ties.target[:, a] >= 0
            np.maximum.at(along, ties.target[has, a], x[has])
        position = np.empty(m, np.int64)
        position[np.argsort(along, kind="stable")] = np.arange(m)
        orders.append(position)
    widths = [int(np.abs(o[rows] - o[columns]).max(initial=0)) for o in orders]
    best = int(np.argmin(widths))
    return orders[best], widths[best]


def _full_positions(
    i: IntArray, j: IntArray, m: int, order: IntArray
) -> tuple[IntArray, tuple[IntArray, IntArray], IntArray]:
    """Positions in lower-triangle CSC storage, for SuperLU."""
    key, position = np.unique(j * m + i, return_inverse=True)
    column, row = key // m, key % m
    starts = np.searchsorted(column, np.arange(m + 1))
    return position, (starts, row), starts[:-1][order]


def factorise(plan: Assembly, storage: FloatArray) -> Solve:
    """Factor a stored matrix; the returned function solves for one right-hand side.

    Raises NotConverged when the matrix is not positive definite (the structure, or
    what is left of it when hot, has no stiffness some way).
    """
    return _band_solve(plan, storage) if plan.banded else _lu_solve(plan, storage)


def _band_solve(plan: Assembly, storage: FloatArray) -> Solve:
    factor, info = _BAND_FACTOR(storage, lower=1, overwrite_ab=1)
    if info != 0:
        raise NotConverged(INDEFINITE)

    def solve(b: FloatArray) -> FloatArray:
        ordered = np.empty_like(b)
        ordered[plan.order] = b
        x, _ = _BAND_SOLVE(factor, ordered, lower=1, overwrite_b=1)
        return x[plan.order]

    return solve


def _lu_solve(plan: Assembly, storage: FloatArray) -> Solve:
    starts, row = plan.pattern
    m = plan.ties.unknowns
    lower = csc_array((storage, row, starts), shape=(m, m))
    off = lower.copy()
    off.setdiag(0.0)
    try:
        lu = splu(
            csc_array(lower + off.T),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError as error:
        message = f"the stiffness cannot be factorised ({error})"
        raise NotConverged(message) from error
    if np.any(lu.U.diagonal() <= 0.0):
        raise NotConverged(INDEFINITE)

    def solve(b: FloatArray) -> FloatArray:
        ordered = np.empty_like(b)
        ordered[plan.order] = b
        return lu.solve(ordered)[plan.order]

    return solve

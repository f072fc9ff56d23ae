"""Banded Cholesky factor by LAPACK, for small meshes; the narrower of two orderings."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.linalg import get_lapack_funcs
from scipy.sparse import coo_array
from scipy.sparse.csgraph import reverse_cuthill_mckee

from shrinksim.arrays import FloatArray, IntArray

_FACTOR, _SOLVE = get_lapack_funcs(("pbtrf", "pbtrs"), dtype=np.float64)


@dataclass(frozen=True)
class BandedFactor:
    """Storage of a band matrix: its lower half, column after column.

    order : (m,) position of every unknown in the ordered system.
    """

    order: IntArray
    half_width: int

    @property
    def size(self) -> int:
        """Number of stored entries."""
        return (self.half_width + 1) * len(self.order)

    @property
    def seconds(self) -> float:
        """Estimated time (s) of a factor on the machine of benchmarks/README.md."""
        m, w = len(self.order), self.half_width
        return m * (7.6e-8 + 5.0e-9 * w + 2.5e-11 * w * w)

    def positions(self, i: IntArray, j: IntArray) -> IntArray:
        """Storage positions of the entries of row i, column j <= i (ordered)."""
        return (i - j) + j * (self.half_width + 1)

    def factorise(
        self, storage: FloatArray
    ) -> Callable[[FloatArray], FloatArray] | None:
        """Factor ``storage`` in place; the solve, or None if not positive definite."""
        shape = self.half_width + 1, len(self.order)
        table = storage.reshape(shape, order="F")
        factor, info = _FACTOR(table, lower=1, overwrite_ab=1)
        if info != 0:
            return None

        def solve(b: FloatArray) -> FloatArray:
            ordered = np.empty_like(b)
            ordered[self.order] = b
            x, _ = _SOLVE(factor, ordered, lower=1, overwrite_b=1)
            return x[self.order]

        return solve


def band(
    rows: IntArray, columns: IntArray, m: int, along: FloatArray | None
) -> BandedFactor:
    """Band in reverse Cuthill-McKee order or that of a coordinate (m,), the narrower."""
    links = coo_array((np.ones(len(rows), np.int8), (rows, columns)), shape=(m, m))
    permutations = [reverse_cuthill_mckee(links.tocsr(), symmetric_mode=True)]
    if along is not None:
        permutations.append(np.argsort(along, kind="stable"))
    orders = []
    for permutation in permutations:
        position = np.empty(m, np.int64)
        position[permutation] = np.arange(m)
        orders.append(position)
    widths = [int(np.abs(o[rows] - o[columns]).max(initial=0)) for o in orders]
    best = int(np.argmin(widths))
    return BandedFactor(orders[best], widths[best])

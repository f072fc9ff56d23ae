"""Multifrontal sparse Cholesky: nested dissection once, then BLAS on dense fronts.

A = L L^T, block after block: L11 L11^T = A11, L21 = A21 L11^-T, and the update
A22 - L21 L21^T is added to the front of the parent (extend-add).
George and Liu, Computer Solution of Large Sparse Positive Definite Systems (1981);
Duff and Reid, ACM Trans. Math. Software 9 (1983) 302, for the fronts (both from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_array, csr_array

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.kernels.dissection import breadth_first, cut
from shrinksim.fem.kernels.fronts import LETTERS, REALS, ROUTINES, factor, solve

LEAF = 32
"""Largest piece, in unknowns, that is not cut any more: the calls for smaller blocks
cost more than the work they save."""

WIDE = 6.0
"""Times the median number of neighbours from which an unknown is eliminated last."""


@dataclass(frozen=True)
class Fronts:
    """Blocks of the elimination, children first; see kernels.fronts.

    order : (m,) position of every unknown.  first : (b + 1,).  rows : (r,) positions
    below the blocks, ends : (b + 1,) of theirs.  above : (b,) parents.  panel, spare :
    (b,) positions in the storage and in the heap, of ``size`` and ``heap`` numbers.
    work : multiplications of a factor.
    """

    order: IntArray
    first: IntArray
    ends: IntArray
    rows: IntArray
    above: IntArray
    place: IntArray
    panel: IntArray
    spare: IntArray
    size: int
    heap: int
    work: float

    def positions(self, i: IntArray, j: IntArray) -> IntArray:
        """Storage positions of the entries of row i, column j <= i (ordered)."""
        counts, rest = np.diff(self.first), np.diff(self.ends)
        block = np.repeat(np.arange(len(counts)), counts)[j]
        row = _place(self.first, self.ends, self.rows, block, i)
        height = (counts + rest)[block]
        return self.panel[block] + (j - self.first[block]) * height + row

    @property
    def seconds(self) -> float:
        """Estimated time (s) of a factor on the machine of benchmarks/README.md."""
        return 2.6e-6 * len(self.above) + 7.0e-11 * self.work

    def factorise(
        self, storage: FloatArray
    ) -> Callable[[FloatArray], FloatArray] | None:
        """Factor ``storage`` in place; the solve, or None if not positive definite."""
        routines = ROUTINES, LETTERS, REALS, np.zeros(4, np.int32)
        shape = self.first, self.ends, self.panel
        bad = factor(
            *routines, *shape, self.spare, self.above, self.place, storage,
            np.zeros(self.heap),
        )  # fmt: skip
        if bad >= 0:
            return None
        room = np.empty(int(np.diff(self.ends).max(initial=0)))

        def back(b: FloatArray) -> FloatArray:
            x = np.empty(len(b))
            x[self.order] = b
            solve(*routines, *shape, self.above, self.rows, storage, x, room)
            return x[self.order]

        return back


def fronts(rows: IntArray, columns: IntArray, m: int) -> Fronts:
    """Symbolic factor of a symmetric pattern (both halves) of m unknowns."""
    links = _graph(rows, columns, m)
    first, above, order = _dissection(links)
    ends, below = _rows(links, first, above, order)
    return _places(order, first, ends, below, above)


def _graph(rows: IntArray, columns: IntArray, m: int) -> csr_array:
    """Pattern as compressed rows without repetitions."""
    ones = np.ones(len(rows), np.int32)
    return coo_array((ones, (rows, columns)), shape=(m, m)).tocsr()


def _supervariables(links: csr_array) -> IntArray:
    """Group (m,) of each unknown: those with the same neighbours, found by hashing."""
    draw = np.random.default_rng(1).integers(1 << 62, size=len(links.indptr) - 1)
    flags = links.copy()
    flags.data = np.ones(links.nnz, np.int64)
    return np.unique(flags @ draw, return_inverse=True)[1]


def _dissection(links: csr_array) -> tuple[IntArray, IntArray, IntArray]:
    """First positions (b + 1,), parents (b,) and order (m,) by nested dissection."""
    group = _supervariables(links)
    count = int(group.max(initial=-1)) + 1
    weight = np.bincount(group, minlength=count)
    spread = np.repeat(np.arange(len(group)), np.diff(links.indptr))
    small = _graph(group[spread], group[links.indices], count)
    degree = np.bincount(group, np.diff(links.indptr), count) / weight
    wide = degree > WIDE * max(float(np.median(degree)), 8.0)
    block, above = _nested_blocks(small, weight, wide)
    blocks = len(above)
    after = blocks - 1 - block[group]
    first = np.concatenate([[0], np.cumsum(np.bincount(after, minlength=blocks))])
    order = np.empty(len(group), np.int64)
    order[np.lexsort((group, after))] = np.arange(len(group))
    turned = above[::-1]
    return first, np.where(turned < 0, -1, blocks - 1 - turned), order


def _nested_blocks(
    links: csr_array, weight: IntArray, wide: np.ndarray
) -> tuple[IntArray, IntArray]:
    """Block (n,) of each vertex and the parent of each block, parents first.

    The ``wide`` vertices are the top block.
    """
    n = len(weight)
    starts, to = links.indptr.astype(np.int64), links.indices.astype(np.int64)
    block, piece, queue, near, far = np.zeros((5, n), np.int64)
    above = [-1] if wide.any() else []
    stack = [(np.flatnonzero(~wide), len(above) - 1)]
    mark = 0
    while stack:
        part, parent = stack.pop()
        if not len(part):
            continue
        mark += 1
        piece[part] = mark
        reached = breadth_first(starts, to, piece, mark, part[0], near, queue)
        if reached < len(part):
            piece[queue[:reached]] = 0
            other = piece[part] == mark
            stack += [(part[other], parent), (part[~other], parent)]
            continue
        number = len(above)
        above.append(parent)
        block[part] = number
        if weight[part].sum() > LEAF:
            breadth_first(starts, to, piece, mark, queue[reached - 1], near, queue)
            breadth_first(starts, to, piece, mark, queue[reached - 1], far, queue)
            side = _best_cut(starts, to, piece, mark, weight, part, near, far)
            stack += [(part[side == k], number) for k in range(2)]
    return block, np.array(above, np.int64)


def _best_cut(
    starts: IntArray, to: IntArray, piece: IntArray, mark: int, weight: IntArray,
    part: IntArray, near: IntArray, far: IntArray,
) -> np.ndarray:  # fmt: skip
    """Side of each vertex of a piece by its best cut; 2, the separator, if none."""
    key, side = np.empty_like(near), np.empty(len(near), np.int8)
    best, least = np.full(len(part), 2, np.int8), np.inf
    a, b = near[part], far[part]
    for trial in (a, b, a - b, b - a):
        trial = trial - trial.min()
        key[part] = trial
        tally = np.empty((2, trial.max() + 1), np.int64)
        cost = cut(starts, to, piece, mark, weight, part, key, side, tally)
        if cost < least:
            best, least = side[part], cost
    return best


def _rows(
    links: csr_array, first: IntArray, above: IntArray, order: IntArray
) -> tuple[IntArray, IntArray]:
    """Ends (b + 1,) of the rows of each block, and positions (r,) of the rows below it."""
    source = np.repeat(order, np.diff(links.indptr))
    ordered = _graph(source, order[links.indices], len(order))
    starts, to = ordered.indptr, ordered.indices
    below: list[list[IntArray]] = [[] for _ in above]
    found = []
    for b, a in enumerate(above):
        near = to[starts[first[b]] : starts[first[b + 1]]]
        rows = np.unique(np.concatenate([near[near >= first[b + 1]], *below[b]]))
        below[b] = []
        found.append(rows)
        if a >= 0:
            below[a].append(rows[rows >= first[a + 1]])
    ends = np.concatenate([[0], np.cumsum([len(rows) for rows in found])])
    return ends, np.concatenate([np.empty(0, np.int64), *found])


def _place(
    first: IntArray, ends: IntArray, rows: IntArray, block: IntArray, i: IntArray
) -> IntArray:
    """Local row of positions i in the fronts of their blocks."""
    counts, rest, m = np.diff(first), np.diff(ends), first[-1]
    keys = np.repeat(np.arange(len(counts)), rest) * m + rows
    out = i - first[block]
    low = np.flatnonzero(out >= counts[block])
    at = block[low]
    out[low] = np.searchsorted(keys, at * m + i[low]) - ends[at] + counts[at]
    return out


def _places(
    order: IntArray, first: IntArray, ends: IntArray, rows: IntArray, above: IntArray
) -> Fronts:
    """Layout of the blocks in the storage and of their updates in the heap, by depth."""
    counts, rest = np.diff(first), np.diff(ends)
    place = _place(first, ends, rows, np.repeat(above, rest), rows)
    depth = np.zeros(len(above), np.int64)
    for b in range(len(above) - 1, -1, -1):
        depth[b] = depth[above[b]] + 1 if above[b] >= 0 else 0
    room = np.zeros(int(depth.max(initial=-1)) + 1, np.int64)
    np.maximum.at(room, depth, rest**2)
    sizes = counts * (counts + rest)
    c, r = counts.astype(float), rest.astype(float)
    work = float(np.sum(c**3 / 3.0 + c * c * r + c * r * r))
    return Fronts(
        order,
        first,
        ends,
        rows,
        above,
        place,
        np.cumsum(sizes) - sizes,
        (np.cumsum(room) - room)[depth],
        int(sizes.sum()),
        int(room.sum()),
        work,
    )

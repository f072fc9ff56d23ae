"""Multifrontal Cholesky A = L L^T on dense column-major blocks, by BLAS and LAPACK.

Block b eliminates the unknowns first[b] to first[b + 1]; its panel, at panel[b] of
``storage``, has those rows and then rows[ends[b]:ends[b + 1]].  Its update matrix on
these rows, - L21 L21^T, is at spare[b] of ``heap`` and is added to the parent block.
"""

from __future__ import annotations

import ctypes

import numpy as np
from llvmlite import ir
from numba import config, njit, types
from numba.extending import get_cython_function_address, intrinsic

ROUTINES = np.array(
    [
        get_cython_function_address(f"scipy.linalg.cython_{library}", name)
        for library, name in (
            ("lapack", "dpotrf"),
            ("blas", "dtrsm"),
            ("blas", "dsyrk"),
            ("blas", "dtrsv"),
            ("blas", "dgemv"),
        )
    ]
)
"""Addresses in this process: arguments of the kernels, so that these can be cached."""

LETTERS = np.frombuffer(b"LRNT", np.uint8).copy()
REALS = np.array([1.0, -1.0, 0.0])


if config.DISABLE_JIT:

    def call(address, pointers):
        """Call a routine, at an address, with a tuple of pointers as integers."""
        kinds = [ctypes.c_int64] * len(pointers)
        ctypes.CFUNCTYPE(None, *kinds)(int(address))(*map(int, pointers))

else:

    @intrinsic
    def call(_typing, address, pointers):
        """Call a routine, at an address, with a tuple of pointers as integers."""

        def code(context, builder, _signature, arguments):
            kinds = [ir.IntType(64)] * len(pointers)
            kind = ir.FunctionType(ir.VoidType(), kinds).as_pointer()
            routine = builder.inttoptr(arguments[0], kind)
            given = [builder.extract_value(arguments[1], k) for k in range(len(kinds))]
            builder.call(routine, given)
            return context.get_dummy_value()

        return types.void(address, pointers), code


@njit(cache=True)
def factor(
    routines, letters, reals, whole, first, ends, panel, spare, above, place, storage,
    heap,
):  # fmt: skip
    """Numeric factor of ``storage``, in place.

    Each block: L11 = chol(A11) (dpotrf), L21 = A21 L11^-T (dtrsm), U = - L21 L21^T
    (dsyrk), U added to the front of the parent.  whole : (4,) integer work space.
    above : (b,) parents, -1 for none.  place : local row of each of ``rows`` in the
    parent's front.  heap : zeros, and zeros again at the end.  Returns the first block
    that is not positive definite, or -1.
    """
    n = whole.ctypes.data
    r, ld, info = n + 4, n + 8, n + 12
    lower = letters.ctypes.data
    right, plain, turned = lower + 1, lower + 2, lower + 3
    one = reals.ctypes.data
    minus = one + 8
    for b in range(above.size):
        count, rest = first[b + 1] - first[b], ends[b + 1] - ends[b]
        whole[0], whole[1], whole[2] = count, rest, count + rest
        top = storage.ctypes.data + 8 * panel[b]
        call(routines[0], (lower, n, top, ld, info))
        if whole[3] != 0:
            return b
        if rest == 0:
            continue
        low, update = top + 8 * count, heap.ctypes.data + 8 * spare[b]
        call(routines[1], (right, lower, turned, plain, r, n, one, top, ld, low, ld))
        call(routines[2], (lower, plain, r, n, minus, low, ld, one, update, r))
        a = above[b]
        inside, beyond = first[a + 1] - first[a], ends[a + 1] - ends[a]
        at = place[ends[b] : ends[b + 1]]
        for j in range(rest):
            source = spare[b] + j * rest
            p = at[j]
            if p < inside:
                target = panel[a] + p * (inside + beyond)
                for i in range(j, rest):
                    storage[target + at[i]] += heap[source + i]
                    heap[source + i] = 0.0
            else:
                target = spare[a] + (p - inside) * beyond - inside
                for i in range(j, rest):
                    heap[target + at[i]] += heap[source + i]
                    heap[source + i] = 0.0
    return -1


@njit(cache=True)
def solve(
    routines, letters, reals, whole, first, ends, panel, above, rows, storage, x, room
):
    """Solve L y = b, then L^T x = y, in place in x (m,).  room : rows of one block."""
    n = whole.ctypes.data
    r, ld, step = n + 4, n + 8, n + 12
    lower = letters.ctypes.data
    plain, turned = lower + 2, lower + 3
    one = reals.ctypes.data
    minus, zero = one + 8, one + 16
    t = room.ctypes.data
    whole[3] = 1
    last = 2 * above.size - 1
    for k in range(last + 1):
        back = k >= above.size
        b = last - k if back else k
        count, rest = first[b + 1] - first[b], ends[b + 1] - ends[b]
        whole[0], whole[1], whole[2] = count, rest, count + rest
        top = storage.ctypes.data + 8 * panel[b]
        here, low = x.ctypes.data + 8 * first[b], top + 8 * count
        at = rows[ends[b] : ends[b + 1]]
        if back and rest > 0:
            for i in range(rest):
                room[i] = x[at[i]]
            call(routines[4], (turned, r, n, minus, low, ld, t, step, one, here, step))
        transpose = turned if back else plain
        call(routines[3], (lower, transpose, plain, n, top, ld, here, step))
        if not back and rest > 0:
            call(routines[4], (plain, r, n, minus, low, ld, here, step, zero, t, step))
            for i in range(rest):
                x[at[i]] += room[i]

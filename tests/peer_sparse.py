"""What the scikit-fem peer stands on: its problem record, steel tables and factors.

Factors: CHOLMOD where scikit-sparse is there, else SuperLU in symmetric mode.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import reference_steel as steel
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu
from skfem import Basis

from shrinksim.arrays import FloatArray, IntArray

GRID = np.arange(0.0, 1200.0, 0.25)
STEEL = {
    f.__name__: f(GRID)
    for f in (
        steel.conductivity,
        steel.specific_heat,
        steel.heat_content,
        steel.thermal_strain,
        steel.modulus,
        steel.yield_stress,
        steel.hardening,
    )
}


@dataclass(frozen=True)
class PlateProblem:
    """A plate of one thickness (m), clamped at its left end.

    corners (c, 2) m; triangles (e, 3).  source(x, y, t): W/m2 while t <= heating (s),
    cut out by ``heated`` (e,).  law(T, t): W/m2 that one face loses, and its slope;
    both lose.  ends (s,): of the steps, s.  traction(y): Pa along x on the right end.
    """

    corners: FloatArray
    triangles: IntArray
    thickness: float
    heated: FloatArray
    heating: float
    source: Callable[[FloatArray, FloatArray, float], FloatArray]
    law: Callable[[FloatArray, float], tuple[FloatArray, FloatArray]]
    ends: FloatArray
    traction: Callable[[FloatArray], FloatArray]


def at(name: str, T: FloatArray) -> FloatArray:
    """Linear interpolation of a steel property in its table."""
    values = STEEL[name]
    r = T * 4.0
    k = np.clip(r.astype(np.int64), 0, len(values) - 2)
    low = values[k]
    return low + (r - k) * (values[k + 1] - low)


def choose_factor(wanted: str = "best") -> str:
    """The factorisation to use: "cholmod" if scikit-sparse is there, else "superlu"."""
    if wanted != "best":
        return wanted
    try:
        from sksparse.cholmod import analyze  # noqa: F401
    except ImportError:
        return "superlu"
    return "cholmod"


class System:
    """A sparse pattern of element matrices between free unknowns, and its factors."""

    def __init__(self, dofs: IntArray, free: np.ndarray, factor: str) -> None:
        number = np.where(free, np.cumsum(free) - 1, -1)[dofs]
        self.size, self.free, self.factor = int(free.sum()), free, factor
        shape = (*dofs.shape, dofs.shape[1])
        i = np.broadcast_to(number[:, :, None], shape).ravel()
        j = np.broadcast_to(number[:, None, :], shape).ravel()
        self.kept = np.flatnonzero((i >= 0) & (j >= 0))
        key = j[self.kept] * self.size + i[self.kept]
        pattern, self.place = np.unique(key, return_inverse=True)
        self.rows = (pattern % self.size).astype(np.int32)
        columns = np.arange(self.size + 1)
        starts = np.searchsorted(pattern // self.size, columns)
        self.starts = starts.astype(np.int32)
        self.symbolic = None

    def solver(self, blocks: FloatArray) -> Callable[[FloatArray], FloatArray]:
        """Factors of the sum of element matrices (e, k, k); solves for (size,)."""
        data = np.bincount(self.place, blocks.ravel()[self.kept], len(self.rows))
        matrix = csc_matrix((data, self.rows, self.starts), (self.size, self.size))
        if self.factor == "cholmod":
            from sksparse.cholmod import analyze

            if self.symbolic is None:
                self.symbolic = analyze(matrix)
            self.symbolic.cholesky_inplace(matrix)
            return self.symbolic
        lu = splu(
            matrix,
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
        return lu.solve


def functions(basis: Basis) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shape functions (q, 6), gradients (e, q, 2, 6) and weights (e, q)."""
    shapes = [f[0] for f in basis.basis]
    N = np.stack([np.asarray(f.value)[0] for f in shapes], axis=-1)
    dN = np.stack([np.asarray(f.grad).transpose(1, 2, 0) for f in shapes], axis=-1)
    return N, dN, np.asarray(basis.dx)

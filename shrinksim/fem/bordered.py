"""A sparse stiffness with a few dense rows: unknowns that many elements hang on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.errors import NotConverged
from shrinksim.fem.sparse import INDEFINITE, Assembly, Solve, factorise


@dataclass(frozen=True)
class Bordered:
    """Stored stiffness of the first m unknowns, its border (m, b), corner (b, b)."""

    nodal: FloatArray
    border: FloatArray
    corner: FloatArray


def factorise_bordered(plan: Assembly, matrix: Bordered) -> Solve:
    """Solve with the sparse factor and the Schur complement of the last unknowns.

    Raises NotConverged when the matrix is not positive definite.
    """
    nodal = factorise(plan, matrix.nodal)
    if not len(matrix.corner):
        return nodal
    m = plan.ties.unknowns
    inner = np.stack([nodal(column) for column in matrix.border.T], axis=1)
    schur = matrix.corner - matrix.border.T @ inner
    try:
        np.linalg.cholesky(schur)
    except np.linalg.LinAlgError as error:
        raise NotConverged(INDEFINITE) from error
    across = np.linalg.inv(schur)

    def solve(b: FloatArray) -> FloatArray:
        y = nodal(b[:m])
        z = across @ (b[m:] - matrix.border.T @ y)
        return np.concatenate([y - inner @ z, z])

    return solve

"""Sums of element matrices and vectors into a system, in a fixed order."""

from __future__ import annotations

from numba import njit


@njit(cache=True)
def add_entries(position, source, scale, entries, out):
    """out[position] += scale * entries.flat[source]."""
    flat = entries.reshape(-1)
    for k in range(position.size):
        out[position[k]] += scale[k] * flat[source[k]]


@njit(cache=True)
def add_vector(dofs, target, weight, vectors, out):
    """Add element vectors (e, k) to the unknowns their dofs hang on."""
    for e in range(dofs.shape[0]):
        for i in range(dofs.shape[1]):
            d = dofs[e, i]
            for a in range(2):
                t = target[d, a]
                if t >= 0:
                    out[t] += weight[d, a] * vectors[e, i]

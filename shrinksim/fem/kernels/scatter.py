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
def add_vector(dofs, target, weight, vectors, out, size):
    """Add element vectors (e, k), and their sizes, to the unknowns they hang on."""
    for e in range(dofs.shape[0]):
        for i in range(dofs.shape[1]):
            d = dofs[e, i]
            for a in range(2):
                t = target[d, a]
                if t >= 0:
                    part = weight[d, a] * vectors[e, i]
                    out[t] += part
                    size[t] += abs(part)


@njit(cache=True)
def expand(target, weight, q, out):
    """Full dofs from the unknowns that they hang on."""
    for d in range(target.shape[0]):
        value = 0.0
        for a in range(2):
            if target[d, a] >= 0:
                value += weight[d, a] * q[target[d, a]]
        out[d] = value

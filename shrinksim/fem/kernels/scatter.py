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
    """Add element vectors (e, k), and their absolute values, to the unknowns."""
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
    """Full dofs from the unknowns: d = T q, T the matrix of the ties."""
    for d in range(target.shape[0]):
        value = 0.0
        for a in range(2):
            if target[d, a] >= 0:
                value += weight[d, a] * q[target[d, a]]
        out[d] = value


@njit(cache=True)
def reduce(target, weight, full, out):
    """Add forces on the full dofs to those on the unknowns: T^T f."""
    for d in range(target.shape[0]):
        for a in range(2):
            if target[d, a] >= 0:
                out[target[d, a]] += weight[d, a] * full[d]


@njit(cache=True)
def add_edge(facets, owner, local, share, slope, q, N, with_matrix, flow, blocks):
    """Subtract the edge loss int N_a q ds from flow (n,); q (f, b) W/m2, share (f, b) m2.

    int N_a N_b slope ds is added to the blocks (e, 6, 6) of the owners (f,); slope
    (f, b) is already times share.
    """
    for f in range(facets.shape[0]):
        e = owner[f]
        for b in range(N.shape[0]):
            lost = q[f, b] * share[f, b]
            for i in range(3):
                flow[facets[f, i]] -= lost * N[b, i]
                if not with_matrix:
                    continue
                for j in range(3):
                    blocks[e, local[f, i], local[f, j]] += (
                        slope[f, b] * N[b, i] * N[b, j]
                    )

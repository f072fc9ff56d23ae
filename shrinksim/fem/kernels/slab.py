"""Sweep over columns of a plate for one implicit stage of the heat equation.

Temperatures are T6 in the plane times one polynomial on Gauss-Lobatto levels, summed at
the levels: what is stored and what flows in the plane is a level's own, and levels meet
by conduction through the thickness only.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from shrinksim.fem.kernels.table import interpolate


@njit(cache=True, fastmath={"contract"})
def add_level(N, dN, mass, spread, block):
    """Add mass N N + spread grad N . grad N to the lower triangle of a block (6, 6)."""
    for a in range(6):
        m, x, y = mass * N[a], spread * dN[a, 0], spread * dN[a, 1]
        for b in range(a + 1):
            block[a, b] += m * N[b] + x * dN[b, 0] + y * dN[b, 1]


@njit(cache=True, fastmath={"contract"})
def add_between(N, between, K):
    """Add the products N N times between (k, k) to the lower blocks of K (6 k, 6 k)."""
    for i in range(between.shape[0]):
        for j in range(i + 1):
            for a in range(6):
                m = between[i, j] * N[a]
                for b in range(6):
                    K[6 * i + a, 6 * j + b] += m * N[b]


@njit(cache=True, fastmath={"contract"})
def slab_sweep(
    T, columns, N, dN, area, thick, slope, start, step, conductivity, content, dt,
    capacity, with_matrix, stored, flow, matrix,
):  # fmt: skip
    """Add the heat stored at the nodes (k n,) J and its flow into them (k n,) W.

    columns (e, 6 k); N (g, 6), dN (e, g, 6, 2), area (e, g) in the plane; thick (k,) m,
    slope (k, k) 1/m: see fem.through.  matrix (e, 6 k, 6 k) = capacity d stored/dT
    - dt d flow/dT with k frozen, its lower triangles.
    """
    levels = thick.size
    values, own, into = np.empty(6 * levels), np.empty(6 * levels), np.empty(6 * levels)
    at, across, k = np.empty(levels), np.empty(levels), np.empty(levels)
    between = np.empty((levels, levels))
    for e in range(columns.shape[0]):
        for a in range(6 * levels):
            values[a] = T[columns[e, a]]
        own[:] = 0.0
        into[:] = 0.0
        if with_matrix:
            matrix[e, :, :] = 0.0
        for g in range(N.shape[0]):
            n, d = N[g], dN[e, g]
            for i in range(levels):
                here, gx, gy = 0.0, 0.0, 0.0
                for a in range(6):
                    v = values[6 * i + a]
                    here += n[a] * v
                    gx += d[a, 0] * v
                    gy += d[a, 1] * v
                at[i] = here
                V = area[e, g] * thick[i]
                k[i], _ = interpolate(here, start, step, conductivity)
                H, c = interpolate(here, start, step, content)
                k[i] *= V
                for a in range(6):
                    own[6 * i + a] += V * H * n[a]
                    into[6 * i + a] -= k[i] * (d[a, 0] * gx + d[a, 1] * gy)
                if with_matrix:
                    block = matrix[e, 6 * i : 6 * i + 6, 6 * i : 6 * i + 6]
                    add_level(n, d, capacity * V * c, dt * k[i], block)
            for i in range(levels):
                rise = 0.0
                for j in range(levels):
                    rise += slope[i, j] * at[j]
                across[i] = k[i] * rise
            for j in range(levels):
                out = 0.0
                for i in range(levels):
                    out += slope[i, j] * across[i]
                for a in range(6):
                    into[6 * j + a] -= n[a] * out
            if with_matrix:
                for i in range(levels):
                    for j in range(i + 1):
                        total = 0.0
                        for m in range(levels):
                            total += k[m] * slope[m, i] * slope[m, j]
                        between[i, j] = dt * total
                add_between(n, between, matrix[e])
        for a in range(6 * levels):
            stored[columns[e, a]] += own[a]
            flow[columns[e, a]] += into[a]

"""Sweep over T6 elements for one implicit stage of the heat equation."""

from __future__ import annotations

from numba import njit

from shrinksim.fem.kernels.table import interpolate


@njit(cache=True)
def heat_sweep(
    T, triangles, N, dN, volume, area, start, step, conductivity, content, loss,
    loss_slope, dt, capacity, with_matrix, stored, flow, matrix,
):  # fmt: skip
    """Stored heat (e, 6) J, heat flow into the nodes (e, 6) W, and matrix (e, 6, 6).

    stored_a = int N_a H(T) t dA;  flow_a = - int grad N_a . k grad T t dA
    - int N_a loss dA;  matrix = capacity d stored/dT - dt d flow/dT (with k frozen:
    it stays symmetric, and only the speed of Newton's iteration is touched).
    volume, area : (e, q).  loss, loss_slope : (e, q) W/m2 of plan area, net of gain.
    """
    for e in range(triangles.shape[0]):
        for a in range(6):
            stored[e, a] = 0.0
            flow[e, a] = 0.0
            if with_matrix:
                for b in range(6):
                    matrix[e, a, b] = 0.0
        for q in range(N.shape[0]):
            at, gx, gy = 0.0, 0.0, 0.0
            for a in range(6):
                value = T[triangles[e, a]]
                at += N[q, a] * value
                gx += dN[e, q, a, 0] * value
                gy += dN[e, q, a, 1] * value
            k, _ = interpolate(at, start, step, conductivity)
            H, c = interpolate(at, start, step, content)
            V, A = volume[e, q], area[e, q]
            drop = A * loss[e, q]
            for a in range(6):
                n = N[q, a]
                stored[e, a] += V * n * H
                flow[e, a] -= (
                    V * k * (dN[e, q, a, 0] * gx + dN[e, q, a, 1] * gy) + n * drop
                )
            if not with_matrix:
                continue
            mass = capacity * V * c + dt * A * max(loss_slope[e, q], 0.0)
            spread = dt * V * k
            for a in range(6):
                for b in range(a + 1):
                    matrix[e, a, b] += mass * N[q, a] * N[q, b] + spread * (
                        dN[e, q, a, 0] * dN[e, q, b, 0]
                        + dN[e, q, a, 1] * dN[e, q, b, 1]
                    )

"""Sweeps over T6 elements and edges for one implicit stage of the heat equation."""

from __future__ import annotations

import numpy as np
from numba import njit

from shrinksim.fem.kernels.table import interpolate


@njit(cache=True, fastmath={"contract"})
def face_loss(T, triangles, N, area, faces, start, step, law, loss, slope):
    """Add the face loss q(T) and its slope dq/dT to loss and slope (e, q); returns W lost.

    faces : (e, q), or (e, 1) or (1, 1) for a constant.  law : table of q(T).
    """
    lost = 0.0
    wide, high = faces.shape[1] > 1, faces.shape[0] > 1
    for e in range(triangles.shape[0]):
        row = faces[e if high else 0]
        for q in range(N.shape[0]):
            at = 0.0
            for a in range(6):
                at += N[q, a] * T[triangles[e, a]]
            flux, rise = interpolate(at, start, step, law)
            share = row[q if wide else 0]
            loss[e, q] += share * flux
            slope[e, q] += share * rise
            lost += area[e, q] * share * flux
    return lost


@njit(cache=True, fastmath={"contract"})
def edge_loss(
    T, facets, owner, local, N, weight, cover, thickness, start, step, law, dt,
    with_matrix, flow, matrix,
):  # fmt: skip
    """Subtract int N_a q(T) ds t of an edge from flow (n,); returns the W lost.

    cover, weight : (f, b).  law : table of q(T).  dt int N_a N_b dq/dT ds t is added to
    matrix (e, 6, 6) of the owners.
    """
    lost = 0.0
    for f in range(facets.shape[0]):
        e = owner[f]
        for b in range(N.shape[0]):
            at = 0.0
            for i in range(3):
                at += N[b, i] * T[facets[f, i]]
            flux, rise = interpolate(at, start, step, law)
            share = weight[f, b] * cover[f, b] * thickness
            lost += share * flux
            for i in range(3):
                flow[facets[f, i]] -= share * flux * N[b, i]
            if not with_matrix:
                continue
            stiff = dt * share * max(rise, 0.0)
            for i in range(3):
                for j in range(3):
                    matrix[e, local[f, i], local[f, j]] += stiff * N[b, i] * N[b, j]
    return lost


@njit(cache=True, fastmath={"contract"})
def heat_sweep(
    T, triangles, N, dN, volume, area, start, step, conductivity, content, loss,
    loss_slope, gain, dt, capacity, with_matrix, stored, flow, matrix,
):  # fmt: skip
    """Add the heat stored at the nodes (n,) J and its flow into them (n,) W.

    stored_a = int N_a H(T) t dA;  flow_a = - int grad N_a . k grad T t dA
    - int N_a (loss - gain) dA;  matrix (e, 6, 6) = capacity d stored/dT - dt d flow/dT
    (without dk/dT: it stays symmetric, and only the rate of Newton's iteration
    changes), its lower triangles.
    volume, area : (e, q).  loss, loss_slope, gain : (e, q) W/m2 of plan area.
    """
    values = np.empty(6)
    for e in range(triangles.shape[0]):
        s0, s1, s2, s3, s4, s5 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        f0, f1, f2, f3, f4, f5 = 0.0, 0.0, 0.0, 0.0, 0.0, 0.0
        if with_matrix:
            matrix[e, :, :] = 0.0
        nodes = triangles[e]
        for a in range(6):
            values[a] = T[nodes[a]]
        for q in range(N.shape[0]):
            at, gx, gy = 0.0, 0.0, 0.0
            for a in range(6):
                at += N[q, a] * values[a]
                gx += dN[e, q, a, 0] * values[a]
                gy += dN[e, q, a, 1] * values[a]
            k, _ = interpolate(at, start, step, conductivity)
            H, c = interpolate(at, start, step, content)
            V, A = volume[e, q], area[e, q]
            H *= V
            gx *= V * k
            gy *= V * k
            drop = A * (loss[e, q] - gain[e, q])
            n, d = N[q], dN[e, q]
            s0 += n[0] * H
            s1 += n[1] * H
            s2 += n[2] * H
            s3 += n[3] * H
            s4 += n[4] * H
            s5 += n[5] * H
            f0 -= d[0, 0] * gx + d[0, 1] * gy + n[0] * drop
            f1 -= d[1, 0] * gx + d[1, 1] * gy + n[1] * drop
            f2 -= d[2, 0] * gx + d[2, 1] * gy + n[2] * drop
            f3 -= d[3, 0] * gx + d[3, 1] * gy + n[3] * drop
            f4 -= d[4, 0] * gx + d[4, 1] * gy + n[4] * drop
            f5 -= d[5, 0] * gx + d[5, 1] * gy + n[5] * drop
            if not with_matrix:
                continue
            mass = capacity * V * c + dt * A * max(loss_slope[e, q], 0.0)
            spread = dt * V * k
            for a in range(6):
                m, x, y = mass * n[a], spread * d[a, 0], spread * d[a, 1]
                for b in range(a + 1):
                    matrix[e, a, b] += m * n[b] + x * d[b, 0] + y * d[b, 1]
        stored[nodes[0]] += s0
        stored[nodes[1]] += s1
        stored[nodes[2]] += s2
        stored[nodes[3]] += s3
        stored[nodes[4]] += s4
        stored[nodes[5]] += s5
        flow[nodes[0]] += f0
        flow[nodes[1]] += f1
        flow[nodes[2]] += f2
        flow[nodes[3]] += f3
        flow[nodes[4]] += f4
        flow[nodes[5]] += f5

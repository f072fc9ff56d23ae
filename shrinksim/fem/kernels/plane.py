"""Sweep over T6 plane-stress elements: forces, tangents and new material state."""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from shrinksim.fem.kernels.plasticity import plane_point
from shrinksim.fem.kernels.table import interpolate


@njit(cache=True)
def plane_sweep(
    u, T, cold, triangles, N, dN, weight, hot_share, start, step, modulus, expansion,
    nu, flow_start, flow_step, plastic, flow, back, p_c, eps_old, p_old, alpha_old,
    forces, tangents, stress, eps_new, p_new, alpha_new,
):  # fmt: skip
    """Element forces (e, 12) and tangents (e, 12, 12) at displacements u (n, 2).

    weight : (e, q) area times thickness.  hot_share : (e,) how much of the rise over
    ``cold`` degC the element feels (0 for an overlay that stays cold).  eps_* : (e, q,
    3) plastic strain, p_* : (e, q), alpha_* : (e, q, 3) modal back-stress memory.
    Returns the largest von Mises stress, Pa.
    """
    strain, rate = np.empty(3), np.empty(3)
    C = np.empty((3, 3))
    B = np.empty((3, 12))
    CB = np.empty((3, 12))
    highest = 0.0
    for e in range(triangles.shape[0]):
        forces[e, :] = 0.0
        tangents[e, :, :] = 0.0
        for q in range(N.shape[0]):
            heat, exx, eyy, exy = 0.0, 0.0, 0.0, 0.0
            for a in range(6):
                n = triangles[e, a]
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                heat += N[q, a] * T[n]
                exx += dx * u[n, 0]
                eyy += dy * u[n, 1]
                exy += dy * u[n, 0] + dx * u[n, 1]
                B[0, 2 * a], B[0, 2 * a + 1] = dx, 0.0
                B[1, 2 * a], B[1, 2 * a + 1] = 0.0, dy
                B[2, 2 * a], B[2, 2 * a + 1] = dy, dx
            heat = cold + hot_share[e] * (heat - cold)
            free, _ = interpolate(heat, start, step, expansion)
            strain[0] = exx - free - eps_old[e, q, 0]
            strain[1] = eyy - free - eps_old[e, q, 1]
            strain[2] = exy - eps_old[e, q, 2]
            for m in range(3):
                alpha_new[e, q, m] = alpha_old[e, q, m]
            growth = plane_point(
                heat, strain, p_old[e, q], alpha_new[e, q], start, step, modulus, nu,
                flow_start, flow_step, plastic, flow, back, p_c, stress[e, q], rate, C,
            )  # fmt: skip
            p_new[e, q] = p_old[e, q] + growth
            for m in range(3):
                eps_new[e, q, m] = eps_old[e, q, m] + rate[m]
            s0, s1, s2 = stress[e, q, 0], stress[e, q, 1], stress[e, q, 2]
            highest = max(highest, s0 * s0 + s1 * s1 - s0 * s1 + 3.0 * s2 * s2)
            w = weight[e, q]
            c01 = 0.5 * (C[0, 1] + C[1, 0])
            c02 = 0.5 * (C[0, 2] + C[2, 0])
            c12 = 0.5 * (C[1, 2] + C[2, 1])
            for a in range(6):
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                forces[e, 2 * a] += w * (dx * s0 + dy * s2)
                forces[e, 2 * a + 1] += w * (dy * s1 + dx * s2)
                i = 2 * a
                CB[0, i], CB[0, i + 1] = (
                    w * (C[0, 0] * dx + c02 * dy),
                    w * (c01 * dy + c02 * dx),
                )
                CB[1, i], CB[1, i + 1] = (
                    w * (c01 * dx + c12 * dy),
                    w * (C[1, 1] * dy + c12 * dx),
                )
                CB[2, i], CB[2, i + 1] = (
                    w * (c02 * dx + C[2, 2] * dy),
                    w * (c12 * dy + C[2, 2] * dx),
                )
            for a in range(6):
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                for j in range(2 * a + 2):
                    tangents[e, 2 * a, j] += dx * CB[0, j] + dy * CB[2, j]
                    tangents[e, 2 * a + 1, j] += dy * CB[1, j] + dx * CB[2, j]
        for i in range(12):
            for j in range(i):
                tangents[e, j, i] = tangents[e, i, j]
    return math.sqrt(highest)


@njit(cache=True)
def elastic_sweep(T, cold, triangles, N, dN, weight, hot_share, start, step, modulus,
                  nu, tangents):  # fmt: skip
    """Elastic element stiffness (e, 12, 12) at the nodal temperatures T (n,)."""
    for e in range(triangles.shape[0]):
        tangents[e, :, :] = 0.0
        for q in range(N.shape[0]):
            heat = 0.0
            for a in range(6):
                heat += N[q, a] * T[triangles[e, a]]
            heat = cold + hot_share[e] * (heat - cold)
            E, _ = interpolate(heat, start, step, modulus)
            w = weight[e, q]
            c0 = w * E / (1.0 - nu * nu)
            c1, c2 = nu * c0, 0.5 * w * E / (1.0 + nu)
            for a in range(6):
                ax, ay = dN[e, q, a, 0], dN[e, q, a, 1]
                for b in range(6):
                    bx, by = dN[e, q, b, 0], dN[e, q, b, 1]
                    tangents[e, 2 * a, 2 * b] += c0 * ax * bx + c2 * ay * by
                    tangents[e, 2 * a, 2 * b + 1] += c1 * ax * by + c2 * ay * bx
                    tangents[e, 2 * a + 1, 2 * b] += c1 * ay * bx + c2 * ax * by
                    tangents[e, 2 * a + 1, 2 * b + 1] += c0 * ay * by + c2 * ax * bx

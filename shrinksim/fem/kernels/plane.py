"""Sweep over T6 plane-stress elements: forces, tangents and new material state.

f_int = int B^T sigma dV, K = int B^T C B dV, sigma by the return map of kernels.plasticity
from the strain B u - (thermal + transformation + plastic).
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from shrinksim.fem.kernels.plasticity import (
    ROOT_HALF,
    flow_stress,
    properties_at,
    return_map,
)
from shrinksim.fem.kernels.table import interpolate


@njit(cache=True, fastmath={"contract"})
def plane_sweep(
    u, T, cold, triangles, N, dN, weight, hot_share, start, step, modulus, expansion,
    nu, flow_start, flow_step, plastic, flow, back, p_c, phase_strain, eps_old, p_old,
    alpha_old, forces, moduli, stress, eps_new, p_new, alpha_new,
):  # fmt: skip
    """Element forces (e, 12) and tangent moduli (e, q, 6) at displacements u (n, 2).

    ``cold`` degC is the temperature of the stress-free start.
    weight : (e, q) area times thickness.  hot_share : (e,) share of the rise over
    ``cold`` degC that acts in the element (0 for an overlay that stays cold).
    eps_* : (e, q, 3) plastic strain, p_* : (e, q), alpha_* : (e, q, 3) modal
    back-stress memory.
    phase_strain : (e, q) transformation strain.
    moduli : symmetric part, times weight: 00 11 22 01 02 12.
    Returns the largest von Mises stress, Pa.
    """
    strain, rate = np.empty(3), np.empty(3)
    C = np.empty((3, 3))
    x, y, heats = np.empty(6), np.empty(6), np.empty(6)
    highest = 0.0
    rest, _ = interpolate(cold, start, step, expansion)
    for e in range(triangles.shape[0]):
        for a in range(6):
            n = triangles[e, a]
            x[a], y[a] = u[n, 0], u[n, 1]
            heats[a] = cold + hot_share[e] * (T[n] - cold)
        forces[e, :] = 0.0
        for q in range(N.shape[0]):
            heat, exx, eyy, exy = 0.0, 0.0, 0.0, 0.0
            for a in range(6):
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                heat += N[q, a] * heats[a]
                exx += dx * x[a]
                eyy += dy * y[a]
                exy += dy * x[a] + dx * y[a]
            free, _ = interpolate(heat, start, step, expansion)
            free += phase_strain[e, q] - rest
            g0 = exx - free - eps_old[e, q, 0]
            g1 = eyy - free - eps_old[e, q, 1]
            g2 = exy - eps_old[e, q, 2]
            for m in range(3):
                alpha_new[e, q, m] = alpha_old[e, q, m]
                eps_new[e, q, m] = eps_old[e, q, m]
            p, w = p_old[e, q], weight[e, q]
            E, row, share, sat = properties_at(
                heat, start, step, modulus, flow_start, flow_step, flow, back
            )
            limit, _ = flow_stress(p, row, share, plastic, flow)
            c, G = E / (1.0 - nu * nu), 0.5 * E / (1.0 + nu)
            s0, s1 = c * (g0 + nu * g1), c * (g1 + nu * g0)
            s2 = G * g2
            low, high = sat * alpha_old[e, q, 0], sat * alpha_old[e, q, 1]
            x0, x1 = s0 - ROOT_HALF * (low + high), s1 - ROOT_HALF * (low - high)
            x2 = s2 - sat * alpha_old[e, q, 2]
            if x0 * x0 + x1 * x1 - x0 * x1 + 3.0 * x2 * x2 <= limit * limit:
                p_new[e, q] = p
                stress[e, q, 0], stress[e, q, 1], stress[e, q, 2] = s0, s1, s2
                moduli[e, q, 0], moduli[e, q, 1], moduli[e, q, 2] = w * c, w * c, w * G
                moduli[e, q, 3], moduli[e, q, 4] = w * nu * c, 0.0
                moduli[e, q, 5] = 0.0
            else:
                strain[0], strain[1], strain[2] = g0, g1, g2
                p_new[e, q] = p + return_map(
                    E, nu, strain, row, share, plastic, flow, sat, p_c, p,
                    alpha_new[e, q], stress[e, q], rate, C,
                )  # fmt: skip
                s0, s1, s2 = stress[e, q, 0], stress[e, q, 1], stress[e, q, 2]
                for m in range(3):
                    eps_new[e, q, m] += rate[m]
                    moduli[e, q, m] = w * C[m, m]
                moduli[e, q, 3] = 0.5 * w * (C[0, 1] + C[1, 0])
                moduli[e, q, 4] = 0.5 * w * (C[0, 2] + C[2, 0])
                moduli[e, q, 5] = 0.5 * w * (C[1, 2] + C[2, 1])
            highest = max(highest, s0 * s0 + s1 * s1 - s0 * s1 + 3.0 * s2 * s2)
            for a in range(6):
                dx, dy = w * dN[e, q, a, 0], w * dN[e, q, a, 1]
                forces[e, 2 * a] += dx * s0 + dy * s2
                forces[e, 2 * a + 1] += dy * s1 + dx * s2
    return math.sqrt(highest)


@njit(cache=True, fastmath={"contract"})
def elastic_moduli(
    T, cold, triangles, N, weight, hot_share, start, step, modulus, nu, moduli
):
    """Elastic moduli (e, q, 6) times weight at the nodal temperatures T (n,)."""
    for e in range(triangles.shape[0]):
        for q in range(N.shape[0]):
            heat = 0.0
            for a in range(6):
                heat += N[q, a] * T[triangles[e, a]]
            heat = cold + hot_share[e] * (heat - cold)
            E, _ = interpolate(heat, start, step, modulus)
            c = weight[e, q] * E / (1.0 - nu * nu)
            moduli[e, q, 0], moduli[e, q, 1] = c, c
            moduli[e, q, 2] = 0.5 * (1.0 - nu) * c
            moduli[e, q, 3], moduli[e, q, 4], moduli[e, q, 5] = nu * c, 0.0, 0.0


@njit(cache=True, fastmath={"contract"})
def plane_stiffness(dN, moduli, tangents):
    """Lower triangles of the element stiffness (e, 12, 12) from moduli (e, q, 6)."""
    for e in range(dN.shape[0]):
        K = tangents[e]
        K[:, :] = 0.0
        for q in range(dN.shape[1]):
            c00, c11, c22 = moduli[e, q, 0], moduli[e, q, 1], moduli[e, q, 2]
            c01, c02, c12 = moduli[e, q, 3], moduli[e, q, 4], moduli[e, q, 5]
            for a in range(6):
                x, y = dN[e, q, a, 0], dN[e, q, a, 1]
                xx, xy, xs = c00 * x + c02 * y, c01 * x + c12 * y, c02 * x + c22 * y
                yx, yy, ys = c01 * y + c02 * x, c11 * y + c12 * x, c12 * y + c22 * x
                i = 2 * a
                for b in range(a + 1):
                    u, v = dN[e, q, b, 0], dN[e, q, b, 1]
                    j = 2 * b
                    K[i, j] += xx * u + xs * v
                    K[i, j + 1] += xy * v + xs * u
                    K[i + 1, j] += yx * u + ys * v
                    K[i + 1, j + 1] += yy * v + ys * u

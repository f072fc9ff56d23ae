"""J2 plasticity with four stress components: material point, and sweep over a section.

Radial return (Simo & Hughes, Computational Inelasticity, 1998, sec. 3.3, from memory)
with isotropic hardening from a table and a saturating back stress, so that the return is
one scalar equation.  f_int = int B^T sigma dV, K = int B^T C B dV.
Order xx yy xy zz; engineering shear in strains.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from shrinksim.fem.kernels.plasticity import flow_stress, properties_at
from shrinksim.fem.kernels.table import interpolate


@njit(cache=True, fastmath={"contract"})
def mises(s):
    """Mises value of a deviator (4)."""
    return math.sqrt(1.5 * (s[0] ** 2 + s[1] ** 2 + s[3] ** 2) + 3.0 * s[2] ** 2)


@njit(cache=True, fastmath={"contract"})
def relative_deviator(trial, alpha, sat, p_c, amount, eta):
    """Eta = trial - sat alpha / (1 + dp/p_c), dp = amount; returns its Mises value."""
    keep = sat / (1.0 + amount / p_c)
    for i in range(4):
        eta[i] = trial[i] - keep * alpha[i]
    return mises(eta)


@njit(cache=True, fastmath={"contract"})
def solid_increment(trial, alpha, G, p, row, share, plastic, flow, sat, p_c, eta):
    """Equivalent plastic strain a of a step, by Newton's method inside a bracket.

    |eta(a)| - 3 G a - sat a / (p_c + a) = y(p + a); the left less the right falls with a.
    """
    y, h = flow_stress(p, row, share, plastic, flow)
    size = relative_deviator(trial, alpha, sat, p_c, 0.0, eta)
    low, high = 0.0, (size - y) / (3.0 * G) + 1e-15
    if sat > 0.0:
        high += 2.0 * sat / (3.0 * G)
    amount = min((size - y) / (3.0 * G + h + sat / p_c), high)
    for _ in range(100):
        size = relative_deviator(trial, alpha, sat, p_c, amount, eta)
        y, h = flow_stress(p + amount, row, share, plastic, flow)
        excess = size - 3.0 * G * amount - sat * amount / (p_c + amount) - y
        if abs(excess) <= 1e-11 * y:
            break
        if excess > 0.0:
            low = amount
        else:
            high = amount
        fade = -sat * p_c / (p_c + amount) ** 2
        along = eta[0] * alpha[0] + eta[1] * alpha[1] + eta[3] * alpha[3]
        along = (along + 2.0 * eta[2] * alpha[2]) / size
        new = amount + excess / (3.0 * G + h - fade + 1.5 * fade * along)
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - amount) <= 1e-15 + 1e-14 * amount:
            amount = new
            break
        amount = new
    return amount


@njit(cache=True, fastmath={"contract"})
def solid_return(
    E, nu, strain, row, share, plastic, flow, sat, p_c, p, alpha, stress, rate, C
):
    """Stress (4), plastic strain of the step (4) and consistent tangent C (4, 4).

    strain : (4) total less thermal less old plastic.  alpha : (4) back-stress memory, a
    deviator, replaced by the new one.  Returns the increment of equivalent plastic
    strain.
    """
    # stress = bulk tr(e) 1 + (trial deviator - 3 G dp n), n = eta / |eta|
    G, bulk = 0.5 * E / (1.0 + nu), E / (3.0 * (1.0 - 2.0 * nu))
    mean = (strain[0] + strain[1] + strain[3]) / 3.0
    trial = (
        2.0 * G * (strain[0] - mean),
        2.0 * G * (strain[1] - mean),
        G * strain[2],
        2.0 * G * (strain[3] - mean),
    )
    eta = np.empty(4)
    y, _ = flow_stress(p, row, share, plastic, flow)
    size = relative_deviator(trial, alpha, sat, p_c, 0.0, eta)
    amount, theta = 0.0, 0.0
    if size > y * (1.0 + 1e-12):
        amount = solid_increment(
            trial, alpha, G, p, row, share, plastic, flow, sat, p_c, eta
        )
        size = relative_deviator(trial, alpha, sat, p_c, amount, eta)
        theta = 3.0 * G * amount / size
    for i in range(4):
        stress[i] = trial[i]
        rate[i] = 0.0
        for j in range(4):
            C[i, j] = 0.0
            if i != 2 and j != 2:
                C[i, j] = bulk - 2.0 / 3.0 * G * (1.0 - theta)
        C[i, i] += (1.0 if i == 2 else 2.0) * G * (1.0 - theta)
    if amount > 0.0:
        _, h = flow_stress(p + amount, row, share, plastic, flow)
        fade = -sat * p_c / (p_c + amount) ** 2
        along = 0.0
        for i in range(4):
            eta[i] /= size
            along += (2.0 if i == 2 else 1.0) * eta[i] * alpha[i]
        bottom = 3.0 * G + h - fade + 1.5 * fade * along
        for i in range(4):
            v = theta * (fade * alpha[i] + (3.0 * G + h - fade) * eta[i])
            v -= 3.0 * G * eta[i]
            for j in range(4):
                C[i, j] += v * 3.0 * G * eta[j] / bottom
            stress[i] -= 3.0 * G * amount * eta[i]
            rate[i] = (3.0 if i == 2 else 1.5) * amount * eta[i]
        for i in range(4):
            alpha[i] = (alpha[i] + amount / p_c * eta[i]) / (1.0 + amount / p_c)
    pressure = 3.0 * bulk * mean
    stress[0] += pressure
    stress[1] += pressure
    stress[3] += pressure
    return amount


@njit(cache=True, fastmath={"contract"})
def solid_point(
    T, strain, p, alpha, start, step, modulus, nu, flow_start, flow_step, plastic,
    flow, back, p_c, stress, rate, C,
):  # fmt: skip
    """Return map of a point at T, with its properties from the tables."""
    E, row, share, sat = properties_at(
        T, start, step, modulus, flow_start, flow_step, flow, back
    )
    return solid_return(
        E, nu, strain, row, share, plastic, flow, sat, p_c, p, alpha, stress, rate, C
    )


@njit(cache=True, fastmath={"contract"})
def symmetric_moduli(C, w, moduli, axial_moduli):
    """Symmetric part of a tangent C (4, 4) times w: 00 11 22 01 02 12; 03 13 23 33."""
    for m in range(3):
        moduli[m] = w * C[m, m]
        axial_moduli[m] = 0.5 * w * (C[m, 3] + C[3, m])
    axial_moduli[3] = w * C[3, 3]
    moduli[3] = 0.5 * w * (C[0, 1] + C[1, 0])
    moduli[4] = 0.5 * w * (C[0, 2] + C[2, 0])
    moduli[5] = 0.5 * w * (C[1, 2] + C[2, 1])


@njit(cache=True, fastmath={"contract"})
def section_sweep(
    u, along, T, cold, triangles, N, dN, weight, arms, start, step, modulus, expansion,
    nu, flow_start, flow_step, plastic, flow, back, p_c, phase_strain, eps_old, p_old,
    alpha_old, forces, axial, moduli, axial_moduli, stress, eps_new, p_new, alpha_new,
):  # fmt: skip
    """Element forces (e, 12) and moduli at displacements u (n, 2) and axial strains.

    e_zz = along . (1, arms): along (3) is the axial strain and the curvatures times the
    arm, arms (e, q, 2) the distances over it.  axial : (3) their conjugate forces.
    weight : (e, q) area times 1 m.  moduli : (e, q, 6) times weight, 00 11 22 01 02 12;
    axial_moduli : (e, q, 4) 03 13 23 33.  Returns the largest Mises stress, Pa.
    """
    strain, rate = np.empty(4), np.empty(4)
    C = np.empty((4, 4))
    x, y, heats = np.empty(6), np.empty(6), np.empty(6)
    highest = 0.0
    rest, _ = interpolate(cold, start, step, expansion)
    axial[:] = 0.0
    for e in range(triangles.shape[0]):
        for a in range(6):
            n = triangles[e, a]
            x[a], y[a], heats[a] = u[n, 0], u[n, 1], T[n]
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
            ezz = along[0] + arms[e, q, 0] * along[1] + arms[e, q, 1] * along[2]
            g0 = exx - free - eps_old[e, q, 0]
            g1 = eyy - free - eps_old[e, q, 1]
            g2 = exy - eps_old[e, q, 2]
            g3 = ezz - free - eps_old[e, q, 3]
            for m in range(4):
                alpha_new[e, q, m] = alpha_old[e, q, m]
                eps_new[e, q, m] = eps_old[e, q, m]
            p, w = p_old[e, q], weight[e, q]
            E, row, share, sat = properties_at(
                heat, start, step, modulus, flow_start, flow_step, flow, back
            )
            limit, _ = flow_stress(p, row, share, plastic, flow)
            G, third = 0.5 * E / (1.0 + nu), (g0 + g1 + g3) / 3.0
            d0, d1 = 2.0 * G * (g0 - third), 2.0 * G * (g1 - third)
            d3, s2 = 2.0 * G * (g3 - third), G * g2
            x0, x1 = d0 - sat * alpha_old[e, q, 0], d1 - sat * alpha_old[e, q, 1]
            x3, x2 = d3 - sat * alpha_old[e, q, 3], s2 - sat * alpha_old[e, q, 2]
            square = 1.5 * (x0 * x0 + x1 * x1 + x3 * x3) + 3.0 * x2 * x2
            if square <= limit * limit:
                pressure = E / (1.0 - 2.0 * nu) * third
                s0, s1, s3 = d0 + pressure, d1 + pressure, d3 + pressure
                stress[e, q, 0], stress[e, q, 1] = s0, s1
                stress[e, q, 2], stress[e, q, 3] = s2, s3
                p_new[e, q] = p
                beside = w * (E / (3.0 * (1.0 - 2.0 * nu)) - 2.0 / 3.0 * G)
                straight = beside + 2.0 * w * G
                moduli[e, q, 0], moduli[e, q, 1] = straight, straight
                moduli[e, q, 2], moduli[e, q, 3] = w * G, beside
                moduli[e, q, 4], moduli[e, q, 5] = 0.0, 0.0
                axial_moduli[e, q, 0], axial_moduli[e, q, 1] = beside, beside
                axial_moduli[e, q, 2], axial_moduli[e, q, 3] = 0.0, straight
            else:
                strain[0], strain[1], strain[2], strain[3] = g0, g1, g2, g3
                p_new[e, q] = p + solid_return(
                    E, nu, strain, row, share, plastic, flow, sat, p_c, p,
                    alpha_new[e, q], stress[e, q], rate, C,
                )  # fmt: skip
                s0, s1 = stress[e, q, 0], stress[e, q, 1]
                s2, s3 = stress[e, q, 2], stress[e, q, 3]
                for m in range(4):
                    eps_new[e, q, m] += rate[m]
                symmetric_moduli(C, w, moduli[e, q], axial_moduli[e, q])
            bare = (s0 - s1) ** 2 + (s1 - s3) ** 2 + (s3 - s0) ** 2
            highest = max(highest, 0.5 * bare + 3.0 * s2 * s2)
            for a in range(6):
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                forces[e, 2 * a] += w * (dx * s0 + dy * s2)
                forces[e, 2 * a + 1] += w * (dy * s1 + dx * s2)
            axial[0] += w * s3
            axial[1] += w * s3 * arms[e, q, 0]
            axial[2] += w * s3 * arms[e, q, 1]
    return math.sqrt(highest)


@njit(cache=True, fastmath={"contract"})
def section_elastic(
    T, triangles, N, weight, start, step, modulus, nu, moduli, axial_moduli
):
    """Elastic moduli (e, q, 6) and (e, q, 4) times weight at temperatures T (n,)."""
    for e in range(triangles.shape[0]):
        for q in range(N.shape[0]):
            heat = 0.0
            for a in range(6):
                heat += N[q, a] * T[triangles[e, a]]
            E, _ = interpolate(heat, start, step, modulus)
            c = weight[e, q] * E / ((1.0 + nu) * (1.0 - 2.0 * nu))
            moduli[e, q, 0], moduli[e, q, 1] = (1.0 - nu) * c, (1.0 - nu) * c
            moduli[e, q, 2] = 0.5 * (1.0 - 2.0 * nu) * c
            moduli[e, q, 3], moduli[e, q, 4], moduli[e, q, 5] = nu * c, 0.0, 0.0
            axial_moduli[e, q, 0], axial_moduli[e, q, 1] = nu * c, nu * c
            axial_moduli[e, q, 2], axial_moduli[e, q, 3] = 0.0, (1.0 - nu) * c


@njit(cache=True, fastmath={"contract"})
def section_border(dN, arms, axial_moduli, border, corner):
    """Stiffness of the axial strains: border (3, e, 12) to the nodes, corner (3, 3)."""
    corner[:, :] = 0.0
    g = np.empty(3)
    g[0] = 1.0
    for e in range(dN.shape[0]):
        for k in range(3):
            border[k, e, :] = 0.0
        for q in range(dN.shape[1]):
            g[1], g[2] = arms[e, q, 0], arms[e, q, 1]
            c0, c1, c2 = (
                axial_moduli[e, q, 0],
                axial_moduli[e, q, 1],
                axial_moduli[e, q, 2],
            )
            for a in range(6):
                dx, dy = dN[e, q, a, 0], dN[e, q, a, 1]
                fx, fy = dx * c0 + dy * c2, dy * c1 + dx * c2
                for k in range(3):
                    border[k, e, 2 * a] += fx * g[k]
                    border[k, e, 2 * a + 1] += fy * g[k]
            for i in range(3):
                for j in range(3):
                    corner[i, j] += axial_moduli[e, q, 3] * g[i] * g[j]

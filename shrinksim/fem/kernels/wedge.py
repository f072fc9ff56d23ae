"""J2 plasticity with six stress components, and sweeps over columns of wedges.

A column is a T6 in the plane times quadratic layers through the thickness.  Its nodes
are numbered level by level; its dofs component by component, so that the innermost
loops run over neighbours.  Return, hardening: as in kernels.solid.  Order xx yy xy zz
xz yz; engineering shear in strains.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from shrinksim.fem.kernels.plasticity import flow_stress, hardening_row
from shrinksim.fem.kernels.table import interpolate

PLACE = np.array([[0, 2, 4], [2, 1, 5], [4, 5, 3]])
"""The strain that a component's slope goes into."""

PAIRS = np.array([[0, 0], [1, 0], [1, 1], [2, 0], [2, 1], [2, 2]])
"""Pairs of components in the lower triangle of a stiffness."""


def _entries():
    """Where the moduli (21) of all pairs of components and slopes are, (54,).

    Slopes in the plane by slopes in the plane (6 pairs, 4), in the plane by across (6,
    2), across by in the plane (6, 2), across by across (6).
    """
    number = np.zeros((6, 6), np.int64)
    number[np.triu_indices(6)] = np.arange(21)
    number = np.maximum(number, number.T)
    slopes = [((0, 1), (0, 1)), ((0, 1), (2,)), ((2,), (0, 1)), ((2,), (2,))]
    return np.array(
        [
            number[PLACE[i, d], PLACE[j, f]]
            for left, right in slopes
            for i, j in PAIRS
            for d in left
            for f in right
        ]
    )


ENTRIES = _entries()


@njit(cache=True, fastmath={"contract"})
def mises_of(s):
    """Mises value of a deviator (6)."""
    straight = s[0] ** 2 + s[1] ** 2 + s[3] ** 2
    return math.sqrt(1.5 * straight + 3.0 * (s[2] ** 2 + s[4] ** 2 + s[5] ** 2))


@njit(cache=True, fastmath={"contract"})
def times(a, b):
    """Product a : b of two symmetric tensors (6)."""
    straight = a[0] * b[0] + a[1] * b[1] + a[3] * b[3]
    return straight + 2.0 * (a[2] * b[2] + a[4] * b[4] + a[5] * b[5])


@njit(cache=True, fastmath={"contract"})
def lowered(trial, alpha, sat, p_c, amount, eta):
    """Trial deviator less the faded back stress into eta (6); returns its Mises value."""
    keep = sat / (1.0 + amount / p_c)
    for i in range(6):
        eta[i] = trial[i] - keep * alpha[i]
    return mises_of(eta)


@njit(cache=True, fastmath={"contract"})
def bulk_amount(trial, alpha, G, p, row, share, plastic, flow, sat, p_c, eta):
    """Equivalent plastic strain of a step, by a bracketed Newton search.

    |eta(a)| - 3 G a - sat a / (p_c + a) = flow(p + a) falls with a.
    """
    y, h = flow_stress(p, row, share, plastic, flow)
    size = lowered(trial, alpha, sat, p_c, 0.0, eta)
    low, high = 0.0, (size - y) / (3.0 * G) + 1e-15
    if sat > 0.0:
        high += 2.0 * sat / (3.0 * G)
    amount = min((size - y) / (3.0 * G + h + sat / p_c), high)
    for _ in range(100):
        size = lowered(trial, alpha, sat, p_c, amount, eta)
        y, h = flow_stress(p + amount, row, share, plastic, flow)
        miss = size - 3.0 * G * amount - sat * amount / (p_c + amount) - y
        if abs(miss) <= 1e-11 * y:
            break
        if miss > 0.0:
            low = amount
        else:
            high = amount
        fade = -sat * p_c / (p_c + amount) ** 2
        along = times(eta, alpha) / size
        new = amount + miss / (3.0 * G + h - fade + 1.5 * fade * along)
        if not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - amount) <= 1e-15 + 1e-14 * amount:
            amount = new
            break
        amount = new
    return amount


@njit(cache=True, fastmath={"contract"})
def bulk_return(
    E, nu, strain, row, share, plastic, flow, sat, p_c, p, alpha, eta, stress, rate, C
):
    """Stress (6), plastic strain of the step (6) and tangent C (6, 6) at a point.

    strain : (6) total less thermal less old plastic.  alpha : (6) back-stress memory, a
    deviator, replaced by the new one.  eta : (6) room.  Returns the growth of
    equivalent plastic strain.
    """
    G, bulk = 0.5 * E / (1.0 + nu), E / (3.0 * (1.0 - 2.0 * nu))
    mean = (strain[0] + strain[1] + strain[3]) / 3.0
    for i in (0, 1, 3):
        stress[i] = 2.0 * G * (strain[i] - mean)
    for i in (2, 4, 5):
        stress[i] = G * strain[i]
    y, _ = flow_stress(p, row, share, plastic, flow)
    size = lowered(stress, alpha, sat, p_c, 0.0, eta)
    amount, theta = 0.0, 0.0
    if size > y * (1.0 + 1e-12):
        amount = bulk_amount(
            stress, alpha, G, p, row, share, plastic, flow, sat, p_c, eta
        )
        size = lowered(stress, alpha, sat, p_c, amount, eta)
        theta = 3.0 * G * amount / size
    C[:, :] = 0.0
    for i in (0, 1, 3):
        for j in (0, 1, 3):
            C[i, j] = bulk - 2.0 / 3.0 * G * (1.0 - theta)
        C[i, i] += 2.0 * G * (1.0 - theta)
    for i in (2, 4, 5):
        C[i, i] = G * (1.0 - theta)
    rate[:] = 0.0
    if amount > 0.0:
        _, h = flow_stress(p + amount, row, share, plastic, flow)
        fade = -sat * p_c / (p_c + amount) ** 2
        for i in range(6):
            eta[i] /= size
        bottom = 3.0 * G + h - fade + 1.5 * fade * times(eta, alpha)
        for i in range(6):
            v = theta * (fade * alpha[i] + (3.0 * G + h - fade) * eta[i])
            v -= 3.0 * G * eta[i]
            for j in range(6):
                C[i, j] += v * 3.0 * G * eta[j] / bottom
            stress[i] -= 3.0 * G * amount * eta[i]
            rate[i] = 1.5 * amount * eta[i]
        for i in (2, 4, 5):
            rate[i] *= 2.0
        for i in range(6):
            alpha[i] = (alpha[i] + amount / p_c * eta[i]) / (1.0 + amount / p_c)
    for i in (0, 1, 3):
        stress[i] += 3.0 * bulk * mean
    return amount


@njit(cache=True, fastmath={"contract"}, inline="always")
def isotropic_moduli(E, nu, w, moduli):
    """Elastic moduli (21), upper rows of a symmetric (6, 6), times w."""
    G = 0.5 * w * E / (1.0 + nu)
    beside = 2.0 * G * nu / (1.0 - 2.0 * nu)
    for m in range(21):
        moduli[m] = 0.0
    moduli[0] = moduli[6] = moduli[15] = beside + 2.0 * G
    moduli[1] = moduli[3] = moduli[8] = beside
    moduli[11] = moduli[18] = moduli[20] = G


@njit(cache=True, fastmath={"contract"})
def column_slopes(u, nodes, N, dN, values):
    """Displacements and their slopes in the plane (k, 9) at one point, all levels.

    values : at each level, for each component, slope x, slope y, value.
    """
    for k in range(values.shape[0]):
        for i in range(3):
            x, y, at = 0.0, 0.0, 0.0
            for a in range(6):
                v = u[nodes[6 * k + a], i]
                x += dN[a, 0] * v
                y += dN[a, 1] * v
                at += N[a] * v
            values[k, 3 * i], values[k, 3 * i + 1], values[k, 3 * i + 2] = x, y, at


@njit(cache=True, fastmath={"contract"})
def column_forces(pull, N, dN, forces):
    """Add what pulls (k, 9) at slopes and values to the nodal forces (18 k) of one."""
    levels = pull.shape[0]
    for i in range(3):
        for k in range(levels):
            x, y, at = pull[k, 3 * i], pull[k, 3 * i + 1], pull[k, 3 * i + 2]
            start = 6 * (i * levels + k)
            for a in range(6):
                forces[start + a] += dN[a, 0] * x + dN[a, 1] * y + N[a] * at


@njit(cache=True, fastmath={"contract"}, inline="always")
def point_strain(values, first, Nz, dNz, strain):
    """Total strain (6) at a height from the slopes (k, 9) of a column."""
    for m in range(6):
        strain[m] = 0.0
    for l in range(Nz.size):
        v, n, d = values[first + l], Nz[l], dNz[l]
        strain[0] += n * v[0]
        strain[1] += n * v[4]
        strain[2] += n * (v[1] + v[3])
        strain[3] += d * v[8]
        strain[4] += d * v[2] + n * v[6]
        strain[5] += d * v[5] + n * v[7]


@njit(cache=True, fastmath={"contract"}, inline="always")
def gather_stress(s, w, first, Nz, dNz, pull):
    """Add a point's stress (6) times w to what pulls (k, 9) at slopes and values."""
    for l in range(Nz.size):
        n, d = w * Nz[l], w * dNz[l]
        v = pull[first + l]
        v[0] += n * s[0]
        v[1] += n * s[2]
        v[2] += d * s[4]
        v[3] += n * s[2]
        v[4] += n * s[1]
        v[5] += d * s[5]
        v[6] += n * s[4]
        v[7] += n * s[5]
        v[8] += d * s[3]


@njit(cache=True, fastmath={"contract"})
def wedge_sweep(
    u, heat, cold, nodes, N, dN, area, first, Nz, dNz, thick, start, step, modulus,
    expansion, nu, flow_start, flow_step, plastic, flow, back, p_c, swell, eps_old,
    p_old, alpha_old, forces, moduli, stress, eps_new, p_new, alpha_new,
):  # fmt: skip
    """Element forces (e, 18 k) and moduli (e, q, 21) at displacements u (n, 3).

    heat : (e, q) degC at the points, q = points in the plane times heights, heights
    fastest.  area : (e, points) m2; thick (z,) m.  first, Nz, dNz : see fem.through.
    moduli : upper rows of the symmetric part, times volume.  Returns the largest Mises
    stress, Pa.
    """
    levels = nodes.shape[1] // 6
    values, pull = np.empty((levels, 9)), np.empty((levels, 9))
    strain, rate, eta = np.empty(6), np.empty(6), np.empty(6)
    C = np.empty((6, 6))
    highest = 0.0
    rest, _ = interpolate(cold, start, step, expansion)
    for e in range(nodes.shape[0]):
        forces[e, :] = 0.0
        for g in range(N.shape[0]):
            column_slopes(u, nodes[e], N[g], dN[e, g], values)
            pull[:, :] = 0.0
            for z in range(thick.size):
                q = g * thick.size + z
                w = area[e, g] * thick[z]
                point_strain(values, first[z], Nz[z], dNz[z], strain)
                T = heat[e, q]
                free, _ = interpolate(T, start, step, expansion)
                free += swell[e, q] - rest
                for m in range(6):
                    strain[m] -= eps_old[e, q, m]
                    eps_new[e, q, m] = eps_old[e, q, m]
                    alpha_new[e, q, m] = alpha_old[e, q, m]
                for m in (0, 1, 3):
                    strain[m] -= free
                E, _ = interpolate(T, start, step, modulus)
                row, share, sat = hardening_row(T, flow_start, flow_step, flow, back)
                limit, _ = flow_stress(p_old[e, q], row, share, plastic, flow)
                s = stress[e, q]
                G, third = 0.5 * E / (1.0 + nu), (strain[0] + strain[1] + strain[3]) / 3
                for m in range(6):
                    s[m] = G * strain[m]
                for m in (0, 1, 3):
                    s[m] += s[m] - 2.0 * G * third
                if lowered(s, alpha_old[e, q], sat, p_c, 0.0, eta) <= limit:
                    for m in (0, 1, 3):
                        s[m] += E / (1.0 - 2.0 * nu) * third
                    p_new[e, q] = p_old[e, q]
                    isotropic_moduli(E, nu, w, moduli[e, q])
                else:
                    p_new[e, q] = p_old[e, q] + bulk_return(
                        E, nu, strain, row, share, plastic, flow, sat, p_c, p_old[e, q],
                        alpha_new[e, q], eta, s, rate, C,
                    )  # fmt: skip
                    k = 0
                    for m in range(6):
                        eps_new[e, q, m] += rate[m]
                        for n in range(m, 6):
                            moduli[e, q, k] = 0.5 * w * (C[m, n] + C[n, m])
                            k += 1
                bare = (s[0] - s[1]) ** 2 + (s[1] - s[3]) ** 2 + (s[3] - s[0]) ** 2
                bare = 0.5 * bare + 3.0 * (s[2] ** 2 + s[4] ** 2 + s[5] ** 2)
                highest = max(highest, bare)
                gather_stress(s, w, first[z], Nz[z], dNz[z], pull)
            column_forces(pull, N[g], dN[e, g], forces[e])
    return math.sqrt(highest)


@njit(cache=True, fastmath={"contract"})
def wedge_elastic(heat, area, thick, start, step, modulus, nu, moduli):
    """Elastic moduli (e, q, 21) times volume at temperatures (e, q) of the points."""
    for e in range(area.shape[0]):
        for g in range(area.shape[1]):
            for z in range(thick.size):
                q = g * thick.size + z
                E, _ = interpolate(heat[e, q], start, step, modulus)
                isotropic_moduli(E, nu, area[e, g] * thick[z], moduli[e, q])


@njit(cache=True, fastmath={"contract"})
def add_heights(moduli, start, end, Nz, dNz, sums):
    """Sums over heights of moduli times what two modes have there, (w, w, 54).

    The last index: see ENTRIES; first value by value, then value by slope, slope by
    value, slope by slope.
    """
    wide = Nz.shape[1]
    C = np.empty(54)
    sums[:, :, :] = 0.0
    for h in range(start, end):
        for k in range(54):
            C[k] = moduli[h, ENTRIES[k]]
        for l in range(wide):
            for m in range(wide):
                out = sums[l, m]
                nn, nd = Nz[h, l] * Nz[h, m], Nz[h, l] * dNz[h, m]
                dn, dd = dNz[h, l] * Nz[h, m], dNz[h, l] * dNz[h, m]
                for k in range(24):
                    out[k] += nn * C[k]
                for k in range(24, 36):
                    out[k] += nd * C[k]
                for k in range(36, 48):
                    out[k] += dn * C[k]
                for k in range(48, 54):
                    out[k] += dd * C[k]


@njit(cache=True, fastmath={"contract"})
def add_block(sums, pair, x, y, n, K, row, column):
    """Add one pair of components and of modes to K at (row, column), (6, 6)."""
    k, z = 4 * pair, 2 * pair
    xx, xy, yx, yy = sums[k], sums[k + 1], sums[k + 2], sums[k + 3]
    xz, yz = sums[24 + z], sums[25 + z]
    zx, zy, zz = sums[36 + z], sums[37 + z], sums[48 + pair]
    for a in range(6):
        tx = xx * x[a] + yx * y[a] + zx * n[a]
        ty = xy * x[a] + yy * y[a] + zy * n[a]
        tz = xz * x[a] + yz * y[a] + zz * n[a]
        out = K[row + a, column : column + 6]
        for b in range(6):
            out[b] += tx * x[b] + ty * y[b] + tz * n[b]


@njit(cache=True, fastmath={"contract"})
def wedge_stiffness(N, dN, first, Nz, dNz, own, moduli, tangents):
    """Lower triangles of the stiffness (e, 18 k, 18 k) from moduli (e, q, 21).

    own : (3,) modes of a layer that each component has, its first ones.  Sums go over
    the heights of a layer first, then over the points in the plane.
    """
    size, wide, heights = tangents.shape[1] // 3, Nz.shape[1], first.size
    sums = np.empty((wide, wide, 54))
    x, y, n = np.empty(6), np.empty(6), np.empty(6)
    for e in range(tangents.shape[0]):
        K = tangents[e]
        K[:, :] = 0.0
        for g in range(N.shape[0]):
            for a in range(6):
                x[a], y[a], n[a] = dN[e, g, a, 0], dN[e, g, a, 1], N[g, a]
            here = moduli[e, g * heights : (g + 1) * heights]
            start = 0
            while start < heights:
                end = start + 1
                while end < heights and first[end] == first[start]:
                    end += 1
                add_heights(here, start, end, Nz, dNz, sums)
                base = 6 * first[start]
                for pair in range(6):
                    i, j = PAIRS[pair, 0], PAIRS[pair, 1]
                    for l in range(own[i]):
                        row = i * size + base + 6 * l
                        for m in range(l + 1 if i == j else own[j]):
                            column = j * size + base + 6 * m
                            add_block(sums[l, m], pair, x, y, n, K, row, column)
                start = end

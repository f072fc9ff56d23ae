"""Material point in plane stress: J2 plasticity at a temperature, mixed hardening.

f = sqrt(3/2 xi . P xi) - y(p) <= 0 with xi the stress less the back stress.
Modal form of the projected return (Simo & Hughes, Computational Inelasticity, 1998,
sec. 3.4, from memory): elasticity and the deviatoric projector share the modes
(xx + yy)/sqrt2, (xx - yy)/sqrt2 and xy, so the return is one scalar equation.
"""

from __future__ import annotations

import math

from numba import njit

from shrinksim.fem.kernels.table import interpolate

ROOT_HALF = math.sqrt(0.5)


@njit(cache=True, fastmath={"contract"})
def flow_stress(p, row, share, plastic, flow):
    """Flow stress and slope at plastic strain p, between rows row and row + 1."""
    last = plastic.size - 2
    low, high = 0, last if p > 0.0 else 0
    while low < high:
        middle = (low + high + 1) // 2
        if plastic[middle] <= p:
            low = middle
        else:
            high = middle - 1
    at = (1.0 - share) * flow[row, low] + share * flow[row + 1, low]
    after = (1.0 - share) * flow[row, low + 1] + share * flow[row + 1, low + 1]
    slope = (after - at) / (plastic[low + 1] - plastic[low])
    return at + (p - plastic[low]) * slope, slope


@njit(cache=True, fastmath={"contract"}, inline="always")
def hardening_row(T, start, step, flow, back):
    """Row of the flow stress at T, share of the next row, and back stress there."""
    r = (T - start) / step
    row = min(max(int(r), 0), flow.shape[0] - 2)
    share = min(max(r - row, 0.0), 1.0)
    return row, share, (1.0 - share) * back[row] + share * back[row + 1]


@njit(cache=True, fastmath={"contract"}, inline="always")
def properties_at(T, start, step, modulus, flow_start, flow_step, flow, back):
    """Modulus, row and share of the flow table (see hardening_row), back stress at T."""
    E, _ = interpolate(T, start, step, modulus)
    row, share, sat = hardening_row(T, flow_start, flow_step, flow, back)
    return E, row, share, sat


@njit(cache=True, fastmath={"contract"})
def relative_stress(mode_stress, amount, yielded, d, sat, p_c, alpha, xi):
    """Modes xi of stress less back stress after dp = amount; returns their Mises value.

    xi_m = (trial_m - sat alpha_m / (1 + dp/p_c)) / (a + d_m dp/y), a = 1 + (dp/y) sat /
    (p_c + dp).
    """
    rate = amount / yielded
    keep = sat / (1.0 + amount / p_c)
    a = 1.0 + rate * sat / (p_c + amount)
    for m in range(3):
        xi[m] = (mode_stress[m] - keep * alpha[m]) / (a + rate * d[m])
    return math.sqrt(0.5 * xi[0] ** 2 + 1.5 * xi[1] ** 2 + 3.0 * xi[2] ** 2)


@njit(cache=True, fastmath={"contract"})
def plastic_increment(
    trial, mises, p, yielded, slope, row, share, plastic, flow, d, sat, p_c, alpha, xi
):
    """Equivalent plastic strain dp of a step: the root of mises(xi(dp)) = y(p + dp).

    Newton's method with a numerical slope, kept inside a bracket.
    """
    low, high = 0.0, -1.0
    amount = (mises - yielded) / (d[1] + slope + sat / p_c)
    for _ in range(100):
        y, _ = flow_stress(p + amount, row, share, plastic, flow)
        excess = relative_stress(trial, amount, y, d, sat, p_c, alpha, xi) - y
        if abs(excess) <= 1e-11 * y:
            break
        if excess > 0.0:
            low = amount
        else:
            high = amount
        step = max(1e-7 * amount, 1e-13)
        y2, _ = flow_stress(p + amount + step, row, share, plastic, flow)
        excess2 = relative_stress(trial, amount + step, y2, d, sat, p_c, alpha, xi) - y2
        fall = (excess - excess2) / step
        new = amount + excess / fall if fall > 0.0 else -1.0
        if high < 0.0:
            if new <= low:
                new = 2.0 * amount + 1e-12
        elif not low < new < high:
            new = 0.5 * (low + high)
        if abs(new - amount) <= 1e-15 + 1e-14 * amount:
            amount = new
            break
        amount = new
    return amount


@njit(cache=True, fastmath={"contract"})
def return_map(
    E, nu, strain, row, share, plastic, flow, sat, p_c, p, alpha, stress, rate, C
):
    """Stress (3), plastic strain of the step (3) and consistent tangent C (3, 3).

    strain : (3) total less thermal less old plastic, engineering shear.  alpha : (3)
    back-stress memory in modal form, replaced by the new one.  Returns the increment of
    equivalent plastic strain; rate : (3) plastic strain of the step.
    """
    # modes m: c_m elastic moduli, d_m = 3/2 P_m c_m; deps_p = (dp/y) 3/2 P xi
    c = (E / (1.0 - nu), E / (1.0 + nu), 0.5 * E / (1.0 + nu))
    d = (0.5 * c[0], 1.5 * c[1], 3.0 * c[2])
    e0, e1 = ROOT_HALF * (strain[0] + strain[1]), ROOT_HALF * (strain[0] - strain[1])
    trial = (c[0] * e0, c[1] * e1, c[2] * strain[2])
    y, h = flow_stress(p, row, share, plastic, flow)
    x = (
        trial[0] - sat * alpha[0],
        trial[1] - sat * alpha[1],
        trial[2] - sat * alpha[2],
    )
    mises = math.sqrt(0.5 * x[0] ** 2 + 1.5 * x[1] ** 2 + 3.0 * x[2] ** 2)
    for i in range(3):
        rate[i] = 0.0
        for j in range(3):
            C[i, j] = 0.0
    if mises <= y * (1.0 + 1e-12):
        for i in range(3):
            C[i, i] = c[i]
        _to_plane(trial, C, stress)
        return 0.0
    xi = stress
    amount = plastic_increment(
        trial, mises, p, y, h, row, share, plastic, flow, d, sat, p_c, alpha, xi
    )
    y, h = flow_stress(p + amount, row, share, plastic, flow)
    mises = relative_stress(trial, amount, y, d, sat, p_c, alpha, xi)
    # tangent by differentiating xi(dp) and mises(xi) = y(p + dp) to the trial stress
    k = amount / y
    dk = 1.0 / y - amount * h / y**2
    a = 1.0 + k * sat / (p_c + amount)
    da = dk * sat / (p_c + amount) - k * sat / (p_c + amount) ** 2
    keep = -sat / p_c / (1.0 + amount / p_c) ** 2
    P = (1.0 / 3.0, 1.0, 2.0)
    bottom = h
    w = (
        1.5 * P[0] * xi[0] / (mises * (a + k * d[0])),
        1.5 * P[1] * xi[1] / (mises * (a + k * d[1])),
        1.5 * P[2] * xi[2] / (mises * (a + k * d[2])),
    )
    for m in range(3):
        bottom += w[m] * (alpha[m] * keep + xi[m] * (da + dk * d[m]))
    for m in range(3):
        pull = alpha[m] * keep + xi[m] * (da + dk * d[m])
        v = k * d[m] * pull / (a + k * d[m]) - dk * d[m] * xi[m]
        for n in range(3):
            C[m, n] = v * w[n] * c[n] / bottom
        C[m, m] += c[m] * a / (a + k * d[m])
    final = (
        trial[0] - k * d[0] * xi[0],
        trial[1] - k * d[1] * xi[1],
        trial[2] - k * d[2] * xi[2],
    )
    g0, g1 = 1.5 * k * P[0] * xi[0], 1.5 * k * P[1] * xi[1]
    rate[0], rate[1] = ROOT_HALF * (g0 + g1), ROOT_HALF * (g0 - g1)
    rate[2] = 1.5 * k * P[2] * xi[2]
    for m in range(3):
        alpha[m] = (alpha[m] + amount / p_c * xi[m] / mises) / (1.0 + amount / p_c)
    _to_plane(final, C, stress)
    return amount


@njit(cache=True, fastmath={"contract"})
def _to_plane(modes, C, stress):
    """Modal stress and tangent in components xx, yy, xy."""
    stress[0] = ROOT_HALF * (modes[0] + modes[1])
    stress[1] = ROOT_HALF * (modes[0] - modes[1])
    stress[2] = modes[2]
    for j in range(3):
        up, down = C[0, j], C[1, j]
        C[0, j], C[1, j] = ROOT_HALF * (up + down), ROOT_HALF * (up - down)
    for i in range(3):
        up, down = C[i, 0], C[i, 1]
        C[i, 0], C[i, 1] = ROOT_HALF * (up + down), ROOT_HALF * (up - down)


@njit(cache=True, fastmath={"contract"})
def plane_point(
    T, strain, p, alpha, start, step, modulus, nu, flow_start, flow_step, plastic,
    flow, back, p_c, stress, rate, C,
):  # fmt: skip
    """Return map of a point at T, with its properties from the tables.

    strain : (3) total less thermal less old plastic.  See return_map.
    """
    E, row, share, sat = properties_at(
        T, start, step, modulus, flow_start, flow_step, flow, back
    )
    return return_map(
        E, nu, strain, row, share, plastic, flow, sat, p_c, p, alpha, stress, rate, C
    )

"""A hot spot in the middle of a free disc, plane stress.

S. Timoshenko & J. N. Goodier, Theory of Elasticity, the chapter on thermal stress (from
memory): inside -(E alpha dT / 2)(1 - a2/b2), hoop just outside (E alpha dT / 2)(1 +
a2/b2).  Beyond yield and after cooling: rings along the radius, solved here.
Spot a = 20 mm, disc b = 200 mm, steel "K".
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from meshes_strain import wedge, wedge_ties
from scipy.linalg import solve_banded
from strain_cases import ALPHA, MPA, NU, SY, E, constant_steel, ramp, uniform

from shrinksim.fem.sheet import strain_body, support

pytestmark = pytest.mark.slow

SPOT, DISC, ANGLE = 0.02, 0.2, np.radians(10.0)
RADII = np.concatenate(
    [
        np.linspace(0.0, SPOT, 7),
        SPOT + (DISC - SPOT) * np.linspace(0.0, 1.0, 37)[1:] ** 1.6,
    ]
)


def disc(temperatures):
    """March a slice; body, history, radius and stress (radial, hoop) at the points."""
    mesh = wedge(RADII, ANGLE)
    body = strain_body(mesh, 0.01, constant_steel())
    centre = np.hypot(*mesh.points[mesh.triangles[:, :3]].mean(axis=1).T)
    body = replace(body, hot_share=(centre < SPOT).astype(float))
    out = uniform(body, support(wedge_ties(mesh, ANGLE)), temperatures)
    xy = np.einsum("qa,eaj->eqj", body.N, mesh.points[mesh.triangles])
    r = np.hypot(xy[..., 0], xy[..., 1])
    c, s = xy[..., 0] / r, xy[..., 1] / r
    sx, sy, t = np.moveaxis(out.stress, 2, 0)
    radial = c * c * sx + s * s * sy + 2 * c * s * t
    return body, out, r, np.stack([radial, sx + sy - radial])


def moved(body, out, radius: float) -> float:
    """Radial movement of the node on the x axis at a radius, m."""
    at = np.argmin(np.hypot(*(body.mesh.points - [radius, 0.0]).T))
    assert np.hypot(*(body.mesh.points[at] - [radius, 0.0])) < 1e-9
    return float(out.displacement[-1, at, 0])


def test_elastic_spot():
    """C9: dT = 60 K, closed form; and the closed form of first yield."""
    rise = 60.0
    half, ratio = 0.5 * E * ALPHA * rise, (SPOT / DISC) ** 2
    body, out, r, stress = disc([20.0, 20.0 + rise])
    inside = r < SPOT
    assert -half * (1 - ratio) / MPA == pytest.approx(-74.8440, abs=1e-4)
    assert stress[:, inside] == pytest.approx(-half * (1 - ratio), rel=2e-4)
    outer = r[~inside]
    hoop = half * (SPOT**2 / outer**2 + ratio)
    radial = half * (ratio - SPOT**2 / outer**2)
    assert stress[1, ~inside] == pytest.approx(hoop, rel=0.01, abs=1e-3 * half)
    assert stress[0, ~inside] == pytest.approx(radial, rel=0.01, abs=1e-3 * half)
    assert moved(body, out, DISC) == pytest.approx(
        ALPHA * rise * SPOT * ratio**0.5, rel=2e-5
    )
    u_a = ALPHA * rise * 0.5 * SPOT * ((1 + NU) + (1 - NU) * ratio)
    assert u_a == pytest.approx(9.410400e-6, rel=1e-6)
    assert moved(body, out, SPOT) == pytest.approx(u_a, rel=2e-4)
    assert moved(body, out, DISC) == pytest.approx(1.440000e-6, rel=2e-5)


def test_first_yield():
    """C9: just outside the spot, where sqrt(sr2 + st2 - sr st) is largest."""
    ratio = (SPOT / DISC) ** 2
    unit = 0.5 * E * ALPHA * np.sqrt(3.0 + ratio**2)
    onset = SY / unit
    assert onset == pytest.approx(107.67861, abs=1e-4)
    _, out, r, _ = disc([20.0, 20.0 + 0.995 * onset])
    assert out.equivalent_plastic.max() == 0.0
    _, out, r, _ = disc([20.0, 20.0 + 1.08 * onset])
    yielded = out.equivalent_plastic > 0.0
    assert yielded.any()
    assert r[yielded].min() > SPOT
    assert r[yielded].max() < 1.1 * SPOT


def ring_response(strain: np.ndarray):
    """Stress (2, k), plastic step and tangent (2, 2, k) at strain less plastic (2, k).

    Principal plane stress; the return is along the diagonal form of the Mises ellipse.
    """
    modes = np.sqrt(0.5) * np.array([[1.0, 1.0], [1.0, -1.0]])
    c = np.array([E / (1 - NU), E / (1 + NU)])[:, None]
    size = np.array([0.5, 1.5])[:, None]
    trial = c * (modes @ strain)
    k = np.zeros(strain.shape[1])
    on = (size * trial**2).sum(axis=0) > SY**2
    for _ in range(50):
        g = size * trial**2 / (1 + k * size * c) ** 2
        miss = g.sum(axis=0) - SY**2
        if np.abs(miss[on]).max(initial=0.0) < 1e-12 * SY**2:
            break
        fall = (-2 * g * size * c / (1 + k * size * c)).sum(axis=0)
        k = np.where(on, k - miss / np.where(on, fall, 1.0), 0.0)
    soft = c / (1 + k * size * c)
    xi = trial / (1 + k * size * c)
    bottom = ((size * xi) ** 2 * soft).sum(axis=0)
    D = np.einsum("im,mk,mj->ijk", modes, soft, modes)
    Dn = modes @ (soft * size * xi)
    D = D - on * Dn[:, None] * Dn[None, :] / np.maximum(bottom, 1e-300)
    return modes @ xi, modes @ (k * size * xi), D


def rings(temperatures, cells_in: int = 20, cells_out: int = 140):
    """Rings of one point each: nodes, their u, middles and stress (2, k) at the end."""
    outside = np.linspace(0.0, 1.0, cells_out + 1)[1:] ** 1.6
    nodes = np.concatenate(
        [np.linspace(0.0, SPOT, cells_in + 1), SPOT + (DISC - SPOT) * outside]
    )
    h, r = np.diff(nodes), 0.5 * (nodes[1:] + nodes[:-1])
    B = np.stack([np.stack([-1 / h, 1 / h]), np.stack([0.5 / r, 0.5 / r])])
    u, plastic = np.zeros(len(nodes)), np.zeros((2, len(h)))
    for T in temperatures[1:]:
        for _ in range(40):
            strain = np.einsum("sak,ak->sk", B, np.stack([u[:-1], u[1:]]))
            strain = strain - ALPHA * (T - 20.0) * (r < SPOT)
            stress, flow, D = ring_response(strain - plastic)
            inner = np.einsum("sak,sk->ak", B, stress) * r * h
            force = np.append(inner[0], 0.0) + np.append(0.0, inner[1])
            force[0] = 0.0
            if np.abs(force).max() < 1e-9 * SY * SPOT:
                break
            K = np.einsum("sak,stk,tbk->abk", B, D, B) * r * h
            band = np.zeros((3, len(nodes)))
            band[1] = np.append(K[0, 0], 0.0) + np.append(0.0, K[1, 1])
            band[0, 1:], band[2, :-1] = K[0, 1], K[1, 0]
            band[1, 0], band[0, 1], band[2, 0] = 1.0, 0.0, 0.0
            u = u - solve_banded((1, 1), band, force)
        else:
            raise AssertionError(T)
        plastic = plastic + flow
    return nodes, u, r, stress


def test_spot_heated_by_400_k_and_cooled():
    """C9: 1 % with 200 steps each way, against rings and the digits of our own study."""
    up = ramp(20.0, 420.0, step=2.0)
    path = np.append(up, up[-2::-1])

    nodes, u, r, stress = rings(up)
    assert u[-1] == pytest.approx(5.6659e-6, rel=2e-3)
    body, hot, at, found = disc(up)
    assert moved(body, hot, DISC) == pytest.approx(u[-1], rel=5e-3)
    assert found[:, at < SPOT] / MPA == pytest.approx(-235.0, abs=0.05)

    nodes, u, r, stress = rings(path)
    spot = np.searchsorted(nodes, SPOT - 1e-9)
    assert u[-1] == pytest.approx(-4.0065e-6, rel=5e-3)
    assert u[spot] == pytest.approx(-2.443e-5, rel=5e-3)
    body, cold, at, found = disc(path)
    assert moved(body, cold, DISC) == pytest.approx(u[-1], rel=0.01)
    assert moved(body, cold, DISC) == pytest.approx(-4.0065e-6, rel=0.01)
    assert moved(body, cold, SPOT) == pytest.approx(u[spot], rel=0.01)
    inside = at < 0.9 * SPOT
    assert found[:, inside] / MPA == pytest.approx(196.3, rel=0.01)
    assert stress[:, r < 0.9 * SPOT] / MPA == pytest.approx(196.3, rel=0.01)
    order = np.argsort(at.ravel())
    for radius, hoop in ((0.03, -95.6), (0.05, -35.75), (0.1, -10.52)):
        assert np.interp(radius, r, stress[1]) / MPA == pytest.approx(hoop, rel=0.01)
        ours = np.interp(radius, at.ravel()[order], found[1].ravel()[order])
        assert ours / MPA == pytest.approx(hoop, rel=0.01)


def test_coarse_steps_cost_little():
    """C9: 3 % with 40 steps in all."""
    up = ramp(20.0, 420.0, step=20.0)
    body, cold, _, _ = disc(np.append(up, up[-2::-1]))
    assert moved(body, cold, DISC) == pytest.approx(-4.0065e-6, rel=0.03)

"""Patch tests of a plate with thickness: states that its polynomials hold come out exactly.

The distorted patch of MacNeal & Harder, Finite Elements in Analysis and Design 1 (1985)
3-20 (from memory), with thickness.  Stretch, bending and twist with free faces, plane
stress of Timoshenko & Goodier, Theory of Elasticity, art. 100 and 107 (from memory); heat
through the thickness, Timoshenko & Woinowsky-Krieger, Theory of Plates and Shells, 1959,
art. 14 (from memory).
"""

from __future__ import annotations

import numpy as np
import pytest
from plate_states import given_on, heights, on_modes
from strain_cases import ALPHA, NU, SY, TIGHT, E, constant_steel, uniform
from test_macneal_harder_patches import boundary, patch

from shrinksim.fem.plate import plate_body
from shrinksim.fem.plate_turns import displacement, free_ties
from shrinksim.fem.structure import support
from shrinksim.fem.through import layers_through, modes_through
from shrinksim.strain import Control, Schedule, solve_strain

D = 0.02
MODES = {
    "2, 3": modes_through(D, (2, 3), 6),
    "4, 4": modes_through(D, (4, 4), 6),
    "two layers": layers_through(D, 2, 3),
}
K, S = 0.02, -NU / (1.0 - NU)  # curvature 1/m


def stretch(x, y, z):
    a, b, c = 1e-4, -2e-4, 3e-4
    return a * x + 0.5 * c * y, b * y + 0.5 * c * x, S * (a + b) * z


def bending(x, y, z):
    """Curvatures K about y and half of it about x; free faces."""
    a, b = K, 0.5 * K
    w = -0.5 * (a * x * x + b * y * y) + 0.5 * S * (a + b) * z * z
    return a * x * z, b * y * z, w


def twist(x, y, z):
    return K * y * z, K * x * z, -K * x * y


def plane_stress(exx, eyy, gamma):
    """Stress xx yy xy zz xz yz."""
    c = E / (1.0 - NU**2)
    xy = 0.5 * E / (1.0 + NU) * gamma
    zero = np.zeros_like(exx)
    return np.stack(
        [c * (exx + NU * eyy), c * (eyy + NU * exx), xy + zero, zero, zero, zero], -1
    )


STRESS = {
    stretch: lambda z: plane_stress(1e-4 + 0 * z, -2e-4 + 0 * z, 3e-4 + 0 * z),
    bending: lambda z: plane_stress(K * z, 0.5 * K * z, 0 * z),
    twist: lambda z: plane_stress(0 * z, 0 * z, 2.0 * K * z),
}


@pytest.mark.parametrize("name", MODES)
@pytest.mark.parametrize("rule", ["interior 3", "interior 6"])
@pytest.mark.parametrize("field", STRESS)
def test_elastic_patch(field, rule, name):
    modes, mesh = MODES[name], patch()
    body = plate_body(mesh, D, constant_steel(level=1e12), modes=modes, rule=rule)
    hold = given_on(body, boundary(mesh), field)
    out = uniform(body, hold, [20.0, 20.0], [0.0, 1.0], control=TIGHT)
    wanted = STRESS[field](np.tile(modes.z, out.stress.shape[1] // len(modes.z)))
    scale = np.abs(wanted).max()
    assert out.stress == pytest.approx(
        np.broadcast_to(wanted, out.stress.shape), abs=1e-6 * scale
    )
    full = hold.ties.expand(out.q[-1]) + hold.offset
    moved = on_modes(body, field)
    assert full.reshape(-1, 3) == pytest.approx(moved, abs=1e-7 * np.abs(moved).max())


@pytest.mark.parametrize("name", MODES)
def test_free_plate_with_heat_through_its_thickness(name):
    """A sphere of curvature alpha dT / d, no stress: the dome of a heated disc."""
    mesh = patch()
    body = plate_body(mesh, D, constant_steel(level=1e12), modes=MODES[name])
    rise = heights(body, D) / D + 0.5
    hold = support(free_ties(body))
    out = uniform(body, hold, [20.0, 120.0], field=rise, control=Control(last=1e-6))
    assert np.abs(out.stress).max() < 1e-8 * E * ALPHA * 100.0
    u = displacement(body, hold.ties, out.q[-1])
    n, (x, y) = len(mesh.points), mesh.points.T
    dome = u[:n, 2] + 0.5 * ALPHA * 100.0 / D * (x**2 + y**2)
    flat = np.stack([np.ones(n), x, y], 1)
    left = dome - flat @ np.linalg.lstsq(flat, dome, rcond=None)[0]
    assert np.abs(left).max() < 1e-7 * ALPHA * 100.0 / D * 0.24**2


@pytest.mark.parametrize("name", MODES)
def test_clamped_plate_with_heat_through_its_thickness(name):
    """It stays flat, stress E alpha T / (1 - nu) both ways, nothing across."""
    mesh = patch()
    body = plate_body(mesh, D, constant_steel(level=1e12), modes=MODES[name])
    z = heights(body, D)
    c = ALPHA * 100.0 / D * (1.0 + NU) / (1.0 - NU)  # eps_zz of the free thickness
    hold = given_on(
        body, boundary(mesh), lambda x, y, z: (0.0 * x, 0.0 * x, 0.5 * c * z * z)
    )
    T = 20.0 + np.stack([0.0 * z, 100.0 * z / D])
    out = solve_strain(body, Schedule(np.arange(2.0), T, np.arange(2.0)), hold)
    here = np.tile(body.modes.z, out.stress.shape[1] // len(body.modes.z))
    wanted = -E * ALPHA * 100.0 * here / D / (1.0 - NU)
    for k in (0, 1):
        assert out.stress[..., k] == pytest.approx(
            np.broadcast_to(wanted, out.stress.shape[:2]),
            abs=1e-5 * np.abs(wanted).max(),
        )
    assert np.abs(out.stress[..., 2:]).max() < 1e-5 * np.abs(wanted).max()


@pytest.mark.parametrize("steps", [1, 5])
def test_plastic_patch(steps):
    """Shear well above yield, linear hardening 2 GPa: the closed form of the sheet's
    patch, tau = (SY / sqrt 3 + H gamma / 3) / (1 + H / 3 G), even through the thickness.
    """
    mesh, H, gamma = patch(), 2e9, 6e-3
    body = plate_body(mesh, D, constant_steel(slope=H))
    hold = given_on(
        body,
        boundary(mesh),
        lambda x, y, z: (0.5 * gamma * y, 0.5 * gamma * x, 0.0 * x),
    )
    part = np.linspace(0.0, 1.0, steps + 1)
    out = uniform(body, hold, np.full(steps + 1, 20.0), part)
    G = 0.5 * E / (1.0 + NU)
    tau = (SY / np.sqrt(3.0) + H * gamma / 3.0) / (1.0 + H / (3.0 * G))
    assert out.stress[..., 2] == pytest.approx(tau, rel=1e-7)
    assert np.abs(out.stress[..., [0, 1, 3, 4, 5]]).max() < 1e-6 * tau

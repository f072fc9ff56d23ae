"""Laws of the material point with four stresses, and that it is the sheet's in one plane.

At random states of every kind of hardening; order xx yy xy zz.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strain_cases import constant_steel

from shrinksim.arrays import FloatArray
from shrinksim.fem.kernels.plasticity import flow_stress, plane_point
from shrinksim.fem.kernels.solid import solid_point
from shrinksim.shop.steel import StrainTable, steel

STEELS = {
    "isotropic": steel("S235", hardening="isotropic").strain,
    "kinematic": steel("S235", hardening="kinematic").strain,
    "mixed": steel("S355", hardening="mixed").strain,
    "plateau": steel("S235", curve="plateau").strain,
    "linear": constant_steel(slope=2e9),
}
NAMES = st.sampled_from(sorted(STEELS))
HEAT = st.floats(0.0, 1100.0)
FOUR = st.tuples(*[st.floats(-0.02, 0.02)] * 4).map(np.array)
THREE = st.tuples(*[st.floats(-0.02, 0.02)] * 3).map(np.array)


def respond(table: StrainTable, T: float, strain, p: float, alpha):
    """Stress, plastic step, tangent, growth of p and new memory of one point."""
    memory = np.array(alpha, float)
    stress, rate, C = np.empty(4), np.empty(4), np.empty((4, 4))
    growth = solid_point(
        T, np.array(strain, float), p, memory, table.start, table.step, table.modulus,
        table.poisson, table.flow_start, table.flow_step, table.plastic, table.flow,
        table.back_stress, table.back_strain, stress, rate, C,
    )  # fmt: skip
    return stress, rate, C, growth, memory


def at_heat(table: StrainTable, T: float) -> tuple[int, float, float, float]:
    """Row and share of the flow table, back stress and modulus, at T."""
    r = (T - table.flow_start) / table.flow_step
    row = min(max(int(r), 0), len(table.flow) - 2)
    share = min(max(r - row, 0.0), 1.0)
    back = (1.0 - share) * table.back_stress[row] + share * table.back_stress[row + 1]
    grid_T = table.start + table.step * np.arange(len(table.modulus))
    return row, share, float(back), float(np.interp(T, grid_T, table.modulus))


def deviator(s: FloatArray) -> FloatArray:
    return s - s[[0, 1, 3]].mean() * np.array([1.0, 1.0, 0.0, 1.0])


def mises(s: FloatArray) -> float:
    d = deviator(s)
    return float(np.sqrt(1.5 * (d[0] ** 2 + d[1] ** 2 + 2.0 * d[2] ** 2 + d[3] ** 2)))


@settings(max_examples=300, deadline=None)
@given(NAMES, HEAT, FOUR, FOUR)
def test_stress_returns_to_the_yield_surface(name, T, first, second):
    """On it after flow, inside after none; flow is normal, keeps volume, dissipates."""
    table = STEELS[name]
    _, plastic, _, p, alpha = respond(table, T, first, 0.0, np.zeros(4))
    total = first + second
    stress, rate, _, growth, memory = respond(table, T, total - plastic, p, alpha)
    row, share, back, modulus = at_heat(table, T)
    flow, _ = flow_stress(p + growth, row, share, table.plastic, table.flow)
    relative = deviator(stress) - back * memory
    elastic = total - plastic - rate
    shear = modulus / (2.0 * (1.0 + table.poisson))
    lame = 2.0 * shear * table.poisson / (1.0 - 2.0 * table.poisson)
    volume = elastic[[0, 1, 3]].sum()
    wanted = shear * elastic * np.array([2.0, 2.0, 1.0, 2.0])
    wanted += lame * volume * np.array([1.0, 1.0, 0.0, 1.0])
    assert stress == pytest.approx(wanted, rel=1e-9, abs=1e-9 * modulus * 0.01)
    if growth == 0.0:
        assert mises(relative) <= flow * (1.0 + 1e-10)
        assert np.array_equal(memory, alpha)
        assert not rate.any()
        return
    assert growth > 0.0
    assert mises(relative) == pytest.approx(flow, rel=1e-7)
    normal = 1.5 * relative / mises(relative) * np.array([1.0, 1.0, 2.0, 1.0])
    assert rate == pytest.approx(growth * normal, rel=1e-7, abs=1e-7 * growth)
    assert relative @ rate >= 0.0


@settings(max_examples=300, deadline=None)
@given(NAMES, HEAT, FOUR, FOUR)
def test_point_tangent_is_the_slope_of_the_stress(name, T, first, second):
    """Against central differences, away from the corners of the flow table."""
    table = STEELS[name]
    _, plastic, _, p, alpha = respond(table, T, first, 0.0, np.zeros(4))
    elastic = first + second - plastic
    _, _, C, growth, _ = respond(table, T, elastic, p, alpha)
    h = 1e-8
    slope = np.empty((4, 4))
    for k in range(4):
        side = h * np.eye(4)[k]
        up, down = (respond(table, T, elastic + s * side, p, alpha) for s in (1, -1))
        slope[:, k] = (up[0] - down[0]) / (2.0 * h)
        grown = np.array([growth, up[3], down[3]])
        assume(np.all(grown > 0.0) or np.all(grown == 0.0))
        assume(len(set(np.searchsorted(table.plastic, p + grown))) == 1)
    size = np.abs(slope).max()
    assert pytest.approx(slope, rel=0, abs=2e-5 * size) == C


def plane_steps(table: StrainTable, T: float, strains: list[FloatArray]):
    """Stress (3), plastic strain (3) and its equivalent, by the plane-stress point."""
    plastic, p, memory = np.zeros(3), 0.0, np.zeros(3)
    stress, rate, C = np.empty(3), np.empty(3), np.empty((3, 3))
    for strain in strains:
        p += plane_point(
            T, strain - plastic, p, memory, table.start, table.step, table.modulus,
            table.poisson, table.flow_start, table.flow_step, table.plastic, table.flow,
            table.back_stress, table.back_strain, stress, rate, C,
        )  # fmt: skip
        plastic = plastic + rate
    return stress, plastic, p


def solid_steps(table: StrainTable, T: float, strains: list[FloatArray]):
    """The same by the solid point, its strain through the sheet found by Newton."""
    plastic, p, memory, through = np.zeros(4), 0.0, np.zeros(4), 0.0
    for strain in strains:
        for _ in range(60):
            total = np.append(strain, through)
            stress, rate, C, growth, after = respond(
                table, T, total - plastic, p, memory
            )
            if abs(stress[3]) <= 1e-8 * np.abs(stress).max():
                break
            through -= stress[3] / C[3, 3]
        else:
            raise AssertionError(stress)
        plastic, p, memory = plastic + rate, p + growth, after
    return stress, plastic, p


@pytest.mark.slow
@settings(max_examples=200, deadline=None)
@given(NAMES, HEAT, THREE, THREE)
def test_solid_point_in_plane_stress_is_the_sheets_point(name, T, first, second):
    """Two steps in any directions, every kind of hardening."""
    table = STEELS[name]
    strains = [first, first + second]
    flat, solid = plane_steps(table, T, strains), solid_steps(table, T, strains)
    size = max(mises(solid[0]), 1.0)
    assert solid[0][:3] == pytest.approx(flat[0], abs=1e-5 * size)
    assert solid[1][:3] == pytest.approx(flat[1], abs=1e-8)
    assert solid[2] == pytest.approx(flat[2], abs=1e-8)


@settings(max_examples=100, deadline=None)
@given(NAMES, HEAT, FOUR)
def test_opposite_strain_gives_opposite_stress(name, T, strain):
    a, b = (respond(STEELS[name], T, s * strain, 0.0, np.zeros(4)) for s in (1, -1))
    assert np.array_equal(a[0], -b[0])
    assert np.array_equal(a[1], -b[1])
    assert np.array_equal(a[2], b[2])


@settings(max_examples=100, deadline=None)
@given(NAMES, HEAT, FOUR, FOUR)
def test_axes_in_another_order_are_only_named_otherwise(name, T, first, second):
    """No shear: the point does not know which of its three axes is which."""
    table = STEELS[name]
    first, second = (s * np.array([1.0, 1.0, 0.0, 1.0]) for s in (first, second))
    swap = [3, 0, 2, 1]
    plain, other = (_two(table, T, first[o], second[o]) for o in ([0, 1, 2, 3], swap))
    size = max(mises(plain[0]), 1.0)
    assert other[0] == pytest.approx(plain[0][swap], abs=1e-7 * size, rel=1e-7)
    assert other[1] == pytest.approx(plain[1], rel=1e-7, abs=1e-12)


def _two(table, T, first, second):
    _, rate, _, p, alpha = respond(table, T, first, 0.0, np.zeros(4))
    stress, _, _, growth, _ = respond(table, T, first + second - rate, p, alpha)
    return stress, p + growth


@settings(max_examples=100, deadline=None)
@given(NAMES, st.floats(-60.0, 1400.0), FOUR)
def test_no_temperature_or_strain_breaks_a_point(name, T, strain):
    stress, rate, C, growth, memory = respond(
        STEELS[name], T, 5.0 * strain, 0.0, np.zeros(4)
    )
    for values in (stress, rate, C, memory, np.array(growth)):
        assert np.isfinite(values).all()
    assert growth >= 0.0

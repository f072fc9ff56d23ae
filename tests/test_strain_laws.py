"""Laws a material point must keep, at random states of every kind of hardening."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from strain_cases import constant_steel

from shrinksim.fem.kernels.plasticity import flow_stress, plane_point
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
STRAIN = st.tuples(*[st.floats(-0.02, 0.02)] * 3).map(np.array)
STEP = st.tuples(*[st.floats(-1.0, 1.0)] * 3).map(np.array)
DEVIATOR = np.array([[2.0, -1.0, 0.0], [-1.0, 2.0, 0.0], [0.0, 0.0, 6.0]]) / 3.0


def respond(
    table: StrainTable, T: float, strain: np.ndarray, p: float, alpha: np.ndarray
):
    """Stress, plastic step, tangent, growth of p and new memory of one point."""
    memory = np.array(alpha, float)
    stress, rate, C = np.empty(3), np.empty(3), np.empty((3, 3))
    growth = plane_point(
        T, np.array(strain, float), p, memory, table.start, table.step, table.modulus,
        table.poisson, table.flow_start, table.flow_step, table.plastic, table.flow,
        table.back_stress, table.back_strain, stress, rate, C,
    )  # fmt: skip
    return stress, rate, C, growth, memory


def at_heat(table: StrainTable, T: float) -> tuple[int, float, float]:
    """Row and share of the flow table, and saturation of the back stress, at T."""
    r = (T - table.flow_start) / table.flow_step
    row = min(max(int(r), 0), len(table.flow) - 2)
    share = min(max(r - row, 0.0), 1.0)
    back = table.back_stress
    return row, share, (1.0 - share) * back[row] + share * back[row + 1]


def plane(modes: np.ndarray) -> np.ndarray:
    """xx yy xy of modal values."""
    s = np.sqrt(0.5)
    return np.array([s * (modes[0] + modes[1]), s * (modes[0] - modes[1]), modes[2]])


def mises(s: np.ndarray) -> float:
    return float(np.sqrt(s[0] ** 2 + s[1] ** 2 - s[0] * s[1] + 3.0 * s[2] ** 2))


def worked(name: str, T: float, strain: np.ndarray):
    """State after a first strain: plastic strain, p and memory."""
    _, rate, _, growth, alpha = respond(STEELS[name], T, strain, 0.0, np.zeros(3))
    return rate, growth, alpha


@settings(max_examples=300, deadline=None)
@given(NAMES, HEAT, STRAIN, STEP)
def test_stress_returns_to_the_yield_surface(name, T, strain, step):
    """On it after plastic flow, inside it after none; flow is normal; no volume left."""
    table = STEELS[name]
    plastic, p, alpha = worked(name, T, strain)
    total = strain + 0.01 * step
    stress, rate, _, growth, memory = respond(table, T, total - plastic, p, alpha)
    row, share, back = at_heat(table, T)
    flow, _ = flow_stress(p + growth, row, share, table.plastic, table.flow)
    relative = stress - back * plane(memory)
    if growth == 0.0:
        assert mises(relative) <= flow * (1.0 + 1e-10)
        assert np.array_equal(memory, alpha)
        assert not rate.any()
        return
    assert growth > 0.0
    assert mises(relative) == pytest.approx(flow, rel=1e-8)
    normal = 1.5 * DEVIATOR @ relative / mises(relative)
    assert rate == pytest.approx(growth * normal, rel=1e-7, abs=1e-7 * growth)
    assert relative @ rate >= 0.0  # dissipation
    # elastic law: stress is C (total - plastic), the through-thickness part implied
    modulus = np.interp(
        T, table.start + table.step * np.arange(len(table.modulus)), table.modulus
    )
    c = modulus / (1.0 - table.poisson**2)
    nu = table.poisson
    C = c * np.array([[1, nu, 0], [nu, 1, 0], [0, 0, 0.5 * (1 - nu)]])
    assert stress == pytest.approx(
        C @ (total - plastic - rate), rel=1e-9, abs=1e-9 * modulus * 0.01
    )


@settings(max_examples=300, deadline=None)
@given(NAMES, HEAT, STRAIN, STEP)
def test_tangent_is_the_slope_of_the_stress(name, T, strain, step):
    """Against central differences, away from the corners of the flow table."""
    table = STEELS[name]
    plastic, p, alpha = worked(name, T, strain)
    elastic = strain + 0.01 * step - plastic
    _, _, C, growth, _ = respond(table, T, elastic, p, alpha)
    h = 1e-8
    slope = np.empty((3, 3))
    for k in range(3):
        side = h * np.eye(3)[k]
        parts = [respond(table, T, elastic + s * side, p, alpha) for s in (1, -1)]
        slope[:, k] = (parts[0][0] - parts[1][0]) / (2.0 * h)
        grown = np.array([growth, parts[0][3], parts[1][3]])
        assume(np.all(grown > 0.0) or np.all(grown == 0.0))
        assume(len(set(np.searchsorted(table.plastic, p + grown))) == 1)
    size = np.abs(slope).max()
    assert pytest.approx(slope, rel=0, abs=2e-5 * size) == C


@settings(max_examples=150, deadline=None)
@given(NAMES, HEAT, STRAIN, STEP, st.floats(-3.2, 3.2))
def test_turned_strain_gives_turned_stress(name, T, strain, step, angle):
    """Objectivity of a two-step path."""
    c, s = np.cos(angle), np.sin(angle)
    stress_turn = np.array(
        [
            [c * c, s * s, -2 * c * s],
            [s * s, c * c, 2 * c * s],
            [c * s, -c * s, c * c - s * s],
        ]
    )
    strain_turn = np.linalg.inv(stress_turn).T  # work is the same in both frames
    table = STEELS[name]
    plain, turned = (
        _two_steps(table, T, Q @ strain, Q @ (strain + 0.01 * step))
        for Q in (np.eye(3), strain_turn)
    )
    size = mises(plain[0]) + 1.0
    assert turned[0] == pytest.approx(stress_turn @ plain[0], abs=1e-7 * size)
    assert turned[1] == pytest.approx(strain_turn @ plain[1], abs=1e-11)
    assert turned[2] == pytest.approx(plain[2], rel=1e-7, abs=1e-12)


def _two_steps(table, T, first, second):
    _, rate, _, p, alpha = respond(table, T, first, 0.0, np.zeros(3))
    stress, more, _, growth, _ = respond(table, T, second - rate, p, alpha)
    return stress, rate + more, p + growth


@settings(max_examples=100, deadline=None)
@given(NAMES, HEAT, STRAIN)
def test_opposite_strain_gives_opposite_stress(name, T, strain):
    first, second = (
        respond(STEELS[name], T, sign * strain, 0.0, np.zeros(3)) for sign in (1, -1)
    )
    assert np.array_equal(first[0], -second[0])
    assert np.array_equal(first[1], -second[1])
    assert np.array_equal(first[4], -second[4])
    assert np.array_equal(first[2], second[2])


@settings(max_examples=100, deadline=None)
@given(NAMES, st.floats(-60.0, 1400.0), STRAIN)
def test_no_temperature_or_strain_breaks_a_point(name, T, strain):
    stress, rate, C, growth, memory = respond(
        STEELS[name], T, 5.0 * strain, 0.0, np.zeros(3)
    )
    for values in (stress, rate, C, memory, np.array(growth)):
        assert np.isfinite(values).all()
    assert growth >= 0.0

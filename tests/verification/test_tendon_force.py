"""The force that a pass of line heat leaves along a plate: 0.335 E alpha Q' / (rho c).

N. O. Okerblom's coefficient for shrinkage along a weld, and the tendon force of White and
Leggatt at Cambridge, as reviewed by G. Verhaeghe, Predictive Formulae for Weld
Distortion, 1999, app. C (all from memory).  The coefficient is 2 ln 2 / sqrt(2 pi e),
derived here: peak temperatures of a line source (D. Rosenthal 1941), fibres that
cannot change their length, steel "K".  The heat is given, not solved.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import grid, growing
from scipy.integrate import quad
from strain_cases import (
    ALPHA,
    MM,
    SY,
    E,
    axial,
    constant_steel,
    plane_section,
)

from shrinksim.arrays import FloatArray
from shrinksim.fem.section import SectionBody, section_body, section_ties
from shrinksim.fem.structure import Support, support
from shrinksim.strain import Control, Schedule, StrainHistory, solve_strain

CAPACITY = 4.71e6  # J/m3K
HALF, PER_DEPTH = 500 * MM, 60e6  # m; J/m2, the line's heat over the depth
START = 6 * MM
COEFFICIENT = 2.0 * np.log(2.0) / np.sqrt(2.0 * np.pi * np.e)


def force_of(heat: float) -> float:
    """N left by ``heat`` J per metre of line."""
    return COEFFICIENT * E * ALPHA * heat / CAPACITY


def spreads(count: int) -> FloatArray:
    """Standard deviations of the heat, from the start's to a plate all but even."""
    return np.geomspace(START, 0.4 * HALF, count)


def rise(x: FloatArray, spread: float, heat: float = PER_DEPTH) -> FloatArray:
    """K at x when the heat has spread to a Gaussian: spread^2 = start^2 + 2 a t."""
    top = heat / CAPACITY / (np.sqrt(2.0 * np.pi) * spread)
    return top * np.exp(-0.5 * (x / spread) ** 2)


def half_plate(
    depth: float, level: float, *, stretch: bool
) -> tuple[SectionBody, Support]:
    """The side x > 0 of the line; no curvature; stretch : free along the line."""
    across = growing(60 * MM, 1 * MM, HALF, ratio=1.3)
    mesh = grid(across, np.linspace(0.0, depth, 3))
    line = np.unique(mesh.edges["left"])
    low = line[np.argmin(mesh.points[line, 1])]
    fixed = np.append(2 * line, 2 * low + 1)
    body = section_body(mesh, constant_steel(level=level))
    return body, support(
        section_ties(mesh, held=(not stretch, True, True), fixed=fixed)
    )


def passed(
    body: SectionBody, hold: Support, heat: float = PER_DEPTH, count: int = 60
) -> StrainHistory:
    """The line's heat comes, spreads and goes."""
    x = body.mesh.points[:, 0]
    hot = [20.0 + rise(x, s, heat) for s in spreads(count)]
    T = np.array([0.0 * x + 20.0, *hot, 0.0 * x + 20.0])
    schedule = Schedule(np.arange(len(T), dtype=float), T, np.ones(len(T)))
    return solve_strain(body, schedule, hold, control=Control(tolerance=1e-6))


def force(body: SectionBody, out: StrainHistory) -> float:
    """N along the whole plate."""
    return 2.0 * float((body.weight * out.stress[..., 3]).sum())


def peak_reach() -> float:
    """m K: the peak of an instantaneous line source at x is this over x."""
    return PER_DEPTH / CAPACITY / np.sqrt(2.0 * np.pi * np.e)


def test_coefficient_and_zones():
    """C13: the stress left is sy, then alpha K / x - sy / E, then nothing."""
    limit = SY / E
    inner, outer = (ALPHA * peak_reach() / (n * limit) for n in (2.0, 1.0))
    assert (inner / MM, outer / MM) == pytest.approx((16.5271, 33.0541), abs=1e-4)
    tapering = quad(lambda x: ALPHA * peak_reach() / x - limit, inner, outer)[0]
    total = 2.0 * E * (limit * inner + tapering) / (E * ALPHA * PER_DEPTH / CAPACITY)
    assert total == pytest.approx(COEFFICIENT, rel=1e-10)
    assert pytest.approx(0.33544265, abs=1e-8) == COEFFICIENT
    assert force_of(1e3) == pytest.approx(179.4725, rel=1e-6)  # N of 1 J/mm
    assert force_of(600e3) == pytest.approx(107.684e3, rel=1e-5)


@pytest.mark.parametrize(
    ("depth", "level", "heat"),
    [
        (10 * MM, SY, PER_DEPTH),
        (5 * MM, SY, PER_DEPTH),
        (2 * MM, 1.5 * SY, PER_DEPTH),
        (2 * MM, 0.5 * SY, PER_DEPTH),
        (2 * MM, SY, 0.5 * PER_DEPTH),
    ],
)
def test_force_of_a_restrained_plate(depth, level, heat):
    """C13: whatever the yield stress and the depth, within 1 %.

    Fibres are free across; in the section the gradient along x holds the depth's growth
    back, in a plate 10 mm thick and a zone of 17 mm by 0.04 % of the force.
    """
    body, hold = half_plate(depth, level, stretch=False)
    out = passed(body, hold, heat)
    assert axial(body, out) == pytest.approx(0.0)
    assert force(body, out) == pytest.approx(force_of(heat * depth), rel=0.01)
    assert force(body, out) == pytest.approx(force_of(heat * depth), rel=1.5e-3)


def test_stress_left_across_the_restrained_plate():
    """C13: the three zones."""
    body, hold = half_plate(2 * MM, SY, stretch=False)
    out = passed(body, hold, count=120)
    mesh = body.mesh
    x = mesh.points[mesh.triangles, 0] @ body.N.T
    peak = ALPHA * np.maximum(peak_reach() / np.maximum(x, START), 0.0)
    wanted = E * np.clip(peak - SY / E, 0.0, SY / E)
    assert out.stress[..., 3] == pytest.approx(wanted, abs=0.03 * SY)
    assert np.abs(out.stress[..., :3]).max() < 0.03 * SY


def test_plate_that_shortens():
    """C13: a free plate 1000 x 10 mm, held straight; fibres here, and the tendon's."""
    x = (np.arange(4000) + 0.5) / 4000 * HALF
    both = np.concatenate([-x[::-1], x])
    cold = 0.0 * both + 20.0
    steps = [(cold + rise(both, s), 0.0, 0.0) for s in spreads(240)]
    line = plane_section(
        both,
        np.full(len(both), 10 * MM * HALF / 4000),
        [*steps, (cold, 0.0, 0.0)],
        lambda T: 0.0 * T + E,
        lambda T: ALPHA * (T - 20.0),
        lambda T: 0.0 * T + SY,
    )
    stretch = line[-1][0]
    assert stretch == pytest.approx(-5.1378e-5, rel=1e-3)
    assert -stretch * E * 2.0 * HALF * 10 * MM == pytest.approx(107.894e3, rel=1e-3)
    body, hold = half_plate(10 * MM, SY, stretch=True)
    out = passed(body, hold)
    found = axial(body, out)[-1]
    assert found[0] == pytest.approx(stretch, rel=0.01)
    assert found[0] == pytest.approx(-5.1378e-5, rel=2e-3)
    assert force(body, out) == pytest.approx(0.0, abs=1.0)  # N
    tendon = -found[0] * E * 2.0 * body.area  # what pulls the cold plate together
    assert tendon == pytest.approx(force_of(PER_DEPTH * 10 * MM), rel=0.01)
    left = 2.0 * E * (body.weight * out.plastic_strain[..., 3]).sum()
    assert -left == pytest.approx(tendon, rel=1e-5)

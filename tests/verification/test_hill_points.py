"""Material points in plane stress with known answers.

R. Hill, The Mathematical Theory of Plasticity, Oxford 1950, ch. IV, the thin tube pulled
to yield and then twisted at a held length (from memory; there for nu = 0.5, here for any
nu, derived again), and proportional paths with linear hardening, which a return mapping
follows exactly.  E 210 GPa, nu 0.3, yield 235 MPa.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq
from strain_cases import MPA, NU, SY, E, constant_steel

from shrinksim.fem.kernels.plasticity import plane_point
from shrinksim.shop.steel import StrainTable

G = E / (2.0 * (1.0 + NU))


class Point:
    """A material point that keeps its plastic strain from step to step."""

    def __init__(self, table: StrainTable) -> None:
        self.table = table
        self.plastic, self.p, self.alpha = np.zeros(3), 0.0, np.zeros(3)

    def trial(self, strain: np.ndarray) -> tuple:
        """Stress, plastic step, tangent, growth of p and memory at a total strain."""
        t, alpha = self.table, self.alpha.copy()
        stress, rate, C = np.empty(3), np.empty(3), np.empty((3, 3))
        growth = plane_point(
            20.0, strain - self.plastic, self.p, alpha, t.start, t.step, t.modulus,
            t.poisson, t.flow_start, t.flow_step, t.plastic, t.flow, t.back_stress,
            t.back_strain, stress, rate, C,
        )  # fmt: skip
        return stress, rate, C, growth, alpha

    def go(self, strain: np.ndarray) -> np.ndarray:
        """Stress at a total strain; the state follows."""
        stress, rate, _, growth, self.alpha = self.trial(strain)
        self.plastic = self.plastic + rate
        self.p += growth
        return stress

    def go_with(self, strain: np.ndarray, free: list[int]) -> np.ndarray:
        """The same, with the ``free`` strains found so that their stresses vanish."""
        strain = strain.copy()
        for _ in range(60):
            stress, _, C, _, _ = self.trial(strain)
            if np.abs(stress[free]).max() < 1e-12 * SY:
                self.go(strain)
                return strain
            strain[free] -= np.linalg.solve(C[np.ix_(free, free)], stress[free])
        raise AssertionError(stress)


def hill(m: float) -> tuple[float, float, float, float]:
    """Stress xx and xy, equivalent plastic and total yy strain at gamma = m gamma_y."""

    def gamma(a: float) -> float:
        turn = np.log(1.0 / np.cos(a) + np.tan(a))
        return SY / np.sqrt(3.0) * (np.sin(a) / G + 3.0 / E * (turn - np.sin(a)))

    a = brentq(lambda a: gamma(a) - m * SY / (np.sqrt(3.0) * G), 0.0, 1.57, xtol=1e-15)
    sx, tau = SY * np.cos(a), SY / np.sqrt(3.0) * np.sin(a)
    # eps_x stays sy/E, so its plastic part is what the elastic part gave up
    yy = -NU * sx / E - 0.5 * (SY - sx) / E
    return sx, tau, -SY / E * np.log(np.cos(a)), yy


# gamma / gamma_y; stresses MPa, equivalent plastic strain, strain yy
HILL = [
    (1, 156.21706, 101.35948, 4.5695085e-4, -4.1074566e-4),
    (2, 71.41038, 129.26144, 1.3329450e-3, None),
    (4, 12.83512, 135.47479, 3.2535195e-3, -5.4729989e-4),
]


@pytest.mark.parametrize(("m", "sx", "tau", "p", "yy"), HILL)
def test_tension_to_yield_then_shear_at_held_length(m, sx, tau, p, yy):
    """D1: 0.5 % of yield with 50 steps for each yield shear strain, and first order."""
    closed = hill(m)
    assert np.array(closed[:2]) / MPA == pytest.approx([sx, tau], abs=1e-5)
    assert closed[2] == pytest.approx(p, rel=1e-7)
    if yy is not None:
        assert closed[3] == pytest.approx(yy, rel=1e-7)
    wanted = np.array([closed[0] / SY, closed[1] / SY, closed[2], closed[3]])
    errors, values = [], []
    for steps in (50 * m, 100 * m, 200 * m):
        point = Point(constant_steel())
        strain = point.go_with(np.array([SY / E, -NU * SY / E, 0.0]), [1])
        assert point.p == 0.0
        for part in np.linspace(0.0, 1.0, steps + 1)[1:]:
            strain[2] = part * m * SY / (np.sqrt(3.0) * G)
            strain = point.go_with(strain, [1])
        stress = point.trial(strain)[0]
        found = np.array([stress[0] / SY, stress[2] / SY, point.p, strain[1]])
        values.append(found)
        errors.append(np.abs(found - wanted).max())
        # parts of the yield stress, and of each strain
        assert found[:2] == pytest.approx(wanted[:2], abs=0.005)
        assert found[2:] == pytest.approx(wanted[2:], rel=0.005)
    assert errors[0] / errors[1] == pytest.approx(2.0, abs=0.2)
    assert errors[1] / errors[2] == pytest.approx(2.0, abs=0.2)
    assert 2.0 * values[2] - values[1] == pytest.approx(wanted, abs=1e-4, rel=0)


H = 2e9


@pytest.mark.parametrize("steps", [1, 7])
def test_proportional_paths_with_linear_hardening(steps):
    """D2b: equal biaxial strain 3e-3 and shear 6e-3; exact in any number of steps."""
    stretch = 3e-3
    plane = E / (1.0 - NU)  # p: each plastic strain is p / 2
    p = (plane * stretch - SY) / (H + 0.5 * plane)
    point = Point(constant_steel(slope=H))
    for part in np.arange(1, steps + 1) / steps:
        stress = point.go(part * stretch * np.array([1.0, 1.0, 0.0]))
    through = -2.0 * NU * stress[0] / E - point.plastic[:2].sum()
    assert stress / MPA == pytest.approx([243.75, 243.75, 0.0], rel=1e-8)
    assert point.p == pytest.approx(p, rel=1e-9)
    assert point.p == pytest.approx(4.375e-3, rel=1e-8)
    assert through == pytest.approx(-5.07142857e-3, rel=1e-8)

    shear = 6e-3
    root = np.sqrt(3.0)
    p = (G * shear - SY / root) / (H / root + G * root)
    point = Point(constant_steel(slope=H))
    for part in np.arange(1, steps + 1) / steps:
        stress = point.go(part * shear * np.array([0.0, 0.0, 1.0]))
    assert point.p == pytest.approx(p, rel=1e-9)
    assert point.p == pytest.approx(2.47384134e-3, rel=1e-8)
    assert stress / MPA == pytest.approx([0.0, 0.0, 138.533859], rel=1e-8)


def uniaxial(point: Point, corners: list[float], steps: int) -> float:
    """Stress xx after the strain xx went through the corners, sides free."""
    strain = np.zeros(3)
    for goal in corners:
        for value in np.linspace(strain[0], goal, steps + 1)[1:]:
            strain[0] = value
            strain = point.go_with(strain, [1])
    return float(point.trial(strain)[0][0])


@pytest.mark.parametrize("steps", [1, 9])
def test_uniaxial_reversal_with_linear_hardening(steps):
    """D2b: 0 -> +3e-3 -> -3e-3, isotropic."""
    point = Point(constant_steel(slope=H))
    first = uniaxial(point, [3e-3], steps)
    p = (E * 3e-3 - SY) / (E + H)
    assert point.p == pytest.approx(p, rel=1e-8)
    assert point.p == pytest.approx(1.8632075e-3, rel=1e-7)
    assert first / MPA == pytest.approx(238.726415, rel=1e-8)
    point = Point(constant_steel(slope=H))
    second = uniaxial(point, [3e-3, -3e-3], steps)
    assert second / MPA == pytest.approx(-246.108936, rel=1e-8)
    assert point.p == pytest.approx(5.5544678e-3, rel=1e-7)


def test_kinematic_saturation_and_reversal():
    """Armstrong & Frederick 1966 (CEGB report RD/B/N731, from memory), uniaxial.

    Along the way X = X_inf (1 - exp(-p/p_c)); reversed yield at X - sy.
    """
    back, p_c = 80e6, 2e-3
    point = Point(constant_steel(back=back, back_strain=p_c))
    stress = uniaxial(point, [6e-3], 2000)
    X = back * (1.0 - np.exp(-point.p / p_c))
    assert stress == pytest.approx(SY + X, rel=2e-4)
    top = float(point.plastic[0])
    for share, yields in ((0.999, False), (1.001, True)):
        elastic = (stress - 2.0 * SY * share) / E
        strain = np.array([elastic + top, point.plastic[1] - NU * elastic, 0.0])
        point.go_with(strain, [1])
        assert (point.plastic[0] < top) == yields

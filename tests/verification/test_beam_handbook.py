"""Beams of the handbooks: closed forms.

AISC Steel Construction Manual, table 3-23, and W. C. Young, Roark's Formulas for Stress
and Strain, table of straight beams: the formulas are from memory.  Bows of plain and
overhanging spans are first checked against the theorem of virtual work, int M m / EI dx
(m: moment of a unit force), from moments written down by hand.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from scipy.integrate import quad

from shrinksim.member.line import Bend
from shrinksim.member.setup import beam
from shrinksim.member.setup.beam import BeamLoad, BeamSupport, solve_beam

E, I = 210e9, 8356e-8
EI = E * I
WEIGHT = 5380e-6 * 7850 * 9.81
"""N/m, IPE 300 with A = 5380 mm2; 0.414306 N/mm."""

Moment = Callable[[float], float]


def at(line: beam.Beam, *x: float) -> np.ndarray:
    return beam.height(line, np.array(x))


def moment(line: beam.Beam, *x: float) -> np.ndarray:
    return beam.moment(line, np.array(x))


def virtual_work(M: Moment, m: Moment, *breaks: float) -> float:
    """int M m / EI over pieces between breaks; + the way the unit force pushes."""
    parts = [quad(lambda x: M(x) * m(x), a, b)[0] for a, b in pairwise(breaks)]
    return sum(parts) / EI


def unit(span: float, z: float) -> Moment:
    """Moment of a unit force, + down, at z of a plain span."""
    return lambda x: min(x, z) * (span - max(x, z)) / span


def test_kink_curvature_and_self_weight_of_an_ipe_300():
    """theta a (L - a) / L, k s (2 L - s) / 8 and 5 w L4 / 384 EI, one by one and
    together: 6.666667, 5.000000, 3.600000, 6.480000, 0.398425, 4.601575, 11.081575 mm.
    """
    L, ends = 6.0, [BeamSupport(0.0), BeamSupport(6.0)]
    kink, spread = Bend(2.0, 5e-3), Bend(3.0, 4e-3 * 1.2, 1.2)
    light = solve_beam(L, EI, ends, bends=[kink])
    assert at(light, 2.0, 3.0) == pytest.approx([6.666667e-3, 5e-3], rel=1e-6)
    curved = solve_beam(L, EI, ends, bends=[spread])
    assert at(curved, 1.5, 3.0) == pytest.approx([3.6e-3, 6.48e-3], rel=1e-6)
    all_along = solve_beam(L, EI, ends, bends=[Bend(3.0, 4e-3 * 6.0, 6.0)])
    assert at(all_along, 3.0)[0] == pytest.approx(18e-3, rel=1e-6)
    heavy = solve_beam(L, EI, ends, weight=WEIGHT)
    assert at(heavy, 3.0)[0] == pytest.approx(-0.398425e-3, rel=2e-6)
    assert at(heavy, 3.0)[0] == pytest.approx(-5 * WEIGHT * L**4 / (384 * EI), rel=1e-9)
    both = solve_beam(L, EI, ends, weight=WEIGHT, bends=[kink])
    assert at(both, 3.0)[0] == pytest.approx(4.601575e-3, rel=1e-6)
    three = solve_beam(L, EI, ends, weight=WEIGHT, bends=[kink, spread])
    assert at(three, 3.0)[0] == pytest.approx(11.081575e-3, rel=1e-6)
    assert moment(three, 3.0)[0] == pytest.approx(WEIGHT * L**2 / 8, rel=1e-9)


def test_overhanging_one_support_with_a_load_all_along():
    """Table 3-23, beam overhanging one support, uniformly distributed load."""
    span, a, w = 8.0, 3.0, WEIGHT
    line = solve_beam(span + a, EI, [BeamSupport(0.0), BeamSupport(span)], weight=w)
    R1 = w / (2 * span) * (span**2 - a**2)
    R2 = w / (2 * span) * (span + a) ** 2
    assert line.reactions == pytest.approx([R1, R2], rel=1e-9)
    M1 = w / (8 * span**2) * (span + a) ** 2 * (span - a) ** 2
    (most, sagging), (over, hogging) = beam.greatest_moments(line)
    assert sagging == pytest.approx(M1, rel=1e-9)
    assert most == pytest.approx(0.5 * span * (1 - (a / span) ** 2), rel=1e-9)
    assert (over, hogging) == pytest.approx((span, -w * a**2 / 2), rel=1e-9)
    x1 = a
    tip = w * x1 / (24 * EI) * (
        4 * a**2 * span - span**3 + 6 * a**2 * x1 - 4 * a * x1**2 + x1**3
    )  # fmt: skip

    def M(x: float) -> float:
        return R1 * x + R2 * max(x - span, 0.0) - w * x**2 / 2

    def m(x: float) -> float:
        return -a * x / span if x < span else -(span + a - x)

    assert virtual_work(M, m, 0.0, span, span + a) == pytest.approx(tip, rel=1e-9)
    assert at(line, span + a)[0] == pytest.approx(-tip, rel=1e-9)


def test_overhanging_one_support_with_a_load_at_its_end():
    """Table 3-23, concentrated load at the end of the overhang; it lifts the span."""
    span, a, P = 8.0, 3.0, 5e3
    held = [BeamSupport(0.0, pushes="both"), BeamSupport(span)]
    line = solve_beam(span + a, EI, held, loads=[BeamLoad(span + a, P)])
    assert line.reactions == pytest.approx([-P * a / span, P * (span + a) / span])
    rise = P * a * span**2 / (9 * 3**0.5 * EI)
    third = span / 3**0.5
    lifted = virtual_work(
        lambda x: -P * a / span * x, unit(span, third), 0.0, third, span
    )
    assert -lifted == pytest.approx(rise, rel=1e-9)
    assert at(line, third)[0] == pytest.approx(rise, rel=1e-9)
    tip = P * a**2 * (span + a) / (3 * EI)

    def m(x: float) -> float:
        return -a * x / span if x < span else -(span + a - x)

    work = virtual_work(lambda x: P * m(x), m, 0.0, span, span + a)
    assert work == pytest.approx(tip, rel=1e-9)
    assert at(line, span + a)[0] == pytest.approx(-tip, rel=1e-9)
    assert moment(line, span)[0] == pytest.approx(-P * a, rel=1e-9)


def test_force_anywhere_on_a_span():
    """P b x / (6 EI L) (L2 - b2 - x2) before it, P a2 b2 / (3 EI L) at it."""
    L, a, P = 10.0, 3.5, 2e3
    b = L - a
    line = solve_beam(L, EI, [BeamSupport(0.0), BeamSupport(L)], loads=[BeamLoad(a, P)])

    def M(x: float) -> float:
        return P * b / L * x - P * max(x - a, 0.0)

    bow = P * a**2 * b**2 / (3 * EI * L)
    assert virtual_work(M, unit(L, a), 0.0, a, L) == pytest.approx(bow, rel=1e-9)
    assert at(line, a)[0] == pytest.approx(-bow, rel=1e-9)
    x = 2.0
    before = P * b * x / (6 * EI * L) * (L**2 - b**2 - x**2)
    assert virtual_work(M, unit(L, x), 0.0, x, a, L) == pytest.approx(before, rel=1e-9)
    assert at(line, x)[0] == pytest.approx(-before, rel=1e-9)
    assert moment(line, a)[0] == pytest.approx(P * a * b / L, rel=1e-9)
    shear = beam.shear(line, np.array([0.0, a, L]))
    assert shear == pytest.approx([P * b / L, -P * a / L, -P * a / L], rel=1e-9)


def test_load_over_part_of_a_span():
    """Table 3-23, uniform load partially distributed at one end: R1 = w a (2 L - a) /
    2 L, most moment R12 / 2 w."""
    L, a, w = 10.0, 4.0, 900.0
    line = solve_beam(
        L, EI, [BeamSupport(0.0), BeamSupport(L)], loads=[BeamLoad(a / 2, w * a, a)]
    )
    R1 = w * a / (2 * L) * (2 * L - a)
    assert line.reactions == pytest.approx([R1, w * a**2 / (2 * L)], rel=1e-9)
    (x, most), _ = beam.greatest_moments(line)
    assert (x, most) == pytest.approx((R1 / w, R1**2 / (2 * w)), rel=1e-9)
    x = 7.0  # beyond the load: w a2 (L - x) / (24 EI L) (4 x L - 2 x2 - a2)
    bow = w * a**2 * (L - x) / (24 * EI * L) * (4 * x * L - 2 * x**2 - a**2)

    def M(z: float) -> float:
        return R1 * z - w * z**2 / 2 + w * max(z - a, 0.0) ** 2 / 2

    assert virtual_work(M, unit(L, x), 0.0, a, x, L) == pytest.approx(bow, rel=1e-9)
    assert at(line, x)[0] == pytest.approx(-bow, rel=1e-9)


def test_moments_at_the_ends():
    """Equal end moments bend a circle, M L2 / 8 EI; one alone M L2 / 9 sqrt3 EI."""
    L, M = 6.0, 4e3
    ends = [BeamSupport(0.0, pushes="both"), BeamSupport(L, pushes="both")]
    equal = solve_beam(L, EI, ends, end_moments=(M, M))
    assert at(equal, 3.0)[0] == pytest.approx(-M * L**2 / (8 * EI), rel=1e-9)
    assert moment(equal, 0.0, 2.0, L) == pytest.approx([M, M, M], rel=1e-9)
    one = solve_beam(L, EI, ends, end_moments=(0.0, M))
    deepest, x = M * L**2 / (9 * 3**0.5 * EI), L / 3**0.5
    work = virtual_work(lambda z: M * z / L, unit(L, x), 0.0, x, L)
    assert work == pytest.approx(deepest, rel=1e-9)
    assert at(one, x)[0] == pytest.approx(-deepest, rel=1e-9)
    assert one.reactions == pytest.approx([M / L, -M / L], rel=1e-9)


def test_continuous_over_three_supports():
    """Two equal spans l: R 3/8, 10/8, 3/8 w l (5/4 in the middle), M -w l2 / 8 and
    9/128 w l2 at 3/8 l."""
    span, w = 5.0, WEIGHT
    line = solve_beam(
        10.0, EI, [BeamSupport(0.0), BeamSupport(span), BeamSupport(10.0)], weight=w
    )
    wanted = np.array([3 / 8, 5 / 4, 3 / 8]) * w * span
    assert line.reactions == pytest.approx(wanted, rel=1e-9)
    assert moment(line, span)[0] == pytest.approx(-w * span**2 / 8, rel=1e-9)
    assert moment(line, 3 / 8 * span)[0] == pytest.approx(9 / 128 * w * span**2)


@pytest.mark.parametrize("share", [0.0, 0.3, 0.9, 1.2])
def test_crib_with_a_gap_under_mid_span(share):
    """It touches when 5 w L4 / 384 EI is more than the gap; its force is what bends the
    rest back, R L3 / 48 EI."""
    L, w = 12.0, WEIGHT
    sag = 5 * w * L**4 / (384 * EI)
    gap = share * sag
    rests = [BeamSupport(0.0), BeamSupport(L / 2, -gap), BeamSupport(L)]
    line = solve_beam(L, EI, rests, weight=w)
    force = max(sag - gap, 0.0) * 48 * EI / L**3
    wanted = [(w * L - force) / 2, force, (w * L - force) / 2]
    assert line.reactions == pytest.approx(wanted, rel=1e-9, abs=1e-9 * w * L)
    assert line.clearance[1] == pytest.approx(max(gap - sag, 0.0), abs=1e-12)
    assert bool(line.touching[1]) == (share < 1.0)


def test_far_support_of_two_spans_lifts_off():
    """Table 3-23, two equal spans, load in the middle of one: 13/32, 22/32, -3/32 P if
    held down; without, a plain span whose tail rises by its end slope P l2 / 16 EI."""
    span, P = 5.0, 5e3
    places, load = (0.0, span, 2 * span), [BeamLoad(span / 2, P)]
    held = solve_beam(
        10.0, EI, [BeamSupport(x, pushes="both") for x in places], loads=load
    )
    wanted = np.array([13, 22, -3]) / 32 * P
    assert held.reactions == pytest.approx(wanted, rel=1e-9)
    loose = solve_beam(10.0, EI, [BeamSupport(x) for x in places], loads=load)
    wanted = [P / 2, P / 2, 0.0]
    assert loose.reactions == pytest.approx(wanted, rel=1e-9, abs=1e-9 * P)
    rise = P * span**2 / (16 * EI) * span
    assert loose.clearance == pytest.approx([0.0, 0.0, rise], rel=1e-9, abs=1e-15)
    assert list(loose.touching) == [True, True, False]


def test_bent_up_over_three_supports_it_stands_on_two():
    """A kink up by theta clears the middle by theta L / 4 less its sag; kinked down it
    is carried there, by (theta L / 4 + sag) 48 EI / L3 until the ends lift off."""
    L, w, theta = 12.0, WEIGHT, 4e-3
    sag = 5 * w * L**4 / (384 * EI)
    rests = [BeamSupport(0.0), BeamSupport(L / 2), BeamSupport(L)]
    up = solve_beam(L, EI, rests, weight=w, bends=[Bend(L / 2, theta)])
    assert up.clearance[1] == pytest.approx(theta * L / 4 - sag, rel=1e-9)
    slight = -1e-4
    down = solve_beam(L, EI, rests, weight=w, bends=[Bend(L / 2, slight)])
    force = (-slight * L / 4 + sag) * 48 * EI / L**3
    assert down.reactions[1] == pytest.approx(force, rel=1e-9)
    far = solve_beam(L, EI, rests, weight=w, bends=[Bend(L / 2, -0.1)])
    assert far.reactions[1] == pytest.approx(w * L, rel=1e-9)


def test_prop_on_a_spring():
    """Spring k under mid-span carries 5/8 w L / (1 + 48 EI / k L3)."""
    L, w, k = 10.0, WEIGHT, 4e5
    line = solve_beam(
        L, EI, [BeamSupport(0.0), BeamSupport(5.0, 0.0, k), BeamSupport(L)], weight=w
    )
    force = 5 / 8 * w * L / (1 + 48 * EI / (k * L**3))
    assert line.reactions[1] == pytest.approx(force, rel=1e-9)
    assert at(line, 5.0)[0] == pytest.approx(-force / k, rel=1e-9)

"""A pressurised wall whose gradient of temperature comes and goes: Bree's diagram.

J. Bree, Elastic-plastic behaviour of thin tubes subjected to internal pressure and
intermittent high-heat fluxes, J. Strain Analysis 2 (1967) 226-238, from memory: a wall
under a mean stress x sy, its faces apart by y = E alpha dT / (2 sy), kept from bending,
perfectly plastic and uniaxial.  What hardening changes there is compared with fibres.
Steel "K"; the wall is a section much narrower than thick, free across.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from meshes import rectangle
from scipy.optimize import brentq
from strain_cases import ALPHA, SY, E, axial, constant_steel, ramp, uniform

from shrinksim.arrays import FloatArray
from shrinksim.fem.section import section_body, section_ties
from shrinksim.fem.structure import support
from shrinksim.strain import Control

pytestmark = pytest.mark.slow

THICK, NARROW, LAYERS, STEPS = 0.02, 0.0002, 48, 12
TURN = SY / E


@dataclass(frozen=True)
class Hardening:
    """slope Pa of the flow stress; back stress Pa and its characteristic strain."""

    slope: float = 0.0
    back: float = 0.0
    back_strain: float = 1.0


PERFECT = Hardening()
HARDENED = {
    "isotropic": Hardening(slope=10e9),
    "kinematic": Hardening(back=10e9, back_strain=1.0),  # a straight line of 10 GPa
    "fading": Hardening(back=60e6, back_strain=1e-3),
    "mixed": Hardening(slope=4e9, back=60e6, back_strain=1e-3),
}


def path(y: float, cycles: int) -> FloatArray:
    """Difference of the faces, K: nothing, the mean stress, then on and off."""
    peak = 2.0 * SY * y / (E * ALPHA)
    once = ramp(0.0, peak, 0.0, step=peak / STEPS)
    return np.concatenate([[0.0, 0.0], np.tile(once[1:], cycles)])


def wall(x: float, y: float, cycles: int, steel: Hardening = PERFECT) -> FloatArray:
    """Plastic strain of the wall, in sy / E, after each cycle."""
    body = section_body(
        rectangle(NARROW, THICK, 1, LAYERS), constant_steel(**vars(steel))
    )
    ties = section_ties(body.mesh, held=(False, True, True))
    force = np.zeros(len(ties.target))
    force[-3] = x * SY * body.area
    heat = path(y, cycles)
    fraction = np.ones(len(heat))
    fraction[0] = 0.0
    out = uniform(
        body,
        support(ties, force=ties.reduce(force)),
        20.0 + heat,
        fraction,
        field=body.mesh.points[:, 1] / THICK - 0.5,
        control=Control(tolerance=1e-7),
    )
    return (axial(body, out)[1 :: 2 * STEPS, 0] - x * TURN) / TURN


def returned(
    trial: FloatArray, p: FloatArray, memory: FloatArray, steel: Hardening
) -> tuple[FloatArray, FloatArray]:
    """Plastic growth (signed) of uniaxial fibres by bisection, and their new memory."""
    sign = np.sign(trial - steel.back * memory)
    low = np.zeros_like(trial)
    high = np.full_like(trial, 0.01)
    for _ in range(40):
        grown = 0.5 * (low + high)
        after = (memory + sign * grown / steel.back_strain) / (
            1.0 + grown / steel.back_strain
        )
        left = sign * (trial - steel.back * after) - E * grown
        over = left > SY + steel.slope * (p + grown)
        low, high = np.where(over, grown, low), np.where(over, high, grown)
    flows = sign * (trial - steel.back * memory) > SY + steel.slope * p
    return np.where(flows, sign * grown, 0.0), np.where(flows, after, memory)


def fibres(
    x: float, y: float, cycles: int, steel: Hardening = PERFECT, count: int = 96
) -> FloatArray:
    """The same wall of uniaxial fibres of one strain; the force closed by brentq."""
    across = (np.arange(count) + 0.5) / count - 0.5
    plastic, p, memory = np.zeros((3, count))
    strain, ends = 0.0, []
    for heat in path(y, cycles)[1:]:
        free = ALPHA * heat * across

        def miss(e: float, free=free, plastic=plastic, p=p, memory=memory) -> float:
            trial = E * (e - free - plastic)
            grown, _ = returned(trial, p, memory, steel)
            return float((trial - E * grown).mean() - x * SY)

        strain = brentq(miss, strain - 20 * TURN, strain + 20 * TURN, xtol=1e-10)
        grown, memory = returned(E * (strain - free - plastic), p, memory, steel)
        plastic, p = plastic + grown, p + np.abs(grown)
        ends.append(strain)
    return (np.array(ends[:: 2 * STEPS]) - x * TURN) / TURN


def steady(x: float, y: float) -> float:
    """Bree's ratchet strain of a cycle over sy / E: regions R1 and R2, else none."""
    if x * y > 1.0 and x < 0.5:
        return 2.0 * (x * y - 1.0)
    if x + 0.25 * y > 1.0:
        return 2.0 * y * (1.0 - 2.0 * np.sqrt((1.0 - x) / y))
    return 0.0


# mean stress and gradient; plastic strain of the first and of a later cycle, sy / E
C5 = [
    (0.7, 1.5, 0.61672, 0.316718),
    (0.8, 1.0, 0.41115, 0.211145),
    (0.6, 1.5, 0.35081, 0.0),
    (0.6, 1.0, 0.13509, 0.0),
]


@pytest.mark.parametrize(("x", "y", "first", "later"), C5)
def test_ratchet_and_shakedown(x, y, first, later):
    """C5: regions R1 and S1, in which the wall ratchets and settles."""
    assert steady(x, y) == pytest.approx(later, abs=1e-6)
    grown = np.diff(wall(x, y, 5))
    line = np.diff(fibres(x, y, 2, count=400))
    assert line == pytest.approx([first, later], rel=5e-4, abs=1e-6)
    assert grown[0] == pytest.approx(line[0], rel=0.01)
    assert grown[1:] == pytest.approx(steady(x, y), rel=0.01, abs=1e-6)


@pytest.mark.parametrize(("x", "y"), [(0.3, 4.0), (0.4, 3.0)])
def test_ratchet_across_the_whole_wall(x, y):
    """Region R2: both faces flow, 2 (x y - 1) a cycle from the second on."""
    assert steady(x, y) == 2.0 * (x * y - 1.0)
    assert np.diff(wall(x, y, 4))[1:] == pytest.approx(steady(x, y), rel=0.01)


def test_wall_under_the_elastic_limit_does_not_flow():
    """Region E: x + y <= 1."""
    assert np.abs(wall(0.6, 0.399, 2)).max() < 1e-9


@pytest.mark.parametrize(("y", "reversed_too"), [(1.95, False), (2.05, True)])
def test_reversed_yield_starts_at_its_gradient(y, reversed_too):
    """y = 2: above it the faces of a settled wall flow to and fro (region P)."""
    body = section_body(rectangle(NARROW, THICK, 1, LAYERS), constant_steel())
    hold = support(section_ties(body.mesh, held=(True, True, True)))
    field = body.mesh.points[:, 1] / THICK - 0.5
    grown = [
        uniform(body, hold, 20.0 + path(y, n)[1:], field=field).equivalent_plastic.sum()
        for n in (2, 4)
    ]
    assert grown[0] > 0.0
    assert (grown[1] > grown[0] * (1.0 + 1e-6)) == reversed_too


@pytest.mark.parametrize("name", sorted(HARDENED))
def test_hardening_ends_the_ratchet(name):
    """Every kind ends it here, cycle by cycle as in the fibres; perfect steel goes on."""
    x, y = 0.7, 1.5
    grown = np.diff(wall(x, y, 6, HARDENED[name]))
    line = np.diff(fibres(x, y, 6, HARDENED[name]))
    assert grown == pytest.approx(line, rel=0.01)
    assert np.all(np.diff(grown) < 0.0)
    assert grown[5] < 0.5 * grown[1] < 0.5 * steady(x, y)

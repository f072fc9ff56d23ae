"""Pieces joined: kink and step from readings; bounds and a stand-in for the weld."""

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import shrinksim
from shrinksim.member.line import Bend, offsets
from shrinksim.member.survey.readings import Readings
from shrinksim.member.survey.shape import fit_shape
from shrinksim.member.survey.splice import (
    WeldPass,
    angular_bend,
    filling_shrinkage,
    flange_kink,
    groove_width,
    joints,
    shrinkage_ceiling,
    weld_cautions,
    weld_tables,
)
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.plate import Plate
from shrinksim.views.reading import case_from

LENGTH, ERROR, AT = 12.0, 1.5e-3, 5.0


def joined(rng, kink, step, stations=26):
    x = np.linspace(0.0, LENGTH, stations)
    y = offsets([Bend(AT, kink)], x, LENGTH) + step * ((x > AT) - x / LENGTH)
    y = y + rng.normal(0.0, ERROR, stations)
    return fit_shape(Readings("camber", x, y, ERROR), LENGTH, (AT,))


@pytest.mark.slow
def test_kink_and_step_are_recovered_within_their_sigma():
    rng, kinks, steps = np.random.default_rng(11), [], []
    for _ in range(120):
        shape = joined(rng, 15e-3, 6e-3)
        (joint,) = joints(shape)
        if joint.kink is None or joint.kink_sigma is None:
            continue
        kinks.append((joint.kink - 15e-3) / joint.kink_sigma)
        steps.append((joint.step - 6e-3) / joint.step_sigma)
    for pulls in (kinks, steps):
        assert np.sum(np.abs(pulls) < 3.0) >= 0.95 * 120
        assert 0.8 <= np.std(pulls) <= 1.25


def test_a_sound_splice_is_straight():
    rng = np.random.default_rng(12)
    shapes = [joined(rng, 0.0, 0.0) for _ in range(60)]
    assert sum(not s.bends for s in shapes) >= 54
    steps = [s.steps[0].height / s.steps[0].sigma for s in shapes]
    assert 0.75 <= np.std(steps) <= 1.3


def test_the_line_has_the_step():
    shape = joined(np.random.default_rng(1), 0.0, 10e-3)
    (step,) = shape.steps
    jump = np.interp(AT + 0.05, shape.x, shape.line) - np.interp(
        AT, shape.x, shape.line
    )
    assert jump == pytest.approx(step.height, rel=0.02)
    assert shape.line[0] == pytest.approx(0.0, abs=1e-12)
    assert shape.line[-1] == pytest.approx(0.0, abs=1e-12)
    (joint,) = joints(shape)
    assert "higher" in joint.text


@given(st.floats(0.02, 0.4), st.floats(1.0, 1000.0), st.floats(3e-3, 40e-3))
def test_the_ceiling_is_above_any_expansion_of_the_same_heat(width, rise, thickness):
    """Energy: a Gaussian of temperature over a plate, heat content and elongation of
    EN 1993-1-2:2005, 3.4.1.1 and 3.4.1.2, integrated across.
    """
    y = np.linspace(-5.0 * width, 5.0 * width, 2001)
    T = 20.0 + rise * np.exp(-0.5 * (y / width) ** 2)
    heat = thickness * np.trapezoid(curves.heat_content(T), y)
    grown = np.trapezoid(curves.elongation(T), y)
    assert grown <= shrinkage_ceiling(heat, thickness) * (1.0 + 1e-9)


def test_ceiling_with_constant_properties():
    """Expansion across an instantaneous line source, alpha q / (rho c d): the integral
    of Rykalin 1951 and Rosenthal 1941 (from memory), q/d / sqrt(4 pi k rho c t)
    exp(-y2/4at), whatever the time.  Properties of EN 1993-1-2 at 20 degC.
    """
    alpha, rho_c, d, q = 12.16e-6, 7850.0 * 439.802, 0.010, 600e3
    a = 45.0 / rho_c
    y = np.linspace(-1.0, 1.0, 20001)
    for t in (5.0, 60.0):
        dT = q / d / math.sqrt(4.0 * math.pi * 45.0 * rho_c * t)
        grown = np.trapezoid(alpha * dT * np.exp(-(y**2) / (4.0 * a * t)), y)
        assert grown == pytest.approx(alpha * q / (rho_c * d), rel=1e-6)
    assert shrinkage_ceiling(q, d) == pytest.approx(alpha * q / (rho_c * d), rel=5e-3)


def test_filling_contracts_by_its_width():
    """EN 1993-1-2:2005, 3.4.1.1: 17.8e-3 at 1200 degC.  V of 60 degrees, gap 2 mm."""
    width = groove_width(0.010)
    assert width == pytest.approx(0.002 + 0.010 * math.tan(math.radians(30.0)))
    assert filling_shrinkage(width) == pytest.approx(17.8e-3 * width, rel=1e-9)


def test_flanges_that_shrink_apart_kink_the_member():
    """Sections stay plane: a shorter top flange makes the top hollow."""
    turn = flange_kink(2e-3, 1e-3, 0.29)
    assert turn == pytest.approx(-1e-3 / 0.29)
    middle = offsets([Bend(6.0, turn)], np.array([6.0]), LENGTH)
    assert middle[0] < 0.0


@pytest.mark.parametrize(("face", "sign"), [("top", -1), ("right", -1), ("bottom", 1)])
def test_a_joint_closes_to_its_welded_face(face, sign):
    assert np.sign(angular_bend(4.0, 10e-3, face).turn) == sign


ARC = WeldPass(power=5e3, efficiency=0.8, speed=8e-3)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_stand_in_is_a_case(units):
    tables = weld_tables(
        ARC, thickness=0.008, length=1.0, steel={"grade": "S235"}, edges="held",
        units=units,
    )  # fmt: skip
    case = case_from(tables, "weld", Path())
    assert case.member.shape == Plate(0.24, 0.008)
    torch = case.heats[0].patterns[0].torch
    heat = torch.power * torch.efficiency / torch.speed
    assert heat == pytest.approx(ARC.heat, rel=1e-6)


@pytest.mark.slow
def test_held_edges_give_more_than_free_ones_and_less_than_the_ceiling():
    found = {}
    for edges in ("free", "held"):
        tables = weld_tables(
            ARC, thickness=0.008, length=1.0, steel={"grade": "S235"}, edges=edges
        )
        tables["numerics"] = {"element": "4 mm", "far_element": "16 mm"}
        summary = shrinksim.run(case_from(tables, "weld", Path())).summary()
        found[edges] = (
            summary["angular_change_mrad"],
            summary["transverse_shrinkage_mm"] / 1e3,
        )
    assert found["held"][0] > max(found["free"][0], 0.0)
    assert found["free"][1] < found["held"][1] <= shrinkage_ceiling(ARC.heat, 0.008)


@pytest.mark.parametrize("section", [section_named("IPE 300"), Plate(0.2, 0.012)])
@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_is_said_of_a_weld(section, units):
    said = weld_cautions(AT, section, LENGTH, units)
    text = " ".join(caution.text for caution in said)
    assert "no prediction" in text
    assert (" in" if units == "us" else " mm") in text
    if isinstance(section, Plate):
        assert "closes to that face" in text
    else:
        # 1 mm over 300 - 10.7 mm between the flanges
        assert "3.5 mrad" in text

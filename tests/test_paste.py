"""What is pasted gives the formula: as Python, and in a spreadsheet."""

import math
import re

import pytest
from calibration_runs import DEGREE, made_up_calibration
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.calibration.design import KINDS
from shrinksim.calibration.export import arguments
from shrinksim.calibration.formula_use import (
    Calibration,
    estimated,
    load_calibration,
    vee_heat,
)
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.plate import Plate

# what is pasted


def practical(calibration, heat, section):
    """The arguments of a pasted formula for a heat."""
    table = {
        "angle_deg": heat.angle / DEGREE, "depth_ratio": heat.depth_ratio,
        "temperature_C": heat.temperature, "moment_ratio": heat.moment_ratio,
        "radius_mm": heat.radius * 1e3, "power_kW": heat.power * 1e-3,
        "yield_MPa": heat.yield_stress * 1e-6, "jack": heat.jack, "mist": heat.mist,
    }  # fmt: skip
    if isinstance(section, Plate):
        table |= {"width_mm": section.width * 1e3}
        table |= {"thickness_mm": section.thickness * 1e3}
    else:
        table |= {
            "depth_mm": section.depth * 1e3, "web_mm": section.web_thickness * 1e3,
            "flange_width_mm": section.flange_width * 1e3,
            "flange_mm": section.flange_thickness * 1e3,
        }  # fmt: skip
    return {name: table[name] for name in arguments(calibration)}


def sheet_value(formula, cells):
    """A spreadsheet's formula by a small parser of its own: + - * / ^, functions, cells."""
    tokens = re.findall(
        r"\d+\.?\d*(?:E-?\d+)?|[A-Z]+\d+|[A-Z]+(?=\()|[-+*/^()]", formula
    )
    assert "=" + "".join(tokens) == formula
    functions = {
        "SIN": math.sin, "TAN": math.tan, "LN": math.log, "EXP": math.exp,
        "RADIANS": math.radians,
    }  # fmt: skip
    at = 0

    def take():
        nonlocal at
        at += 1
        return tokens[at - 1]

    def peek():
        return tokens[at] if at < len(tokens) else ""

    def whole():
        value = part()
        while peek() in ("+", "-"):
            value = value + part() if take() == "+" else value - part()
        return value

    def part():
        value = power()
        while peek() in ("*", "/"):
            value = value * power() if take() == "*" else value / power()
        return value

    def power():
        value = one()
        while peek() == "^":
            take()
            value = value ** one()
        return value

    def one():
        token = take()
        if token == "-":
            return -one()
        if token in functions:
            assert take() == "("
            value = functions[token](whole())
            assert take() == ")"
            return value
        if token == "(":
            value = whole()
            assert take() == ")"
            return value
        return cells[token] if token in cells else float(token)

    value = whole()
    assert at == len(tokens)
    return value


@pytest.mark.slow
@pytest.mark.parametrize("of", [*KINDS, "made up"])
@settings(max_examples=30, deadline=None)
@given(share=st.lists(st.floats(0.0, 1.0), min_size=8, max_size=8))
def test_what_is_pasted_gives_the_formula(of, share):
    one: Calibration = (
        made_up_calibration().calibration if of == "made up" else load_calibration(of)
    )
    angle, ratio, hot, m, a, b, jack, mist = share
    if one.of == "plates":
        section = Plate(0.06 + 0.24 * a, 0.005 + 0.015 * b)
    else:
        section = section_named(
            ("IPE 160", "IPE 500", "HEB 300", "W10X39")[int(3.9 * a)]
        )
    heat = vee_heat(
        one.of, section, angle=(20 + 40 * angle) * DEGREE, depth_ratio=0.5 + 0.4 * ratio,
        temperature=450 + 200 * hot, ratio=-0.25 + 0.75 * m, radius=0.01 + 0.03 * b,
        power=500.0 + 4000.0 * a, yield_stress=235e6 + 120e6 * b, jack=jack > 0.5,
        mist=mist > 0.5,
    )  # fmt: skip
    wanted = 1e3 * estimated(one, heat).turn
    given_here = practical(one, heat, section)
    text = one.record["python"]
    assert len(text.strip().splitlines()) <= 20
    assert max(map(len, text.splitlines())) <= 92
    space = {}
    exec(text, space)
    assert space["turn_mrad"](**given_here) == pytest.approx(wanted, rel=1e-9, abs=1e-9)
    sheet = one.record["spreadsheet"]
    cells = {cell: given_here[name] for cell, name in sheet["cells"].items()}
    assert sheet_value(sheet["formula"], cells) == pytest.approx(
        wanted, rel=1e-9, abs=1e-9
    )

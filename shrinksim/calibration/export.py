"""A formula in words, as a Python function, and as a spreadsheet's cell, to paste.

All three are written from the same texts of the variables, which say in practical units
what `measures` computes.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from shrinksim.calibration.fit import ROUND
from shrinksim.calibration.variables import Term

if TYPE_CHECKING:
    from shrinksim.calibration.formula_use import Calibration

ARGUMENTS: Mapping[str, tuple[str, ...]] = {
    "plates": ("width_mm", "thickness_mm"),
    "i sections strong": ("depth_mm", "flange_width_mm", "web_mm", "flange_mm"),
    "i sections weak": ("depth_mm", "flange_width_mm", "web_mm", "flange_mm"),
}
"""Dimensions of the section that each kind takes."""

VIEW_DIMENSIONS: Mapping[str, tuple[str, str]] = {
    "plates": ("width_mm", "thickness_mm"),
    "i sections strong": ("depth_mm", "web_mm"),
    "i sections weak": ("flange_width_mm", "flange_mm"),
}
"""Depth of the view and thickness under the torch."""

BEFORE = ("angle_deg", "depth_ratio")
AFTER = (
    "temperature_C", "moment_ratio", "radius_mm", "power_kW", "yield_MPa", "jack", "mist",
)  # fmt: skip

EPS = (
    "6.1e-6 * (F - 70) + 0.95e-9 * (F ** 2 - 4900)",
    "yield_MPa / 200000 * (-0.72 + 0.0042 * F - 2.75e-6 * F ** 2)",
    "(0.5 + 0.001333 * F - 1.111e-6 * F ** 2)",
)
"""The temperature strain, F in degF: first - second / third."""

TEXTS: Mapping[str, str] = {
    "m": "moment_ratio",
    "d": "(depth_ratio - 0.75)",
    "w": "log(depth_ratio * {depth} / radius_mm / 8)",
    "o": "radius_mm / (2 * depth_ratio * {depth} * tan(radians(angle_deg) / 2))",
    "s": "log(power_kW * 1e6 / (40 * {thickness} * (temperature_C - 20)) / 10)",
    "h": "((temperature_C - 600) / 100)",
    "a": "(angle_deg / 40 - 1)",
    "y": "(yield_MPa / 235 - 1)",
    "j": "jack",
    "k": "mist",
    "t": "log({thickness} / 10)",
    "f": "log(flange_width_mm * flange_mm / (depth_mm * web_mm))",
}


def text_of(of: str, name: str) -> str:
    """A variable in practical units."""
    depth, thickness = VIEW_DIMENSIONS[of]
    return TEXTS[name].format(depth=depth, thickness=thickness)


def used_in(calibration: Calibration) -> list[str]:
    """Variables of the formula, in the order of `TEXTS`."""
    found = {name for term in calibration.terms for name in term}
    return [name for name in TEXTS if name in found]


def arguments(calibration: Calibration) -> list[str]:
    """Arguments of the pasted formula, only those that it uses."""
    of = calibration.of
    said = " ".join([*EPS, *(text_of(of, name) for name in used_in(calibration))])
    needed = {*re.findall(r"[A-Za-z_]\w*", said), "angle_deg", "temperature_C"}
    return [n for n in (*BEFORE, *ARGUMENTS[of], *AFTER) if n in needed]


def product(term: Term, coefficient: float, first: bool) -> str:
    """A term with its coefficient and sign: " - 0.123 * m * w"."""
    sign = "-" if coefficient < 0.0 else "+"
    head = ("-" if coefficient < 0.0 else "") if first else f" {sign} "
    return head + " * ".join([digits(abs(coefficient)), *term])


def digits(value: float) -> str:
    """A coefficient to six digits, never as 1e-05."""
    return f"{float(f'{value:.6g}'):.10f}".rstrip("0").rstrip(".")


def factor(calibration: Calibration) -> str:
    """The sum of the terms, by the variables' letters."""
    pairs = zip(calibration.terms, calibration.coefficients.tolist(), strict=True)
    return "".join(product(t, c, k == 0) for k, (t, c) in enumerate(pairs))


def formula_text(calibration: Calibration) -> str:
    """The formula in one line, with letters."""
    inside = factor(calibration).replace(" * ", " ")
    scale = "turn = 2 sin(angle / 3) x eps x "
    if calibration.bend == "straight":
        return f"{scale}({inside})"
    return f"{scale}{ROUND} ln(1 + exp(x / {ROUND})), x = {inside}"


def python_text(calibration: Calibration) -> str:
    """A Python function of at most 20 lines that gives the turn in mrad."""
    given, of = arguments(calibration), calibration.of
    head = textwrap.fill(
        f"def turn_mrad({', '.join(given)}):", 88, subsequent_indent=" " * 14
    )
    variables = [
        f"{name} = {_bare(text_of(of, name))}"
        for name in used_in(calibration)
        if text_of(of, name) != name
    ]
    short, line = [], ""
    for one in variables:
        joined = f"{line}; {one}" if line else one
        if line and len(joined) > 80:
            short.append(line)
            joined = one
        line = joined
    short += [line] * bool(line)
    sums = _wrapped_sum(factor(calibration), calibration.bend == "straight")
    body = [
        f'"""Turn of one heat, mrad, {of}; shrinksim, {_licence(calibration)}."""',
        f"from math import {_names([*short, *sums])}",
        "F = 1.8 * temperature_C + 32",
        f"eps = ({EPS[0]}",
        f"       - {EPS[1]}",
        f"       / {EPS[2]})",
        *short,
        *sums,
    ]
    lines = [line for part in body for line in part.split("\n")]
    return "\n".join([head, *(f"    {line}" for line in lines)]) + "\n"


def _names(lines: Sequence[str]) -> str:
    """Imports of the function from the maths library."""
    needed = {"radians", "sin"} | {
        name
        for name in ("exp", "log", "tan")
        if any(f"{name}(" in line for line in lines)
    }
    return ", ".join(sorted(needed))


def _bare(text: str) -> str:
    """A text of a variable without the brackets that it needs inside a formula."""
    return text[1:-1] if text.startswith("(") else text


def _wrapped_sum(sum_text: str, straight: bool) -> list[str]:
    """The lines that add the terms and return the turn, broken before signs."""
    whole = "2000 * sin(radians(angle_deg) / 3) * eps"
    lines, line = [f"return {whole} * (" if straight else "x = ("], "    "
    for part in re.split(r"(?= [+-] )", sum_text):
        if len(line) + len(part) > 80:
            lines.append(line)
            line = "   "
        line += part
    lines.append(line + ")")
    if straight:
        return lines
    return [*lines, f"return {whole} * {ROUND} * log(1 + exp(x / {ROUND}))"]


def _licence(calibration: Calibration) -> str:
    return str(calibration.record.get("licence", "CC0-1.0")).split(" ")[0]


def spreadsheet(calibration: Calibration) -> dict[str, Any]:
    """A cell's formula and what stands in the cells that it takes.

    cells : cell -> what it is, row 2 under a row of headings.  formula : gives mrad.
    """
    given = arguments(calibration)
    cells = {name: f"{chr(ord('A') + k)}2" for k, name in enumerate(given)}
    sums = factor(calibration)
    for name in used_in(calibration):
        sums = re.sub(rf"\b{name}\b", f"@{name}@", sums)
    for name in used_in(calibration):
        sums = sums.replace(f"@{name}@", text_of(calibration.of, name))
    eps = re.sub(r"\bF\b", "(1.8 * temperature_C + 32)", "{} - {} / {}".format(*EPS))
    if calibration.bend == "rounded":
        sums = f"{ROUND} * log(1 + exp(({sums}) / {ROUND}))"
    said = f"2000 * sin(radians(angle_deg) / 3) * ({eps}) * ({sums})"
    for name, cell in sorted(cells.items(), key=lambda pair: -len(pair[0])):
        said = re.sub(rf"\b{name}\b", cell, said)
    said = re.sub(
        r"(exp|radians|sin|tan)\(", lambda found: found[0].upper(), said
    ).replace("log(", "LN(")
    said = said.replace(" ** ", "^")
    said = re.sub(r"(\d)e(-?\d+)", r"\1E\2", said).replace(" ", "")
    return {
        "cells": {cell: name for name, cell in cells.items()},
        "formula": "=" + said,
    }

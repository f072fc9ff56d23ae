"""Scales of axes and tables in the reader's units."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Protocol, TypeGuard

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.units.quantity import quantity

AXES = {
    "length": ("mm", "in"),
    "temperature": ("degC", "degF"),
    "stress": ("MPa", "ksi"),
    "moment": ("kN m", "kip ft"),
    "curvature": ("mrad/m", "mrad/ft"),
}
"""dimension -> metric and US unit of its axes."""


@dataclass(frozen=True)
class Scale:
    """Turns SI (degC) into a unit: (value - zero) / one."""

    unit: str
    zero: float
    one: float

    def __call__(self, values: Any) -> FloatArray:
        """``values`` in this unit, any shape."""
        return (np.asarray(values, float) - self.zero) / self.one


class Asked(Protocol):
    """A case's units to print in: metric or us."""

    @property
    def print_units(self) -> str: ...


class Printed(Protocol):
    """What is told in the units that its case prints in."""

    @property
    def case(self) -> Asked: ...


class Fraction(Protocol):
    """How much of the load is on, (s,) 0 to 1."""

    @property
    def fraction(self) -> FloatArray: ...


class Strained(Printed, Protocol):
    """The same with the history of its load."""

    @property
    def strain(self) -> Fraction: ...


def three(value: float) -> str:
    """Three digits, more before the point, and no exponent."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def clock(seconds: float) -> str:
    """A time as one would say it."""
    whole = round(seconds)
    if whole < 180:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s".removesuffix(" 0 s")
    return f"{whole // 3600} h {whole % 3600 // 60} min".removesuffix(" 0 min")


def units_of(result: Printed) -> str:
    """The case's print_units: metric or us."""
    return "us" if result.case.print_units == "us" else "metric"


def scale(result: Printed, dimension: str) -> Scale:
    """The scale of a dimension's axes in the units that the case prints in."""
    return scale_in(units_of(result), dimension)


def given(value: Any) -> TypeGuard[str]:
    """Whether a load of the resolved case is there and not zero."""
    return isinstance(value, str) and float(value.split()[0]) != 0.0


def newtons(result: Strained, value: str, history: FloatArray) -> str:
    """What a moment told in plastic moments comes to, as it goes on.

    history : (s,) N m, at the knots of the strain.
    """
    first = int(np.argmax(result.strain.fraction > 0))
    moment = abs(float(history[first]))
    if not value.endswith("Mp") or moment == 0.0:
        return ""
    unit = scale(result, "moment")
    return f"{three(float(unit(moment)))} {unit.unit}".replace(" ", "\u00a0")


def scale_in(units: str, dimension: str) -> Scale:
    """The scale of a dimension's axes, units "metric" or "us"."""
    unit = AXES[dimension][units == "us"]
    zero = quantity(f"0 {unit}", dimension)
    label = unit.replace("deg", "°")
    return Scale(label, zero, quantity(f"1 {unit}", dimension) - zero)

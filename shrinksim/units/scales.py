"""Scales of axes and tables in the units of the reader, and numbers as text."""

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
    """Scale from SI (degC) to a unit: (value - zero) / one."""

    unit: str
    zero: float
    one: float

    def __call__(self, values: Any) -> FloatArray:
        """``values`` in this unit, any shape."""
        return (np.asarray(values, float) - self.zero) / self.one


class PrintedCase(Protocol):
    """A case with its units to print in: metric or us."""

    @property
    def print_units(self) -> str: ...


class Printed(Protocol):
    """A result that is printed in the units of its case."""

    @property
    def case(self) -> PrintedCase: ...


class Fraction(Protocol):
    """A strain history with the share (s,) of the load, 0 to 1."""

    @property
    def fraction(self) -> FloatArray: ...


class Strained(Printed, Protocol):
    """A printed result with its strain history."""

    @property
    def strain(self) -> Fraction: ...


def three_digits(value: float) -> str:
    """Number to three digits, all digits before the point, without exponent."""
    return f"{value:.0f}" if abs(value) >= 1000.0 else f"{value:.3g}"


def time_text(seconds: float) -> str:
    """Time in words: "45 s", "12 min 5 s", "2 h 10 min"."""
    whole = round(seconds)
    if whole < 180:
        return f"{whole} s"
    if whole < 3600:
        return f"{whole // 60} min {whole % 60} s".removesuffix(" 0 s")
    return f"{whole // 3600} h {whole % 3600 // 60} min".removesuffix(" 0 min")


def units_of(result: Printed) -> str:
    """Print units of the case: metric or us."""
    return "us" if result.case.print_units == "us" else "metric"


def scale(result: Printed, dimension: str) -> Scale:
    """Scale of the axes of a dimension, in the print units of the case."""
    return scale_in(units_of(result), dimension)


def is_nonzero(value: Any) -> TypeGuard[str]:
    """Whether a load of the resolved case is given and not zero."""
    return isinstance(value, str) and float(value.split()[0]) != 0.0


def moment_in_units(result: Strained, value: str, history: FloatArray) -> str:
    """Moment in the print units for one given as a multiple of Mp; "" for others.

    history : (s,) N m, at the knots of the strain.
    """
    first = int(np.argmax(result.strain.fraction > 0))
    moment = abs(float(history[first]))
    if not value.endswith("Mp") or moment == 0.0:
        return ""
    unit = scale(result, "moment")
    return f"{three_digits(float(unit(moment)))} {unit.unit}".replace(" ", "\u00a0")


def scale_in(units: str, dimension: str) -> Scale:
    """Scale of the axes of a dimension, units "metric" or "us"."""
    unit = AXES[dimension][units == "us"]
    zero = quantity(f"0 {unit}", dimension)
    label = unit.replace("deg", "°")
    return Scale(label, zero, quantity(f"1 {unit}", dimension) - zero)

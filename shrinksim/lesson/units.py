"""Numbers of a lesson in the reader's units: as text, and for the drawings of the page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.units.quantity import quantity, show

MINUS = "\u2212"


@dataclass(frozen=True)
class PageUnit:
    """A unit of the page: (value - zero) / one, with so many digits."""

    name: str
    words: str
    zero: float
    one: float
    digits: int

    def __call__(self, values: Any) -> FloatArray:
        """``values`` in this unit, any shape."""
        return (np.asarray(values, float) - self.zero) / self.one

    def text(self, value: float, signed: bool = False) -> str:
        """A value with its unit in words; signed: + before what grows."""
        number = float(self(value))
        number_text = f"{abs(number):.{self.digits}f}".removesuffix(".0")
        sign = ""
        if float(number_text) != 0.0:
            sign = MINUS if number < 0.0 else "+" * signed
        return f"{sign}{number_text} {self.words}"


METRIC = {
    "temperature": PageUnit("°C", "°C", 0.0, 1.0, 0),
    "stress": PageUnit("MPa", "MPa", 0.0, 1e6, 1),
    "per": PageUnit("mm/m", "mm per metre", 0.0, 1e-3, 2),
}
US = {
    "temperature": PageUnit("°F", "°F", (0.0 - 32.0) / 1.8, 1.0 / 1.8, 0),
    "stress": PageUnit("ksi", "ksi", 0.0, quantity("1 ksi", "stress"), 1),
    "per": PageUnit("in per 10 ft", "in per 10 ft", 0.0, 1.0 / 120.0, 3),
}
"""Strains and rotations are given as length per length: 1 mm per m is 1 mrad."""

SYSTEMS = {"metric": METRIC, "us": US}
OTHER = {"metric": "us", "us": "metric"}


def formatters(units: str) -> dict[str, Callable[..., str]]:
    """Functions from SI (degC) to text, for the template."""
    system = SYSTEMS[units]

    def length(value: float) -> str:
        return show(value, "length", units)

    here, there = (SYSTEMS[name]["temperature"] for name in (units, OTHER[units]))
    return {
        "deg": here.text,
        "both": lambda celsius: f"{here.text(celsius)} ({there.text(celsius)})",
        "stress": system["stress"].text,
        "per": system["per"].text,
        "length": length,
        "clock": clock,
        "percent": lambda share: f"{100.0 * share:.0f} %",
    }


def clock(seconds: float) -> str:
    """A time in words."""
    if seconds < 180.0:
        return f"{seconds:.0f} seconds"
    return f"{seconds / 60.0:.1f} minutes"


def drawing_units(units: str) -> dict[str, Any]:
    """Units for the drawings of the page.

    byte : temperature = byte[0] + byte[1] * b of the grids.  no... : least value that
    counts.
    """
    system = SYSTEMS[units]
    temperature, stress, per = (system[k] for k in ("temperature", "stress", "per"))
    zero, step = float(temperature(0.0)), float(temperature(3.0) - temperature(0.0))
    return {
        "temperature": temperature.name,
        "stress": stress.name,
        "per": per.name,
        "perDigits": per.digits,
        "byte": [zero, step],
        "cold": float(temperature(20.0)),
        "noStress": float(stress(0.5e6)),
        "noLength": float(per(0.5e-5)),
    }

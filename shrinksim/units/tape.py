"""Lengths as on a tape measure: metres and millimetres, or feet, inches, fractions."""

from __future__ import annotations

import math
from fractions import Fraction

from shrinksim.units.quantity import quantity

SIXTEENTHS, THIRTY_SECONDS = 16, 32
"""Parts of an inch: for chalk marks, and for offsets from a string line."""


def place(metres: float, units: str) -> str:
    """Position of a chalk mark: to 1 mm, or to 1/16 in; "7.25 m", "19 ft 8 1/4 in"."""
    if units == "us":
        return _feet(metres, SIXTEENTHS)
    if abs(metres) < 0.9995:
        return f"{metres / quantity('1 mm', 'length'):.0f} mm".replace("-0 ", "0 ")
    return f"{metres:.3f}".rstrip("0").rstrip(".") + " m"


def mark(metres: float, units: str) -> str:
    """Position in a column of positions: m with three decimals, or as `place`."""
    return place(metres, units) if units == "us" else f"{metres:.3f} m"


def offset(metres: float, units: str) -> str:
    """Offset from a string line: to 0.1 mm under 10 mm, else 1 mm; or to 1/32 in.

    US offsets below the finest mark are given in thousandths of an inch.
    """
    if units != "us":
        mm = metres / quantity("1 mm", "length")
        text = f"{mm:.1f}" if abs(mm) < 9.95 else f"{mm:.0f}"
        return ("0" if float(text) == 0.0 else text) + " mm"
    inches = metres / quantity("1 in", "length")
    if 5e-4 < abs(inches) < 0.75 / THIRTY_SECONDS:
        return f"{inches:.3f} in"
    return _feet(metres, THIRTY_SECONDS)


def _feet(metres: float, finest: int) -> str:
    """Length in feet, inches and a fraction to 1/``finest`` in."""
    marks = round(abs(metres) / quantity("1 in", "length") * finest)
    sign = "-" if metres < 0.0 and marks else ""
    inches, part = divmod(marks, finest)
    feet, inches = divmod(inches, 12)
    fraction = Fraction(part, finest)
    words = [f"{feet} ft"] * bool(feet)
    small = [str(inches)] * bool(inches or not fraction)
    small += [str(fraction)] * bool(fraction)
    if inches or fraction or not feet:
        words.append(" ".join(small) + " in")
    return sign + " ".join(words)


def plain_number(value: float, digits: int = 3) -> str:
    """Number to some significant digits without an exponent."""
    if not math.isfinite(value) or value == 0.0:
        return "0" if value == 0.0 else "?"
    decimals = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{min(decimals, 9)}f}"

"""Numbers of a result in the reader's units."""

from __future__ import annotations

from shrinksim.units.quantity import quantity
from shrinksim.units.scales import scale, three_digits, time_text, units_of
from shrinksim.views.result import AnyResult
from shrinksim.views.rows import NO_LENGTH, TINY

MARK = 5e-4
"""m; offsets under this cannot be marked with chalk."""

STRAIGHT = 5e-5
"""rad; a rotation under this is called none: 0.15 mm at 3 m."""


def milliradian() -> float:
    """Radians in a milliradian."""
    return quantity("1 mrad", "angle")


def turn_of(radians: float) -> str:
    """A rotation to three digits; rounding is 0."""
    mrad = radians / milliradian()
    return f"{mrad if abs(mrad) >= TINY else 0.0:.3g} mrad"


def size(result: AnyResult, metres: float) -> str:
    """A length in the reader's units, to three digits; rounding is 0."""
    length = scale(result, "length")
    metres = metres if abs(metres) >= NO_LENGTH else 0.0
    return f"{three_digits(float(length(metres)))} {length.unit}"


def strength(result: AnyResult, pascal: float) -> str:
    """A stress in the reader's units, to three digits."""
    stress = scale(result, "stress")
    return f"{three_digits(float(stress(pascal)))} {stress.unit}"


def heat_of(result: AnyResult, celsius: float) -> str:
    """A temperature in the reader's units, to the degree."""
    degrees = scale(result, "temperature")
    return f"{float(degrees(celsius)):.0f} {degrees.unit}"


def timeline(result: AnyResult) -> list[tuple[str, str, str, str]]:
    """Phases of the run: name, start, duration, hottest point at the end."""
    heat = result.heat
    rows = []
    begin = 0
    for k in range(1, len(heat.times)):
        last = k + 1 == len(heat.times)
        if last or heat.phases[k + 1] != heat.phases[k]:
            t0, t1 = float(heat.times[begin]), float(heat.times[k])
            hottest = heat_of(result, float(heat.temperature[k].max()))
            rows.append(
                (heat.phases[k].words, time_text(t0), time_text(t1 - t0), hottest)
            )
            begin = k
    return rows


def sample_member(result: AnyResult) -> tuple[float, str]:
    """Length (m) of the member used as an illustration, and its name."""
    return sample_length(units_of(result))


def sample_length(units: str) -> tuple[float, str]:
    """The same in "metric" or "us" units."""
    text = "20 ft" if units == "us" else "6 m"
    return quantity(text, "length"), text

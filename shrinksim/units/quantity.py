"""Conversion of text with a unit to SI and back: the only place of units other than SI.

Values are read as a shop writes them: "3/8 in", "2-1/2 in", "2 1/2 in", "40 ft 6 in",
40'-6 1/2", "1 h 30 min", "650 degC", "1200 degF", "10 kip", "120 kg", "25 W/m2K".
A unit is a product of the names in `UNITS` with powers; what follows a slash stands
below it.  Angle is a dimension of its own, so that N m/rad is not a moment.
A mass where a force is due means its weight; lb then is the pound-force.

Definitions of US units: NIST Special Publication 811 (2008), appendix B.8.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple, NoReturn

from shrinksim.errors import CaseError

LARGEST = 1e12
"""Largest number, as written or in SI; larger ones are taken for typing errors."""

Powers = tuple[int, ...]  # of m, kg, s, K, rad


class Unit(NamedTuple):
    """SI value of one unit, and its powers of m, kg, s, K, rad."""

    factor: float
    powers: Powers


_BASE: dict[str, Unit] = {
    "m": Unit(1.0, (1, 0, 0, 0, 0)),
    "kg": Unit(1.0, (0, 1, 0, 0, 0)),
    "s": Unit(1.0, (0, 0, 1, 0, 0)),
    "K": Unit(1.0, (0, 0, 0, 1, 0)),
    "rad": Unit(1.0, (0, 0, 0, 0, 1)),
    "%": Unit(0.01, (0, 0, 0, 0, 0)),
}

UNITS: dict[str, str] = {
    # length, volume
    "um": "1e-6 m", "mm": "1e-3 m", "cm": "1e-2 m", "km": "1e3 m",
    "in": "0.0254 m", "ft": "0.3048 m", "yd": "0.9144 m", "mil": "1e-3 in",
    "l": "1e-3 m3", "gal": "231 in3",
    # time, angle, speed, flow
    "ms": "1e-3 s", "min": "60 s", "h": "60 min", "d": "24 h",
    "deg": "0.017453292519943295 rad", "mrad": "1e-3 rad",
    "ipm": "1 in/min", "cfh": "1 ft3/h", "gpm": "1 gal/min",
    # temperature steps
    "degC": "1 K", "degF": "0.5555555555555556 K",
    # mass, force, moment
    "g": "1e-3 kg", "t": "1e3 kg", "lb": "0.45359237 kg",
    "N": "1 kg m/s2", "kN": "1e3 N", "MN": "1e6 N",
    "kgf": "9.80665 N", "lbf": "4.4482216152605 N", "kip": "1e3 lbf",
    "Nmm": "1 N mm", "Nm": "1 N m", "kNm": "1 kN m",
    "plf": "1 lbf/ft", "klf": "1 kip/ft",
    # stress
    "Pa": "1 N/m2", "kPa": "1e3 Pa", "MPa": "1e6 Pa", "GPa": "1e9 Pa",
    "bar": "1e5 Pa", "psi": "1 lbf/in2", "ksi": "1 kip/in2",
    # energy, power
    "J": "1 N m", "kJ": "1e3 J", "MJ": "1e6 J", "Wh": "1 W h", "kWh": "1 kW h",
    "Btu": "1055.05585262 J", "W": "1 J/s", "kW": "1e3 W", "MW": "1e6 W",
}  # fmt: skip

_ALIASES: dict[str, str] = {
    "metre": "m", "metres": "m", "meter": "m", "meters": "m", "μm": "um",
    "inch": "in", "inches": "in", '"': "in", "foot": "ft", "feet": "ft", "'": "ft",
    "yard": "yd", "yards": "yd", "thou": "mil", "litre": "l", "litres": "l",
    "liter": "l", "liters": "l", "L": "l", "gallon": "gal", "gallons": "gal",
    "sec": "s", "second": "s", "seconds": "s", "minute": "min", "minutes": "min",
    "mins": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h", "day": "d",
    "days": "d", "degree": "deg", "degrees": "deg", "°": "deg", "°C": "degC",
    "C": "degC", "°F": "degF", "F": "degF", "kelvin": "K", "gram": "g", "grams": "g",
    "tonne": "t", "tonnes": "t", "lbs": "lb", "pound": "lb", "pounds": "lb",
    "kips": "kip", "BTU": "Btu", "percent": "%",
}  # fmt: skip


@dataclass(frozen=True)
class Dimension:
    """Dimension of a quantity: its SI unit, an example, and the units to print it in."""

    noun: str
    si: str
    example: str
    metric: tuple[str, ...]
    us: tuple[str, ...]


def _of(noun: str, si: str, example: str, metric: str, us: str) -> Dimension:
    return Dimension(noun, si, example, tuple(metric.split("|")), tuple(us.split("|")))


DIMENSIONS: dict[str, Dimension] = {
    "length": _of("a length", "m", "25 mm", "mm", "in"),
    "area": _of("an area", "m2", "500 mm2", "mm2", "in2"),
    "volume": _of("a volume", "m3", "10 l", "l", "gal"),
    "curvature": _of("a curvature", "rad/m", "1 mrad/m", "mrad/m", "mrad/ft"),
    "angle": _of("an angle", "rad", "45 deg", "deg", "deg"),
    "time": _of("a time", "s", "30 s", "s|min|h", "s|min|h"),
    "speed": _of("a speed", "m/s", "4 mm/s", "mm/s", "in/min"),
    "temperature": _of("a temperature", "K", "650 degC", "degC", "degF"),
    "temperature_difference": _of("a temperature step", "K", "30 K", "K", "degF"),
    "force": _of("a force", "N", "20 kN", "N|kN", "lbf|kip"),
    "moment": _of("a moment", "N m", "12 kN m", "N m|kN m", "lbf ft|kip ft"),
    "energy": _of("an energy", "J", "12 kJ", "J|kJ|MJ", "Btu"),
    "stress": _of("a stress", "Pa", "235 MPa", "MPa", "ksi"),
    "power": _of("a power", "W", "12 kW", "W|kW", "W|kW"),
    "heat_flux": _of("a heat flux", "W/m2", "500 kW/m2", "kW/m2", "kW/m2"),
    "mass": _of("a mass", "kg", "120 kg", "kg", "lb"),
    "mass_per_length": _of("a mass per length", "kg/m", "42 kg/m", "kg/m", "lb/ft"),
    "line_load": _of("a load per length", "N/m", "2 kN/m", "N/m|kN/m", "plf|klf"),
    "spring": _of("a stiffness", "N/m", "5 kN/mm", "kN/mm", "kip/in"),
    "rotational_stiffness": _of(
        "a rotational stiffness", "N m/rad", "500 kN m/rad", "kN m/rad", "kip ft/rad"
    ),
    "heat_transfer": _of(
        "a heat transfer coefficient", "W/m2K", "25 W/m2K", "W/m2K", "Btu/(h ft2 degF)"
    ),
    "conductivity": _of("a conductivity", "W/m K", "40 W/m K", "W/m K", "W/m K"),
    "density": _of("a density", "kg/m3", "7850 kg/m3", "kg/m3", "lb/ft3"),
    "volume_flow": _of("a volume flow", "m3/s", "20 l/min", "l/min|l/s", "cfh"),
    "dimensionless": _of("a plain number", "", "0.5", "", ""),
}

_WEIGHED = {"force", "moment", "stress", "line_load", "spring", "rotational_stiffness"}
_ADDED_UP = {"length", "time"}
_OFFSETS = {"degC": 0.0, "degF": -32.0, "K": -273.15}

_DECIMAL = r"(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_FRACTION = r"[0-9]+\s*/\s*[0-9]+"
_NUMBER = re.compile(rf"(?:(?:[0-9]+(?:-|\s+))?{_FRACTION}|{_DECIMAL})(?![0-9.])")
_PART_UNIT = re.compile(r"\s*([A-Za-z]+|['\"])\s*(?:\s*-\s*(?=[0-9.])|\s*)")
_FACTOR = re.compile(
    r"\s*(?:([A-Za-z°μ]+)(?:(?:\^|\*\*)?(-?[1-4])(?![0-9]))?|([%'\"]))"
    r"(?:\s*[*·]\s*(?=\S)|\s*-\s*(?=[A-Za-z])|\s*)"
)
_SIGNS = str.maketrans({"µ": "μ", "⁄": "/", "−": "-", "×": "*", "⋅": "*"} | {
    "℃": "°C", "℉": "°F", "’": "'", "‘": "'", "′": "'", "”": '"', "“": '"', "″": '"'
})  # fmt: skip


def quantity(text: str, dimension: str) -> float:
    """SI value of `text` (degC for a temperature), which has to be of `dimension`.

    dimension : a key of `DIMENSIONS`

    >>> quantity("2 1/2 in", "length"), quantity("1200 degF", "temperature")
    (0.0635, 648.8888888888889)
    """
    wanted = DIMENSIONS[dimension]
    plain = _plain(text, wanted)
    sign = -1.0 if plain.startswith("-") else 1.0
    unsigned = plain[1:].lstrip() if plain[:1] in {"-", "+"} else plain
    value = _sum(unsigned, text, wanted) if dimension in _ADDED_UP else None
    if value is None:
        number, unit = _split(unsigned, text, wanted)
        value = _value(sign * number, unit, text, dimension)
    else:
        value *= sign
    if not abs(value) <= LARGEST:
        _refuse(text, f"is out of all proportion for {wanted.noun}")
    return value


def show(value: float, dimension: str, units: str = "metric") -> str:
    """Text of an SI value (degC) with its unit, to four digits; units "metric" or "us".

    >>> show(0.0635, "length"), show(3.81, "length", "us")
    ('63.5 mm', '12 ft 6 in')
    """
    wanted = DIMENSIONS[dimension]
    choices = wanted.metric if units == "metric" else wanted.us
    if (
        units == "us"
        and dimension == "length"
        and abs(value) >= 10 * _unit("ft").factor
    ):
        return _feet_and_inches(value)
    if dimension == "temperature":
        offset = 0.0 if choices[0] == "degC" else 32.0
        return f"{_digits(value / _unit(choices[0]).factor + offset)} {choices[0]}"
    sizes = {name: abs(value) / _product_over(name).factor for name in choices}
    name = next((name for name in reversed(choices) if sizes[name] >= 2), choices[0])
    return f"{_digits(value / _product_over(name).factor)} {name}".strip()


def _plain(text: object, wanted: Dimension) -> str:
    """Text with one spelling for each sign; CaseError if it is no quantity."""
    if not isinstance(text, str):
        number = isinstance(text, int | float) and not isinstance(text, bool)
        if number and not wanted.si:
            return repr(text)
        _refuse(text, f"has no unit; write it as text, {_such_as(wanted)}")
    plain = re.sub("(?<=[0-9])(?=[¼½¾⅐-⅞])", " ", text[:200])  # 2½ is not 21/2
    plain = re.sub("[¼½¾⅐-⅞]", lambda c: unicodedata.normalize("NFKC", c[0]), plain)
    plain = re.sub("(?<=[A-Za-z])[²³]", lambda c: "23"["²³".index(c[0])], plain)
    plain = plain.translate(_SIGNS).replace("''", '"').strip()
    plain = re.sub(r"(?:\bdeg(?:rees?)?|°)\s*([CF])(?![A-Za-z])", r"deg\1", plain)
    plain = re.sub(r"(?<=[A-Za-z])\.(?![0-9])", "", plain)  # in. and ft.
    if not plain or len(plain) > 100:
        _refuse(text, f"is no quantity; write {wanted.noun}, {_such_as(wanted)}")
    if re.search("[0-9],[0-9]", plain):
        _refuse(text, "has a comma; write 1.5 for one and a half, 1500 for thousands")
    return plain


def _sum(plain: str, text: str, wanted: Dimension) -> float | None:
    """Value of "40 ft 6 in" and the like, largest unit first; None if it is no sum."""
    total, at, before = 0.0, 0, math.inf
    while at < len(plain):
        number = _NUMBER.match(plain, at)
        found = number and _PART_UNIT.match(plain, number.end())
        if number is None or not found:
            return None
        unit = _known(found[1])
        if unit is None or unit.powers != _product_over(wanted.si).powers:
            return None
        if unit.factor >= before:
            _refuse(text, "adds up units out of order; write the largest first")
        total += _number(number[0], text) * unit.factor
        at, before = found.end(), unit.factor
    return total if before < math.inf else None


def _split(plain: str, text: object, wanted: Dimension) -> tuple[float, str]:
    """Leading number, and the unit after it as text."""
    match = _NUMBER.match(plain)
    if match is None:
        _refuse(text, f"does not begin with a number; write {_such_as(wanted)[8:]}")
    return _number(match[0], text), plain[match.end() :].strip()


def _number(written: str, text: object) -> float:
    """Value of "12", "1.5e3", "3/8", "2 1/2" or "2-1/2"."""
    whole, top, bottom = 0.0, written, "1"
    if "/" in written:
        front, bottom = (side.strip() for side in written.split("/"))
        *rest, top = re.split(r"[-\s]+", front)
        whole = float(rest[0]) if rest else 0.0
        if float(bottom) == 0:
            _refuse(text, "divides by zero")
        if rest and float(top) >= float(bottom):
            _refuse(text, "has a mixed fraction whose fraction is one or more")
    value = whole + float(top) / float(bottom)
    if not value <= LARGEST:
        _refuse(text, f"is beyond {LARGEST:g}")
    return value


def _value(number: float, unit: str, text: object, dimension: str) -> float:
    """SI value of `number` times `unit`, checked to be of the dimension."""
    wanted = DIMENSIONS[dimension]
    if not unit and wanted.si:
        _refuse(text, f"has no unit; write one, {_such_as(wanted)}")
    found = _product_over(unit, text)
    if dimension == "temperature" and found.powers == _BASE["K"].powers:
        return _celsius(number, unit, found, text)
    due = _product_over(wanted.si).powers
    weight = tuple(map(int.__add__, found.powers, (1, 0, -2, 0, 0)))
    if dimension in _WEIGHED and weight == due:
        return number * found.factor * _gravity(unit)
    if found.powers != due:
        kind = _noun(found.powers)
        _refuse(text, f"is {kind}, not {wanted.noun}; write one {_such_as(wanted)}")
    return number * found.factor


def _celsius(number: float, unit: str, found: Unit, text: object) -> float:
    """Temperature in degC."""
    name = _ALIASES.get(unit, unit)
    if name not in _OFFSETS:
        _refuse(text, "is no point on a temperature scale; use degC, degF or K")
    value = (number + _OFFSETS[name]) * found.factor
    if value < _OFFSETS["K"]:
        _refuse(text, "is below absolute zero, -273.15 degC")
    return value


def _gravity(unit: str) -> float:
    """Gravity (m/s2) that turns a mass into a weight; standard gravity for lb."""
    from shrinksim.arrays import GRAVITY  # numpy is slow to import

    pounds = re.search(r"(?<![A-Za-z])(lbs?|pounds?)(?![A-Za-z])", unit)
    return _unit("lbf").factor / _unit("lb").factor if pounds else GRAVITY


def _product_over(unit: str, text: object = None) -> Unit:
    """Unit such as "N m/rad" or "Btu/(h ft2 degF)"; all after a slash divides."""
    above, *below = unit.split("/")
    result = (
        _product(above, text or unit) if above.strip() else Unit(1.0, (0, 0, 0, 0, 0))
    )
    if below and not above.strip():
        _refuse(text, "has nothing in front of the slash of its unit")
    for part in below:
        bare = part.strip()
        if bare.startswith("(") and bare.endswith(")"):
            bare = bare[1:-1]
        elif re.search(
            r"[*·](?!\*)|(?<=[A-Za-z])-(?=[A-Za-z])", bare.replace("**", "")
        ):
            _refuse(text, "is ambiguous; put what is below the slash in parentheses")
        divisor = _product(bare, text or unit)
        powers = tuple(map(int.__sub__, result.powers, divisor.powers))
        result = Unit(result.factor / divisor.factor, powers)
    return result


def _product(unit: str, text: object) -> Unit:
    """Unit of a product of names with powers: "kN m", "kip-ft", "m2K", "mm^2"."""
    factor, at = 1.0, 0
    powers: Powers = (0, 0, 0, 0, 0)
    while at < len(unit) or not at:
        match = _FACTOR.match(unit, at)
        if match is None:
            _refuse(text, f"has no unit that can be read in '{unit[at:][:30]}'")
        one, power = _unit(match[1] or match[3], text), int(match[2] or 1)
        factor *= one.factor**power
        powers = tuple(a + power * b for a, b in zip(powers, one.powers, strict=True))
        at = match.end()
    return Unit(factor, powers)


def _unit(name: str, text: object = None) -> Unit:
    """Unit with a name; CaseError if unknown."""
    unit = _known(name)
    if unit is None:
        names = [*_BASE, *UNITS, *_ALIASES]
        near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
        hint = f"; did you mean {near[0]}?" if near else ""
        _refuse(text, f"has the unknown unit '{name[:30]}'{hint}")
    return unit


@lru_cache(maxsize=256)
def _known(name: str) -> Unit | None:
    """Unit with a name, also in capitals ("KIP", "MM") where that is unique; or None."""
    plain = _ALIASES.get(name, name)
    if plain in _BASE:
        return _BASE[plain]
    if plain in UNITS:
        number, unit = UNITS[plain].split(" ", 1)
        one = _product_over(unit)
        return Unit(float(number) * one.factor, one.powers)
    if len(name) > 1 and name.isupper():
        names = [*_BASE, *UNITS, *_ALIASES]
        alike = {_ALIASES.get(n, n) for n in names if n.upper() == name}
        return _known(alike.pop()) if len(alike) == 1 else None
    return None


def _noun(powers: Powers) -> str:
    """Noun of the dimensions with these powers."""
    return " or ".join(
        dimension.noun
        for dimension in DIMENSIONS.values()
        if _product_over(dimension.si).powers == powers
    ) or "something else"  # fmt: skip


def _such_as(wanted: Dimension) -> str:
    return f'such as "{wanted.example}"'


def _digits(value: float) -> str:
    """Number to four significant digits, with all digits before the point."""
    if value == 0 or not 1e-4 <= abs(value) < 1e9:
        return f"{value:.4g}"
    decimals = max(0, 3 - math.floor(math.log10(abs(value))))
    shown = f"{value:.{decimals}f}"
    return shown.rstrip("0").rstrip(".") if "." in shown else shown


def _feet_and_inches(value: float) -> str:
    """Long length as "40 ft 6 in", to a hundredth of an inch."""
    feet, inches = divmod(round(abs(value) / _unit("in").factor, 2), 12)
    return f"{'-' if value < 0 else ''}{feet:.0f} ft {round(inches, 2):g} in"


def _refuse(text: object, why: str) -> NoReturn:
    shown = repr(text) if not isinstance(text, str) else f'"{text}"'
    message = f"{shown if len(shown) <= 62 else shown[:58] + '...'} {why}"
    raise CaseError(message)

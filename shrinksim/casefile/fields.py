"""Types of the values in a case file: text with its unit in, SI inside, text out."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any

from pydantic import GetCoreSchemaHandler, GetJsonSchemaHandler, SerializationInfo
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, core_schema

from shrinksim.errors import CaseError
from shrinksim.text.quoting import near as near
from shrinksim.text.quoting import shown
from shrinksim.units.quantity import DIMENSIONS, quantity


@dataclass(frozen=True, eq=False)
class Written:
    """Reader and writer of one value: ``read`` converts the file's value to SI or raises
    CaseError, ``write`` converts SI back (US units?), ``schema`` is its JSON schema.
    """

    read: Callable[[object], Any]
    write: Callable[[Any, bool], Any]
    schema: Mapping[str, Any] = field(default_factory=dict)

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Validation by ``read``; JSON output, and only that, by ``write``."""

        def written(value: Any, info: SerializationInfo) -> Any:
            return self.write(value, (info.context or {}).get("units") == "us")

        out = core_schema.plain_serializer_function_ser_schema(
            written, info_arg=True, when_used="json-unless-none"
        )
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=out
        )

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        """The schema as given."""
        return dict(self.schema)


class KeyFault(CaseError):
    """Fault whose sentence continues after the key itself: "has a name twice"."""


@dataclass(frozen=True)
class Missing:
    """Remedy where the key is missing, part of a sentence: "name a surface"."""

    text: str


@dataclass(frozen=True)
class Example:
    """Example value for the sentence about the missing key."""

    text: str


@dataclass(frozen=True)
class Pair:
    """Annotation of a value that is a pair, or a list of pairs.

    example : as a file has it.  advice : to write it so.  what : "is not a pair of
    lengths", of another value in its place.
    """

    example: str
    advice: str
    what: str


def text_of(value: float, dimension: str, us: bool = False) -> str:
    """``value`` (SI, degC) as the shortest text that ``quantity`` reads back exactly.

    In the wanted units if they take at most six digits, else metric, else SI.
    """
    names = DIMENSIONS[dimension]
    si = "degC" if dimension == "temperature" else names.si
    metric = names.metric[0 if dimension == "time" else -1]
    wanted = names.us[0 if dimension == "time" else -1] if us else metric
    tries = [(wanted, 6), *((metric, digits) for digits in (6, 9, 12)), (si, 12)]
    for unit, digits in tries:
        zero = quantity(f"0 {unit}", dimension)
        one = quantity(f"1 {unit}", dimension) - zero
        text = f"{(value - zero) / one:.{digits}g} {unit}"
        if quantity(text, dimension) == value:
            return text
    return f"{value!r} {si}"


def measured(
    dimension: str,
    *,
    above: str | None = None,
    least: str | None = None,
    most: str | None = None,
    word: str | None = None,
) -> Written:
    """Reader of a quantity with a unit; the bounds are written as in a case file.

    word : text that stands for infinity ("none").
    """
    noun, example = DIMENSIONS[dimension].noun, DIMENSIONS[dimension].example

    def read(given: object) -> float:
        if word is not None and given == word:
            return math.inf
        if isinstance(given, (bool, list, dict)):
            message = f'{shown(given)} is not {noun}; write text, such as "{example}"'
            raise CaseError(message)
        value = quantity(given, dimension)  # type: ignore[arg-type] (it refuses)
        return _within(given, value, dimension, above, least, most)

    def write(value: float, us: bool) -> str:
        return word if word and math.isinf(value) else text_of(value, dimension, us)

    limits = _limits(above, least, most)
    schema = {"type": "string", "description": noun + limits, "examples": [example]}
    return Written(read, write, schema)


def number(
    *, above: str | None = None, least: str | None = None, most: str | None = None
) -> Written:
    """Reader of a number without a unit, plain or as text ("3/4", "35 %")."""

    def read(given: object) -> float:
        if isinstance(given, bool) or not isinstance(given, (str, int, float)):
            message = f"{shown(given)} is not a plain number; write one, such as 0.5"
            raise CaseError(message)
        text = given if isinstance(given, str) else repr(given)
        value = quantity(text, "dimensionless")
        return _within(given, value, "dimensionless", above, least, most)

    limits = _limits(above, least, most)
    schema = {"type": ["number", "string"], "description": "number" + limits}
    return Written(read, lambda value, _us: value, schema)


def whole(least: int, most: int, such_as: int) -> Written:
    """Reader of a whole number within bounds."""

    def given_as(given: object) -> int:
        if isinstance(given, bool) or not isinstance(given, int):
            advice = f"write one from {least} to {most}, such as {such_as}"
            message = f"{shown(given)} is not a whole number; {advice}"
            raise CaseError(message)
        if not least <= given <= most:
            message = f"{given} is not between {least} and {most}"
            raise CaseError(message)
        return given

    schema = {"type": "integer", "minimum": least, "maximum": most}
    return Written(given_as, lambda value, _us: value, schema)


@dataclass(frozen=True)
class Amount:
    """Amount: a ``ratio`` of a reference or a ``value`` in SI; the other is None."""

    ratio: float | None = None
    value: float | None = None


def relative(dimension: str, reference: str) -> Written:
    """Reader of an Amount: a multiple of ``reference`` ("0.25 Mp") or a quantity."""
    example = DIMENSIONS[dimension].example
    noun = r"\s*/\s*".join(re.escape(part) for part in reference.split("/"))
    multiple = re.compile(rf"(.*?)\s*\*?\s*{noun}\s*", re.IGNORECASE)

    def read(given: object) -> Amount:
        if not isinstance(given, str):
            either = f'write it as text, such as "0.25 {reference}" or "{example}"'
            message = f"{shown(given)} has no unit; {either}"
            raise CaseError(message)
        found = multiple.fullmatch(given)
        if found is None:
            return Amount(value=quantity(given, dimension))
        return Amount(ratio=quantity(found[1] or "1", "dimensionless"))

    def write(amount: Amount, us: bool) -> str:
        if amount.ratio is not None:
            return f"{amount.ratio!r} {reference}"
        return text_of(amount.value or 0.0, dimension, us)

    examples = [f"0.25 {reference}", example]
    return Written(read, write, {"type": "string", "examples": examples})


def _within(
    given: object,
    value: float,
    dimension: str,
    above: str | None,
    least: str | None,
    most: str | None,
) -> float:
    """``value``; CaseError when it is beyond a bound."""
    fault = ""
    if above is not None and not value > quantity(above, dimension):
        fault = f"is not more than {above}"
    elif least is not None and not value >= quantity(least, dimension):
        fault = f"is below the smallest allowed, {least}"
    elif most is not None and not value <= quantity(most, dimension):
        fault = f"is above the largest allowed, {most}"
    if fault:
        message = f"{shown(given)} {fault}"
        raise CaseError(message)
    return value


def _limits(above: str | None, least: str | None, most: str | None) -> str:
    named = (("more than", above), ("at least", least), ("at most", most))
    return "".join(f", {word} {bound}" for word, bound in named if bound is not None)


def _read_line(given: object) -> str:
    """One line of printable text, not empty."""
    if not isinstance(given, str):
        message = f"{shown(given)} is not a text in quotes"
    elif not given.strip():
        message = f"{shown(given)} is empty; write a few words"
    elif len(given) > 200 or not given.isprintable():
        message = f"{shown(given)} is not one line of up to 200 printable characters"
    else:
        return given.strip()
    raise CaseError(message)


_LINE = Written(
    _read_line, lambda value, _us: value, {"type": "string", "minLength": 1}
)


def _read_names(given: object) -> tuple[str, ...]:
    """One name or a list of different names."""
    if isinstance(given, str):
        return (_read_line(given),)
    if not isinstance(given, (list, tuple)) or not 1 <= len(given) <= 16:
        message = f"{shown(given)} is not a name in quotes or a list of them"
        raise CaseError(message)
    names = tuple(_read_line(name) for name in given)
    if len(set(names)) < len(names):
        message = "a name is given twice; leave one out"
        raise CaseError(message)
    return names


_NAMES = Written(
    _read_names,
    lambda value, _us: value[0] if len(value) == 1 else list(value),
    {
        "oneOf": [
            {"type": "string"},
            {"type": "array", "items": {"type": "string"}, "minItems": 1},
        ]
    },
)

Text = Annotated[str, _LINE]
Surfaces = Annotated[tuple[str, ...], _NAMES]
File = Annotated[
    Path,
    Written(
        lambda given: Path(_read_line(given)),
        lambda value, _us: value.as_posix(),
        {"type": "string"},
    ),
]
Size = Annotated[float, measured("length", above="0 mm", most="10 m")]
Place = Annotated[float, measured("length", least="-50 m", most="50 m")]
Point = Annotated[
    tuple[Place, Place],
    Pair(
        '["0 mm", "25 mm"]',
        'write ["0 mm", "25 mm"] for x, y',
        "is not a pair of lengths",
    ),
]
Height = Annotated[float, measured("length", least="0 mm", most="10 m")]
Angle = Annotated[float, measured("angle", least="2 deg", most="150 deg")]
Wait = Annotated[float, measured("time", least="0 s", most="100 h")]
Duration = Annotated[float, measured("time", above="0 s", most="100 h")]
Speed = Annotated[float, measured("speed", least="0.01 mm/s", most="1 m/s")]
Hot = Annotated[float, measured("temperature", least="0 degC", most="1500 degC")]
Ambient = Annotated[float, measured("temperature", least="-40 degC", most="60 degC")]
Water = Annotated[float, measured("temperature", least="0 degC", most="95 degC")]
Kelvins = Annotated[
    float, measured("temperature_difference", least="0.01 K", most="500 K")
]
Power = Annotated[float, measured("power", above="0 kW", most="1000 kW")]
Force = Annotated[float, measured("force", least="-100000 kN", most="100000 kN")]
Stress = Annotated[float, measured("stress", least="50 MPa", most="1500 MPa")]
Film = Annotated[float, measured("heat_transfer", least="10 W/m2K", most="20000 W/m2K")]
Factor = Annotated[float, number(least="0.01", most="100")]
Share = Annotated[float, number(least="0", most="1")]
PositiveShare = Annotated[float, number(above="0", most="1")]
Annealing = Annotated[
    float,
    measured("temperature", least="100 degC", most="1500 degC", word="none"),
]

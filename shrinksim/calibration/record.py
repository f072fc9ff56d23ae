"""The tables of a calibration's file, key by key; `calibration.file` makes sets of them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, Discriminator, Field, Tag

from shrinksim.calibration.design import BETWEEN
from shrinksim.casefile.fields import KeyFault, Missing, Text, Written, whole
from shrinksim.casefile.heating import RECORD
from shrinksim.errors import CaseError
from shrinksim.text.quoting import shown
from shrinksim.units.quantity import quantity

MOST, LEAST = 2000, 20
LARGEST = 1e6
COOLINGS = ("still air", "mist")
LOADS = ("weight", "jack")

Bounds = tuple[float, float]
Names = tuple[str, ...]


def _between(key: str) -> tuple[Written, Missing]:
    """A range: two values, (low, high) in SI and degC, and how one is written."""
    dimension = BETWEEN[key]
    example = '["20 deg", "60 deg"]' if dimension else "[0.5, 1.0]"
    advice = f"write from and to: {key} = {example}"

    def read(given: object) -> Bounds:
        if not isinstance(given, list) or len(given) != 2:
            message = f"= {shown(given)} is no range; {advice}"
            raise KeyFault(message)
        try:
            low, high = (
                quantity(v, dimension) if dimension else _number(v) for v in given
            )
        except CaseError as error:
            raise KeyFault(error.problems) from error
        if key.startswith("torch") and low <= 0.0:
            message = "has to be more than 0"
            raise KeyFault(message)
        if low >= high:
            ends = f"from {shown(given[0])} to {shown(given[1])}"
            message = f"goes {ends}, which is no range"
            raise KeyFault(message)
        return low, high

    value = {"type": "string" if dimension else "number"}
    schema = {"type": "array", "items": value, "minItems": 2, "maxItems": 2}
    return Written(read, lambda pair, _us: list(pair), schema), Missing(advice)


def _number(value: object) -> float:
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not plain or not -LARGEST < value < LARGEST:  # type: ignore[operator]
        message = f"{shown(value)} is not a plain number"
        raise CaseError(message)
    return float(value)  # type: ignore[arg-type]


def _one_of(key: str, known: Names) -> tuple[Written, Missing]:
    """A list of names that a key may be, of the known ones if there are any."""
    listed = ", ".join(f'"{v}"' for v in known or ("S235", "S355"))
    advice = f"write {key} = [{listed}]"

    def read(given: object) -> Names:
        entries = given if isinstance(given, list) else []
        names = [v for v in entries if isinstance(v, str)]
        if not entries or len(names) < len(entries):
            message = f"= {shown(given)} is no list of names; {advice}"
            raise KeyFault(message)
        wrong = [v for v in names if known and v not in known]
        if wrong:
            message = f"has {shown(wrong[0])}, which is not one of {', '.join(known)}"
            raise KeyFault(message)
        if len(set(names)) < len(names):
            message = "has a name twice; leave one out"
            raise KeyFault(message)
        return tuple(names)

    item = {"enum": list(known)} if known else {"type": "string"}
    schema = {"type": "array", "items": item, "minItems": 1}
    return Written(read, lambda names, _us: list(names), schema), Missing(advice)


Runs = Annotated[int, whole(LEAST, MOST, 100)]
More = Annotated[int, whole(0, MOST, 20)]
Seed = Annotated[int, whole(0, MOST, 1)]


class _Shapes(BaseModel):
    """Quantities that every set varies; runs : for the fit, ``fresh`` : more runs for a
    test of the formula.  numerics : as in a case.
    """

    model_config = RECORD
    runs: Runs = 100
    fresh: More = 0
    seed: Seed = 1
    numerics: dict[str, Any] = {}
    angle: Annotated[Bounds, *_between("angle")]
    depth_ratio: Annotated[Bounds, *_between("depth_ratio")]
    temperature: Annotated[Bounds, *_between("temperature")]
    moment_ratio: Annotated[Bounds, *_between("moment_ratio")]
    torch_width: Annotated[Bounds, *_between("torch_width")]
    torch_strength: Annotated[Bounds, *_between("torch_strength")]
    steel: Annotated[Names, *_one_of("steel", ())]
    cooling: Annotated[Names, *_one_of("cooling", COOLINGS)]
    load: Annotated[Names, *_one_of("load", LOADS)]


class Plates(_Shapes):
    """Vees on plates."""

    NAME: ClassVar[str] = "a set of plates"
    of: Literal["plates"]
    width: Annotated[Bounds, *_between("width")]
    thickness: Annotated[Bounds, *_between("thickness")]


class StrongAxis(_Shapes):
    """Vees on I-sections that bend about their strong axis."""

    NAME: ClassVar[str] = "a set of i sections strong"
    of: Literal["i sections strong"]
    section: Annotated[Names, *_one_of("section", ())]


class WeakAxis(_Shapes):
    """Vees on I-sections that bend about their weak axis."""

    NAME: ClassVar[str] = "a set of i sections weak"
    of: Literal["i sections weak"]
    section: Annotated[Names, *_one_of("section", ())]


def _of(given: Any) -> str | None:
    """What a set is of; "" where it does not say."""
    if isinstance(given, Mapping):
        of = given.get("of")
        return of if isinstance(of, str) else ""
    return getattr(given, "of", None)


AnySet = Annotated[
    Annotated[Plates, Tag("plates")]
    | Annotated[StrongAxis, Tag("i sections strong")]
    | Annotated[WeakAxis, Tag("i sections weak")],
    Discriminator(_of),
]


class CalibrationFile(BaseModel):
    """Varied quantities and ranges of each formula; remark : for the record."""

    model_config = RECORD
    title: Annotated[Text, Missing('write title = "Vees on plates", say')]
    remark: Text | None = None
    sets: tuple[AnySet, ...] = Field(alias="set", min_length=1)

"""A calibration's file: what is varied, between what, for which formulas.

    title = "Vees on plates"
    [[set]]
    of = "plates"                       # or "i sections strong", "i sections weak"
    runs = 120                          # that the formula is fitted to
    fresh = 24                          # more of them, that it is only tried on
    seed = 1
    angle = ["20 deg", "60 deg"]        # from, to
    steel = ["S235", "S355"]            # one of

Every heat of every set is checked before the first is computed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shrinksim.calibration.design import (
    BETWEEN,
    KINDS,
    OF_PLATES,
    ONE_OF,
    DesignSet,
    case_of,
    points_of,
)
from shrinksim.errors import CaseError
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import near, printable, shown
from shrinksim.units.quantity import quantity

TOP = ("title", "remark", "set")
PLAIN = ("of", "runs", "fresh", "seed", "numerics")
MOST, LEAST = 2000, 20
TRIED = 150
"""Points of each set that are made cases to see whether the file is in order."""
LARGEST = 1e6
COOLINGS = ("still air", "mist")
LOADS = ("weight", "jack")


@dataclass(frozen=True)
class Calibrating:
    """What a file asks for.  remark : on the machine, for the record."""

    title: str
    remark: str
    sets: tuple[DesignSet, ...]


def load_calibrating(path: Path | str) -> Calibrating:
    """The calibration in a TOML file; CaseError names every fault of the file."""
    path = Path(path)
    where = printable(str(path))
    return calibrating_from(tables_of(read_text(path, where), where), where)


def calibrating_from(tables: Mapping[str, Any], where: str) -> Calibrating:
    """The calibration in a mapping shaped like the file; where : what messages call it."""
    faults = [
        f"{shown(key)} is not a key of a calibration{near(key, TOP)}"
        for key in tables
        if key not in TOP
    ]
    faults += _text(tables, "title", needed=True) + _text(tables, "remark")
    given = tables.get("set")
    sets: list[DesignSet] = []
    if not isinstance(given, list) or not given:
        faults.append("set is missing; write a table [[set]] for each formula")
        given = []
    for k, table in enumerate(given):
        at = f"set[{k}]"
        if not isinstance(table, Mapping):
            faults.append(f"{at} = {shown(table)} is not a table; write [[set]]")
            continue
        found, wrong = _set(table)
        faults += [f"{at}.{fault}" for fault in wrong]
        sets += [found] if found else []
    kinds = [one.of for one in sets]
    faults += [f"set: {of!r} is there twice" for of in {*kinds} if kinds.count(of) > 1]
    faults += [] if faults else _refused(sets)
    if faults:
        raise CaseError([printable(f"{where}: {fault}") for fault in faults])
    return Calibrating(tables["title"].strip(), tables.get("remark", ""), tuple(sets))


def _text(tables: Mapping[str, Any], key: str, needed: bool = False) -> list[str]:
    value = tables.get(key)
    if value is None:
        return [f'{key} is missing; write {key} = "Vees on plates", say'] * needed
    if not (isinstance(value, str) and value.strip() and value.isprintable()):
        return [f"{key} = {shown(value)} is not one line of text"]
    return []


def _set(table: Mapping[str, Any]) -> tuple[DesignSet | None, list[str]]:
    """One set, and what is wrong with it."""
    of = table.get("of")
    if of not in KINDS:
        hint = f"of = {shown(of)}" if "of" in table else "of is missing: it"
        return None, [f"{hint} is not one of {', '.join(KINDS)}{near(of, KINDS)}"]
    between = [n for n in BETWEEN if of == "plates" or n not in OF_PLATES]
    one_of = [n for n in ONE_OF if of != "plates" or n != "section"]
    keys = [*PLAIN, *between, *one_of]
    faults = [
        f"{shown(key)} is not a key of a set of {of}{near(key, keys)}"
        for key in table
        if key not in keys
    ]
    numbers: dict[str, int] = {}
    for key, standard, least in (("runs", 100, LEAST), ("fresh", 0, 0), ("seed", 1, 0)):
        value = table.get(key, standard)
        if isinstance(value, bool) or not isinstance(value, int):
            faults.append(f"{key} = {shown(value)} is not a whole number")
        elif not least <= value <= MOST:
            faults.append(f"{key} = {value} is not between {least} and {MOST}")
        else:
            numbers[key] = value
    numerics = table.get("numerics", {})
    if not isinstance(numerics, Mapping):
        faults.append(f"numerics = {shown(numerics)} is not a table")
    ranges: dict[str, tuple[float, float]] = {}
    for key in between:
        _put(ranges, key, _range, table, faults)
    choices: dict[str, tuple[str, ...]] = {}
    for key in one_of:
        _put(choices, key, _choice, table, faults)
    if faults:
        return None, faults
    return DesignSet(
        of, **numbers, between=ranges, one_of=choices, numerics=numerics
    ), []


def _put(
    found: dict[str, Any], key: str, read: Any, table: Mapping[str, Any],
    faults: list[str],
) -> None:  # fmt: skip
    """Read one key of a set."""
    try:
        found[key] = read(key, table.get(key))
    except CaseError as error:
        faults += [f"{key} {problem}" for problem in error.problems]


def _range(key: str, given: object) -> tuple[float, float]:
    """(low, high) in SI and degC."""
    dimension = BETWEEN[key]
    example = '["20 deg", "60 deg"]' if dimension else "[0.5, 1.0]"
    if not isinstance(given, list) or len(given) != 2:
        is_it = "is missing" if given is None else f"= {shown(given)} is no range"
        message = f"{is_it}; write from and to: {key} = {example}"
        raise CaseError(message)
    if dimension:
        low, high = (quantity(value, dimension) for value in given)
    else:
        low, high = (_number(value) for value in given)
    if key.startswith("torch") and low <= 0.0:
        message = "has to be more than 0"
        raise CaseError(message)
    if low >= high:
        message = f"goes from {shown(given[0])} to {shown(given[1])}, which is no range"
        raise CaseError(message)
    return low, high


def _number(value: object) -> float:
    plain = isinstance(value, (int, float)) and not isinstance(value, bool)
    if not plain or not -LARGEST < value < LARGEST:  # type: ignore[operator]
        message = f"{shown(value)} is not a plain number"
        raise CaseError(message)
    return float(value)  # type: ignore[arg-type]


def _choice(key: str, given: object) -> tuple[str, ...]:
    """Names that a key may be."""
    known = {"cooling": COOLINGS, "load": LOADS}.get(key)
    names = [v for v in given if isinstance(v, str)] if isinstance(given, list) else []
    if not isinstance(given, list) or not given or len(names) < len(given):
        is_it = "is missing" if given is None else f"= {shown(given)} is no list"
        listed = ", ".join(f'"{v}"' for v in known or ("S235", "S355"))
        message = f"{is_it} of names; write {key} = [{listed}]"
        raise CaseError(message)
    wrong = [v for v in names if known and v not in known]
    if wrong:
        listed = ", ".join(known or ())
        message = f"has {shown(wrong[0])}, which is not one of {listed}"
        raise CaseError(message)
    if len(set(names)) < len(names):
        message = "has a name twice; leave one out"
        raise CaseError(message)
    return tuple(names)


def _refused(sets: list[DesignSet]) -> list[str]:
    """What keeps sets from being drawn, or their runs from being cases."""
    faults: list[str] = []
    for k, design in enumerate(sets):
        try:
            points = points_of(design)[0]
            for point in points[:: -(-len(points) // TRIED)]:
                case_of(design, point)
        except CaseError as error:
            faults += [f"set[{k}]: {problem}" for problem in error.problems]
    return faults

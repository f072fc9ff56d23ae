"""Keys as places in the tables of a case, and tables with other values there.

A place is written as messages name it, entries counting from 0: heat[0].pattern[1].angle;
heat.0.pattern.1.angle is the same, and where there is one entry its number can go:
heat.pattern.angle.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Mapping
from typing import Any

from shrinksim.casefile.layout import Step, key_path
from shrinksim.errors import CaseError

Place = tuple[Step, ...]

LISTS = {("heat",), ("heat", "pattern")}
"""Where a case has entries with numbers."""


def place_of(key: str, base: Mapping[str, Any]) -> Place:
    """Place of a key in the tables of the base case; CaseError if there is none."""
    place: list[Step] = []
    written = _steps(key)
    while written:
        step = written.pop(0)
        names = tuple(s for s in place if isinstance(s, str))
        if isinstance(step, int) or not place or names not in LISTS:
            place.append(step)
            continue
        if isinstance(place[-1], str):
            place.append(_only(place, base))
        place.append(step)
    _inside(place, base)
    return tuple(place)


def _steps(key: str) -> list[Step]:
    """Names and numbers of a key."""
    steps: list[Step] = []
    for part in key.split("."):
        found = re.fullmatch(r"([^\[\]]*)((?:\[\d{1,4}\])*)", part.strip())
        if found is None or not (found[1] or found[2]):
            message = "is no key; write it as heat[0].pattern[0].angle"
            raise CaseError(message)
        name = found[1].strip()
        steps += [int(name) if re.fullmatch(r"\d{1,4}", name) else name] * bool(name)
        steps += [int(number) for number in re.findall(r"\d+", found[2])]
    return steps


def _only(place: list[Step], base: Mapping[str, Any]) -> int:
    """Number of the only entry of a list; CaseError if there are several."""
    entries = value_at(base, tuple(place))
    many = len(entries) if isinstance(entries, list) else 1
    if many != 1:
        at = key_path(place)
        message = f"does not say which of {many}; write {at}[0] to {at}[{many - 1}]"
        raise CaseError(message)
    return 0


def _inside(place: list[Step], base: Mapping[str, Any]) -> None:
    """Raise CaseError when a number is beyond its list."""
    for k, step in enumerate(place):
        if not isinstance(step, int):
            continue
        at, entries = key_path(place[:k]), value_at(base, tuple(place[:k]))
        if not isinstance(entries, list):
            message = f"has a number, but {at} of the case is no list"
            raise CaseError(message)
        if step >= len(entries):
            last = len(entries) - 1
            message = f"is beyond the case's last, {at}[{last}] (they count from 0)"
            raise CaseError(message)


def value_at(tables: Any, place: Place) -> Any:
    """Value at a place, None if there is none."""
    for step in place:
        try:
            tables = tables[step]
        except (KeyError, IndexError, TypeError):
            return None
    return tables


def set_value(tables: Any, place: Place, value: Any, depth: int = 1) -> None:
    """Set the value at a place in tables; missing tables after ``depth`` are created."""
    step = place[depth - 1]
    if depth == len(place):
        tables[step] = value
        return
    if isinstance(step, str):
        tables.setdefault(step, {})
    if not isinstance(tables[step], list if isinstance(place[depth], int) else dict):
        message = f"is not there: {key_path(place[:depth])} of the case is no table"
        raise CaseError(message)
    set_value(tables[step], place, value, depth + 1)


def varied_tables(
    base: Mapping[str, Any], places: tuple[Place, ...], values: tuple[Any, ...]
) -> dict[str, Any]:
    """Tables of the base case with other values at the places; whole tables first."""
    tables = copy.deepcopy(dict(base))
    for k in sorted(range(len(places)), key=lambda k: len(places[k])):
        set_value(tables, places[k], copy.deepcopy(values[k]))
    return tables

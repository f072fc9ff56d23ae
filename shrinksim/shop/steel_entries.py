"""Entries of a steel file: values with unit and source, and columns."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shrinksim.arrays import FloatArray
from shrinksim.errors import CaseError
from shrinksim.text.quoting import bare
from shrinksim.units.quantity import quantity


@dataclass(frozen=True)
class Column:
    """Column of a steel file: temperature (k,) degC, increasing; values (k,) SI."""

    temperature: FloatArray
    values: FloatArray


def unknown(
    table: Mapping[str, Any], known: tuple[str, ...], under: str, faults: list[str]
) -> None:
    """Add a fault for each key that no steel file has."""
    for key in table:
        if key not in known:
            alike = difflib.get_close_matches(key[:60], known, 1)
            hint = f"; did you mean {alike[0]}?" if alike else f" of {', '.join(known)}"
            faults.append(f"{under}{bare(key)} is not a known key{hint}")


def source_of(
    table: Mapping[str, Any], key: str, name: str, faults: list[str]
) -> str | None:
    """Source of values, None with a fault when it is missing."""
    source = table.get(key)
    if isinstance(source, str) and source.strip():
        return source
    faults.append(f"{name} is missing; say where the values come from")
    return None


def measured(
    table: Mapping[str, Any],
    key: str,
    dimension: str,
    faults: list[str],
    sources: dict[str, str],
) -> float | None:
    """SI value of a key with unit and source, None when it has a fault."""
    given = table.get(key)
    if given is None:
        faults.append(f"{key} is missing")
        return None
    source = source_of(table, f"{key}_source", f"{key}_source", faults)
    if source:
        sources[key] = source
    try:
        return quantity(given, dimension)
    except CaseError as error:
        faults.append(f"{key}: {error}")
        return None

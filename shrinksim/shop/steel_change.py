"""Phase change of a steel: the [transformation] table of a steel file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.errors import CaseError
from shrinksim.shop.steel_entries import Column, source_of, unknown
from shrinksim.text.quoting import shown
from shrinksim.units.quantity import quantity

KEYS = ("heating", "cooling", "strain", "latent_heat")
LEAST, MOST = 150.0, 1200.0
"""degC within which both ranges must lie."""

LARGEST_STRAIN = 0.02
LARGEST_HEAT = 500e3
"""Largest contraction, and latent heat J/kg, to detect wrong units: iron has some 0.0035
and 16 kJ/kg, pearlite with it up to some 80 kJ/kg (from memory)."""

_LATENT_HEATS = {"J/kg": 1.0, "kJ/kg": 1e3}


@dataclass(frozen=True)
class Transformation:
    """Transformation of ferrite to austenite and back, linear over temperature ranges.

    heating, cooling : (start, end) degC, the second falling.  strain : of steel that is
    all austenite over ferrite at the same temperature (< 0).  latent_heat : J/kg.
    """

    heating: tuple[float, float]
    cooling: tuple[float, float]
    strain: float
    latent_heat: float


def transformation(
    table: object, columns: Mapping[str, Column], faults: list[str],
    sources: dict[str, str],
) -> Transformation | None:  # fmt: skip
    """Transformation of the file's table, None without one or when it has a fault."""
    if table is None:
        return None
    if not isinstance(table, Mapping):
        faults.append(f"transformation is not a table with {', '.join(KEYS)}")
        return None
    before = len(faults)
    known = (*KEYS, *(f"{key}_source" for key in KEYS))
    unknown(table, known, "transformation.", faults)
    for key in KEYS:
        name = f"transformation.{key}_source"
        sources[f"transformation.{key}"] = (
            source_of(table, f"{key}_source", name, faults) or ""
        )
    heating, cooling = (_range(table, key, faults) for key in KEYS[:2])
    strain = _strain(table.get("strain"), faults)
    latent = _latent_heat(table.get("latent_heat"), faults)
    if heating is None or cooling is None or strain is None or latent is None:
        return None
    made = Transformation(heating, cooling, strain, latent)
    _check_ranges(made, faults)
    if len(faults) == before:
        _check_twice(made, columns, faults)
    return made if len(faults) == before else None


def _range(
    table: Mapping[str, Any], key: str, faults: list[str]
) -> tuple[float, float] | None:
    """Start and end of a change, degC."""
    given = table.get(key)
    if not isinstance(given, list) or len(given) != 2:
        example = '["720 degC", "840 degC"]'
        if key == "cooling":
            example = '["680 degC", "600 degC"]'
        faults.append(
            f"transformation.{key} = {shown(given)} is not where the change starts and "
            f"ends; write such as {key} = {example}"
        )
        return None
    try:
        start, end = (quantity(value, "temperature") for value in given)
    except CaseError as error:
        faults.append(f"transformation.{key}: {error}")
        return None
    return start, end


def _strain(given: object, faults: list[str]) -> float | None:
    """Strain of a text such as "-0.0035"."""
    try:
        if not isinstance(given, str):
            message = f'{shown(given)} is not written such as "-0.0035"'
            raise CaseError(message)
        strain = quantity(given, "dimensionless")
    except CaseError as error:
        faults.append(f"transformation.strain: {error}")
        return None
    if not -LARGEST_STRAIN <= strain <= 0.0:
        faults.append(
            f"transformation.strain = {shown(given)} is not from -{LARGEST_STRAIN:g} to 0; "
            "austenite is denser than ferrite, so it is negative"
        )
        return None
    return strain


def _latent_heat(given: object, faults: list[str]) -> float | None:
    """J/kg of a text such as "60 kJ/kg"."""
    number, _, unit = (
        given.strip().partition(" ") if isinstance(given, str) else [""] * 3
    )
    factor = _LATENT_HEATS.get(unit.strip())
    try:
        if factor is None:
            message = f'{shown(given)} is not written such as "60 kJ/kg"'
            raise CaseError(message)
        heat = factor * quantity(number, "dimensionless")
    except CaseError as error:
        faults.append(f"transformation.latent_heat: {error}")
        return None
    if not 0.0 <= heat <= LARGEST_HEAT:
        faults.append(
            f"transformation.latent_heat = {shown(given)} is not from 0 to "
            f"{LARGEST_HEAT / 1e3:g} kJ/kg"
        )
        return None
    return heat


def _check_ranges(made: Transformation, faults: list[str]) -> None:
    """Add faults of ranges that overlap so that both changes act at one temperature."""
    (heat_start, heat_end), (cool_start, cool_end) = made.heating, made.cooling
    if not (heat_start < heat_end and cool_end < cool_start):
        faults.append(
            f"transformation: heating must rise ({heat_start:.0f} to {heat_end:.0f} degC "
            f"given) and cooling must fall ({cool_start:.0f} to {cool_end:.0f} degC given)"
        )
    elif cool_start > heat_end or cool_end > heat_start:
        faults.append(
            f"transformation: on cooling it starts at {cool_start:.0f} degC and ends "
            f"at {cool_end:.0f} degC; that must not be above where heating ends, "
            f"{heat_end:.0f} degC, and starts, {heat_start:.0f} degC"
        )
    low, high = min(heat_start, cool_end), max(heat_end, cool_start)
    if low < LEAST or high > MOST:
        faults.append(
            f"transformation: its ranges go from {low:.0f} degC to "
            f"{high:.0f} degC; they must lie within {LEAST:.0f} to {MOST:.0f}"
        )


def _check_twice(
    made: Transformation, columns: Mapping[str, Column], faults: list[str]
) -> None:
    """Add faults of columns that contain the phase change already."""
    elongation, heat = columns.get("elongation"), columns.get("specific_heat")
    if made.strain != 0.0 and (elongation is None or _flattens(elongation, made)):
        reason = "is that of EN 1993-1-2, whose level part from 750 to 860 degC"
        if elongation is not None:
            reason = "goes flat or falls where the steel changes, and that"
        faults.append(
            f"columns.elongation {reason} is the contraction of phase change already, so "
            "that transformation.strain would count twice; give the elongation of "
            'ferrite with its slope going on, or strain = "0"'
        )
    if made.latent_heat != 0.0 and (heat is None or _peaks(heat, made)):
        reason = "is that of EN 1993-1-2, whose peak at 735 degC"
        if heat is not None:
            reason = "has a peak where the steel changes, and that"
        faults.append(
            f"columns.specific_heat {reason} is the heat of phase change already, so that "
            "transformation.latent_heat would count twice; give the specific heat "
            'without that peak, or latent_heat = "0 kJ/kg"'
        )


def _flattens(column: Column, made: Transformation) -> bool:
    """Whether an elongation rises in a range at under half its mean slope before."""
    T, e = column.temperature, column.values
    low, high = made.cooling[1], made.heating[1]
    if T[-1] <= low:
        return False
    inside = (T[1:] > low) & (T[:-1] < high)
    slope = np.diff(e) / np.diff(T)
    mean = (np.interp(low, T, e) - np.interp(20.0, T, e)) / (low - 20.0)
    return bool(np.any(slope[inside] < 0.5 * mean))


def _peaks(column: Column, made: Transformation) -> bool:
    """Whether a specific heat comes to over twice what it is below the ranges."""
    T, c = column.temperature, column.values
    low, high = made.cooling[1], made.heating[1]
    inside, below = (low <= T) & (high >= T), np.interp(low, T, c)
    return bool(np.any(c[inside] > 2.0 * below))

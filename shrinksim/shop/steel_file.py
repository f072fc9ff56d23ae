"""Steel files (TOML): the shipped grades and a user's own steel, in one format.

    name = "girder steel"
    family = "carbon"                  # gives the practice limit, see FAMILIES; or
    limit = "600 degC"                 # a limit of its own
    limit_source = "order of the owner"
    yield_stress = "225 MPa"           # at 20 degC
    yield_stress_source = "coupon tests, mean of six"
    curve = "ellipse"                  # or "plateau": level at once, see shop.steel

    [columns]
    temperature = { unit = "degC", values = [20, 200, 400, 600, 800] }
    [columns.modulus]
    unit = "GPa"
    values = [206, 190, 160, 90, 20]
    source = "test report 12"
    [columns.conductivity]
    curve = "EN 1993-1-2"              # takes the standard's curve
    source = "EN 1993-1-2:2005, 3.4.1.3"

Columns: conductivity, specific_heat, elongation, modulus, yield_plateau,
proportional_limit; one that is left out takes EN 1993-1-2.  A column has a source, and
may have a ``temperature`` (same form) of its own.  Values are joined by straight lines;
outside the range the end values hold, save that the elongation goes on with its last
slope.  The elongation is shifted to be 0 at 20 degC.  Units are those of a case file,
and J/kg K or kJ/kg K for the specific heat.

Phase change is left out unless the file has a table of it (no shipped grade has):

    [transformation]
    heating = ["720 degC", "840 degC"]   # austenite starts, all is austenite
    heating_source = "dilatometer"
    cooling = ["680 degC", "600 degC"]   # ferrite starts, all is ferrite
    cooling_source = "dilatometer"
    strain = "-0.0035"                   # of austenite over ferrite going on straight
    strain_source = "dilatometer"
    latent_heat = "60 kJ/kg"             # J/kg or kJ/kg
    latent_heat_source = "handbook"

Such a file must give its own elongation (of ferrite, its slope going on) and specific
heat (without the peak): EN 1993-1-2 holds both effects, in its level elongation from 750
to 860 degC and its peak at 735 degC, and they would count twice.  A strain or a latent
heat of 0 needs no such column.  The strain comes and goes with a hysteresis, see
fem.transformation; the latent heat is part of the heat content over the heating range,
so on cooling it comes back there and not in the cooling range.  Strength, conductivity
and plastic flow do not depend on the phases: no hardening by quenching, no
transformation plasticity.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.arrays import frozen
from shrinksim.errors import CaseError
from shrinksim.shop.steel_change import Transformation, transformation
from shrinksim.shop.steel_entries import Column, measured, source_of, unknown
from shrinksim.text.faults import refused
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import printable, shown
from shrinksim.units.quantity import quantity

FAMILIES: Mapping[str, tuple[float, str]] = {
    "carbon": (
        650.0,
        "FHWA, Guide for heat-straightening of damaged steel bridge members, ch. 5.1; "
        "AWS D1.1 (1200 degF)",
    ),
    "quenched and tempered": (
        593.0,
        "AWS D1.1 (1100 degF); an older AASHTO bridge specification, 2.10.5(A), "
        "allowed 607 degC (1125 degF) for A514 and A517",
    ),
    "A709-70W or A852": (566.0, "FHWA guide (1050 degF), from memory"),
}
"""Family of steels -> highest heating temperature of practice (degC) and its source."""

QUENCHED = frozenset({"quenched and tempered", "A709-70W or A852"})
"""Families that got their strength by quenching: no water on them while hot (FHWA guide
and handbooks, from memory).  A709-70W and A852 are such plates too (their titles)."""

EN_SOURCES: Mapping[str, str] = {
    "conductivity": "EN 1993-1-2:2005, 3.4.1.3",
    "specific_heat": "EN 1993-1-2:2005, 3.4.1.2",
    "elongation": "EN 1993-1-2:2005, 3.4.1.1",
    "modulus": "EN 1993-1-2:2005, table 3.1, times 210 GPa (EN 1993-1-1:2005, 3.2.6)",
    "yield_plateau": "EN 1993-1-2:2005, table 3.1, times the yield stress",
    "proportional_limit": "EN 1993-1-2:2005, table 3.1, times the yield stress",
}
CURVES = ("ellipse", "plateau")
EN_CURVE = "EN 1993-1-2"

_DIMENSIONS = {
    "conductivity": "conductivity",
    "elongation": "dimensionless",
    "modulus": "stress",
    "yield_plateau": "stress",
    "proportional_limit": "stress",
}
_SENSIBLE = {
    "conductivity": (1.0, 500.0),
    "specific_heat": (100.0, 20e3),
    "elongation": (-0.05, 0.05),
    "modulus": (1e8, 300e9),
    "yield_plateau": (1e5, 3e9),
    "proportional_limit": (1e5, 3e9),
}
"""Column -> bounds (SI), to detect wrong units."""
_SPECIFIC_HEATS = {"J/kg K": 1.0, "J/kgK": 1.0, "kJ/kg K": 1e3, "kJ/kgK": 1e3}
_KEYS = (
    "name", "family", "limit", "limit_source", "yield_stress", "yield_stress_source",
    "curve", "columns", "transformation",
)  # fmt: skip


@dataclass(frozen=True)
class Grade:
    """Contents of a steel file.  yield_stress : Pa at 20 degC; limit : degC.

    columns : only those that do not follow EN 1993-1-2.  sources : of every value.
    change : of phase, None when the file has no such table.  family : of FAMILIES, None
    when the file names none.
    """

    name: str
    yield_stress: float
    limit: float
    curve: str
    columns: Mapping[str, Column]
    sources: Mapping[str, str]
    change: Transformation | None = None
    family: str | None = None


def read_grade(path: str | Path) -> Grade:
    """Grade of a steel file; raises one CaseError with all its faults.

    The file is read again only when it has changed.
    """
    path = Path(path)
    return _read(path, stamp(path))


Stamp = tuple[int, int, int] | None


def stamp(path: Path) -> Stamp:
    """Time, size and inode of a file, which change with it; None where unknown."""
    try:
        found = path.stat()
    except (OSError, ValueError):
        return None
    return found.st_mtime_ns, found.st_size, found.st_ino


@lru_cache(maxsize=32)
def _read(path: Path, _stamp: Stamp) -> Grade:
    where = printable(str(path))
    return grade_from_text(read_text(path, where), where)


def grade_from_text(text: str, where: str) -> Grade:
    """Grade of a steel file's text; ``where`` begins every message."""
    table = tables_of(text, where)
    faults: list[str] = []
    unknown(table, _KEYS, "", faults)
    sources: dict[str, str] = {}
    fy = measured(table, "yield_stress", "stress", faults, sources)
    if fy is not None and not 50e6 <= fy <= 1500e6:
        faults.append(
            f"yield_stress = {shown(table['yield_stress'])} is not from 50 MPa to 1500 MPa"
        )
    limit = _limit(table, faults, sources)
    curve = table.get("curve", "ellipse")
    if curve not in CURVES:
        faults.append(f"curve = {shown(curve)} is not one of {', '.join(CURVES)}")
    columns = _columns(table.get("columns", {}), limit, faults, sources)
    _check_cold(fy, columns, faults)
    change = transformation(table.get("transformation"), columns, faults, sources)
    name = table.get("name")
    if not isinstance(name, str) or not name.strip():
        faults.append('name is missing; write such as name = "girder steel"')
    if faults:
        raise refused(where, faults)
    assert fy is not None
    assert limit is not None
    assert isinstance(name, str)
    family = table["family"] if table.get("family") in FAMILIES else None
    return Grade(name, fy, limit, str(curve), columns, sources, change, family)


def _limit(
    table: Mapping[str, Any], faults: list[str], sources: dict[str, str]
) -> float | None:
    """Practice limit (degC), of the file or of its family of steels."""
    if "limit" in table:
        limit = measured(table, "limit", "temperature", faults, sources)
        if limit is not None and not 100.0 <= limit <= 1200.0:
            faults.append(
                f"limit = {shown(table['limit'])} is not from 100 degC to 1200 degC"
            )
        return limit
    family = table.get("family")
    if not isinstance(family, str) or family not in FAMILIES:
        given = (
            f"family = {shown(family)}" if "family" in table else "family (or limit)"
        )
        faults.append(f"{given} is not one of {', '.join(FAMILIES)}")
        return None
    limit, sources["limit"] = FAMILIES[family]
    return limit


def _columns(
    table: object, limit: float | None, faults: list[str], sources: dict[str, str]
) -> dict[str, Column]:
    """Columns by name; the sources of all six go into ``sources``."""
    if not isinstance(table, Mapping):
        faults.append("columns is not a table")
        return {}
    unknown(table, ("temperature", *EN_SOURCES), "columns.", faults)
    columns = {}
    for name, standard in EN_SOURCES.items():
        given = table.get(name)
        if given is None:
            sources[name] = f"{standard}; the steel file gives no other"
            continue
        at = f"columns.{name}"
        if not isinstance(given, Mapping):
            faults.append(f"{at} is not a table with unit, values and source")
            continue
        unknown(
            given,
            ("unit", "values", "source", "temperature", "curve"),
            f"{at}.",
            faults,
        )
        source = source_of(given, "source", f"{at}.source", faults)
        sources[name] = source or ""
        if "curve" in given and "values" not in given:
            if given["curve"] != EN_CURVE:
                faults.append(
                    f'{at}.curve = {shown(given["curve"])} is not "{EN_CURVE}"'
                )
            continue
        shared = given.get("temperature", table.get("temperature"))
        column = _column(name, at, given, shared, faults)
        if column is not None:
            columns[name] = column
            _check_column(name, at, column, limit, faults)
    return columns


def _column(
    name: str, at: str, given: Mapping[str, Any], shared: object, faults: list[str]
) -> Column | None:
    """Column in SI, None when it has a fault."""
    if not isinstance(shared, Mapping):
        faults.append(f"{at} has no temperature; write columns.temperature = "
                      '{ unit = "degC", values = [20, 400, 800] }')  # fmt: skip
        return None
    numbers = _numbers(given.get("values"), f"{at}.values", faults)
    rows = _numbers(shared.get("values"), f"temperature of {at}", faults)
    if numbers is None or rows is None:
        return None
    if len(numbers) != len(rows):
        faults.append(f"{at} has {len(numbers)} values for {len(rows)} temperatures")
        return None
    try:
        factor = _factor(name, given.get("unit"))
        zero, one = (
            quantity(f"{n} {shared.get('unit')}", "temperature") for n in (0, 100)
        )
    except CaseError as error:
        faults.append(f"{at}: {error}")
        return None
    T = zero + np.asarray(rows) * (one - zero) / 100.0
    return Column(frozen(T), frozen(factor * np.asarray(numbers)))


def _numbers(given: object, at: str, faults: list[str]) -> list[float] | None:
    plain = isinstance(given, list) and all(
        isinstance(v, int | float) and not isinstance(v, bool) for v in given
    )
    if not plain or not isinstance(given, list) or not 2 <= len(given) <= 10000:
        faults.append(f"{at} is not a list of two numbers or more")
    elif not all(abs(v) <= 1e12 for v in given):
        faults.append(f"{at} holds a value that is not a finite, sensible number")
    else:
        return [float(v) for v in given]
    return None


def _factor(name: str, unit: object) -> float:
    """SI value of one unit of a column."""
    if not isinstance(unit, str) or unit[:1] in tuple("0123456789.,/-+"):
        message = f'unit = {shown(unit)} is not a unit; write such as unit = "MPa"'
        raise CaseError(message)
    if name in _DIMENSIONS:
        return quantity(f"1 {unit}", _DIMENSIONS[name])
    if isinstance(unit, str) and unit in _SPECIFIC_HEATS:
        return _SPECIFIC_HEATS[unit]
    message = f"unit = {shown(unit)} is not one of {', '.join(_SPECIFIC_HEATS)}"
    raise CaseError(message)


def _check_column(
    name: str, at: str, column: Column, limit: float | None, faults: list[str]
) -> None:
    """Add faults of impossible values, or of a range that ends below the limit."""
    T, values = column.temperature, column.values
    if np.any(np.diff(T) <= 0.0):
        faults.append(f"temperature of {at} does not increase from row to row")
    if T[0] > 25.0 or (limit is not None and T[-1] < limit):
        upper = f" to the limit of {limit:.0f} degC" if limit is not None else ""
        faults.append(
            f"{at} covers {T[0]:.0f} degC to {T[-1]:.0f} degC; it must cover "
            f"20 degC{upper}"
        )
    least, most = _SENSIBLE[name]
    odd = values[(values < least) | (values > most)]
    if len(odd):
        faults.append(
            f"{at} holds {odd[0]:g} in SI units, which is not from {least:g} to "
            f"{most:g}; is its unit right?"
        )


def _check_cold(
    fy: float | None, columns: Mapping[str, Column], faults: list[str]
) -> None:
    """Add faults of a modulus or a yield plateau that is impossible at 20 degC."""
    cold = {k: np.interp(20.0, c.temperature, c.values) for k, c in columns.items()}
    E, plateau = cold.get("modulus", 210e9), cold.get("yield_plateau", fy)
    if not 150e9 <= E <= 250e9:
        faults.append(
            f"columns.modulus is {E / 1e9:g} GPa at 20 degC, which is not from 150 to "
            "250; is its unit right?"
        )
    if fy is None or plateau is None:
        return
    if not 0.7 * fy <= plateau <= 1.5 * fy:
        faults.append(
            f"columns.yield_plateau is {plateau / 1e6:.0f} MPa at 20 degC, but "
            f"yield_stress is {fy / 1e6:.0f} MPa; they must be within 0.7 to 1.5"
        )

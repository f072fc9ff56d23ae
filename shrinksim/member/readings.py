"""Readings of a survey: a table of them from a file, and what can be true of them.

A reading is the offset of the member's edge from a string or laser line at a station, the
blocks under the line's ends included.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.case.quantity import quantity, show
from shrinksim.case.saying import near, printable, shown
from shrinksim.case.textfile import read_text
from shrinksim.errors import CaseError
from shrinksim.member.line import Plane

COLUMNS = ("station", "camber", "sweep", "camber other edge", "sweep other edge")

LEAST, MOST = 3, 400
"""Readings of one plane."""

STEEPEST = 0.2
"""Slope between two readings that no member has that is still to be straightened."""

STRAY = 12.0
"""A reading that is so many times as far from its neighbours' line as the median one is
taken for a slip of the pen or of the unit."""

MOST_TOLD = 20


@dataclass(frozen=True)
class Readings:
    """Readings of one plane: x (k,) m rising; offset (k,) m from the string or laser
    line with its blocks taken off, + up or right; error : m, standard deviation of one.
    """

    plane: Plane
    x: FloatArray
    offset: FloatArray
    error: float


def read_csv(
    path: Path, where: str, length: float, units: str = "metric"
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Stations (k,) m and readings (k,) m of every column of a table of readings.

    The header names the columns, with a unit in brackets or none, then every cell has
    its own: ``station (m), camber (mm)`` or ``12 ft 6 in, 1 3/8 in``.  Separators are
    commas, semicolons or tabs; with the last two a decimal comma may stand.  A cell that
    is left empty has no reading.  Raises CaseError with every fault of the file.
    """
    rows = _rows(read_text(path, where))
    names, unit_of, faults = _header(rows[0][1] if rows else [], where)
    if faults:
        raise CaseError(faults)
    found: dict[str, list[tuple[float, float]]] = {name: [] for name in names[1:]}
    for number, cells in rows[1:]:
        place = f"{where}: line {number}"
        if len(cells) > len(names):
            faults.append(f"{place}: has {len(cells)} cells, the header {len(names)}")
            continue
        values = _values(cells, names, unit_of, place, faults)
        if values and values[0] is None:
            faults.append(f"{place}: has no station")
        for name, value in zip(names[1:], values[1:], strict=False):
            if value is not None and values[0] is not None:
                found[name].append((values[0], value))
    if len(rows) > MOST + 1:
        faults.append(f"{where}: has {len(rows) - 1} rows; {MOST} are enough")
    faults += _outside(found, length, where, units)
    if not faults and not any(found.values()):
        faults.append(f"{where}: has no readings under its header")
    if faults:
        raise CaseError([printable(fault) for fault in faults[:MOST_TOLD]])
    return {
        name: (frozen([p[0] for p in pairs]), frozen([p[1] for p in pairs]))
        for name, pairs in found.items()
        if pairs
    }


def _rows(text: str) -> list[tuple[int, list[str]]]:
    """Line number and cells of every line that is neither empty nor a remark."""
    lines = text.split("\n")
    first = next((line for line in lines if line.strip(" ,;\t")), "")
    separator = next((mark for mark in "\t;" if mark in first), ",")
    rows = []
    for number, line in enumerate(lines[: 4 * MOST], start=1):
        if line.strip(" ,;\t") and not line.lstrip().startswith("#"):
            cells = next(csv.reader(io.StringIO(line[:2000]), delimiter=separator), [])
            cells = [cell.strip() for cell in cells]
            if separator != ",":
                cells = [re.sub(r"(?<=\d),(?=\d)", ".", cell) for cell in cells]
            rows.append((number, cells))
    return rows


def _header(
    cells: Sequence[str], where: str
) -> tuple[list[str], dict[str, str], list[str]]:
    """Names of the columns, units of those that have one, and what is wrong."""
    names, unit_of, faults = [], {}, []
    for cell in cells:
        match = re.fullmatch(r"\s*([^()\[\]]*?)\s*(?:[(\[]\s*(.*?)\s*[)\]])?\s*", cell)
        name = (match[1] if match else cell).lower().replace("_", " ")
        if name not in COLUMNS:
            faults.append(
                f"{where}: the column {shown(cell)} is not one of {', '.join(COLUMNS)}"
                f"{near(name, COLUMNS)}"
            )
        elif name in names:
            faults.append(f"{where}: the column {name} is there twice")
        names.append(name)
        if match and match[2]:
            unit_of[name] = match[2]
            try:
                quantity(f"1 {match[2]}", "length")
            except CaseError:
                faults.append(
                    f"{where}: {shown(match[2])} in the header is not a unit of length; "
                    "write mm, m, in or ft"
                )
    if not faults and (not names or names[0] != "station" or len(names) < 2):
        faults.append(
            f"{where}: the first line must name the columns: station first, then any of "
            f"{', '.join(COLUMNS[1:])}, as in: station (m), camber (mm)"
        )
    return names, unit_of, faults


def _values(
    cells: Sequence[str], names: Sequence[str], unit_of: dict[str, str], place: str,
    faults: list[str],
) -> list[float | None]:  # fmt: skip
    """Cells in m, None for an empty one; faults are added to."""
    values: list[float | None] = []
    for cell, name in zip(cells, names, strict=False):
        if not cell:
            values.append(None)
            continue
        bare = re.fullmatch(r"[-+]?[\d.]+(?:[ -]\d+/\d+)?|[-+]?\d+/\d+", cell)
        unit = unit_of.get(name, "")
        try:
            values.append(
                quantity(f"{cell} {unit}" if bare and unit else cell, "length")
            )
        except CaseError as error:
            faults.append(f"{place}: {name}: {error}")
            values.append(None if name != "station" else 0.0)
    return values


def _outside(
    found: dict[str, list[tuple[float, float]]], length: float, where: str, units: str
) -> list[str]:
    """Stations that are not on the member."""
    whole = show(length, "length", units)
    stations = {x for pairs in found.values() for x, _ in pairs}
    return [
        f"{where}: station {show(x, 'length', units)} is not on the member, which is "
        f"{whole} long from its marked end"
        for x in sorted(stations)
        if not -1e-6 <= x <= length + 1e-6
    ]


def cleaned(
    plane: Plane,
    x: FloatArray,
    reading: FloatArray,
    *,
    length: float,
    block: float,
    error: float,
    units: str = "metric",
) -> Readings:
    """Readings (k,) m at stations x (k,) m in order, the blocks taken off.

    Raises CaseError with everything that cannot be true of a member of this length.
    """
    x, reading = np.asarray(x, float), np.asarray(reading, float)
    order = np.argsort(x, kind="stable")
    x, offset = x[order], reading[order] - block
    faults = _impossible(plane, x, offset, length, units)
    if faults:
        raise CaseError([f"survey: {fault}" for fault in faults[:MOST_TOLD]])
    return Readings(plane, frozen(x), frozen(offset), error)


def _impossible(
    plane: Plane, x: FloatArray, offset: FloatArray, length: float, units: str
) -> list[str]:
    """Sentences on readings that no member gives."""

    def said(value: float) -> str:
        return show(float(value), "length", units)

    if not (np.isfinite(x).all() and np.isfinite(offset).all()):
        return [f"{plane}: a reading is not a number"]
    faults = []
    if len(x) < LEAST:
        faults.append(
            f"{plane}: has {len(x)} reading{'s' * (len(x) != 1)}; a line needs at least "
            f"{LEAST}: both ends and one between"
        )
    faults += [
        f"{plane}: station {said(at)} is not on the member, which is {said(length)} long"
        for at in x[(x < -1e-6) | (x > length + 1e-6)]
    ]
    gaps = np.diff(x)
    faults += [
        f"{plane}: station {said(at)} is read twice; keep one reading, or their mean"
        for at in np.unique(x[1:][gaps < 1e-6])
    ]
    if faults:
        return faults
    stray = _strays(x, offset)
    faults += [
        f"{plane}: the reading {said(offset[k])} at {said(x[k])} is far off its "
        f"neighbours: a slip, or another unit{_as_inches(x, offset, k)}?"
        for k in stray
    ]
    steep = np.abs(np.diff(offset)) > STEEPEST * gaps
    if steep.any() and not faults:
        k = int(np.argmax(np.abs(np.diff(offset)) / gaps))
        faults.append(
            f"{plane}: from {said(x[k])} to {said(x[k + 1])} the readings go from "
            f"{said(offset[k])} to {said(offset[k + 1])}, steeper than 1 in "
            f"{1 / STEEPEST:.0f}: no member that can be straightened does that; are "
            "the units right?"
        )
    return faults


def _strays(x: FloatArray, offset: FloatArray) -> list[int]:
    """Readings far off the straight line between their neighbours, worst of each group."""
    if len(x) < 5:
        return []
    share = (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
    off = np.abs(offset[1:-1] - (1 - share) * offset[:-2] - share * offset[2:])
    usual = max(float(np.median(off)), 0.004)
    far = np.append(np.append(0.0, off), 0.0)
    peak = [
        k
        for k in range(1, len(x) - 1)
        if far[k] > STRAY * usual and far[k] >= max(far[k - 1], far[k + 1])
    ]
    return peak if len(peak) <= len(x) // 4 else []


def _as_inches(x: FloatArray, offset: FloatArray, k: int) -> str:
    """A hint when the reading would fit between its neighbours in the other unit."""
    share = (x[k] - x[k - 1]) / (x[k + 1] - x[k - 1])
    between = (1 - share) * offset[k - 1] + share * offset[k + 1]
    inch = quantity("1 in", "length") / quantity("1 mm", "length")
    for factor, text in ((inch, "inches"), (1.0 / inch, "millimetres")):
        off = abs(offset[k] - between)
        if abs(offset[k] * factor - between) < 0.2 * off:
            return f" (it would fit in {text})"
    return ""


def string_sag(weight: float, pull: float, length: float) -> float:
    """Sag (m) of a string of ``weight`` N/m pulled with ``pull`` N: w L2 / 8 H.

    The parabola of a flat catenary (statics).  It adds to camber readings, not to sweep.
    """
    return weight * length**2 / (8.0 * pull)


def twist(
    x: FloatArray, one: FloatArray, other: FloatArray, spacing: float, error: float
) -> tuple[float, float, FloatArray]:
    """Twist (rad/m), its standard deviation, and the angle (k,) rad at every station.

    one, other : (k,) m, readings on two edges ``spacing`` m apart at the same stations;
    the angle is their difference over the spacing, the twist its slope by least squares.
    """
    angle = (np.asarray(one, float) - np.asarray(other, float)) / spacing
    centred = np.asarray(x, float) - float(np.mean(x))
    square = float(centred @ centred)
    if len(angle) < 2 or square <= 0.0:
        message = "survey: twist needs both edges read at two stations at least"
        raise CaseError(message)
    sigma = np.sqrt(2.0) * error / spacing / np.sqrt(square)
    return float(centred @ angle / square), float(sigma), frozen(angle)

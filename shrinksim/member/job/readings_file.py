"""Read a table of readings (CSV) to stations and readings in metres.

The first line names the columns, with their units there or in each cell:

    station (m), camber (mm), sweep (mm), remark
    0, 50, 50,
    3, 62, 51.5, weld
    6, "3 1/8 in", 50, other tape

Columns are parted by commas, semicolons or tabs; with semicolons and tabs the decimal
sign may be a comma.  Lines that begin with # are skipped; a cell may be empty; a column
of remarks is not read.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.text.files import read_text
from shrinksim.text.quoting import near, printable, shown
from shrinksim.units.quantity import quantity
from shrinksim.units.tape import place

COLUMNS = ("station", "camber", "sweep", "camber other edge", "sweep other edge")
_REMARKS = {"remark", "remarks", "note", "notes", "comment", "comments"}
_LIKE = "as in: station (m), camber (mm)"

MOST = 400
"""Readings of one plane."""

LONGEST_LINE = 2000
MOST_FAULTS = 20


class _Column(NamedTuple):
    """What a column holds (one of `COLUMNS`, "remark"), and its unit."""

    holds: str
    title: str
    unit: str | None


class _Cell(NamedTuple):
    """One cell: line of the file, column, its text."""

    line: int
    column: _Column
    text: str


def read_csv(
    path: Path, where: str, length: float, units: str = "metric"
) -> dict[str, tuple[FloatArray, FloatArray]]:
    """Stations (k,) m and readings (k,) m of every column of a table of readings.

    where : begins each sentence of the CaseError, which has every fault of the file.
    length : m of the member.
    """
    faults: list[str] = []
    rows = _rows(read_text(path, where), faults)
    values = _values([cell for row in rows for cell in row], faults)
    found: dict[str, list[tuple[float, float]]] = {}
    for row in rows:
        station, *readings = row
        if not station.text and any(cell.text for cell in readings):
            faults.append(f"line {station.line}: has no station")
        for cell in readings:
            if cell in values and station in values:
                pairs = found.setdefault(cell.column.holds, [])
                pairs.append((values[station], values[cell]))
    titles = [row[0].column.title for row in rows[:1]]
    stations = [values[row[0]] for row in rows if row[0] in values]
    faults += _outside(stations, titles, length, units)
    if not faults and not found:
        faults.append("has no readings under its header")
    if faults:
        raise CaseError(
            [printable(f"{where}: {separator}") for separator in faults[:MOST_FAULTS]]
        )
    return {
        name: (frozen([at for at, _ in pairs]), frozen([off for _, off in pairs]))
        for name, pairs in found.items()
    }


def columns_in(text: str) -> set[str]:
    """Which of `COLUMNS` a table of readings has, as far as it can be read."""
    return {cell.column.holds for row in _rows(text, []) for cell in row}


def _outside(
    stations: Sequence[float], titles: Sequence[str], length: float, units: str
) -> Iterator[str]:
    """Stations that are not on the member; one sentence when it is their unit."""
    if stations and max(stations) > 5.0 * length:
        yield (
            f"stations go to {place(max(stations), units)}, not on the member, which is "
            f"{place(length, units)} long; is the unit of {shown(titles[0])} right?"
        )
        return
    for at in sorted({at for at in stations if not -1e-6 <= at <= length + 1e-6}):
        yield (
            f"station {place(at, units)} is not on the member, which is "
            f"{place(length, units)} long from its marked end"
        )


def _rows(text: str, faults: list[str]) -> list[list[_Cell]]:
    """The cells of each line, the station first."""
    lines = list(enumerate(text.replace("\u00a0", " ").split("\n"), 1))
    lines = [(i, s) for i, s in lines if s.strip(' ,;\t"')]
    lines = [(i, s) for i, s in lines if not s.lstrip().startswith("#")]
    separator = re.fullmatch(r'"?sep=([,;\t])"?\s*', lines[0][1]) if lines else None
    lines = lines[1:] if separator else lines
    if len(lines) > MOST + 1:
        faults.append(f"has {len(lines) - 1} rows; {MOST} are enough")
        return []
    if not lines:
        faults.append(f"has no lines; the first names the columns, {_LIKE}")
        return []
    sign = (
        separator[1] if separator else next((c for c in "\t;" if c in lines[0][1]), ",")
    )
    columns = _columns(lines[0], sign, faults)
    if not columns:
        return []
    rows = [_row(number, line, sign, columns, faults) for number, line in lines[1:]]
    return [row for row in rows if row]


def _cells(line: str, sign: str) -> list[str]:
    """The texts between the separators; an inch mark within one is left alone."""
    (cells,) = csv.reader([line], delimiter=sign, skipinitialspace=True)
    return [cell.strip() for cell in cells]


def _columns(header: tuple[int, str], sign: str, faults: list[str]) -> list[_Column]:
    """The columns that the first line names; empty when that went wrong."""
    number, line = header
    names = [] if _unreadable(line) else _cells(line, sign)
    if all(not re.match(r"\s*[A-Za-z]", name) for name in names):
        faults.append(f"line {number}: the first line must name the columns, {_LIKE}")
        return []
    columns = [_column(name, faults) for name in names]
    held = [column.holds for column in columns]
    faults += [
        f"the column {name} is there twice" for name in COLUMNS if held.count(name) > 1
    ]
    if not faults and (held[0] != "station" or not set(held) & set(COLUMNS[1:])):
        faults.append(
            "the first line must name the columns: station first, then any of "
            f"{', '.join(COLUMNS[1:])}, {_LIKE}"
        )
    return columns if not faults else []


def _column(title: str, faults: list[str]) -> _Column:
    """One column from its title: "camber (mm)", "Station [m]", "sweep other edge in"."""
    whole = re.fullmatch(r"(.*?)\s*[(\[]\s*(.*?)\s*[)\]]", title)
    loose = re.fullmatch(r"(.*\S)\s+(mm|cm|m|in|inch|inches|ft|feet)\.?", title)
    match = whole or loose
    name, unit = (match[1], match[2] or None) if match else (title, None)
    plain = " ".join(re.split(r"[\s_]+", name.lower().strip()))
    if plain in _REMARKS or not plain:
        return _Column("remark", title, None)
    if plain not in COLUMNS:
        faults.append(
            f"the column {shown(title)} is not one of {', '.join(COLUMNS)}, remark"
            f"{near(plain, COLUMNS)}"
        )
    if unit is not None:
        try:
            quantity(f"1 {unit}", "length")
        except CaseError:
            faults.append(
                f"{shown(unit)} in the header is not a unit of length; write mm, m, in "
                "or ft"
            )
    return _Column(plain, title, unit)


def _unreadable(line: str) -> bool:
    """Whether a line is too long or not text."""
    return len(line) > LONGEST_LINE or not line.replace("\t", " ").isprintable()


def _row(
    number: int, line: str, sign: str, columns: list[_Column], faults: list[str]
) -> list[_Cell]:
    """The cells of a line; remarks are dropped."""
    if _unreadable(line):
        faults.append(f"line {number}: is too long, or holds what is no text")
        return []
    texts = _cells(line, sign)
    while len(texts) > len(columns) and not texts[-1]:
        texts.pop()
    if len(texts) > len(columns):
        hint = "; with decimal commas part the columns by semicolons"
        faults.append(
            f"line {number}: has {len(texts)} cells, the header {len(columns)}"
            f"{hint if sign == ',' else ''}"
        )
        return []
    cells = [_Cell(number, c, t) for c, t in zip(columns, texts, strict=False)]
    return [cell for cell in cells if cell.column.holds != "remark"]


def _values(cells: Sequence[_Cell], faults: list[str]) -> dict[_Cell, float]:
    """Metres of each cell that is not empty."""
    comma, wrong = _decimal_comma([cell.text for cell in cells])
    found: dict[_Cell, float] = {}
    for cell in cells:
        if not cell.text:
            continue
        at = f"line {cell.line}: {cell.column.holds}"
        if cell.text in wrong:
            faults.append(f"{at}: {shown(cell.text)} {wrong[cell.text]}")
            continue
        text = cell.text.replace(",", ".") if comma else cell.text
        bare = re.sub(r"(?<=[0-9])[eE](?=[-+]?[0-9])", "", text)
        if not re.search(r"[^\W\d_]|['\"’”′″]", bare):
            if cell.column.unit is None:
                faults.append(
                    f"{at}: {shown(cell.text)} has no unit; write it in the first line, "
                    f"{_LIKE}"
                )
                continue
            text = f"{text} {cell.column.unit}"
        try:
            found[cell] = quantity(text, "length")
        except CaseError as error:
            faults += [f"{at}: {problem}" for problem in error.problems]
    return found


def _decimal_comma(texts: Sequence[str]) -> tuple[bool, dict[str, str]]:
    """Whether commas are decimal signs, and what is wrong with cells that have one."""
    commas = [text for text in texts if re.search(r"[0-9],[0-9]", text)]
    points = any(re.search(r"[0-9]\.[0-9]", text) for text in texts)
    if not commas:
        return False, {}
    if points:
        why = "has a comma, other cells a point: write all with a point, 1.5 or 1500"
        return False, dict.fromkeys(commas, why)
    thousands = r"[^0-9]*[1-9][0-9]{0,2}(,[0-9]{3})+(?![0-9]).*"
    if all(re.fullmatch(thousands, text) for text in commas):
        why = "may be thousands or have a decimal comma; write 1.25 or 1250"
        return False, dict.fromkeys(commas, why)
    return True, {}

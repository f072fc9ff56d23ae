"""Calibration file: varied quantities and their ranges, formula by formula.

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
    ONE_OF,
    DesignSet,
    case_of,
    points_of,
)
from shrinksim.calibration.record import AnySet, CalibrationFile
from shrinksim.casefile.reader import read_record
from shrinksim.casefile.wording import Kind
from shrinksim.errors import CaseError
from shrinksim.text.files import read_text, tables_of
from shrinksim.text.quoting import printable

TRIED = 150
"""Points of each set that are made cases to see whether the file is in order."""


@dataclass(frozen=True)
class Calibrating:
    """Content of a calibration file.  remark : on the machine, for the record."""

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
    kind = Kind(CalibrationFile, "a key of a calibration")
    read = read_record(tables, where, kind, _between)
    sets = tuple(map(_set, read.sets))
    return Calibrating(read.title, read.remark or "", sets)


def _between(read: CalibrationFile | None) -> list[str]:
    """Faults between the sets, and of their runs."""
    if read is None:
        return []
    kinds = [one.of for one in read.sets]
    twice = [f"set: {of!r} is there twice" for of in kinds if kinds.count(of) > 1]
    return list(dict.fromkeys(twice)) or _refused([_set(one) for one in read.sets])


def _set(read: AnySet) -> DesignSet:
    """The set of a table."""
    given: dict[str, Any] = {
        name: getattr(read, name, None) for name in (*BETWEEN, *ONE_OF)
    }
    return DesignSet(
        of=read.of,
        runs=read.runs,
        seed=read.seed,
        between={n: given[n] for n in BETWEEN if given[n] is not None},
        one_of={n: given[n] for n in ONE_OF if given[n] is not None},
        numerics=read.numerics,
        fresh=read.fresh,
    )


def _refused(sets: list[DesignSet]) -> list[str]:
    """Faults that keep sets from being drawn, or their runs from being cases."""
    faults: list[str] = []
    for k, design in enumerate(sets):
        try:
            points = points_of(design)[0]
            for point in points[:: -(-len(points) // TRIED)]:
                case_of(design, point)
        except CaseError as error:
            faults += [f"set[{k}]: {problem}" for problem in error.problems]
    return faults

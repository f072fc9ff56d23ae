"""Origin of a case: its tables, from which a changed copy is read with all checks."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from shrinksim.casefile.keys import place_of, varied_tables
from shrinksim.casefile.resolving import resolved
from shrinksim.errors import CaseError


@dataclass(frozen=True)
class Origin:
    """Tables that a case was read from, and their resolved form.

    read(tables, where, folder) : reader of such tables.  where : name of them in
    messages.  folder : base of relative file names.  Cases are equal wherever they
    come from.
    """

    read: Callable[[Mapping[str, Any], str, Path], Any] = field(compare=False)
    tables: Mapping[str, Any] = field(compare=False)
    resolved: Mapping[str, Any] = field(compare=False)
    where: str = field(compare=False)
    folder: Path = field(compare=False)


def changed(case: Any, origin: Origin | None, values: Mapping[str, Any]) -> Any:
    """Copy of a case with other values at its keys, checked like a file.

    values : key ("heat.pattern.angle") -> value as a file has it ("30 deg").  Raises
    CaseError with every fault.
    """
    now = resolved(case)
    where, folder = (origin.where, origin.folder) if origin else ("case", Path())
    tables = now if origin is None or origin.resolved != now else origin.tables
    places, problems = [], []
    for key in values:
        try:
            places.append(place_of(key, tables))
        except CaseError as error:
            problems += [f"{where}: {key} {problem}" for problem in error.problems]
    if problems:
        raise CaseError(problems)
    given = varied_tables(tables, tuple(places), tuple(values.values()))
    if origin is None:
        message = f"{where}: was not made by load or case(...), and cannot be changed"
        raise CaseError(message)
    return origin.read(given, where, folder)


def remember(case: Any, read: Any, tables: Any, where: str, folder: Path) -> Any:
    """The case, with its origin attached."""
    if hasattr(case, "_origin"):
        given = copy.deepcopy(dict(tables))
        case._origin = Origin(read, given, resolved(case), where, folder)
    return case

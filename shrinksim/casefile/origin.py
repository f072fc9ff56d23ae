"""Origin of a case: its tables, from which a changed copy is read with all checks."""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.casefile.keys import place_of, varied_tables
from shrinksim.casefile.own import own_law, own_steel, with_own
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
    """A copy of a case with other values at its keys, checked as a file is.

    values : key ("heat.pattern.angle") -> value as a file has it ("30 deg").  The
    caller's own steel and cooling law stay.  Raises CaseError with every fault.
    """
    if origin is None:
        message = "case: was not made by load or case(...), and cannot be changed"
        raise CaseError(message)
    where, now = origin.where, resolved(case)
    tables = _overlaid(copy.deepcopy(dict(origin.tables)), origin.resolved, now)
    problems: list[str] = []
    for key, value in values.items():
        try:
            place = place_of(str(key), tables)
            tables = varied_tables(tables, (place,), (_plain(value),))
        except CaseError as error:
            problems += [f"{where}: {key} {problem}" for problem in error.problems]
    if problems:
        raise CaseError(problems)
    found = origin.read(tables, where, origin.folder)
    return with_own(found, own_steel(case), own_law(case))


def _overlaid(tables: Any, before: Any, now: Any) -> Any:
    """Tables with what differs between two resolved cases put in."""
    if before == now:
        return tables
    if isinstance(now, Mapping) and isinstance(before, Mapping):
        tables = dict(tables) if isinstance(tables, Mapping) else {}
        for key in before.keys() - now.keys():
            tables.pop(key, None)
        for key, value in now.items():
            if before.get(key) != value:
                tables[key] = _overlaid(tables.get(key), before.get(key), value)
        return tables
    lists = all(isinstance(part, list) for part in (tables, before, now))
    if lists and len(tables) == len(before) == len(now):
        return [_overlaid(*parts) for parts in zip(tables, before, now, strict=True)]
    return now


def _plain(value: Any) -> Any:
    """A value in the types of a file: numpy's numbers and arrays as Python's."""
    return value.tolist() if isinstance(value, (np.generic, np.ndarray)) else value


def remember(case: Any, read: Any, tables: Any, where: str, folder: Path) -> Any:
    """The case, with its origin attached."""
    if hasattr(case, "_origin"):
        given = copy.deepcopy(dict(tables))
        case._origin = Origin(read, given, resolved(case), where, folder)
    return case

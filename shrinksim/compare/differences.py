"""Differences between resolved cases, in the words and units of the case file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from pathlib import PurePath
from typing import Any

from shrinksim.casefile.resolving import resolved
from shrinksim.runs.store import AnyCase

NONE = "none"
"""Entry of a case that does not have the key."""

LEFT_OUT = ("title", "print_units", "output", "view")
"""Keys without influence on the numbers of a run."""

ZERO = re.compile(r"-?0(\.0*)?( |$)")
LONG = re.compile(r"(-?\d+\.\d{3,}(?:e[+-]?\d+)?)( m\b|)")
"""Numbers with many decimals, and a unit of metres if it follows."""

WORDS = {"section": "shape", "print_units": "units"}


@dataclass(frozen=True)
class Difference:
    """A part of the input that is not the same in all cases, with the value of each."""

    what: str
    values: tuple[str, ...]

    @property
    def groups(self) -> tuple[tuple[str, tuple[int, ...]], ...]:
        """Each value once, with the numbers of the cases that have it."""
        return tuple(
            (value, tuple(k for k, other in enumerate(self.values) if other == value))
            for value in dict.fromkeys(self.values)
        )


def differences(cases: Sequence[AnyCase], units: str) -> tuple[Difference, ...]:
    """Differences between cases, all written in ``units`` (metric, us)."""
    alike = [case.model_copy(update={"print_units": units}) for case in cases]
    tables = [_trimmed(resolved(case)) for case in alike]
    return tuple(_compared("", tables))


def _trimmed(tables: dict[str, Any]) -> dict[str, Any]:
    """The tables without keys of no influence, and without a repeated torch."""
    kept = {name: part for name, part in tables.items() if name not in LEFT_OUT}
    for heat in kept["heat"]:
        for pattern in heat.get("pattern", ()):
            torch = pattern.pop("torch", {})
            own = {k: v for k, v in torch.items() if kept["torch"].get(k) != v}
            pattern |= {f"torch {key}": value for key, value in own.items()}
    return kept


def _compared(place: str, parts: Sequence[Any]) -> list[Difference]:
    """Differences of parts that stand at one place of each case."""
    if all(part == parts[0] for part in parts):
        return []
    if all(isinstance(part, Mapping) for part in parts) and _one_kind(parts):
        keys = dict.fromkeys(key for part in parts for key in part)
        found = []
        for key in keys:
            inside = [part.get(key) for part in parts]
            found += _compared(_joined(place, key), inside)
        return found
    if all(isinstance(part, list) for part in parts) and _of_tables(parts):
        most = max(map(len, parts))
        found = []
        for k in range(most):
            name = f"{place} {k + 1}" if most > 1 else place
            found += _compared(name, [p[k] if k < len(p) else None for p in parts])
        return found
    common = _common(parts)
    return [Difference(place, _distinct([_in_words(part, common) for part in parts]))]


def _one_kind(parts: Sequence[Mapping[str, Any]]) -> bool:
    """Whether tables describe the same kind of thing, so that keys can be compared."""
    return all(
        len({str(part.get(key)) for part in parts}) == 1 for key in ("kind", "section")
    )


def _of_tables(parts: Sequence[Sequence[Any]]) -> bool:
    return all(isinstance(entry, Mapping) for part in parts for entry in part)


def _joined(place: str, key: str) -> str:
    """The name of a part of a part: "heat 1, cooling: start below"."""
    name = WORDS.get(key, key.replace("_", " "))
    if not place:
        return name
    return f"{place}{', ' if key in ('pattern', 'cooling') else ': '}{name}"


def _common(parts: Sequence[Any]) -> set[str]:
    """Keys that all tables have with the same value; they are left out."""
    tables = [part for part in parts if isinstance(part, Mapping)]
    if len(tables) < 2:
        return set()
    return {
        key
        for key, value in tables[0].items()
        if all(key in t and t[key] == value for t in tables[1:])
    }


def _in_words(part: Any, common: AbstractSet[str] = frozenset()) -> str:
    """A part of a case in a few words: its kind first, then its own values."""
    match part:
        case None:
            return NONE
        case bool():
            return "yes" if part else "no"
        case Mapping():
            lead = [str(part[key]) for key in ("kind", "section") if key in part]
            rest = [
                f"{key.replace('_', ' ')} {_in_words(value)}"
                for key, value in part.items()
                if key not in ("kind", "section", *common) and not _is_zero(value)
            ]
            return ", ".join(lead + rest) or NONE
        case list() | tuple():
            ends = " and " if all(isinstance(p, str) for p in part) else "; "
            return ends.join(_in_words(entry) for entry in part)
        case _:
            return str(part)


def _is_zero(value: Any) -> bool:
    """Whether a value is left out: no, or zero of something."""
    return value is False or (isinstance(value, str) and bool(ZERO.match(value)))


def _distinct(values: Sequence[str]) -> tuple[str, ...]:
    """Files by their names and numbers in short, where those tell them apart."""
    short = [
        _short(PurePath(v).name if PurePath(v).is_absolute() else v) for v in values
    ]
    return tuple(short if len(set(short)) == len(set(values)) else values)


def _short(text: str) -> str:
    """The text with its numbers to five digits, and millimetres under a metre."""

    def rounded(found: re.Match[str]) -> str:
        number, unit = float(found[1]), found[2]
        if unit == " m" and abs(number) < 1.0:
            number, unit = 1e3 * number, " mm"
        return f"{number:.5g}{unit}"

    return LONG.sub(rounded, text)

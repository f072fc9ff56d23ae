"""Checks of the tables that all views share, and the parts of a case that they run on.

Every check returns sentences that begin with a key.  A check runs on all parts of the
file that could be read, so that one fault does not hide the next.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Annotated, Any, Generic, Protocol, TypeVar, get_args

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic.fields import FieldInfo

from shrinksim.casefile.heating import MOST_HEATS, AnyCooling, Torch
from shrinksim.casefile.resolving import steel_of
from shrinksim.casefile.tables import (
    Dimensions,
    Numerics,
    Output,
    SteelChoice,
    Surroundings,
)
from shrinksim.errors import CaseError
from shrinksim.shop.sections.catalogue import KINDS, section_named
from shrinksim.shop.sections.shape import Section
from shrinksim.shop.steel import Steel
from shrinksim.shop.steel_file import QUENCHED, read_grade
from shrinksim.text.files import read_text
from shrinksim.text.quoting import near

HOTTEST = 1200.0
"""degC, where the curves of EN 1993-1-2:2005 end (3.2.1, table 3.1)."""


M = TypeVar("M")
L = TypeVar("L")
P = TypeVar("P")


@dataclass(frozen=True)
class Parts(Generic[M, L, P]):
    """Parts of a case that could be read; None for a table with a fault.

    member, load, patterns : of the view.  patterns : (heat, where in the file, pattern).
    coolings : (heat, where, cooling).  units : that messages show values in, metric or
    us.
    """

    member: M | None
    steel: SteelChoice | None
    surroundings: Surroundings | None
    torch: Torch | None
    load: L | None
    numerics: Numerics | None
    output: Output | None
    patterns: tuple[tuple[int, str, P], ...]
    coolings: tuple[tuple[int, str, AnyCooling], ...]
    units: str = "metric"

    @property
    def ambient(self) -> float | None:
        """The surroundings' temperature, degC."""
        return self.surroundings.ambient if self.surroundings else None


TABLES = (
    "member", "steel", "surroundings", "torch", "load", "numerics", "output",
)  # fmt: skip


def parts_of(
    record: type[BaseModel], tables: Mapping[str, Any], case: Any
) -> Parts[Any, Any, Any]:
    """Parts of a file that are valid by themselves: of the ``case``, if it is one.

    record : of the view's case.
    """
    units = "us" if tables.get("print_units") == "us" else "metric"
    if case is not None:
        tops: list[Any] = [getattr(case, name) for name in TABLES]
        heats = [(heat.patterns, heat.cooling) for heat in case.heats]
    else:
        fields = record.model_fields
        tops = [
            read(
                fields[name].annotation,
                tables.get(name, None if fields[name].is_required() else {}),
            )
            for name in TABLES
        ]
        heat_record = get_args(fields["heats"].annotation)[0]
        kind = get_args(heat_record.model_fields["patterns"].annotation)[0]
        cooled = _tagged(heat_record.model_fields["cooling"])
        heats = [
            (
                [read(kind, entry) for entry in entries(heat.get("pattern"))],
                read(cooled, heat.get("cooling", {})),
            )
            for heat in entries(tables.get("heat"))
        ]
    patterns = tuple(
        (i, f"heat[{i}].pattern[{j}]", pattern)
        for i, (found, _) in enumerate(heats)
        for j, pattern in enumerate(found)
        if pattern is not None
    )
    coolings = tuple(
        (i, f"heat[{i}].cooling", cooling)
        for i, (_, cooling) in enumerate(heats)
        if cooling is not None
    )
    member, steel, air, torch, load, numerics, output = tops
    return Parts(
        member, steel, air, torch, load, numerics, output, patterns, coolings, units
    )


def _tagged(field: FieldInfo) -> Any:
    """What a field takes, with how its kinds are told apart."""
    return Annotated[field.annotation, field.discriminator]


def entries(given: object) -> list[Mapping[str, Any]]:
    """Tables of a list; an empty table in place of any other value."""
    if not isinstance(given, (list, tuple)):
        return []
    return [entry if isinstance(entry, Mapping) else {} for entry in given[:MOST_HEATS]]


@cache
def _validator(kind: Any) -> TypeAdapter[Any]:
    """Validator of one kind of record, cached because it is slow to build."""
    return TypeAdapter(kind)


def read(kind: Any, given: object) -> Any:
    """Record of the kind, None when ``given`` has a fault."""
    try:
        return _validator(kind).validate_python(given)
    except ValidationError:
        return None


def is_quenched(choice: SteelChoice | None, folder: Path = Path()) -> bool:
    """Whether the steel's file gives a quenched and tempered family."""
    if choice is None or choice.file is None:
        return False
    try:
        return read_grade(folder / choice.file).family in QUENCHED
    except CaseError:  # reported by `steel_faults`
        return False


def steel_faults(
    choice: SteelChoice | None, folder: Path
) -> tuple[Steel | None, float, list[str]]:
    """Steel, the temperature (degC) at which its data end, and its faults."""
    hottest = HOTTEST
    if choice is None:
        return None, hottest, []
    if (choice.grade is None) == (choice.file is None):
        which = "both; leave one out" if choice.grade else "missing; write one"
        return None, hottest, [f"steel.grade or steel.file: {which}"]
    faults = []
    share = "kinematic_share"
    if share in choice.model_fields_set and choice.hardening != "mixed":
        faults.append(f'steel.{share} is only for hardening = "mixed"')
    try:
        if choice.file is not None:
            path = folder / choice.file
            read_text(path, choice.file.as_posix())
            columns = read_grade(path).columns.values()
            hottest = min([hottest, *(float(c.temperature[-1]) for c in columns)])
        return steel_of(choice, folder), hottest, faults
    except CaseError as error:
        at = "steel.file: " if choice.file else "steel: "
        for problem in error.problems:
            of_key = problem.startswith("grade = ")
            faults.append(f"steel.{problem}" if of_key else f"{at}{problem}")
        return None, hottest, faults


class GivenDimensions(Dimensions, Protocol):
    """Member table with its given dimensions and their section."""

    @property
    def model_fields_set(self) -> set[str]: ...
    @property
    def shape(self) -> Section: ...


_DIMENSIONS = frozenset(
    key for kind in KINDS.values() for key in (*kind.due, *kind.free)
)


def dimension_faults(member: GivenDimensions) -> list[str]:
    """Faults of the dimensions: missing, not for the kind of section, or contradictory."""
    if member.section not in KINDS:
        try:
            section_named(member.section)
        except CaseError as error:
            hint = near(member.section, tuple(KINDS))
            return [f"member.section = {problem}{hint}" for problem in error.problems]
    due, free = _keys_of(member.section)
    given = member.model_fields_set & _DIMENSIONS
    faults = [
        f"member.{key} is missing; a section of kind '{member.section}' needs it"
        for key in due
        if getattr(member, key) is None
    ]
    faults += [
        f"member.{key} is not for section '{member.section}'; leave it out"
        for key in sorted(given - {*due, *free})
    ]
    return faults or _shape_faults(member)


def _keys_of(section: str) -> tuple[Sequence[str], Sequence[str]]:
    """Required and optional dimensions of a kind of section."""
    kind = KINDS.get(section)
    return (kind.due, kind.free) if kind else ((), ())


def _shape_faults(member: GivenDimensions) -> list[str]:
    """Faults that the section itself reports."""
    try:
        _ = member.shape
    except CaseError as error:
        return [f"member: {problem}" for problem in error.problems]
    width, thickness = member.width, member.thickness
    if width is not None and thickness is not None and thickness > width:
        return ["member.thickness is more than member.width; exchange the two"]
    return []

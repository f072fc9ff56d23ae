"""What is wrong between the keys of a case that are each right by themselves.

Every check returns sentences that begin with a key.  A check runs on whatever parts of
the file could be read, so that one slip does not hide the next.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from pydantic import TypeAdapter, ValidationError

from shrinksim.case.heating import MOST_HEATS, AnyCooling, AnyPattern, StillAir, Torch
from shrinksim.case.resolving import merged, steel_of
from shrinksim.case.schema import (
    Load,
    Member,
    Numerics,
    Output,
    SteelChoice,
    Surroundings,
)
from shrinksim.errors import CaseError
from shrinksim.shop.flame import flame_named
from shrinksim.shop.steel import Steel
from shrinksim.shop.steel_file import QUENCHED, read_grade
from shrinksim.text.files import read_text
from shrinksim.views.elevation import geometry_checks as fit
from shrinksim.views.elevation import load_checks as strength


@dataclass(frozen=True)
class Parts:
    """What could be read of a file; None for a table with a fault in it.

    patterns : (heat, where in the file, pattern).  coolings : (where, cooling).
    units : that messages show values in, metric or us.
    """

    member: Member | None
    steel: SteelChoice | None
    surroundings: Surroundings | None
    torch: Torch | None
    load: Load | None
    numerics: Numerics | None
    output: Output | None
    patterns: tuple[tuple[int, str, AnyPattern], ...]
    coolings: tuple[tuple[str, AnyCooling], ...]
    units: str = "metric"


def parts_of(tables: Mapping[str, Any]) -> Parts:
    """The parts of a file that are right by themselves."""
    patterns, coolings = [], []
    for i, heat in enumerate(entries(tables.get("heat"))):
        for j, entry in enumerate(entries(heat.get("pattern"))):
            pattern = read(AnyPattern, entry)
            if pattern is not None:
                patterns.append((i, f"heat[{i}].pattern[{j}]", pattern))
        cooling = read(AnyCooling, heat.get("cooling", {}))
        if cooling is not None:
            coolings.append((f"heat[{i}].cooling", cooling))
    return Parts(
        read(Member, tables.get("member")),
        read(SteelChoice, tables.get("steel")),
        read(Surroundings, tables.get("surroundings", {})),
        read(Torch, tables.get("torch", {})),
        read(Load, tables.get("load", {})),
        read(Numerics, tables.get("numerics", {})),
        read(Output, tables.get("output", {})),
        tuple(patterns),
        tuple(coolings),
        "us" if tables.get("print_units") == "us" else "metric",
    )


def entries(given: object) -> list[Mapping[str, Any]]:
    """The tables of a list; an empty one in place of what is no table."""
    if not isinstance(given, (list, tuple)):
        return []
    return [entry if isinstance(entry, Mapping) else {} for entry in given[:MOST_HEATS]]


@cache
def _reader(kind: Any) -> TypeAdapter[Any]:
    """Validation of one kind of record; building it takes a while."""
    return TypeAdapter(kind)


def read(kind: Any, given: object) -> Any:
    """A record of the kind, None when ``given`` has a fault."""
    try:
        return _reader(kind).validate_python(given)
    except ValidationError:
        return None


def checked(parts: Parts, folder: Path) -> list[str]:
    """Everything wrong between the keys of a case; ``folder`` holds its file."""
    faults = [] if parts.load is None else strength.load_faults(parts.load)
    steel, hottest, wrong = steel_faults(parts.steel, folder)
    faults += wrong
    if parts.member is not None:
        wrong = fit.member_faults(parts.member, parts.units)
        faults += wrong or _on_member(parts, parts.member, steel)
    ambient = parts.surroundings.ambient if parts.surroundings else None
    patterns = [(where, pattern.torch) for _, where, pattern in parts.patterns]
    faults += torches(parts.torch, patterns, ambient, hottest, parts.units)
    faults += _of_the_section_view(parts)
    quenched = is_quenched(parts.steel, folder)
    for where, cooling in parts.coolings:
        faults += strength.cooling_faults(where, cooling, ambient, parts.units)
        faults += strength.quench_faults(where, cooling, quenched)
    return list(dict.fromkeys(faults))


def _on_member(parts: Parts, member: Member, steel: Steel | None) -> list[str]:
    """What does not fit a sound member, and what it cannot carry."""
    view, faults = fit.view_of(member, parts.units), []
    if steel is not None and parts.load is not None:
        fy = steel.yield_stress
        faults += strength.capacity_faults(parts.load, member, fy, parts.units)
    sound = []
    for heat, where, pattern in parts.patterns:
        wrong = fit.pattern_faults(where, pattern, view)
        faults += wrong
        if not wrong:
            sound.append((heat, where, pattern))
    faults += fit.overlaps(sound, view)
    if parts.numerics is not None:
        faults += fit.numerics_faults(parts.numerics, member, view)
    if parts.output is not None:
        faults += fit.output_faults(parts.output, view)
    return faults


def is_quenched(choice: SteelChoice | None, folder: Path = Path()) -> bool:
    """Whether the steel's file says that it was quenched and tempered."""
    if choice is None or choice.file is None:
        return False
    try:
        return read_grade(folder / choice.file).family in QUENCHED
    except CaseError:  # told by `steel_faults`
        return False


def steel_faults(
    choice: SteelChoice | None, folder: Path
) -> tuple[Steel | None, float, list[str]]:
    """The steel, the temperature (degC) its data end at, and what is wrong with it."""
    hottest = strength.HOTTEST
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


def _of_the_section_view(parts: Parts) -> Iterator[str]:
    """What only a section case can ask for."""
    asked = [("torch", parts.torch)] if parts.torch is not None else []
    asked += [(f"{where}.torch", pattern.torch) for _, where, pattern in parts.patterns]
    for where, torch in asked:
        if torch.drive == "at once":
            yield f"{where}.drive = 'at once' is for view = \"section\"; hold the torch"
    for where, cooling in parts.coolings:
        if not isinstance(cooling, StillAir) and cooling.on is not None:
            yield f'{where}.on is for view = "section"; use reach or everywhere'


def torches(
    torch: Torch | None,
    patterns: Sequence[tuple[str, Torch]],
    ambient: float | None,
    hottest: float,
    units: str,
) -> Iterator[str]:
    """Faults of the torch's table and of the patterns' own, each where it stands."""
    if torch is None:
        return
    own = [("torch", torch, Torch())]
    own += [
        (f"{at}.torch", mine, torch) for at, mine in patterns if mine.model_fields_set
    ]
    for where, mine, base in own:
        try:
            flame_named(mine.flame)
            effective = merged(base, mine)
        except CaseError as error:
            for problem in error.problems:
                yield f"{where}.{problem}"
            continue
        yield from strength.torch_faults(where, mine, effective)
        yield from strength.target_faults(where, effective, ambient, hottest, units)

"""What is wrong between the keys of an elevation case that are each right by themselves."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeAlias

from shrinksim.casefile.checks import Parts, is_quenched, parts_of, steel_faults
from shrinksim.casefile.heating import AnyPattern, StillAir
from shrinksim.casefile.heating_checks import cooling_faults, quench_faults, torches
from shrinksim.casefile.load import Load
from shrinksim.casefile.load_checks import load_faults
from shrinksim.shop.steel import Steel
from shrinksim.views import fitting as fit
from shrinksim.views.elevation.geometry_checks import member_faults, view_of
from shrinksim.views.elevation.load_checks import capacity_faults
from shrinksim.views.elevation.record import Case, Member

CaseParts: TypeAlias = Parts[Member, Load, AnyPattern]


def faults(tables: Mapping[str, Any], case: Case | None, folder: Path) -> list[str]:
    """Everything wrong between the keys of a case.

    case : of the tables, None where they make none.  folder : holds the case file.
    """
    return _between(parts_of(Case, tables, case), folder)


def _between(parts: CaseParts, folder: Path) -> list[str]:
    """Everything wrong between the keys of a case of which so much could be read."""
    faults = [] if parts.load is None else load_faults(parts.load)
    steel, hottest, wrong = steel_faults(parts.steel, folder)
    faults += wrong
    if parts.member is not None:
        wrong = member_faults(parts.member, parts.units)
        faults += wrong or _on_member(parts, parts.member, steel)
    patterns = [(where, pattern.torch) for _, where, pattern in parts.patterns]
    faults += torches(parts.torch, patterns, parts.ambient, hottest, parts.units)
    faults += _of_the_section_view(parts)
    quenched = is_quenched(parts.steel, folder)
    for _, where, cooling in parts.coolings:
        faults += cooling_faults(where, cooling, parts.ambient, parts.units)
        faults += quench_faults(where, cooling, quenched)
    return list(dict.fromkeys(faults))


def _on_member(parts: CaseParts, member: Member, steel: Steel | None) -> list[str]:
    """What does not fit a sound member, and what it cannot carry."""
    view, faults = view_of(member, parts.units), []
    if steel is not None and parts.load is not None:
        fy = steel.yield_stress
        faults += capacity_faults(parts.load, member, fy, parts.units)
    sound = []
    for heat, where, pattern in parts.patterns:
        wrong = fit.pattern_faults(where, pattern, view)
        faults += wrong
        if not wrong:
            sound.append((heat, where, pattern))
    faults += fit.overlaps(sound, view)
    if parts.numerics is not None:
        faults += fit.numerics_faults(parts.numerics, member.patch, view)
    if parts.output is not None:
        faults += fit.output_faults(parts.output, view)
    return faults


def _of_the_section_view(parts: CaseParts) -> Iterator[str]:
    """What only a section case can ask for."""
    asked = [("torch", parts.torch)] if parts.torch is not None else []
    asked += [(f"{where}.torch", pattern.torch) for _, where, pattern in parts.patterns]
    for where, torch in asked:
        if torch.drive == "at once":
            yield f"{where}.drive = 'at once' is for view = \"section\"; hold the torch"
    for _, where, cooling in parts.coolings:
        if not isinstance(cooling, StillAir) and cooling.on is not None:
            yield f'{where}.on is for view = "section"; use reach or everywhere'

"""What is wrong between the keys of a section case that are each right by themselves."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shrinksim.case import strength
from shrinksim.case.checks import entries, read, steel_faults, torches
from shrinksim.case.fields import near
from shrinksim.case.fit import dimension_faults
from shrinksim.case.heating import AnyCooling, StillAir, Torch
from shrinksim.case.quantity import show
from shrinksim.case.schema import (
    Numerics,
    Output,
    SteelChoice,
    Surroundings,
)
from shrinksim.case.section_case import (
    AnyAlong,
    SectionLoad,
    SectionMember,
    SpotsAlong,
    StripAlong,
)
from shrinksim.shop.outline import Piece, section_outline, surface_length, surfaces
from shrinksim.shop.section import ISection, Plate, section_properties
from shrinksim.shop.steel import Steel

_SLACK = 1e-9


@dataclass(frozen=True)
class Parts:
    """What could be read of a file; None for a table with a fault in it."""

    member: SectionMember | None
    steel: SteelChoice | None
    surroundings: Surroundings | None
    torch: Torch | None
    load: SectionLoad | None
    numerics: Numerics | None
    output: Output | None
    patterns: tuple[tuple[int, str, AnyAlong], ...]
    coolings: tuple[tuple[int, str, AnyCooling], ...]
    units: str = "metric"


def parts_of(tables: Mapping[str, Any]) -> Parts:
    """The parts of a file that are right by themselves."""
    patterns, coolings = [], []
    for i, heat in enumerate(entries(tables.get("heat"))):
        for j, entry in enumerate(entries(heat.get("pattern"))):
            pattern = read(AnyAlong, entry)
            if pattern is not None:
                patterns.append((i, f"heat[{i}].pattern[{j}]", pattern))
        cooling = read(AnyCooling, heat.get("cooling", {}))
        if cooling is not None:
            coolings.append((i, f"heat[{i}].cooling", cooling))
    return Parts(
        read(SectionMember, tables.get("member")),
        read(SteelChoice, tables.get("steel")),
        read(Surroundings, tables.get("surroundings", {})),
        read(Torch, tables.get("torch", {})),
        read(SectionLoad, tables.get("load", {})),
        read(Numerics, tables.get("numerics", {})),
        read(Output, tables.get("output", {})),
        tuple(patterns),
        tuple(coolings),
        "us" if tables.get("print_units") == "us" else "metric",
    )


def checked(parts: Parts, folder: Path) -> list[str]:
    """Everything wrong between the keys of a case; ``folder`` holds its file."""
    faults = [] if parts.load is None else load_faults(parts.load)
    steel, hottest, wrong = steel_faults(parts.steel, folder)
    faults += wrong
    if parts.member is not None:
        wrong = dimension_faults(parts.member)
        faults += wrong or _on_member(parts, parts.member.shape, steel)
    ambient = parts.surroundings.ambient if parts.surroundings else None
    patterns = [(where, pattern.torch) for _, where, pattern in parts.patterns]
    faults += torches(parts.torch, patterns, ambient, hottest, parts.units)
    for _, where, cooling in parts.coolings:
        faults += strength.cooling_faults(where, cooling, ambient, parts.units)
    faults += _stays_behind(parts)
    return list(dict.fromkeys(faults))


def _on_member(
    parts: Parts, shape: Plate | ISection, steel: Steel | None
) -> Iterator[str]:
    """What does not fit a sound member, and what it cannot carry."""
    pieces = section_outline(shape)
    if parts.load is not None:
        if parts.load.edges == "held" and not isinstance(shape, Plate):
            yield "load.edges = 'held' is for a plate, whose long edges can be held"
        if steel is not None:
            fy = steel.yield_stress
            yield from capacity_faults(parts.load, shape, fy, parts.units)
    for _, where, pattern in parts.patterns:
        yield from pattern_faults(where, pattern, pieces, parts.units)
    for _, where, cooling in parts.coolings:
        if not isinstance(cooling, StillAir):
            yield from name_faults(f"{where}.on", cooling.on or (), pieces)
            if cooling.on and cooling.everywhere:
                yield f"{where} has both on and everywhere = true; leave one out"
    yield from overlaps(parts.patterns)
    yield from _numerics_and_points(parts, shape, pieces)


def _numerics_and_points(
    parts: Parts, shape: Plate | ISection, pieces: Sequence[Piece]
) -> Iterator[str]:
    """Elements too coarse or too many for the section, and points that are off it."""
    corners = [p.start for p in pieces]
    half = max(x for x, _ in corners)
    top = max(y for _, y in corners)
    numerics, units = parts.numerics, parts.units
    if numerics is not None:
        wall = shape.thickness if isinstance(shape, Plate) else shape.flange_thickness
        size, far = numerics.element, numerics.far_element
        if size is not None and size > wall:
            yield (
                f"numerics.element = {show(size, 'length', units)} is more than the "
                f"steel is thick, {show(wall, 'length', units)}"
            )
        if size is not None and section_properties(shape).area / size**2 > 2e5:
            yield "numerics.element asks for over 2e+05 elements; make it larger"
        if size is not None and far is not None and far < size:
            yield "numerics.far_element is smaller than numerics.element"
    for name, (x, y) in (parts.output.points if parts.output else {}).items():
        if abs(x) > half + _SLACK or not -_SLACK <= y <= top + _SLACK:
            place = f"({show(x, 'length', units)}, {show(y, 'length', units)})"
            yield f"output.points.{name} is off the section: {place}"


def name_faults(
    key: str, names: Sequence[str], pieces: Sequence[Piece]
) -> Iterator[str]:
    """Names that are no surface of the section."""
    known = surfaces(pieces)
    for name in names:
        if name not in known:
            listed = f"is not one of its surfaces: {', '.join(known)}"
            yield f"{key} = {name!r} {listed}{near(name, known)}"


def pattern_faults(
    where: str, pattern: AnyAlong, pieces: Sequence[Piece], units: str
) -> Iterator[str]:
    """A pattern on no surface, beyond its surface, or with no room between spots."""
    unknown = list(name_faults(f"{where}.on", pattern.on, pieces))
    if unknown:
        yield from unknown
        return
    width = span(pattern)
    for name in pattern.on:
        most = surface_length(pieces, name)
        if abs(pattern.at) + 0.5 * width > 0.5 * most + _SLACK:
            reach = show(abs(pattern.at) + 0.5 * width, "length", units)
            yield (
                f"{where} is off its surface: it reaches {reach} from the middle of "
                f"{name}, which is {show(most, 'length', units)} wide; make it "
                "narrower or move it"
            )
    if isinstance(pattern, SpotsAlong):
        if pattern.spacing <= pattern.diameter:
            yield (
                f"{where}.spacing = {show(pattern.spacing, 'length', units)} leaves no "
                f"steel between spots of {show(pattern.diameter, 'length', units)}; "
                'use kind = "strip along"'
            )
        if pattern.spacing > pattern.length:
            yield f"{where}.length is shorter than the spacing of the spots"
        if pattern.torch.drive == "travel":
            yield f"{where}.torch.drive: a torch stays on a spot; hold it"


def span(pattern: AnyAlong) -> float:
    """Width that a pattern covers across its surface, m; 0 of a line."""
    if isinstance(pattern, StripAlong):
        return pattern.width
    return pattern.diameter if isinstance(pattern, SpotsAlong) else 0.0


def overlaps(patterns: Sequence[tuple[int, str, AnyAlong]]) -> Iterator[str]:
    """Pairs of one heat that cover the same steel."""
    for (i, a, one), (j, b, other) in itertools.combinations(patterns, 2):
        apart = abs(one.at - other.at) - 0.5 * (span(one) + span(other))
        if i == j and set(one.on) & set(other.on) and apart < -1e-6:
            yield (
                f"{b} overlaps {a} in the same heat; move it, or put it in a "
                "[[heat]] of its own"
            )


def _stays_behind(parts: Parts) -> Iterator[str]:
    """Cooling that follows a torch which goes nowhere."""
    for heat, where, cooling in parts.coolings:
        if cooling.behind is None or parts.torch is None:
            continue
        for i, at, pattern in parts.patterns:
            own = "drive" in pattern.torch.model_fields_set
            drive = pattern.torch.drive if own else parts.torch.drive
            if i == heat and (drive == "at once" or isinstance(pattern, SpotsAlong)):
                yield (
                    f"{where}.behind: the torch of {at} does not go along the member, "
                    "so nothing can follow it; leave behind out"
                )


def load_faults(load: SectionLoad) -> list[str]:
    """Values that the kind of load needs or does not take."""
    keys = {
        "given_camber": "camber_moment",
        "given_sweep": "sweep_moment",
        "given_stiffness": "stiffness",
        "axial": "axial",
    }
    given = {keys[key] for key in load.model_fields_set if key in keys}
    kind = f"load.kind = '{load.kind}'"
    if load.kind in {"none", "held"}:
        reason = "is no load" if load.kind == "none" else "holds the member straight"
        return [
            f"load.{key}: {kind} {reason}; leave {key} out, or choose weight, jack or "
            "clamp"
            for key in sorted(given)
        ]
    if load.kind == "weight":
        if "stiffness" in given:
            return ["load.stiffness: a weight has none; leave it out, or use a jack"]
        moment = any([load.camber, load.camber_ratio, load.sweep, load.sweep_ratio])
        if not moment and load.axial == 0.0:
            return [
                f'{kind} needs load.camber_moment or load.sweep_moment (as "0.25 Mp"), '
                "or load.axial"
            ]
        return []
    if load.given_stiffness is None:
        advice = 'write stiffness = "2 EI/L" or "500 kN m/rad"'
        return [f"load.stiffness is missing: {kind} needs one; {advice}"]
    if (load.stiffness or load.stiffness_ratio or 0.0) <= 0.0:
        return ["load.stiffness is not more than 0; a jack without any is a weight"]
    return []


def capacity_faults(
    load: SectionLoad, shape: Plate | ISection, yield_stress: float, units: str
) -> Iterator[str]:
    """A load that the cold member cannot carry.

    m + n^2 <= 1 about each axis, with m = M/Mp and n = N/Np: exact for a rectangle, an
    upper bound for an I-section about its strong axis (elementary plastic theory).
    """
    properties = section_properties(shape)
    camber, sweep = (
        properties.plastic_modulus_strong * yield_stress,
        properties.plastic_modulus_weak * yield_stress,
    )
    if isinstance(shape, Plate):
        camber, sweep = sweep, camber
    n = abs(load.axial) / (properties.area * yield_stress)
    if n >= 1.0:
        most = show(properties.area * yield_stress, "force", units)
        yield f"load.axial is {n:.2f} of what the cold section carries, {most}"
    for name, ratio, value, most in (
        ("camber", load.camber_ratio, load.camber, camber),
        ("sweep", load.sweep_ratio, load.sweep, sweep),
    ):
        m = abs(ratio or (value or 0.0) / most)
        if m >= 1.0:
            shown = show(most, "moment", units)
            yield (
                f"load.{name}_moment is {m:.2f} Mp; the cold section carries less than "
                f"Mp = {shown}"
            )
        elif n < 1.0 and m + n**2 >= 1.0:
            yield (
                f"load.{name}_moment and load.axial together, {m:.2f} Mp and {n:.2f} "
                "Np, are more than the cold section carries"
            )

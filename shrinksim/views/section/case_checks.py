"""Faults between the keys of a section case that are each right by themselves."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.checks import (
    Parts,
    dimension_faults,
    is_quenched,
    parts_of,
    steel_faults,
)
from shrinksim.casefile.heating import AnyCooling, StillAir, Torch
from shrinksim.casefile.heating_checks import cooling_faults, quench_faults, torches
from shrinksim.casefile.resolving import merged
from shrinksim.casefile.tables import Numerics, Output
from shrinksim.errors import CaseError
from shrinksim.shop.outline import (
    Piece,
    along_surface,
    surface_coordinate,
    surface_length,
    surfaces,
)
from shrinksim.shop.sections.shape import Section
from shrinksim.shop.steel import Steel
from shrinksim.text.quoting import near
from shrinksim.units.quantity import show
from shrinksim.views.section.load_checks import (
    capacity_faults,
    length_faults,
    load_faults,
)
from shrinksim.views.section.record import (
    AnyAlong,
    SectionCase,
    SectionLoad,
    SectionMember,
    SpotsAlong,
    StripAlong,
)

_SLACK = 1e-9

HAIR = 1e-6
"""m, that patterns may overlap and points be off the steel by."""

MOST_ELEMENTS = 2e5
"""Of a section; more is a slip."""


CaseParts: TypeAlias = Parts[SectionMember, SectionLoad, AnyAlong]


def faults(
    tables: Mapping[str, Any], case: SectionCase | None, folder: Path
) -> list[str]:
    """Everything wrong between the keys of a case.

    case : of the tables, None where they make none.  folder : holds the case file.
    """
    return _between(parts_of(SectionCase, tables, case), folder)


def _between(parts: CaseParts, folder: Path) -> list[str]:
    """Everything wrong between the keys of a case of which so much could be read."""
    faults = []
    if parts.load is not None:
        faults += load_faults(parts.load)
    steel, hottest, wrong = steel_faults(parts.steel, folder)
    faults += wrong
    if parts.member is not None:
        wrong = dimension_faults(parts.member)
        faults += wrong or _on_member(parts, parts.member.shape, steel)
    patterns = [(where, pattern.torch) for _, where, pattern in parts.patterns]
    faults += torches(parts.torch, patterns, parts.ambient, hottest, parts.units)
    faults += _driven(parts)
    faults += _lengths(parts)
    quenched = is_quenched(parts.steel, folder)
    for _, where, cooling in parts.coolings:
        faults += cooling_faults(where, cooling, parts.ambient, parts.units)
        faults += quench_faults(where, cooling, quenched)
        faults += _covers(where, cooling)
    faults += _stays_behind(parts)
    return list(dict.fromkeys(faults))


def _on_member(parts: CaseParts, shape: Section, steel: Steel | None) -> Iterator[str]:
    """Parts that do not fit a sound member, and loads that it cannot carry."""
    pieces = shape.outline()
    if parts.load is not None:
        if parts.load.edges == "held" and not shape.flat:
            yield (
                "load.edges = 'held' is for a plate, whose long edges can be held; "
                "leave it out"
            )
        if steel is not None:
            fy = steel.yield_stress
            yield from capacity_faults(parts.load, shape, fy, parts.units)
    for _, where, pattern in parts.patterns:
        yield from pattern_faults(where, pattern, pieces, parts.units)
    for _, where, cooling in parts.coolings:
        if not isinstance(cooling, StillAir):
            yield from name_faults(f"{where}.on", cooling.on or (), pieces)
    yield from overlaps(parts.patterns)
    yield from _alike(parts)
    if parts.numerics is not None:
        yield from numerics_faults(parts.numerics, shape, pieces, parts.units)
    if parts.output is not None:
        yield from point_faults(parts.output, pieces, parts.units)


def numerics_faults(
    numerics: Numerics, shape: Section, pieces: Sequence[Piece], units: str
) -> Iterator[str]:
    """Elements too coarse or too many for the section.

    From the heated surface they grow by a quarter of the distance: 4 / element of them
    for each m of outline, then area / far_element^2.
    """
    wall = shape.wall
    size, far = numerics.element, numerics.far_element
    if size is not None and size > wall:
        yield (
            f"numerics.element = {show(size, 'length', units)} is more than the "
            f"steel is thick, {show(wall, 'length', units)}"
        )
    if size is not None and far is not None and far < size:
        yield "numerics.far_element is smaller than numerics.element"
    fine = 4.0 * sum(p.length for p in pieces) / size if size is not None else 0.0
    rest = shape.properties.area / far**2 if far is not None else 0.0
    if max(fine, rest) > MOST_ELEMENTS:
        key = "element" if fine > rest else "far_element"
        yield f"numerics.{key} asks for over {MOST_ELEMENTS:.0e} elements; enlarge it"


def point_faults(output: Output, pieces: Sequence[Piece], units: str) -> Iterator[str]:
    """Points to report that are not on the steel."""
    for name, (x, y) in output.points.items():
        if not on_steel(pieces, x, y):
            place = f"({show(x, 'length', units)}, {show(y, 'length', units)})"
            yield (
                f"output.points.{name} is off the section: {place}; x counts from its "
                "middle, y from its lowest fibre"
            )


def on_steel(pieces: Sequence[Piece], x: float, y: float) -> bool:
    """Whether a point (m) is in the outline or within a hair of it."""
    names = surfaces(pieces)
    at = [surface_coordinate(pieces, n, np.array(x), np.array(y)) for n in names]
    on = [along_surface(pieces, n, s) for n, s in zip(names, at, strict=True)]
    if min(np.hypot(px - x, py - y) for px, py in on) < HAIR:
        return True
    steps = np.linspace(0.0, 1.0, 33)[:-1]
    ring = np.concatenate([_corners(piece, steps) for piece in pieces])
    (ax, ay), (bx, by) = ring.T, np.roll(ring, -1, axis=0).T
    crossed = (ay > y) != (by > y)
    right = ax + (y - ay) * (bx - ax) / np.where(crossed, by - ay, 1.0) > x
    return bool(np.count_nonzero(crossed & right) % 2)


def _corners(piece: Piece, steps: FloatArray) -> FloatArray:
    """Points (k, 2) m of a piece's line or arc, its end left out."""
    start = np.array(piece.start)
    if piece.centre is None:
        return start[None]
    centre = np.array(piece.centre)
    (x, y), turn = start - centre, steps * piece.turn
    cos, sin = np.cos(turn), np.sin(turn)
    return centre + np.stack([x * cos - y * sin, x * sin + y * cos], axis=-1)


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
    if isinstance(pattern, SpotsAlong) and pattern.spacing <= pattern.diameter:
        yield (
            f"{where}.spacing = {show(pattern.spacing, 'length', units)} leaves no "
            f"steel between spots of {show(pattern.diameter, 'length', units)}; "
            'use kind = "strip along"'
        )


def span(pattern: AnyAlong) -> float:
    """Width that a pattern covers across its surface, m; 0 of a line."""
    if isinstance(pattern, StripAlong):
        return pattern.width
    return pattern.diameter if isinstance(pattern, SpotsAlong) else 0.0


def overlaps(patterns: Sequence[tuple[int, str, AnyAlong]]) -> Iterator[str]:
    """Pairs of one heat that cover the same steel; two lines may lie side by side."""
    for (i, a, one), (j, b, other) in itertools.combinations(patterns, 2):
        apart = abs(one.at - other.at) - 0.5 * (span(one) + span(other))
        shared = i == j and set(one.on) & set(other.on)
        if shared and (apart < -HAIR or one.at == other.at):
            yield (
                f"{b} overlaps {a} in the same heat; move it, or put it in a "
                "[[heat]] of its own"
            )


def _driven(parts: CaseParts) -> Iterator[str]:
    """Torches with a drive or a key that this view or the pattern does not have."""
    if parts.torch is None:
        return
    own = [(f"{at}.torch", p.torch, p) for _, at, p in parts.patterns]
    for where, torch, pattern in [("torch", parts.torch, None), *own]:
        given = torch.model_fields_set
        drive = torch.drive if "drive" in given else parts.torch.drive
        spots = isinstance(pattern, SpotsAlong)
        if torch.torches == 2:
            yield (
                f'{where}.torches = 2 is for view = "elevation", where the other face '
                "is not drawn; name both surfaces in on instead"
            )
        if spots and drive == "travel":
            yield (
                f"{where}.drive = 'travel': a torch stays on each spot; write "
                'drive = "held" for this pattern'
            )
        elif "speed" in given and (spots or drive == "at once"):
            stays = "stays on each spot" if spots else "plays over the length at once"
            yield f"{where}.speed is not used: the torch {stays}; leave it out"


def _alike(parts: CaseParts) -> Iterator[str]:
    """Patterns of one heat that are not over the same share of the same length."""
    first: dict[int, tuple[str, AnyAlong]] = {}
    for heat, where, pattern in parts.patterns:
        at, other = first.setdefault(heat, (where, pattern))
        share = [
            p.diameter / p.spacing if isinstance(p, SpotsAlong) else 1.0
            for p in (pattern, other)
        ]
        if abs(pattern.length - other.length) > _SLACK:
            yield (
                f"{where}.length is not that of {at}: one section stands for a heat of "
                "one length; make them alike, or write a [[heat]] of its own"
            )
        elif abs(share[0] - share[1]) > _SLACK:
            yield (
                f"{where} and {at} are not over the same share of the length (spots, or "
                "other spots): write a [[heat]] of its own"
            )


def _lengths(parts: CaseParts) -> Iterator[str]:
    """Lengths of patterns that their torches, as far as known, make no sense of."""
    for _, where, pattern in parts.patterns:
        torch = _torch_of(parts, pattern)
        if torch is not None:
            yield from length_faults(where, pattern, torch, parts.units)


def _covers(where: str, cooling: AnyCooling) -> Iterator[str]:
    """Cooling of surfaces that are named, and of something else as well."""
    if isinstance(cooling, StillAir) or cooling.on is None:
        return
    if cooling.everywhere:
        yield f"{where} has both on and everywhere = true; leave one out"
    if cooling.reach is not None and cooling.behind is None:
        yield (
            f"{where} has both on and reach: surfaces that are named are cooled whole; "
            "leave one out"
        )


def _torch_of(parts: CaseParts, pattern: AnyAlong) -> Torch | None:
    """The pattern's torch with what it inherits; None when it is not known."""
    if parts.torch is None:
        return None
    try:
        return merged(parts.torch, pattern.torch)
    except CaseError:
        return None


def _stays_behind(parts: CaseParts) -> Iterator[str]:
    """Cooling that follows a torch which goes nowhere."""
    for heat, where, cooling in parts.coolings:
        for i, at, pattern in parts.patterns:
            torch = _torch_of(parts, pattern)
            if i != heat or cooling.behind is None or torch is None:
                continue
            if torch.drive == "at once" or isinstance(pattern, SpotsAlong):
                yield (
                    f"{where}.behind: the torch of {at} does not go along the member, "
                    "so nothing can follow it; leave behind out"
                )

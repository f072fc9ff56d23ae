"""What is wrong between the keys of a solid case that are each right by themselves."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, TypeAlias

from shrinksim.casefile.checks import Parts, is_quenched, parts_of, steel_faults
from shrinksim.casefile.heating import StillAir
from shrinksim.casefile.heating_checks import cooling_faults, quench_faults, torches
from shrinksim.casefile.load_checks import load_faults
from shrinksim.casefile.resolving import merged
from shrinksim.errors import CaseError
from shrinksim.shop.sections.catalogue import KINDS, section_named
from shrinksim.shop.sections.shape import plastic_moment
from shrinksim.shop.steel import Steel
from shrinksim.text.quoting import near, shown
from shrinksim.units.quantity import show
from shrinksim.views import fitting as fit
from shrinksim.views.solid.record import (
    AnyFacePattern,
    SolidCase,
    SolidLoad,
    SolidMember,
)

CaseParts: TypeAlias = Parts[SolidMember, SolidLoad, AnyFacePattern]

THINNEST, THICKEST = 1e-3, 0.15
"""m; thinner sheet buckles under any heat, which this view does not follow."""


def faults(
    tables: Mapping[str, Any], case: SolidCase | None, folder: Path
) -> list[str]:
    """Everything wrong between the keys of a case.

    case : of the tables, None where they make none.  folder : holds the case file.
    """
    found = [*_section(tables), *_between(parts_of(SolidCase, tables, case), folder)]
    return list(dict.fromkeys(found))


def _section(tables: Mapping[str, Any]) -> Iterator[str]:
    """A section that is no plate."""
    member = tables.get("member")
    section = member.get("section") if isinstance(member, Mapping) else None
    if not isinstance(section, str) or section == "plate":
        return
    if section not in KINDS:
        try:
            section_named(section)
        except CaseError as error:
            for problem in error.problems:
                yield f"member.section = {problem}{near(section, ('plate',))}"
            return
    yield (
        f'member.section = {shown(section)} is not for view = "solid", which has flat '
        'bars and plates (section = "plate"); use view = "elevation" or "section"'
    )


def _between(parts: CaseParts, folder: Path) -> Iterator[str]:
    """Everything wrong between the keys of a case of which so much could be read."""
    if parts.load is not None:
        yield from _load(parts.load)
    steel, hottest, wrong = steel_faults(parts.steel, folder)
    yield from wrong
    if parts.member is not None and parts.member.section == "plate":
        wrong = member_faults(parts.member, parts.units)
        yield from wrong or _on_member(parts, parts.member, steel)
    patterns = [(where, pattern.torch) for _, where, pattern in parts.patterns]
    yield from torches(parts.torch, patterns, parts.ambient, hottest, parts.units)
    yield from _torches(parts)
    quenched = is_quenched(parts.steel, folder)
    for _, where, cooling in parts.coolings:
        yield from cooling_faults(where, cooling, parts.ambient, parts.units)
        yield from quench_faults(where, cooling, quenched)
        if not isinstance(cooling, StillAir) and cooling.on is not None:
            yield f'{where}.on is for view = "section"; use face, reach or everywhere'


def member_faults(member: SolidMember, units: str) -> list[str]:
    """Dimensions that make no plate, or one that this view cannot follow."""
    said = {
        k: show(getattr(member, k), "length", units) for k in ("width", "thickness")
    }
    if member.thickness > member.width:
        return ["member.thickness is more than member.width; exchange the two"]
    if member.thickness < THINNEST:
        least = show(THINNEST, "length", units)
        return [
            f"member.thickness = {said['thickness']} is less than {least}: so thin a "
            "sheet buckles under a torch, which this view does not follow"
        ]
    if member.thickness > THICKEST:
        most = show(THICKEST, "length", units)
        return [f"member.thickness = {said['thickness']} is more than {most}"]
    if member.patch is not None and member.patch < member.width:
        patch = show(member.patch, "length", units)
        return [
            f"member.patch = {patch} is shorter than the member is wide, "
            f"{said['width']}; the ends would disturb the heated zone"
        ]
    return []


def _on_member(
    parts: CaseParts, member: SolidMember, steel: Steel | None
) -> Iterator[str]:
    """What does not fit a sound member, and what it cannot carry."""
    width = member.width
    half = math.inf if member.patch is None else 0.5 * member.patch
    view = fit.SheetExtent(half, 0.0, width, width, False, parts.units)
    if steel is not None and parts.load is not None:
        yield from _capacity(parts.load, member, steel.yield_stress, parts.units)
    sound = []
    for heat, where, pattern in parts.patterns:
        wrong = fit.pattern_faults(where, pattern, view)
        yield from wrong
        if not wrong:
            sound.append((heat, where, pattern))
    for face in ("front", "back"):
        on = [entry for entry in sound if entry[2].face in (face, "both")]
        yield from fit.overlaps(on, view)
    if parts.numerics is not None:
        yield from fit.numerics_faults(parts.numerics, member.patch, view)
    if parts.output is not None:
        yield from fit.output_faults(parts.output, view)


def _torches(parts: CaseParts) -> Iterator[str]:
    """Torches that are on two faces, or that read what they cannot."""
    if parts.torch is None:
        return
    own: list[tuple[str, Any, Any, str]] = [
        ("torch", parts.torch, parts.torch, "front")
    ]
    for _, where, pattern in parts.patterns:
        if pattern.torch.model_fields_set or pattern.face != "front":
            try:
                whole = merged(parts.torch, pattern.torch)
            except CaseError:  # told by `torches`
                continue
            own.append((f"{where}.torch", pattern.torch, whole, pattern.face))
    for where, mine, torch, face in own:
        if mine.drive == "at once":
            yield (
                f"{where}.drive = 'at once' is for view = \"section\"; hold the torch"
            )
        if mine.torches == 2:
            yield (
                f'{where}.torches = 2: a torch on each face is face = "both" of the '
                "pattern here; leave torches out"
            )
        given = mine.model_fields_set
        if torch.drive == "travel" and given & {"read", "after"}:
            key = "read" if "read" in given else "after"
            yield f'{where}.{key} is not for drive = "travel"; leave it out'
        elif "after" in given and torch.read != "face after":
            yield f'{where}.after is for read = "face after"; leave it out'
        if torch.drive == "held" and torch.read == "back" and face == "both":
            yield (
                f'{where}.read = "back" is not for a pattern on both faces, each of which '
                'is heated; use read = "face"'
            )


def _load(load: SolidLoad) -> Iterator[str]:
    """Values that the kind of load needs or does not take."""
    flat = load.given_flat is not None
    if flat and load.kind in ("none", "held"):
        why = "is no load" if load.kind == "none" else "holds the ends still"
        yield (
            f"load.flat_moment: load.kind = '{load.kind}' {why}; leave flat_moment out, "
            "or choose weight, jack or clamp"
        )
    bent = bool(load.flat_moment or load.flat_ratio)
    for fault in load_faults(load):
        if not (bent and load.kind == "weight" and fault.endswith("or load.axial")):
            yield fault


def _capacity(
    load: SolidLoad, member: SolidMember, yield_stress: float, units: str
) -> Iterator[str]:
    """A load that the cold plate cannot carry.

    Each alone; both moments by `Plate.utilisation`, with n^2 of the axial force beside
    them, an upper bound of what a rectangle carries.
    """
    shape = member.shape
    axes: dict[str, Any] = {"moment": "strong", "flat_moment": "weak"}
    given = {"moment": load.moment, "flat_moment": load.flat_moment}
    ratios = {"moment": load.moment_ratio, "flat_moment": load.flat_ratio}
    used = {}
    for key, axis in axes.items():
        most = plastic_moment(shape, axis, yield_stress)
        used[key] = abs(ratios[key] or (given[key] or 0.0) / most)
        if used[key] >= 1.0:
            yield (
                f"load.{key} is {used[key]:.2f} Mp; the cold plate carries less than "
                f"Mp = {show(most, 'moment', units)}"
            )
    most = shape.properties.area * yield_stress
    n = abs(load.axial) / most
    if n >= 1.0:
        whole = show(most, "force", units)
        yield f"load.axial is {n:.2f} of what the cold plate carries, {whole}"
    alone = max(*used.values(), n) < 1.0
    if alone and shape.utilisation(*used.values()) + n**2 >= 1.0:
        yield (
            f"load.moment, load.flat_moment and load.axial together, "
            f"{used['moment']:.2f} Mp, {used['flat_moment']:.2f} Mp and {n:.2f} Np, are "
            "more than the cold plate carries"
        )

"""Checks of the member's dimensions."""

from __future__ import annotations

import math

from shrinksim.casefile.checks import dimension_faults
from shrinksim.errors import CaseError
from shrinksim.units.quantity import show
from shrinksim.views.elevation.record import Member
from shrinksim.views.fitting import SheetExtent


def view_of(member: Member, units: str) -> SheetExtent:
    """The view that a sound member offers."""
    low, high = member.face
    half = math.inf if member.patch is None else 0.5 * member.patch
    return SheetExtent(half, low, high, member.view_depth, low > 0.0, units)


def member_faults(member: Member, units: str) -> list[str]:
    """Keys that the kind of section lacks or does not take; dimensions that clash."""
    faults = dimension_faults(member)
    if faults and faults[0].startswith("member.section ="):
        return faults
    if member.section == "plate":
        if member.axis is not None:
            faults.append(
                "member.axis is not for a plate, which bends in its own plane"
            )
    elif not faults and (sheet := no_sheet(member)):
        return sheet
    elif member.axis is None:
        advice = 'write axis = "strong" (web seen on its face) or "weak" (in plan)'
        faults.append(f"member.axis is missing; {advice}")
    return faults or _patch_faults(member, units)


def no_sheet(member: Member) -> list[str]:
    """Why a sound member has no elevation."""
    try:
        member.shape.elevation(member.bending)
    except CaseError as error:
        return [f"member.section = {problem}" for problem in error.problems]
    return []


def _patch_faults(member: Member, units: str) -> list[str]:
    """A patch that is shorter than the member is deep."""
    depth = member.view_depth
    if member.patch is not None and member.patch < depth:
        shortest = show(depth, "length", units)
        return [
            f"member.patch = {show(member.patch, 'length', units)} is shorter than the "
            f"member is deep, {shortest}; the ends would disturb the heated zone"
        ]
    return []

"""Checks of the load on a member."""

from __future__ import annotations

from shrinksim.shop.sections.shape import plastic_moment
from shrinksim.units.quantity import show
from shrinksim.views.elevation.record import Load, Member

_UNLOADED = ("given_moment", "axial", "given_stiffness")


def load_faults(load: Load) -> list[str]:
    """Values that the kind of load needs or does not take."""
    keys = {"given_moment": "moment", "given_stiffness": "stiffness"}
    given = {keys.get(key, key) for key in load.model_fields_set & {*_UNLOADED}}
    kind = f"load.kind = '{load.kind}'"
    if load.kind in {"none", "held"}:
        reason = "is no load" if load.kind == "none" else "holds the ends still"
        return [
            f"load.{key}: {kind} {reason}; leave {key} out, or choose weight, jack or "
            "clamp"
            for key in sorted(given)
        ]
    if load.kind == "weight":
        if "stiffness" in given:
            return ["load.stiffness: a weight has none; leave it out, or use a jack"]
        if not _moment_given(load) and load.axial == 0.0:
            return [f'{kind} needs load.moment (as "0.25 Mp") or load.axial']
        return []
    if load.given_stiffness is None:
        advice = 'write stiffness = "2 EI/L" or "500 kN m/rad"'
        return [f"load.stiffness is missing: {kind} needs one; {advice}"]
    if (load.stiffness or load.stiffness_ratio or 0.0) <= 0.0:
        return ["load.stiffness is not more than 0; a jack without any is a weight"]
    return []


def _moment_given(load: Load) -> bool:
    return bool(load.moment or load.moment_ratio)


def capacity_faults(
    load: Load, member: Member, yield_stress: float, units: str
) -> list[str]:
    """A load that the cold member cannot carry.

    m + n^2 <= 1 with m = M/Mp, n = N/Np: exact for a rectangle, an upper bound for an
    I-section about its strong axis (elementary plastic theory); m, n <= 1 alone about
    the weak axis.
    """
    shape = member.shape
    most_moment = plastic_moment(shape, member.bending, yield_stress)
    most_force = shape.properties.area * yield_stress
    m = abs(load.moment_ratio or (load.moment or 0.0) / most_moment)
    n = abs(load.axial) / most_force
    faults = []
    if m >= 1.0:
        most = show(most_moment, "moment", units)
        faults.append(
            f"load.moment is {m:.2f} Mp; the cold section carries less than Mp = {most}"
        )
    if n >= 1.0:
        most = show(most_force, "force", units)
        faults.append(f"load.axial is {n:.2f} of what the cold section carries, {most}")
    if not faults and member.bending in shape.parabolic and m + n**2 >= 1.0:
        faults.append(
            f"load.moment and load.axial together, {m:.2f} Mp and {n:.2f} Np, are more "
            "than the cold section carries"
        )
    return faults

"""Checks of the loads on a section and of the length of its heats."""

from __future__ import annotations

from collections.abc import Iterator

from shrinksim.casefile.heating import Torch
from shrinksim.shop.sections.shape import Axis, Section, camber_axis, plastic_moment
from shrinksim.units.quantity import show
from shrinksim.views.section.record import (
    AnyAlong,
    SectionLoad,
    SpotsAlong,
    StripAlong,
)


def length_faults(
    where: str, pattern: AnyAlong, torch: Torch, units: str
) -> Iterator[str]:
    """A heat that is no long one.  torch : the pattern's, with what it inherits."""
    length, flame = pattern.length, 2.0 * torch.radius
    short = f"{where}.length = {show(length, 'length', units)} is shorter than "
    if length < flame:
        yield (
            f"{short}the flame is wide, {show(flame, 'length', units)}; such a spot is "
            'for view = "elevation"'
        )
    if isinstance(pattern, StripAlong) and pattern.width > length:
        yield (
            f"{short}the strip is wide, {show(pattern.width, 'length', units)}; length "
            "is along the member, width across"
        )
    if isinstance(pattern, SpotsAlong) and pattern.spacing > length:
        yield (
            f"{short}the spacing, {show(pattern.spacing, 'length', units)}; a row has "
            "at least one of it"
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
    moment = any([load.camber, load.camber_ratio, load.sweep, load.sweep_ratio])
    if load.kind == "weight":
        if "stiffness" in given:
            return ["load.stiffness: a weight has none; leave it out, or use a jack"]
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
    if load.kind == "jack" and not moment:
        return [
            f'{kind} needs load.camber_moment or load.sweep_moment (as "0.25 Mp"), '
            "what it presses with"
        ]
    return []


def capacity_faults(
    load: SectionLoad, shape: Section, yield_stress: float, units: str
) -> list[str]:
    """A load that the cold member cannot carry; with m = M/Mp and n = N/Np.

    m + n^2 <= 1 about each axis of a plate, exact, and about the strong axis of an
    I-section, an upper bound; m, n <= 1 alone about its weak axis (elementary plastic
    theory).  Both moments: `Section.utilisation`.
    """
    unloaded = _not_taken(load, shape)
    if unloaded:
        return unloaded
    most = shape.properties.area * yield_stress
    n = abs(load.axial) / most
    faults = []
    if n >= 1.0:
        shown = show(most, "force", units)
        faults.append(
            f"load.axial is {n:.2f} of what the cold section carries, {shown}"
        )
    camber, sweep = plastic_moments(shape, yield_stress)
    upright, across = axes_of(shape)
    ratios = []
    for name, axis, ratio, value, most in (
        ("camber", upright, load.camber_ratio, load.camber, camber),
        ("sweep", across, load.sweep_ratio, load.sweep, sweep),
    ):
        m = abs(ratio or (value or 0.0) / most)
        ratios.append(m)
        if m >= 1.0:
            shown = show(most, "moment", units)
            faults.append(
                f"load.{name}_moment is {m:.2f} Mp; the cold section carries less than "
                f"Mp = {shown}"
            )
        elif m > 0.0 and axis in shape.parabolic and n < 1.0 and m + n**2 >= 1.0:
            faults.append(
                f"load.{name}_moment and load.axial together, {m:.2f} Mp and {n:.2f} "
                "Np, are more than the cold section carries"
            )
    if not faults and shape.utilisation(*ratios) >= 1.0:
        faults.append(
            f"load.camber_moment and load.sweep_moment together, {ratios[0]:.2f} and "
            f"{ratios[1]:.2f} of their Mp, are more than the cold section carries"
        )
    return faults


def axes_of(shape: Section) -> tuple[Axis, Axis]:
    """The axes of its properties that camber and sweep bend about."""
    camber = camber_axis(shape)
    return camber, "weak" if camber == "strong" else "strong"


def plastic_moments(shape: Section, yield_stress: float) -> tuple[float, float]:
    """Plastic moments (N m) of camber and of sweep; a plate lies flat."""
    camber, sweep = axes_of(shape)
    return (
        plastic_moment(shape, camber, yield_stress),
        plastic_moment(shape, sweep, yield_stress),
    )


def _not_taken(load: SectionLoad, shape: Section) -> list[str]:
    """A load on a shape that none is computed for."""
    if not shape.unloaded or load.kind in {"none", "held"}:
        return []
    return [
        f"load.kind = '{load.kind}' is not for section '{shape.name}': "
        f"{shape.unloaded}, which this load does not know; leave the load out, or hold "
        'the member straight, kind = "held"'
    ]

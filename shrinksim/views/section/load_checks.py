"""Can it be: the loads on a section, and the length of its heats."""

from __future__ import annotations

from collections.abc import Iterator

from shrinksim.case.heating import Torch
from shrinksim.shop.section import ISection, Plate, section_properties
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
    load: SectionLoad, shape: Plate | ISection, yield_stress: float, units: str
) -> list[str]:
    """A load that the cold member cannot carry; with m = M/Mp and n = N/Np.

    m + n^2 <= 1 about each axis of a plate, exact, and about the strong axis of an
    I-section, an upper bound; m, n <= 1 alone about its weak axis (elementary plastic
    theory).  Both moments: `_both_ways`.
    """
    properties = section_properties(shape)
    most = properties.area * yield_stress
    n = abs(load.axial) / most
    faults = []
    if n >= 1.0:
        shown = show(most, "force", units)
        faults.append(
            f"load.axial is {n:.2f} of what the cold section carries, {shown}"
        )
    camber, sweep = plastic_moments(shape, yield_stress)
    ratios = []
    for name, ratio, value, most in (
        ("camber", load.camber_ratio, load.camber, camber),
        ("sweep", load.sweep_ratio, load.sweep, sweep),
    ):
        m = abs(ratio or (value or 0.0) / most)
        ratios.append(m)
        bound = isinstance(shape, Plate) or name == "camber"
        if m >= 1.0:
            shown = show(most, "moment", units)
            faults.append(
                f"load.{name}_moment is {m:.2f} Mp; the cold section carries less than "
                f"Mp = {shown}"
            )
        elif m > 0.0 and bound and n < 1.0 and m + n**2 >= 1.0:
            faults.append(
                f"load.{name}_moment and load.axial together, {m:.2f} Mp and {n:.2f} "
                "Np, are more than the cold section carries"
            )
    if not faults and _both_ways(shape, *ratios) >= 1.0:
        faults.append(
            f"load.camber_moment and load.sweep_moment together, {ratios[0]:.2f} and "
            f"{ratios[1]:.2f} of their Mp, are more than the cold section carries"
        )
    return faults


def plastic_moments(
    shape: Plate | ISection, yield_stress: float
) -> tuple[float, float]:
    """Plastic moments (N m) of camber and of sweep; a plate lies flat."""
    properties = section_properties(shape)
    strong = properties.plastic_modulus_strong * yield_stress
    weak = properties.plastic_modulus_weak * yield_stress
    return (weak, strong) if isinstance(shape, Plate) else (strong, weak)


def _both_ways(shape: Plate | ISection, camber: float, sweep: float) -> float:
    """How far both moments (of their Mp) use up the cold section; 1 is all of it.

    A rectangle whose neutral axis cuts two opposite sides: m + 3/4 m'^2 = 1 with m' the
    lesser (exact, by integration).  An I-section whose neutral axis cuts both flanges:
    the web and the flanges' middles, a share c of their width, carry the camber, their
    outer parts the sweep: m_camber = w + (1 - w) c, m_sweep = 1 - c^2 with w the web's
    share (elementary plastic theory).
    """
    if isinstance(shape, Plate):
        return max(camber, sweep) + 0.75 * min(camber, sweep) ** 2
    arm = shape.depth - shape.flange_thickness
    flanges = shape.flange_width * shape.flange_thickness * arm
    share = flanges / section_properties(shape).plastic_modulus_strong
    return (max(camber - (1.0 - share), 0.0) / share) ** 2 + sweep

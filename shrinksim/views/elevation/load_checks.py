"""Checks of the load on a member."""

from __future__ import annotations

from shrinksim.casefile.load import Load
from shrinksim.shop.sections.shape import plastic_moment
from shrinksim.units.quantity import show
from shrinksim.views.elevation.record import Member


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

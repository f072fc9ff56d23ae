"""Views and units of the drawings of a plan."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from shrinksim.member.line import SIDES, Plane
from shrinksim.member.setup.rigging import FACES
from shrinksim.units.quantity import quantity

if TYPE_CHECKING:
    from collections.abc import Mapping

    from shrinksim.arrays import FloatArray
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import Plan

RANGE = 1.645
"""Standard deviations on each side that hold nine of ten."""

ACROSS: dict[str, tuple[Plane, int]] = {
    "top": ("sweep", -1),
    "bottom": ("sweep", 1),
    "right": ("camber", 1),
    "left": ("camber", -1),
}
"""Side that faces up -> the flat plane, and the sign that its offsets are drawn with.

Seen from above with the marked end at the left, the right hand of one who looks along
the member is at the foot of the paper.
"""


@dataclass(frozen=True)
class DrawnPlane:
    """A plane of the member as it is drawn.

    sign : of the offsets, to draw them up the paper.  high, low : sides of the member,
    as surveyed, at the head and the foot of the paper.  upright : seen from the side.
    """

    plane: Plane
    sign: int
    high: str
    low: str
    upright: bool


def drawn_planes(job: Job) -> tuple[DrawnPlane, DrawnPlane]:
    """The member as it lies, seen from the side and from above."""
    up = job.rig.up
    return _view(*FACES[up], upright=True), _view(*ACROSS[up], upright=False)


def drawn_plane(job: Job, plane: Plane) -> DrawnPlane:
    """The view that shows a plane."""
    return next(view for view in drawn_planes(job) if view.plane == plane)


def _view(plane: Plane, sign: int, *, upright: bool) -> DrawnPlane:
    high, low = SIDES[plane][::sign]
    return DrawnPlane(plane, sign, high, low, upright)


def station_unit(units: str) -> tuple[float, str]:
    """One unit of places along the member, in m, and its name."""
    return (quantity("1 ft", "length"), "ft") if units == "us" else (1.0, "m")


def offset_unit(units: str) -> tuple[float, str]:
    """One unit of offsets, in m, and its name."""
    name = "in" if units == "us" else "mm"
    return quantity(f"1 {name}", "length"), name


def allowed_offsets(plan: Plan) -> Mapping[str, float]:
    """Plane -> m that the tolerance allows off the chord."""
    return {v.plane: v.allowed for v in plan.verdict_before if v.allowed is not None}


def lines_after(plan: Plan, plane: Plane) -> list[tuple[int, FloatArray]]:
    """Number of each heat of a plane, and its line (k,) m after it."""
    return [(c.number, c.line_after) for c in plan.cards if c.plane == plane]

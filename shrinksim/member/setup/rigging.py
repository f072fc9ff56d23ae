"""Supports and loads of a member for heating: plain records, and their checks.

Places are m from the marked end; sides are those of the member as it was surveyed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from shrinksim.member.job.shapes import plan_faults
from shrinksim.member.line import PLANES, SIDES, Plane, Side
from shrinksim.member.setup.beam import NEAREST
from shrinksim.shop.sections.shape import Section
from shrinksim.units.tape import offset, place

FACES: dict[str, tuple[Plane, int]] = {
    side: (plane, sign)
    for plane in PLANES
    for side, sign in zip(SIDES[plane], (1, -1), strict=True)
}
"""Plane that stands upright when a side faces up, and the sign of its offsets then."""

STEEL_MODULUS = 210e9
"""Pa, EN 1993-1-1:2005, 3.2.6."""


@dataclass(frozen=True)
class Prop:
    """A support at ``at`` m.

    gap : m of air under the steel, measured with the member lying there with its loads
    on, ready for the heat; 0 a support in line with the others.  holds_down : it also
    pulls.  stiffness : N/m, None rigid.  level : m, height of its top over that line;
    None is set by the gap.
    """

    at: float
    gap: float = 0.0
    holds_down: bool = False
    stiffness: float | None = None
    level: float | None = None


@dataclass(frozen=True)
class HungWeight:
    """A weight hung at ``at`` m.  force : N, + down.  spread : m, evenly over it."""

    at: float
    force: float
    spread: float = 0.0


@dataclass(frozen=True)
class LoadedJack:
    """A jack set to ``force`` N, + pushes down, before the heat.

    stiffness : N/m, None a force that stays.  level : m, height of the member's line
    there when it was set; None is now.
    """

    at: float
    force: float
    stiffness: float | None = None
    level: float | None = None


@dataclass(frozen=True)
class Rigging:
    """A member with its supports and loads.

    length : m.  yield_stress, modulus : Pa.  up : side, as surveyed, that faces up.
    end_moments : N m at the marked and the far end, + sagging.
    """

    section: Section
    length: float
    yield_stress: float
    props: tuple[Prop, ...]
    weights: tuple[HungWeight, ...] = ()
    jacks: tuple[LoadedJack, ...] = ()
    up: Side = "top"
    modulus: float = STEEL_MODULUS
    end_moments: tuple[float, float] = (0.0, 0.0)
    print_units: str = "metric"


def rigging_faults(rigging: Rigging) -> list[str]:
    """Faults, one sentence each that begins with its key."""
    faults = [*plan_faults(rigging.section)]
    faults += [*_of_the_member(rigging), *_of_the_props(rigging)]
    if not faults:
        faults += [*_of_the_loads(rigging), *_of_the_jacks(rigging)]
    return faults


def _of_the_member(rigging: Rigging) -> Iterator[str]:
    for name in ("length", "yield_stress", "modulus"):
        value = getattr(rigging, name)
        if not (math.isfinite(value) and value > 0.0):
            yield f"{name.replace('_', ' ')} is {value:g}; it must be more than zero"
    if rigging.up not in FACES:
        yield f"rig.up = '{rigging.up}' is not one of {', '.join(FACES)}"
    if not all(map(math.isfinite, rigging.end_moments)):
        yield f"end moments {rigging.end_moments} are no numbers"


def _of_the_props(rigging: Rigging) -> Iterator[str]:
    props, units = rigging.props, rigging.print_units
    for i, prop in enumerate(props):
        where = f"support[{i}]"
        yield from _off(rigging, where, prop.at, 0.0)
        if not (math.isfinite(prop.gap) and prop.gap >= 0.0):
            gap = offset(prop.gap, units)
            yield f"{where}.gap = {gap} is less than zero; give the air under the steel"
        if prop.gap > 0.0 and prop.holds_down:
            yield f"{where} has a gap and holds down; leave one of them out"
        yield from _soft(where, prop.stiffness)
    if sum(prop.gap == 0.0 or prop.level is not None for prop in props) < 2:
        yield (
            "support: at least two supports without a gap have to carry the member, "
            'such as at = "1 m" and at = "11 m"'
        )
    order = sorted(range(len(props)), key=lambda i: props[i].at)
    for i, j in pairwise(order):
        if props[j].at - props[i].at < NEAREST:
            yield f"support[{j}] stands where support[{i}] does; leave one out"


def _of_the_loads(rigging: Rigging) -> Iterator[str]:
    for i, weight in enumerate(rigging.weights):
        where = f"weight[{i}]"
        yield from _off(rigging, where, weight.at, 0.5 * weight.spread)
        if not math.isfinite(weight.force):
            yield f"{where}.force = {weight.force:g} is no force"


def _of_the_jacks(rigging: Rigging) -> Iterator[str]:
    for j, jack in enumerate(rigging.jacks):
        where = f"jack[{j}]"
        yield from _off(rigging, where, jack.at, 0.0)
        yield from _soft(where, jack.stiffness)
        if not math.isfinite(jack.force):
            yield f"{where}.force = {jack.force:g} is no force"


def _off(rigging: Rigging, where: str, at: float, half: float) -> Iterator[str]:
    """A place that is not on the member."""
    slack = 1e-9 * rigging.length
    if at - half >= -slack and at + half <= rigging.length + slack:
        return
    units = rigging.print_units
    spread = f" with its spread of {offset(2 * half, units)}" if half > 0.0 else ""
    yield (
        f"{where}.at = {place(at, units)}{spread} is off the member, which is "
        f"{place(rigging.length, units)} long"
    )


def _soft(where: str, stiffness: float | None) -> Iterator[str]:
    """A stiffness that is none."""
    if stiffness is not None and not (math.isfinite(stiffness) and stiffness > 0.0):
        yield f"{where}.stiffness = {stiffness:g} N/m is not more than zero"

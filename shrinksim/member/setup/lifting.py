"""Lifting a member on two slings: its weight, where to take it, and how it bends."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from shrinksim.arrays import GRAVITY
from shrinksim.member.line import Bend
from shrinksim.member.setup import beam
from shrinksim.member.setup.rig import Prop, Rigging, rest_on_supports
from shrinksim.member.setup.rolling import above_supports, upright_size
from shrinksim.shop.sections.shape import Section
from shrinksim.units.quantity import show
from shrinksim.units.tape import offset, place
from shrinksim.views.caution import Caution

FROM_THE_END = 0.5 * (math.sqrt(2.0) - 1.0)
"""Of the length, 0.2071: w a2 / 2 over the slings equals w L (L - 4 a) / 8 between."""

BENDS = 0.5
"""M/Mp in the slings above which we warn; our choice, no source."""


@dataclass(frozen=True)
class Lift:
    """A member hanging on two slings at ``at`` m.

    weight : N and mass : kg, of the bare member.  slings : N, upright pull in each.
    moment : N m, the largest either way, + sagging.  ratio : of it to Mp.  rise : m,
    centre of gravity over the upper face at the slings, + above: it would roll over.
    """

    at: tuple[float, float]
    weight: float
    mass: float
    slings: tuple[float, float]
    moment: float
    ratio: float
    rise: float


def weight_to_lift(section: Section, length: float) -> float:
    """Weight of the bare member, N."""
    return section.properties.mass_per_length * length * GRAVITY


def lift_points(length: float) -> tuple[float, float]:
    """Places (m) of two slings for equal moments over them and between."""
    return FROM_THE_END * length, (1.0 - FROM_THE_END) * length


def lift(
    rigging: Rigging,
    camber: Iterable[Bend] = (),
    sweep: Iterable[Bend] = (),
    at: tuple[float, float] | None = None,
) -> Lift:
    """The member on two slings, as it is turned, without what it carries."""
    low, high = at or lift_points(rigging.length)
    bare = Rigging(
        section=rigging.section,
        length=rigging.length,
        yield_stress=rigging.yield_stress,
        props=(Prop(low), Prop(high)),
        up=rigging.up,
        modulus=rigging.modulus,
        print_units=rigging.print_units,
    )
    hung = rest_on_supports(bare, camber, sweep)
    sagging, hogging = beam.greatest_moments(hung.solved)
    most = max(sagging[1], hogging[1], key=abs)
    slings = hung.reactions.tolist()
    _, tall = upright_size(hung)
    return Lift(
        (low, high), hung.own_weight, hung.own_weight / GRAVITY,
        (slings[0], slings[1]), most, most / hung.plastic_moment,
        above_supports(hung) - 0.5 * tall,
    )  # fmt: skip


def lifting_in_brief(lifted: Lift, units: str = "metric") -> str:
    """Lifting to turn the member over, in a few words."""
    low, high = (place(at, units) for at in lifted.at)
    text = (
        f"turning it lifts {show(lifted.mass, 'mass', units)}, slings at {low} and {high}: "
        "rated gear, nobody under it, no sling on hot steel"
    )
    if lifted.rise > 0.0:
        text += "; bulge up it rolls over in the slings"
    if abs(lifted.ratio) > BENDS:
        text += "; two slings bend it too much"
    return text


def lifting_cautions(lifted: Lift, units: str = "metric") -> list[Caution]:
    """Cautions on lifting it."""
    text = [
        Caution(
            "lifting",
            f"It weighs {show(lifted.mass, 'mass', units)}; slings pull more than their "
            "share of it the flatter they run. Lifting needs rated gear and people "
            "licensed for it, a tag line, and nobody under the load or in its way if it "
            "swings or drops. No sling on steel that is still hot.",
        )
    ]
    if lifted.rise > 0.0:
        rise = offset(lifted.rise, units)
        text.append(
            Caution(
                "rolls in the slings",
                f"Its middle is so far up that its weight sits {rise} above the slings: "
                "it will roll over as it leaves the ground. Turn the bulge down first.",
            )
        )
    if abs(lifted.ratio) > BENDS:
        text.append(
            Caution(
                "bends in the slings",
                f"Its own weight bends it with {abs(lifted.ratio):.2f} of its plastic "
                "moment when it hangs so; use a spreader beam and more slings.",
            )
        )
    return text

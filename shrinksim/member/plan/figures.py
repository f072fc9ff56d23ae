"""Drawings of a plan with captions and text alternatives."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend
from shrinksim.member.plan.card_drawing import pattern_sheet
from shrinksim.member.plan.chalk import card_marks
from shrinksim.member.plan.line_drawing import member_lines, moments
from shrinksim.member.setup.rig import SupportedMember, rest_on_supports
from shrinksim.member.setup.setup import rigging_of
from shrinksim.page.style import drawing, svg
from shrinksim.units.quantity import show
from shrinksim.units.tape import offset, place

if TYPE_CHECKING:
    from shrinksim.arrays import FloatArray
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import HeatCard, Plan


@dataclass(frozen=True)
class PlanPicture:
    """A drawing: file name, heading, caption, the same in words, and its SVG."""

    name: str
    heading: str
    caption: str
    alt: str
    svg: bytes


def plan_pictures(plan: Plan, job: Job) -> list[PlanPicture]:
    """The member with its lines, and the moment on it where it can be told."""
    standing = member_on_supports(plan, job)
    with drawing():
        found = [_lines(plan, job, standing)]
        if standing is not None:
            found.append(_moments(plan, job, standing))
    return found


def member_on_supports(plan: Plan, job: Job) -> SupportedMember | None:
    """The measured member as it lies; None where it cannot lie so."""
    bends = {plane: kinks_of(plan.x, line) for plane, line in plan.before.items()}
    try:
        return rest_on_supports(
            rigging_of(job), bends.get("camber", ()), bends.get("sweep", ())
        )  # fmt: skip
    except CaseError:
        return None


def kinks_of(x: FloatArray, line: FloatArray) -> list[Bend]:
    """Kinks that make the line through offsets (k,) m at x (k,) m, straight between."""
    turns = -np.diff(np.diff(line) / np.diff(x))
    pairs = zip(x[1:-1].tolist(), turns.tolist(), strict=True)
    return [Bend(at, turn) for at, turn in pairs if abs(turn) > 1e-12]


def _lines(plan: Plan, job: Job, standing: SupportedMember | None) -> PlanPicture:
    """The member as it lies."""
    units = job.print_units
    deviations = [
        f"{v.plane} {offset(v.deviation, units)} off the chord now"
        for v in plan.verdict_before
        if v.plane in plan.before
    ]
    at = ", ".join(f"{card.number} at {place(card.at, units)}" for card in plan.cards)
    alt = (
        f"Drawing of the member, {place(job.member.length, units)} long, with its line "
        f"as measured ({'; '.join(deviations)}) and as expected after the heats"
    )
    alt += f"; heats {at}." if at else "; no heats."
    caption = (
        "Offsets from the chord between the ends, drawn larger than lengths as stated. "
        "Shaded: one standard deviation. Triangles with numbers: heats, on the side "
        "that their open end is on."
    )
    if standing is not None:
        caption += " Forces under the supports: what each carries as it lies."
    heading = "The member as it lies"
    drawn = svg(member_lines(plan, job, standing), heading)
    return PlanPicture("member", heading, caption, alt, drawn)


def _moments(plan: Plan, job: Job, standing: SupportedMember) -> PlanPicture:
    """The moment along the member."""
    ratio = standing.moment / standing.plastic_moment
    worst = int(np.argmax(np.abs(ratio)))
    units = job.print_units
    Mp = show(standing.plastic_moment, "moment", units)
    alt = (
        "Diagram of the bending moment over the plastic moment; largest "
        f"{ratio[worst]:+.3f} at {place(float(standing.x[worst]), units)}."
    )
    caption = (
        f"Over the plastic moment of the cold section, {Mp}, from its own weight and what "
        "lies on it, as it lies before the first heat. Red: at the heats, when their "
        "turn comes. Sagging presses the side that faces up together and helps a heat "
        "that is open there; hogging helps one that is open below."
    )
    drawn = svg(moments(plan, job, standing), "Moment over the plastic moment")
    heading = "What its weight does at the heats"
    return PlanPicture("moment", heading, caption, alt, drawn)


def card_pictures(plan: Plan, job: Job) -> list[PlanPicture]:
    """The drawing of every card."""
    with drawing():
        return [_card(card, job) for card in plan.cards]


def _card(card: HeatCard, job: Job) -> PlanPicture:
    """A card's pattern."""
    units = job.print_units
    marks = "; ".join(
        f"{mark.where}, {place(mark.end - mark.start, units)} wide, {mark.note}"
        for mark in card_marks(card, job)
    )
    alt = f"Drawing of heat {card.number}: {marks}."
    drawn = svg(pattern_sheet(card, job), f"Heat {card.number}")
    return PlanPicture(f"heat_{card.number}", f"Heat {card.number}", "", alt, drawn)

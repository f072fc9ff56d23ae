"""What a plan says of places that are used up, bends that are barred, and of turning."""

from __future__ import annotations

from collections.abc import Iterator

from shrinksim.member.job.read import Job
from shrinksim.member.plan.estimate import OPPOSING
from shrinksim.member.plan.minor_axis import MOST, TOLD, at_bends
from shrinksim.member.plan.next_heat import Way
from shrinksim.member.plan.patterns import REPEAT
from shrinksim.member.setup.cautions import refusals
from shrinksim.member.setup.lifting import lift, of_lifting
from shrinksim.member.setup.setup import Lay, rigging_of
from shrinksim.units.tape import place


def way_cautions(job: Job, laid: Lay, way: Way) -> Iterator[str]:
    """Cautions on the way as laid; its cards tell their own."""
    if not way.sites:
        return
    why = refusals(laid.standing)
    if why:
        yield f"No heat is planned as it lies: {'; '.join(why)}."
    across = at_bends([laid] * len(way.sites), way.sites)
    for site, ratio in zip(way.sites, across, strict=True):
        at = place(site.bend.at, job.print_units)
        if ratio > MOST:
            yield (
                f"The {site.plane} at {at} gets no heat as the member lies: its weight "
                f"bends it across the heat with {ratio:.2f} of its plastic moment; "
                f"{MOST:g} is the most that is planned with. Turn it on its side."
            )
        elif not site.stations and not why:
            yield (
                f"The {site.plane} at {at} gets no heat: every place for one had its "
                f"{len(REPEAT)} already. What is left needs another way: ask whoever "
                "answers for the member."
            )
    if max(across) > TOLD or float(way.ratios[:, -2].min()) < OPPOSING:
        yield from of_turning(job, laid)


def of_turning(job: Job, laid: Lay) -> Iterator[str]:
    """How the member is lifted to be turned, and what to beware of."""
    lifted = lift(rigging_of(job), laid.standing.camber, laid.standing.sweep)
    low, high = (place(at, job.print_units) for at in lifted.at)
    yield (
        f"To turn the member it is lifted, best on two slings, at {low} and {high}, cold "
        "and without what hangs on it."
    )
    yield from (caution.text for caution in of_lifting(lifted, job.print_units))

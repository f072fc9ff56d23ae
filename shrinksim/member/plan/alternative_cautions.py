"""Cautions on used-up places, bends without heats, and turning the member."""

from __future__ import annotations

from collections.abc import Iterator

from shrinksim.member.job.read import Job
from shrinksim.member.plan.estimate import OPPOSING
from shrinksim.member.plan.minor_axis import MOST, WARNED, other_axis_ratios
from shrinksim.member.plan.next_heat import HeatingScheme
from shrinksim.member.plan.patterns import REPEAT
from shrinksim.member.setup.cautions import refusals
from shrinksim.member.setup.lifting import lift, lifting_cautions
from shrinksim.member.setup.setup import Setup, rigging_of
from shrinksim.units.tape import place


def scheme_cautions(job: Job, setup: Setup, scheme: HeatingScheme) -> Iterator[str]:
    """Cautions on the scheme as laid; the cards have their own."""
    if not scheme.sites:
        return
    why = refusals(setup.standing)
    if why:
        yield f"No heat is planned as it lies: {'; '.join(why)}."
    across = other_axis_ratios([setup] * len(scheme.sites), scheme.sites)
    for site, ratio in zip(scheme.sites, across, strict=True):
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
    if max(across) > WARNED or float(scheme.ratios[:, -2].min()) < OPPOSING:
        yield from turning_cautions(job, setup)


def turning_cautions(job: Job, setup: Setup) -> Iterator[str]:
    """Instructions and cautions for lifting the member to turn it."""
    lifted = lift(rigging_of(job), setup.standing.camber, setup.standing.sweep)
    low, high = (place(at, job.print_units) for at in lifted.at)
    yield (
        f"To turn the member it is lifted, best on two slings, at {low} and {high}, cold "
        "and without what hangs on it."
    )
    yield from (caution.text for caution in lifting_cautions(lifted, job.print_units))

"""Sentences of a plan: stop rule, cautions of heats, reasons for refusal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shrinksim.member.job.read import Job
from shrinksim.member.plan.next_heat import (
    HeatingScheme,
    MovementFactor,
    Target,
    allowed_gain,
)
from shrinksim.member.plan.patterns import REPEAT, Site, open_end
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import LIMIT, HeatResponse, reference_turn, turn_at
from shrinksim.units.quantity import quantity, show
from shrinksim.units.tape import offset, place, plain_number
from shrinksim.views.caution import MARGIN, OPEN_END

MRAD = quantity("1 mrad", "angle")


def mrad(turn: float) -> str:
    """A turn in mrad with its unit."""
    return f"{plain_number(turn / MRAD, 2)} mrad"


def in_hundred(chance: float) -> str:
    """A chance in words; a forecast of some hundred courses is never quite sure."""
    return "over 99 in 100" if chance > 0.99 else f"{100 * chance:.0f} in 100"


def heat_cautions(
    job: Job, site: Site, number: int, move: HeatResponse, ratio: float, angle: float
) -> Iterator[str]:
    """Cautions of one heat, the ``number``-th at its bend."""
    units, at = job.print_units, site.stations[number]
    depth = job.member.case_member(site.plane).view_depth
    if ratio < -5e-4:
        yield (
            f"Gravity opposes here (M/Mp {ratio:+.2f}): turn the member over, or expect "
            "little."
        )
    if ratio > LIMIT:
        yield f"M/Mp is {ratio:.2f}; practice stops at {LIMIT:g} (FHWA, from memory)."
    if move.hinge_margin is not None and move.hinge_margin < MARGIN:
        yield (
            f"Hot-hinge margin {move.hinge_margin:.2f}: the member is near to folding; "
            "take load off."
        )
    if site.visits[number] == len(REPEAT) - 1:
        yield "Third heat at this place: the last one here."
    if min(at, job.member.length - at) < depth:
        yield "Nearer to the end than the member is deep: it may move less."
    if open_end(job, site.plane, angle) > OPEN_END + 1e-6:
        widest = show(OPEN_END, "length", units)
        yield f"The open end is wider than {widest} (FHWA guide, from memory)."
    for splice in job.splices:
        if abs(splice.at - at) < depth:
            yield (
                f"The weld at {place(splice.at, units)} is within a depth of this heat: "
                "keep the flame off it, or leave this place out."
            )


def stop_rule(
    job: Job,
    scheme: HeatingScheme,
    cards: Sequence[HeatCard],
    movement_factor: MovementFactor,
) -> tuple[str, ...]:
    """When to stop, in words and numbers."""
    units = job.print_units
    rules = [
        f"Stop when the {target.plane} reads {offset(target.stop_below, units)} or less "
        f"off the chord everywhere: the tolerance is {offset(target.allowed, units)}, and "
        f"{offset(target.margin, units)} of it is kept for the reading error ("
        f"{100.0 * target.chance_inside:.0f} in 100 lines that read just so are straight)."
        for target in scheme.targets
    ]
    rules.append(
        "Let it cool until both sides read the same on a thermometer (not by hand), "
        "read it, and plan again from the "
        "new readings before the next heat: a heat is told to "
        f"{100.0 * movement_factor.relative:.0f} % (one standard deviation)."
    )
    rules += [
        _too_small(job, scheme, target, movement_factor) for target in scheme.targets
    ]
    if cards:
        first = cards[0]
        low = max(first.move - 2.0 * first.sigma, 0.0)
        rules.append(
            "Stop and find out why if a heat does nothing or goes the wrong way, or if "
            "the first one turns the member by less than "
            f"{mrad(max(low, 0.2 * first.move))} "
            f"or more than {mrad(first.move + 2.0 * first.sigma)} ({mrad(first.move)} are "
            "expected)."
        )
    return tuple(rules)


def _too_small(
    job: Job, scheme: HeatingScheme, target: Target, movement_factor: MovementFactor
) -> str:
    """Stop rule for a bend too small for the smallest vee."""
    units = job.print_units
    b = max(target.sites, key=lambda i: scheme.sites[i].arm * abs(scheme.turns[i]))
    site, curve = scheme.sites[b], scheme.curves[b][0]
    ratio = float(scheme.ratios[b][-2])
    turn = float(turn_at(curve, ratio))
    move = movement_factor.mean * turn
    if move <= 0.0:
        return (
            f"As it lies no heat helps the {target.plane} at {place(site.bend.at, units)}: "
            f"the smallest vee would turn it by {mrad(move)}."
        )
    sigma = movement_factor.sigma_of(float(reference_turn(curve, turn)))
    left = np.linspace(0.0, move + 3.0 * sigma, 801)[1:]
    room = target.allowed / max(site.arm, 1e-9)
    good = allowed_gain(left, np.full_like(left, move), np.full_like(left, sigma), room)
    least = float(left[np.argmax(good > 0.0)])
    return (
        f"Stop with the {target.plane} also when less than {mrad(least)} is left of the "
        f"bend at {place(site.bend.at, units)} ({offset(least * site.arm, units)} of "
        f"deviation): the smallest vee turns it by {mrad(move)}, give or take "
        f"{mrad(sigma)}. On less it gains on average less than a tenth of what it moves, "
        "or is too likely to bend the line beyond its tolerance to the other side."
    )


def no_heat(
    job: Job, scheme: HeatingScheme, movement_factor: MovementFactor
) -> Iterator[str]:
    """Why bends that are out of tolerance get no heat as the member lies."""
    units = job.print_units
    for site, ratios, curves in zip(
        scheme.sites, scheme.ratios, scheme.curves, strict=True
    ):
        ratio = float(ratios[-2])
        curve = curves[len(curves) // 2]
        move, free = (
            movement_factor.mean * float(turn_at(curve, r)) for r in (ratio, 0.0)
        )
        if ratio >= -5e-4:
            continue
        what = "goes the wrong way" if move <= 0.0 else "moves it less"
        yield (
            f"Gravity opposes here: at {place(site.bend.at, units)} the {site.side} side "
            f"bulges, and as the member lies its weight opens a vee there (M/Mp "
            f"{ratio:+.3f}). A heat {what}: {mrad(move)} in place of {mrad(free)} "
            "without the weight. Turn the member over before heating."
        )


def fold_remark(margin: float) -> str:
    """Why a way is refused that comes near to a hot hinge."""
    return (
        f"refused: hot-hinge margin {margin:.2f}, the member would be near to folding "
        "while hot"
    )

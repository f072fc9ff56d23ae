"""What a plan says in sentences: when to stop, what to beware of, why a way is no way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shrinksim.member.job.read import Job
from shrinksim.member.plan.next_heat import Aim, Belief, Way, gain_of
from shrinksim.member.plan.patterns import REPEAT, Site, open_end
from shrinksim.member.plan.records import HeatCard
from shrinksim.member.plan.response import LIMIT, Move, spread_of, turn_at
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
    job: Job, site: Site, number: int, move: Move, ratio: float, angle: float
) -> Iterator[str]:
    """Cautions of one heat, the ``number``-th at its bend."""
    units, at = job.print_units, site.stations[number]
    depth = job.member.seen(site.plane).view_depth
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
    job: Job, way: Way, cards: Sequence[HeatCard], belief: Belief
) -> tuple[str, ...]:
    """When to stop, in words and numbers."""
    units = job.print_units
    said = [
        f"Stop when the {aim.plane} reads {offset(aim.goal, units)} or less off the "
        f"chord everywhere: the tolerance is {offset(aim.allowed, units)}, and "
        f"{offset(aim.margin, units)} of it is kept for the reading error ("
        f"{100.0 * aim.sure:.0f} in 100 lines that read just so are straight)."
        for aim in way.aims
    ]
    said.append(
        "Let it cool until both sides read the same on a thermometer (not by hand), "
        "read it, and plan again from the "
        "new readings before the next heat: a heat is told to "
        f"{100.0 * belief.relative:.0f} % (one standard deviation)."
    )
    said += [_too_small(job, way, aim, belief) for aim in way.aims]
    if cards:
        first = cards[0]
        low = max(first.move - 2.0 * first.sigma, 0.0)
        said.append(
            "Stop and find out why if a heat does nothing or goes the wrong way, or if "
            "the first one turns the member by less than "
            f"{mrad(max(low, 0.2 * first.move))} "
            f"or more than {mrad(first.move + 2.0 * first.sigma)} ({mrad(first.move)} are "
            "expected)."
        )
    return tuple(said)


def _too_small(job: Job, way: Way, aim: Aim, belief: Belief) -> str:
    """What is left of a bend when no vee is small enough for it."""
    units = job.print_units
    b = max(aim.sites, key=lambda i: way.sites[i].arm * abs(way.turns[i]))
    site, curve = way.sites[b], way.curves[b][0]
    ratio = float(way.ratios[b][-2])
    turn = float(turn_at(curve, ratio))
    move = belief.mean * turn
    if move <= 0.0:
        return (
            f"As it lies no heat helps the {aim.plane} at {place(site.bend.at, units)}: "
            f"the smallest vee would turn it by {mrad(move)}."
        )
    sigma = belief.sigma_of(float(spread_of(curve, turn)))
    left = np.linspace(0.0, move + 3.0 * sigma, 801)[1:]
    room = aim.allowed / max(site.arm, 1e-9)
    good = gain_of(left, np.full_like(left, move), np.full_like(left, sigma), room)
    least = float(left[np.argmax(good > 0.0)])
    return (
        f"Stop with the {aim.plane} also when less than {mrad(least)} is left of the bend "
        f"at {place(site.bend.at, units)} ({offset(least * site.arm, units)} of "
        f"deviation): the smallest vee turns it by {mrad(move)}, give or take "
        f"{mrad(sigma)}. On less it gains on average less than a tenth of what it moves, "
        "or is too likely to bend the line beyond its tolerance to the other side."
    )


def no_heat(job: Job, way: Way, belief: Belief) -> Iterator[str]:
    """Why bends that are out of tolerance get no heat as the member lies."""
    units = job.print_units
    for site, ratios, curves in zip(way.sites, way.ratios, way.curves, strict=True):
        ratio = float(ratios[-2])
        curve = curves[len(curves) // 2]
        move, free = (belief.mean * float(turn_at(curve, r)) for r in (ratio, 0.0))
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

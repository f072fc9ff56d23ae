"""Forced cooling in the phases of a heat, in every view."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.heating import AirJet, ForcedCooling, StillAir, law_options
from shrinksim.fem.conduction import EdgeExchange, Exchange, Law
from shrinksim.heat.phase import TORCH, Phase, PhaseName
from shrinksim.heat.trailing_cooling import TrailingCooling, smooth_cutoff
from shrinksim.shop.cooling import COOLINGS
from shrinksim.shop.pattern import Pattern

LONGEST = 48 * 3600.0
"""s, over which any phase ends."""

EDGE = 5e-3
"""Width (m) over which a jet's or a spray's effect ends at the border of its reach."""


def forced_law(cooling: ForcedCooling, ambient: float, begun: float = 0.0) -> Law:
    """The law of a case's forced cooling; water has its own temperature.

    begun : s of the run at which the law is first asked, for a caller's own, whose t is
    that of the run.
    """
    own = cooling._law
    if own is not None:
        return lambda T, t: own(T, begun + t)
    law, options = COOLINGS[cooling.kind].law, law_options(cooling)
    if isinstance(cooling, AirJet):
        return law(ambient, **options)
    return law(cooling.water, **options)


def is_steady(cooling: ForcedCooling) -> bool:
    """Whether its law depends on temperature alone; a caller's own may not."""
    return cooling._law is None


def instead_of(air: Law, forced: Law) -> Law:
    """What a forced cooling takes more than the air that is counted everywhere."""

    def instead(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        (q, slope), (calm, less) = forced(T, t), air(T, t)
        return q - calm, slope - less

    return instead


@dataclass(frozen=True)
class Exposed:
    """How the steel of a view gives off heat.

    calm, edges : in still air.  forced(heat, drawn) : under its forced cooling.
    following(heat) : what follows its torch.  torch(heat, turn) : more of the phase of a
    pattern's torch, numbers from 0.
    """

    calm: tuple[Exchange, ...]
    edges: tuple[EdgeExchange, ...]
    forced: Callable[[Any, tuple[Pattern, ...]], tuple[Exchange, ...]]
    following: Callable[[Any], TrailingCooling | None]
    torch: Callable[[int, int], dict[str, Any]] = lambda heat, turn: {}


def phases_in_turn(
    heats: Sequence[Any],
    patterns: Sequence[tuple[Pattern, ...]],
    ambient: float,
    exposed: Exposed,
) -> list[Phase]:
    """Heats as phases: torch, pauses, cooling, and at last cold.

    patterns : drawn, one tuple for each heat.  ambient : degC.
    """
    calm, edges = exposed.calm, exposed.edges
    phases: list[Phase] = []
    for number, (heat, drawn) in enumerate(zip(heats, patterns, strict=True), start=1):
        behind = exposed.following(heat)
        for turn, pattern in enumerate(drawn):
            if pattern.path.pause > 0.0:
                pause = PhaseName("pause", number)
                phases.append(Phase(pattern.path.pause, calm, edges, name=pause))
            name = PhaseName(TORCH, number, turn + 1)
            torch = {"torch": pattern.path, "trailing_cooling": behind}
            torch |= exposed.torch(number - 1, turn)
            phases.append(Phase(LONGEST, calm, edges, name=name, **torch))
        if behind is not None:
            name = PhaseName(f"{heat.cooling.kind} to the end of the path", number)
            phases.append(Phase(LONGEST, calm, edges, name=name, until_passes_end=True))
        phases += _cooling(heat, drawn, exposed, ambient, number)
        if number == len(heats):
            cold = PhaseName("to cold")
            phases.append(Phase(LONGEST, calm, edges, until=ambient + 5.0, name=cold))
    return phases


def _cooling(
    heat: Any, drawn: tuple[Pattern, ...], exposed: Exposed, ambient: float, number: int
) -> list[Phase]:
    """Still air up to the start of the forced cooling, then that until cool enough."""
    cooling, calm, edges = heat.cooling, exposed.calm, exposed.edges
    until = max(cooling.until, ambient + 5.0)
    calmly = PhaseName("still air", number)
    if isinstance(cooling, StillAir):
        return [Phase(cooling.longest, calm, edges, until=until, name=calmly)]
    phases = []
    if cooling.start_below is not None:
        wait = Phase(LONGEST, calm, edges, until=cooling.start_below, name=calmly)
        phases.append(wait)
    elif cooling.start_after:
        phases.append(Phase(cooling.start_after, calm, edges, name=calmly))
    name, forced = PhaseName(cooling.kind, number), exposed.forced(heat, drawn)
    phases.append(Phase(cooling.longest, forced, edges, until=until, name=name))
    return phases


def cover(
    xy: FloatArray, drawn: tuple[Pattern, ...], cooling: ForcedCooling
) -> FloatArray:
    """Share (e, q) of each point that the forced cooling wets or blows on."""
    if cooling.everywhere:
        return np.ones(xy.shape[:2])
    reach = cooling.reach or 0.0
    gap = np.full(xy.shape[:2], np.inf)
    for pattern in drawn:
        gap = np.minimum(gap, outside_by(pattern.outline, xy))
    return smooth_cutoff(gap - reach, EDGE)


def outside_by(outline: FloatArray, xy: FloatArray) -> FloatArray:
    """Distance (...) m of points xy (..., 2) to a convex outline; negative inside."""
    ring = np.asarray(outline)
    x, y = ring.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0:
        ring = ring[::-1]
    nearest = np.full(xy.shape[:-1], np.inf)
    inside = np.ones(xy.shape[:-1], bool)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        d, r = b - a, xy - a
        inside &= d[0] * r[..., 1] - d[1] * r[..., 0] >= 0.0
        share = np.clip((r @ d) / float(d @ d), 0.0, 1.0)
        foot = r - share[..., None] * d
        nearest = np.minimum(nearest, np.hypot(foot[..., 0], foot[..., 1]))
    return np.where(inside, -nearest, nearest)

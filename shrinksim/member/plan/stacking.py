"""Placement of heat numbers and load arrows that would overlap in a drawing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from shrinksim.member.job.read import Job
    from shrinksim.member.plan.records import HeatCard

Stack = tuple[float, str, list[str]]
"""Place (m), side and numbers of heats."""

NUMBERS, ROW = 14.0, 10.5
"""Points from the line to the first number over a vee, and from row to row."""

SHAFT = 23.0
"""Points of the arrow of a load with nothing in its way."""

UNDER, BESIDE, TEXT = 0.022, 0.085, 0.12
"""Shares of the member's length: numbers nearer than that to a load are in the way of
its arrow, or of its text; texts of two loads stand side by side from the last on."""


def stacks(cards: Sequence[HeatCard], length: float) -> list[Stack]:
    """Places of heats with their numbers, those that would overlap put together."""
    found: list[Stack] = []
    for card in sorted(cards, key=lambda c: c.at):
        near = (
            found
            and card.side == found[-1][1]
            and card.at - found[-1][0] < 0.022 * length
        )
        if near:
            found[-1][2].append(str(card.number))
        else:
            found.append((card.at, card.side, [str(card.number)]))
    return [(at, side, sorted(numbers, key=int)) for at, side, numbers in found]


def number_rows(numbers: Sequence[str], crowded: bool) -> str:
    """Numbers of heats in rows of three, or of one where places are near together."""
    most = 1 if crowded else 3
    rows = [numbers[k : k + most] for k in range(0, len(numbers), most)]
    return ("\n" if crowded else ",\n").join(", ".join(row) for row in rows)


def is_crowded(found: Sequence[Stack], length: float) -> bool:
    """Whether numbers side by side would run into one another."""
    places = sorted(at for at, *_ in found)
    return len(places) > 1 and float(np.diff(places).min()) < 0.08 * length


def loads(job: Job) -> list[tuple[float, bool, float, str]]:
    """Place (m) of each weight and jack, whether it pushes down, its mass or force."""
    found = [
        (w.at, w.down > 0, w.mass or w.down, "mass" if w.mass else "force")
        for w in job.weights
    ]
    return found + [(j.at, j.force > 0, abs(j.force), "jack") for j in job.jacks]


def arrow_reaches(
    places: Sequence[tuple[float, bool]], found: Sequence[Stack], high: str,
    length: float,
) -> list[tuple[float, float]]:  # fmt: skip
    """Points from the line to the head and to the text of each load's arrow.

    places : of the loads, m, and whether they push down.  high : side at the head.
    """
    crowded = is_crowded(found, length)
    free: dict[tuple[float, bool], float] = {}
    reach: dict[int, tuple[float, float]] = {}
    for k in sorted(range(len(places)), key=lambda k: places[k][0]):
        at, down = places[k]
        head, text = 0.0, SHAFT
        for place, side, numbers in found:
            away = abs(place - at) / length
            if (side == high) != down or away > BESIDE:
                continue
            top = NUMBERS + ROW * (1 + number_rows(numbers, crowded).count("\n"))
            text = max(text, top + 3.0)
            if away < UNDER:
                head = max(head, top)
        if head:
            text = max(text, head + 0.7 * SHAFT)
        for (other, way), level in free.items():
            if way == down and abs(other - at) < TEXT * length:
                text = max(text, level + 1.2 * ROW)
        free[at, down] = text
        reach[k] = head, text
    return [reach[k] for k in range(len(places))]

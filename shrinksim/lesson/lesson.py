"""A lesson: all its bars and plates, computed."""

from __future__ import annotations

import time

import numpy as np

from shrinksim.lesson.bars import (
    FREE,
    JAWS,
    WALLS,
    bar_track,
    lesson_steel,
    strength_at,
)
from shrinksim.lesson.plate import plates
from shrinksim.lesson.states import BarTrack, Holding, Lesson
from shrinksim.runs.run import Progress
from shrinksim.shop.steel import Steel
from shrinksim.views.result import versions_here

PEAK = 650.0
"""degC, the usual limit for carbon steel: FHWA guide for heat-straightening, 5.1."""

HELD_PEAKS = (100.0, 300.0, PEAK)
"""degC: one that the bar carries elastically, one that it does not, and the limit."""

SPRINGS = (0.05, 0.1, 0.2, 0.5, 1.0, 3.0, 10.0)
"""Stiffness of the springs over that of the bar."""

SIDES, THREE_PEAKS = (1.0, 5.0), (200.0, PEAK)
"""Area of each cold bar over that of the middle one; degC."""


def lesson(progress: Progress | None = None) -> Lesson:
    """Compute all states of a lesson page."""
    say = progress or (lambda stage, share, text: None)
    began = time.perf_counter()
    grade = lesson_steel()
    jobs = [(FREE, PEAK)]
    jobs += [(hold, peak) for hold in (JAWS, WALLS) for peak in HELD_PEAKS]
    jobs += [
        (Holding("spring", stiff, way), PEAK)
        for way in ("pushes and pulls", "only pushes")
        for stiff in SPRINGS
    ]
    jobs += [
        (Holding("three bars", sides=sides), peak)
        for sides in SIDES
        for peak in THREE_PEAKS
    ]
    tracks = _bars(jobs, grade, say)
    plate, heatings, loads, coolings = plates(say)
    say("plates", 1.0, "done")
    T = np.arange(20.0, 701.0, 10.0)
    return Lesson(
        "S235",
        grade.yield_stress,
        (T, strength_at(grade.strain, T)),
        tuple(t for t in tracks if t.holding in (JAWS, WALLS)),
        tracks[0],
        tuple(t for t in tracks if t.holding.name == "spring"),
        tuple(t for t in tracks if t.holding.name == "three bars"),
        plate,
        heatings,
        tuple(loads),
        tuple(coolings),
        time.perf_counter() - began,
        versions_here(),
    )


def _bars(
    jobs: list[tuple[Holding, float]], grade: Steel, say: Progress
) -> list[BarTrack]:
    """The bars, one after another."""
    tracks = []
    for number, (holding, peak) in enumerate(jobs):
        say("bars", number / len(jobs), f"{holding.name} to {peak:.0f} degC")
        tracks.append(bar_track(holding, peak, grade))
    say("bars", 1.0, "done")
    return tracks

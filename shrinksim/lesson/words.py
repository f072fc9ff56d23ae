"""Numbers in the sentences of a lesson, each from the computed states."""

from __future__ import annotations

from typing import Any

import numpy as np

from shrinksim.lesson.embedded import drawn
from shrinksim.lesson.plate import HELP, TOO_MUCH
from shrinksim.lesson.states import BarTrack, Lesson, PlateTrack
from shrinksim.views.caution import FORCED, MOMENT_LIMIT, NEXT_HEAT


def facts(lesson: Lesson) -> dict[str, Any]:
    """Names of the template -> numbers in SI and degC."""
    return {
        "peak": lesson.free.peak,
        "grade": lesson.grade,
        "strength": lesson.yield_stress,
        **_of_bars(lesson),
        **_of_loads(lesson),
        **_of_coolings(lesson),
        "plate": lesson.plate,
        "limits": {
            "forced": FORCED,
            "next": NEXT_HEAT,
            "moment": MOMENT_LIMIT,
            "quenched": (1100.0 - 32.0) / 1.8,
        },
    }


def _of_bars(lesson: Lesson) -> dict[str, Any]:
    """Results of the bars."""
    hottest = lesson.free.peak
    jaws = next(t for t in lesson.held if _is(t, "jaws", hottest))
    walls = next(t for t in lesson.held if _is(t, "walls", hottest))
    cold = walls.step("cold again")
    yields = jaws.step("starts to yield")
    both = [t for t in lesson.sprung if t.holding.way == "pushes and pulls"]
    best = max(both, key=shortening)
    equal, thick = (
        next(t for t in lesson.three if t.peak == hottest and t.holding.sides == sides)
        for sides in sorted({t.holding.sides for t in lesson.three})
    )
    end = equal.step("cold again")
    return {
        "grown": float(lesson.free.stretch.max()),
        "left": abs(float(lesson.free.stretch[-1])),
        "holds": float(jaws.temperature[yields - 1]),
        "gives": float(jaws.temperature[yields]),
        "push": float(-jaws.stress[jaws.step("hottest"), 0]),
        "jaws": shortening(jaws),
        "walls": shortening(walls),
        "pull": float(walls.stress[cold, 0]),
        "best": shortening(best),
        "best_spring": best.holding.stiffness,
        "soft": shortening(both[0]),
        "stiff": shortening(both[-1]),
        "stiff_spring": both[-1].holding.stiffness,
        "frame": shortening(equal),
        "frame_thick": shortening(thick),
        "middle": float(equal.stress[end, 0]),
        "outer": float(-equal.stress[end, 1]),
    }


def shortening(track: BarTrack) -> float:
    """Permanent shortening of a bar over its length."""
    return -float(track.stretch[-1])


def _is(track: BarTrack, name: str, peak: float) -> bool:
    return track.holding.name == name and track.peak == peak


def _of_loads(lesson: Lesson) -> dict[str, Any]:
    """Results of the loaded plates."""
    free, helping, jack, opposing, heavy = lesson.loads
    off = free.frames[_frame(free, "torch off")]
    fold = lesson.heatings[heavy.heating].times[heavy.frames[-1]]
    times = drawn(heavy)
    set_moment = float(np.abs(jack.moment[1]))
    return {
        "turn": free.rotation,
        "torch_off": float(free.turn[off]),
        "torch_time": lesson.heatings[free.heating].torch_off,
        "helping": helping.rotation,
        "jack": jack.rotation,
        "opposing": opposing.rotation,
        "gain": helping.rotation / free.rotation,
        "jack_left": float(jack.moment[-2]) / set_moment,
        "jack_most": float(jack.moment.max()) / set_moment,
        "help_ratio": HELP,
        "heavy_ratio": TOO_MUCH,
        "fold_time": float(fold),
        "heavy_drawn": "at its true size" if times == 1.0 else f"{times:g} times",
        "helping_margin": helping.margin,
    }


def _frame(track: PlateTrack, name: str) -> int:
    return next(stop.step for stop in track.stops if stop.name == name)


def _of_coolings(lesson: Lesson) -> dict[str, Any]:
    """Results of the cooled plates."""
    still, jet, mist, at_once, behind = lesson.coolings
    ready = {t.name: lesson.heatings[t.heating].ready for t in lesson.coolings}
    return {
        "jet": jet.rotation,
        "mist": mist.rotation,
        "at_once": at_once.rotation,
        "behind": behind.rotation,
        "mist_more": mist.rotation / still.rotation - 1.0,
        "at_once_more": at_once.rotation / still.rotation - 1.0,
        "behind_more": behind.rotation / still.rotation - 1.0,
        "still_ready": ready[still.name],
        "mist_ready": ready[mist.name],
        "jet_ready": ready[jet.name],
    }

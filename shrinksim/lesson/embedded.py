"""The computed states of a lesson as plain data for its page."""

from __future__ import annotations

import base64
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.lesson.benches import Bench, benches, key_of
from shrinksim.lesson.states import (
    BarTrack,
    Lesson,
    LessonPlate,
    PlateHeat,
    PlateTrack,
    Stop,
)
from shrinksim.lesson.units import SYSTEMS, drawing_units
from shrinksim.page.style import round_factor
from shrinksim.views.caution import FORCED, NEXT_HEAT

RAMP = (
    (20.0, (47, 60, 74)),
    (200.0, (92, 62, 108)),
    (400.0, (163, 58, 82)),
    (550.0, (222, 92, 40)),
    (650.0, (249, 158, 36)),
    (720.0, (255, 228, 110)),
)
"""degC and colour: ever lighter as it gets hotter, so that it also reads in grey."""

DRAWN, REACH = 20.0, 0.030
"""Largest exaggeration of a plate's movement; m that a drawn one may move."""

BYTE = 3.0
"""degC in a step of the temperature grids; numbers in words do not come from these."""


def states(lesson: Lesson, units: str) -> dict[str, Any]:
    """Data of the page's drawings, in the reader's units."""
    system = SYSTEMS[units]
    T, strength = lesson.strength
    temperature = system["temperature"]
    return {
        "units": drawing_units(units),
        "ramp": [{"at": float(temperature(t)), "rgb": list(rgb)} for t, rgb in RAMP],
        "steel": {
            "strength": {
                "T": numbers(temperature(T), 5),
                "s": numbers(system["stress"](strength), 5),
            }
        },
        "limits": {
            "forced": float(temperature(FORCED)),
            "next": float(temperature(NEXT_HEAT)),
        },
        "plate": _plate(lesson.plate),
        "heatings": _heatings(lesson, units),
        "benches": {b.name: _bench(lesson, b, units) for b in benches(units)},
    }


def numbers(values: FloatArray, digits: int = 4) -> list[Any]:
    """Numbers with so many significant digits; None for a missing value."""
    return [
        float(f"{v:.{digits}g}") if np.isfinite(v) else None
        for v in np.asarray(values, float).tolist()
    ]


def _bench(lesson: Lesson, bench: Bench, units: str) -> dict[str, Any]:
    """The tracks of a bench under the keys of its choices."""
    tracks: Mapping[str, Sequence[BarTrack] | Sequence[PlateTrack]] = {
        "held": lesson.held,
        "free": (lesson.free,),
        "spring": lesson.sprung,
        "three": lesson.three,
        "vee": lesson.loads[:1],
        "loads": lesson.loads,
        "coolings": lesson.coolings,
    }
    return {
        "kind": bench.name,
        "printed": bench.printed,
        "names": dict(bench.choices[0].options) if bench.choices else {},
        "tracks": {
            key_of(track, bench.name): _track(track, units)
            for track in tracks[bench.name]
        },
    }


def _track(track: BarTrack | PlateTrack, units: str) -> dict[str, Any]:
    """A track as plain data."""
    system = SYSTEMS[units]
    if isinstance(track, PlateTrack):
        return _plate_track(track, units)
    per = system["per"]
    return {
        "holding": track.holding.name,
        "stiffness": track.holding.stiffness,
        "way": track.holding.way,
        "sides": track.holding.sides,
        "T": numbers(system["temperature"](track.temperature), 5),
        "s": [numbers(system["stress"](column), 5) for column in track.stress.T],
        "e": numbers(track.stretch, 5),
        "w": numbers(track.thicker, 5),
        "per": numbers(per(track.stretch), 5),
        "p": numbers(per(track.plastic), 5),
        "stops": _stops(track.stops),
    }


def _stops(stops: tuple[Stop, ...]) -> list[list[Any]]:
    return [[stop.step, stop.name] for stop in stops]


def _plate_track(track: PlateTrack, units: str) -> dict[str, Any]:
    """A plate's movement; displacements as 16-bit numbers of a unit in mm."""
    per = SYSTEMS[units]["per"]
    largest = float(np.abs(track.displacement).max())
    unit = max(largest, 1e-9) / 32000.0
    fields = np.round(track.displacement / unit).astype("<i2")
    return {
        "heating": track.heating,
        "frames": track.frames.tolist(),
        "times": drawn(track),
        "unit": unit * 1e3,
        "u": [packed(frame) for frame in fields],
        "turn": numbers(per(track.turn), 5),
        "moment": numbers(track.moment, 5),
        "rotation": float(per(track.rotation)),
        "loaded": bool(np.abs(track.moment).max() > 0.0),
        "folds": track.folds,
        "stops": _stops(track.stops),
    }


def drawn(track: PlateTrack) -> float:
    """Exaggeration of a plate's movement in the drawings."""
    largest = float(np.abs(track.displacement).max())
    return min(DRAWN, round_factor(REACH / max(largest, 1e-9)))


def packed(values: Any) -> str:
    """The bytes of an array, row by row, as text."""
    return base64.b64encode(np.ascontiguousarray(values).tobytes()).decode()


def _plate(plate: LessonPlate) -> dict[str, Any]:
    """The plate's grid and vee, mm."""
    return {
        "x": numbers(plate.x * 1e3, 6),
        "y": numbers(plate.y * 1e3, 6),
        "width": plate.width * 1e3,
        "outline": [numbers(p * 1e3, 6) for p in plate.outline],
        "radius": plate.radius * 1e3,
        "plasticMoment": plate.plastic_moment,
    }


def _heatings(lesson: Lesson, units: str) -> dict[str, Any]:
    """Every heating, with temperature grids at the frames that some track shows."""
    frames_used: dict[str, set[int]] = {}
    for track in (*lesson.loads, *lesson.coolings):
        frames_used.setdefault(track.heating, set()).update(track.frames.tolist())
    return {
        name: _heating(heating, sorted(frames_used[name]), units)
        for name, heating in lesson.heatings.items()
    }


def _heating(heating: PlateHeat, frames: list[int], units: str) -> dict[str, Any]:
    grids = np.clip(np.round(heating.temperature[frames] / BYTE), 0, 255)
    return {
        "t": numbers(heating.times, 5),
        "end": float(heating.times[np.isfinite(heating.times)][-1]),
        "hot": numbers(SYSTEMS[units]["temperature"](heating.hottest), 5),
        "off": heating.torch_off,
        "ready": heating.ready,
        "torch": {
            frame: numbers(heating.torch[frame] * 1e3, 5)
            for frame in frames
            if np.isfinite(heating.torch[frame, 0])
        },
        "grid": {
            frame: packed(grid.astype(np.uint8))
            for frame, grid in zip(frames, grids, strict=True)
        },
    }

"""Plates of a lesson: one vee, computed under several loads and with several coolings.

Each is a case like any other, run through the whole chain with its default numerics; a
lesson keeps a few dozen of its steps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.lesson.states import LessonPlate, PlateHeat, PlateTrack, Stop
from shrinksim.movement import Grid, column_grid
from shrinksim.runs.run import Progress, run, run_once
from shrinksim.views.caution import FORCED, NEXT_HEAT
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from
from shrinksim.views.result import AnyResult

HELP = 0.25
"""Moment of the loads over the cold plastic moment: half of what practice allows."""

TOO_MUCH = 0.95
"""The same of a load that is too heavy; practice stops at 0.5 (FHWA guide, ch. 3, from
memory)."""

FROM = f"{FORCED:.2f} degC"
"""Start of air and water, see `cautions.FORCED`."""

LOADS: Mapping[str, Mapping[str, Any]] = {
    "none": {"kind": "none"},
    "helping": {"kind": "weight", "moment": f"{HELP} Mp"},
    "jack": {"kind": "jack", "moment": f"{HELP} Mp", "stiffness": "2 EI/L"},
    "opposing": {"kind": "weight", "moment": f"-{HELP} Mp"},
    "heavy": {"kind": "weight", "moment": f"{TOO_MUCH} Mp"},
}
"""Name of a load -> its table in a case."""

COOLINGS: Mapping[str, Mapping[str, Any]] = {
    "still": {},
    "jet": {"kind": "air jet", "start_below": FROM, "reach": "20 mm"},
    "mist": {"kind": "mist", "start_below": FROM, "reach": "20 mm"},
    "at once": {"kind": "mist", "start_after": "0 s", "reach": "20 mm"},
    "behind": {"kind": "mist", "behind": "40 mm", "reach": "15 mm"},
}
"""Name of a cooling -> its table in a heat."""

EARLY = ("at once", "behind")
"""Coolings that begin while the steel is hotter than `cautions.FORCED`."""

BESIDE, FAR = 0.060, 8
"""m of fine grid on each side of the vee's middle; columns beyond it on each side."""

FINE = 0.004, 0.005
"""m between grid lines along and across."""

HOT_FRAMES, COOLING_FRAMES = 13, 12
"""Frames while the torch is on, and after it."""


@dataclass(frozen=True)
class _Kept:
    """A run, and the grids on which its fields are read."""

    run: AnyResult
    whole: Grid
    coarse: Grid


def plate_case(load: Mapping[str, Any], cooling: Mapping[str, Any]) -> Case:
    """A vee of 45 degrees on a flat bar 100 x 6 mm, S235, torch held at 640 degC."""
    heat = {
        "pattern": [
            {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
        ],
        "cooling": dict(cooling),
    }
    tables = {
        "title": "Lesson: one vee",
        "member": {"section": "plate", "width": "100 mm", "thickness": "6 mm"},
        "steel": {"grade": "S235"},
        "torch": {"flame": "welding tip", "target": "640 degC"},
        "load": dict(load),
        "heat": [heat],
    }
    case = case_from(tables, "lesson", Path())
    assert isinstance(case, Case)
    return case


def plates(
    progress: Progress,
) -> tuple[LessonPlate, dict[str, PlateHeat], list[PlateTrack], list[PlateTrack]]:
    """Run all; the common facts, temperatures by cooling, tracks of loads, of coolings."""
    heatings: dict[str, PlateHeat] = {}
    tracks: list[PlateTrack] = []
    asked = [(name, "still") for name in LOADS]
    asked += [("none", name) for name in COOLINGS if name != "still"]
    first, error = _first(_share(progress, 0, len(asked), "free"))
    for number, (load, cooling) in enumerate(asked):
        said = _share(progress, number, len(asked), f"load {load}, cooling {cooling}")
        case = plate_case(LOADS[load], COOLINGS[cooling])
        ways = () if cooling == "behind" else first.run.heating.schedules
        kept = first if number == 0 else _kept(run_once(case, said, ways))
        if cooling not in heatings:
            heatings[cooling] = _heating(cooling, kept)
        name = load if cooling == "still" else cooling
        tracks.append(_track(name, heatings[cooling], kept))
    count = len(LOADS)
    coolings = [tracks[0], *tracks[count:]]
    return _plate(first, error), heatings, tracks[:count], coolings


def _first(progress: Progress) -> tuple[_Kept, Mapping[str, Any]]:
    """The free plate in still air, and its change in a coarser repeat.

    The other plates see the same torch on the same way at the same pace.
    """
    result = run(
        plate_case(LOADS["none"], COOLINGS["still"]), progress, search_again=True
    )
    if result.refinement is None:
        message = "the coarser repeat of the lesson's free plate did not come to an end"
        raise NotConverged(message)
    return _kept(result), result.refinement


def _share(progress: Progress, number: int, count: int, what: str) -> Progress:
    """A run's progress as a share of all runs; strain is its second half."""
    starts = {"mesh": 0.0, "heat": 0.1, "strain": 0.5}

    def report(stage: str, share: float, text: str) -> None:  # noqa: ARG001
        within = starts.get(stage, 0.0)
        if stage == "strain" and np.isfinite(share):
            within += 0.5 * share
        progress("plates", (number + min(within, 0.99)) / count, what)

    return report


def _kept(made: AnyResult) -> _Kept:
    """A run with grids over its plate."""
    x, y = grid_lines(made.geometry.length, made.geometry.depth)
    return _Kept(
        made, column_grid(made.mesh, x, y), column_grid(made.mesh, x[::2], y[::2])
    )


def grid_lines(length: float, depth: float) -> tuple[FloatArray, FloatArray]:
    """Lines across (i,) and along (j,), m, odd numbers of them; finer near the vee."""
    near = np.linspace(-BESIDE, BESIDE, 2 * round(BESIDE / FINE[0]) + 1)
    far = np.linspace(BESIDE, 0.5 * length, FAR + 1)[1:]
    y = np.linspace(0.0, depth, 2 * round(0.5 * depth / FINE[1]) + 1)
    return np.concatenate([-far[::-1], near, far]), y


def _plate(kept: _Kept, error: Mapping[str, Any]) -> LessonPlate:
    """Common data of the plates, from the first of them."""
    case, work = kept.run.case, kept.run.geometry
    pattern = case.heats[0].patterns[0]
    assert pattern.kind == "vee"
    drive = work.patterns[0][0].path.drive
    return LessonPlate(
        frozen(kept.whole.x),
        frozen(kept.whole.y),
        work.outlines[0],
        work.depth,
        case.member.thickness or 0.0,
        pattern.angle,
        pattern.depth_ratio,
        work.plastic_moment,
        drive.radius,
        drive.power,
        pattern.torch.target,
        len(kept.run.mesh.triangles),
        work.fine,
        case.numerics.temperature_step,
        case.numerics.heat_tolerance,
        error["factor"],
        error["rotation_change_mrad"] * 1e-3 / kept.run.movement.rotation,
    )


def _heating(name: str, kept: _Kept) -> PlateHeat:
    """Temperatures at the steps of the strains, on the grid."""
    heat, strain = kept.run.heat, kept.run.strain
    whole = kept.whole
    T = (whole.sample @ strain.temperature.T).T
    row = np.clip(np.searchsorted(heat.times, strain.times), 0, len(heat.times) - 1)
    torch = heat.torch[row].copy()
    times = strain.times.copy()
    last = int(np.searchsorted(strain.times, heat.times[-1], side="right"))
    torch[[0, 1]], torch[last:], times[last:] = np.nan, np.nan, np.inf
    off = float(heat.times[np.flatnonzero(np.isfinite(heat.torch[:, 0]))[-1]])
    torch[times >= off] = np.nan
    hottest = heat.temperature.max(axis=1)
    cooling = heat.times >= off
    ready = np.interp(-NEXT_HEAT, -hottest[cooling], heat.times[cooling])
    return PlateHeat(
        name,
        frozen(times),
        frozen(T.reshape(len(times), len(whole.x), len(whole.y))),
        frozen(strain.temperature.max(axis=1)),
        frozen(torch),
        off,
        float(ready),
        _begins(kept.run),
    )


def _begins(made: AnyResult) -> float | None:
    """Hottest steel (degC) when air or water begins, None in still air."""
    cooling = made.case.heats[0].cooling
    if cooling.kind == "still air":
        return None
    heat = made.heat
    if cooling.behind is not None:
        return float(heat.peak.max())
    first = next(k for k, name in enumerate(heat.phases) if cooling.kind in name.kind)
    return float(heat.temperature[first - 1].max())


def _track(name: str, heating: PlateHeat, kept: _Kept) -> PlateTrack:
    """Movement of one plate at the frames of the lesson."""
    strain, moved = kept.run.strain, kept.run.movement
    folds = kept.run.outcome != "complete"
    loaded = kept.run.case.load.kind != "none"
    stops = _stops(heating, len(strain.times), loaded, folds)
    frames = _frames(heating, len(strain.times), [step for step, _ in stops])
    at = np.array([kept.coarse.sample @ strain.displacement[k] for k in frames])
    shape = (len(frames), len(kept.coarse.x), len(kept.coarse.y), 2)
    places = {int(frame): place for place, frame in enumerate(frames)}
    return PlateTrack(
        name,
        heating.name,
        frames,
        frozen(at.reshape(shape)),
        frozen(moved.rotation_history),
        frozen(moved.moment_history),
        moved.rotation,
        moved.shortening,
        moved.hinge_margin,
        folds,
        tuple(Stop(places[step], stop) for step, stop in stops),
    )


def _stops(
    heating: PlateHeat, count: int, loaded: bool, folds: bool
) -> list[tuple[int, str]]:
    """Named steps.  count : steps that the plate survived."""
    times, hottest = heating.times, heating.hottest
    off = int(np.searchsorted(times, heating.torch_off))
    found = {0: "cold"}
    if loaded:
        found[1] = "load set"
    found[int(np.searchsorted(times, 0.5 * heating.torch_off))] = "half-way"
    found[off] = "torch off"
    if heating.forced is not None and heating.forced < 0.9 * hottest.max():
        begun = np.flatnonzero(hottest[off:] <= heating.forced + 0.5)
        found[off + int(begun[0])] = "air or water begins"
    found[off + int(np.flatnonzero(hottest[off:] <= NEXT_HEAT)[0])] = (
        "next heat may start"
    )
    if folds:
        found = {step: name for step, name in found.items() if step < count - 1}
        found[count - 1] = "folds"
        return sorted(found.items())
    found[count - 2] = "cold again"
    if loaded:
        found[count - 1] = "let go"
    return sorted(found.items())


def _frames(heating: PlateHeat, count: int, stops: list[int]) -> IntArray:
    """Steps of the frames: even in time under the torch, wider and wider apart after it."""
    times, off = heating.times, heating.torch_off
    hot = np.linspace(0.0, off, HOT_FRAMES)
    end = times[np.isfinite(times)][-1]
    after = off + np.geomspace(1.0, end - off, COOLING_FRAMES)
    steps = np.searchsorted(times[1:], np.concatenate([hot[1:], after])) + 1
    inside = steps[steps < min(count, len(times) - 2)]
    return frozen(np.union1d(inside, stops), np.int64)

"""How a held torch is led: slower where the steel lags, faster where it runs ahead.

A hand that watches the steel brings every spot of a pattern to the target as evenly as
the path allows, and none above it.  The timetable that does so is found by going over
the path again: where the steel along it came out cold the torch is slowed, where hot
sped up, until the hottest steel is at the target.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.heat.torch_motion import Timetable
from shrinksim.shop.pattern import Drive, TorchPath, along, path_length

Made = TypeVar("Made")

CLOSE = 2.0
"""K, how near the hottest steel comes to the target."""

NEARLY = 15.0
"""K, how near the passes that spread the heat bring it."""

NOT_FAR = 10.0
"""K, still taken when the trials are used up."""

ROUGH = 5.0
"""Step tolerance of the passes that look for a held torch's timetable, in tolerances."""


ROUGH_NEWTON, ROUGH_STRIDE = 0.3, 0.7
"""Their tolerance of Newton's method, K, and how far the torch goes in a step, radii."""

LEAST, MOST, FINE = 4, 14, 4
"""Passes that spread the heat, and that bring the hottest steel to the target."""

SPACING = 1.0 / 3.0
"""Of the places whose pace is set, in radii of the torch."""

SPREAD = 0.7
"""Radii over which a place's lag is averaged: a torch cannot heat more finely."""

GAIN = 1.3
"""The rise of thin steel grows more slowly than the time that it is heated."""


@dataclass(frozen=True)
class Tried(Generic[Made]):
    """What a trial found: peaks (k,) degC at the places of the path, the hottest steel
    degC, and what else it made.
    """

    peaks: FloatArray
    hottest: float
    made: Made


@dataclass(frozen=True)
class Pace:
    """places (k,) m along the path; slowness (k,) s/m there; waits (2,) s at its start
    and at its end.
    """

    places: FloatArray
    slowness: FloatArray
    waits: FloatArray

    @property
    def table(self) -> Timetable:
        """The torch's timetable."""
        gaps = 0.5 * np.diff(self.places) * (self.slowness[1:] + self.slowness[:-1])
        times = self.waits[0] + np.append(0.0, np.cumsum(gaps))
        times = np.concatenate([[0.0], times, [times[-1] + self.waits[1]]])
        distance = np.concatenate([[0.0], self.places, self.places[-1:]])
        new = np.append(True, np.diff(times) > 1e-9)
        return Timetable(frozen(times[new]), frozen(distance[new]))


def places_on(torch: TorchPath) -> FloatArray:
    """Places (k,) m along a path whose pace is set; one on a path without length."""
    length = float(path_length(torch.points)[-1])
    if length == 0.0:
        return np.zeros(1)
    return np.linspace(
        0.0, length, int(np.ceil(length / (SPACING * torch.drive.radius))) + 1
    )


def led(
    torch: TorchPath, start: FloatArray, depth: float,
    trial: Callable[[Timetable, bool], Tried[Made]],
) -> Made:  # fmt: skip
    """What the trial with the timetable of a held torch made.

    start : (k,) degC at `places_on` the path when the torch is lit.  depth : m, of steel
    under it.  trial(timetable, rough) goes over the path.  Raises NotConverged when the
    hottest steel cannot be brought to the target.
    """
    drive = torch.drive
    assert drive.target is not None
    places = places_on(torch)
    base = np.minimum(start, drive.target - 100.0)
    spread = _spread(along(torch.points, places), drive.radius)
    pace = _first(places, float(base.mean()), depth, drive)
    rough = trial(pace.table, True)
    for count in range(1, MOST + 1):
        over = rough.hottest - drive.target
        if count >= LEAST and abs(over) <= NEARLY:
            break
        if count >= LEAST:
            _refuse(pace, drive, over, float(start.max()))
        pace = _changed(pace, rough, base, spread, drive)
        rough = trial(pace.table, True)
    pace = _scaled(pace, rough.hottest, float(base.mean()), drive, GAIN)
    best = _brought(pace, float(base.mean()), drive, trial)
    if _miss(best, drive) > NOT_FAR:
        over = best.hottest - drive.target
        raise NotConverged(_not_found(drive, over, float(start.max())))
    return best.made


def _brought(
    pace: Pace,
    mean: float,
    drive: Drive,
    trial: Callable[[Timetable, bool], Tried[Made]],
) -> Tried[Made]:
    """The best of a few passes, each slower or faster as a whole by secants."""
    best = last = trial(pace.table, False)
    gain = GAIN
    for _ in range(FINE - 1):
        if _miss(best, drive) <= CLOSE:
            break
        before, pace = pace, _scaled(pace, last.hottest, mean, drive, gain)
        found = trial(pace.table, False)
        rise = np.log((found.hottest - mean) / (last.hottest - mean))
        slower = np.log(pace.table.end / before.table.end)
        if abs(rise) > 1e-4 and slower * rise > 0.0:
            gain = float(np.clip(slower / rise, 0.5 * GAIN, 3.0 * GAIN))
        last = found
        best = min(best, last, key=lambda tried: _miss(tried, drive))
    return best


def _miss(found: Tried[Made], drive: Drive) -> float:
    """K between the hottest steel and the target."""
    assert drive.target is not None
    return abs(found.hottest - drive.target)


def _first(places: FloatArray, base: float, depth: float, drive: Drive) -> Pace:
    """A guess: the torch's heat in the steel under it; rows share what they need."""
    assert drive.target is not None
    heat = 7850.0 * 600.0 * (drive.target - base) * depth
    slow = 0.8 * heat * drive.radius / drive.power
    slow = max(slow, 1.0 / drive.speed)
    wait = 0.5 * drive.radius * slow
    if len(places) == 1:
        return Pace(places, np.zeros(1), np.array([4.0 * wait, 0.0]))
    return Pace(places, np.full(len(places), slow), np.full(2, wait))


def _spread(xy: FloatArray, radius: float) -> FloatArray:
    """Weights (k, k) of the places near each place, one row for each."""
    square = ((xy[:, None] - xy[None]) ** 2).sum(axis=-1)
    weights = np.exp(-3.0 * square / (SPREAD * radius) ** 2)
    return weights / weights.sum(axis=1, keepdims=True)


def _changed(
    pace: Pace, found: Tried[Made], base: FloatArray, spread: FloatArray, drive: Drive
) -> Pace:
    """Slower where the path came out colder than its mean, all scaled to the target."""
    assert drive.target is not None
    rise = np.maximum(found.peaks - base, 20.0) / (drive.target - base)
    ahead = spread @ np.log(rise)
    weight = pace.slowness if len(base) > 1 else np.ones(1)
    ahead = ahead - np.average(ahead, weights=weight)
    mean = float(base.mean())
    hot = max(found.hottest - mean, 20.0) / (drive.target - mean)
    factor = np.exp(-np.clip(ahead + GAIN * np.log(hot), -1.0, 1.0))
    return _within(pace, factor, drive)


def _scaled(pace: Pace, hottest: float, mean: float, drive: Drive, gain: float) -> Pace:
    """All slower or faster, so that the hottest steel comes nearer to the target."""
    assert drive.target is not None
    short = np.log((drive.target - mean) / max(hottest - mean, 20.0))
    return _within(pace, np.full(len(pace.places), np.exp(gain * short)), drive)


def _within(pace: Pace, factor: FloatArray, drive: Drive) -> Pace:
    """The pace times a factor (k,), no faster than the hand moves."""
    longest = drive.patience / drive.radius
    slowness = np.clip(pace.slowness * factor, 1.0 / drive.speed, longest)
    waits = np.minimum(pace.waits * factor[[0, -1]], drive.patience)
    if len(factor) == 1:
        slowness = np.zeros(1)
    return replace(pace, slowness=slowness, waits=waits)


def _refuse(pace: Pace, drive: Drive, over: float, start: float) -> None:
    """Raise NotConverged when the torch is at its limits, too weak or too strong."""
    longest = max(float(np.max(pace.slowness)) * drive.radius, float(pace.waits.max()))
    fastest = np.all(pace.slowness <= 1.0 / drive.speed) and pace.waits.max() < 0.05
    if over < -CLOSE and longest > 0.99 * drive.patience:
        raise NotConverged(_not_found(drive, over, start))
    if over > CLOSE and fastest and len(pace.places) > 1:
        raise NotConverged(_not_found(drive, over, start))


def _not_found(drive: Drive, over: float, start: float) -> str:
    """Why the hottest steel does not come to the target, and what to do."""
    assert drive.target is not None
    hottest = f"{drive.target + over:.0f} degC"
    if over < 0.0:
        return (
            "the torch cannot reach its target: it stays at one place for over "
            f"{drive.patience:.0f} s and the steel comes to {hottest} of "
            f"{drive.target:.0f} degC; use more power or a smaller radius, or lower the "
            "target"
        )
    if start > drive.target - 50.0:
        return (
            f"the steel is at {start:.0f} degC already where the torch is to go, its "
            f"target {drive.target:.0f} degC: let it cool first (pause, or a [[heat]] of "
            "its own with cooling.until)"
        )
    return (
        f"the torch is too strong for its target: at {drive.speed * 1e3:.0f} mm/s, the "
        f"fastest allowed, the hottest steel comes to {hottest}, not "
        f"{drive.target:.0f} degC; use less power, a larger radius, a wider pitch or a "
        "faster speed"
    )

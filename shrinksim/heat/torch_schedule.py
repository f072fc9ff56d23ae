"""Travel schedule that brings the hottest point to the target, found by iteration.

A skilled hand heats a pattern as evenly as the path allows, and none of it above the
target.  Each iteration computes the pass with the current schedule, slows the torch
where the peak temperature along the path is low and speeds it up where it is high.  The
last ones scale the whole schedule until the hottest steel is at the target.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Generic, TypeVar

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.heat.torch_motion import Timetable
from shrinksim.shop.pattern import Drive, TorchPath, path_length, point_along

Outcome = TypeVar("Outcome")

TOLERANCE = 2.0
"""K between the hottest steel and the target at which the search ends."""

ROUGH_TOLERANCE = 15.0
"""K between them at which the rough passes, which even out the heat, end."""

ACCEPTED = 10.0
"""K between them that is accepted after the last pass."""

ROUGH_STEPS = 5.0
"""Step tolerance of the rough passes, in step tolerances of the run."""

ROUGH_NEWTON, ROUGH_STRIDE = 0.3, 0.7
"""Their tolerance of Newton's method, K, and largest distance in a step, radii."""

LEAST_ROUGH, MOST_ROUGH, MOST_FINE = 4, 14, 4
"""Numbers of rough passes, and of fine ones, which scale the schedule."""

SPACING = 1.0 / 3.0
"""Spacing of the control points of the schedule, in radii of the torch."""

AVERAGING = 0.7
"""Radii over which peak temperatures are averaged: a torch cannot heat more finely."""

GAIN = 1.3
"""d log(heating time) / d log(rise): the rise of thin steel grows less than its time."""


@dataclass(frozen=True)
class PassResult(Generic[Outcome]):
    """Result of one pass: peaks (k,) degC at the control points, temperature of the
    hottest steel degC, and the outcome that is returned for the final schedule.
    """

    peaks: FloatArray
    hottest: float
    outcome: Outcome


@dataclass(frozen=True)
class TravelRate:
    """Inverse travel speed: slowness (k,) s/m at the control points ``places`` (k,) m
    along the path; waits (2,) s, dwell times at its start and end.
    """

    places: FloatArray
    slowness: FloatArray
    waits: FloatArray

    @property
    def table(self) -> Timetable:
        """Timetable of the torch, speeds averaged between control points."""
        gaps = 0.5 * np.diff(self.places) * (self.slowness[1:] + self.slowness[:-1])
        times = self.waits[0] + np.append(0.0, np.cumsum(gaps))
        times = np.concatenate([[0.0], times, [times[-1] + self.waits[1]]])
        distance = np.concatenate([[0.0], self.places, self.places[-1:]])
        rising = np.append(True, np.diff(times) > 1e-9)
        return Timetable(frozen(times[rising]), frozen(distance[rising]))


def control_points(torch: TorchPath) -> FloatArray:
    """Control points (k,) m along a path; one on a path without length."""
    length = float(path_length(torch.points)[-1])
    if length == 0.0:
        return np.zeros(1)
    return np.linspace(
        0.0, length, int(np.ceil(length / (SPACING * torch.drive.radius))) + 1
    )


def find_schedule(
    torch: TorchPath, start: FloatArray, depth: float,
    run_pass: Callable[[Timetable, bool], PassResult[Outcome]], near: float = TOLERANCE,
) -> Outcome:  # fmt: skip
    """Outcome of the pass whose schedule brings the hottest point to the target.

    start : (k,) degC at the `control_points` when the torch is lit.  depth : m, of steel
    under it.  run_pass(timetable, rough) computes one pass.  near : K, how near the
    hottest steel is brought to the target; NotConverged where it cannot be.
    """
    drive = torch.drive
    assert drive.target is not None
    places = control_points(torch)
    base = np.minimum(start, drive.target - 100.0)
    weights = _averaging_weights(point_along(torch.points, places), drive.radius)
    rate = _initial_rate(places, float(base.mean()), depth, drive)
    rough = run_pass(rate.table, True)
    for count in range(1, MOST_ROUGH + 1):
        excess = rough.hottest - drive.target
        if count >= LEAST_ROUGH and abs(excess) <= ROUGH_TOLERANCE:
            break
        if count >= LEAST_ROUGH:
            _check_limits(rate, drive, excess, float(start.max()))
        rate = _evened_out(rate, rough, base, weights, drive)
        rough = run_pass(rate.table, True)
    rate = _scaled(rate, rough.hottest, float(base.mean()), drive, GAIN)
    best = _scaled_to_target(rate, float(base.mean()), drive, run_pass, near)
    if _target_error(best, drive) > ACCEPTED:
        excess = best.hottest - drive.target
        raise NotConverged(_not_found(drive, excess, float(start.max())))
    return best.outcome


def _scaled_to_target(
    rate: TravelRate,
    mean: float,
    drive: Drive,
    run_pass: Callable[[Timetable, bool], PassResult[Outcome]],
    near: float,
) -> PassResult[Outcome]:
    """Best of a few fine passes; the schedule is scaled as a whole by secants."""
    best = last = run_pass(rate.table, False)
    gain = GAIN
    for _ in range(MOST_FINE - 1):
        if _target_error(best, drive) <= near:
            break
        before, rate = rate, _scaled(rate, last.hottest, mean, drive, gain)
        found = run_pass(rate.table, False)
        rise = np.log((found.hottest - mean) / (last.hottest - mean))
        longer = np.log(rate.table.end / before.table.end)
        if abs(rise) > 1e-4 and longer * rise > 0.0:
            gain = float(np.clip(longer / rise, 0.5 * GAIN, 3.0 * GAIN))
        last = found
        best = min(best, last, key=lambda result: _target_error(result, drive))
    return best


def _target_error(found: PassResult[Outcome], drive: Drive) -> float:
    """Difference (K) between the hottest steel and the target."""
    assert drive.target is not None
    return abs(found.hottest - drive.target)


def _initial_rate(
    places: FloatArray, base: float, depth: float, drive: Drive
) -> TravelRate:
    """First guess: the heat that the steel under the torch needs, over its power."""
    assert drive.target is not None
    heat = 7850.0 * 600.0 * (drive.target - base) * depth
    slow = 0.8 * heat * drive.radius / drive.power
    slow = max(slow, 1.0 / drive.speed)
    wait = 0.5 * drive.radius * slow
    if len(places) == 1:
        return TravelRate(places, np.zeros(1), np.array([4.0 * wait, 0.0]))
    return TravelRate(places, np.full(len(places), slow), np.full(2, wait))


def _averaging_weights(xy: FloatArray, radius: float) -> FloatArray:
    """Gaussian weights (k, k) of the control points around each; rows sum to 1."""
    square = ((xy[:, None] - xy[None]) ** 2).sum(axis=-1)
    weights = np.exp(-3.0 * square / (AVERAGING * radius) ** 2)
    return weights / weights.sum(axis=1, keepdims=True)


def _evened_out(
    rate: TravelRate, found: PassResult[Outcome], base: FloatArray,
    weights: FloatArray, drive: Drive,
) -> TravelRate:  # fmt: skip
    """Rate made slower where the peaks are below their mean, all scaled to the target."""
    assert drive.target is not None
    rise = np.maximum(found.peaks - base, 20.0) / (drive.target - base)
    excess = weights @ np.log(rise)
    weight = rate.slowness if len(base) > 1 else np.ones(1)
    excess = excess - np.average(excess, weights=weight)
    mean = float(base.mean())
    hot = max(found.hottest - mean, 20.0) / (drive.target - mean)
    factor = np.exp(-np.clip(excess + GAIN * np.log(hot), -1.0, 1.0))
    return _limited(rate, factor, drive)


def _scaled(
    rate: TravelRate, hottest: float, mean: float, drive: Drive, gain: float
) -> TravelRate:
    """Rate scaled as a whole, by the missing rise to the power ``gain``."""
    assert drive.target is not None
    short = np.log((drive.target - mean) / max(hottest - mean, 20.0))
    return _limited(rate, np.full(len(rate.places), np.exp(gain * short)), drive)


def _limited(rate: TravelRate, factor: FloatArray, drive: Drive) -> TravelRate:
    """Rate times a factor (k,), within the limits of speed and patience."""
    longest = drive.patience / drive.radius
    slowness = np.clip(rate.slowness * factor, 1.0 / drive.speed, longest)
    waits = np.minimum(rate.waits * factor[[0, -1]], drive.patience)
    if len(factor) == 1:
        slowness = np.zeros(1)
    return replace(rate, slowness=slowness, waits=waits)


def _check_limits(rate: TravelRate, drive: Drive, excess: float, start: float) -> None:
    """Raise NotConverged when the torch is at its limits, too weak or too strong."""
    longest = max(float(np.max(rate.slowness)) * drive.radius, float(rate.waits.max()))
    fastest = np.all(rate.slowness <= 1.0 / drive.speed) and rate.waits.max() < 0.05
    if excess < -TOLERANCE and longest > 0.99 * drive.patience:
        raise NotConverged(_not_found(drive, excess, start))
    if excess > TOLERANCE and fastest and len(rate.places) > 1:
        raise NotConverged(_not_found(drive, excess, start))


def _not_found(drive: Drive, excess: float, start: float) -> str:
    """Message: why no schedule brings the steel to the target, and what to do."""
    assert drive.target is not None
    hottest = f"{drive.target + excess:.0f} degC"
    if excess < 0.0:
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

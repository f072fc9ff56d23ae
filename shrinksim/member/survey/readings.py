"""Readings of one plane of a survey: plausibility, string sag, twist from two edges.

A reading is the offset of the member's edge from a string or laser line at a station, the
blocks under the line's ends included.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.job.readings_file import MOST_FAULTS, read_csv
from shrinksim.member.line import Plane
from shrinksim.units.quantity import show
from shrinksim.views.caution import Caution

__all__ = [
    "Readings",
    "checked_readings",
    "read_csv",
    "sag_cautions",
    "string_sag",
    "twist_rate",
]

LEAST = 3
"""Readings of one plane."""

FEWEST_FOR_SLIP = 5
"""Readings, under which it cannot be told which of them slipped."""

STEEPEST = 0.2
"""Slope between two readings that no member has that is still to be straightened."""

COVERED = 0.5
"""Share of the member that its readings have to cover."""

OTHER_UNITS = {
    25.4: "millimetres", 1 / 25.4: "inches", 12.0: "inches", 1 / 12.0: "feet",
    10.0: "millimetres", 0.1: "centimetres", 1000.0: "millimetres", 0.001: "metres",
    304.8: "millimetres", 1 / 304.8: "feet",
}  # fmt: skip
"""Reading over what its neighbours say, and the unit that it would fit in."""

LIGHT_LINE, HAND_PULL = 0.01, 50.0
"""N/m and N, of a builder's line pulled by hand; common practice, no source."""


@dataclass(frozen=True)
class Readings:
    """Readings of one plane: x (k,) m rising; offset (k,) m from the string or laser
    line with its blocks taken off, + up or right; error : m, standard deviation of one.
    """

    plane: Plane
    x: FloatArray
    offset: FloatArray
    error: float


def checked_readings(
    plane: Plane,
    x: FloatArray,
    reading: FloatArray,
    *,
    length: float,
    block: float,
    error: float,
    units: str = "metric",
    line_on: Literal["top", "bottom", "right", "left"] | None = None,
) -> Readings:
    """Readings (k,) m at stations x (k,) m in order, the blocks taken off.

    line_on : side of the member that the line runs along.  From a line on top or on the
    right a larger reading is a member further down or left; from one underneath or on
    the left, and None, further up or right.  Raises CaseError with everything that
    cannot be true of a member of this length.
    """
    x, reading = np.asarray(x, float), np.asarray(reading, float)
    if x.ndim != 1 or x.shape != reading.shape:
        message = f"survey: {plane}: {x.size} stations for {reading.size} readings"
        raise CaseError(message)
    order = np.argsort(x, kind="stable")
    x, reading = x[order], reading[order]
    faults = _impossible(plane, x, reading, length, error, units)
    if faults:
        raise CaseError([f"survey: {fault}" for fault in faults[:MOST_FAULTS]])
    offset = block - reading if line_on in {"top", "right"} else reading - block
    return Readings(plane, frozen(np.clip(x, 0.0, length)), frozen(offset), error)


def _impossible(
    plane: Plane,
    x: FloatArray,
    reading: FloatArray,
    length: float,
    error: float,
    units: str,
) -> list[str]:
    """Sentences on readings that no member gives."""

    def written(value: float) -> str:
        return show(float(value), "length", units)

    if not (np.isfinite(x).all() and np.isfinite(reading).all()):
        return [f"{plane}: a reading is not a number"]
    faults = []
    if len(x) < LEAST:
        faults.append(
            f"{plane}: has {len(x)} reading{'s' * (len(x) != 1)}; a line needs at least "
            f"{LEAST}: both ends and one between"
        )
    faults += [
        f"{plane}: station {written(at)} is not on the member, which is "
        f"{written(length)} long"
        for at in x[(x < -1e-6) | (x > length + 1e-6)]
    ]
    faults += [
        f"{plane}: station {written(at)} is read twice; keep one reading, or their mean"
        for at in np.unique(x[1:][np.diff(x) < 1e-6])
    ]
    covered = float(np.ptp(x)) if not faults else length
    if covered < COVERED * length:
        faults.append(
            f"{plane}: the readings cover {written(covered)} of {written(length)}; "
            "the line of a member cannot be told from a part of it"
        )
    if faults:
        return faults
    slips = list(_slips(x, reading, error)) if len(x) >= FEWEST_FOR_SLIP else []
    return [
        f"{plane}: the reading {written(reading[k])} at {written(x[k])} is far off its "
        f"neighbours, which say {written(due)}: a slip, or another unit{hint}?"
        for k, due, hint in slips
    ] or _too_steep(plane, x, reading, written)


def _too_steep(
    plane: Plane,
    x: FloatArray,
    reading: FloatArray,
    written: Callable[[float], str],
) -> list[str]:
    """A sentence on the steepest two readings, when they are too steep."""
    slope = np.abs(np.diff(reading)) / np.diff(x)
    k = int(np.argmax(slope))
    if slope[k] <= STEEPEST:
        return []
    return [
        f"{plane}: from {written(x[k])} to {written(x[k + 1])} the readings go from "
        f"{written(reading[k])} to {written(reading[k + 1])}, steeper than 1 in "
        f"{1 / STEEPEST:.0f}: no member that can be straightened does that; are the "
        "units right?"
    ]


def _slips(
    x: FloatArray, reading: FloatArray, error: float
) -> Iterator[tuple[int, float, str]]:
    """Readings that no bend explains: number, what their neighbours say, a hint.

    A bend goes off one way: the readings before and beyond it both point at it.  A slip
    stands off on both sides.  Told are those that are steep beyond belief or would fit in
    another unit; what else looks odd is left to the fit, which can leave it out.
    """
    for k in range(1, len(x) - 1):
        share = (x[k] - x[k - 1]) / (x[k + 1] - x[k - 1])
        due = float((1.0 - share) * reading[k - 1] + share * reading[k + 1])
        off = reading[k] - due
        apart = abs(reading[k + 1] - reading[k - 1])
        if abs(off) < max(10.0 * error, 2.0 * apart):
            continue
        gap = min(x[k] - x[k - 1], x[k + 1] - x[k])
        hint = _other_unit(float(reading[k]), due, error)
        pointed = any(
            abs(off - p) < 0.5 * abs(off) for p in _pointing(x, reading, k, due)
        )
        if abs(off) > STEEPEST * gap or (hint and not pointed):
            yield k, due, hint


def _pointing(x: FloatArray, reading: FloatArray, k: int, due: float) -> list[float]:
    """How far (m) from ``due`` the two readings on a side of ``k`` point; up to two."""
    found = []
    for i, j in ((k - 2, k - 1), (k + 2, k + 1)):
        if 0 <= i < len(x):
            slope = (reading[j] - reading[i]) / (x[j] - x[i])
            found.append(float(reading[j] + slope * (x[k] - x[j]) - due))
    return found


def _other_unit(reading: float, due: float, error: float) -> str:
    """A hint when the reading would fit between its neighbours in another unit."""
    if reading * due <= 0.0 or abs(due) < 5.0 * error:
        return ""
    for ratio, name in OTHER_UNITS.items():
        if abs(reading / ratio - due) < 0.1 * abs(due) + error:
            return f" (it would fit in {name})"
    return ""


def string_sag(weight: float, pull: float, length: float) -> float:
    """Sag (m) of a string of ``weight`` N/m pulled with ``pull`` N: w L²/8H.

    The parabola of a flat catenary (statics).  It adds to camber readings, not to sweep.
    """
    return weight * length**2 / (8.0 * pull)


def sag_cautions(readings: Readings, tool: str, units: str) -> tuple[Caution, ...]:
    """Caution on a string whose sag is not small against the reading error."""
    span = float(np.ptp(readings.x))
    sag = string_sag(LIGHT_LINE, HAND_PULL, span)
    if tool != "string" or readings.plane != "camber" or sag < 0.5 * readings.error:
        return ()
    return (
        Caution(
            "string sag",
            f"A string over {show(span, 'length', units)} hangs in its middle by "
            f"w L²/8H, some {show(sag, 'length', units)} for 1 g/m pulled with 50 N. "
            "Read up and down against it, the member seems to bulge up by as much more. "
            "Pull it tight and hold it up between, read with the member on its side, or "
            "take a laser.",
        ),
    )


def twist_rate(
    x: FloatArray, one: FloatArray, other: FloatArray, spacing: float, error: float
) -> tuple[float, float, FloatArray]:
    """Twist (rad/m), its standard deviation, and the angle (k,) rad at every station.

    one, other : (k,) m, readings on two edges ``spacing`` m apart at the same stations;
    the angle is their difference over the spacing, the twist its slope by least squares.
    """
    angle = (np.asarray(one, float) - np.asarray(other, float)) / spacing
    centred = np.asarray(x, float) - float(np.mean(x))
    square = float(centred @ centred)
    if len(angle) < 2 or square <= 0.0:
        message = "survey: twist needs both edges read at two stations at least"
        raise CaseError(message)
    sigma = np.sqrt(2.0) * error / spacing / np.sqrt(square)
    return float(centred @ angle / square), float(sigma), frozen(angle)

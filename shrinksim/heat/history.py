"""The record of what the steel went through."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.heat.torch_motion import Timetable


@dataclass(frozen=True)
class HeatHistory:
    """What the steel went through.

    times (s,) s; temperature (s, n) degC; torch (s, 2) m, NaN when it is off; absorbed,
    lost, stored (s,) J since the start; peak (n,) degC; label (s,) phase of each time;
    timetables of the held torches, in order.
    """

    times: FloatArray
    temperature: FloatArray
    torch: FloatArray
    absorbed: FloatArray
    lost: FloatArray
    stored: FloatArray
    peak: FloatArray
    label: tuple[str, ...]
    steps: int
    iterations: int
    unknowns: int
    seconds: float
    timetables: tuple[Timetable, ...] = ()

    @property
    def imbalance(self) -> float:
        """(absorbed - lost - stored) over the largest of them; 0 when all is counted."""
        miss = self.absorbed[-1] - self.lost[-1] - self.stored[-1]
        parts = (self.absorbed, self.lost, self.stored)
        scale = max(*(float(np.abs(part).max()) for part in parts), 1.0)
        return float(miss / scale)

    @property
    def heating_time(self) -> float:
        """Seconds with a torch on."""
        on = np.isfinite(self.torch[1:, 0])
        return float(np.sum(np.diff(self.times)[on]))


def joined(parts: Sequence[HeatHistory]) -> HeatHistory:
    """Histories that follow one another as one."""
    first = parts[0]
    if len(parts) == 1:
        return first
    start = np.cumsum([0.0, *(p.times[-1] for p in parts[:-1])])

    def running(name: str) -> FloatArray:
        rows = [getattr(p, name) for p in parts]
        base = np.cumsum([0.0, *(r[-1] for r in rows[:-1])])
        return frozen(
            np.concatenate(
                [
                    r[min(k, 1) :] + b
                    for k, (r, b) in enumerate(zip(rows, base, strict=True))
                ]
            )
        )

    def stacked(name: str) -> FloatArray:
        rows = [getattr(p, name) for p in parts]
        return frozen(np.concatenate([r[min(k, 1) :] for k, r in enumerate(rows)]))

    times = np.concatenate(
        [p.times[min(k, 1) :] + start[k] for k, p in enumerate(parts)]
    )
    labels = [label for k, p in enumerate(parts) for label in p.label[min(k, 1) :]]
    temperature = stacked("temperature")
    return HeatHistory(
        frozen(times),
        temperature,
        stacked("torch"),
        running("absorbed"),
        running("lost"),
        running("stored"),
        frozen(temperature.max(axis=0)),
        tuple(labels),
        sum(p.steps for p in parts),
        sum(p.iterations for p in parts),
        first.unknowns,
        sum(p.seconds for p in parts),
        tuple(table for p in parts for table in p.timetables),
    )

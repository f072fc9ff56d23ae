"""Temperature history: the result of the heat stage."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.heat.phase import PhaseName
from shrinksim.heat.torch_motion import Timetable


@dataclass(frozen=True)
class HeatHistory:
    """Temperatures and heat balance at the accepted times of the march.

    times (s,) s; temperature (s, n) degC; torch (s, 2) m, NaN when it is off; absorbed,
    lost, stored (s,) J since the start; peak (n,) degC; phases (s,), the phase of each
    time; timetables of the held torches, in order.
    """

    times: FloatArray
    temperature: FloatArray
    torch: FloatArray
    absorbed: FloatArray
    lost: FloatArray
    stored: FloatArray
    peak: FloatArray
    phases: tuple[PhaseName, ...]
    steps: int
    iterations: int
    unknowns: int
    seconds: float
    timetables: tuple[Timetable, ...] = ()

    @property
    def imbalance(self) -> float:
        """Relative error of the heat balance: (absorbed - lost - stored) / largest."""
        missing = self.absorbed[-1] - self.lost[-1] - self.stored[-1]
        parts = (self.absorbed, self.lost, self.stored)
        scale = max(*(float(np.abs(part).max()) for part in parts), 1.0)
        return float(missing / scale)

    @property
    def heating_time(self) -> float:
        """Total time (s) with a torch on."""
        on = np.isfinite(self.torch[1:, 0])
        return float(np.sum(np.diff(self.times)[on]))

    @property
    def torch_spells(self) -> list[tuple[float, float]]:
        """(start, end) in s of every spell with a torch on."""
        on = np.isfinite(self.torch[:, 0]).astype(int)
        turns = np.diff(np.concatenate([[0], on, [0]]))
        starts, ends = np.flatnonzero(turns > 0), np.flatnonzero(turns < 0) - 1
        before = np.maximum(starts - 1, 0)
        pairs = zip(self.times[before], self.times[ends], strict=True)
        return [(float(a), float(b)) for a, b in pairs]

    @property
    def starting_temperatures(self) -> tuple[float, ...]:
        """Highest temperature (degC) at the start of each heat."""
        heats = [name.heat for name in self.phases]
        rows = [k for k in range(1, len(heats)) if heats[k] not in heats[:k]]
        return tuple(float(self.temperature[k - 1].max()) for k in rows if heats[k] > 0)

    def ends_of_heats(self, count: int) -> FloatArray:
        """Times (h,) s at the end of each of ``count`` heats."""
        heats = [name.heat for name in self.phases]
        rows = [max(k for k, h in enumerate(heats) if h == i + 1) for i in range(count)]
        return self.times[rows]


def joined(parts: Sequence[HeatHistory]) -> HeatHistory:
    """One history from consecutive histories."""
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
    phases = [name for k, p in enumerate(parts) for name in p.phases[min(k, 1) :]]
    temperature = stacked("temperature")
    return HeatHistory(
        frozen(times),
        temperature,
        stacked("torch"),
        running("absorbed"),
        running("lost"),
        running("stored"),
        frozen(temperature.max(axis=0)),
        tuple(phases),
        sum(p.steps for p in parts),
        sum(p.iterations for p in parts),
        first.unknowns,
        sum(p.seconds for p in parts),
        tuple(table for p in parts for table in p.timetables),
    )

"""Load schedule of a heat: the load over time beside the temperatures."""

from __future__ import annotations

import numpy as np

from shrinksim.heat.march import HeatHistory
from shrinksim.strain import Schedule, knots


def schedule_of(
    heat: HeatHistory, ambient: float, largest: float, release: bool = True
) -> Schedule:
    """Load cold, follow the heat with steps up to ``largest`` K, cool, release."""
    rows = knots(heat.times, heat.temperature, largest)
    times = heat.times[rows]
    T = heat.temperature[rows]
    cold = np.full((1, T.shape[1]), ambient)
    end = times[-1] + 3600.0
    last = 2 if release else 1
    return Schedule(
        np.concatenate([[0.0], times, [end] * last]),
        np.concatenate([cold, cold, T[1:], *[cold] * last]),
        np.concatenate([[0.0], np.ones(len(rows)), [1.0, 0.0][:last]]),
    )

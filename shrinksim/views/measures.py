"""Quantities that every view has, for its table of measures."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shrinksim.heat.history import HeatHistory
from shrinksim.units.quantity import quantity
from shrinksim.views import ranking
from shrinksim.views.view import Measure


def one(unit: str, dimension: str) -> float:
    """One of a unit in SI."""
    return quantity(f"1 {unit}", dimension)


MRAD, MM, MOMENT = one("mrad", "angle"), one("mm", "length"), one("kN m", "moment")
MPA, KJ = one("MPa", "stress"), one("kJ", "energy")


def of_heat(per: str = "") -> tuple[Measure, ...]:
    """Temperatures, times and the balance of heat.  per : "_per_m" for one metre."""
    return (
        Measure(
            "peak_temperature_C", lambda r: float(r.heat.peak.max()), "hottest steel",
            ranking=ranking.HOTTEST,
        ),
        Measure(
            "hottest_point_above_limit_s",
            lambda r: time_above(r.heat, r.steel_limit),
            "time above the limit of practice",
        ),
        Measure(f"energy_J{per}", lambda r: balance(r.heat)),
    )  # fmt: skip


def of_torch(
    burning: Callable[[Any], float], burnt: Callable[[Any], float]
) -> tuple[Measure, ...]:
    """Times and gas.  burning : s with a torch on.  burnt : J of gas."""
    return (
        Measure(
            "heating_time_s", burning, "torch time", ranking=ranking.TORCH_TIME
        ),
        Measure(
            "cooling_time_s", lambda r: float(r.heat.times[-1]) - r.heat.heating_time,
            "cooling time", ranking=ranking.COOLING_TIME,
        ),
        Measure("burnt_J", burnt, "heat of the gas burnt", ranking=ranking.GAS),
    )  # fmt: skip


def balance(heat: HeatHistory) -> dict[str, float]:
    """Heat absorbed, lost and stored at the end, J, and their relative imbalance."""
    return {
        "absorbed": float(heat.absorbed[-1]),
        "lost": float(heat.lost[-1]),
        "stored": float(heat.stored[-1]),
        "imbalance": heat.imbalance,
    }


def histories(per: str = "") -> tuple[Measure, ...]:
    """Columns of history.csv that every view ends with.  per : "/m" for one metre."""
    return (
        Measure(
            "hot_hinge_margin",
            lambda r: r.movement.hinge_margin,
            "smallest margin to a hinge",
            ranking=ranking.MARGIN,
            column="moment over hot plastic moment [1]",
            history=lambda r: 1.0 / np.maximum(r.movement.hinge_margin_history, 1e-9),
        ),
        Measure(
            "hot_stress_MPa",
            lambda r: float(r.strain.hot_stress.max()) / 1e6,
            "largest stress while hot",
            column="largest stress [MPa]",
            scale=MPA,
            history=lambda r: r.strain.hot_stress,
        ),
        *(
            Measure(
                "",
                column=f"heat {name} [kJ{per}]",
                scale=KJ,
                history=lambda r, name=name: getattr(r.heat, name),
                of_heat=True,
            )
            for name in ("absorbed", "lost", "stored")
        ),
    )


EFFORT = (
    Measure("largest_residual", lambda r: float(r.strain.residual.max())),
    Measure("steps", lambda r: _both(r, "steps")),
    Measure("unknowns", lambda r: _both(r, "unknowns")),
    Measure("newton_iterations", lambda r: _both(r, "iterations")),
)
"""Size of the computation."""


def _both(result: Any, name: str) -> dict[str, int]:
    return {"heat": getattr(result.heat, name), "strain": getattr(result.strain, name)}


def time_above(heat: HeatHistory, limit: float) -> float:
    """Seconds that the hottest point of the steel spent above ``limit`` degC."""
    above = heat.temperature.max(axis=1) > limit
    return float(np.sum(np.diff(heat.times)[above[1:]]))

"""Rows of the table of measures that every view has."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from shrinksim.heat.history import HeatHistory
from shrinksim.units.quantity import quantity
from shrinksim.views import ranking
from shrinksim.views.ranking import COMPLETE
from shrinksim.views.view import Measure, Shown


def one(unit: str, dimension: str) -> float:
    """One of a unit in SI."""
    return quantity(f"1 {unit}", dimension)


MRAD, MM, MOMENT = one("mrad", "angle"), one("mm", "length"), one("kN m", "moment")
MPA, KJ = one("MPa", "stress"), one("kJ", "energy")


def heat_measures(per: str = "") -> tuple[Measure, ...]:
    """Peak temperature, time above the limit, heat balance.  per : "_per_m" or ""."""
    return (
        Measure(
            "peak_temperature_C", lambda r: float(r.heat.peak.max()),
            "peak temperature", ranking=ranking.PEAK,
            shown=Shown(
                "degC", "temperature", folded="peak temperature if it had not folded"
            ),
        ),
        Measure(
            "hottest_point_above_limit_s",
            lambda r: time_above(r.heat, r.steel_limit),
            "time above the temperature limit",
        ),
        Measure(f"energy_J{per}", lambda r: balance(r.heat)),
    )  # fmt: skip


def torch_measures(
    burning: Callable[[Any], float], burnt: Callable[[Any], float]
) -> tuple[Measure, ...]:
    """Torch time, cooling time and gas.  burning : s with a torch on.  burnt : J of gas."""
    return (
        Measure(
            "heating_time_s", burning, "torch time", ranking=ranking.TORCH_TIME,
            shown=Shown("s", "time", folded="torch time if it had not folded"),
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


def history_measures(per: str = "") -> tuple[Measure, ...]:
    """Hot-hinge margin, stress and heat, with their histories.  per : "/m" or ""."""
    return (
        Measure(
            "hot_hinge_margin",
            lambda r: r.movement.hinge_margin,
            "hot-hinge margin",
            ranking=ranking.MARGIN,
            shown=Shown(
                "", "share", absent="no moment on it", folded="hot-hinge margin"
            ),
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
                at_heat_times=True,
            )
            for name in ("absorbed", "lost", "stored")
        ),
    )


def residual_stresses(
    tension: Callable[[Any], float], compression: Callable[[Any], float]
) -> tuple[Measure, ...]:
    """Largest residual stresses along the member, MPa; a folded member has none."""
    return (
        Measure(
            "max_residual_tension_MPa", unless_folded(tension),
            "largest residual tension",
            shown=Shown("MPa", "stress", folded="largest residual tension"),
        ),
        Measure(
            "max_residual_compression_MPa", unless_folded(compression),
            "largest residual compression",
        ),
    )  # fmt: skip


def shortening() -> Measure:
    """Permanent shortening of the member at its centroid."""
    return Measure(
        "shortening_mm", lambda r: r.movement.shortening * 1e3, "shortening",
        error="shortening_error_mm", ranking=ranking.SHORTENING,
        shown=Shown("mm", "length", folded="shortening when it stopped"),
    )  # fmt: skip


def unless_folded(value: Callable[[Any], float]) -> Callable[[Any], float | None]:
    """A value that only a member that does not fold has."""
    return lambda r: value(r) if r.outcome == COMPLETE else None


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

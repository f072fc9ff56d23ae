"""Ranking of the runs of a view by a quantity: what is best, and its numerical error."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

COMPLETE, HINGE = "complete", "hot hinge"
"""Outcome of a run: cold and released, or stopped because the member folds while hot."""

Summary = Mapping[str, Any]
Read = Callable[[Summary], float | None]
"""A number of a summary, None where it has none."""

SCHEDULE_SCATTER = 0.03
"""Relative scatter of the movement and of the times due to the schedule search of a torch
held at a target temperature: searched for on four meshes and with 4 to 10 passes, shipped
vees move by up to 2 % more or less than their mean, the hottest steel within 2 K of its
target."""

MARGIN_SHARE = 0.05
"""Relative numerical error assumed of a hot-hinge margin; common practice has none, and no
run estimates it."""

TORCH_ERROR = 2.0
"""K, of the peak temperature under a torch held at a target: the search stops there."""


@dataclass(frozen=True)
class Ranking:
    """How runs are ranked by a quantity.

    dimension : of units.quantity, "mrad" or "share".  best : what is best, in words.
    better : score of a value, larger is better.  value : SI (degC, mrad).  error :
    numerical error (standard deviation).  change : change in the coarser run.  needed :
    listed even where it is nothing in all runs.  sign : what + means.
    """

    dimension: str
    best: str
    better: Callable[[float], float]
    value: Read
    error: Read
    change: Read
    needed: bool = True
    sign: str = ""


def folded(run: Summary) -> bool:
    """Whether the member folds while hot."""
    return run["outcome"] == HINGE


def number_of(name: str, factor: float = 1.0) -> Read:
    """A number of the summary in other units."""

    def value(run: Summary) -> float | None:
        found = run.get(name)
        return None if found is None else factor * float(found)

    return value


def moved(name: str, factor: float = 1.0) -> Read:
    """A permanent movement; a folded member has none."""
    number = number_of(name, factor)
    return lambda run: None if folded(run) else number(run)


def refined(name: str, factor: float = 1.0) -> Read:
    """A number of the coarser run: a change or an error."""

    def value(run: Summary) -> float | None:
        found = (run.get("refinement") or {}).get(name)
        return None if found is None else factor * float(found)

    return value


def schedule_error(name: str) -> Read:
    """Error due to the schedule search of a held torch; 0 of a given schedule."""
    number = number_of(name)
    return lambda run: (
        SCHEDULE_SCATTER * abs(number(run) or 0.0) if run["held"] else 0.0
    )


def margin_error(run: Summary) -> float | None:
    """Assumed error of the hot-hinge margin."""
    margin = run.get("hot_hinge_margin")
    return None if margin is None else MARGIN_SHARE * float(margin)


def peak_error(run: Summary) -> float:
    """Error (K) of the peak temperature: the tolerance of the schedule search."""
    return TORCH_ERROR if run["held"] else 0.0


def same(run: Summary) -> float:  # noqa: ARG001 (every one)
    """Zero: the same torch gives the same number to the last digit."""
    return 0.0


def unknown(run: Summary) -> None:
    """None: the error is not known."""


def less(value: float) -> float:
    """Score of a quantity that is better the smaller it is."""
    return -abs(value)


SHORTENING = Ranking(
    "length", "least", less, moved("shortening_mm", 1e-3),
    refined("shortening_error_mm", 1e-3), refined("shortening_change_mm", 1e-3),
)  # fmt: skip
PEAK = Ranking(
    "temperature", "coolest", lambda v: -v,
    number_of("peak_temperature_C"), peak_error, same,
)  # fmt: skip
MARGIN = Ranking(
    "share", "largest", float,
    number_of("hot_hinge_margin"), margin_error, unknown,
)  # fmt: skip
TORCH_TIME = Ranking(
    "time", "shortest", less, number_of("heating_time_s"),
    schedule_error("heating_time_s"), same,
)  # fmt: skip
COOLING_TIME = Ranking(
    "time", "shortest", less, number_of("cooling_time_s"),
    lambda run: SCHEDULE_SCATTER * abs(float(run["cooling_time_s"])), unknown,
)  # fmt: skip
GAS = Ranking(
    "energy", "least", less, number_of("burnt_J"),
    schedule_error("burnt_J"), same,
)  # fmt: skip

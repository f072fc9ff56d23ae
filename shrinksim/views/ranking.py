"""How runs of a view are ranked by a quantity: what is best, and its numerical error."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

Summary = Mapping[str, Any]
Read = Callable[[Summary], float | None]
"""A number of a summary, None where it has none."""

LEAD = 0.03
"""Share of a movement or a time that the schedule of a held torch leaves open: searched
for on four meshes and with 4 to 10 passes, shipped vees move by up to 2 % more or less
than their mean, the hottest steel within 2 K of its target."""

MARGIN_SHARE = 0.05
"""Share of a hinge margin that is taken as its numerical error; common practice has
none, and no run estimates it."""

TORCH_ERROR = 2.0
"""K, of the hottest steel under a held torch, which is led until it is that near."""


@dataclass(frozen=True)
class Ranking:
    """How runs are ranked by a quantity.

    name, best : of it and of what is best, in words.  dimension : of units.quantity,
    "mrad" or "share".  better : larger is better.  value : SI (degC, mrad).  error :
    numerical, one standard unit each way.  change : what the coarser run changed.
    needed : shown, too, where it is nothing in all runs.
    """

    name: str
    dimension: str
    best: str
    better: Callable[[float], float]
    value: Read
    error: Read
    change: Read
    needed: bool = True


def folded(run: Summary) -> bool:
    """Whether the member folds while hot."""
    return run["outcome"] == "hot hinge"


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
    """A number of the coarser run: what it changed, or an error."""

    def value(run: Summary) -> float | None:
        found = (run.get("refinement") or {}).get(name)
        return None if found is None else factor * float(found)

    return value


def torch_share(name: str) -> Read:
    """What the schedule of a held torch leaves open; nothing where it is given."""
    number = number_of(name)
    return lambda run: LEAD * abs(number(run) or 0.0) if run["held"] else 0.0


def margin_error(run: Summary) -> float | None:
    """Share of the hinge margin."""
    margin = run.get("hot_hinge_margin")
    return None if margin is None else MARGIN_SHARE * float(margin)


def peak_error(run: Summary) -> float:
    """How near a held torch brings the hottest steel to its target, K."""
    return TORCH_ERROR if run["held"] else 0.0


def same(run: Summary) -> float:  # noqa: ARG001 (every one)
    """Nothing: the same torch gives the same number to the last digit."""
    return 0.0


def unknown(run: Summary) -> None:
    """Nothing tells."""


def less(value: float) -> float:
    """The smaller the better."""
    return -abs(value)


SHORTENING = Ranking(
    "shortening", "length", "least", less, moved("shortening_mm", 1e-3),
    refined("shortening_error_mm", 1e-3), refined("shortening_change_mm", 1e-3),
)  # fmt: skip
HOTTEST = Ranking(
    "hottest steel", "temperature", "coolest", lambda v: -v,
    number_of("peak_temperature_C"), peak_error, same,
)  # fmt: skip
MARGIN = Ranking(
    "smallest margin to a hot hinge", "share", "largest", float,
    number_of("hot_hinge_margin"), margin_error, unknown,
)  # fmt: skip
TORCH_TIME = Ranking(
    "torch on", "time", "shortest", less, number_of("heating_time_s"),
    torch_share("heating_time_s"), same,
)  # fmt: skip
COOLING_TIME = Ranking(
    "until cold", "time", "shortest", less, number_of("cooling_time_s"),
    lambda run: LEAD * abs(float(run["cooling_time_s"])), unknown,
)  # fmt: skip
GAS = Ranking(
    "heat of the gas", "energy", "least", less, number_of("burnt_J"),
    torch_share("burnt_J"), same,
)  # fmt: skip

"""What running a case would do, as a record; and a cooling in words."""

from __future__ import annotations

from dataclasses import dataclass

from shrinksim.casefile.heating import AnyCooling
from shrinksim.units.quantity import show
from shrinksim.views.caution import Caution


@dataclass(frozen=True)
class Preview:
    """unknowns of displacement, elements, steps and seconds (estimates), what will be
    done in sentences, and the cautions that can be told before.
    """

    unknowns: int
    elements: int
    steps: int
    seconds: float
    lines: tuple[str, ...]
    cautions: tuple[Caution, ...]


def cooling_words(cooling: AnyCooling, units: str) -> str:
    """What cools, and when."""
    if cooling.behind is None:
        return f"then {cooling.kind}"
    behind = show(cooling.behind, "length", units)
    return f"{cooling.kind} {behind} behind the torch, and then {cooling.kind}"

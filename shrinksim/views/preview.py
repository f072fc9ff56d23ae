"""Preview of a run as a record; a cooling in words."""

from __future__ import annotations

from dataclasses import dataclass

from shrinksim.casefile.heating import AnyCooling
from shrinksim.units.quantity import show
from shrinksim.views.caution import Caution


@dataclass(frozen=True)
class Preview:
    """Unknowns of displacement, elements, steps and seconds (estimates) of a run, its
    steps in sentences, and the cautions that are known before.
    """

    unknowns: int
    elements: int
    steps: int
    seconds: float
    lines: tuple[str, ...]
    cautions: tuple[Caution, ...]


def cooling_words(cooling: AnyCooling, units: str) -> str:
    """The cooling and its start."""
    if cooling.behind is None:
        return f"then {cooling.kind}"
    behind = show(cooling.behind, "length", units)
    return f"{cooling.kind} {behind} behind the torch, and then {cooling.kind}"

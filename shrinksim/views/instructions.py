"""Instructions for the shop floor, in order: load, heats, cooling, release."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from shrinksim.units.quantity import quantity
from shrinksim.units.scales import time_text
from shrinksim.views.load_words import still_loaded
from shrinksim.views.result import AnyResult, folds
from shrinksim.views.words import heat_of, size


def in_order(
    result: AnyResult, heating_steps: Sequence[str], load: Sequence[str]
) -> list[str]:
    """Load, heats, cooling, release and measuring; heats, load : in words."""
    steps = []
    acts = result.load_kind != "none" and bool(np.any(result.strain.fraction > 0))
    if acts:
        steps.append(f"Put the load on while cold: {', '.join(load)}.")
    steps += heating_steps
    heats = result.resolved.get("heat", ())
    cooled = list(
        dict.fromkeys(cooling_words(result, heat["cooling"]) for heat in heats)
    )
    if len(cooled) == 1:
        steps.append(f"Cool{' after each heat' * (len(heats) > 1)}: {cooled[0]}.")
    elif cooled:
        each = [cooling_words(result, heat["cooling"]) for heat in heats]
        parts = (f"after heat {k + 1} {text}" for k, text in enumerate(each))
        steps.append(f"Cool: {'; '.join(parts)}.")
    if still_loaded(result):
        steps.append(
            "The load stays on; the permanent rotation is without its elastic part."
        )
    elif acts and result.strain.fraction[-1] == 0.0:
        steps.append("Take the load off when the steel is cold.")
    if not folds(result):
        steps.append("Let it go cold and measure before deciding on another heat.")
    return steps


def cooling_words(result: AnyResult, cooling: Mapping[str, Any]) -> str:
    """Cooling of a heat, and the start of a forced cooling."""
    kind = cooling["kind"]
    if kind == "still air":
        return "in still air"
    below, after = cooling.get("start_below"), cooling.get("start_after")
    before = ""
    if cooling.get("behind") is not None:
        gap = size(result, quantity(cooling["behind"], "length"))
        before = f"{kind} {gap} behind the torch, along its whole path; after it, "
    if below is not None:
        start = heat_of(result, quantity(below, "temperature"))
        return f"{before}in still air until no place is above {start}, then {kind}"
    if after is not None and quantity(after, "time") > 0.0:
        wait = time_text(quantity(after, "time"))
        return f"{before}in still air for {wait} after the torch is off, then {kind}"
    return f"{before}{kind} as soon as the torch is off"

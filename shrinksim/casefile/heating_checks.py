"""Checks of the torch and the cooling of a heat, and of the target temperatures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shrinksim.casefile.heating import AnyCooling, ForcedCooling, StillAir, Torch
from shrinksim.casefile.resolving import REACH, merged
from shrinksim.errors import CaseError
from shrinksim.shop.flame import flame_named
from shrinksim.units.quantity import show

LEAST_REACH = 0.005
"""m, smallest reach of a trailing cooling: the width of its border."""

WET = frozenset({"mist", "wet rag", "water stream"})
"""Coolings that put water on the steel."""


def torches(
    torch: Torch | None,
    patterns: Sequence[tuple[str, Torch]],
    ambient: float | None,
    hottest: float,
    units: str,
) -> Iterator[str]:
    """Faults of the torch's table and of the patterns' own, each with its place."""
    if torch is None:
        return
    own = [("torch", torch, Torch())]
    own += [
        (f"{at}.torch", mine, torch) for at, mine in patterns if mine.model_fields_set
    ]
    for where, mine, base in own:
        try:
            flame_named(mine.flame)
            effective = merged(base, mine)
        except CaseError as error:
            for problem in error.problems:
                yield f"{where}.{problem}"
            continue
        yield from torch_faults(where, mine, effective)
        yield from target_faults(where, effective, ambient, hottest, units)


def torch_faults(where: str, own: Torch, torch: Torch) -> list[str]:
    """Keys that are not for the torch's drive.

    own : the table at ``where``.  torch : the same with inherited values.
    """
    if torch.drive != "travel":
        return []
    faults = [
        f'{where}.{key} is not for drive = "travel", where the torch does not wait '
        "for a target; leave it out, or hold the torch"
        for key in ("target", "patience")
        if key in own.model_fields_set
    ]
    if "speed" not in torch.model_fields_set:
        faults.append(f'{where}.speed is missing; drive = "travel" needs it')
    return faults


def target_faults(
    where: str, torch: Torch, ambient: float | None, hottest: float, units: str
) -> list[str]:
    """Faults of a target: not above the surroundings, or beyond the data of the steel."""
    if torch.drive == "travel":
        return []
    target = f"{where}.target = {show(torch.target, 'temperature', units)}"
    if torch.target > hottest:
        end = show(hottest, "temperature", units)
        return [f"{target} is above {end}, where the data of the steel end"]
    if ambient is not None and torch.target <= ambient:
        air = show(ambient, "temperature", units)
        return [f"{target} is not above the surroundings, {air}"]
    return []


def cooling_faults(
    where: str, cooling: AnyCooling, ambient: float | None, units: str
) -> list[str]:
    """Contradictory starts, reaches and ends of a cooling."""
    faults = []
    if ambient is not None and cooling.until <= ambient:
        air, until = (
            show(value, "temperature", units) for value in (ambient, cooling.until)
        )
        faults.append(f"{where}.until = {until} is never reached in air of {air}")
    if cooling.behind is not None:
        faults += _behind_faults(where, cooling, cooling.behind, units)
    if isinstance(cooling, StillAir):
        return faults
    if cooling.start_after is not None and cooling.start_below is not None:
        faults.append(f"{where} has both start_after and start_below; leave one out")
    if cooling.everywhere and cooling.reach is not None:
        faults.append(f"{where} has both reach and everywhere = true; leave one out")
    if cooling.start_after is not None and cooling.start_after >= cooling.longest:
        times = [show(t, "time", units) for t in (cooling.start_after, cooling.longest)]
        faults.append(
            f"{where}.start_after = {times[0]} overlaps the end of the heat, which "
            f"{where}.longest puts at {times[1]}"
        )
    below = cooling.start_below
    if below is not None and ambient is not None and below <= ambient:
        start, air = (show(value, "temperature", units) for value in (below, ambient))
        faults.append(f"{where}.start_below = {start} is never reached in air of {air}")
    return faults


def quench_faults(where: str, cooling: AnyCooling, quenched: bool) -> list[str]:
    """Fault of water cooling on a quenched and tempered steel."""
    if not quenched or cooling.kind not in WET:
        return []
    return [
        f"{where}.kind = {cooling.kind!r} is not for steel of a quenched and tempered "
        "family, which water on it while hot can harden or crack; let it cool in still "
        "air"
    ]


def _behind_faults(
    where: str, cooling: AnyCooling, behind: float, units: str
) -> list[str]:
    """Faults of a trailing cooling: not of its kind, or blowing on the flame."""
    key = f"{where}.behind = {show(behind, 'length', units)}"
    if cooling.kind in {"still air", "wet rag"}:
        return [
            f"{key}: {cooling.kind} does not follow a torch; leave behind out, or "
            "choose air jet, mist or water stream"
        ]
    assert isinstance(cooling, ForcedCooling)
    if cooling.everywhere:
        return [f"{where} has both behind and everywhere = true; leave one out"]
    reach = REACH if cooling.reach is None else cooling.reach
    shown = show(reach, "length", units)
    if reach < LEAST_REACH:
        least = show(LEAST_REACH, "length", units)
        return [
            f"{where}.reach = {shown} is too small to follow a torch; with behind it "
            f"is at least {least}"
        ]
    if behind <= reach:
        return [
            f"{key} is not more than the reach, {shown}: it would blow on the flame; "
            "keep it farther behind, or make reach smaller"
        ]
    return []

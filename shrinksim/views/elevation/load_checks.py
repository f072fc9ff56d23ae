"""Can it be: the steel, the load on it, and the temperatures asked for."""

from __future__ import annotations

from shrinksim.case.heating import AnyCooling, ForcedCooling, StillAir, Torch
from shrinksim.case.resolving import REACH
from shrinksim.case.schema import Load, Member
from shrinksim.shop.sections.shape import plastic_moment
from shrinksim.units.quantity import show

HOTTEST = 1200.0
"""degC, where the curves of EN 1993-1-2:2005 end (3.2.1, table 3.1)."""

LEAST_REACH = 0.005
"""m, of a cooling that follows the torch: its fading border alone is as wide."""

WET = frozenset({"mist", "wet rag", "water stream"})
"""Coolings that put water on the steel."""

_UNLOADED = ("given_moment", "axial", "given_stiffness")


def torch_faults(where: str, own: Torch, torch: Torch) -> list[str]:
    """Keys that do not go with the way the torch is driven.

    own : the table at ``where``.  torch : the same with what it inherits.
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
    """A target that is no heating, or beyond what is known of the steel."""
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
    """Starts, reaches and ends of cooling that contradict each other."""
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
    """Water on a steel that got its strength by quenching."""
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
    """A cooling that cannot follow the torch, or that would be on the flame."""
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


def load_faults(load: Load) -> list[str]:
    """Values that the kind of load needs or does not take."""
    keys = {"given_moment": "moment", "given_stiffness": "stiffness"}
    given = {keys.get(key, key) for key in load.model_fields_set & {*_UNLOADED}}
    kind = f"load.kind = '{load.kind}'"
    if load.kind in {"none", "held"}:
        reason = "is no load" if load.kind == "none" else "holds the ends still"
        return [
            f"load.{key}: {kind} {reason}; leave {key} out, or choose weight, jack or "
            "clamp"
            for key in sorted(given)
        ]
    if load.kind == "weight":
        if "stiffness" in given:
            return ["load.stiffness: a weight has none; leave it out, or use a jack"]
        if not _moment_given(load) and load.axial == 0.0:
            return [f'{kind} needs load.moment (as "0.25 Mp") or load.axial']
        return []
    if load.given_stiffness is None:
        advice = 'write stiffness = "2 EI/L" or "500 kN m/rad"'
        return [f"load.stiffness is missing: {kind} needs one; {advice}"]
    if (load.stiffness or load.stiffness_ratio or 0.0) <= 0.0:
        return ["load.stiffness is not more than 0; a jack without any is a weight"]
    return []


def _moment_given(load: Load) -> bool:
    return bool(load.moment or load.moment_ratio)


def capacity_faults(
    load: Load, member: Member, yield_stress: float, units: str
) -> list[str]:
    """A load that the cold member cannot carry.

    m + n^2 <= 1 with m = M/Mp, n = N/Np: exact for a rectangle, an upper bound for an
    I-section about its strong axis (elementary plastic theory); m, n <= 1 alone about
    the weak axis.
    """
    shape = member.shape
    most_moment = plastic_moment(shape, member.bending, yield_stress)
    most_force = shape.properties.area * yield_stress
    m = abs(load.moment_ratio or (load.moment or 0.0) / most_moment)
    n = abs(load.axial) / most_force
    faults = []
    if m >= 1.0:
        most = show(most_moment, "moment", units)
        faults.append(
            f"load.moment is {m:.2f} Mp; the cold section carries less than Mp = {most}"
        )
    if n >= 1.0:
        most = show(most_force, "force", units)
        faults.append(f"load.axial is {n:.2f} of what the cold section carries, {most}")
    if not faults and member.bending in shape.parabolic and m + n**2 >= 1.0:
        faults.append(
            f"load.moment and load.axial together, {m:.2f} Mp and {n:.2f} Np, are more "
            "than the cold section carries"
        )
    return faults

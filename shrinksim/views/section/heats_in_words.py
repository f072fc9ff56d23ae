"""The heats, the load and the section of a case in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shrinksim.shop.outline import runs_across
from shrinksim.units.quantity import quantity, show
from shrinksim.units.scales import is_nonzero, moment_in_units, time_text, units_of
from shrinksim.views.section.result import SectionResult
from shrinksim.views.words import MARK, heat_of, size


@dataclass(frozen=True)
class Burn:
    """One pattern of heat along the member and the motion of its torch.

    on : surfaces, heated at the same time.  at, length, width, spacing, radius m; width
    is a spot's diameter, 0 of a line.  speed : m/s, None if it does not travel.
    target : degC, None where the case gives the speed.  time, pause : s, the time over
    the whole length.
    """

    kind: str
    on: tuple[str, ...]
    at: float
    length: float
    width: float
    spacing: float
    speed: float | None
    target: float | None
    time: float
    pause: float

    @property
    def spots(self) -> int:
        """How many spots are in the row."""
        return max(round(self.length / self.spacing), 1) if self.spacing else 0


def metres(record: Mapping[str, Any], *keys: str) -> float:
    """The first of these lengths that a record of the resolved case has, else 0."""
    texts = [record[key] for key in keys if record.get(key) is not None]
    return quantity(texts[0], "length") if texts else 0.0


def names(on: Any) -> tuple[str, ...]:
    """Surfaces as a tuple, of one name or several."""
    return (on,) if isinstance(on, str) else tuple(on)


def burns(result: SectionResult) -> list[Burn]:
    """Every pattern of the case, in the order of heating."""
    heats = result.resolved.get("heat", ())
    patterns = [pattern for heat in heats for pattern in heat["pattern"]]
    rows = zip(
        patterns, result.heating.schedules, result.heating.torch_times, strict=True
    )
    return [_burn(*row) for row in rows]


def _burn(pattern: Mapping[str, Any], speed: float | None, seconds: float) -> Burn:
    torch = pattern.get("torch", {})
    target = torch.get("target") if torch.get("drive") != "travel" else None
    return Burn(
        pattern["kind"],
        names(pattern["on"]),
        metres(pattern, "at"),
        metres(pattern, "length"),
        metres(pattern, "width", "diameter"),
        metres(pattern, "spacing"),
        speed,
        None if target is None else quantity(target, "temperature"),
        seconds,
        quantity(pattern["pause"], "time") if pattern.get("pause") else 0.0,
    )


def where(result: SectionResult, burn: Burn) -> str:
    """The pattern, its surfaces, and its place on them."""
    what = "line"
    if burn.kind == "strip along":
        what = f"strip {size(result, burn.width)} wide"
    elif burn.kind == "spots along":
        across, apart = size(result, burn.width), size(result, burn.spacing)
        what = f"row of spots, {across} across, every {apart}"
    return f"{what} on the {' and the '.join(burn.on)}{_place(result, burn)}"


def _place(result: SectionResult, burn: Burn) -> str:
    """How far from the middle of its surface, if at all."""
    if abs(burn.at) < MARK:
        return ""
    level = runs_across(result.geometry.pieces, burn.on[0])
    side = ("left of", "right of") if level else ("below", "above")
    return f", {size(result, abs(burn.at))} {side[burn.at > 0.0]} its middle"


def pace(result: SectionResult, burn: Burn) -> str:
    """Speed of a torch, or how long it stays."""
    if burn.spacing:
        each = time_text(burn.time / burn.spots)
        return f"{burn.spots} spots, about {each} on each"
    if burn.speed is None:
        return f"all of the length at once, {time_text(burn.time)}"
    return f"{speed_of(result, burn)}, {time_text(burn.time)} in all"


def heating(result: SectionResult, burn: Burn, number: int) -> str:
    """One heat as an instruction."""
    over = size(result, burn.length)
    goal = ""
    if burn.target is not None:
        goal = f" until the hottest steel is at {heat_of(result, burn.target)}"
    if burn.spacing:
        motion = f"heat {burn.spots} spots over {over}, each{goal}"
        motion += f" (about {time_text(burn.time / burn.spots)} each)"
    elif burn.speed is None:
        motion = f"heat all {over} at once{goal} (about {time_text(burn.time)})"
    else:
        fast = speed_of(result, burn)
        motion = f"travel along {over} at {fast} ({time_text(burn.time)} in all)"
        if burn.width:
            motion += f", weaving over {size(result, burn.width)}"
        if burn.target is not None:
            target = heat_of(result, burn.target)
            motion += f"; at this speed the hottest steel reaches {target}"
    both = ""
    if len(burn.on) > 1:
        both = f", with a torch on each of the {len(burn.on)} surfaces at the same time"
    pause = f"wait {time_text(burn.pause)}, then " if burn.pause > 0.0 else ""
    text = f"{pause}torch {number}, {where(result, burn)}: {motion}{both}."
    return text[:1].upper() + text[1:]


def dimensions(result: SectionResult) -> str:
    """The section in words."""
    system = units_of(result)
    return result.geometry.shape.words(lambda metres: show(metres, "length", system))


def load_words(result: SectionResult) -> list[str]:
    """The load as in the case, and the side that a moment compresses."""
    load = result.resolved.get("load", {})
    parts = [result.load_kind]
    if result.load_kind == "held":
        parts = ["held straight while hot"]
    right, top = result.geometry.side
    moved = result.movement
    sides = {
        "camber": (("bottom", "top"), top or 1, moved.camber_moment_history),
        "sweep": (("left", "right"), right or 1, moved.sweep_moment_history),
    }
    for name, (ends, heated, history) in sides.items():
        moment = load.get(f"{name}_moment")
        if is_nonzero(moment):
            end = ends[heated * (-1 if moment.startswith("-") else 1) > 0]
            remarks = [
                moment_in_units(result, moment, history),
                f"compresses the {end}",
            ]
            parts.append(f"{name} moment {moment} ({', '.join(filter(None, remarks))})")
    for name in ("axial", "stiffness"):
        if is_nonzero(load.get(name)) and result.load_kind not in ("none", "held"):
            parts.append(f"{name} {load[name]}")
    return parts + held_edges(result)


def held_edges(result: SectionResult) -> list[str]:
    """The held edges of a plate, if they are held."""
    held = result.resolved.get("load", {}).get("edges") == "held"
    return ["long edges held while hot"] * held


def speed_of(result: SectionResult, burn: Burn) -> str:
    """Speed of the torch: as given, or found, then to two digits."""
    assert burn.speed is not None
    text = show(burn.speed, "speed", units_of(result))
    if burn.target is None:
        return text
    number, unit = text.split(" ", 1)
    return f"{float(number):.2g} {unit}"

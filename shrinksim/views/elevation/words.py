"""Words and tables of the report of an elevation."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shrinksim.report.effort import Row, effort, share_of, time_above
from shrinksim.shop.pattern import TorchPath, path_length
from shrinksim.units.quantity import quantity, show
from shrinksim.units.scales import time_text, units_of
from shrinksim.views.elevation.dimensions import is_vee
from shrinksim.views.elevation.measures import MEASURES
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.elevation.setup_drawing import load_words
from shrinksim.views.instructions import in_order
from shrinksim.views.load_words import near_fold, still_loaded
from shrinksim.views.result import folds
from shrinksim.views.rows import tiles
from shrinksim.views.words import (
    MARK,
    STRAIGHT,
    heat_of,
    milliradian,
    sample_member,
    size,
    strength,
    timeline,
)


def headline(result: ElevationResult) -> str:
    """The permanent movement in one sentence."""
    movement = result.movement
    if folds(result):
        return (
            "Do not heat it like this: under its load the heated section gives way "
            "like a hinge and the member folds."
        )
    turn = movement.rotation
    change = "shortens" if movement.shortening >= 0.0 else "lengthens"
    along = f"{change} it by {size(result, abs(movement.shortening))}"
    if abs(turn) < STRAIGHT:
        return f"The heat leaves the member straight and {along} permanently."
    return (
        f"The heat bends the member permanently by {abs(turn) / milliradian():.3g} mrad "
        f"and {along}."
    )


def details(result: ElevationResult) -> list[str]:
    """The consequences on the shop floor, a sentence each."""
    movement = result.movement
    turn = abs(movement.rotation)
    if folds(result):
        stop = time_text(float(movement.times[-1]))
        return [
            f"The computation stopped at {stop}, when the section could carry its "
            "load no longer. Numbers and pictures below show the time up to then; "
            "temperatures are of the whole heat, as if it had not folded.",
            "Lower the load, heat less of the section at once, or prop the member.",
        ]
    if still_loaded(result):
        left = movement.rotation + movement.rotation_elastic
        stays = [
            f"Cold and still loaded the rotation is {left / milliradian():.3g} mrad "
            "(+ closes the wide end); the permanent rotation is without the elastic "
            "part due to the load."
        ]
    else:
        stays = []
    if turn < STRAIGHT:
        return near_fold(result) + stays
    arms = {"1 m": "metre", "3 m": "3 m"}
    if units_of(result) == "us":
        arms = {"1 ft": "foot", "10 ft": "10 ft"}
    near, far = arms.values()
    drops = [size(result, turn * quantity(arm, "length")) for arm in arms]
    span, name = sample_member(result)
    towards = (
        "The bend closes the wide end of the heat: that edge becomes the hollow side."
        if movement.rotation > 0.0
        else "The bend opens the wide end of the heat: that edge becomes the round "
        "side, which is the opposite of the purpose of such a heat."
    )
    return [
        *near_fold(result),
        f"Beyond the heat the line drifts by {drops[0]} for every {near}, "
        f"which is {drops[1]} at {far}.",
        f"A straight {name} member heated like this at its middle ends up "
        f"{size(result, turn * span / 4.0)} out of line there "
        "(rotation × length / 4, measured from a string between its ends).",
        towards,
        *stays,
    ]


def actions(result: ElevationResult) -> list[str]:
    """Instructions, in order."""
    heats = [
        _heating(result, path, k + 1) for k, path in enumerate(result.geometry.paths)
    ]
    load = load_words(result)
    moment = str(result.resolved.get("load", {}).get("moment", ""))
    if _one_wide_end(result) and any(word.startswith("moment") for word in load):
        apart = moment.startswith("-")
        load.append(
            f"{'pulling' if apart else 'pressing'} the wide end of the heat "
            f"{'apart' if apart else 'together'}"
        )
    return in_order(result, heats, load)


def _one_wide_end(result: ElevationResult) -> bool:
    """Whether there are vees, and all open at the same edge."""
    vees = [ring for ring in map(np.asarray, result.geometry.outlines) if is_vee(ring)]
    return len({bool(ring[1, 1] > ring[0, 1]) for ring in vees}) == 1


def report_words(result: ElevationResult, summary: Mapping[str, Any]) -> dict[str, Any]:
    """Texts and tables of the report by their names in its template."""
    return {
        "headline": headline(result),
        "details": details(result),
        "tiles": tiles(MEASURES, result),
        "actions": actions(result),
        "timeline": timeline(result),
        "clock": "",
        "numbers": numbers(result, summary),
        "near": bool(near_fold(result)),
    }


def _heating(result: ElevationResult, path: TorchPath, number: int) -> str:
    """One torch path as an instruction."""
    drive = path.drive
    length = float(path_length(path.points)[-1])
    pace = f"move at {show(drive.speed, 'speed', units_of(result))}"
    if drive.target is not None:
        pace = (
            f"bring the hottest steel to {heat_of(result, drive.target)} and no "
            "further, slower where it lags and faster where it runs ahead"
        )
    over = "stay there"
    if length > 0.0:
        over = f"follow the drawn path, {size(result, length)} long"
    if path.across > 0.0:
        over += ", weaving over the flange's width"
    pause = f"wait {time_text(path.pause)}, then " if path.pause > 0.0 else ""
    spot = _spot(result, path)
    if result.geometry.bands[0].name == "flange low":
        spot += ", on both flanges at the same time, a torch on each"
    text = f"{pause}start at mark {number} ({spot}), {over}; {pace}."
    return text[:1].upper() + text[1:]


def _spot(result: ElevationResult, path: TorchPath) -> str:
    """Where a path starts, as one would measure it."""
    x, y = (float(v) for v in path.points[0])
    side = "left" if x < 0.0 else "right"
    along = "at the middle"
    if abs(x) >= MARK:
        along = f"{size(result, abs(x))} {side} of the middle"
    return f"{along}, {size(result, y)} up"


def numbers(result: ElevationResult, summary: Mapping[str, Any]) -> list[Row]:
    """The main table: quantity and value."""
    return [
        *_movement(result),
        *_heat(result, summary),
        *_steel(result),
        *effort(result),
    ]


def _movement(result: ElevationResult) -> list[Row]:
    """Movement."""
    movement, mrad = result.movement, milliradian()
    name = "rotation when it stopped" if folds(result) else "permanent rotation"
    released = "elastic recovery at release"
    turns = {
        f"{name} (+ closes the wide end)": movement.rotation,
        f"{name} from the plastic strains alone": movement.rotation_from_plastic,
        released: movement.rotation_elastic,
    }
    if folds(result) or still_loaded(result):
        del turns[released]
    if still_loaded(result):
        loaded = movement.rotation + movement.rotation_elastic
        turns["rotation cold and still loaded"] = loaded
    curvature = show(movement.curvature, "curvature", units_of(result))
    return [
        *((name, f"{turn / mrad:.3g} mrad") for name, turn in turns.items()),
        ("shortening at the centroid", size(result, movement.shortening)),
        ("curvature over the heated length", curvature),
        ("heated length", size(result, movement.heated_length)),
    ]


def _heat(result: ElevationResult, summary: Mapping[str, Any]) -> list[Row]:
    """Temperatures, times and heat."""
    heat, system = result.heat, units_of(result)
    limit = result.steel_limit
    rows = [
        ("peak temperature", heat_of(result, float(heat.peak.max()))),
        (
            f"longest time above {heat_of(result, limit)} at one point",
            time_text(time_above(result, limit)),
        ),
        ("torch time", time_text(heat.heating_time)),
    ]
    if isinstance(summary.get("burnt_J"), float):
        burnt = show(summary["burnt_J"], "energy", system)
        rows.append(("heat of the gas burnt", burnt))
    taken = show(float(heat.absorbed.max()), "energy", system)
    rows.append(("heat absorbed by the steel", taken))
    rows.append(("imbalance of heat", share_of(heat.imbalance)))
    return rows


def _steel(result: ElevationResult) -> list[Row]:
    """Stresses and strains, hot and residual."""
    strain, margin = result.strain, result.movement.hinge_margin
    count = len(result.mesh.triangles)
    along = strain.stress[:count, :, 0]
    plastic = float(strain.equivalent_plastic[:count].max())
    kind = "" if folds(result) else "residual "
    rows = [
        ("largest stress while hot", strength(result, float(strain.hot_stress.max()))),
        (f"largest {kind}tension", strength(result, float(along.max()))),
        (f"largest {kind}compression", strength(result, float(-along.min()))),
        ("largest plastic strain", f"{100.0 * plastic:.2g} %"),
        (
            "largest relative residual of equilibrium",
            f"{float(strain.residual.max()):.1e}",
        ),
    ]
    if margin is not None:
        rows.append(("hot-hinge margin", f"{margin:.2f}"))
    return rows

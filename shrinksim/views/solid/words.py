"""The result of the solid view in words and tables for the report."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shrinksim.report.effort import Row, effort, share_of
from shrinksim.shop.pattern import TorchPath, path_length
from shrinksim.units.quantity import show
from shrinksim.units.scales import time_text, units_of
from shrinksim.views.instructions import in_order
from shrinksim.views.load_words import near_fold, still_loaded
from shrinksim.views.measures import time_above
from shrinksim.views.result import folds
from shrinksim.views.rows import tiles
from shrinksim.views.solid.faces import along, peaks
from shrinksim.views.solid.loading import moments_of
from shrinksim.views.solid.measures import MEASURES
from shrinksim.views.solid.preview import ON, READ
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.words import (
    MARK,
    STRAIGHT,
    heat_of,
    milliradian,
    size,
    strength,
    timeline,
    turn_of,
)


def headline(result: SolidResult) -> str:
    """The permanent movement in one sentence."""
    movement = result.movement
    if folds(result):
        return (
            "Do not heat it like this: under its load the heated section gives way "
            "like a hinge and the member folds."
        )
    turns = [
        f"{abs(turn) / milliradian():.3g} mrad {where}"
        for turn, where in (
            (movement.rotation, "in its plane"),
            (movement.out_of_plane, "out of it"),
        )
        if abs(turn) >= STRAIGHT
    ]
    change = "shortens" if movement.shortening >= 0.0 else "lengthens"
    along_it = f"{change} it by {size(result, abs(movement.shortening))}"
    if not turns:
        return f"The heat leaves the plate straight and {along_it} permanently."
    return (
        f"The heat bends the plate permanently by {', '.join(turns)}, and {along_it}."
    )


def details(result: SolidResult) -> list[str]:
    """The consequences on the shop floor, a sentence each."""
    movement = result.movement
    if folds(result):
        stop = time_text(float(movement.times[-1]))
        return [
            f"The computation stopped at {stop}, when the section could carry its "
            "load no longer. Numbers and pictures below show the time up to then; "
            "temperatures are of the whole heat, as if it had not folded.",
            "Lower the load, heat less of the section at once, or prop the member.",
        ]
    face, back = peaks(result)
    said = near_fold(result)
    if abs(movement.rotation) >= STRAIGHT:
        does = "closes" if movement.rotation > 0.0 else "opens"
        said.append(f"In its plane the bend {does} the wide end of the heat.")
    if abs(movement.out_of_plane) >= STRAIGHT:
        hollow = "front" if movement.out_of_plane > 0.0 else "back"
        said.append(f"Out of its plane the {hollow} becomes the hollow side.")
    said.append(
        f"The heated face gets to {heat_of(result, face)}, the other one to "
        f"{heat_of(result, back)}."
    )
    if movement.dish > MARK:
        said.append(
            f"A straight edge across the width, {size(result, movement.dish_length)}, "
            f"shows a gap of up to {size(result, movement.dish)}."
        )
    if still_loaded(result):
        said.append("The rotations are without the elastic part due to the load.")
    return said


def load_words(result: SolidResult) -> list[str]:
    """The load, as it is put on."""
    load, units = result.case.load, units_of(result)
    if load.kind == "held":
        return ["hold both ends so that they can neither move along nor turn"]
    plane, flat = moments_of(result.case, result.geometry)
    said = [load.kind]
    if plane:
        way = "pressing the wide end together" if plane > 0.0 else "pulling it apart"
        said.append(f"moment {show(abs(plane), 'moment', units)} in the plane, {way}")
    if flat:
        side = "front" if flat > 0.0 else "back"
        said.append(
            f"moment {show(abs(flat), 'moment', units)} out of the plane, pressing the "
            f"{side} together"
        )
    if load.axial:
        way = "pulling" if load.axial > 0.0 else "pressing"
        said.append(f"{show(abs(load.axial), 'force', units)} along the member, {way}")
    return said


def actions(result: SolidResult) -> list[str]:
    """What to do, in order."""
    patterns = [p for heat in result.case.heats for p in heat.patterns]
    heats = [
        _heating(result, path, pattern, k + 1)
        for k, (path, pattern) in enumerate(
            zip(result.geometry.paths, patterns, strict=True)
        )
    ]
    return in_order(result, heats, load_words(result))


def _heating(result: SolidResult, path: TorchPath, pattern: Any, number: int) -> str:
    """One torch path as an instruction."""
    drive, torch = path.drive, pattern.torch
    length = float(path_length(path.points)[-1])
    pace = f"move at {show(drive.speed, 'speed', units_of(result))}"
    if drive.target is not None:
        where = READ[torch.read]
        if torch.read == "face after":
            where = (
                f"read on the heated face {time_text(torch.after)} after it has gone"
            )
        pace = (
            f"bring the hottest steel, {where}, to {heat_of(result, drive.target)} and "
            "no further, slower where it lags and faster where it runs ahead"
        )
    over = "stay there"
    if length > 0.0:
        over = f"follow the drawn path, {size(result, length)} long"
    pause = f"wait {time_text(path.pause)}, then " if path.pause > 0.0 else ""
    x, y = (float(v) for v in path.points[0])
    spot = "at the middle"
    if abs(x) >= MARK:
        side = "left" if x < 0.0 else "right"
        spot = f"{size(result, abs(x))} {side} of the middle"
    spot += f", {size(result, y)} up, {ON[pattern.face]}"
    text = f"{pause}start at mark {number} ({spot}), {over}; {pace}."
    return text[:1].upper() + text[1:]


def report_words(result: SolidResult, summary: Mapping[str, Any]) -> dict[str, Any]:
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


def numbers(result: SolidResult, summary: Mapping[str, Any]) -> list[Row]:
    """The main table: quantity and value."""
    return [
        *_movement(result),
        *_heat(result, summary),
        *_steel(result),
        *effort(result),
    ]


def _movement(result: SolidResult) -> list[Row]:
    """Movement."""
    movement = result.movement
    name = "rotation when it stopped" if folds(result) else "permanent rotation"
    turns = {
        f"{name} in the plane (+ closes the wide end)": movement.rotation,
        f"{name} out of the plane (+ front hollow)": movement.out_of_plane,
        "twist (+ top of the right end forward)": movement.twist,
    }
    if not folds(result) and not still_loaded(result):
        turns["elastic recovery at release in the plane"] = movement.rotation_elastic
        turns["elastic recovery at release out of the plane"] = (
            movement.out_of_plane_elastic
        )
    dish = (
        f"largest gap under a straight edge {size(result, movement.dish_length)} long"
    )
    return [
        *((row, turn_of(turn)) for row, turn in turns.items()),
        ("shortening at the centroid", size(result, movement.shortening)),
        (dish, size(result, movement.dish)),
        ("heated length", size(result, movement.heated_length)),
    ]


def _heat(result: SolidResult, summary: Mapping[str, Any]) -> list[Row]:
    """Temperatures, times and heat."""
    heat, system = result.heat, units_of(result)
    limit, (face, back) = result.steel_limit, peaks(result)
    rows = [
        ("peak temperature of the heated face", heat_of(result, face)),
        ("peak temperature of the other face", heat_of(result, back)),
        (
            f"longest time above {heat_of(result, limit)} at one point",
            time_text(time_above(heat, limit)),
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


def _steel(result: SolidResult) -> list[Row]:
    """Stresses and strains, hot and residual."""
    strain, margin = result.strain, result.movement.hinge_margin
    kind = "" if folds(result) else "residual "
    rows = [
        ("largest stress while hot", strength(result, float(strain.hot_stress.max())))
    ]
    for name, stress in zip(("front", "back"), along(result), strict=True):
        rows.append(
            (f"largest {kind}tension, {name}", strength(result, float(stress.max())))
        )
        rows.append(
            (
                f"largest {kind}compression, {name}",
                strength(result, float(-stress.min())),
            )
        )
    plastic = float(strain.equivalent_plastic.max())
    residual = f"{float(strain.residual.max()):.1e}"
    rows.append(("largest plastic strain", f"{100.0 * plastic:.2g} %"))
    rows.append(("largest relative residual of equilibrium", residual))
    if margin is not None:
        rows.append(("hot-hinge margin", f"{margin:.2f}"))
    return rows

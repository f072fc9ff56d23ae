"""A section's result in words and tables for the report."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from shrinksim.report.effort import Row, effort, share_of, time_above
from shrinksim.units.quantity import quantity, show
from shrinksim.units.scales import time_text, units_of
from shrinksim.views.bend_names import CAMBER, SWEEP, mid_offset
from shrinksim.views.instructions import in_order
from shrinksim.views.load_words import near_fold, still_loaded
from shrinksim.views.result import folds
from shrinksim.views.section.heats_in_words import burns, edges_told, heating, load_told
from shrinksim.views.section.result import SectionResult
from shrinksim.views.words import (
    STRAIGHT,
    heat_of,
    held,
    length_error,
    milliradian,
    sample_member,
    size,
    strength,
    timeline,
    turn_error,
)

NOISE = 2e-3
"""Share of the larger bend under which the other one is rounding of the mesh."""

TINY = 5e-7
"""rad or rad/m, under which a bend is the rounding of the computation."""

LEAST = 5e-6
"""m, a change of width under this is not told."""

CLOCK = (
    "Times are those of one section in the middle of the heat, from shortly before the "
    "torch is there; along the member every section has them in its turn."
)


@dataclass(frozen=True)
class SectionBend:
    """What bends for good: the turn (rad) of one end of the heat against the other.

    hollow : the side that becomes shorter.  heated : the side that is heated, if any.
    """

    name: str
    turn: float
    hollow: str
    heated: str


def every_bend(result: SectionResult) -> list[SectionBend]:
    """Camber and sweep."""
    movement, (right, top) = result.movement, result.geometry.side
    planes = (
        (CAMBER, movement.camber_rotation, ("bottom", "top"), top),
        (SWEEP, movement.sweep_rotation, ("left", "right"), right),
    )
    return [
        SectionBend(name, turn, ends[turn > 0.0], ends[side > 0] if side else "")
        for name, turn, ends, side in planes
    ]


def bends(result: SectionResult) -> list[SectionBend]:
    """What of camber and sweep is more than nothing."""
    both = every_bend(result)
    least = max(STRAIGHT, NOISE * max(abs(bend.turn) for bend in both))
    return [bend for bend in both if abs(bend.turn) >= least]


def mrad(angle: float) -> str:
    """An angle in milliradians, to three digits."""
    return f"{quiet(angle) / milliradian():.3g} mrad"


def quiet(value: float) -> float:
    """An angle (rad) or curvature (rad/m), or 0 where it is rounding."""
    return value if abs(value) >= TINY else 0.0


def shown_member(result: SectionResult) -> tuple[float, str]:
    """Length (m) of the member used as an illustration, and its name."""
    span, name = sample_member(result)
    heated = result.movement.heated_length
    if heated <= 0.8 * span:
        return span, name
    return 2.0 * heated, show(2.0 * heated, "length", units_of(result))


def headline(result: SectionResult) -> str:
    """How far it moves, in one sentence."""
    movement = result.movement
    if folds(result):
        return (
            "Do not heat it like this: under its load the heated section gives way "
            "like a hinge and the member folds."
        )
    change = "shortens" if movement.shortening >= 0.0 else "lengthens"
    along = f"{change} it by {size(result, abs(movement.shortening))}"
    parts = [
        f"{mrad(abs(bend.turn))} of {bend.name} ({bend.hollow} hollow)"
        for bend in bends(result)
    ]
    angle = movement.angular_change or 0.0
    fold = ""
    if abs(angle) >= STRAIGHT:
        fold = f", turns the plate's sides by {mrad(abs(angle))} against each other"
    over = f"over the heated {size(result, movement.heated_length)}"
    if not parts:
        return (
            f"The heat leaves the member straight{fold} and {along} {over}, for good."
        )
    bent = " and ".join(parts)
    return f"The heat gives the member {bent}{fold} and {along} {over}, for good."


def details(result: SectionResult) -> list[str]:
    """What the headline means on the floor, a sentence each."""
    if folds(result):
        stop = time_text(float(result.movement.times[-1]))
        return [
            f"The computation stopped at {stop}, when the section could carry its "
            "load no longer. Numbers and pictures below show how it came to that; "
            "temperatures are of the whole heat, as if it had held.",
            "Lower the load, heat less of the section at once, or prop the member.",
        ]
    said = near_fold(result)
    said += [text for bend in bends(result) for text in _bend_told(result, bend)]
    said += _plate_told(result)
    pull = result.movement.tendon_force
    if pull > 0.0:
        force = show(pull, "force", units_of(result))
        said.append(
            f"The heated steel has become too short: along the member it pulls with "
            f"{force} (the tendon force), like a tight rod let into it there, and the "
            "rest is pressed, shortened and bent by it."
        )
    if still_loaded(result):
        said.append(
            "The load stays on: what it bends elastically comes on top of these numbers."
        )
    return said


def _bend_told(result: SectionResult, bend: SectionBend) -> list[str]:
    """One bend as a shop measures it."""
    heated = result.movement.heated_length
    turn = abs(bend.turn)
    over = size(result, mid_offset(turn, heated, heated))
    span, name = shown_member(result)
    out = size(result, mid_offset(turn, heated, span))
    view = "from the side" if bend.name == CAMBER else "from above"
    said = (
        f"{bend.name.capitalize()} (seen {view}): the {bend.hollow} becomes the hollow "
        f"side. A string over the heated {size(result, heated)} stands {over} off the "
        f"steel at its middle; a straight {name} member heated like this at its middle "
        f"ends up {out} out of line there."
    )
    if bend.heated and bend.heated != bend.hollow:
        said += (
            f" The heated {bend.heated} becomes the round side, against what such a "
            "heat is meant to do."
        )
    return [said]


def _plate_told(result: SectionResult) -> list[str]:
    """What a plate does in the plane of its section."""
    angle, narrower = (
        result.movement.angular_change,
        result.movement.transverse_shrinkage,
    )
    if angle is None:
        return []
    said = []
    if abs(narrower) >= LEAST:
        change = "narrower" if narrower > 0.0 else "wider"
        said.append(
            f"Transverse shrinkage: across the heat the plate is left "
            f"{size(result, abs(narrower))} {change}. The cold plate before and behind "
            "the torch, which holds the line across, is not in this view: expect it "
            "narrower than this."
        )
    if abs(angle) < STRAIGHT:
        return said
    us = units_of(result) == "us"
    arm = "4 in" if us else "100 mm"
    rise = size(result, abs(angle) * quantity(arm, "length"))
    way = "towards" if angle > 0.0 else "away from"
    top = result.geometry.side[1]
    face = {1: "its heated face", -1: "its heated face", 0: "its top"}[top]
    return [
        f"Angular change: across the heat the plate turns by {mrad(abs(angle))} {way} "
        f"{face}; with one side laid flat, the other is {rise} off at {arm} from the "
        "line.",
        *said,
    ]


def tiles(result: SectionResult) -> list[Row]:
    """The numbers to read first."""
    movement = result.movement
    some = bends(result) or every_bend(result)[:1]
    rows = [
        (
            f"{bend.name}, {bend.hollow} hollow",
            mrad(abs(bend.turn)) + turn_error(result, bend.name),
        )
        for bend in some
    ]
    if not bends(result):
        rows = [("bend", "none")]
    if folds(result):
        rows = [(f"{bend.name} when it stopped", mrad(bend.turn)) for bend in some]
    if abs(movement.angular_change or 0.0) >= STRAIGHT:
        rows.append(("angular change", mrad(movement.angular_change or 0.0)))
    rows += [
        ("shortening", size(result, movement.shortening) + length_error(result)),
        (held("hottest", result), heat_of(result, float(result.heat.peak.max()))),
        (held("torch time", result), time_text(sum(result.heating.torch_times))),
    ]
    if movement.hinge_margin is not None:
        rows.append(("smallest margin to a hinge", f"{movement.hinge_margin:.2f}"))
    return rows


def actions(result: SectionResult) -> list[str]:
    """What to do, in order."""
    ways = [heating(result, burn, k + 1) for k, burn in enumerate(burns(result))]
    if result.load_kind == "none" and edges_told(result):
        ways = ["Hold the plate's two long edges, and let go when it is cold.", *ways]
    steps = in_order(result, ways, load_told(result))
    if result.load_kind == "held":
        steps[0] = "Hold the member straight before it is heated, and while it is hot."
        steps = [step.replace("Take the load off", "Let it go") for step in steps]
    return steps


def numbers(result: SectionResult, summary: Mapping[str, Any]) -> list[Row]:
    """The main table: quantity and value."""
    return [
        *_movement(result),
        *_heat(result, summary),
        *_steel(result),
        *effort(result),
    ]


def _movement(result: SectionResult) -> list[Row]:
    """How it moved."""
    movement, system = result.movement, units_of(result)
    when = "when the computation stopped" if folds(result) else "for good"
    rows = []
    curvatures = zip(
        (movement.camber, movement.sweep), movement.from_plastic[1:], strict=True
    )
    for bend, (curvature, again), side in zip(
        every_bend(result), curvatures, ("top", "right"), strict=True
    ):
        name = bend.name
        rows += [
            (f"{name} {when} (+ makes the {side} hollow)", mrad(bend.turn)),
            (f"{name} as a curvature", show(quiet(curvature), "curvature", system)),
            (
                f"the same from the plastic strains alone: {name}",
                show(quiet(float(again)), "curvature", system),
            ),
        ]
    rows += [
        ("shortening at the centroid", size(result, movement.shortening)),
        ("strain at the centroid (+ longer)", f"{1e3 * movement.strain:.3g} mm/m"),
        ("heated length", size(result, movement.heated_length)),
    ]
    if movement.share < 1.0:
        rows.append(("share of it that is heated", f"{100.0 * movement.share:.3g} %"))
    if movement.angular_change is not None:
        rows.append(
            ("angular change (+ closes to the heated face)",
             mrad(movement.angular_change))
        )  # fmt: skip
    rows += [
        ("across, + narrower", size(result, movement.transverse_shrinkage)),
        ("tendon force (+ pulls)", show(movement.tendon_force, "force", system)),
    ]
    return rows


def _heat(result: SectionResult, summary: Mapping[str, Any]) -> list[Row]:
    """What the heat was."""
    heat, system, limit = result.heat, units_of(result), result.steel_limit
    rows = [
        ("hottest steel", heat_of(result, float(heat.peak.max()))),
        (
            f"longest over {heat_of(result, limit)} at one place",
            time_text(time_above(result, limit)),
        ),
        (
            "torch time over the whole length",
            time_text(sum(result.heating.torch_times)),
        ),
    ]
    for number, burn in enumerate(burns(result)):
        if burn.speed is not None:
            speed = show(burn.speed, "speed", system)
            rows.append((f"speed of torch {number + 1}", speed))
    if isinstance(summary.get("burnt_J"), float):
        burnt = show(summary["burnt_J"], "energy", system)
        rows.append(("heat of the gas burnt", burnt))
    one, name = ("1 ft", "foot") if system == "us" else ("1 m", "metre")
    taken = float(heat.absorbed.max()) * quantity(one, "length")
    rows.append(
        (f"heat taken up by a {name} of the steel", show(taken, "energy", system))
    )
    rows.append(("heat not accounted for", share_of(heat.imbalance)))
    return rows


def _steel(result: SectionResult) -> list[Row]:
    """What the steel went through and what is left in it."""
    strain, margin = result.strain, result.movement.hinge_margin
    along = strain.stress[..., 3]
    most = 100.0 * float(strain.equivalent_plastic.max())
    rows = [
        ("largest stress while hot", strength(result, float(strain.hot_stress.max()))),
        ("largest tension along the member", strength(result, float(along.max()))),
        ("largest compression along the member", strength(result, float(-along.min()))),
        ("largest plastic strain", f"{most:.2g} %"),
        ("largest relative force out of balance", f"{strain.residual.max():.1e}"),
    ]
    if margin is not None:
        rows.append(("smallest margin to a hot hinge", f"{margin:.2f}"))
    return rows


def section_told(result: SectionResult, summary: Mapping[str, Any]) -> dict[str, Any]:
    """What the page says of a result, under the names of its template."""
    return {
        "headline": headline(result),
        "details": details(result),
        "tiles": tiles(result),
        "actions": actions(result),
        "timeline": timeline(result),
        "clock": CLOCK if any(v is not None for v in result.heating.schedules) else "",
        "numbers": numbers(result, summary),
        "near": bool(near_fold(result)),
    }

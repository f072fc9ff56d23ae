"""Words and tables of the report of a section."""

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
from shrinksim.views.rows import NOISE, tiles
from shrinksim.views.section.heats_in_words import (
    burns,
    heating,
    held_edges,
    load_words,
)
from shrinksim.views.section.measures import MEASURES
from shrinksim.views.section.result import SectionResult
from shrinksim.views.words import (
    STRAIGHT,
    heat_of,
    milliradian,
    sample_member,
    size,
    strength,
    timeline,
)

TINY = 5e-7
"""rad or rad/m, under which a rotation is the rounding of the computation."""

LEAST = 5e-6
"""m, a change of width under this is not reported."""

CLOCK = (
    "Times are those of one section in the middle of the heat, from shortly before the "
    "torch is there; the other sections of the member have them one after another."
)


@dataclass(frozen=True)
class SectionBend:
    """A permanent rotation: of one end of the heat against the other, rad.

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
    """Camber and sweep, where they are more than rounding."""
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
    """The permanent movement in one sentence."""
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
        return f"The heat leaves the member straight{fold} and {along} {over}, permanently."
    bent = " and ".join(parts)
    return f"The heat permanently gives the member {bent}{fold} and {along} {over}."


def details(result: SectionResult) -> list[str]:
    """The consequences on the shop floor, a sentence each."""
    if folds(result):
        stop = time_text(float(result.movement.times[-1]))
        return [
            f"The computation stopped at {stop}, when the section could carry its "
            "load no longer. Numbers and pictures below show the time up to then; "
            "temperatures are of the whole heat, as if it had not folded.",
            "Lower the load, heat less of the section at once, or prop the member.",
        ]
    sentences = near_fold(result)
    sentences += [
        text for bend in bends(result) for text in _bend_measured(result, bend)
    ]
    sentences += _plate_movement(result)
    pull = result.movement.tendon_force
    if pull > 0.0:
        force = show(pull, "force", units_of(result))
        sentences.append(
            f"The heated steel has become too short: along the member it pulls with "
            f"{force} (the tendon force), like a tight rod let into it there, and the "
            "rest is pressed, shortened and bent by it."
        )
    if still_loaded(result):
        sentences.append(
            "The load stays on: its elastic deflection comes on top of these numbers."
        )
    return sentences


def _bend_measured(result: SectionResult, bend: SectionBend) -> list[str]:
    """One bend as a shop measures it."""
    heated = result.movement.heated_length
    turn = abs(bend.turn)
    over = size(result, mid_offset(turn, heated, heated))
    span, name = shown_member(result)
    out = size(result, mid_offset(turn, heated, span))
    view = "from the side" if bend.name == CAMBER else "from above"
    sentences = (
        f"{bend.name.capitalize()} (seen {view}): the {bend.hollow} becomes the hollow "
        f"side. A string over the heated {size(result, heated)} stands {over} off the "
        f"steel at its middle; a straight {name} member heated like this at its middle "
        f"ends up {out} out of line there."
    )
    if bend.heated and bend.heated != bend.hollow:
        sentences += (
            f" The heated {bend.heated} becomes the round side, which is the opposite of "
            "the purpose of such a heat."
        )
    return [sentences]


def _plate_movement(result: SectionResult) -> list[str]:
    """Movement of a plate in the plane of its section."""
    angle, narrower = (
        result.movement.angular_change,
        result.movement.transverse_shrinkage,
    )
    if angle is None:
        return []
    sentences = []
    if abs(narrower) >= LEAST:
        change = "narrower" if narrower > 0.0 else "wider"
        sentences.append(
            f"Transverse shrinkage: across the heat the plate is left "
            f"{size(result, abs(narrower))} {change}. The cold plate before and behind "
            "the torch, which holds the line across, is not in this view: expect it "
            "narrower than this."
        )
    if abs(angle) < STRAIGHT:
        return sentences
    us = units_of(result) == "us"
    arm = "4 in" if us else "100 mm"
    rise = size(result, abs(angle) * quantity(arm, "length"))
    direction = "towards" if angle > 0.0 else "away from"
    top = result.geometry.side[1]
    face = {1: "its heated face", -1: "its heated face", 0: "its top"}[top]
    return [
        f"Angular change: across the heat the plate turns by {mrad(abs(angle))} "
        f"{direction} {face}; with one side laid flat, the other is {rise} off at "
        f"{arm} from the line.",
        *sentences,
    ]


def actions(result: SectionResult) -> list[str]:
    """Instructions, in order."""
    heats = [heating(result, burn, k + 1) for k, burn in enumerate(burns(result))]
    if result.load_kind == "none" and held_edges(result):
        heats = ["Hold the plate's two long edges, and let go when it is cold.", *heats]
    steps = in_order(result, heats, load_words(result))
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
    """Movement."""
    movement, system = result.movement, units_of(result)
    kind = "" if folds(result) else "permanent "
    stopped = " when it stopped" if folds(result) else ""
    rows = []
    curvatures = zip(
        (movement.camber, movement.sweep), movement.from_plastic[1:], strict=True
    )
    for bend, (curvature, plastic), side in zip(
        every_bend(result), curvatures, ("top", "right"), strict=True
    ):
        name = bend.name
        rows += [
            (
                f"{kind}rotation{stopped}, {name} (+ {side} hollow)",
                mrad(bend.turn),
            ),
            (f"curvature, {name}", show(quiet(curvature), "curvature", system)),
            (
                f"curvature from the plastic strains alone, {name}",
                show(quiet(float(plastic)), "curvature", system),
            ),
        ]
    rows += [
        ("shortening at the centroid", size(result, movement.shortening)),
        ("strain at the centroid (+ longer)", f"{1e3 * movement.strain:.3g} mm/m"),
        ("heated length", size(result, movement.heated_length)),
    ]
    if movement.share < 1.0:
        rows.append(("heated share of it", f"{100.0 * movement.share:.3g} %"))
    if movement.angular_change is not None:
        rows.append(
            ("angular change (+ closes to the heated face)",
             mrad(movement.angular_change))
        )  # fmt: skip
    rows += [
        (
            "transverse shrinkage (+ narrower)",
            size(result, movement.transverse_shrinkage),
        ),
        ("tendon force (+ pulls)", show(movement.tendon_force, "force", system)),
    ]
    return rows


def _heat(result: SectionResult, summary: Mapping[str, Any]) -> list[Row]:
    """Temperatures, times and heat."""
    heat, system, limit = result.heat, units_of(result), result.steel_limit
    rows = [
        ("peak temperature", heat_of(result, float(heat.peak.max()))),
        (
            f"longest time above {heat_of(result, limit)} at one point",
            time_text(time_above(result, limit)),
        ),
        ("torch time", time_text(sum(result.heating.torch_times))),
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
        (f"heat absorbed by a {name} of the steel", show(taken, "energy", system))
    )
    rows.append(("imbalance of heat", share_of(heat.imbalance)))
    return rows


def _steel(result: SectionResult) -> list[Row]:
    """Stresses and strains, hot and residual."""
    strain, margin = result.strain, result.movement.hinge_margin
    along = strain.stress[..., 3]
    most = 100.0 * float(strain.equivalent_plastic.max())
    kind = "" if folds(result) else "residual "
    rows = [
        ("largest stress while hot", strength(result, float(strain.hot_stress.max()))),
        (f"largest {kind}tension", strength(result, float(along.max()))),
        (f"largest {kind}compression", strength(result, float(-along.min()))),
        ("largest plastic strain", f"{most:.2g} %"),
        ("largest relative residual of equilibrium", f"{strain.residual.max():.1e}"),
    ]
    if margin is not None:
        rows.append(("hot-hinge margin", f"{margin:.2f}"))
    return rows


def report_words(result: SectionResult, summary: Mapping[str, Any]) -> dict[str, Any]:
    """Texts and tables of the report by their names in its template."""
    return {
        "headline": headline(result),
        "details": details(result),
        "tiles": tiles(MEASURES, result),
        "actions": actions(result),
        "timeline": timeline(result),
        "clock": CLOCK if any(v is not None for v in result.heating.schedules) else "",
        "numbers": numbers(result, summary),
        "near": bool(near_fold(result)),
    }

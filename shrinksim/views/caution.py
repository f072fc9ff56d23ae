"""Cautions of every view: load, target temperature, cooling, outcome."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.casefile.heating import AirJet, ForcedCooling, Torch, WetRag
from shrinksim.shop.steel import Steel
from shrinksim.units.quantity import show

MOMENT_LIMIT = 0.5
"""Jacking moment over the plastic moment: FHWA guide, ch. 3 (from memory)."""

MARGIN = 1.5
"""Hot plastic moment over the moment under which we warn; our choice, no source."""

FORCED = (600.0 - 32.0) / 1.8
"""degC (600 degF) that steel should cool to by itself before air or water: Caltrans
standard specifications, 55-1.02B(8)."""

NEXT_HEAT = 120.0
"""degC under which the next heat may start: FHWA guide (from memory)."""

OPEN_END = 0.254
"""m, widest open end of a vee: FHWA guide and AASHTO (from memory)."""


@dataclass(frozen=True)
class Caution:
    """A caution: a short code and its sentence."""

    code: str
    text: str


LOADED = Caution(
    "load",
    "The member is loaded while it is hot: block it so that it cannot drop "
    "or roll, keep hands and people out from under it, set the load before "
    "heating and do not raise it while the steel is hot; a jack or its hose can let "
    "go: block up behind it, and stand clear.",
)


def always() -> list[Caution]:
    """Cautions of any heat with a torch."""
    return [
        Caution(
            "practice",
            "Heat straightening is regulated work: local codes, the owner's "
            "specification and a licensed engineer decide over this prediction.",
        ),
        Caution(
            "hot work",
            "Torch, gas and hot steel: wear protection, keep fuel and people clear, "
            "watch for fire, keep cylinders upright, chained and out of the heat with "
            "flashback arrestors on, and do not stand where the member can move or fall.",
        ),
    ]


def of_moment(ratio: float) -> list[Caution]:
    """Cautions on a moment over the plastic moment, + helps."""
    found = []
    if abs(ratio) > MOMENT_LIMIT:
        found.append(
            Caution(
                "moment",
                f"The moment is {abs(ratio):.2f} of the cold plastic moment; practice "
                f"stops at {MOMENT_LIMIT:g} (FHWA guide, ch. 3, from memory).",
            )
        )
    if ratio < 0.0:
        found.append(
            Caution(
                "opposing moment",
                "The moment is negative: it pulls the open edge apart and opposes "
                "the heat. Expect little movement, or movement the wrong way.",
            )
        )
    return found


def of_target(torches: Sequence[Torch], grade: Steel, units: str) -> list[Caution]:
    """Caution on the highest target temperature of the torches."""
    target = max((t.target for t in torches if t.drive != "travel"), default=-np.inf)
    above = []
    if target > grade.limit:
        above.append(f"the limit for this grade, {degrees(grade.limit, units)}")
    if target > grade.transformation:
        model = (
            "which this model holds only as a simple table"
            if grade.changes
            else "which this model does not contain"
        )
        above.append(
            f"its lower transformation at about {degrees(grade.transformation, units)}, "
            f"{model}"
        )
    if not above:
        return []
    return [
        Caution(
            "target",
            f"The torch is held at {degrees(target, units)}; that is above "
            f"{', and above '.join(above)}. Ask for less.",
        )
    ]


def degrees(celsius: float, units: str) -> str:
    """A temperature to the degree, "metric" or "us"."""
    number, unit = show(celsius, "temperature", units).split()
    return f"{float(number):.0f} {unit}"


def of_cooling(cooling: ForcedCooling, units: str) -> list[Caution]:
    """Cautions on air or water."""
    danger = (
        "the jet blows scale, dust and heat into eyes and at neighbours, and is loud; "
        "keep it off the flame and off people."
        if isinstance(cooling, AirJet)
        else "steam and spatter scald; quenching hot steel can harden or crack it, and "
        "it is not allowed on quenched and tempered grades."
    )
    found = [
        Caution(
            "forced cooling",
            f"Cooling by {cooling.kind}: {danger} Have the method approved.",
        )
    ]
    if not isinstance(cooling, WetRag) and cooling.behind is not None:
        return [*found, _of_following(cooling.kind, units)]
    start = cooling.start_below
    if start is None or start > FORCED:
        begins = "may start" if start is None and cooling.start_after else "starts"
        found.append(
            Caution(
                "forced cooling early",
                f"The forced cooling {begins} before the steel is below "
                f"{degrees(FORCED, units)} by itself (Caltrans 55-1.02B(8) forbids "
                "that).",
            )
        )
    return found


def _of_following(kind: str, units: str) -> Caution:
    """Caution on air or water close behind the flame."""
    wet = (
        ""
        if kind == "air jet"
        else " Water flashes to steam there, and steel that is quenched can harden or "
        "crack: never on quenched and tempered grades."
    )
    return Caution(
        "cooling behind the torch",
        f"The {kind} follows the flame onto steel that is still hot. Caltrans "
        f"55-1.02B(8) wants it below {degrees(FORCED, units)} by itself first.{wet} A "
        "gust can blow the flame out while gas still flows, or throw it back at the "
        "people: two people, one at the torch, and a way to shut the gas at once.",
    )


def of_outcome(
    grade: Steel, peak: float, margin: float | None, outcome: str, units: str
) -> list[Caution]:
    """Cautions on the peak temperature (degC) and on the hot-hinge margin."""
    found = []
    if outcome == "hot hinge":
        found.append(
            Caution(
                "hot hinge",
                "The member folds while hot: the moment is more than its hot section "
                "can carry. Do not do this; take load off, heat less at a time, or "
                "support it.",
            )
        )
    if peak > grade.transformation:
        model = (
            "Phase change is in this model only as the simple table of the steel's file, "
            "and steel cooled fast from there can still become hard and brittle."
            if grade.changes
            else "Phase change is not in this model, and steel cooled fast from there "
            "can become hard and brittle."
        )
        found.append(
            Caution(
                "transformation",
                f"The steel reached {degrees(peak, units)}, above its lower "
                f"transformation at about {degrees(grade.transformation, units)}. {model}",
            )
        )
    if peak > grade.limit:
        found.append(
            Caution(
                "limit",
                f"The hottest point reached {degrees(peak, units)}; the limit for this "
                f"grade is {degrees(grade.limit, units)}. Steel that was heated over it is "
                "kept out of use until a licensed engineer has had it examined.",
            )
        )
    if margin is not None and margin < MARGIN and outcome != "hot hinge":
        found.append(
            Caution(
                "margin",
                f"At its weakest the hot section could carry only {margin:.2f} times "
                f"the moment on it; under {MARGIN:g} a hotter or longer heat may fold "
                "it.",
            )
        )
    return found


def of_starts(starts: Sequence[float], units: str) -> list[Caution]:
    """Cautions on the hottest temperature (degC) at the start of each further heat."""
    return [
        Caution(
            "next heat",
            f"Heat {number + 2} starts while the steel is still at "
            f"{degrees(hot, units)}; practice waits for "
            f"{degrees(NEXT_HEAT, units)} (FHWA, from memory).",
        )
        for number, hot in enumerate(starts)
        if hot > NEXT_HEAT
    ]

"""Sentences of care that go with a result, each where it applies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.case.heating import Heat, StillAir, Vee
from shrinksim.case.schema import Case
from shrinksim.shop.section import ISection, Plate
from shrinksim.workpiece import Workpiece

THROUGH = 0.25
"""Largest through-thickness difference, as a share of the target's rise, at which the
in-plane view is taken to be enough."""

MOMENT_LIMIT = 0.5
"""Jacking moment over the plastic moment: FHWA guide, ch. 3 (from memory)."""

MARGIN = 1.5
"""Hot plastic moment over the moment under which we warn; our choice, no source."""

FORCED = 316.0
"""degC that steel should cool to by itself before air or water: Caltrans standard
specifications, 55-1.02B(8)."""

NEXT_HEAT = 120.0
"""degC under which the next heat may start: FHWA guide (from memory)."""

OPEN_END = 0.254
"""m, widest open end of a vee: FHWA guide and AASHTO (from memory)."""


@dataclass(frozen=True)
class Caution:
    """A short code and its sentence."""

    code: str
    text: str


def through_thickness(case: Case) -> float:
    """Difference through the thickness over the target's rise above the air.

    A face that takes the flux q while the other is cold differs from it by q d / (2 k)
    once heat has gone through (Carslaw & Jaeger, 1959, sec. 3.8, from memory); d is
    the thickness, or half of it with a torch on each face; q the mean over the
    footprint, k = 40 W/mK.
    """
    worst = 0.0
    shape = case.member.shape
    for heat in case.heats:
        for p in heat.patterns:
            t = p.torch
            flux = 0.95 * t.power * t.efficiency / (np.pi * t.radius**2)
            thickness = _thickness(shape, p.kind, case.member.bending)
            depth = thickness / (2.0 if t.torches == 2 else 1.0)
            goal = t.target if t.drive == "held" else 650.0
            rise = max(goal - case.surroundings.ambient, 1.0)
            worst = max(worst, flux * depth / (2.0 * 40.0) / rise)
    return worst


def _thickness(shape: Plate | ISection, kind: str, axis: str) -> float:
    """Steel under the torch, m."""
    if isinstance(shape, Plate):
        return shape.thickness
    if kind == "strip" or axis == "weak":
        return shape.flange_thickness
    return shape.web_thickness


def before(case: Case, work: Workpiece) -> list[Caution]:
    """Cautions that can be told before the torch is lit."""
    said = [
        Caution(
            "practice",
            "Heat straightening is regulated work: local codes, the owner's "
            "specification and a licensed engineer decide over this prediction.",
        ),
        Caution(
            "hot work",
            "Torch, gas and hot steel: wear protection, keep fuel and people clear, "
            "watch for fire, and do not stand where the member can move or fall.",
        ),
    ]
    load = case.load
    if load.kind != "none":
        said.append(
            Caution(
                "load",
                "The member is loaded while it is hot: block it so that it cannot drop "
                "or roll, keep hands and people out from under it, set the load before "
                "heating and do not raise it while the steel is hot.",
            )
        )
    ratio = abs(moment_of(case, work)) / work.plastic_moment
    if ratio > MOMENT_LIMIT:
        said.append(
            Caution(
                "moment",
                f"The moment is {ratio:.2f} of the cold plastic moment; practice stops "
                f"at {MOMENT_LIMIT:g} (FHWA guide, ch. 3, from memory).",
            )
        )
    through = through_thickness(case)
    if through > THROUGH:
        said.append(
            Caution(
                "thick",
                f"Through the thickness the steel will differ by about {through:.0%} of "
                "the rise (this view takes it as even; up to "
                f"{THROUGH:.0%} is taken as enough): the face is hotter than shown and "
                "the plate may also dish. Use a softer flame, heat both faces, or move "
                "slower.",
            )
        )
    for heat in case.heats:
        said += _of_heat(heat)
    return said


def moment_of(case: Case, work: Workpiece) -> float:
    """The load's moment, N m, + helps."""
    if case.load.moment_ratio is not None:
        return case.load.moment_ratio * work.plastic_moment
    return case.load.moment or 0.0


def _of_heat(heat: Heat) -> list[Caution]:
    said = []
    cooling = heat.cooling
    if not isinstance(cooling, StillAir):
        said.append(
            Caution(
                "forced cooling",
                f"Cooling by {cooling.kind}: steam and spatter scald; quenching hot "
                "steel can harden or crack it, and it is not allowed on quenched and "
                "tempered grades. Have the method approved.",
            )
        )
        start = cooling.start_below
        if start is None or start > FORCED:
            said.append(
                Caution(
                    "forced cooling early",
                    f"The forced cooling starts before the steel is below {FORCED:.0f} "
                    "degC by itself (Caltrans 55-1.02B(8) forbids that).",
                )
            )
    for p in heat.patterns:
        if isinstance(p, Vee):
            width = 2.0 * p.depth * np.tan(0.5 * p.angle)
            if width > OPEN_END:
                said.append(
                    Caution(
                        "wide vee",
                        f"The vee is {width * 1e3:.0f} mm wide at its open end; practice "
                        f"stops at {OPEN_END * 1e3:.0f} mm (FHWA, from memory).",
                    )
                )
    return said


def after(
    case: Case, work: Workpiece, peak: float, margin: float | None, outcome: str,
    starts: list[float],
) -> list[Caution]:  # fmt: skip
    """Cautions that follow from what the run found.

    peak : degC.  starts : degC, hottest point when each further heat began.
    """
    said = []
    grade = work.steel
    if outcome == "hot hinge":
        said.append(
            Caution(
                "hot hinge",
                "The member folds while hot: the moment is more than its hot section "
                "can carry. Do not do this; take load off, heat less at a time, or "
                "support it.",
            )
        )
    if peak > grade.transformation:
        said.append(
            Caution(
                "transformation",
                f"The steel reached {peak:.0f} degC, above its lower transformation at "
                f"about {grade.transformation:.0f} degC. Phase change is not in this "
                "model, and steel cooled fast from there can become hard and brittle.",
            )
        )
    if peak > grade.limit:
        said.append(
            Caution(
                "limit",
                f"The hottest point reached {peak:.0f} degC; the limit for this grade is "
                f"{grade.limit:.0f} degC.",
            )
        )
    if margin is not None and margin < MARGIN and outcome != "hot hinge":
        said.append(
            Caution(
                "margin",
                f"At its weakest the hot section could carry only {margin:.2f} times "
                f"the moment on it; under {MARGIN:g} a hotter or longer heat may fold "
                "it.",
            )
        )
    for number, hot in enumerate(starts):
        if hot > NEXT_HEAT:
            said.append(
                Caution(
                    "next heat",
                    f"Heat {number + 2} starts while the steel is still at {hot:.0f} "
                    f"degC; practice waits for {NEXT_HEAT:.0f} degC (FHWA, from memory).",
                )
            )
    if work.bands[0].name == "flange bottom" and case.load.kind != "none":
        said.append(
            Caution(
                "sideways",
                "A long member bent about its strong axis can also buckle sideways, most "
                "of all with one flange hot; brace it. This view does not check it.",
            )
        )
    return said

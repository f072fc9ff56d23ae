"""Sentences of care that go with a result, each where it applies."""

from __future__ import annotations

import numpy as np

from shrinksim.casefile.heating import Heat, StillAir, Vee
from shrinksim.units.quantity import show
from shrinksim.views.caution import (
    LOADED,
    OPEN_END,
    Caution,
    always,
    of_cooling,
    of_moment,
    of_outcome,
    of_starts,
    of_target,
)
from shrinksim.views.elevation.record import Case
from shrinksim.views.elevation.through_thickness import through_thickness, uneven_words
from shrinksim.views.fitting import of_elements, of_patch_ends
from shrinksim.views.unevenness import THROUGH
from shrinksim.views.workpiece import Workpiece


def before(case: Case, work: Workpiece) -> list[Caution]:
    """Cautions that can be told before the torch is lit."""
    said = always()
    load = case.load
    if load.kind != "none":
        said.append(LOADED)
    said += of_moment(moment_of(case, work) / work.plastic_moment)
    through = through_thickness(case)
    if through.number > THROUGH:
        said.append(Caution("thick", uneven_words(through, case.print_units)))
    torches = [p.torch for heat in case.heats for p in heat.patterns]
    said += of_target(torches, work.steel, case.print_units)
    reach = max(float(np.abs(o[:, 0]).max()) for o in work.outlines)
    said += of_patch_ends(work.length, reach, work.depth, case.print_units)
    said += of_elements(work.fine, min(t.radius for t in torches), case.print_units)
    for heat in case.heats:
        said += _of_heat(heat, case.print_units)
    return said


def moment_of(case: Case, work: Workpiece) -> float:
    """The load's moment, N m, + helps."""
    if case.load.moment_ratio is not None:
        return case.load.moment_ratio * work.plastic_moment
    return case.load.moment or 0.0


def _of_heat(heat: Heat, units: str) -> list[Caution]:
    """Cautions on the cooling and the patterns of a heat."""
    said = []
    if not isinstance(heat.cooling, StillAir):
        said += of_cooling(heat.cooling, units)
    for p in heat.patterns:
        if isinstance(p, Vee):
            width = 2.0 * p.depth * np.tan(0.5 * p.angle)
            if width > OPEN_END:
                said.append(
                    Caution(
                        "wide vee",
                        f"The vee is {show(width, 'length', units)} wide at its open "
                        f"end; practice stops at {show(OPEN_END, 'length', units)} "
                        "(FHWA, from memory).",
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
    grade, units = work.steel, case.print_units
    said = of_outcome(grade, peak, margin, outcome, units)
    said += of_starts(starts, units)
    if work.bands[0].name == "flange bottom" and case.load.kind != "none":
        said.append(
            Caution(
                "sideways",
                "A long member bent about its strong axis can also buckle sideways, most "
                "of all with one flange hot; brace it. This view does not check it.",
            )
        )
    return said

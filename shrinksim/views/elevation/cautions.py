"""Cautions of the elevation view, each where it applies."""

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
    """Cautions that are known before the torch is lit."""
    found = always()
    load = case.load
    if load.kind != "none":
        found.append(LOADED)
    found += of_moment(moment_of(case, work) / work.plastic_moment)
    through = through_thickness(case)
    if through.number > THROUGH:
        found.append(Caution("thick", uneven_words(through, case.print_units)))
    torches = [p.torch for heat in case.heats for p in heat.patterns]
    found += of_target(torches, work.steel, case.print_units)
    reach = max(float(np.abs(o[:, 0]).max()) for o in work.outlines)
    found += of_patch_ends(work.length, reach, work.depth, case.print_units)
    found += of_elements(work.fine, min(t.radius for t in torches), case.print_units)
    for heat in case.heats:
        found += _of_heat(heat, case.print_units)
    return found


def moment_of(case: Case, work: Workpiece) -> float:
    """The load's moment, N m, + helps."""
    if case.load.moment_ratio is not None:
        return case.load.moment_ratio * work.plastic_moment
    return case.load.moment or 0.0


def _of_heat(heat: Heat, units: str) -> list[Caution]:
    """Cautions on the cooling and the patterns of a heat."""
    found = []
    if not isinstance(heat.cooling, StillAir):
        found += of_cooling(heat.cooling, units)
    for p in heat.patterns:
        if isinstance(p, Vee):
            width = 2.0 * p.depth * np.tan(0.5 * p.angle)
            if width > OPEN_END:
                found.append(
                    Caution(
                        "wide vee",
                        f"The vee is {show(width, 'length', units)} wide at its open "
                        f"end; practice stops at {show(OPEN_END, 'length', units)} "
                        "(FHWA, from memory).",
                    )
                )
    return found


def after(
    case: Case, work: Workpiece, peak: float, margin: float | None, outcome: str,
    starts: list[float],
) -> list[Caution]:  # fmt: skip
    """Cautions that follow from the result of the run.

    peak : degC.  starts : degC, hottest point when each further heat began.
    """
    grade, units = work.steel, case.print_units
    found = of_outcome(grade, peak, margin, outcome, units)
    found += of_starts(starts, units)
    if work.bands[0].name == "flange bottom" and case.load.kind != "none":
        found.append(
            Caution(
                "sideways",
                "A long member bent about its strong axis can also buckle sideways, most "
                "of all with one flange hot; brace it. This view does not check it.",
            )
        )
    return found

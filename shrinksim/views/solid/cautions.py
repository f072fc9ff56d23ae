"""Sentences of care that go with a result of the solid view, each where it applies."""

from __future__ import annotations

from typing import Any

import numpy as np

from shrinksim.casefile.heating import StillAir, Vee
from shrinksim.shop.steel import Steel
from shrinksim.units.quantity import show
from shrinksim.views.caution import (
    LOADED,
    MOMENT_LIMIT,
    OPEN_END,
    Caution,
    always,
    degrees,
    of_cooling,
    of_moment,
    of_outcome,
    of_starts,
    of_target,
)
from shrinksim.views.fitting import of_elements, of_patch_ends
from shrinksim.views.solid.faces import peaks
from shrinksim.views.solid.geometry import Slab
from shrinksim.views.solid.loading import moments_of
from shrinksim.views.solid.record import SolidCase
from shrinksim.views.solid.result import SolidResult

BENT = 1.0
"""Bend out of the plane over the turn in it from which it is told."""

LAST = 1200.0
"""degC, where the data of EN 1993-1-2 end."""


def before(case: SolidCase, work: Slab) -> list[Caution]:
    """Cautions that can be told before the torch is lit."""
    said, units = always(), case.print_units
    if case.load.kind != "none":
        said.append(LOADED)
    plane, flat = moments_of(case, work)
    said += of_moment(plane / work.sheet.plastic_moment)
    ratio = abs(flat) / work.flat_plastic_moment
    if ratio > MOMENT_LIMIT:
        said.append(
            Caution(
                "flat moment",
                f"The moment out of the plane is {ratio:.2f} of its cold plastic moment; "
                f"practice stops at {MOMENT_LIMIT:g} (FHWA guide, ch. 3, from memory).",
            )
        )
    patterns = [p for heat in case.heats for p in heat.patterns]
    said += _of_targets(patterns, work.steel, units)
    reach = max(float(np.abs(outline[:, 0]).max()) for outline in work.outlines)
    said += of_patch_ends(work.length, reach, work.depth, units)
    radius = min(path.drive.radius for path in work.paths)
    said += of_elements(work.sheet.fine, radius, units)
    for heat in case.heats:
        if not isinstance(heat.cooling, StillAir):
            said += of_cooling(heat.cooling, units)
    said += _of_vees(patterns, units)
    return said


def _of_targets(patterns: list[Any], grade: Steel, units: str) -> list[Caution]:
    """Cautions on what a held torch is held for, and on faces that nobody reads."""
    torches = [p.torch for p in patterns]
    said = of_target(torches, grade, units)
    reads = {t.read for t in torches if t.drive == "held"}
    if reads & {"face after", "back"}:
        said.append(
            Caution(
                "face not read",
                "The torch is held by what the steel shows afterwards or on its back: "
                "the face under the flame is hotter than that. See its hottest "
                "temperature.",
            )
        )
    if any(p.face == "both" for p in patterns):
        said.append(
            Caution(
                "two torches",
                "A torch on each face at once needs two people who see each other, or "
                "one frame that carries both torches.",
            )
        )
    return said


def _of_vees(patterns: list[Any], units: str) -> list[Caution]:
    """Cautions on vees that are wider than practice has them."""
    widths = [
        2.0 * p.depth * float(np.tan(0.5 * p.angle))
        for p in patterns
        if isinstance(p, Vee)
    ]
    return [
        Caution(
            "wide vee",
            f"The vee is {show(width, 'length', units)} wide at its open end; practice "
            f"stops at {show(OPEN_END, 'length', units)} (FHWA, from memory).",
        )
        for width in widths
        if width > OPEN_END
    ]


def after(main: SolidResult) -> list[Caution]:
    """Cautions that follow from what the run found."""
    grade, units = main.geometry.steel, main.case.print_units
    movement = main.movement
    peak = float(main.heat.peak.max())
    said = of_outcome(grade, peak, movement.hinge_margin, main.outcome, units)
    face, back = peaks(main)
    if peak > grade.limit:
        said.append(
            Caution(
                "face too hot",
                f"The face gets to {degrees(face, units)}, the other one to "
                f"{degrees(back, units)}: this heat cannot be given as computed. Use a "
                "softer or wider flame, go faster, or heat both faces.",
            )
        )
    if peak > LAST:
        said.append(
            Caution(
                "beyond the data",
                f"The face gets to {degrees(peak, units)}, above {degrees(LAST, units)} "
                "where the data of the steel end; steel melts from some 1450 degC.",
            )
        )
    bend, turn = abs(movement.out_of_plane), abs(movement.rotation)
    if bend > BENT * turn and bend > 1e-4:
        said.append(
            Caution(
                "out of the plane",
                f"The plate bends {bend * 1e3:.3g} mrad out of its plane and "
                f"{turn * 1e3:.3g} mrad in it. Heat on both faces bends it in its plane "
                "only.",
            )
        )
    said += of_starts(list(main.heat.starting_temperatures[1:]), units)
    return said

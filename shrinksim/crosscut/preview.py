"""What running a section case would do, before anything is solved."""

from __future__ import annotations

from shrinksim.case.quantity import show
from shrinksim.case.section_case import SectionCase
from shrinksim.crosscut.cautions import before
from shrinksim.crosscut.piece import Cut, cut_of, mesh_cut, moments_of
from shrinksim.preview import Preview, cooling_words

STEPS = 95
"""Heat steps of one pattern with its cooling, seen in the shipped cases."""

TRIALS = 4
"""Passes until the speed of a held torch is found, seen in the shipped cases."""


def prepare(case: SectionCase) -> Preview:
    """Mesh a section case and say what running it would do."""
    cut = cut_of(case)
    mesh = mesh_cut(cut)
    unknowns = 2 * len(mesh.points) + 3
    patterns = [h for heat in cut.heats for h in heat]
    steps = STEPS * len(patterns)
    searches = sum(h.drive.target is not None and not h.at_once for h in patterns)
    passes = steps + 0.3 * STEPS * TRIALS * searches
    seconds = 0.5 + passes * (2.5e-3 + 2.3e-6 * unknowns)
    told = tuple(before(case, cut))
    lines = tuple(_sentences(case, cut))
    return Preview(unknowns, len(mesh.triangles), steps, seconds, lines, told)


def _sentences(case: SectionCase, cut: Cut) -> list[str]:
    """What will be done, in order."""
    units = case.print_units
    said = [
        f"{case.member.section}: its section is meshed, elements of "
        f"{show(cut.fine, 'length', units)} at the heated surface, up to "
        f"{show(cut.far, 'length', units)} away from it."
    ]
    load = case.load
    if load.kind == "held":
        said.append("Load: the member is held straight while hot.")
    elif load.kind != "none":
        parts = [
            f"{name} moment {show(moment, 'moment', units)}, {moment / most:.2f} of the "
            "cold plastic moment"
            for name, moment, most in zip(
                ("camber", "sweep"), moments_of(case, cut), cut.moments, strict=True
            )
            if moment != 0.0
        ]
        said.append(f"Load: {load.kind}, {', '.join(parts) or 'axial force only'}.")
    for number, (heat, drawn) in enumerate(zip(case.heats, cut.heats, strict=True)):
        parts = ", then ".join(
            f"{h.kind} on {' and '.join(h.on)} over {show(h.length, 'length', units)}"
            for h in drawn
        )
        cooling = cooling_words(heat.cooling, units)
        said.append(f"Heat {number + 1}: {parts}; {cooling}.")
    said.append(
        "The section view has the heat through the thickness, and takes the heat as "
        "long and the section as plane."
    )
    return said

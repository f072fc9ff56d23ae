"""Preview of a run: mesh, steps, time and cautions, before anything is solved."""

from __future__ import annotations

import numpy as np

from shrinksim.shop.pattern import Pattern, path_length
from shrinksim.units.quantity import show
from shrinksim.views.elevation.cautions import before, moment_of
from shrinksim.views.elevation.record import Case
from shrinksim.views.elevation.through_thickness import differs, through_thickness
from shrinksim.views.preview import Preview, cooling_words
from shrinksim.views.unevenness import THROUGH
from shrinksim.views.workpiece import Workpiece, mesh_of, workpiece

ADVANCE = 0.19
"""Radii that the torch travels in a heat step, observed in the shipped cases."""

COOLING_STEPS = 45
"""Steps of a cooling to cold, observed in the shipped cases."""

ITERATIONS = 4.3
"""Newton iterations in a step, observed in the shipped cases."""


def prepare(case: Case) -> Preview:
    """Mesh a case and preview its run.  Raises as workpiece does."""
    work = workpiece(case)
    mesh = mesh_of(work)
    unknowns = 2 * len(mesh.points)
    steps = sum(
        COOLING_STEPS + sum(_torch_steps(p) for p in heat) for heat in work.patterns
    )
    iteration = 29.0 * unknowns**2 / 2.5e10 + 1.6e-6 * unknowns
    seconds = steps * (ITERATIONS * iteration + 2e-5 * len(mesh.triangles)) + 1.0
    lines = tuple(_sentences(case, work))
    cautions = tuple(before(case, work))
    return Preview(unknowns, len(mesh.triangles), steps, seconds, lines, cautions)


def _torch_steps(pattern: Pattern) -> int:
    length = float(path_length(pattern.path.points)[-1])
    return 12 + int(np.ceil(length / (ADVANCE * pattern.path.drive.radius)))


def _sentences(case: Case, work: Workpiece) -> list[str]:
    """Steps of the run, in order, in sentences."""
    units = case.print_units
    sentences = [
        f"{case.member.section}: a patch {show(work.length, 'length', units)} long is "
        f"meshed, {show(work.depth, 'length', units)} deep in this view; elements of "
        f"{show(work.fine, 'length', units)} in the heated pattern, up to "
        f"{show(work.far, 'length', units)} away from it.",
        *_load(case, work),
    ]
    for number, (heat, drawn) in enumerate(zip(case.heats, work.patterns, strict=True)):
        kinds = ", then ".join(p.kind for p in heat.patterns)
        length = sum(float(path_length(p.path.points)[-1]) for p in drawn)
        sentences.append(
            f"Heat {number + 1}: {kinds}; {show(length, 'length', units)} of torch path; "
            f"{cooling_words(heat.cooling, units)}."
        )
    through = through_thickness(case)
    verdict = "enough" if through.number <= THROUGH else "coarse here (see below)"
    sentences.append(f"{differs(through)}: the view in the plane is {verdict}.")
    return sentences


def _load(case: Case, work: Workpiece) -> list[str]:
    """The load, with the stiffness of its source."""
    load, units = case.load, case.print_units
    if load.kind == "none":
        return []
    if load.kind == "held":
        return ["Load: the ends are held."]
    moment = moment_of(case, work)
    text = (
        f"Load: {load.kind}, moment {show(moment, 'moment', units)}, "
        f"{moment / work.plastic_moment:.2f} of the cold plastic moment "
        f"{show(work.plastic_moment, 'moment', units)}"
    )
    k = load.stiffness
    if load.stiffness_ratio is not None:
        k = load.stiffness_ratio * work.bending_stiffness / work.length
    if load.kind in ("jack", "clamp") and k is not None:
        text += f"; its stiffness {show(k, 'rotational_stiffness', units)}"
        if load.stiffness_ratio is not None:
            text += f", {load.stiffness_ratio:g} EI/L of the patch"
    return [f"{text}."]

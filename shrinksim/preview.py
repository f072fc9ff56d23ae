"""What running a case would do: its mesh, steps and time, before anything is solved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.case.schema import Case
from shrinksim.cautions import THROUGH, Caution, before, moment_of, through_thickness
from shrinksim.shop.pattern import Pattern, path_length
from shrinksim.workpiece import Workpiece, mesh_of, workpiece

ADVANCE = 0.19
"""Radii that the torch goes in a heat step, seen in the shipped cases."""

COOLING_STEPS = 45
"""Steps of a cooling to cold, seen in the shipped cases."""

ITERATIONS = 4.3
"""Newton iterations in a step, seen in the shipped cases."""


@dataclass(frozen=True)
class Preview:
    """unknowns of displacement, elements, steps and seconds (estimates), what will be
    done in sentences, and the cautions that can be told before.
    """

    unknowns: int
    elements: int
    steps: int
    seconds: float
    lines: tuple[str, ...]
    cautions: tuple[Caution, ...]


def prepare(case: Case) -> Preview:
    """Mesh a case and say what running it would do.  Raises as workpiece does."""
    work = workpiece(case)
    mesh = mesh_of(work)
    unknowns = 2 * len(mesh.points)
    steps = sum(
        COOLING_STEPS + sum(_torch_steps(p) for p in heat) for heat in work.patterns
    )
    iteration = 29.0 * unknowns**2 / 2.5e10 + 1.6e-6 * unknowns
    seconds = steps * (ITERATIONS * iteration + 2e-5 * len(mesh.triangles)) + 1.0
    lines = tuple(_sentences(case, work))
    told = tuple(before(case, work))
    return Preview(unknowns, len(mesh.triangles), steps, seconds, lines, told)


def _torch_steps(pattern: Pattern) -> int:
    length = float(path_length(pattern.path.points)[-1])
    return 12 + int(np.ceil(length / (ADVANCE * pattern.path.drive.radius)))


def _sentences(case: Case, work: Workpiece) -> list[str]:
    """What will be done, in order."""
    said = [
        f"{case.member.section}: {work.length * 1e3:.0f} mm of it are meshed, "
        f"{work.depth * 1e3:.0f} mm deep in this view; elements of "
        f"{work.fine * 1e3:.1f} mm in the heated pattern, up to "
        f"{work.far * 1e3:.0f} mm away from it."
    ]
    moment = moment_of(case, work)
    if case.load.kind != "none":
        said.append(
            f"Load: {case.load.kind}, moment {moment / 1e3:.3g} kN m, "
            f"{moment / work.plastic_moment:.2f} of the cold plastic moment "
            f"{work.plastic_moment / 1e3:.3g} kN m."
        )
    for number, (heat, drawn) in enumerate(zip(case.heats, work.patterns, strict=True)):
        kinds = ", then ".join(p.kind for p in heat.patterns)
        length = sum(float(path_length(p.path.points)[-1]) for p in drawn)
        said.append(
            f"Heat {number + 1}: {kinds}; {length * 1e3:.0f} mm of torch path; then "
            f"{heat.cooling.kind}."
        )
    through = through_thickness(case)
    verdict = "enough" if through <= THROUGH else "NOT enough (see below)"
    said.append(
        f"Through the thickness the steel differs by about {through:.0%} of its rise: "
        f"the view in the plane is {verdict}."
    )
    return said

"""The stages of the section view."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from shrinksim.errors import NotConverged
from shrinksim.fem.conduction import medium
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.section import SectionBody
from shrinksim.shop.outline import along_surface
from shrinksim.strain import StrainHistory, section_body
from shrinksim.views.caution import Caution
from shrinksim.views.named_points import point_temperatures
from shrinksim.views.section import cautions
from shrinksim.views.section.geometry import Cut, cut_of, mesh_cut
from shrinksim.views.section.heating import heat_cut
from shrinksim.views.section.loading import hold_of
from shrinksim.views.section.measures import MEASURES, trust
from shrinksim.views.section.movement import (
    SectionMovement,
    folded_section,
    section_movement,
)
from shrinksim.views.section.record import SectionCase
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.torch import with_outline
from shrinksim.views.view import Heating, Held, Loaded, Say, Stages

FOLD = 0.02
"""Strain at the arm of the section taken as folding: ten times a yield curvature."""

COARSER = 2.0
"""Ratio of the two runs: element sides and step limits."""

FLOOR = 0.004
"""Least numerical error, as a share: speeds are found to 2 K, and on meshes 0.6 times
as fine the shipped cases change by up to 0.4 %."""


def heat(
    case: SectionCase, cut: Cut, mesh: Mesh, say: Say,
    speeds: Sequence[float | None],
) -> Heating:  # fmt: skip
    """The heat stage of a section case on its mesh."""
    table = cut.steel.heat
    body = medium(
        with_outline(mesh), 1.0, table.start, table.step, table.conductivity,
        table.heat_content,
    )  # fmt: skip
    return heat_cut(
        case,
        cut,
        body,
        lambda t, text: say("heat", math.nan, f"t = {t:.0f} s, {text}"),
        speeds,
    )


def body(case: SectionCase, cut: Cut, mesh: Mesh) -> SectionBody:
    """The section for the strain stage."""
    return section_body(mesh, cut.steel.strain, cold=case.surroundings.ambient)


def hold(case: SectionCase, cut: Cut, section: SectionBody) -> Held:
    """The case's load on the section."""
    return Held(hold_of(case, cut, section), FOLD)


def _folded(error: NotConverged, on: Loaded) -> StrainHistory:
    return folded_section(error, on.body, FOLD)


def _move(on: Loaded, strain: StrainHistory) -> SectionMovement:
    ends = on.heating.history.ends_of_heats(len(on.case.heats))
    return section_movement(on.geometry, on.body, on.held.support, strain, ends)


def coarser(case: SectionCase, cut: Cut, factor: float = COARSER) -> SectionCase:
    """The case with sides and step limits times ``factor``."""
    numerics = case.numerics.coarser(cut.fine, cut.far, factor)
    return case.model_copy(update={"numerics": numerics})


def refinement(
    main: SectionResult, other: SectionResult, searched: bool
) -> Mapping[str, float | bool]:
    """Changes in the coarser run, per cent of the larger curvature, and numerical errors.

    searched : the speed of the torch was searched for again on the coarser mesh.
    """
    one, two = main.movement, other.movement
    most = max(abs(one.camber), abs(one.sweep), 1e-12)
    bend = max(abs(one.camber_rotation), abs(one.sweep_rotation)) * 1e3
    camber = 100.0 * (two.camber - one.camber) / most
    sweep = 100.0 * (two.sweep - one.sweep) / most
    shortening = (two.shortening - one.shortening) * 1e3
    return {
        "factor": COARSER,
        "torch_anew": searched,
        "camber_change_percent": camber,
        "sweep_change_percent": sweep,
        "shortening_change_mm": shortening,
        "camber_error_mrad": max(abs(camber) / 100.0, FLOOR) * bend,
        "sweep_error_mrad": max(abs(sweep) / 100.0, FLOOR) * bend,
        "shortening_error_mm": max(abs(shortening), FLOOR * abs(one.shortening) * 1e3),
    }


def after(main: SectionResult) -> list[Caution]:
    """Cautions that follow from the result of the run."""
    margin = main.movement.hinge_margin
    return cautions.after(
        main.case,
        main.geometry,
        main.heat,
        main.heating.schedules,
        margin,
        main.outcome,
    )


def points(result: SectionResult) -> dict[str, tuple[float, float]]:
    """Under the first torch and farthest from it: (x, y) m."""
    cut, mesh = result.geometry, result.mesh
    name, low, high = cut.spans[0]
    middle = along_surface(cut.pieces, name, np.array([0.5 * (low + high)]))[0]
    far = mesh.points[int(np.argmax(np.linalg.norm(mesh.points - middle, axis=1)))]
    named = {"under the torch": middle, "farthest from it": far}
    return {k: (float(p[0]), float(p[1])) for k, p in named.items()}


STAGES = Stages(
    draw=cut_of,
    mesh=mesh_cut,
    heat=heat,
    body=body,
    hold=hold,
    folded=_folded,
    move=_move,
    coarser=coarser,
    refinement=refinement,
    before=cautions.before,
    after=after,
    measures=MEASURES,
    trust=trust,
    points=points,
    point_temperatures=point_temperatures,
)

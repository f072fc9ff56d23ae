"""Quantities of the elevation view, and how far to trust them."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.heat.history import HeatHistory
from shrinksim.heat.phase import PhaseName
from shrinksim.views.elevation.record import Case
from shrinksim.views.measures import (
    EFFORT,
    MM,
    MOMENT,
    MRAD,
    heat_measures,
    history_measures,
    residual_stresses,
    shortening,
    torch_measures,
    unless_folded,
)
from shrinksim.views.ranking import Ranking, moved, refined
from shrinksim.views.view import LineTurn, Measure, Shown, Trace


def _along(r: Any) -> FloatArray:
    """Stress along the member (e, q) in MPa, without overlays."""
    return r.strain.stress[: len(r.mesh.triangles), :, 0] / 1e6


def _plastic(r: Any) -> float:
    """Largest equivalent plastic strain, without overlays."""
    return float(r.strain.equivalent_plastic[: len(r.mesh.triangles)].max())


MEASURES = (
    Measure(
        "rotation_mrad", lambda r: r.movement.rotation * 1e3, "permanent rotation",
        column="rotation [mrad]", scale=MRAD,
        trace=Trace("rotation", "rotation", "mrad"),
        history=lambda r: r.movement.rotation_history, error="rotation_error_mrad",
        ranking=Ranking(
            "mrad", "most", float, moved("rotation_mrad"),
            refined("rotation_error_mrad"), refined("rotation_change_mrad"),
            sign="+ closes the wide end",
        ),
        bend=LineTurn("", spread=False),
        shown=Shown(
            "mrad", "mrad", "closes the wide end", "opens the wide end",
            folded="rotation when it stopped",
        ),
    ),
    replace(
        shortening(), column="shortening [mm]", scale=MM,
        trace=Trace("shortening", "shortening", "length"),
        history=lambda r: r.movement.shortening_history,
    ),
    Measure("curvature_per_m", lambda r: r.movement.curvature, "curvature"),
    Measure(
        "heated_length_mm", lambda r: r.movement.heated_length * 1e3, "heated length"
    ),
    Measure(
        "rotation_elastic_mrad", unless_folded(lambda r: r.movement.rotation_elastic * 1e3)
    ),
    Measure(
        "rotation_loaded_mrad",
        unless_folded(lambda r: (r.movement.rotation + r.movement.rotation_elastic) * 1e3),
    ),
    Measure(
        "rotation_from_plastic_mrad",
        unless_folded(lambda r: r.movement.rotation_from_plastic * 1e3),
    ),
    Measure(
        "", column="moment [kN m]", scale=MOMENT,
        history=lambda r: r.movement.moment_history,
    ),
    *heat_measures(),
    *history_measures(),
    *torch_measures(lambda r: r.heat.heating_time, lambda r: burnt(r.case, r.heat)),
    *residual_stresses(lambda r: float(_along(r).max()), lambda r: float(-_along(r).min())),
    Measure("max_plastic_strain", _plastic, "largest plastic strain"),
    *EFFORT,
)  # fmt: skip


def burnt(case: Case, heat: HeatHistory) -> float:
    """Energy (J) of the gas: burnt power of the torches while they were on."""
    total, steps = 0.0, np.diff(heat.times)
    plan = 2 if case.member.bending == "weak" else 1
    patterns = [p for h in case.heats for p in h.patterns]
    for seconds, p in zip(_torch_seconds(heat, steps), patterns, strict=False):
        total += seconds * p.torch.power * p.torch.torches * plan
    return total


def _torch_seconds(heat: HeatHistory, steps: FloatArray) -> list[float]:
    """Seconds of each run of the torch, in order; a new path starts a new run."""
    runs: list[float] = []
    before: PhaseName | None = None
    for dt, name, at in zip(steps, heat.phases[1:], heat.torch[1:], strict=True):
        if not np.isfinite(at[0]):
            before = None
            continue
        if name != before:
            runs.append(0.0)
        runs[-1] += float(dt)
        before = name
    return runs


def trust(result: Any) -> tuple[str, ...]:
    """Sentences on what is modelled, what is not, and how large that may be."""
    case, refinement = result.case, result.refinement
    sentences = [
        "Single heats scatter by about half of their mean, means of several heats by "
        "about a quarter (from memory, low confidence): take the number as the middle "
        "of such a band, and measure after each heat.",
        "Modelled: heat spreading in the plane of the drawing, losses from the faces, "
        "steel that softens and yields by EN 1993-1-2, the load as it relaxes.",
        "Not modelled: differences through the thickness, buckling or dishing of thin "
        "plate, phase change above about 720 degC, creep beyond what the EN curves "
        "contain, residual stress from rolling or earlier damage, the operator's hand.",
    ]
    if not case.member.shape.flat:
        sentences.append(
            "An I-section is one sheet here: a flange seen on edge has one temperature "
            "over its width, and the radii at its roots are lumped into the web."
        )
    if refinement is None:
        sentences.append(
            "The numerical error is not known, because the coarser run was not "
            "completed."
        )
        return tuple(sentences)
    search = "; the travel schedule was searched for again" * bool(
        refinement["torch_anew"]
    )
    scatter = (
        ", and from the relative scatter of the movement due to the schedule search "
        "(3 %, about the weak axis 5 %)" * result.heating.held
    )
    sentences.append(
        "Numerical error (standard deviation): about "
        f"{refinement['rotation_error_mrad']:.3f} mrad and "
        f"{refinement['shortening_error_mm']:.4f} mm, from a repeat with mesh and "
        f"steps {refinement['factor']:g} times as coarse, which changed the rotation "
        f"by {refinement['rotation_change_mrad']:+.3f} mrad and the shortening by "
        f"{refinement['shortening_change_mm']:+.4f} mm{search or scatter}."
    )
    return tuple(sentences)

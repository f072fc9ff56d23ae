"""Quantities of the solid view, and how far to trust them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from shrinksim.heat.history import HeatHistory
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
from shrinksim.views.rows import NO_ROTATION
from shrinksim.views.solid.faces import along, peaks
from shrinksim.views.solid.record import SolidCase, torches_on
from shrinksim.views.view import LineTurn, Measure, Shown, Trace, always

HAIR = 0.005
"""mm; a smaller gap under a straight edge is not seen."""


def _turn(
    key: str, words: str, plus: str, minus: str, bend: LineTurn | None
) -> Measure:
    """A permanent turn of the plate's end, with its history."""
    name = f"{key}_mrad"
    return Measure(
        name, lambda r: getattr(r.movement, key) * 1e3, words,
        column=f"{key.replace('_', ' ')} [mrad]", scale=MRAD,
        trace=Trace(key, words.removeprefix("permanent "), "mrad"),
        history=lambda r: getattr(r.movement, f"{key}_history"),
        error=f"{key}_error_mrad", bend=bend,
        ranking=Ranking(
            "mrad", "most", float, moved(name), refined(f"{key}_error_mrad"),
            refined(f"{key}_change_mrad"), sign=f"+ {plus}",
        ),
        shown=Shown(
            "mrad", "mrad", plus, minus, folded=f"{words} when it stopped",
            where=always if bend else lambda s: abs(s[name]) >= NO_ROTATION,
        ),
    )  # fmt: skip


def _extreme(side: int, sign: float) -> Callable[[Any], float]:
    """Largest residual stress along the member, MPa, on a face: 0 front, 1 back."""
    return lambda r: float((sign * along(r)[side]).max()) / 1e6


MEASURES = (
    _turn(
        "rotation", "permanent rotation in the plane", "closes the wide end",
        "opens the wide end", LineTurn("in the plane", spread=False),
    ),
    _turn(
        "out_of_plane", "permanent rotation out of the plane", "front hollow",
        "back hollow", LineTurn("out of the plane", spread=False),
    ),
    _turn("twist", "permanent twist", "top of the right end forward",
          "top of the right end backward", None),
    replace(
        shortening(), column="shortening [mm]", scale=MM,
        trace=Trace("shortening", "shortening", "length"),
        history=lambda r: r.movement.shortening_history,
    ),
    Measure(
        "dish_mm", unless_folded(lambda r: r.movement.dish * 1e3),
        "largest distance from a straight edge across the width", error="dish_error_mm",
        shown=Shown("mm", "length", where=lambda s: (s["dish_mm"] or 0.0) >= HAIR),
    ),
    Measure("dish_length_mm", lambda r: r.movement.dish_length * 1e3),
    Measure(
        "heated_length_mm", lambda r: r.movement.heated_length * 1e3, "heated length"
    ),
    Measure(
        "rotation_elastic_mrad", unless_folded(lambda r: r.movement.rotation_elastic * 1e3)
    ),
    Measure(
        "out_of_plane_elastic_mrad",
        unless_folded(lambda r: r.movement.out_of_plane_elastic * 1e3),
    ),
    Measure(
        "", column="moment [kN m]", scale=MOMENT,
        history=lambda r: r.movement.moment_history,
    ),
    Measure(
        "", column="flat moment [kN m]", scale=MOMENT,
        history=lambda r: r.movement.flat_moment_history,
    ),
    Measure(
        "face_peak_temperature_C", lambda r: peaks(r)[0], "hottest of the face",
        error="face_peak_error_K",
    ),
    Measure(
        "back_peak_temperature_C", lambda r: peaks(r)[1], "hottest of the other face",
        shown=Shown("degC", "temperature"),
    ),
    *heat_measures(),
    *history_measures(),
    *torch_measures(lambda r: r.heat.heating_time, lambda r: burnt(r.case, r.heat)),
    *residual_stresses(
        lambda r: float(r.strain.stress[..., 0].max()) / 1e6,
        lambda r: float(-r.strain.stress[..., 0].min()) / 1e6,
    ),
    *(
        Measure(
            f"{side}_residual_{name}_MPa", unless_folded(_extreme(number, sign)),
            f"largest residual {name} on the {side}",
        )
        for number, side in enumerate(("front", "back"))
        for name, sign in (("tension", 1.0), ("compression", -1.0))
    ),
    Measure(
        "max_plastic_strain", lambda r: float(r.strain.equivalent_plastic.max()),
        "largest plastic strain",
    ),
    *EFFORT,
)  # fmt: skip


def burnt(case: SolidCase, heat: HeatHistory) -> float:
    """Energy (J) of the gas: burnt power of the torches while they were on."""
    patterns = {
        (i, j): p
        for i, h in enumerate(case.heats, start=1)
        for j, p in enumerate(h.patterns, start=1)
    }
    total = 0.0
    for dt, name, at in zip(
        np.diff(heat.times), heat.phases[1:], heat.torch[1:], strict=True
    ):
        if np.isfinite(at[0]):
            p = patterns[name.heat, name.torch]
            total += float(dt) * p.torch.power * torches_on(p.face)
    return total


def trust(result: Any) -> tuple[str, ...]:
    """Sentences on what is modelled, what is not, and how large that may be."""
    refinement, work = result.refinement, result.geometry
    said = [
        "Single heats scatter by about half of their mean, means of several heats by "
        "about a quarter (from memory, low confidence): take the number as the middle "
        "of such a band, and measure after each heat.",
        "Modelled: heat spreading in the plate and through its thickness, losses from "
        "its faces and edges, steel that softens and yields by EN 1993-1-2 in three "
        "dimensions, the load as it relaxes.",
        "Not modelled: buckling, phase change above about 720 degC, creep beyond what "
        "the EN curves contain, residual stress from rolling or earlier damage, the "
        "operator's hand.",
    ]
    if refinement is None:
        said.append(
            "The numerical error is not known: the coarser run that would tell it did "
            "not come to its end."
        )
        return tuple(said)
    torch = "; the torch's way was looked for anew" * bool(refinement["torch_anew"])
    way = (
        ", from what the way of a held torch leaves open (3 %, and 1.5 % of the largest "
        "movement while hot)" * result.heating.held
    )
    said.append(
        f"Numerical error: about {refinement['rotation_error_mrad']:.3f} mrad in the "
        f"plane, {refinement['out_of_plane_error_mrad']:.2f} mrad out of it and "
        f"{refinement['shortening_error_mm']:.4f} mm, from a repeat with mesh and steps "
        f"{refinement['factor']:g} times as coarse (rotation "
        f"{refinement['rotation_change_mrad']:+.3f} and "
        f"{refinement['out_of_plane_change_mrad']:+.2f} mrad){torch or way}, and from "
        f"what orders {work.through} through the thickness leave out: "
        f"{work.lost:.1%} of the rotation out of the plane, a quarter of that of the "
        "others, by comparison with a three-dimensional reference."
    )
    return tuple(said)

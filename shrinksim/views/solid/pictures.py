"""The report's figures: which there are, what they say, and their files."""

from __future__ import annotations

import numpy as np

from shrinksim.page.picture import Drawing
from shrinksim.views.curves import temperature
from shrinksim.views.rows import TINY
from shrinksim.views.solid.curves import bend, growth
from shrinksim.views.solid.deformed import factor_of, shape
from shrinksim.views.solid.faces import along, peaks
from shrinksim.views.solid.maps import peak, residual
from shrinksim.views.solid.preview import ON
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.solid.setup_drawing import setup
from shrinksim.views.solid.through import faces_apart, through_thickness
from shrinksim.views.solid.words import headline
from shrinksim.views.words import heat_of, milliradian, size, strength

PLATES = (
    Drawing(
        "setup", "Set-up",
        "Above: the modelled part of the plate with its load, seen from the front, to "
        "scale. Below: where the torch starts (numbered) and its path, and the plate's "
        "end with the torch on its face. Heights count from the bottom edge, lengths "
        "from the middle.",
        setup,
    ),
    Drawing(
        "peak_temperature", "Hottest each place became",
        "Both faces seen from the front, on one scale of colour. Lines mark the "
        "practice limit of the grade and the lower transformation temperature, where a "
        "face passed them.",
        peak,
    ),
    Drawing(
        "through_thickness", "Temperature through the thickness",
        "Above: a cut across the plate through its hottest place, at the moment when it "
        "is hottest. Below: from the back to the front on the dotted line, before that "
        "moment and after it. Where the faces differ, the plate bends out of its plane.",
        through_thickness,
    ),
    Drawing(
        "temperature_time", "Temperature at the named points", "Shaded: torch on.",
        temperature,
    ),
    Drawing(
        "movement_time", "How the movement grew",
        "Rotation in the plane is positive when the wide end of the heat closes, out of "
        "it when the front gets hollow. Movements that stay nothing are not shown.",
        growth,
    ),
    Drawing(
        "residual_stress", "Stress along the member",
        "Near both faces, seen from the front. White lines: no stress. Right: over the "
        "height, on the dotted line.",
        residual,
    ),
    Drawing(
        "shape", "Shape before and after",
        "The middle of the thickness, seen from the right and above; dotted, the heat. "
        "The left end is drawn held, cross-sections straight, and the short upset of "
        "the heat evened out; only rotations, twist and shortening matter.",
        shape,
    ),
    Drawing(
        "bend_along", "Rotation along the member",
        "The left end is taken as held. Where a line is steep, the plate bends.",
        bend,
    ),
)  # fmt: skip


def plates(result: SolidResult) -> list[Drawing]:
    """The plates that a result has something to show for."""
    movement = result.movement
    profiles = movement.profile_rotation, movement.profile_out_of_plane
    bent = max(float(np.ptp(turn)) for turn in profiles) >= TINY * milliradian()
    return [p for p in PLATES if bent or p.name != "bend_along"]


def alternative(result: SolidResult, plate: Drawing) -> str:
    """A figure in a sentence, with its main number."""
    hottest = heat_of(result, float(result.heat.peak.max()))
    faces = (heat_of(result, T) for T in peaks(result))
    cut = (heat_of(result, T) for T in faces_apart(result))
    stresses = (
        f"from {strength(result, float(s.min()))} to {strength(result, float(s.max()))}"
        for s in along(result)
    )
    number = {
        "setup": f"Drawing of the plate, {size(result, result.geometry.thickness)} "
        f"thick, with {_heats(result)}.",
        "peak_temperature": "Maps of peak temperatures: the heated face up to "
        + ", the other one up to ".join(faces)
        + ".",
        "through_thickness": "Map and curves; when it is hottest the front is at "
        + " and the back at ".join(cut)
        + ".",
        "temperature_time": f"Curves that rise to at most {hottest}.",
        "movement_time": headline(result),
        "residual_stress": "Maps and curves; stress goes "
        + " on the front and ".join(stresses)
        + " on the back.",
        "shape": f"{headline(result)} Drawn {factor_of(result):g} times as large.",
        "bend_along": "The rotation grows across the heated "
        f"{size(result, result.movement.heated_length)}.",
    }.get(plate.name, plate.caption)
    return f"{plate.heading}. {number}"


def _heats(result: SolidResult) -> str:
    """The torch paths and their faces in words."""
    faces = result.geometry.every_face
    said = [
        f"{count} torch path{'s' * (count > 1)} {ON[face]}"
        for face in ("front", "back", "both")
        if (count := faces.count(face))
    ]
    return " and ".join(said)

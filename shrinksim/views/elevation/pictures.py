"""Pictures of the report: headings, captions and drawing functions.

Every drawing function takes a result and returns a Figure of its own.
"""

from __future__ import annotations

from shrinksim.page.picture import Drawing
from shrinksim.views.curves import temperature
from shrinksim.views.elevation.curves import bend, growth, margin
from shrinksim.views.elevation.deformed import shape
from shrinksim.views.elevation.dimensions import heats_drawn
from shrinksim.views.elevation.maps import peak, residual, snapshots
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.elevation.setup_drawing import setup
from shrinksim.views.elevation.words import headline
from shrinksim.views.load_words import loaded
from shrinksim.views.words import heat_of, size, strength

PLATES = (
    Drawing(
        "setup", "Set-up",
        "Above: the modelled part of the member with its load, to scale. Below: where "
        "the torch starts (numbered) and its path. Heights count from the "
        "bottom edge, lengths from the middle.",
        setup,
    ),
    Drawing(
        "temperature_maps", "Temperature while heating and cooling",
        "Dashed: outline of the heat. Ring: the torch. One scale of colour for all.",
        snapshots,
    ),
    Drawing(
        "peak_temperature", "Peak temperature",
        "Lines mark the practice limit of the grade and the lower transformation "
        "temperature, where they were reached.",
        peak,
    ),
    Drawing(
        "temperature_time", "Temperature at the named points", "Shaded: torch on.",
        temperature,
    ),
    Drawing(
        "movement_time", "Movement over time",
        "The rotation is positive when the wide end of the heat closes; while it is hot "
        "the member can move the other way first.",
        growth,
    ),
    Drawing(
        "moment_time", "Load and hot strength",
        "The member folds where the two lines meet. The bar marks where they come "
        "closest in proportion.",
        margin,
    ),
    Drawing(
        "residual_stress", "Stress along the member",
        "White lines: no stress. Right: over the depth, on the dotted line.",
        residual,
    ),
    Drawing(
        "shape", "Shape before and after",
        "The left end is drawn held; only the rotation and the shortening matter.", shape,
    ),
    Drawing(
        "bend_along", "Rotation along the member",
        "The left end is taken as held. Where the line is steep, the member bends.",
        bend,
    ),
)  # fmt: skip


def plates(result: ElevationResult) -> list[Drawing]:
    """The pictures that apply to a result."""
    return [p for p in PLATES if p.name != "moment_time" or loaded(result)]


def alternative(result: ElevationResult, plate: Drawing) -> str:
    """A figure in a sentence, with its main number."""
    hottest = heat_of(result, float(result.heat.peak.max()))
    margin = result.movement.hinge_margin
    along = result.strain.stress[: len(result.mesh.triangles), :, 0]
    tension = strength(result, float(along.max()))
    number = {
        "setup": f"Drawing of the member with its load; {heats_drawn(result)}.",
        "moment_time": "Curves of the moment and of the hot plastic moment"
        + (f"; the hot-hinge margin is {margin:.2f}." if margin is not None else "."),
        "residual_stress": f"Map and curve; the largest tension is {tension}.",
        "temperature_maps": f"Four maps; the hottest point reaches {hottest}.",
        "peak_temperature": f"Map of peak temperatures up to {hottest}.",
        "temperature_time": f"Curves that rise to at most {hottest}.",
        "movement_time": headline(result),
        "shape": headline(result),
        "bend_along": "The rotation rises across the heated "
        f"{size(result, result.movement.heated_length)}.",
    }.get(plate.name, plate.caption)
    return f"{plate.heading}. {number}"

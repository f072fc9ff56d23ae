"""Pictures of a section's report: headings, captions and drawing functions."""

from __future__ import annotations

from shrinksim.page.picture import Drawing
from shrinksim.views.section.curves import growth, has_margin, margin, temperature
from shrinksim.views.section.deformed import shape
from shrinksim.views.section.heats_in_words import burns, dimensions, where
from shrinksim.views.section.maps import peak, plastic, residual, snapshots
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.setup_drawing import setup
from shrinksim.views.section.words import headline
from shrinksim.views.words import heat_of, strength

SECTION_PLATES = (
    Drawing(
        "setup", "Set-up",
        "Above: the section with its heated surfaces (red) and the torches. "
        "Below: the heats along the member. Heights count from the lowest fibre, widths "
        "from the middle; right and left are as drawn.",
        setup,
    ),
    Drawing(
        "temperature_maps", "Temperature while heating and cooling",
        "In one section that the torch passes. Red edge: heated surface. One scale of "
        "colour for all.",
        snapshots,
    ),
    Drawing(
        "peak_temperature", "Peak temperature",
        "Lines mark the practice limit of the grade and the lower transformation "
        "temperature, where they were reached. Red edge: heated surface.",
        peak,
    ),
    Drawing(
        "temperature_time", "Temperature at the named points",
        "In one section, from shortly before the torch is there. Shaded: torch on it, "
        "and forced cooling.",
        temperature,
    ),
    Drawing(
        "movement_time", "Movement over time",
        "Camber counts positive when the top becomes the hollow side, sweep when the "
        "right side does; strain counts positive when the member is longer. While it is "
        "hot the member moves the other way first.",
        growth,
    ),
    Drawing(
        "moment_time", "Load and hot strength",
        "The member folds where the curve reaches the dashed line.",
        margin,
    ),
    Drawing(
        "residual_stress", "Stress along the member",
        "Orange: tension. Purple: compression. White line: no stress. Black lines: half "
        "the yield strength, dashed in compression. The usual pattern: the heated zone "
        "is left in tension near the yield strength, and the rest balances it in "
        "compression, with tension again on the far side where the member bends.",
        residual,
    ),
    Drawing(
        "plastic_strain", "Plastic strain",
        "Plastic strain accumulated in heating and cooling, in either direction; it "
        "causes the permanent movement of the member.",
        plastic,
    ),
    Drawing(
        "shape", "Shape before and after",
        "The section without its rigid-body movement. Members: the heat in the middle, "
        "seen from the side for camber and from above for sweep.",
        shape,
    ),
)  # fmt: skip


def section_plates(result: SectionResult) -> list[Drawing]:
    """The pictures that apply to a result."""
    wanted = has_margin(result)
    return [p for p in SECTION_PLATES if p.name != "moment_time" or wanted]


def section_alternative(result: SectionResult, plate: Drawing) -> str:
    """A figure in a sentence, with its main number."""
    hottest = heat_of(result, float(result.heat.peak.max()))
    most = 100.0 * float(result.strain.equivalent_plastic.max())
    tension = strength(result, float(result.strain.stress[..., 3].max()))
    margin = result.movement.hinge_margin
    heated = "; ".join(dict.fromkeys(where(result, burn) for burn in burns(result)))
    number = {
        "setup": f"Drawing of the section, {dimensions(result)}; heated: {heated}.",
        "moment_time": "Curve of the moment over the hot plastic moment"
        + (f"; the hot-hinge margin is {margin:.2f}." if margin is not None else "."),
        "temperature_maps": f"Maps; the hottest point reaches {hottest}.",
        "peak_temperature": f"Map of peak temperatures up to {hottest}.",
        "temperature_time": f"Curves that rise to at most {hottest}.",
        "movement_time": headline(result),
        "residual_stress": f"Map and curves; the largest tension is {tension}.",
        "plastic_strain": f"Map of plastic strain up to {most:.2g} %.",
        "shape": headline(result),
    }.get(plate.name, plate.caption)
    return f"{plate.heading}. {number}"

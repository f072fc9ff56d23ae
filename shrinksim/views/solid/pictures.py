"""The report's figures: which there are, what they say, and their files."""

from __future__ import annotations

from shrinksim.page.picture import Drawing
from shrinksim.views.curves import temperature
from shrinksim.views.solid.curves import growth
from shrinksim.views.solid.maps import peak, setup
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.solid.words import headline
from shrinksim.views.words import heat_of

PLATES = (
    Drawing(
        "setup", "Set-up",
        "The modelled part of the plate, seen from the front. Solid: outlines on the "
        "front. Dashed: on the back. The torch starts at the number and follows the line.",
        setup,
    ),
    Drawing(
        "peak_temperature", "Hottest each place became",
        "Above the front, below the back, both seen from the front, one scale of colour.",
        peak,
    ),
    Drawing(
        "temperature_time", "Temperature at the named points", "Shaded: torch on.",
        temperature,
    ),
    Drawing(
        "movement_time", "How the movement grew",
        "Rotation in the plane is positive when the wide end of the heat closes, out of "
        "it when the front gets hollow.",
        growth,
    ),
)  # fmt: skip


def plates(result: SolidResult) -> list[Drawing]:  # noqa: ARG001 (every one)
    """The plates that a result has something to show for."""
    return list(PLATES)


def alternative(result: SolidResult, plate: Drawing) -> str:
    """A figure in a sentence, with its main number."""
    hottest = heat_of(result, float(result.heat.peak.max()))
    number = {
        "peak_temperature": f"Maps of peak temperatures up to {hottest}.",
        "temperature_time": f"Curves that rise to at most {hottest}.",
        "movement_time": headline(result),
    }.get(plate.name, plate.caption)
    return f"{plate.heading}. {number}"

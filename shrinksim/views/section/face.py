"""Report, pictures and fields of the section view."""

from __future__ import annotations

from shrinksim.arrays import FloatArray
from shrinksim.views.fields import plane_fields
from shrinksim.views.section.deformed import fine_ring, shifted
from shrinksim.views.section.pictures import section_alternative, section_plates
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.words import report_words
from shrinksim.views.view import Face


def shape(result: SectionResult) -> tuple[FloatArray, FloatArray, float]:
    """Outline of the section and its displacement, m."""
    ring = fine_ring(result)
    return ring, shifted(result, ring), 1.0


FACE = Face(
    words=report_words,
    pictures=section_plates,
    alternative=section_alternative,
    fields=plane_fields,
    shape=shape,
)

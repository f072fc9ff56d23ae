"""Report, pictures and fields of the elevation view."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.views.elevation.deformed import ring_of
from shrinksim.views.elevation.pictures import alternative, plates
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.elevation.setup_drawing import end_turn
from shrinksim.views.elevation.words import report_words
from shrinksim.views.fields import plane_fields
from shrinksim.views.view import Face, Fields


def fields(result: ElevationResult, row: int) -> Fields:
    """The state at a time, with each element's band (from the bottom) and thickness."""
    region = np.asarray(result.mesh.region)
    thickness = np.array([band.thickness for band in result.geometry.bands])
    regions = {
        "band [number]": region.astype(np.int32),
        "thickness [m]": thickness[region],
    }
    return plane_fields(result, row, regions)


def shape(result: ElevationResult) -> tuple[FloatArray, FloatArray, float]:
    """Outline of the patch and its displacement, m; 1 where the line's middle rises."""
    nodes = ring_of(result)
    rises = 1.0 if end_turn(result, -1) > 0.0 else -1.0
    return result.mesh.points[nodes], result.strain.displacement[-1][nodes], rises


FACE = Face(
    words=report_words,
    pictures=plates,
    alternative=alternative,
    fields=fields,
    shape=shape,
)

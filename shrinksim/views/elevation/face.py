"""What people see of the elevation view."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.units.quantity import quantity, show
from shrinksim.views.elevation.deformed import ring_of
from shrinksim.views.elevation.pictures import alternative, plates
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.elevation.setup_drawing import end_turn
from shrinksim.views.elevation.words import told
from shrinksim.views.fields import plane_fields
from shrinksim.views.view import Face, Fields


def terminal(summary: Mapping[str, Any], units: str) -> dict[str, str]:
    """How a patch of the elevation moved."""
    turn = summary["rotation_mrad"]
    closes = "the open end closes" if turn >= 0 else "the open end opens further"
    shortening = quantity(f"{summary['shortening_mm']!r} mm", "length")
    return {
        "permanent rotation": f"{turn:.2f} mrad ({closes})",
        "shortening": show(shortening, "length", units),
    }


def error(refinement: Mapping[str, Any]) -> str:
    """Numerical error of the rotation."""
    return f"{refinement['rotation_error_mrad']:.2f} mrad"


def fields(result: ElevationResult, row: int) -> Fields:
    """The state at a knot, with each element's band (from the bottom) and thickness."""
    region = np.asarray(result.mesh.region)
    thickness = np.array([band.thickness for band in result.geometry.bands])
    regions = {
        "band [number]": region.astype(np.int32),
        "thickness [m]": thickness[region],
    }
    return plane_fields(result, row, regions)


def shape(result: ElevationResult) -> tuple[FloatArray, FloatArray, float]:
    """Outline of the patch and how it moved, m; 1 where the bent line's middle rises."""
    nodes = ring_of(result)
    rises = 1.0 if end_turn(result, -1) > 0.0 else -1.0
    return result.mesh.points[nodes], result.strain.displacement[-1][nodes], rises


FACE = Face(
    words=told,
    pictures=plates,
    alternative=alternative,
    terminal=terminal,
    error=error,
    fields=fields,
    shape=shape,
)

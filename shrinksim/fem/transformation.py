"""Phase change: share of austenite with its hysteresis, and transformation strain.

The share z follows the progress r through a temperature range: on heating z = max(z,
r_heating), on cooling z = min(z, 1 - r_cooling).  The first never passes the second
(steel files are checked for it), so both are one rule: r_heating <= z <= 1 - r_cooling.
(The linear ramp is our choice; a law of kinetics would need more data of the steel than
a straightener has.)
"""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.structure import Strainable

Range = tuple[float, float]


def progress(T: FloatArray, over: Range) -> FloatArray:
    """Share (0 to 1) of a temperature range that is passed, rising or falling."""
    start, end = over
    return np.clip((T - start) / (end - start), 0.0, 1.0)


def austenite(
    before: FloatArray, T: FloatArray, heating: Range, cooling: Range
) -> FloatArray:
    """Share of austenite after a change of temperature, of one sign, to T degC."""
    return np.clip(before, progress(T, heating), 1.0 - progress(T, cooling))


def point_temperatures(body: Strainable, T: FloatArray) -> FloatArray:
    """Temperatures (e, q) degC at the points from nodal T (n,); overlays stay cold."""
    rise = body.at_points(T) - body.cold
    return body.cold + body.hot_share[:, None] * rise


def transformation_strain(
    body: Strainable, before: FloatArray | None, T: FloatArray
) -> tuple[FloatArray, FloatArray | None]:
    """Transformation strain (e, q), and share of austenite (e, q), at T (n,) degC.

    before : (e, q) share at the last equilibrium, not changed; None for none.
    """
    law = body.table.transformation
    if law is None:
        return np.zeros(body.points_shape), None
    last = np.zeros(body.points_shape) if before is None else before
    share = austenite(last, point_temperatures(body, T), law.heating, law.cooling)
    return law.strain * share, share

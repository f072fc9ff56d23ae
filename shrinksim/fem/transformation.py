"""Phase change in a march: share of austenite with its hysteresis, and its strain.

A share z in proportion to the way through the range, on heating z = max(z, way through
heating), on cooling z = min(z, what is left through cooling); the ranges are such that
the first never passes the second, so both are one rule: z stays between them.  (The
straight ramp is our choice; a law of kinetics would need more of the steel than a
straightener knows.)
"""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.structure import Strainable

Range = tuple[float, float]


def way(T: FloatArray, through: Range) -> FloatArray:
    """Share of the way from the start to the end of a range, rising or falling."""
    start, end = through
    return np.clip((T - start) / (end - start), 0.0, 1.0)


def austenite(
    before: FloatArray, T: FloatArray, heating: Range, cooling: Range
) -> FloatArray:
    """Share of austenite after a change of temperature, of one sign, to T degC."""
    return np.clip(before, way(T, heating), 1.0 - way(T, cooling))


def point_temperatures(body: Strainable, T: FloatArray) -> FloatArray:
    """(e, q) degC from nodal T (n,); overlays stay cold."""
    rise = body.at_points(T) - body.cold
    return body.cold + body.hot_share[:, None] * rise


def changed(
    body: Strainable, before: FloatArray | None, T: FloatArray
) -> tuple[FloatArray, FloatArray | None]:
    """Strain (e, q) beyond thermal expansion, and share of austenite, at T (n,) degC.

    before : (e, q) share at the last balanced state, left as it is; None for none.
    """
    law = body.table.transformation
    if law is None:
        return np.zeros(body.points_shape), None
    last = np.zeros(body.points_shape) if before is None else before
    share = austenite(last, point_temperatures(body, T), law.heating, law.cooling)
    return law.strain * share, share

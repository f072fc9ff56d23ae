"""Linear interpolation in a table on a uniform grid, with its slope."""

from __future__ import annotations

from numba import njit


@njit(cache=True, inline="always")
def interpolate(x, start, step, values):
    """Value and slope at x; linear extrapolation outside the grid."""
    r = (x - start) / step
    k = int(r)
    if r < 0.0:
        k = 0
    elif k > values.size - 2:
        k = values.size - 2
    slope = values[k + 1] - values[k]
    return values[k] + (r - k) * slope, slope / step

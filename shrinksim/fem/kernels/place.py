"""Search of the triangle that contains a point."""

from __future__ import annotations

import numpy as np
from numba import njit


@njit(cache=True)
def nearest_triangle(corners, where, element, area):
    """Element (k,) and area coordinates (k, 3) of points ``where`` (k, 2).

    corners : (e, 3, 2).  The triangle with the largest of the smallest area
    coordinates is taken: the one around the point, or the nearest.
    """
    for k in range(where.shape[0]):
        best, element[k] = -np.inf, 0
        for e in range(corners.shape[0]):
            x, y = corners[e, 0]
            ax, ay = corners[e, 1, 0] - x, corners[e, 1, 1] - y
            bx, by = corners[e, 2, 0] - x, corners[e, 2, 1] - y
            rx, ry = where[k, 0] - x, where[k, 1] - y
            twice = ax * by - ay * bx
            second, third = (rx * by - ry * bx) / twice, (ax * ry - ay * rx) / twice
            first = 1.0 - second - third
            least = min(second, third, first)
            if least > best:
                best = least
                element[k] = e
                area[k, 0], area[k, 1], area[k, 2] = first, second, third

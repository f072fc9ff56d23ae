"""Temperature difference through the thickness under a torch on one face."""

from __future__ import annotations

import numpy as np

THROUGH = 0.6
"""Largest `unevenness` at which the in-plane view is taken to be enough: up to it heat on
one face bends a plate in its plane as even heat does to 10 %, benchmarks/THICKNESS.md."""

FACE = 0.37
"""Of `unevenness` times the rise: how much hotter the face gets than even steel would;
median of 58 cases, 0.32 to 0.39 in those over 0.4."""

MORE = 0.4
"""Of `unevenness` squared: how much larger the movement may be than that of even steel;
bounds the same cases."""

DIFFUSIVITY = 9.0e-6
"""m2/s, of steel at some 300 degC, EN 1993-1-2."""


def unevenness(power: float, radius: float, depth: float, rise: float) -> float:
    """Difference through ``depth`` m over the rise (K), under the middle of a torch.

    A face that takes the flux q while the other is insulated differs from it by
    q d / (2 k) once heat has gone through (Carslaw & Jaeger, 1959, sec. 3.8, from
    memory).  q = 3 P / (pi R^2) in the middle of a Gaussian that holds 95 % of ``power``
    W (absorbed) in ``radius`` m; k = 40 W/mK.  That flux brings the steel to its rise
    in t = rho c d rise / q, so this is also (d / diffusion depth)^2 with the diffusion
    depth sqrt(2 a t), how far heat gets into the steel while it is being heated.
    """
    flux = 3.0 * power / (np.pi * radius**2)
    return flux * depth / (2.0 * 40.0) / max(rise, 1.0)

"""A Gaussian source that moves over the face of a plate: closed form by images.

Carslaw & Jaeger, Conduction of Heat in Solids, 1959, 10.3 and 14.2, and Eagar & Tsai,
Welding Journal 62 (1983) 346-s (from memory): constant k and c, adiabatic faces, infinite
plate of thickness D.  Points and values as computed with the three-dimensional reference.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import grid
from scipy.integrate import quad

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.fem.slab import plate_medium
from shrinksim.fem.through import lagrange
from shrinksim.heat import solve_heat
from shrinksim.heat.phase import Phase

POWER, SPEED, SPREAD, D = 3000.0, 5e-3, 6e-3, 0.02
K, RHO_C = 45.0, 7850.0 * 600.0
A = K / RHO_C
# x, y, depth under the heated face m, time s: degC
KNOWN = {
    (0.1, 0.0, 0.0, 20.0): 1128.6,
    (0.1, 0.0, 0.005, 24.0): 385.1,
    (0.1, 0.0, 0.010, 26.0): 218.8,
    (0.1, 0.010, 0.0, 24.0): 298.1,
}


def closed(x: float, y: float, z: float, t: float) -> float:
    """degC at depth z (m), the source at SPEED t since t = 0, everything at 20 before."""

    def part(root: float) -> float:
        s = root * root
        wide = SPREAD**2 + 2.0 * A * s
        gap = (x - SPEED * (t - s)) ** 2 + y**2
        flat = np.exp(-0.5 * gap / wide) / (2.0 * np.pi * wide)
        images = z + 2.0 * D * np.arange(-6, 7)
        deep = np.exp(-(images**2) / (4.0 * A * s)).sum() / np.sqrt(np.pi * A)
        return 2.0 * flat * deep  # root dt = 2 root d root, over the root of s

    total = quad(part, 1e-9, np.sqrt(t), limit=400, epsabs=0.0, epsrel=1e-10)[0]
    return 20.0 + POWER / RHO_C * total


@pytest.mark.parametrize("at", KNOWN)
def test_closed_form_gives_the_known_values(at: tuple[float, ...]) -> None:
    assert closed(*at) == pytest.approx(KNOWN[at], abs=0.06)


def flux(x: FloatArray, y: FloatArray, t: float) -> FloatArray:
    square = ((x - SPEED * t) ** 2 + y**2) / SPREAD**2
    return POWER / (2.0 * np.pi * SPREAD**2) * np.exp(-0.5 * square)


@pytest.mark.slow
def test_plate() -> None:
    """Half the plate, y > 0, sides of 4 mm under the source; within 0.6 % or 1 K."""
    x = np.concatenate([np.linspace(-0.06, -0.02, 6), np.linspace(-0.016, 0.14, 40)])
    x = np.concatenate([x, [0.147, 0.158, 0.175, 0.2]])
    y = np.array([0.0, 0.004, 0.008, 0.012, 0.017, 0.024, 0.035, 0.05, 0.07])
    mesh = grid(x, y)
    T = np.array([0.0, 2000.0])
    body = plate_medium(
        mesh, D, 0.0, 2000.0, np.full(2, K), RHO_C * (T - 20.0), order=5
    )
    steps = 0.25 * np.arange(1, 105)
    heat = solve_heat(body, [Phase(26.0, sources=(flux,), times=steps)])
    assert heat.absorbed[-1] == pytest.approx(heat.stored[-1], rel=1e-9)
    n = len(mesh.points)
    for (px, py, depth, t), _ in KNOWN.items():
        row = heat.temperature[round(t / 0.25)].reshape(-1, n)
        element, N = locate(mesh, np.array([[px, py]]))
        levels = row[:, mesh.triangles[element[0]]] @ N[0]
        up = np.array([0.5 * D - depth])
        value = float(lagrange(body.through.levels, up)[0][0] @ levels)
        wanted = closed(px, py, depth, t)
        assert value == pytest.approx(wanted, abs=max(1.0, 0.006 * (wanted - 20.0)))

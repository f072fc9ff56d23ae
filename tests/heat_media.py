"""Media and laws of the heat tests: constant properties, and linear or grey losses."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import KELVIN, STEFAN_BOLTZMANN, FloatArray, IntArray
from shrinksim.fem.conduction import Law, Medium, medium
from shrinksim.fem.mesh import Mesh

Table = tuple[float, float, FloatArray, FloatArray]
"""start, step (degC), conductivity (W/mK) and heat content (J/m3) of a medium."""

NONE = np.empty(0, np.int64)


def constant(conductivity: float, capacity: float) -> Table:
    """Properties that do not depend on temperature.  capacity : rho c, J/m3K."""
    k = np.full(2, conductivity)
    return 0.0, 1000.0, k, np.array([0.0, 1000.0 * capacity])


def body_of(
    mesh: Mesh, table: Table, thickness: float = 1.0, fixed: IntArray = NONE
) -> Medium:
    """A medium of one thickness, m."""
    start, step, conductivity, content = table
    return medium(mesh, thickness, start, step, conductivity, content, fixed)


def convection(h: float, ambient: float) -> Law:
    """q = h (T - ambient).  h : W/m2K."""
    return lambda T, t: (h * (T - ambient), np.full_like(T, h))


def radiation(emissivity: float, ambient: float, h: float = 0.0) -> Law:
    """Grey radiation to surroundings at ambient (degC), plus convection h."""
    c = emissivity * STEFAN_BOLTZMANN

    def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        K = T + KELVIN
        q = c * (K**4 - (ambient + KELVIN) ** 4) + h * (T - ambient)
        return q, 4.0 * c * K**3 + h

    return law


def inflow(flux: float) -> Law:
    """A given flux into the steel, W/m2."""
    return lambda T, t: (np.full_like(T, -flux), np.zeros_like(T))

"""Fields of a plane mesh for ParaView, shared by the views that have one."""

from __future__ import annotations

from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.units.quantity import quantity
from shrinksim.views.result import Result
from shrinksim.views.view import Fields

MEGAPASCAL = quantity("1 MPa", "stress")
COMPONENTS = ("xx", "yy", "xy", "zz")
"""Directions of the drawing; zz, of a section, is along the member."""


def plane_fields(
    result: Result[Any, Any, Any],
    row: int,
    regions: dict[str, FloatArray | IntArray] | None = None,
) -> Fields:
    """The state at a time; peak temperature and residual fields with the last one.

    regions : values of every element that stay.
    """
    mesh, strain = result.mesh, result.strain
    flat = np.zeros((len(mesh.points), 3))
    flat[:, :2] = mesh.points
    moved = np.zeros_like(flat)
    moved[:, :2] = strain.displacement[row]
    nodal = {"temperature [degC]": strain.temperature[row], "displacement [m]": moved}
    elements: dict[str, FloatArray | IntArray] = {}
    if row == len(strain.times) - 1:
        nodal["peak temperature [degC]"] = np.asarray(result.heat.peak)
        elements = _left(result)
    cells = {"triangle6": mesh.triangles}
    return Fields(flat, cells, nodal, elements | (regions or {}))


def _left(result: Result[Any, Any, Any]) -> dict[str, FloatArray | IntArray]:
    """Residual stress and plastic strain, means over each element."""
    count, strain = len(result.mesh.triangles), result.strain
    fields: dict[str, FloatArray | IntArray] = {}
    components = strain.stress.shape[-1]
    for k, name in enumerate(COMPONENTS[:components]):
        stress = strain.stress[:count, :, k].mean(axis=1)
        fields[f"final stress {name} [MPa]"] = stress / MEGAPASCAL
        plastic = strain.plastic_strain[:count, :, k].mean(axis=1)
        fields[f"plastic strain {name} [1]"] = plastic
    if components == len(COMPONENTS):
        mean = mises(strain.stress[:count]).mean(axis=1)
        fields["final von Mises stress [MPa]"] = mean / MEGAPASCAL
    total = strain.equivalent_plastic[:count].mean(axis=1)
    fields["equivalent plastic strain [1]"] = total
    return fields


def mises(stress: FloatArray) -> FloatArray:
    """Von Mises stress (...) of stresses (..., 4): xx, yy, xy, zz."""
    x, y, xy, z = np.moveaxis(stress, -1, 0)
    apart = (x - y) ** 2 + (y - z) ** 2 + (z - x) ** 2
    return np.sqrt(0.5 * apart + 3.0 * xy**2)

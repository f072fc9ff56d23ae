"""Report, pictures and fields of the solid view."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.through import lagrange, lobatto_through
from shrinksim.units.quantity import quantity
from shrinksim.views.fields import mises
from shrinksim.views.solid.faces import on_levels
from shrinksim.views.solid.movement import at_height, moved_at
from shrinksim.views.solid.pictures import alternative, plates
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.solid.words import report_words
from shrinksim.views.view import Face, Fields

LEVELS = np.array([-1.0, 0.0, 1.0])
"""Heights of the nodes in the VTU files, -1 the back, 1 the front."""

COMPONENTS = ("xx", "yy", "xy", "zz", "xz", "yz")
MEGAPASCAL = quantity("1 MPa", "stress")

DIAGONAL = (0, 1, 3)
"""xx, yy, zz among the components."""


def fields(result: SolidResult, row: int) -> Fields:
    """The state at a time, on quadratic wedges with nodes on three levels."""
    mesh, strain = result.mesh, result.strain
    half, n = 0.5 * result.geometry.thickness, len(mesh.points)
    points = np.concatenate(
        [np.column_stack([mesh.points, np.full(n, z * half)]) for z in LEVELS]
    )
    modes = moved_at(result.body, strain, row)
    moved = np.concatenate([at_height(result.body, modes, z) for z in LEVELS])
    T = _on_three(result, strain.temperature[row])
    nodal = {"temperature [degC]": T, "displacement [m]": moved}
    elements: dict[str, FloatArray | IntArray] = {}
    if row == len(strain.times) - 1:
        nodal["peak temperature [degC]"] = _on_three(
            result, np.asarray(result.heat.peak)
        )
        elements = _left(result)
    return Fields(points, {"wedge18": _wedges(result)}, nodal, elements)


def _on_three(result: SolidResult, T: FloatArray) -> FloatArray:
    """Nodal temperatures (3 n,) at the heights of the files."""
    levels = on_levels(result, T)
    half = 0.5 * result.geometry.thickness
    through = lobatto_through(result.geometry.thickness, len(levels) - 1)
    up, _ = lagrange(through.levels, LEVELS * half)
    return (up @ levels).ravel()


def _wedges(result: SolidResult) -> IntArray:
    """Nodes (e, 18) of VTK's quadratic wedges: corners, sides and faces."""
    triangles, n = result.mesh.triangles, len(result.mesh.points)
    corner, side = triangles[:, :3], triangles[:, 3:]
    low, middle, high = 0, n, 2 * n
    return np.concatenate(
        [corner + low, corner + high, side + low, side + high, corner + middle,
         side + middle],
        axis=1,
    )  # fmt: skip


def _left(result: SolidResult) -> dict[str, FloatArray | IntArray]:
    """Means over each element of what is left: stress and plastic strain."""
    body, strain = result.body, result.strain
    share = body.weight / body.weight.sum(axis=1, keepdims=True)
    found: dict[str, FloatArray | IntArray] = {}
    for k, name in enumerate(COMPONENTS):
        stress = (share * strain.stress[..., k]).sum(axis=1)
        found[f"final stress {name} [MPa]"] = stress / MEGAPASCAL
    plane = mises(strain.stress[..., :4])
    shear = 3.0 * (strain.stress[..., 4:] ** 2).sum(axis=-1)
    whole = np.sqrt(plane**2 + shear)
    found["final von Mises stress [MPa]"] = (share * whole).sum(axis=1) / MEGAPASCAL
    total = (share * strain.equivalent_plastic).sum(axis=1)
    found["equivalent plastic strain [1]"] = total
    return found


def shape(result: SolidResult) -> tuple[FloatArray, FloatArray, float]:
    """Outline of the patch and its displacement, m; 1 where the line's middle rises."""
    mesh = result.mesh
    ring = _ring(result)
    moved = at_height(result.body, moved_at(result.body, result.strain, -1), 0.0)
    rises = 1.0 if result.movement.rotation * result.geometry.opens < 0.0 else -1.0
    return mesh.points[ring], moved[ring, :2], rises


def _ring(result: SolidResult) -> IntArray:
    """Nodes around the patch, from its bottom left corner counter-clockwise."""
    mesh = result.mesh
    ways = {"bottom": (0, 1), "right": (1, 1), "top": (0, -1), "left": (1, -1)}
    parts = []
    for edge, (axis, way) in ways.items():
        nodes = np.unique(mesh.edges[edge])
        parts.append(nodes[np.argsort(way * mesh.points[nodes, axis])][:-1])
    return np.concatenate(parts)


FACE = Face(
    words=report_words,
    pictures=plates,
    alternative=alternative,
    fields=fields,
    shape=shape,
)

"""Displacement fields of three dimensions on a plate's modes, and marches of plates."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.plate import PlateBody
from shrinksim.fem.plate_ends import missing
from shrinksim.fem.sparse import ties
from shrinksim.fem.structure import Support, support
from shrinksim.fem.through import lobatto_through

Field = Callable[[FloatArray, FloatArray, FloatArray], tuple[FloatArray, ...]]


def on_modes(body: PlateBody, field: Field) -> FloatArray:
    """Modes (nodes, 3) of u, v, w = field(x, y, z) m; exact if the modes hold it."""
    x, y = body.solid.flat.points.T
    z = body.modes.z[:, None]
    shape = (len(z), len(x))
    values = np.stack([np.broadcast_to(v, shape) for v in field(x, y, z)], axis=-1)
    fitted = np.linalg.lstsq(body.modes.full, values.reshape(len(z), -1), rcond=None)[0]
    return fitted.reshape(-1, 3)


def rim_dofs(body: PlateBody, nodes: IntArray) -> IntArray:
    """Full dofs of nodes of the middle surface, at all modes."""
    n = len(body.solid.flat.points)
    every = (np.arange(body.solid.levels)[:, None] * n + nodes).ravel()
    return (3 * every[:, None] + np.arange(3)).ravel()


def given_on(body: PlateBody, nodes: IntArray, field: Field) -> Support:
    """A support that moves ``nodes`` of the middle surface, at all heights."""
    fixed = np.union1d(rim_dofs(body, nodes), missing(body.solid, body.modes))
    offset = np.zeros(3 * body.solid.nodes)
    offset[fixed] = on_modes(body, field).ravel()[fixed]
    return support(ties(len(offset), fixed), offset=offset)


def heights(body: PlateBody, thickness: float, order: int = 4) -> FloatArray:
    """z (n,) m of the nodes of the temperatures."""
    count = len(body.mesh.points) // (order + 1)
    return lobatto_through(thickness, order).levels.repeat(count)

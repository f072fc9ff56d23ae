"""Movement and hot-hinge margin from the strain history."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.errors import NotConverged
from shrinksim.fem.ends import PlaneEnds
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.structure import SteelTable
from shrinksim.movement import (
    Movement,
    column_grid,
    heights,
    hot_plastic_moment,
    movement,
)
from shrinksim.strain import Body, StrainHistory, elastic_response, support
from shrinksim.views.workpiece import Workpiece

COLUMNS = 61
HINGE = 1.15
"""A march that stops while the hot plastic moment is under this times the moment has
met a hot hinge; the margin over 1 is for strain hardening and the mesh."""


def weakest_column(
    work: Workpiece, mesh: Mesh, table: SteelTable, strain: StrainHistory
) -> FloatArray:
    """Smallest plastic moment (s,) N m of the patch's sections at their temperatures."""
    reach = 0.5 * work.heated_length + 0.5 * work.depth
    middle = 0.5 * (
        min(o[:, 0].min() for o in work.outlines)
        + max(o[:, 0].max() for o in work.outlines)
    )
    half = 0.499 * work.length
    x = np.clip(np.linspace(middle - reach, middle + reach, COLUMNS), -half, half)
    y = heights([(b.low, b.high) for b in work.bands])
    grid = column_grid(mesh, x, y)
    T = np.moveaxis(
        (grid.sample @ strain.temperature.T).reshape(len(x), len(y), -1), 2, 0
    )
    rows = table.flow_start + table.flow_step * np.arange(len(table.flow))
    plateau = table.flow[:, -1] + table.back_stress
    strength = np.interp(T, rows, plateau)
    tops = np.array([b.high for b in work.bands])
    band = np.searchsorted(tops, y)
    layer = np.array([work.bands[b].thickness for b in band]) * _layers(work, band)
    axial = strain.push[:, -2]
    sense = np.where(strain.push[:, -1] < 0.0, -1.0, 1.0) * work.opens
    moments = hot_plastic_moment(strength, layer, y, axial, sense, work.axis)
    return moments.min(axis=1)


def _layers(work: Workpiece, band: IntArray) -> FloatArray:
    """Height (j,) m of each layer of the grid."""
    counts = np.bincount(band, minlength=len(work.bands))
    span = np.array([b.high - b.low for b in work.bands])
    return (span / np.maximum(counts, 1))[band]


def move(
    work: Workpiece, mesh: Mesh, body: Body, ends: PlaneEnds, strain: StrainHistory
) -> Movement:
    """The movement of a strained workpiece."""
    half = 0.5 * work.length
    x = np.linspace(-half, half, COLUMNS)
    q = strain.q[-1] - elastic_part(body, ends, strain)
    grid = column_grid(mesh, x, heights([(b.low, b.high) for b in work.bands], 12))
    return movement(
        times=strain.times,
        turn=strain.q[:, ends.turn] / ends.arm,
        stretch=strain.q[:, ends.stretch],
        moment=strain.push[:, ends.turn] * ends.arm,
        hot_moment=weakest_column(work, mesh, body.table, strain),
        unloaded=(float(q[ends.turn]) / ends.arm, float(q[ends.stretch])),
        heated_length=work.heated_length,
        from_plastic=rotation_from_plastic_strain(body, ends, strain),
        grid=grid,
        displacement=strain.displacement[-1],
        opens=work.opens,
    )


def elastic_part(body: Body, ends: PlaneEnds, strain: StrainHistory) -> FloatArray:
    """Elastic response to the load that is still on at the end, unknowns (m,)."""
    push = strain.push[-1]
    if not push.any():
        return np.zeros_like(push)
    cold = np.full(len(body.mesh.points), body.cold)
    return elastic_response(body, support(ends.ties), push, cold)


def rotation_from_plastic_strain(
    body: Body, ends: PlaneEnds, strain: StrainHistory
) -> float:
    """End rotation (rad) due to the plastic strains alone in the cold, free patch.

    Unit-moment theorem: turn = int sigma(M = 1) : plastic strain dV.
    """
    unit = np.zeros(ends.ties.unknowns)
    unit[ends.turn] = 1.0 / ends.arm
    cold = np.full(len(body.mesh.points), body.cold)
    q = elastic_response(body, support(ends.ties), unit, cold)
    u = ends.ties.expand(q).reshape(-1, 2)[body.triangles]
    table = body.table
    E = np.interp(
        body.cold,
        table.start + table.step * np.arange(len(table.modulus)),
        table.modulus,
    )
    slope = np.einsum("eqai,eaj->eqij", body.dN, u)
    exx, eyy = slope[..., 0, 0], slope[..., 1, 1]
    exy = slope[..., 0, 1] + slope[..., 1, 0]
    nu = table.poisson
    c = E / (1.0 - nu**2)
    stress = np.stack(
        [c * (exx + nu * eyy), c * (eyy + nu * exx), 0.5 * E / (1.0 + nu) * exy],
        axis=-1,
    )
    work = np.einsum("eqk,eqk->eq", stress, strain.plastic_strain)
    return float(np.sum(work * body.weight))


def folded(
    error: NotConverged,
    work: Workpiece,
    mesh: Mesh,
    table: SteelTable,
    ends: PlaneEnds,
) -> StrainHistory:
    """The history of a member that folds at a hot hinge; other errors are raised again."""
    strain = error.partial
    if not isinstance(strain, StrainHistory) or len(strain.times) < 3:
        raise error
    moment = np.abs(strain.push[-1, ends.turn] * ends.arm)
    weakest = weakest_column(work, mesh, table, strain)[-1]
    far = np.abs(strain.q[-1, ends.turn]) / ends.arm > 0.05
    if moment > 0.0 and (weakest < HINGE * moment or far):
        return strain
    raise error

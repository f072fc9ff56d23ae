"""From strains to the movement of a plate about both axes, and how near it came to
folding.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.plate import PlateBody
from shrinksim.fem.plate_ends import PlateEnds
from shrinksim.fem.plate_turns import twist_rows
from shrinksim.fem.through import bubbles, lobatto_through
from shrinksim.movement import Grid, column_grid, heights, hot_plastic_moment
from shrinksim.strain import StrainHistory, elastic_response, support
from shrinksim.views.solid.geometry import Slab

COLUMNS, ROWS = 61, 24

HINGE = 1.15
"""A march that stops while the hot plastic moment is under this times the moment has
met a hot hinge; the margin over 1 is for strain hardening and the mesh."""

NONE = 1e-9
"""Share of the cold plastic moment that counts as no moment."""


@dataclass(frozen=True)
class PlateMovement:
    """Permanent movement of a plate's right end against its left, and its growth.

    rotation : rad in the plane, + closes the wide end.  out_of_plane : rad, + makes the
    front hollow.  twist : rad about the member's line.  shortening : m at its middle.
    rotation_elastic, out_of_plane_elastic : rad given back on release.  dish : m, largest
    distance of the middle surface from a straight edge across the width ``dish_length``
    m.  profile_x (p,) m along the patch, profile_rotation, profile_out_of_plane (p,) rad:
    turns of the cross-sections.  Histories at times (s,): the first four, moments N m
    in and out of the plane, hinge_margin (inf without moment).
    """

    rotation: float
    out_of_plane: float
    twist: float
    shortening: float
    rotation_elastic: float
    out_of_plane_elastic: float
    dish: float
    dish_length: float
    heated_length: float
    profile_x: FloatArray
    profile_rotation: FloatArray
    profile_out_of_plane: FloatArray
    times: FloatArray
    rotation_history: FloatArray
    out_of_plane_history: FloatArray
    twist_history: FloatArray
    shortening_history: FloatArray
    moment_history: FloatArray
    flat_moment_history: FloatArray
    hinge_margin_history: FloatArray
    hinge_margin: float | None


def moved_at(body: PlateBody, strain: StrainHistory, row: int) -> FloatArray:
    """Modes (nodes, 3) m of the displacement at a knot, plane end included."""
    full = np.append(strain.displacement[row].ravel(), strain.section_strain[row])
    return body.carried.moved(full)


def at_height(body: PlateBody, modes: FloatArray, share: float) -> FloatArray:
    """Displacement (n, 3) m at a height -1 (back) to 1 (front), from modes (nodes, 3)."""
    levels = body.solid.levels
    N = bubbles(levels - 1, np.array([share]))[0][0]
    return np.einsum("k,kni->ni", N, modes.reshape(levels, -1, 3))


def move(
    work: Slab, mesh: Mesh, body: PlateBody, ends: PlateEnds, strain: StrainHistory
) -> PlateMovement:
    """The movement of a strained plate."""
    arm, q, opens = ends.arm, strain.q, work.opens
    final = q[-1] - _elastic_part(body, ends, strain)
    loaded = q[-2] if strain.fraction[-1] == 0.0 else q[-1]
    given_back = (loaded - final) / arm
    rows = twist_rows(body, "right") - twist_rows(body, "left")
    twist = np.einsum("sni,in->s", strain.displacement[..., 1:], rows)
    margin = 1.0 / np.maximum(hinge_use(work, mesh, body, ends, strain), 1e-30)
    margin[margin > 1e12] = np.inf
    least = float(margin.min())
    modes = moved_at(body, strain, -1)
    grid = column_grid(mesh, _columns(work), heights([(0.0, work.depth)], 12))
    turns, bends = _profiles(body, grid, modes, work)
    return PlateMovement(
        opens * float(final[ends.turn]) / arm,
        float(final[ends.bend]) / arm,
        float(twist[-1]),
        -float(final[ends.stretch]),
        opens * float(given_back[ends.turn]),
        float(given_back[ends.bend]),
        _dish(mesh, body, modes, work),
        work.depth,
        work.heated_length,
        frozen(grid.x),
        frozen(turns),
        frozen(bends),
        strain.times,
        frozen(opens * q[:, ends.turn] / arm),
        frozen(q[:, ends.bend] / arm),
        frozen(twist),
        frozen(-q[:, ends.stretch]),
        frozen(opens * strain.push[:, ends.turn] * arm),
        frozen(strain.push[:, ends.bend] * arm),
        frozen(margin),
        least if np.isfinite(least) else None,
    )


def _columns(work: Slab) -> FloatArray:
    """X (p,) m of cross-sections along the patch."""
    half = 0.5 * work.length
    return np.linspace(-half, half, COLUMNS)


def _profiles(
    body: PlateBody, grid: Grid, modes: FloatArray, work: Slab
) -> tuple[FloatArray, FloatArray]:
    """Turns (p,) rad of cross-sections in and out of the plane, best straight lines."""
    shape = (len(grid.x), len(grid.y))
    front, back = (
        (grid.sample @ at_height(body, modes, side)[:, 0]).reshape(shape)
        for side in (1.0, -1.0)
    )
    arm = grid.y - grid.y.mean()
    turns = -work.opens * (0.5 * (front + back) @ arm) / float(arm @ arm)
    return turns, (back - front).mean(axis=1) / work.thickness


def _dish(mesh: Mesh, body: PlateBody, modes: FloatArray, work: Slab) -> float:
    """Largest distance (m) of the middle surface from straight lines between the edges."""
    y = np.linspace(0.0, work.depth, 13)
    grid = column_grid(mesh, _columns(work) * (1.0 - 1e-9), y)
    w = (grid.sample @ at_height(body, modes, 0.0)[:, 2]).reshape(len(grid.x), len(y))
    chord = w[:, :1] + (w[:, -1:] - w[:, :1]) * y / work.depth
    return float(np.abs(w - chord).max())


def _elastic_part(
    body: PlateBody, ends: PlateEnds, strain: StrainHistory
) -> FloatArray:
    """What the load that is still on at the end bends elastically, unknowns (m,)."""
    push = strain.push[-1]
    if not push.any():
        return np.zeros_like(push)
    cold = np.full(len(body.mesh.points), body.cold)
    return elastic_response(body, support(ends.ties), push, cold)


def hinge_use(
    work: Slab, mesh: Mesh, body: PlateBody, ends: PlateEnds, strain: StrainHistory
) -> FloatArray:
    """Moments over what the weakest hot section carries (s,), 1 is a hinge.

    Both axes added up: a safe side of any interaction (the moments that a section
    carries are a convex set).
    """
    plane = strain.push[:, ends.turn] * ends.arm
    flat = strain.push[:, ends.bend] * ends.arm
    used = np.zeros((len(strain.times), 1))
    least = NONE * np.array([work.sheet.plastic_moment, work.flat_plastic_moment])
    if np.abs(plane).max() <= least[0] and np.abs(flat).max() <= least[1]:
        return used[:, 0]
    axial = strain.push[:, ends.stretch]
    for moment, carried in zip(
        (plane, flat),
        _carried(work, mesh, body, strain, axial, plane, flat),
        strict=True,
    ):
        used = used + np.abs(moment)[:, None] / np.maximum(carried, 1e-30)
    return used.max(axis=1)


def _carried(
    work: Slab, mesh: Mesh, body: PlateBody, strain: StrainHistory, axial: FloatArray,
    plane: FloatArray, flat: FloatArray,
) -> tuple[FloatArray, FloatArray]:  # fmt: skip
    """Plastic moments (s, p) N m of hot sections in and out of the plane."""
    reach = 0.5 * work.heated_length + 0.5 * work.depth
    x = np.concatenate([outline[:, 0] for outline in work.outlines])
    middle, half = 0.5 * (x.min() + x.max()), 0.499 * work.length
    at = np.clip(np.linspace(middle - reach, middle + reach, COLUMNS), -half, half)
    y = heights([(0.0, work.depth)], ROWS)
    grid = column_grid(mesh, at, y)
    levels = len(body.mesh.points) // len(mesh.points)
    through = lobatto_through(work.thickness, levels - 1)
    table = body.table
    rows = table.flow_start + table.flow_step * np.arange(len(table.flow))
    plateau = table.flow[:, -1] + table.back_stress
    T = strain.temperature.reshape(len(strain.times), levels, -1)
    strength = np.stack(
        [
            np.interp((grid.sample @ T[:, k].T).T, rows, plateau).reshape(
                -1, len(at), len(y)
            )
            for k in range(levels)
        ],
        axis=-1,
    )
    mean = strength @ through.weight / work.thickness
    layer = np.full(len(y), work.thickness * work.depth / len(y))
    sense = [np.where(m < 0.0, -1.0, 1.0) for m in (plane, flat)]
    return (
        hot_plastic_moment(mean, layer, y, axial, sense[0], 0.5 * work.depth),
        hot_plastic_moment(
            strength.mean(axis=2), through.weight * work.depth, through.levels, axial,
            sense[1], 0.0,
        ),
    )  # fmt: skip


def folded(
    error: NotConverged, work: Slab, mesh: Mesh, body: PlateBody, ends: PlateEnds
) -> StrainHistory:
    """The history of a plate that met a hot hinge; anything else is raised again."""
    strain = error.partial
    if not isinstance(strain, StrainHistory) or len(strain.times) < 3:
        raise error
    used = hinge_use(work, mesh, body, ends, strain)[-1]
    far = np.abs(strain.q[-1, [ends.turn, ends.bend]]).max() / ends.arm > 0.05
    if used > 1.0 / HINGE or (used > 0.0 and far):
        return strain
    raise error

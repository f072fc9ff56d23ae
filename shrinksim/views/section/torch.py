"""A torch's heat through the outline of a section: at once, on a spot, or passing by."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.conduction import EdgeExchange, EdgeSource, Medium, edge_points
from shrinksim.fem.mesh import Mesh
from shrinksim.heat.phase import Phase, PhaseName
from shrinksim.shop.outline import surface_coordinate
from shrinksim.views.section.geometry import Cut, Heated

PASS = 1.6
"""Radii before and behind the section within which a passing torch is followed: beyond
them its flux is under a two-thousandth of its peak."""

PIECES = 8
"""Parts that a pass is cut into, so that no step runs over it."""

OUTLINE = "outline"
"""All surfaces as one edge, in the order of their names: one exchange for all."""


def with_outline(mesh: Mesh) -> Mesh:
    """The mesh with its whole outline as one more named edge."""
    every = np.concatenate(list(mesh.edges.values()))
    return replace(mesh, edges={**mesh.edges, OUTLINE: every})


def surface_on(cut: Cut, body: Medium, name: str) -> tuple[slice, FloatArray]:
    """Where a surface stands in the outline, and its points' coordinates (f, b) m."""
    start = 0
    for other, facets in body.mesh.edges.items():
        if other == name:
            break
        start += len(facets)
    xy = edge_points(body, name)
    s = surface_coordinate(cut.pieces, name, xy[..., 0], xy[..., 1])
    return slice(start, start + len(xy)), s


def under(cut: Cut, body: Medium, pattern: Heated) -> IntArray:
    """Surface nodes that a pattern's torch heats: its width and a radius beside it."""
    found = []
    for name in pattern.on:
        nodes = np.unique(body.mesh.edges[name])
        x, y = body.mesh.points[nodes].T
        s = surface_coordinate(cut.pieces, name, x, y)
        reach = 0.5 * pattern.width + pattern.drive.radius
        found.append(nodes[np.abs(s - pattern.at) <= reach])
    return np.unique(np.concatenate(found))


def inlet_of(cut: Cut, body: Medium, pattern: Heated) -> EdgeSource:
    """The torch's heat through its surfaces, for a torch that stays where it is.

    Over a length at once: the power over that length.  On a spot: over z = 0 of it, the
    Gaussian's middle.  A passing torch: per m of its way, to be multiplied by its pulse.
    """
    power = pattern.drive.power
    if pattern.share < 1.0:
        power *= np.sqrt(3.0 / np.pi) / pattern.drive.radius
    elif pattern.at_once:
        power /= pattern.length
    flux = np.zeros(edge_points(body, OUTLINE).shape[:2])
    for name in pattern.on:
        here, s = surface_on(cut, body, name)
        flux[here] = power * pattern.across(s)
    return EdgeSource(OUTLINE, lambda x, y, t: flux)


def passing(
    pattern: Heated, inlet: EdgeSource, speed: float, place: FloatArray,
    name: PhaseName, edges: tuple[EdgeExchange, ...],
) -> list[Phase]:  # fmt: skip
    """Phases of a torch that passes, half way through them at z = 0."""
    R = pattern.drive.radius
    half = PASS * R / speed
    part = 2.0 * half / PIECES
    pace = np.sqrt(3.0) * speed / R

    def pulsed(start: float) -> EdgeSource:
        def flux(x: FloatArray, y: FloatArray, t: float) -> FloatArray:
            gap = pace * (start + t - half)
            peak = np.sqrt(3.0 / np.pi) / R
            return inlet.flux(x, y, t) * peak * np.exp(-(gap**2))

        return replace(inlet, flux=flux)

    return [
        Phase(
            part,
            edges=edges,
            inlets=(pulsed(k * part),),
            heated_at=place,
            name=name,
        )
        for k in range(PIECES)
    ]

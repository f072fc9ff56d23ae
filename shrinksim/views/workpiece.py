"""Geometry of a case of the elevation view: drawing and mesh."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.casefile.heating import AnyPattern, Torch
from shrinksim.casefile.resolving import steel_of
from shrinksim.casefile.tables import Numerics, SteelChoice
from shrinksim.errors import CaseError
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.mesher import graded, mesh_elevation
from shrinksim.shop.pattern import (
    INSET,
    PATTERNS,
    Coverage,
    Drive,
    HeatedFace,
    Pattern,
    TorchPath,
    path_length,
)
from shrinksim.shop.sections.shape import (
    Axis,
    Band,
    Elevation,
    Overlay,
    Section,
    plastic_moment,
)
from shrinksim.shop.steel import Steel

FADE = 1.5
"""Depths of member on each side of the patterns in an automatic patch: the ends then
change the rotation by less than the mesh does (tests/test_practice.py)."""

FINE = 0.68
"""Element side in the pattern, in radii of the torch: with the torch path kept, the
rotations of the shipped vees are within 0.7 % of those with mesh and steps half as
coarse."""

PITCH = 0.75
"""Rows of a serpentine are this many radii apart: closer rows overheat each other,
wider ones leave cold lanes.  Common practice, no source."""


@dataclass(frozen=True)
class Workpiece:
    """The heated part of a member, drawn.

    bands, overlays : of the view, see shop.sections.  patterns : one tuple for each heat.
    length, depth, axis : m, of the patch; height of the centroid.  plastic_moment N m
    at the steel's yield stress, cold; bending_stiffness EI N m2; axial_stiffness EA N.
    opens : +1 when the reference edge, which shortens when the rotation is positive,
    is the top one.  fine : m, element side in the patterns.
    """

    bands: tuple[Band, ...]
    overlays: tuple[Overlay, ...]
    steel: Steel
    patterns: tuple[tuple[Pattern, ...], ...]
    length: float
    depth: float
    opens: int
    plastic_moment: float
    bending_stiffness: float
    axial_stiffness: float
    fine: float
    far: float

    @property
    def axis(self) -> float:
        """Height (m) of the centroid."""
        return 0.5 * self.depth

    @property
    def outlines(self) -> tuple[FloatArray, ...]:
        """Every pattern's outline."""
        return tuple(p.outline for heat in self.patterns for p in heat)

    @property
    def paths(self) -> tuple[TorchPath, ...]:
        """The torch's path over every pattern."""
        return tuple(p.path for heat in self.patterns for p in heat)

    @property
    def heated_length(self) -> float:
        """Extent of the patterns along the member, m."""
        x = np.concatenate([o[:, 0] for o in self.outlines])
        return max(float(x.max() - x.min()), 1e-3)


class FlatMember(Protocol):
    """A member that is seen from the side; patch : m, None automatic."""

    @property
    def shape(self) -> Section: ...
    @property
    def bending(self) -> Axis: ...
    @property
    def patch(self) -> float | None: ...


class FlatCase(Protocol):
    """A case of a member that is seen from the side."""

    @property
    def member(self) -> FlatMember: ...
    @property
    def steel(self) -> SteelChoice: ...
    @property
    def heats(self) -> Sequence[Any]: ...
    @property
    def numerics(self) -> Numerics: ...


def workpiece(
    case: FlatCase, torches: Callable[[Any], int] = lambda pattern: 1
) -> Workpiece:
    """Draw the heated part of the member of a case.

    torches : on a pattern at once, each on a face of its own.
    """
    section, axis = case.member.shape, case.member.bending
    view = section.elevation(axis)
    grade = steel_of(case.steel)
    ground = _ground(view)
    drawn = tuple(
        tuple(_pattern(p, ground, view.walls * torches(p)) for p in heat.patterns)
        for heat in case.heats
    )
    outlines = [p.outline for heat in drawn for p in heat]
    x = np.concatenate([o[:, 0] for o in outlines])
    reach = 2.0 * max(float(x.max()), -float(x.min())) + 2.0 * FADE * ground.depth
    length = case.member.patch or reach
    radius = min(p.path.drive.radius for heat in drawn for p in heat)
    fine = case.numerics.element or min(FINE * radius, 0.15 * ground.depth)
    far = case.numerics.far_element or max(0.38 * ground.depth, fine)
    E = float(np.interp(20.0, _grid(grade), grade.strain.modulus))
    return Workpiece(
        view.bands,
        view.cold_layers,
        grade,
        drawn,
        length,
        ground.depth,
        _opens(drawn),
        plastic_moment(section, axis, grade.yield_stress),
        E * view.second_moment,
        E * section.properties.area,
        fine,
        far,
    )


def _grid(grade: Steel) -> FloatArray:
    table = grade.strain
    return table.start + table.step * np.arange(len(table.modulus))


def _ground(view: Elevation) -> HeatedFace:
    """The face that patterns are drawn on, and the flanges seen on edge."""
    strips = view.bands
    depth = strips[-1].high
    if view.lip == 0.0:
        return HeatedFace(depth, tuple(b.name for b in strips))
    inner = tuple(b.name for b in strips[1:-1])
    flanges = tuple((b.name, b.low, b.high) for b in (strips[0], strips[-1]))
    return HeatedFace(depth, inner, flanges)


def drive_of(torch: Torch, walls: int) -> Drive:
    """A torch's drive; walls that are seen as one are each heated by such a torch."""
    power = torch.power * torch.efficiency * torch.torches * walls
    held = torch.drive == "held"
    return Drive(
        power,
        torch.radius,
        torch.speed,
        torch.target if held else None,
        torch.patience,
    )


def _pattern(p: AnyPattern, ground: HeatedFace, walls: int) -> Pattern:
    """Draw one pattern of a case."""
    drive = drive_of(p.torch, walls)
    pitch = p.pitch or PITCH * drive.radius
    way = Coverage(pitch, INSET * drive.radius, p.path == "serpentine", p.pause)
    middle = 0.5 * ground.depth
    match p.kind:
        case "vee":
            sizes = {"at": p.at, "angle": p.angle, "depth": p.depth}
            opens = 1 if p.open == "top" else -1
        case "strip":
            sizes = {"at": p.at, "width": p.width}
            opens = 1 if p.on == "flange top" else -1
        case "rectangle":
            sizes = {"at": p.at, "low": p.height, "width": p.width, "depth": p.depth}
            opens = 1 if p.height + 0.5 * p.depth >= middle else -1
        case "line":
            sizes = {"start": p.start, "end": p.end}
            opens = 1 if 0.5 * (p.start[1] + p.end[1]) >= middle else -1
        case "spot":
            sizes = {"at": p.at, "height": p.height, "diameter": p.diameter}
            opens = 1 if p.height >= middle else -1
    drawn = PATTERNS[p.kind](ground, drive, way, **sizes, opens=opens)
    if drive.target is None and path_length(drawn.path.points)[-1] == 0.0:
        message = (
            f"heat: the {p.kind} is so narrow that the torch has no way to travel in it; "
            'write drive = "held" with a target, or make it wider'
        )
        raise CaseError(message)
    return drawn


def _opens(drawn: tuple[tuple[Pattern, ...], ...]) -> int:
    """The edge that most patterns open to; the first decides a draw."""
    signs = [p.opens for heat in drawn for p in heat]
    return int(np.sign(sum(signs))) or signs[0]


def mesh_of(work: Workpiece) -> Mesh:
    """Mesh the workpiece, fine in its patterns and coarser with distance."""
    size = graded(work.outlines, work.fine, work.far)
    return mesh_elevation(
        work.length,
        [(b.name, b.low, b.high) for b in work.bands],
        work.outlines,
        size,
    )


def by_band(work: Workpiece, mesh: Mesh, name: str) -> FloatArray:
    """A field of the bands (thickness, ...) for every element (e,)."""
    values = np.array([getattr(b, name) for b in work.bands], float)
    return values[mesh.region]


def overlay_of(work: Workpiece, mesh: Mesh) -> tuple[IntArray, FloatArray] | None:
    """Elements under layers that stay cold, and the layers' thickness (k,) m."""
    if not work.overlays:
        return None
    y = mesh.points[mesh.triangles[:, :3], 1].mean(axis=1)
    parts = [np.flatnonzero((y > o.low) & (y < o.high)) for o in work.overlays]
    depth = [
        np.full(len(part), o.thickness)
        for part, o in zip(parts, work.overlays, strict=True)
    ]
    return np.concatenate(parts), np.concatenate(depth)

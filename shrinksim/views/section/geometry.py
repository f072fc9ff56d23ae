"""From a case to its section, drawn and meshed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import erf

from shrinksim.arrays import FloatArray
from shrinksim.casefile.heating import Torch
from shrinksim.casefile.resolving import steel_of
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.mesher import graded_from, mesh_outline
from shrinksim.shop.outline import (
    Piece,
    Point,
    along_surface,
    surface_length,
)
from shrinksim.shop.pattern import INSET, Drive
from shrinksim.shop.sections.shape import Section, SectionProperties
from shrinksim.shop.steel import Steel
from shrinksim.views.section.record import AnyAlong, SectionCase, SpotsAlong, StripAlong

FINE = 0.15
"""Element side on the heated surface, in radii of the torch."""

LAYERS = 3.0
"""Elements through the steel under the torch, at least."""

GROWTH = 0.25
"""m of side per m of distance from the heated surface."""


@dataclass(frozen=True)
class Heated:
    """One pattern of heat along the member.

    on : surfaces, heated at the same time.  at : m from their middle.  half : m, half
    the way that the torch weaves across.  width : m, what is marked.  length : m along
    the member.  share of the length that is heated: under 1 for a row of spots.
    at_once : the torch plays over the length, or stays (spots), in place of travelling.
    """

    kind: str
    on: tuple[str, ...]
    at: float
    half: float
    width: float
    length: float
    share: float
    at_once: bool
    drive: Drive
    pause: float

    def across(self, s: FloatArray) -> FloatArray:
        """Share of the power per m across, at s m from the surface's middle.

        A Gaussian that holds 95 % in the torch's radius, moved to and fro over the way.
        """
        root, R = np.sqrt(3.0), self.drive.radius
        r = s - self.at
        if self.half < 1e-6 * R:
            return root / (np.sqrt(np.pi) * R) * np.exp(-3.0 * (r / R) ** 2)
        rise = erf(root * (r + self.half) / R) - erf(root * (r - self.half) / R)
        return rise / (4.0 * self.half)

    def span(self, pieces: tuple[Piece, ...], name: str) -> tuple[float, float]:
        """From where to where (m) the pattern is marked on a surface."""
        most = 0.5 * surface_length(pieces, name)
        low, high = self.at - 0.5 * self.width, self.at + 0.5 * self.width
        return max(low, -most), min(high, most)


@dataclass(frozen=True)
class Cut:
    """A member's section, drawn.

    pieces : its outline.  heats : patterns of each heat.  side : (2,) +1 or -1, which
    side is heated, right or left and top or bottom; 0 when neither.  moments : (2,) N m
    plastic, of camber and of sweep; stiffness : (2,) EI, N m2.  fine, far : m.
    """

    shape: Section
    pieces: tuple[Piece, ...]
    properties: SectionProperties
    steel: Steel
    heats: tuple[tuple[Heated, ...], ...]
    side: tuple[int, int]
    moments: tuple[float, float]
    stiffness: tuple[float, float]
    fine: float
    far: float

    @property
    def size(self) -> tuple[float, float]:
        """Width and depth of the drawing, m."""
        return self.shape.size

    @property
    def lengths(self) -> FloatArray:
        """Heated length of each heat, m, less what is between spots."""
        return np.array([heat[0].length * heat[0].share for heat in self.heats])

    @property
    def heated_length(self) -> float:
        """Longest of the heats, m."""
        return max(heat[0].length for heat in self.heats)

    @property
    def share(self) -> float:
        """Least share of its length that a heat covers."""
        return min(heat[0].share for heat in self.heats)

    @property
    def spans(self) -> tuple[tuple[str, float, float], ...]:
        """Surface, from, to (m) of every pattern."""
        return tuple(
            (name, *h.span(self.pieces, name))
            for heat in self.heats
            for h in heat
            for name in h.on
        )


def cut_of(case: SectionCase) -> Cut:
    """Draw the section of a case."""
    shape = case.member.shape
    pieces = shape.outline()
    grade = steel_of(case.steel)
    heats = tuple(tuple(heated(p) for p in heat.patterns) for heat in case.heats)
    every = [h for heat in heats for h in heat]
    radius = min(h.drive.radius for h in every)
    thin = min(shape.wall_under(name) for h in every for name in h.on)
    fine = case.numerics.element or min(FINE * radius, thin / LAYERS)
    far = case.numerics.far_element or max(1.2 * shape.web, fine)
    properties = shape.properties
    E = float(np.interp(20.0, _grid(grade), grade.strain.modulus))
    camber = properties.second_moment_strong, properties.plastic_modulus_strong
    sweep = properties.second_moment_weak, properties.plastic_modulus_weak
    if shape.flat:
        camber, sweep = sweep, camber
    return Cut(
        shape,
        pieces,
        properties,
        grade,
        heats,
        _side(pieces, properties.centroid, every),
        (camber[1] * grade.yield_stress, sweep[1] * grade.yield_stress),
        (E * camber[0], E * sweep[0]),
        fine,
        far,
    )


def _grid(grade: Steel) -> FloatArray:
    table = grade.strain
    return table.start + table.step * np.arange(len(table.modulus))


def heated(p: AnyAlong) -> Heated:
    """A pattern of a case as the heat stage takes it."""
    torch: Torch = p.torch
    power = torch.power * torch.efficiency * torch.torches
    held = torch.drive != "travel"
    target = torch.target if held else None
    drive = Drive(power, torch.radius, torch.speed, target, torch.patience)
    width, share = 0.0, 1.0
    if isinstance(p, StripAlong):
        width = p.width
    elif isinstance(p, SpotsAlong):
        width, share = p.diameter, p.diameter / p.spacing
    half = max(0.5 * width - INSET * torch.radius, 0.0)
    return Heated(
        p.kind,
        p.on,
        p.at,
        half,
        width or 2.0 * INSET * torch.radius,
        p.length,
        share,
        torch.drive == "at once" or isinstance(p, SpotsAlong),
        drive,
        p.pause,
    )


def _side(
    pieces: tuple[Piece, ...], centroid: Point, every: list[Heated]
) -> tuple[int, int]:
    """Which side the heat is on, right or left and top or bottom of the centroid."""
    corners = np.array([p.start for p in pieces])
    size = np.ptp(corners, axis=0)
    where = [
        along_surface(pieces, name, np.array([h.at]))[0] for h in every for name in h.on
    ]
    off = (np.mean(where, axis=0) - np.array(centroid)) / size
    right, top = (int(np.sign(v)) if abs(v) > 0.01 else 0 for v in off)
    return right, top


def moments_of(case: SectionCase, cut: Cut) -> tuple[float, float]:
    """Moments of camber and of sweep, N m, + compresses the heated side."""
    load = case.load
    camber, sweep = load.camber or 0.0, load.sweep or 0.0
    if load.camber_ratio is not None:
        camber = load.camber_ratio * cut.moments[0]
    if load.sweep_ratio is not None:
        sweep = load.sweep_ratio * cut.moments[1]
    return camber, sweep


def mesh_cut(cut: Cut) -> Mesh:
    """Mesh the section, fine on the heated surfaces and coarser with distance."""
    points = []
    for name, low, high in cut.spans:
        margin = max(h.drive.radius for heat in cut.heats for h in heat)
        count = max(int((high - low + 2.0 * margin) / cut.fine), 2)
        s = np.linspace(low - margin, high + margin, 2 * count)
        points.append(along_surface(cut.pieces, name, s))
    size = graded_from(np.concatenate(points), cut.fine, cut.far, GROWTH)
    return mesh_outline(cut.pieces, size)

"""From a solid case to what is drawn and meshed: the plate, its patterns and faces."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.mesh import Mesh
from shrinksim.shop.pattern import Pattern, TorchPath
from shrinksim.shop.sections.shape import plastic_moment
from shrinksim.shop.steel import Steel
from shrinksim.views import workpiece
from shrinksim.views.solid.record import Orders, Side, SolidCase, torches_on
from shrinksim.views.workpiece import Workpiece

USUAL: Orders = "2, 3"
THICK: tuple[tuple[float, Orders], ...] = (
    (0.8, USUAL),
    (1.6, "3, 4"),
    (np.inf, "4, 4"),
)
"""Thickness over the radius of the torch up to which orders through the thickness are
taken: at 0.67, 2 and 3 lose 3.5 % of the bend out of the plane, 3 and 4 1.7 %, 4 and 4
nothing (tests/verification/test_three_dimensional_reference.py)."""

LOST = {"2, 3": 0.08, "3, 4": 0.04, "4, 4": 0.005}
"""Share of the bend out of the plane that orders lose, over the square of thickness over
radius: 0.6 % at 0.33 and 3.5 % at 0.67 with 2 and 3 (same source)."""


@dataclass(frozen=True)
class Slab:
    """The heated part of a plate, drawn.

    sheet : its patterns on the mesh of the middle surface, see views.workpiece.
    thickness : m.  faces : of every pattern, one tuple for each heat.  through : orders
    of the displacements.  flat_plastic_moment N m, flat_stiffness EI N m2 : out of the
    plane.  steepness : thickness over the smallest radius of a torch.
    """

    sheet: Workpiece
    thickness: float
    faces: tuple[tuple[Side, ...], ...]
    through: Orders
    flat_plastic_moment: float
    flat_stiffness: float
    steepness: float

    @property
    def steel(self) -> Steel:
        """Its steel."""
        return self.sheet.steel

    @property
    def patterns(self) -> tuple[tuple[Pattern, ...], ...]:
        """One tuple for each heat."""
        return self.sheet.patterns

    @property
    def length(self) -> float:
        """Of the patch, m."""
        return self.sheet.length

    @property
    def depth(self) -> float:
        """Width of the plate, m."""
        return self.sheet.depth

    @property
    def opens(self) -> int:
        """+1 when the wide end of most patterns is at the top edge."""
        return self.sheet.opens

    @property
    def outlines(self) -> tuple[FloatArray, ...]:
        """Every pattern's outline."""
        return self.sheet.outlines

    @property
    def paths(self) -> tuple[TorchPath, ...]:
        """The torch's path over every pattern."""
        return self.sheet.paths

    @property
    def heated_length(self) -> float:
        """Extent of the patterns along the member, m."""
        return self.sheet.heated_length

    @property
    def every_face(self) -> tuple[Side, ...]:
        """Of every pattern, in order."""
        return tuple(face for heat in self.faces for face in heat)

    @property
    def first_front(self) -> bool:
        """Whether "the face" is the front: where the first pattern is, if on one."""
        return self.every_face[0] != "back"

    @property
    def orders(self) -> tuple[int, int]:
        """Orders of the displacements in the plane and across the thickness."""
        flat, across = self.through.split(", ")
        return int(flat), int(across)

    @property
    def lost(self) -> float:
        """Share of the bend out of the plane that the orders leave out."""
        return LOST[self.through] * self.steepness**2


def slab(case: SolidCase) -> Slab:
    """Draw the heated part of the plate of a case."""
    sheet = workpiece.workpiece(case, lambda pattern: torches_on(pattern.face))
    member, shape = case.member, case.member.shape
    radius = min(path.drive.radius for path in sheet.paths)
    steepness = member.thickness / radius
    automatic: Orders = next(orders for most, orders in THICK if steepness <= most)
    properties = shape.properties
    E = sheet.bending_stiffness / properties.second_moment_strong
    return Slab(
        sheet,
        member.thickness,
        tuple(tuple(p.face for p in heat.patterns) for heat in case.heats),
        case.numerics.through or automatic,
        plastic_moment(shape, "weak", sheet.steel.yield_stress),
        E * properties.second_moment_weak,
        steepness,
    )


def mesh_of(work: Slab) -> Mesh:
    """Mesh the middle surface, fine in the patterns and coarser with distance."""
    return workpiece.mesh_of(work.sheet)

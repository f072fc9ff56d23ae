"""Angles, with equal or unequal legs.

Drawn with the heel at the bottom left, one leg lying to the right, the other standing.
Its principal axes are inclined, so that a moment about the horizontal axis bends it
both ways; the section view computes this, checks of loads do not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import ClassVar

from shrinksim.errors import CaseError
from shrinksim.shop.outline import Piece, with_length
from shrinksim.shop.sections.integrals import properties_of
from shrinksim.shop.sections.shape import (
    Axis,
    Elevation,
    Flanges,
    Midline,
    Rolled,
    SectionKind,
    SectionProperties,
    in_mm,
    not_positive,
    refuse,
    unknown_axis,
)


@dataclass(frozen=True)
class Angle:
    """An angle; width of the lying leg, depth of the standing one, thickness; m."""

    name: str
    width: float
    depth: float
    thickness: float
    root_radius: float
    toe_radius: float = 0.0

    kind: ClassVar[str] = "angle"
    flat: ClassVar[bool] = False
    symmetry: ClassVar[tuple[bool, bool]] = (False, False)
    parabolic: ClassVar[frozenset[Axis]] = frozenset()
    unloaded: ClassVar[str] = (
        "an angle's principal axes are inclined, so that a moment about one of the "
        "drawing's axes bends it about both"
    )

    def __post_init__(self) -> None:
        refuse(self.name, not_positive(self) or _misfits(self))

    @property
    def size(self) -> tuple[float, float]:
        """Legs, m."""
        return self.width, self.depth

    @property
    def wall(self) -> float:
        """Thickness of the legs, m."""
        return self.thickness

    @property
    def web(self) -> float:
        """Thickness of the legs, m."""
        return self.thickness

    @property
    def flanges(self) -> Flanges | None:
        """None: it has legs."""
        return None

    @property
    def rolled(self) -> Rolled | None:
        """None: its tolerances are not known, and plans do not take it."""
        return None

    @property
    def midlines(self) -> tuple[Midline, ...]:
        """Along both legs."""
        x, half = 0.5 * self.width, 0.5 * self.thickness
        return (
            Midline("lying leg", (-x, half), (x, half)),
            Midline("standing leg", (half - x, 0.0), (half - x, self.depth)),
        )

    @property
    def properties(self) -> SectionProperties:
        """Integrals around its outline, about axes along the legs."""
        return _properties(self)

    @property
    def torsion_constant(self) -> float:
        """Torsion constant It, m4: b t3 / 3 of both legs along their middle lines.

        Thin-walled open sections, S. P. Timoshenko & J. M. Gere, Theory of Elastic
        Stability, from memory; the fillet is left out, which is safe.
        """
        t = self.thickness
        return (self.width + self.depth - t) * t**3 / 3

    @property
    def warping_constant(self) -> float:
        """Warping constant Iw, m6: negligible for two walls that meet in a line."""
        return 0.0

    def outline(self) -> tuple[Piece, ...]:
        """From the heel along the lying leg."""
        left, right = -0.5 * self.width, 0.5 * self.width
        h, t, r, toe = self.depth, self.thickness, self.root_radius, self.toe_radius
        face, tip = left + t, right - toe
        pieces = [
            Piece("lying leg", (left, 0.0), (right, 0.0)),
            Piece("lying leg edge", (right, 0.0), (right, t - toe)),
            Piece("lying leg edge", (right, t - toe), (tip, t), (tip, t - toe)),
            Piece("lying leg inside", (tip, t), (face + r, t)),
            Piece("root", (face + r, t), (face, t + r), (face + r, t + r)),
            Piece("standing leg inside", (face, t + r), (face, h - toe)),
            Piece(
                "standing leg edge", (face, h - toe), (face - toe, h),
                (face - toe, h - toe),
            ),
            Piece("standing leg edge", (face - toe, h), (left, h)),
            Piece("standing leg", (left, h), (left, 0.0)),
        ]  # fmt: skip
        return tuple(with_length(pieces, 1e-8 * h))

    def elevation(self, axis: Axis) -> Elevation:
        """Raises CaseError: it bends out of its plane."""
        if axis not in ("strong", "weak"):
            raise unknown_axis(axis)
        message = (
            f"'{self.name}' is an angle; its principal axes are inclined, so that every "
            "heat bends it out of the plane of an elevation; for a long heat use "
            'view = "section"'
        )
        raise CaseError(message)

    def wall_under(self, surface: str) -> float:  # noqa: ARG002 (both legs alike)
        """Thickness of the legs, m."""
        return self.thickness

    def utilisation(self, camber: float, sweep: float) -> float:
        """Sum of both shares, on the safe side: the yield surface is convex."""
        return camber + sweep

    def words(self, say: Callable[[float], str]) -> str:
        """Its legs, thickness and root radius."""
        name = "" if self.name == "angle" else f"{self.name}, "
        legs = f"lying leg {say(self.width)}, standing leg {say(self.depth)}"
        parts = f"{name}angle, {legs}, {say(self.thickness)} thick"
        if self.root_radius > 0.0:
            parts += f", root radius {say(self.root_radius)}"
        return parts


def _misfits(section: Angle) -> list[str]:
    """Faults of contradictory dimensions."""
    t, toe, shorter = section.thickness, section.toe_radius, min(section.size)
    thickness, root = in_mm(section, "thickness"), in_mm(section, "root_radius")
    if t >= shorter:
        return [f"{thickness} leaves no leg of {1000 * shorter:g} mm"]
    faults = []
    if t + section.root_radius > shorter - toe + 1e-9 * shorter:
        faults.append(f"{root} does not fit between the legs")
    if toe > t * (1.0 + 1e-9):
        faults.append(f"{in_mm(section, 'toe_radius')} is more than {thickness}")
    return faults


@cache
def _properties(section: Angle) -> SectionProperties:
    return properties_of(section.outline())


KIND = SectionKind(
    "angle",
    "an angle",
    ("width", "depth", "thickness"),
    ("root_radius",),
    lambda given: Angle(
        "angle", given["width"], given["depth"], given["thickness"],
        given["root_radius"],
    ),
    "angles.csv",
    lambda name, row: Angle(name, **row),
)  # fmt: skip

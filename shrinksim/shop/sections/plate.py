"""A flat plate or bar.

Seen on its face it is one sheet that bends in its own plane; in its section it lies
flat, its width along x.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import ClassVar

from shrinksim.errors import CaseError
from shrinksim.shop.outline import Piece
from shrinksim.shop.sections.shape import (
    STEEL_DENSITY,
    Axis,
    Band,
    Elevation,
    Flanges,
    Midline,
    Rolled,
    SectionKind,
    SectionProperties,
    not_positive,
    refuse,
    unknown_axis,
)


@dataclass(frozen=True)
class Plate:
    """A flat plate or bar seen on its face; m."""

    width: float
    thickness: float

    kind: ClassVar[str] = "plate"
    flat: ClassVar[bool] = True
    symmetry: ClassVar[tuple[bool, bool]] = (True, True)
    parabolic: ClassVar[frozenset[Axis]] = frozenset({"strong", "weak"})
    unloaded: ClassVar[str] = ""

    def __post_init__(self) -> None:
        refuse("plate", not_positive(self))

    @property
    def name(self) -> str:
        """The word for it."""
        return "plate"

    @property
    def size(self) -> tuple[float, float]:
        """Width and height as it lies, m."""
        return self.width, self.thickness

    @property
    def wall(self) -> float:
        """Its thickness, m."""
        return self.thickness

    @property
    def web(self) -> float:
        """Its thickness, m."""
        return self.thickness

    @property
    def flanges(self) -> Flanges | None:
        """None: it has no flanges."""
        return None

    @property
    def rolled(self) -> Rolled | None:
        """None: it is no rolled shape."""
        return None

    @property
    def midlines(self) -> tuple[Midline, ...]:
        """Along its faces and its middle."""
        x, t = 0.5 * self.width, self.thickness
        heights = {"top face": t, "middle": 0.5 * t, "bottom face": 0.0}
        return tuple(Midline(name, (-x, y), (x, y)) for name, y in heights.items())

    @property
    def properties(self) -> SectionProperties:
        """Closed forms of a rectangle."""
        b, t = self.width, self.thickness
        area, strong, weak = b * t, t * b**3 / 12, b * t**3 / 12
        return SectionProperties(
            area=area,
            second_moment_strong=strong,
            second_moment_weak=weak,
            plastic_modulus_strong=t * b**2 / 4,
            plastic_modulus_weak=b * t**2 / 4,
            elastic_modulus_strong=2 * strong / b,
            elastic_modulus_weak=2 * weak / t,
            mass_per_length=STEEL_DENSITY * area,
            centroid=(0.0, 0.5 * t),
        )

    @property
    def torsion_constant(self) -> float:
        """Torsion constant It, m4: b t3 / 3 (1 - 0.63 t / b + 0.0525 t5 / b5).

        W. C. Young, Roark's Formulas for Stress and Strain, from memory.
        """
        t, b = sorted((self.thickness, self.width))
        return b * t**3 / 3 * (1 - 0.63 * t / b + 0.0525 * (t / b) ** 5)

    @property
    def warping_constant(self) -> float:
        """Warping constant Iw, m6: neglected, on the safe side."""
        return 0.0

    def outline(self) -> tuple[Piece, ...]:
        """Its four sides."""
        x, t = 0.5 * self.width, self.thickness
        return (
            Piece("bottom", (-x, 0.0), (x, 0.0)),
            Piece("edge right", (x, 0.0), (x, t)),
            Piece("top", (x, t), (-x, t)),
            Piece("edge left", (-x, t), (-x, 0.0)),
        )

    def elevation(self, axis: Axis) -> Elevation:
        """One band over the whole width."""
        if axis == "weak":
            message = "a plate is computed in its own plane: its axis is always strong"
            raise CaseError(message)
        if axis != "strong":
            raise unknown_axis(axis)
        b, t = self.width, self.thickness
        band = Band("plate", 0.0, b, t, t, 2.0, 2)
        strong = self.properties.second_moment_strong
        return Elevation((band,), (), b, (0.0, b), 0.0, 1, t, t, strong)

    def wall_under(self, surface: str) -> float:  # noqa: ARG002 (all alike)
        """Its thickness, m."""
        return self.thickness

    def utilisation(self, camber: float, sweep: float) -> float:
        """Both moments: m + 3/4 m'^2 = 1 with m' the lesser, exact, by integration.

        The neutral axis then cuts two opposite sides.
        """
        return max(camber, sweep) + 0.75 * min(camber, sweep) ** 2

    def words(self, say: Callable[[float], str]) -> str:
        """Width and thickness."""
        return f"plate {say(self.width)} wide, {say(self.thickness)} thick"


KIND = SectionKind(
    "plate",
    "a plate",
    ("width", "thickness"),
    (),
    lambda given: Plate(given["width"], given["thickness"]),
)

"""Interface of a section shape, and the records that it returns.

A new shape is one file beside this one with a frozen dataclass that offers what `Section`
names and with a `SectionKind`, a table in ``shop/data`` if it is rolled, and its name in
the list of `catalogue`.  Its properties can come from its outline alone, see `integrals`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Literal, Protocol

from shrinksim.errors import CaseError
from shrinksim.shop.outline import Piece, Point

Axis = Literal["strong", "weak"]

STEEL_DENSITY = 7850.0
"""kg/m3, EN 1993-1-2:2005, 3.2.2."""


@dataclass(frozen=True)
class SectionProperties:
    """Gross properties of a section; m2, m4, m3 and kg/m.

    strong : about the horizontal axis of a rolled shape as it is drawn, weak : about
    the upright one; of a plate in its plane and across it.  centroid : (x, y) m in the
    drawing.  product_moment : of x and y about the centroid, 0 with an axis of symmetry.
    """

    area: float
    second_moment_strong: float
    second_moment_weak: float
    plastic_modulus_strong: float
    plastic_modulus_weak: float
    elastic_modulus_strong: float
    elastic_modulus_weak: float
    mass_per_length: float
    centroid: Point
    product_moment: float = 0.0


@dataclass(frozen=True)
class Band:
    """A horizontal strip of an elevation, from `low` to `high` (m).

    thickness, heat_thickness : m, that carries stress, that stores and conducts heat
    losing_faces : exposed surface per elevation area    torched_faces : faces heated
    """

    name: str
    low: float
    high: float
    thickness: float
    heat_thickness: float
    losing_faces: float
    torched_faces: int


@dataclass(frozen=True)
class Overlay:
    """Cold steel that moves with the strip from `low` to `high`; m."""

    low: float
    high: float
    thickness: float


@dataclass(frozen=True)
class Elevation:
    """A member as a sheet seen from the side, bending about one axis; m.

    bands : from bottom to top, without gaps.  cold_layers : steel that stays cold.
    depth : of the view.  face : lowest and highest y that patterns are drawn on.
    lip : thickness of a flange seen on its edge at the top and the bottom, 0 for none.
    walls : faces alike that are seen as one, 2 for both flanges in plan.
    face_thickness, strip_thickness : of the steel under a torch on the face, on a lip.
    second_moment : m4.
    """

    bands: tuple[Band, ...]
    cold_layers: tuple[Overlay, ...]
    depth: float
    face: tuple[float, float]
    lip: float
    walls: int
    face_thickness: float
    strip_thickness: float
    second_moment: float


@dataclass(frozen=True)
class Flanges:
    """Two flanges; m.  arm : between their middles.  web_area : m2 over the depth."""

    width: float
    thickness: float
    arm: float
    web_area: float

    @property
    def area(self) -> float:
        """Of one of them, m2."""
        return self.width * self.thickness


@dataclass(frozen=True)
class Rolled:
    """Dimensions of a rolled shape that delivery standards refer to; m."""

    name: str
    depth: float
    flange_width: float
    tapered: bool


@dataclass(frozen=True)
class Midline:
    """A straight line (m) along the middle of a wall of the section."""

    name: str
    start: Point
    end: Point

    @property
    def upright(self) -> bool:
        """Whether it is vertical in the drawing."""
        return abs(self.end[1] - self.start[1]) > abs(self.end[0] - self.start[0])


class Section(Protocol):
    """A section.  Drawn with y from its lowest fibre, x from the middle of its width.

    kind : the word of a case file.  flat : a flat piece, drawn lying, whose strong axis
    is upright, whose long edges can be held, and that can close to its heated face.
    symmetry : whether left and right are alike, and top and bottom.  parabolic : axes
    about which m + n^2 <= 1 bounds moment and force together (M/Mp and N/Np).
    unloaded : why the section view takes no moment on it, "" where it does.
    """

    kind: ClassVar[str]
    flat: ClassVar[bool]
    symmetry: ClassVar[tuple[bool, bool]]
    parabolic: ClassVar[frozenset[Axis]]
    unloaded: ClassVar[str]

    @property
    def name(self) -> str:
        """Name in words."""
        ...

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the drawing, m."""
        ...

    @property
    def wall(self) -> float:
        """Thickness (m) of the plate, of the flanges or of the legs."""
        ...

    @property
    def web(self) -> float:
        """Thickness (m) of the web, or of the wall where there is none."""
        ...

    @property
    def flanges(self) -> Flanges | None:
        """The flanges, None for a shape without."""
        ...

    @property
    def rolled(self) -> Rolled | None:
        """Dimensions for delivery standards, None for a shape without such a standard."""
        ...

    @property
    def midlines(self) -> tuple[Midline, ...]:
        """Lines along which stress is read."""
        ...

    @property
    def properties(self) -> SectionProperties:
        """Area, moments and moduli about both axes, and mass per length."""
        ...

    @property
    def torsion_constant(self) -> float:
        """It, m4."""
        ...

    @property
    def warping_constant(self) -> float:
        """Iw, m6."""
        ...

    def outline(self) -> tuple[Piece, ...]:
        """The closed outline, counter-clockwise from the bottom left corner."""
        ...

    def elevation(self, axis: Axis) -> Elevation:
        """Elevation of the member as a sheet; CaseError where it cannot be one."""
        ...

    def wall_under(self, surface: str) -> float:
        """Thickness (m) of the steel under a torch on a surface of the outline."""
        ...

    def utilisation(self, camber: float, sweep: float) -> float:
        """Utilisation of the cold section by both moments (as shares of Mp); 1 is full."""
        ...

    def words(self, say: Callable[[float], str]) -> str:
        """Dimensions in words; say : a length (m) as text."""
        ...


@dataclass(frozen=True)
class SectionKind:
    """Kind of section, as it is written in a file.

    word : of the key ``section``.  a : with its article, in sentences.  due, free : keys
    of the member table that it needs and may have.  make : the shape of such keys (m), 0
    for those that are not given.  table : in ``shop/data``, of rolled shapes, "" none.
    of_row : a row of it (m).
    """

    word: str
    a: str
    due: tuple[str, ...]
    free: tuple[str, ...]
    make: Callable[[Mapping[str, float]], Section]
    table: str = ""
    of_row: Callable[[str, Mapping[str, float]], Section] | None = None


def plastic_moment(shape: Section, axis: Axis, yield_stress: float) -> float:
    """Plastic moment Z fy (N m) about `axis`; a plate's strong axis bends in plane."""
    properties = shape.properties
    match axis:
        case "strong":
            return properties.plastic_modulus_strong * yield_stress
        case "weak":
            return properties.plastic_modulus_weak * yield_stress
        case _:
            raise unknown_axis(axis)


def camber_axis(shape: Section) -> Axis:
    """The axis of its properties that is horizontal in the drawing."""
    return "weak" if shape.flat else "strong"


def unknown_axis(axis: object) -> CaseError:
    """CaseError for an unknown axis."""
    return CaseError(f"axis = '{axis}' is not one of strong, weak")


def refuse(name: str, faults: Sequence[str]) -> None:
    """Raise CaseError with the faults of a shape, if there are any."""
    if faults:
        raise CaseError([f"{name}: {fault}" for fault in faults])


def not_positive(shape: Any) -> list[str]:
    """Faults of dimensions that are not positive; radii and slope may be zero."""
    faults = []
    for f in fields(shape):
        value = getattr(shape, f.name)
        may_be_zero = f.name in {"root_radius", "toe_radius", "flange_slope"}
        if f.name == "name" or (math.isfinite(value) and value > 0):
            continue
        if not (may_be_zero and value == 0):
            least = "zero or more" if may_be_zero else "more than zero"
            faults.append(f"{in_mm(shape, f.name)} must be {least}")
    return faults


def in_mm(shape: Any, name: str) -> str:
    """Dimension with its name, for messages."""
    value, label = getattr(shape, name), name.replace("_", " ")
    return f"{label} {value:g}" if "slope" in label else f"{label} {1000 * value:g} mm"

"""Sections: plates and I-shapes, their properties, and the bands of their elevation.

An I-section is described by one quarter of it (x from the web's middle line, y from
mid-depth); its integrals are taken around the outline of that quarter by Green's
theorem, pieces being straight lines and circular arcs, so that root and toe radii and
tapered flanges come out to machine precision.

The elevation views of a member are horizontal strips of given thickness, see `bands`.
Strong axis: the web seen on its face.  Weak axis: both flanges seen together in plan.
"""

from __future__ import annotations

import csv
import difflib
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Literal, assert_never

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.errors import CaseError
from shrinksim.shop.contour import arc, line

Axis = Literal["strong", "weak"]
Point = tuple[float, float]

STEEL_DENSITY = 7850.0
"""kg/m3, EN 1993-1-2:2005, 3.2.2."""

WARM_WEB = 0.025
"""m, depth of web that shares the flange's temperature in the weak-axis view.

Penetration 2 sqrt(a t / pi) = 26 mm for a = 9e-6 m2/s and t = 60 s (Carslaw & Jaeger,
2.4, from memory).
"""


@dataclass(frozen=True)
class Plate:
    """A flat plate or bar seen on its face; m."""

    width: float
    thickness: float

    def __post_init__(self) -> None:
        _refuse("plate", _not_positive(self))


@dataclass(frozen=True)
class ISection:
    """A doubly symmetric I-shape; m, slope as a tangent.

    With a flange slope (0.14 for IPN, 1/6 for S shapes) the flange thickness is the one
    a quarter of the flange width from its tip, and the toe radius rounds the tip.
    """

    name: str
    depth: float
    flange_width: float
    web_thickness: float
    flange_thickness: float
    root_radius: float
    toe_radius: float = 0.0
    flange_slope: float = 0.0

    def __post_init__(self) -> None:
        _refuse(self.name, _not_positive(self) or _misfits(self))


@dataclass(frozen=True)
class SectionProperties:
    """Gross properties of a section; m2, m4, m3 and kg/m."""

    area: float
    second_moment_strong: float
    second_moment_weak: float
    plastic_modulus_strong: float
    plastic_modulus_weak: float
    elastic_modulus_strong: float
    elastic_modulus_weak: float
    mass_per_length: float


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


def section_properties(section: Plate | ISection) -> SectionProperties:
    """Area, second moments and moduli about both axes, and mass per length."""
    match section:
        case Plate(width=b, thickness=t):
            depth, width = b, t
            area, strong, weak = b * t, t * b**3 / 12, b * t**3 / 12
            plastic_strong, plastic_weak = t * b**2 / 4, b * t**2 / 4
        case ISection(depth=depth, flange_width=width):
            x, y, dy = _quarter_outline(section)
            area = 4 * float(x @ dy)
            strong, weak = 4 * float((x * y**2) @ dy), 4 * float((x**3 / 3) @ dy)
            plastic_strong = 4 * float((x * y) @ dy)
            plastic_weak = 4 * float((x**2 / 2) @ dy)
        case _:
            assert_never(section)
    return SectionProperties(
        area=area,
        second_moment_strong=strong,
        second_moment_weak=weak,
        plastic_modulus_strong=plastic_strong,
        plastic_modulus_weak=plastic_weak,
        elastic_modulus_strong=2 * strong / depth,
        elastic_modulus_weak=2 * weak / width,
        mass_per_length=STEEL_DENSITY * area,
    )


def plastic_moment(section: Plate | ISection, axis: Axis, yield_stress: float) -> float:
    """Plastic moment Z fy (N m) about `axis`; a plate's strong axis bends in plane."""
    properties = section_properties(section)
    match axis:
        case "strong":
            return properties.plastic_modulus_strong * yield_stress
        case "weak":
            return properties.plastic_modulus_weak * yield_stress
        case _:
            raise _unknown_axis(axis)


def bands(section: Plate | ISection, axis: Axis = "strong") -> tuple[Band, ...]:
    """The strips of the elevation view from bottom to top, without gaps.

    Strong axis: the fillet is spread over the height of the root radius, the area is
    exact (tapered flanges of the catalogue: within 0.7 %).  Weak axis: no fillets;
    `cold_layers` adds the web that stays cold.
    """
    match section, axis:
        case Plate(width=b, thickness=t), "strong":
            return (Band("plate", 0.0, b, t, t, 2.0, 2),)
        case ISection(), "strong":
            return _bands_strong(section)
        case ISection(), "weak":
            return _bands_weak(section)
        case Plate(), "weak":
            message = "a plate is computed in its own plane: its axis is always strong"
            raise CaseError(message)
        case _:
            raise _unknown_axis(axis)


def cold_layers(
    section: Plate | ISection, axis: Axis = "strong"
) -> tuple[Overlay, ...]:
    """The web that stays cold between the flanges, weak axis only."""
    if isinstance(section, Plate) or axis == "strong":
        return ()
    cold = section.depth - 2 * section.flange_thickness - 2 * _warm_web(section)
    if cold <= 0:
        return ()
    low, high = _web_edges(section)
    return (Overlay(low, high, cold),)


@cache
def catalogue() -> Mapping[str, ISection]:
    """The shapes shipped with the package by name, from data/sections.csv."""
    text = files("shrinksim.shop").joinpath("data", "sections.csv").read_text("utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    names = [field.name for field in fields(ISection)[1:]]
    shapes = {
        row["name"]: ISection(
            row["name"],
            *(float(row[n]) / 1000 for n in names[:-1]),
            flange_slope=float(row[names[-1]]),
        )
        for row in csv.DictReader(lines)
    }
    return MappingProxyType(shapes)


def section_named(name: str) -> ISection:
    """The shape called `name`, as shops write it: "IPE 300", "HE 200 A", "w12x26"."""
    wanted = _plain_name(name)
    shapes = catalogue()
    if wanted in shapes:
        return shapes[wanted]
    near = _near_names(wanted, shapes)
    hint = f"did you mean {' or '.join(near)}? " if near else ""
    message = (
        f"'{name[:40]}' is not one of the {len(shapes)} shapes of the catalogue; {hint}"
        'for a shape that is not in it give section = "I" and its dimensions'
    )
    raise CaseError(message)


def _plain_name(name: str) -> str:
    """The catalogue's spelling: capitals, no blanks, HE200A as HEA200."""
    plain = re.sub(r"[\s_-]", "", name).upper().replace("×", "X").replace("*", "X")
    plain = re.sub(r"^HE(\d+)([AB])$", r"HE\2\1", plain)
    return re.sub(r"^INP(?=\d)", "IPN", plain)


def _near_names(wanted: str, shapes: Mapping[str, ISection]) -> list[str]:
    """Shapes of the same family next in size, or else names spelled alike."""
    sizes = {n: re.match(r"([A-Z]+)(\d+)", n) for n in (wanted, *shapes)}
    if asked := sizes.pop(wanted):
        family = [m for m in sizes.values() if m and m[1] == asked[1]]
        family.sort(key=lambda match: abs(int(match[2]) - int(asked[2])))
        if family:
            return [match.string for match in family[:2]]
    return difflib.get_close_matches(wanted, shapes, n=2, cutoff=0.6)


def _refuse(name: str, faults: list[str]) -> None:
    if faults:
        raise CaseError([f"{name}: {fault}" for fault in faults])


def _not_positive(section: Plate | ISection) -> list[str]:
    """Dimensions that are no positive length; radii and slope may be zero."""
    faults = []
    for field in fields(section):
        value = getattr(section, field.name)
        may_be_zero = field.name in {"root_radius", "toe_radius", "flange_slope"}
        if field.name == "name" or (math.isfinite(value) and value > 0):
            continue
        if not (may_be_zero and value == 0):
            least = "zero or more" if may_be_zero else "more than zero"
            faults.append(f"{_in_mm(section, field.name)} must be {least}")
    return faults


def _misfits(section: ISection) -> list[str]:
    """Dimensions that make no I-shape together."""
    said = {field.name: _in_mm(section, field.name) for field in fields(section)[1:]}
    h, b = section.depth, section.flange_width
    x_root, y_root, x_toe, y_toe = arc_centres(section)
    tip, slack = h / 2 - _inner_face(section, b / 2), 1e-9 * h
    if section.web_thickness >= b:
        return [f"{said['web_thickness']} leaves no flange, {said['flange_width']}"]
    if 2 * section.flange_thickness >= h:
        return [f"two flanges, {said['flange_thickness']}, fill all of {said['depth']}"]
    if tip <= 0:
        return [f"{said['flange_slope']} leaves no steel at the tip of the flange"]
    faults = []
    if x_root > x_toe + slack or y_root < -slack:
        faults.append(f"{said['root_radius']} does not fit between web and flanges")
    if y_toe > h / 2 + slack:
        faults.append(f"{said['toe_radius']} is more than the tip of the flange has")
    return faults


def _in_mm(section: Plate | ISection, name: str) -> str:
    """A dimension with its name, for messages."""
    value, label = getattr(section, name), name.replace("_", " ")
    return f"{label} {value:g}" if "slope" in label else f"{label} {1000 * value:g} mm"


def _unknown_axis(axis: object) -> CaseError:
    return CaseError(f"axis = '{axis}' is not one of strong, weak")


def _bands_strong(section: ISection) -> tuple[Band, ...]:
    h, b = section.depth, section.flange_width
    tw, tf, r = section.web_thickness, section.flange_thickness, section.root_radius
    r = r if r > 1e-9 * h else 0.0
    root = _root_thickness(section) if r > 0 else tw
    losing = (2 * b - tw + 2 * tf) / tf
    strips = [
        ("flange bottom", 0.0, tf, b, losing, 1),
        ("root bottom", tf, tf + r, root, 2.0, 2),
        ("web", tf + r, h - tf - r, tw, 2.0, 2),
        ("root top", h - tf - r, h - tf, root, 2.0, 2),
        ("flange top", h - tf, h, b, losing, 1),
    ]
    return tuple(
        Band(name, low, high, t, t, losing, torched)
        for name, low, high, t, losing, torched in strips
        if high - low > 1e-9 * h
    )


def _root_thickness(section: ISection) -> float:
    """Thickness over the root's height for an exact area, at least the web's; m.

    With parallel flanges tw + 2 (1 - pi/4) r.
    """
    tf, tw = section.flange_thickness, section.web_thickness
    plain = 2 * section.flange_width * tf + tw * (section.depth - 2 * tf)
    missing = section_properties(section).area - plain
    return tw + max(0.0, missing / (2 * section.root_radius))


def _bands_weak(section: ISection) -> tuple[Band, ...]:
    b, tw, tf = section.flange_width, section.web_thickness, section.flange_thickness
    low, high = _web_edges(section)
    d = _warm_web(section)
    t_flanges, t_web = 2 * tf, 2 * tf + 2 * d
    return (
        Band("flange low", 0.0, low, t_flanges, t_flanges, 4.0, 2),
        Band("web", low, high, t_web, t_web, 2.0 + 4.0 * d / tw, 2),
        Band("flange high", high, b, t_flanges, t_flanges, 4.0, 2),
    )


def _warm_web(section: ISection) -> float:
    return min(WARM_WEB, section.depth / 2 - section.flange_thickness)


def _web_edges(section: ISection) -> tuple[float, float]:
    b, tw = section.flange_width, section.web_thickness
    return (b - tw) / 2, (b + tw) / 2


def arc_centres(section: ISection) -> tuple[float, float, float, float]:
    """Centres (x, y) of the root arc and of the toe arc, from the middle; m."""
    s, r, toe = section.flange_slope, section.root_radius, section.toe_radius
    x_root = section.web_thickness / 2 + r
    x_toe = section.flange_width / 2 - toe
    across = math.hypot(1.0, s)  # vertical distance of a centre, over its radius
    y_root = _inner_face(section, x_root) - r * across
    y_toe = _inner_face(section, x_toe) + toe * across
    return x_root, y_root, x_toe, y_toe


def _inner_face(section: ISection, x: float) -> float:
    """Height above mid-depth of the flange's inner face at `x` from the web; m."""
    level = section.depth / 2 - section.flange_thickness
    return level - section.flange_slope * (section.flange_width / 4 - x)


def quarter_corners(section: ISection) -> tuple[Point, Point, Point, Point]:
    """Ends of the root arc and of the toe arc of one quarter, from the middle; m."""
    x_root, y_root, x_toe, y_toe = arc_centres(section)
    phi = math.atan(section.flange_slope)
    r, toe = section.root_radius, section.toe_radius
    return (
        (x_root - r, y_root),
        (x_root - r * math.sin(phi), y_root + r * math.cos(phi)),
        (x_toe + toe * math.sin(phi), y_toe - toe * math.cos(phi)),
        (x_toe + toe, y_toe),
    )


def _quarter_outline(section: ISection) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points x, y and weights dy on one quarter's outline, anticlockwise; (points,) m.

    Pieces with dy = 0 are left out.
    """
    x_root, y_root, x_toe, y_toe = arc_centres(section)
    web, root_end, toe_start, tip = quarter_corners(section)
    phi = math.atan(section.flange_slope)
    pieces = [
        line((web[0], 0.0), web),
        arc((x_root, y_root), section.root_radius, math.pi, math.pi / 2 + phi),
        line(root_end, toe_start),
        arc((x_toe, y_toe), section.toe_radius, phi - math.pi / 2, 0.0),
        line(tip, (tip[0], section.depth / 2)),
    ]
    x, y, dy = np.concatenate(pieces, axis=1)
    return x, y, dy

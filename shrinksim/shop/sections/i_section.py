"""Doubly symmetric I-shapes, with parallel or tapered flanges.

The section is described by one quarter of it (x from the web's middle line, y from
mid-depth); its integrals are taken around the outline of that quarter by Green's
theorem, pieces being straight lines and circular arcs, so that root and toe radii and
tapered flanges come out to machine precision.

The elevation views are horizontal strips of given thickness.  Strong axis: the web seen
on its face; the fillet is spread over the height of the root radius, the area is exact
(tapered flanges of the catalogue: within 0.7 %).  Weak axis: both flanges seen together
in plan, no fillets; the web between them that stays cold is a layer of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields
from functools import cache
from typing import ClassVar

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.shop.contour import arc, line
from shrinksim.shop.outline import Piece, joined
from shrinksim.shop.sections.flanged import (
    Quarter,
    arc_centres,
    corners,
    misfits,
    placed,
    quarter_pieces,
)
from shrinksim.shop.sections.shape import (
    STEEL_DENSITY,
    Axis,
    Band,
    Elevation,
    Flanges,
    Midline,
    Overlay,
    Rolled,
    SectionKind,
    SectionProperties,
    in_mm,
    not_positive,
    refuse,
    unknown_axis,
)

WARM_WEB = 0.025
"""m, depth of web that shares the flange's temperature in the weak-axis view.

Penetration 2 sqrt(a t / pi) = 26 mm for a = 9e-6 m2/s and t = 60 s (Carslaw & Jaeger,
2.4, from memory).
"""


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

    kind: ClassVar[str] = "I"
    flat: ClassVar[bool] = False
    symmetry: ClassVar[tuple[bool, bool]] = (True, True)
    parabolic: ClassVar[frozenset[Axis]] = frozenset({"strong"})
    unloaded: ClassVar[str] = ""

    def __post_init__(self) -> None:
        refuse(self.name, not_positive(self) or _misfits(self))

    @property
    def size(self) -> tuple[float, float]:
        """Flange width and depth, m."""
        return self.flange_width, self.depth

    @property
    def wall(self) -> float:
        """Thickness of the flanges, m."""
        return self.flange_thickness

    @property
    def web(self) -> float:
        """Thickness of the web, m."""
        return self.web_thickness

    @property
    def flanges(self) -> Flanges:
        """Both flanges."""
        tf = self.flange_thickness
        web = self.depth * self.web_thickness
        return Flanges(self.flange_width, tf, self.depth - tf, web)

    @property
    def rolled(self) -> Rolled:
        """Dimensions for delivery standards."""
        return Rolled(self.name, self.depth, self.flange_width, self.flange_slope > 0.0)

    @property
    def midlines(self) -> tuple[Midline, ...]:
        """Along the flanges and up the web."""
        half, h, t = 0.5 * self.flange_width, self.depth, self.flange_thickness
        return (
            Midline("top flange", (-half, h - 0.5 * t), (half, h - 0.5 * t)),
            Midline("bottom flange", (-half, 0.5 * t), (half, 0.5 * t)),
            Midline("web", (0.0, 0.0), (0.0, h)),
        )

    @property
    def properties(self) -> SectionProperties:
        """Four times the integrals over a quarter."""
        x, y, dy = _quarter_outline(self)
        area = 4 * float(x @ dy)
        strong, weak = 4 * float((x * y**2) @ dy), 4 * float((x**3 / 3) @ dy)
        return SectionProperties(
            area=area,
            second_moment_strong=strong,
            second_moment_weak=weak,
            plastic_modulus_strong=4 * float((x * y) @ dy),
            plastic_modulus_weak=4 * float((x**2 / 2) @ dy),
            elastic_modulus_strong=2 * strong / self.depth,
            elastic_modulus_weak=2 * weak / self.flange_width,
            mass_per_length=STEEL_DENSITY * area,
            centroid=(0.0, 0.5 * self.depth),
        )

    @property
    def torsion_constant(self) -> float:
        """Torsion constant It, m4: rectangles and the circles in the fillets.

        As European tables of rolled shapes have it (from memory); tapered flanges are
        taken at their mean thickness.
        """
        h, b, r = self.depth, self.flange_width, self.root_radius
        tw, tf = self.web_thickness, self.flange_thickness
        flanges = 2 / 3 * (b - 0.63 * tf) * tf**3
        web = (h - 2 * tf) * tw**3 / 3
        circle = ((r + tw / 2) ** 2 + (r + tf) ** 2 - r**2) / (2 * r + tf)
        fillets = 2 * tw / tf * (0.145 + 0.1 * r / tf) * circle**4
        return flanges + web + fillets

    @property
    def warping_constant(self) -> float:
        """Warping constant Iw, m6: tf b3 (h - tf)2 / 24."""
        h, b, tf = self.depth, self.flange_width, self.flange_thickness
        return tf * b**3 * (h - tf) ** 2 / 24

    def outline(self) -> tuple[Piece, ...]:
        """The quarter above right, mirrored into the others."""
        quarter, half = quarter_pieces(quarter_of(self)), 0.5 * self.depth
        ring: list[Piece] = []
        for sx, sy in ((1.0, 1.0), (-1.0, 1.0), (-1.0, -1.0), (1.0, -1.0)):
            names = _names("right" if sx > 0 else "left", "top" if sy > 0 else "bottom")
            turned = quarter if sx * sy > 0 else quarter[::-1]
            ring += [placed(piece, half, sx, sy, names) for piece in turned]
        return joined(ring)

    def elevation(self, axis: Axis) -> Elevation:
        """Strong: the web on its face.  Weak: both flanges together in plan."""
        return _elevation(self, axis)

    def wall_under(self, surface: str) -> float:
        """Thickness of the web or of a flange, m."""
        return self.web_thickness if "web" in surface else self.flange_thickness

    def utilisation(self, camber: float, sweep: float) -> float:
        """Both moments, where the neutral axis cuts both flanges.

        The web and the flanges' middles, a share c of their width, carry the camber,
        their outer parts the sweep: m_camber = w + (1 - w) c, m_sweep = 1 - c^2 with w
        the web's share (elementary plastic theory).
        """
        arm = self.depth - self.flange_thickness
        flanges = self.flange_width * self.flange_thickness * arm
        share = flanges / self.properties.plastic_modulus_strong
        return (max(camber - (1.0 - share), 0.0) / share) ** 2 + sweep

    def words(self, say: Callable[[float], str]) -> str:
        """Its name, thicknesses and root radius."""
        parts = f"web {say(self.web_thickness)}, flanges {say(self.flange_thickness)}"
        if self.root_radius > 0.0:
            parts += f", root radius {say(self.root_radius)}"
        name = "I-section" if self.name == "I" else self.name
        return f"{name}, {parts}"


def quarter_of(section: ISection) -> Quarter:
    """The quarter above right."""
    return Quarter(
        section.depth / 2,
        section.flange_width / 2,
        section.web_thickness / 2,
        section.flange_thickness,
        section.root_radius,
        section.toe_radius,
        section.flange_slope,
    )


def _misfits(section: ISection) -> list[str]:
    words = {f.name: in_mm(section, f.name) for f in fields(section)[1:]}
    return misfits(quarter_of(section), words)


def _names(side: str, level: str) -> Mapping[str, str]:
    return {
        "web": f"web {side}",
        "root": f"root {level} {side}",
        "inside": f"flange {level} inside {side}",
        "edge": f"flange {level} edge {side}",
        "flange": f"flange {level}",
    }


@cache
def _elevation(section: ISection, axis: Axis) -> Elevation:
    h, b, tf = section.depth, section.flange_width, section.flange_thickness
    properties = section.properties
    match axis:
        case "strong":
            return Elevation(
                _bands_strong(section), (), h, (tf, h - tf), tf, 1,
                section.web_thickness, tf, properties.second_moment_strong,
            )  # fmt: skip
        case "weak":
            return Elevation(
                _bands_weak(section), _cold_layers(section), b, (0.0, b), 0.0, 2,
                tf, tf, properties.second_moment_weak,
            )  # fmt: skip
        case _:
            raise unknown_axis(axis)


def _cold_layers(section: ISection) -> tuple[Overlay, ...]:
    """The web that stays cold between the flanges."""
    cold = section.depth - 2 * section.flange_thickness - 2 * _warm_web(section)
    if cold <= 0:
        return ()
    low, high = _web_edges(section)
    return (Overlay(low, high, cold),)


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
    missing = section.properties.area - plain
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


def _quarter_outline(section: ISection) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Points x, y and weights dy on one quarter's outline, anticlockwise; (points,) m.

    Pieces with dy = 0 are left out.
    """
    q = quarter_of(section)
    x_root, y_root, x_toe, y_toe = arc_centres(q)
    web, root_end, toe_start, tip = corners(q)
    phi = math.atan(q.slope)
    pieces = [
        line((web[0], 0.0), web),
        arc((x_root, y_root), q.root, math.pi, math.pi / 2 + phi),
        line(root_end, toe_start),
        arc((x_toe, y_toe), q.toe, phi - math.pi / 2, 0.0),
        line(tip, (tip[0], q.depth)),
    ]
    x, y, dy = np.concatenate(pieces, axis=1)
    return x, y, dy


DIMENSIONS = ("depth", "flange_width", "web_thickness", "flange_thickness")

KIND = SectionKind(
    "I",
    "an I-section",
    DIMENSIONS,
    ("root_radius",),
    lambda given: ISection(
        "I", **{key: given[key] for key in (*DIMENSIONS, "root_radius")}
    ),
    "sections.csv",
    lambda name, row: ISection(name, **row),
)

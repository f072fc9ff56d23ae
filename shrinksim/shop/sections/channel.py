"""Channels, with parallel flanges (UPE) or tapered ones (UPN, American C).

Drawn with the back of the web at the left, the flanges to the right.  Half of it is a
quarter of a flanged section that begins at the back of the web.

A channel is no sheet: the section view takes it, with the section kept from twisting.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cache
from typing import ClassVar

from shrinksim.errors import CaseError
from shrinksim.shop.outline import Piece, Point, joined
from shrinksim.shop.sections.flanged import Quarter, misfits, placed, quarter_pieces
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
class Channel:
    """A channel; m, slope as a tangent.

    With a flange slope (0.08 or 0.05 for UPN, 1/6 for C) the flange thickness is the mean
    one, half the flange width from the tip, and the toe radius rounds the tip.
    """

    name: str
    depth: float
    flange_width: float
    web_thickness: float
    flange_thickness: float
    root_radius: float
    toe_radius: float = 0.0
    flange_slope: float = 0.0

    kind: ClassVar[str] = "channel"
    flat: ClassVar[bool] = False
    symmetry: ClassVar[tuple[bool, bool]] = (False, True)
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
    def rolled(self) -> Rolled | None:
        """None: its tolerances are not known, and plans do not take it."""
        return None

    @property
    def midlines(self) -> tuple[Midline, ...]:
        """Along the flanges and up the web."""
        half, h, t = 0.5 * self.flange_width, self.depth, self.flange_thickness
        x = 0.5 * self.web_thickness - half
        return (
            Midline("top flange", (-half, h - 0.5 * t), (half, h - 0.5 * t)),
            Midline("bottom flange", (-half, 0.5 * t), (half, 0.5 * t)),
            Midline("web", (x, 0.0), (x, h)),
        )

    @property
    def properties(self) -> SectionProperties:
        """Integrals around its outline."""
        return _properties(self)

    @property
    def torsion_constant(self) -> float:
        """Torsion constant It, m4: b t3 / 3 of each wall, flanges to the middle of the web.

        Thin-walled open sections, S. P. Timoshenko & J. M. Gere, Theory of Elastic
        Stability, from memory; the fillets are left out, which is safe.
        """
        tw, tf = self.web_thickness, self.flange_thickness
        flanges = 2 * (self.flange_width - tw / 2) * tf**3
        return (flanges + (self.depth - tf) * tw**3) / 3

    @property
    def warping_constant(self) -> float:
        """Warping constant Iw, m6, of the middle lines.

        tf b3 h2 / 12 (3 b tf + 2 h tw) / (6 b tf + h tw).

        Thin-walled, from the same book, from memory.
        """
        tw, tf = self.web_thickness, self.flange_thickness
        b, h = self.flange_width - tw / 2, self.depth - tf
        share = (3 * b * tf + 2 * h * tw) / (6 * b * tf + h * tw)
        return tf * b**3 * h**2 / 12 * share

    def outline(self) -> tuple[Piece, ...]:
        """The half above, its mirror image below, and the back of the web."""
        quarter, half = quarter_pieces(_quarter(self)), 0.5 * self.depth
        above = [placed(p, half, 1.0, 1.0, _names("top")) for p in quarter]
        below = [placed(p, half, 1.0, -1.0, _names("bottom")) for p in quarter[::-1]]
        back = Piece("web back", (0.0, self.depth), (0.0, 0.0))
        left = -0.5 * self.flange_width
        return joined([_moved(p, left) for p in (*above, back, *below)])

    def elevation(self, axis: Axis) -> Elevation:
        """Raises CaseError: it is no sheet about either axis."""
        raise _no_sheet(self.name, axis)

    def wall_under(self, surface: str) -> float:
        """Thickness of the web or of a flange, m."""
        return self.web_thickness if "web" in surface else self.flange_thickness

    def utilisation(self, camber: float, sweep: float) -> float:
        """Sum of both shares, on the safe side: the yield surface is convex."""
        return camber + sweep

    def words(self, say: Callable[[float], str]) -> str:
        """Its name, thicknesses and root radius."""
        mean = "mean " if self.flange_slope > 0.0 else ""
        parts = f"web {say(self.web_thickness)}, "
        parts += f"flanges {mean}{say(self.flange_thickness)}"
        if self.root_radius > 0.0:
            parts += f", root radius {say(self.root_radius)}"
        return f"{self.name}, {parts}, web at the left"


def _quarter(section: Channel) -> Quarter:
    """The half above mid-depth, from the back of the web."""
    return Quarter(
        section.depth / 2,
        section.flange_width,
        section.web_thickness,
        section.flange_thickness,
        section.root_radius,
        section.toe_radius,
        section.flange_slope,
    )


def _misfits(section: Channel) -> list[str]:
    words = {f.name: in_mm(section, f.name) for f in fields(section)[1:]}
    return misfits(_quarter(section), words)


@cache
def _properties(section: Channel) -> SectionProperties:
    """Top and bottom are alike: no product of inertia, to the last digit."""
    found = properties_of(section.outline())
    centroid = (found.centroid[0], 0.5 * section.depth)
    return replace(found, centroid=centroid, product_moment=0.0)


def _names(level: str) -> Mapping[str, str]:
    return {
        "web": "web inside",
        "root": f"root {level}",
        "inside": f"flange {level} inside",
        "edge": f"flange {level} edge",
        "flange": f"flange {level}",
    }


def _moved(piece: Piece, right: float) -> Piece:
    def moved(point: Point) -> Point:
        return point[0] + right, point[1]

    centre = None if piece.centre is None else moved(piece.centre)
    return replace(piece, start=moved(piece.start), end=moved(piece.end), centre=centre)


def _no_sheet(name: str, axis: Axis) -> CaseError:
    """Why it has no elevation about an axis."""
    reasons = {
        "strong": (
            "seen from the side it is no sheet: a flange that shrinks pulls beside the "
            "centroid, bows the member sideways more than upwards, and twists it"
        ),
        "weak": (
            "in plan it is no sheet: the web between the flanges, at one edge of the "
            "view, holds them from shrinking and leads their heat away"
        ),
    }
    if axis not in reasons:
        return unknown_axis(axis)
    remedy = 'for a long heat use view = "section"'
    return CaseError(f"'{name}' is a channel; {reasons[axis]}; {remedy}")


DIMENSIONS = ("depth", "flange_width", "web_thickness", "flange_thickness")

KIND = SectionKind(
    "channel",
    "a channel",
    DIMENSIONS,
    ("root_radius",),
    lambda given: Channel(
        "channel", **{key: given[key] for key in (*DIMENSIONS, "root_radius")}
    ),
    "channels.csv",
    lambda name, row: Channel(name, **row),
)

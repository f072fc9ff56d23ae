"""Two pieces joined: kink and step of the line at the splice, and what its weld shrinks.

The line's kink and step are measured (`shape.fit_shape` with the splice's station).  A
weld's shrinkage is only bounded here, by two arguments along the line across it:

- the filling, from where steel has next to no strength (1200 degC, EN 1993-1-2:2005,
  table 3.1) to cold, contracts by its width times the elongation: the least;
- a joint that can not open while it is hot shrinks by no more than the expansion that the
  heat in it would have made, heat times the greatest elongation over heat content, over
  the thickness: the ceiling.

Published coefficients of shrinkage and angular change are not used: none was at hand.
The angular change is told by a heat along the joint in the section view, in place of the
weld (`weld_tables`), with its edges free and held: the truth lies between.  Such a heat
melts nothing and fills no gap; passes, tacks, clamps and the order of welding are not in
it.  A measured test joint is worth more than any of this.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from shrinksim.casefile.fields import text_of
from shrinksim.member.line import Bend
from shrinksim.member.survey.shape import Shape
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.sections.shape import Section
from shrinksim.units.quantity import quantity
from shrinksim.units.tape import offset, place
from shrinksim.views.caution import Caution

STRENGTHLESS = 1200.0
"""degC, from which on EN 1993-1-2:2005, table 3.1, gives steel no strength."""

GROOVE, GAP = math.radians(60.0), 2e-3
"""rad and m, of a usual V joint; common practice, no source."""

BEAD = 0.016
"""m, radius that holds 95 % of the heat in place of an arc's, which would melt the steel;
our choice, no source."""

ACROSS = 30.0
"""Thicknesses of plate across the joint in the section view, 150 mm or more; our choice."""

Face = Literal["top", "bottom", "right", "left"]


@dataclass(frozen=True)
class Joint:
    """A splice in one plane as measured.

    kink : rad, + bulging up or right; it and its sigma are None where the readings show
    none.  step : m, + when the piece beyond stands higher or further right.  Sigmas:
    standard deviations.
    """

    at: float
    kink: float | None
    kink_sigma: float | None
    step: float
    step_sigma: float
    text: str


@dataclass(frozen=True)
class WeldPass:
    """A weld pass.  power : W, volts times amperes.  efficiency : share that goes into
    the steel.  speed : m/s of travel.
    """

    power: float
    efficiency: float
    speed: float

    @property
    def heat(self) -> float:
        """J in the steel for each metre of weld."""
        return self.power * self.efficiency / self.speed


def joints(shape: Shape, units: str = "metric") -> tuple[Joint, ...]:
    """The splices of a shape that was fitted with them."""
    found = []
    for step in shape.steps:
        here = [b for b in shape.bends if abs(b.at - step.at) < 1e-9]
        kink, sigma = (here[0].turn, here[0].sigma) if here else (None, None)
        kinked = "has no kink that the readings show"
        if kink is not None and sigma is not None:
            kinked = f"kinks by {_mrad(kink)} ± {_mrad(sigma)}"
        text = (
            f"The splice at {place(step.at, units)} {kinked} in {shape.plane}; the piece "
            f"beyond stands {offset(abs(step.height), units)} ± "
            f"{offset(step.sigma, units)} {_way(shape, step.height)}."
        )
        found.append(Joint(step.at, kink, sigma, step.height, step.sigma, text))
    return tuple(found)


def _mrad(turn: float) -> str:
    return f"{turn / quantity('1 mrad', 'angle'):.1f} mrad"


def _way(shape: Shape, height: float) -> str:
    """Where the piece beyond stands."""
    up = "higher" if shape.plane == "camber" else "further right"
    down = "lower" if shape.plane == "camber" else "further left"
    return up if height >= 0.0 else down


def groove_width(thickness: float, angle: float = GROOVE, gap: float = GAP) -> float:
    """Mean width (m) of a V groove through a plate; angle rad between its sides."""
    return gap + thickness * math.tan(0.5 * angle)


def filling_shrinkage(width: float) -> float:
    """Contraction (m) of the filling of a groove of that mean width (m), the least."""
    return width * float(curves.elongation(STRENGTHLESS))


def shrinkage_ceiling(heat: float, thickness: float) -> float:
    """Most (m) that a joint shrinks across: J/m of heat in it, through ``thickness`` m.

    Integral of the elongation across, at most heat / thickness times the largest of
    elongation over heat content; with constant properties alpha q / (rho c t).
    """
    T = np.linspace(20.001, STRENGTHLESS, 400)
    each = curves.elongation(T) / curves.heat_content(T)
    return float(each.max()) * heat / thickness


def flange_kink(top: float, bottom: float, between: float) -> float:
    """Camber turn (rad, + bulging up) of an I whose flange welds shrink by that (m).

    between : m from the middle of one flange to that of the other; sections stay plane.
    """
    return (bottom - top) / between


def angular_bend(at: float, angle: float, face: Face) -> Bend:
    """The bend that an angular change makes, closing to the face that was welded."""
    return Bend(at, -angle if face in {"top", "right"} else angle)


def weld_tables(
    arc: WeldPass,
    *,
    thickness: float,
    length: float,
    steel: Mapping[str, Any],
    edges: Literal["free", "held"],
    units: str = "metric",
) -> dict[str, Any]:
    """Tables of a section case: a line of heat along the joint in place of one pass.

    thickness : m of the plate or flange.  length : m of weld.  steel : table as in a
    case.  The plate's width is across the joint; its angular change is positive when it
    closes to the welded face.  edges "free" gives the least, "held" the most.
    """
    us = units == "us"
    torch = {
        "power": text_of(arc.power, "power", us),
        "efficiency": arc.efficiency,
        "radius": text_of(BEAD, "length", us),
        "drive": "travel",
        "speed": text_of(arc.speed, "speed", us),
    }
    across = max(ACROSS * thickness, quantity("150 mm", "length"))
    line = {"kind": "line along", "on": "top", "length": text_of(length, "length", us)}
    return {
        "title": f"Line of heat for a weld pass, edges {edges}",
        "view": "section",
        "print_units": units,
        "member": {
            "section": "plate",
            "width": text_of(across, "length", us),
            "thickness": text_of(thickness, "length", us),
        },
        "steel": dict(steel),
        "torch": torch,
        "load": {"edges": edges},
        "heat": [{"pattern": [line]}],
    }


def weld_cautions(
    at: float, section: Section, length: float, units: str = "metric"
) -> tuple[Caution, ...]:
    """What to expect of a butt weld at ``at`` m of a member ``length`` m long."""
    thickness = section.wall
    least = filling_shrinkage(groove_width(thickness))
    each = shrinkage_ceiling(
        quantity("1 kJ", "energy") / quantity("1 mm", "length"), thickness
    )
    shrinkage = (
        f"The filling of a V joint of 60 degrees through {offset(thickness, units)} alone "
        f"contracts by {_fine(least, units)}; each kJ of heat in a millimetre of weld "
        f"adds up to {_fine(each, units)}. This is a bound, no prediction: measure a test "
        "joint, or the first one."
    )
    one = quantity("1 mm", "length")
    if section.flanges is None:
        effect = (
            "Welded from one face the plate also closes to that face; weld from both "
            "in turn."
        )
    else:
        turn = one / section.flanges.arm
        stands = turn * at * (length - at) / length
        effect = (
            f"A flange that shrinks by {offset(one, units)} more than the other kinks the "
            f"member by {_mrad(turn)}, which stands it off by {offset(stands, units)} at "
            "the splice: weld the flanges in turn, in short runs."
        )
    heats = (
        "Keep vees a depth away from the joint (common practice, no source): it holds "
        "tension near yield as welded (from memory), and what heat its steel and filler "
        "bear is for the welding procedure to say."
    )
    return (
        Caution("weld shrinkage", shrinkage),
        Caution("weld order", effect),
        Caution("heats at a weld", heats),
    )


def _fine(metres: float, units: str) -> str:
    """A small length to two digits."""
    unit = "in" if units == "us" else "mm"
    value = metres / quantity(f"1 {unit}", "length")
    return f"{float(f'{value:.2g}'):g} {unit}"

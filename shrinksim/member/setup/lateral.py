"""Elastic critical moment of lateral torsional buckling of a member on edge.

Uniform moment, both ends of the length held upright and free to turn in plan:
M = C1 pi2 E Iz / L2 sqrt(Iw / Iz + L2 G It / (pi2 E Iz)) with C1 = 1, the least that any
moment line gives.  S. P. Timoshenko & J. M. Gere, Theory of Elastic Stability, 2nd ed.,
ch. 6; EN 1993-1-1 NCCI SN003 (both from memory).  Load on the top flange lowers it.
"""

from __future__ import annotations

import math
from typing import assert_never

from shrinksim.member.setup.rigging import STEEL_MODULUS
from shrinksim.shop.section import ISection, Plate, section_properties

POISSON = 0.3
"""EN 1993-1-1:2005, 3.2.6."""


def torsion_constant(section: Plate | ISection) -> float:
    """It, m4.

    Rectangle: b t3 / 3 (1 - 0.63 t / b + 0.0525 t5 / b5) (W. C. Young, Roark's Formulas
    for Stress and Strain, from memory).  I-shape: rectangles and the circles in the
    fillets, as European tables of rolled shapes have it (from memory); tapered flanges
    are taken at their mean thickness.
    """
    match section:
        case Plate(width=b, thickness=t):
            t, b = sorted((t, b))
            return b * t**3 / 3 * (1 - 0.63 * t / b + 0.0525 * (t / b) ** 5)
        case ISection(depth=h, flange_width=b, root_radius=r):
            tw, tf = section.web_thickness, section.flange_thickness
            flanges = 2 / 3 * (b - 0.63 * tf) * tf**3
            web = (h - 2 * tf) * tw**3 / 3
            circle = ((r + tw / 2) ** 2 + (r + tf) ** 2 - r**2) / (2 * r + tf)
            fillets = 2 * tw / tf * (0.145 + 0.1 * r / tf) * circle**4
            return flanges + web + fillets
        case _:
            assert_never(section)


def warping_constant(section: Plate | ISection) -> float:
    """Iw, m6: tf b3 (h - tf)2 / 24; a plate's is left out, which is safe."""
    match section:
        case Plate():
            return 0.0
        case ISection(depth=h, flange_width=b, flange_thickness=tf):
            return tf * b**3 * (h - tf) ** 2 / 24
        case _:
            assert_never(section)


def critical_moment(
    section: Plate | ISection, span: float, modulus: float = STEEL_MODULUS
) -> float:
    """Moment (N m) about the strong axis at which ``span`` (m) buckles sideways.

    inf for a section that is no stiffer standing than lying.
    """
    properties = section_properties(section)
    Iz = properties.second_moment_weak
    if Iz >= properties.second_moment_strong:
        return math.inf
    G = modulus / (2 * (1 + POISSON))
    euler = math.pi**2 * modulus * Iz / span**2
    twist = G * torsion_constant(section) / euler
    return euler * math.sqrt(warping_constant(section) / Iz + twist)

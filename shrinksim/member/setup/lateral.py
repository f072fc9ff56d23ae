"""Elastic critical moment of lateral torsional buckling of a member on edge.

Uniform moment, both ends of the length held upright and free to turn in plan:
M = C1 pi2 E Iz / L2 sqrt(Iw / Iz + L2 G It / (pi2 E Iz)) with C1 = 1, the least that any
moment line gives.  S. P. Timoshenko & J. M. Gere, Theory of Elastic Stability, 2nd ed.,
ch. 6; EN 1993-1-1 NCCI SN003 (both from memory).  Load on the top flange lowers it.
"""

from __future__ import annotations

import math

from shrinksim.member.setup.rigging import STEEL_MODULUS
from shrinksim.shop.sections.shape import Section

POISSON = 0.3
"""EN 1993-1-1:2005, 3.2.6."""


def critical_moment(
    section: Section, span: float, modulus: float = STEEL_MODULUS
) -> float:
    """Moment (N m) about the strong axis at which ``span`` (m) buckles sideways.

    inf for a section that is no stiffer standing than lying.
    """
    properties = section.properties
    Iz = properties.second_moment_weak
    if Iz >= properties.second_moment_strong:
        return math.inf
    G = modulus / (2 * (1 + POISSON))
    euler = math.pi**2 * modulus * Iz / span**2
    twist = G * section.torsion_constant / euler
    return euler * math.sqrt(section.warping_constant / Iz + twist)

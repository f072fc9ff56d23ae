"""Cook's membrane: a skewed panel in bending and shear.

R. D. Cook, Improved two-dimensional finite element, J. Struct. Div. ASCE 100 (1974)
1851-1863 (from memory): E 1, nu 1/3, unit thickness, unit shear force spread over the
right side, left side held.  v at the middle of the right side 23.96; 23.965 and, at its
upper corner, 25.164 from biquadratic elements, 64 to a side.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes_strain import cook, side_forces
from strain_cases import constant_steel, uniform

from shrinksim.fem.sheet import strain_body, support
from shrinksim.fem.sparse import ties
from shrinksim.strain import elastic_response


@pytest.mark.parametrize(
    ("cells", "middle", "corner"), [(16, 0.002, 0.006), (32, 0.0006, 0.003)]
)
def test_deflection_of_the_right_side(cells, middle, corner):
    """D10: 0.5 % at the middle is asked of 16 by 16 biquadratic elements.

    Pairs of T6 are a little stiffer: 0.16 % there, 0.59 % at the corner; 0.05 and
    0.21 % with 32 by 32.
    """
    mesh = cook(cells)
    left = np.unique(mesh.edges["left"])
    free = ties(2 * len(mesh.points), np.concatenate([2 * left, 2 * left + 1]))
    force = free.reduce(side_forces(mesh, "right", lambda x, y: (0.0, 1.0 / 16.0)))
    assert force.sum() == pytest.approx(1.0, rel=1e-12)
    body = strain_body(mesh, 1.0, constant_steel(1.0, 1.0 / 3.0, 0.0, 1e9))
    hold = support(free, force=force)
    out = uniform(body, hold, [20.0, 20.0])
    at = {
        y: int(np.argmin(np.hypot(*(mesh.points - [48.0, y]).T))) for y in (52.0, 60.0)
    }
    assert mesh.points[at[52.0]] == pytest.approx([48.0, 52.0])
    assert out.displacement[-1, at[52.0], 1] == pytest.approx(23.965, rel=middle)
    assert out.displacement[-1, at[60.0], 1] == pytest.approx(25.164, rel=corner)
    q = elastic_response(body, hold, force, np.full(len(mesh.points), 20.0))
    assert free.expand(q) == pytest.approx(out.displacement[-1].ravel(), rel=1e-9)

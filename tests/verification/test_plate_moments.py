"""A bar with plane ends under end moments: elastic turns, first yield, plastic moment.

Beam theory and the plastic hinge: Timoshenko, Strength of Materials, vol. 1, 5.2 and
vol. 2, 9.1 (from memory): M_y = SY b h2 / 6, M_p = 1.5 M_y, turn M L / E I.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import rectangle
from strain_cases import SY, TIGHT, E, constant_steel, uniform

from shrinksim.errors import NotConverged
from shrinksim.fem.plate import plate_body
from shrinksim.fem.plate_ends import plane_ends
from shrinksim.fem.plate_turns import end_fit, rotations
from shrinksim.fem.structure import support
from shrinksim.fem.through import layers_through, modes_through
from shrinksim.strain import elastic_response

L, B, D = 0.12, 0.04, 0.01
MESH = rectangle(L, B, 6, 4)
I_BEND, I_TURN = B * D**3 / 12.0, D * B**3 / 12.0
YIELD = {"bend": SY * B * D**2 / 6.0, "turn": SY * D * B**2 / 6.0}


def bar(modes=None, **steel):
    body = plate_body(MESH, D, constant_steel(**steel), modes=modes)
    return body, plane_ends(body.solid, body.modes, body.carried)


def loaded(ends, way, moment):
    force = np.zeros(ends.ties.unknowns)
    force[getattr(ends, way)] = moment / ends.arm
    return force


@pytest.mark.parametrize("modes", [None, layers_through(D, 2, 3)])
@pytest.mark.parametrize(("way", "inertia"), [("bend", I_BEND), ("turn", I_TURN)])
def test_elastic_turn(way, inertia, modes):
    body, ends = bar(modes)
    cold = np.full(len(body.mesh.points), 20.0)
    q = elastic_response(body, support(ends.ties), loaded(ends, way, 50.0), cold)
    want = 50.0 * L / (E * inertia)
    assert q[getattr(ends, way)] / ends.arm == pytest.approx(want, rel=1e-9)
    u = body.carried.moved(ends.ties.expand(q))
    turns = rotations(body, u)
    read = turns.out_of_plane if way == "bend" else turns.in_plane
    assert read == pytest.approx(want, rel=1e-9)
    assert abs(turns.twist) < 1e-9 * want
    assert end_fit(body, "left", u)[:3] == pytest.approx(0.0, abs=1e-12)


def test_elastic_stretch():
    body, ends = bar()
    cold = np.full(len(body.mesh.points), 20.0)
    force = np.zeros(ends.ties.unknowns)
    force[ends.stretch] = 1e4
    q = elastic_response(body, support(ends.ties), force, cold)
    assert q[ends.stretch] == pytest.approx(1e4 * L / (E * B * D), rel=1e-9)


@pytest.mark.parametrize("way", ["bend", "turn"])
def test_first_yield(way):
    """At the outermost points, whose stress is below that of the surface."""
    body, ends = bar()
    high = np.abs(body.modes.z).max() / (0.5 * D)
    if way == "turn":
        y = np.einsum("qa,eai->eqi", body.flat_N, MESH.points[MESH.triangles])[..., 1]
        high = np.abs(y - 0.5 * B).max() / (0.5 * B)
    onset = YIELD[way] / high
    for share, yields in ((1.0 - 1e-6, False), (1.0 + 1e-6, True)):
        hold = support(ends.ties, force=loaded(ends, way, share * onset))
        out = uniform(body, hold, [20.0, 20.0], [0.0, 1.0])
        assert (out.equivalent_plastic.max() > 0.0) == yields


@pytest.mark.parametrize(
    ("way", "below", "above"), [("bend", 0.95, 1.06), ("turn", 0.95, 1.06)]
)
def test_plastic_moment(way, below, above):
    """Between: six points through the thickness are 2 % too strong, the mesh across
    the width too; a march comes to an end below and finds no equilibrium above.
    """
    body, ends = bar(slope=0.0)
    for share, stands in ((below, True), (above, False)):
        hold = support(ends.ties, force=loaded(ends, way, share * 1.5 * YIELD[way]))
        part = np.linspace(0.0, 1.0, 9)
        if stands:
            out = uniform(body, hold, np.full(9, 20.0), part, control=TIGHT)
            assert out.equivalent_plastic.max() > 1e-3
            continue
        with pytest.raises(NotConverged):
            uniform(body, hold, np.full(9, 20.0), part)


def test_points_through_the_thickness_give_the_plastic_moment():
    """Six Gauss points sum |z| to 2 % of the integral d2 / 4, five to 6 %."""
    error = {}
    for points in (5, 6):
        modes = modes_through(D, (2, 3), points)
        moment = float(modes.weight @ np.abs(modes.z))
        error[points] = abs(moment / (0.25 * D**2) - 1.0)
    assert error[6] < 0.02 < 0.05 < error[5] < 0.06

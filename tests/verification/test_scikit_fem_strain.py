"""The heated vee solved here and in scikit-fem, on one mesh with the same steps.

The peer (tests/peer_scikit_fem.py) shares no kernel with the package: its own assembly,
return mapping, enthalpy march and boundary conditions.  Only the statement of the
problem is common.
"""

from __future__ import annotations

import numpy as np
import pytest
import reference_problem as reference
from scipy.spatial import cKDTree

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.basis import quadrature
from shrinksim.fem.mesh import Mesh

pytest.importorskip("skfem")

import peer_scikit_fem as peer

STEPS = reference.step_ends(12, 18)
CLOSE = 5e-6  # the tables of the two differ, and what the peer's iterations leave


@pytest.fixture(scope="module", params=[1, 2])
def both(request) -> tuple[Mesh, reference.Answer, peer.PeerAnswer]:
    case, mesh = reference.CASES[request.param], reference.uniform_mesh(0.045)
    ours = reference.solve(mesh, case, STEPS, tolerance=1e-7, newton=1e-5)
    problem = peer.plate_problem(mesh, case, STEPS)
    return mesh, ours, peer.solve(problem, tolerance=1e-7)


def matched(wanted: FloatArray, places: FloatArray) -> IntArray:
    """Rows of ``places`` (k, 2) that are at ``wanted`` (m, 2); each must be there."""
    distance, row = cKDTree(places).query(wanted)
    assert distance.max() < 1e-9
    assert len(np.unique(row)) == len(wanted)
    return row


def test_size_of_the_problem(both) -> None:
    mesh, ours, _ = both
    assert 300 < 2 * len(mesh.points) < 600
    assert ours.peak > 600.0


def test_rotation_and_shortening(both) -> None:
    _, ours, theirs = both
    assert ours.rotation == pytest.approx(theirs.rotation, rel=CLOSE)
    assert ours.shortening == pytest.approx(theirs.shortening, rel=CLOSE)


def test_temperatures_at_every_node_and_step(both) -> None:
    mesh, ours, theirs = both
    row = matched(mesh.points, theirs.nodes)
    assert ours.temperature == pytest.approx(theirs.temperature[:, row], abs=0.03)


def test_stress_left_at_every_point(both) -> None:
    mesh, ours, theirs = both
    mine = quadrature(mesh, "interior 3").xy.reshape(-1, 2)
    row = matched(mine, theirs.places.reshape(-1, 2))
    stress = theirs.stress.reshape(-1, 3)[row]
    largest = np.abs(stress).max()
    assert largest > 50e6
    assert ours.stress.reshape(-1, 3) == pytest.approx(stress, abs=5e-4 * largest)

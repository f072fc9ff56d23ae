"""The beam line against Hermite elements of scikit-fem, contacts found by trying all.

A general finite-element library assembles the stiffness and the loads; every set of
touching supports is solved, and the one in which none pulls and none sinks in is kept.
"""

from __future__ import annotations

from itertools import chain, combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.member.line import Bend, offsets
from shrinksim.member.setup import beam
from shrinksim.member.setup.beam import BeamLoad, BeamSupport, solve_beam

skfem = pytest.importorskip("skfem")

LENGTH, EI, WEIGHT = 10.0, 1.2e6, 300.0
NODES = np.linspace(0.0, LENGTH, 21)


def assembled(loads: list[tuple[int, float]]) -> tuple[np.ndarray, np.ndarray]:
    """Stiffness (m, m) and load vector (m,): height and slope at each node in turn."""
    from skfem.helpers import dd, ddot

    basis = skfem.Basis(skfem.MeshLine(NODES), skfem.ElementLineHermite())
    bending = skfem.BilinearForm(lambda u, v, w: EI * ddot(dd(u), dd(v)))
    pull = skfem.LinearForm(lambda v, w: -WEIGHT * v)
    K, f = bending.assemble(basis).toarray(), pull.assemble(basis)
    heights = basis.nodal_dofs[0]
    order = np.argsort(basis.mesh.p[0])
    for node, force in loads:
        f[heights[order[node]]] -= force
    numbers = np.concatenate([heights[order], basis.nodal_dofs[1][order]])
    return K[np.ix_(numbers, numbers)], f[numbers]


def tried(K: np.ndarray, f: np.ndarray, nodes: list[int], tops: np.ndarray):
    """Reactions (r,) and node heights of the one set of contacts that is possible."""
    sets = chain.from_iterable(combinations(range(len(nodes)), n)
                               for n in range(2, len(nodes) + 1))  # fmt: skip
    for held in sets:
        fixed = [nodes[i] for i in held]
        free = np.setdiff1d(np.arange(len(f)), fixed)
        u = np.zeros(len(f))
        u[fixed] = tops[list(held)]
        known = f[free] - K[np.ix_(free, fixed)] @ u[fixed]
        u[free] = np.linalg.solve(K[np.ix_(free, free)], known)
        force = (K @ u - f)[nodes]
        gap = u[nodes] - tops
        if force.min() > -1e-6 and gap.min() > -1e-10:
            return force, u[: len(NODES)]
    raise AssertionError("no set of contacts is possible")


@given(
    st.lists(st.integers(1, 19), min_size=0, max_size=4, unique=True),
    st.lists(st.floats(-0.03, 0.03), min_size=4, max_size=4),
    st.lists(st.tuples(st.integers(0, 20), st.floats(0.0, 4e3)), max_size=3),
    st.lists(st.tuples(st.integers(1, 19), st.floats(-0.02, 0.02)), max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_same_contacts_forces_and_line(inner, levels, forces, kinks):
    nodes = [0, *sorted(inner), 20]
    tops = np.array([0.0, *levels[: len(inner)], 0.0])
    bends = [Bend(float(NODES[node]), turn) for node, turn in kinks]
    rests = [BeamSupport(float(NODES[n]), t) for n, t in zip(nodes, tops, strict=True)]
    loads = [BeamLoad(float(NODES[node]), force) for node, force in forces]
    line = solve_beam(LENGTH, EI, rests, weight=WEIGHT, loads=loads, bends=bends)
    own = offsets(bends, NODES, LENGTH)
    K, f = assembled(forces)
    force, bow = tried(K, f, nodes, tops - own[nodes])
    scale = WEIGHT * LENGTH
    assert line.reactions == pytest.approx(force, abs=1e-6 * scale)
    assert beam.height(line, NODES) == pytest.approx(own + bow, abs=1e-9)

"""Loads and supports of a section: moments, jacks, held strains, held edges."""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.section import SectionBody, section_ties
from shrinksim.fem.sparse import Ties
from shrinksim.fem.structure import Support, support
from shrinksim.strain import elastic_response
from shrinksim.views.section.geometry import Cut, moments_of
from shrinksim.views.section.record import SectionCase

STIFF = 1e4
"""Held strains are springs so many times as stiff as the section: the reaction can be
read, and goes when they are let go."""


def senses(cut: Cut) -> tuple[int, int]:
    """Sign of the force on the unknowns of camber and sweep for a moment that helps.

    The unknowns are the slopes of strain to the top and to the left, times the arm.
    """
    right, top = cut.side
    return -(top or 1), (right or 1)


def turn_stiffness(case: SectionCase, cut: Cut) -> tuple[float, float]:
    """Moment per curvature of the heated length that a jack or clamp loses, N m2."""
    load = case.load
    if load.stiffness_ratio is not None:
        return (
            load.stiffness_ratio * cut.stiffness[0],
            load.stiffness_ratio * cut.stiffness[1],
        )
    k = (load.stiffness or 0.0) * float(cut.lengths.max())
    return k, k


def hold_of(case: SectionCase, cut: Cut, body: SectionBody) -> Support:
    """The case's load on the section's ties.

    A weight stays; a jack is set cold and then locked, so that it loses load as the
    steel moves away, and cannot pull; a clamp does the same both ways.
    """
    load, ties = case.load, section_ties(body.mesh)
    m, arm = ties.unknowns, body.arm
    force, spring, rest, one_way = (np.zeros(m) for _ in range(4))
    axial, turns = m - 3, (m - 2, m - 1)
    force[axial] = load.axial
    helps = [
        sense * moment / arm
        for sense, moment in zip(senses(cut), moments_of(case, cut), strict=True)
    ]
    if load.kind == "weight":
        force[list(turns)] = helps
    if load.kind in ("jack", "clamp"):
        push = np.zeros(m)
        push[list(turns)] = helps
        cold = np.full(len(body.mesh.points), body.cold)
        give = elastic_response(body, support(ties), push, cold)
        for at, help_, K in zip(turns, helps, turn_stiffness(case, cut), strict=True):
            if help_ != 0.0 or load.kind == "clamp":
                spring[at] = K / arm**2
                rest[at] = help_ / spring[at] + give[at]
                one_way[at] = float(load.kind == "jack")
    if load.kind == "held":
        E = cut.stiffness[0] / body.second_moments[0]
        spring[axial] = STIFF * E * body.area
        spring[list(turns)] = STIFF * np.array(cut.stiffness) / arm**2
    if load.edges == "held":
        _hold_edges(body, ties, spring)
    return support(ties, force=force, spring=spring, rest=rest, one_way=one_way)


def _hold_edges(body: SectionBody, ties: Ties, spring: FloatArray) -> None:
    """Springs on every dof of a plate's two edges, in place."""
    edges = body.mesh.edges
    nodes = np.union1d(edges["edge left"], edges["edge right"])
    dofs = np.concatenate([2 * nodes, 2 * nodes + 1])
    at = ties.target[dofs, 0]
    spring[at[at >= 0]] = 100.0 * float(body.table.modulus.max())

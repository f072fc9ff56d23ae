"""Movement of the member and its hot strength from the strains of a section."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.errors import NotConverged
from shrinksim.fem.section import SectionBody
from shrinksim.fem.structure import Support, support
from shrinksim.movement import hot_plastic_moment
from shrinksim.strain import StrainHistory, elastic_response
from shrinksim.views.section.geometry import Cut


@dataclass(frozen=True)
class SectionMovement:
    """Permanent movement of a heated length, and its growth.

    strain : of the centroid, + longer.  camber, sweep : 1/m, + when the top, the right
    side becomes the hollow one.  heated_length m, of the longest heat; share of it that
    is heated.  Rotations rad and shortening m, summed over the lengths of the heats.
    angular_change : rad of a plate, + when it closes to its heated face.
    transverse_shrinkage : m.  tendon_force : N that pulls where the steel has shrunk: -E
    times the integral of axial plastic strain.  from_plastic (3,): strain, camber, sweep
    once more, from the plastic strains by the unit-load theorem.  Histories at times
    (s,).  hinge_margin : least hot plastic moment over the moment.
    """

    strain: float
    camber: float
    sweep: float
    heated_length: float
    share: float
    camber_rotation: float
    sweep_rotation: float
    shortening: float
    angular_change: float | None
    transverse_shrinkage: float
    tendon_force: float
    from_plastic: FloatArray
    times: FloatArray
    strain_history: FloatArray
    camber_history: FloatArray
    sweep_history: FloatArray
    camber_moment_history: FloatArray
    sweep_moment_history: FloatArray
    hinge_margin_history: FloatArray
    hinge_margin: float | None


SIGNS = np.array([1.0, -1.0, 1.0])
"""From the unknowns (strain, its slope upward and to the left) to strain, camber and
sweep, which count the top and the right side becoming shorter."""


def section_movement(
    cut: Cut, body: SectionBody, hold: Support, strain: StrainHistory, ends: FloatArray
) -> SectionMovement:
    """The movement of a strained section; ends (h,) s, when each heat is over."""
    scale = SIGNS / np.array([1.0, body.arm, body.arm])
    history = strain.section_strain * scale
    u, left = _unloaded(body, hold, strain)
    e0, camber, sweep = left * scale
    summed = _over_lengths(history, strain.times, ends, cut.lengths, left * scale)
    moments = strain.push[:, -2:] * body.arm
    margin = hinge_margins(body, strain)
    least = float(margin.min())
    weighted = strain.plastic_strain[..., 3] * body.weight
    pulled = float(weighted.sum())
    from_plastic = [pulled / body.area, *_turned_by(cut, body, weighted)]
    return SectionMovement(
        float(e0),
        float(camber),
        float(sweep),
        cut.heated_length,
        cut.share,
        float(summed[1]),
        float(summed[2]),
        -float(summed[0]),
        _angle(cut, body, u),
        _narrower(body, u),
        -pulled * cut.stiffness[0] / float(body.second_moments[0]),
        frozen(from_plastic),
        strain.times,
        frozen(history[:, 0]),
        frozen(history[:, 1]),
        frozen(history[:, 2]),
        frozen(moments[:, 0]),
        frozen(moments[:, 1]),
        frozen(margin),
        least if np.isfinite(least) else None,
    )


def _turned_by(cut: Cut, body: SectionBody, weighted: FloatArray) -> list[float]:
    """Camber and sweep (1/m) by plastic strains times m2 (e, q), by unit loads.

    Without an axis of symmetry each moment bends the section both ways.
    """
    moment = [float((weighted * body.arms[..., k]).sum()) * body.arm for k in (0, 1)]
    if cut.properties.product_moment == 0.0:
        turned = [m / I for m, I in zip(moment, body.second_moments, strict=True)]
    else:
        turned = np.linalg.solve(body.inertia, moment).tolist()
    return [sign * k for sign, k in zip(SIGNS[1:].tolist(), turned, strict=True)]


def _over_lengths(
    history: FloatArray, times: FloatArray, ends: FloatArray, lengths: FloatArray,
    left: FloatArray,
) -> FloatArray:  # fmt: skip
    """Strain, camber and sweep (3,) times the length of the heat that made them.

    history (s, 3) loaded; left (3,) in the end, unloaded.  What the load's going gives
    back counts with the last heat.
    """
    early = [np.interp(ends[:-1], times, column) for column in history.T]
    marks = np.vstack([history[1], np.array(early).T, history[1] + left])
    return lengths @ np.diff(marks, axis=0)


def _unloaded(
    body: SectionBody, hold: Support, strain: StrainHistory
) -> tuple[FloatArray, FloatArray]:
    """Displacements (n, 2) and axial strains (3,) at the end without the load."""
    u, along = strain.displacement[-1], strain.section_strain[-1]
    push = strain.push[-1]
    if not push.any():
        return u, along
    cold = np.full(len(body.mesh.points), body.cold)
    q = elastic_response(body, support(hold.ties), push, cold)
    full = hold.ties.expand(q)
    return u - full[:-3].reshape(-1, 2), along - full[-3:]


def _edge_turn(body: SectionBody, name: str, u: FloatArray) -> float:
    """Anticlockwise turn (rad) of a plate's edge, the best straight line through it."""
    nodes = np.unique(body.mesh.edges[name])
    y = body.mesh.points[nodes, 1]
    arm = y - y.mean()
    return -float(u[nodes, 0] @ arm) / float(arm @ arm)


def _angle(cut: Cut, body: SectionBody, u: FloatArray) -> float | None:
    """Angular change of a plate, + when it closes to its heated face (else the top)."""
    if not cut.shape.flat:
        return None
    turn = _edge_turn(body, "edge right", u) - _edge_turn(body, "edge left", u)
    return (cut.side[1] or 1) * turn


def _narrower(body: SectionBody, u: FloatArray) -> float:
    """How much (m) the section has lost of its width, between its outermost nodes."""
    x = body.mesh.points[:, 0]
    near = 1e-6 * float(np.ptp(x))
    left, right = x < x.min() + near, x > x.max() - near
    return float(u[left, 0].mean() - u[right, 0].mean())


def hinge_margins(body: SectionBody, strain: StrainHistory) -> FloatArray:
    """Hot plastic moment over the moment (s,), the smaller of camber and sweep."""
    table = body.table
    rows = table.flow_start + table.flow_step * np.arange(len(table.flow))
    plateau = table.flow[:, -1] + table.back_stress
    T = strain.temperature[:, body.triangles] @ body.N.T
    strength = np.interp(T.reshape(len(T), -1), rows, plateau)
    margin = np.full(len(T), np.inf)
    for k in range(2):
        push = strain.push[:, k - 2]
        moment = np.abs(push) * body.arm
        loaded = moment > 1e-9 * float(plateau.max()) * body.area * body.arm
        if not loaded.any():
            continue
        carried = _capacity(body, strength, k, strain.push[:, -3], np.sign(push))
        ratio = np.where(loaded, carried / np.where(loaded, moment, 1.0), np.inf)
        margin = np.minimum(margin, ratio)
    return margin


def _capacity(
    body: SectionBody, strength: FloatArray, k: int, axial: FloatArray, sign: FloatArray
) -> FloatArray:
    """Plastic moment (s,) of the section at its temperatures about one axis."""
    height = (body.arms[..., k] * body.arm).ravel()
    order: IntArray = np.argsort(height)
    layers = strength[:, None, order]
    area = body.weight.ravel()[order]
    sense = np.where(sign > 0.0, -1.0, 1.0)
    return hot_plastic_moment(layers, area, height[order], axial, sense, 0.0)[:, 0]


def folded_section(
    error: NotConverged, body: SectionBody, limit: float
) -> StrainHistory:
    """The history of a section that folds at a hot hinge; other errors are raised again."""
    strain = error.partial
    if not isinstance(strain, StrainHistory) or len(strain.times) < 3:
        raise error
    far = np.abs(strain.section_strain[-1, 1:]).max() > 0.3 * limit
    if hinge_margins(body, strain)[-1] < 1.15 or (strain.push[-1, -2:].any() and far):
        return strain
    raise error

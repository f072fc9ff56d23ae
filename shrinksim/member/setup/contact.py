"""Contact forces of a member on one-sided supports, without penalty.

A convex quadratic problem.  One contact changes at a time, the lowest number first where
several could, which cannot run in a circle (Y.-Y. Chang & R. W. Cottle, Math. Programming
18, 1980, from memory).  Everything is over the length L, a force P and P L3 / EI.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.errors import NotConverged

SMALL = 1e-11
"""Forces and heights under this share of the largest are taken for rounding."""


@dataclass(frozen=True)
class Contact:
    """The contact problem.

    x, top, give, sense (r,): place, height of the support over the member's own line,
    softness, way of pushing (+1 up, -1 down, 0 both).  Two may stand in one place if
    one of them gives.  total, turning : what the forces add up to.
    """

    x: FloatArray
    top: FloatArray
    give: FloatArray
    sense: FloatArray
    total: float
    turning: float


def first_pair(c: Contact) -> tuple[FloatArray, list[int]] | None:
    """Two supports that hold the loads, and their forces (r,); None if it tips.

    If any supports can, two can (Caratheodory's theorem for cones).
    """
    i, j = np.triu_indices(len(c.x), 1)
    apart = np.abs(c.x[j] - c.x[i]) > SMALL
    i, j = i[apart], j[apart]
    far = (c.turning - c.total * c.x[i]) / (c.x[j] - c.x[i])
    near = c.total - far
    can = (near * c.sense[i] >= -SMALL) & (far * c.sense[j] >= -SMALL)
    if not can.any():
        return None
    pair = int(np.argmax(can))
    force = np.zeros(len(c.x))
    force[i[pair]], force[j[pair]] = near[pair], far[pair]
    held = {int(i[pair]), int(j[pair]), *np.flatnonzero(c.sense == 0).tolist()}
    return force, sorted(held)


def solve_contact(
    c: Contact, force: FloatArray, held: list[int]
) -> tuple[FloatArray, float, float, FloatArray]:
    """Forces (r,), shift, tilt and gaps (r,) of the settled contact."""
    size = len(c.x)
    for _ in range(100 + 20 * size**2):
        wanted, shift, tilt, high = _balance(c, held)
        pulled = [i for i in held if c.sense[i] * wanted[i] < -SMALL]
        if pulled:
            step = {i: force[i] / (force[i] - wanted[i]) for i in pulled}
            least = max(0.0, min(step.values()))
            gone = min(i for i in pulled if step[i] <= least + SMALL)
            force = force + least * (wanted - force)
            force[gone] = 0.0
            held = [i for i in held if i != gone]
            continue
        force = wanted
        gap = c.sense * high
        sunk = [i for i in range(size) if i not in held and gap[i] < -SMALL]
        if not sunk:
            return force, shift, tilt, gap
        held = sorted([*held, sunk[0]])
    message = (
        f"the contact of the member with its {size} supports was not settled; move "
        "supports that stand very near each other apart, or leave one out"
    )
    raise NotConverged(message)


def _balance(
    c: Contact, held: list[int]
) -> tuple[FloatArray, float, float, FloatArray]:
    """Forces (r,) when just these supports touch, shift, tilt, height over tops (r,)."""
    at, n = c.x[held], len(held)
    K = np.zeros((n + 2, n + 2))
    K[:n, :n] = np.abs(at[:, None] - at) ** 3 / 12 + np.diag(c.give[held])
    K[:n, n] = K[n, :n] = 1.0
    K[:n, n + 1] = K[n + 1, :n] = at
    known = np.concatenate([c.top[held], [c.total, c.turning]])
    spread = n > 1 and float(np.ptp(at)) > SMALL  # on one place any tilt will do
    found = np.linalg.solve(K, known) if spread else np.linalg.lstsq(K, known)[0]
    force = np.zeros(len(c.x))
    force[held] = found[:n]
    shift, tilt = float(found[n]), float(found[n + 1])
    bow = (np.abs(c.x[:, None] - c.x) ** 3 / 12) @ force
    return force, shift, tilt, bow + c.give * force + shift + tilt * c.x - c.top

"""Setup of a job's member for heating: its supports, and the moment at each bend.

`rig` puts a bent member on supports; here a job becomes its input, and the moments at
the bends are tabulated while they are straightened.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.casefile.resolving import steel_of
from shrinksim.member.job.read import Job
from shrinksim.member.line import Bend, Plane, Side
from shrinksim.member.setup.rig import SupportedMember, helping_ratio, rest_on_supports
from shrinksim.member.setup.rigging import FACES, HungWeight, LoadedJack, Prop, Rigging

SHARES = (-0.25, 0.0, 0.25, 0.5, 0.75, 1.0, 1.25)
"""Of the bends' turns still there, at which the moments are tabulated."""

Bends = Mapping[Plane, Sequence[Bend]]


class HeatPlace(NamedTuple):
    """Place of a heat: m from the marked end, and the side that it is open to."""

    at: float
    side: str


def rigging_of(
    job: Job, up: Side | None = None, hung: Sequence[HungWeight] = ()
) -> Rigging:
    """Supports and loads of the job's member; ``hung`` : further weights."""
    return Rigging(
        section=job.member.shape,
        length=job.member.length,
        yield_stress=steel_of(job.steel).yield_stress,
        props=tuple(Prop(s.at, s.gap, s.holds_down) for s in job.supports),
        weights=tuple(HungWeight(w.at, w.down, w.spread) for w in job.weights)
        + tuple(hung),
        jacks=tuple(LoadedJack(j.at, j.force, j.stiffness) for j in job.jacks),
        up=up or job.rig.up,
        print_units=job.print_units,
    )


@dataclass(frozen=True)
class Setup:
    """A setup for heating: the member on its supports, and M/Mp (b, l) at SHARES.

    + helps a heat on the side that the bend bulges to.
    """

    standing: SupportedMember
    ratios: FloatArray

    @property
    def rigging(self) -> Rigging:
        """Supports, with the heights that their gaps have set, and loads."""
        return self.standing.rigging


def set_up(rigging: Rigging, bends: Bends, places: Sequence[HeatPlace]) -> Setup:
    """Set the member up as it is, and again at each share of its bends."""
    first = rest_on_supports(rigging, bends.get("camber", ()), bends.get("sweep", ()))
    columns = []
    for share in SHARES:
        left = {plane: _left(of, share) for plane, of in bends.items()}
        then = rest_on_supports(
            first.rigging, left.get("camber", ()), left.get("sweep", ())
        )
        columns.append([helping_ratio(then, at, side) for at, side in places])
    shape = (len(SHARES), len(places))
    return Setup(first, frozen(np.reshape(columns, shape).T))


def _left(bends: Sequence[Bend], share: float) -> list[Bend]:
    return [replace(bend, turn=share * bend.turn) for bend in bends]


def drop_station(job: Job) -> float:
    """Station (m) where the drop is watched: the first crib with a gap, else mid-span."""
    cribs = [s.at for s in job.supports if s.gap > 0.0]
    ends = [s.at for s in job.supports if s.gap == 0.0]
    return cribs[0] if cribs else 0.5 * (min(ends) + max(ends))


def upright_plane(up: Side) -> Plane:
    """Plane that is upright."""
    return FACES[up][0]

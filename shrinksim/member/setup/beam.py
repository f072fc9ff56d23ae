"""Elastic beam of a bent member on one-sided supports.

Euler-Bernoulli, EI the same all along: height = bent line free of stress + shift + tilt
x + elastic bow, bow'' = M / EI, M + sagging (presses the upper side together), all
heights + up.  Forces are found, not displacements, so that they balance the loads to
rounding however near supports stand: with |x - z|^3 / 12 EI as the bow at x from a force
at z (right for any set of forces in balance) moment, shear and bow are closed forms.
Which supports touch is settled in `contact`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, offsets
from shrinksim.member.setup.contact import SMALL, Contact, first_pair, solve_contact
from shrinksim.units.tape import place

Pushes = Literal["up", "down", "both"]
NEAREST = 1e-3
"""m between rigid supports; closer ones act as a clamp that no crib is."""


@dataclass(frozen=True)
class BeamSupport:
    """A support.  at : m.  level : m, height of its unloaded top, + up.

    stiffness : N/m, None rigid.  pushes : the way it can push the member.
    """

    at: float
    level: float = 0.0
    stiffness: float | None = None
    pushes: Pushes = "up"


@dataclass(frozen=True)
class BeamLoad:
    """A force (N, + down) at ``at`` m, spread evenly over ``spread`` m around it."""

    at: float
    force: float
    spread: float = 0.0


@dataclass(frozen=True)
class Beam:
    """A member at rest.

    rigidity : EI, N m2.  weight : N/m.  end_moments : N m at the marked and the far
    end, + sagging.  reactions (r,) N, + pushes the member up.  clearance (r,) m between
    member and support, 0 in touch.  touching (r,) bool.  shift, tilt : m, rad of the
    line before its elastic bow.
    """

    length: float
    rigidity: float
    bends: tuple[Bend, ...]
    weight: float
    loads: tuple[BeamLoad, ...]
    rests: tuple[BeamSupport, ...]
    end_moments: tuple[float, float]
    reactions: FloatArray
    clearance: FloatArray
    touching: NDArray[np.bool_]
    shift: float
    tilt: float


def solve_beam(
    length: float,
    rigidity: float,
    rests: Sequence[BeamSupport],
    *,
    weight: float = 0.0,
    loads: Sequence[BeamLoad] = (),
    bends: Sequence[Bend] = (),
    end_moments: tuple[float, float] = (0.0, 0.0),
    units: str = "metric",
) -> Beam:
    """Solve the member at rest under its weight (N/m) and loads.

    bends : its line free of stress, + up.  units : of the messages.
    """
    loads, rests = tuple(loads), tuple(rests)
    if faults := _faults(length, rests, loads, units):
        raise CaseError(faults)
    x = np.array([rest.at for rest in rests])
    lone = Beam(
        length=length,
        rigidity=rigidity,
        bends=tuple(bends),
        weight=weight,
        loads=loads,
        rests=rests,
        end_moments=end_moments,
        reactions=np.zeros(len(rests)),
        clearance=np.zeros(0),
        touching=np.zeros(0, bool),
        shift=0.0,
        tilt=0.0,
    )
    total, turning = resultant(lone)
    tops = np.array([rest.level for rest in rests]) - height(lone, x)
    give = np.array([0.0 if r.stiffness is None else 1 / r.stiffness for r in rests])
    sense = np.array([{"up": 1, "down": -1, "both": 0}[r.pushes] for r in rests])
    force = _forces_of_all(weight * length, loads, end_moments, length)
    soft = length**3 / rigidity
    force = max(force, float(np.ptp(tops)) / soft, 1e-300)
    contact = Contact(
        x / length, tops / (force * soft), give / soft, sense,
        total / force, turning / (force * length),
    )  # fmt: skip
    first = first_pair(contact)
    if first is None:
        raise CaseError(_tipping(lone, total, turning, units))
    reactions, shift, tilt, gap = solve_contact(contact, *first)
    far = np.abs(gap) * (sense != 0) > SMALL
    return replace(
        lone,
        reactions=frozen(force * reactions),
        clearance=frozen(np.where(far, np.abs(gap), 0.0) * force * soft),
        touching=frozen(~far, bool),
        shift=shift * force * soft,
        tilt=tilt * force * soft / length,
    )


def resultant(beam: Beam) -> tuple[float, float]:
    """What the supports must give: N up, and N m about the marked end."""
    total = beam.weight * beam.length + sum(load.force for load in beam.loads)
    turning = 0.5 * beam.weight * beam.length**2
    turning += sum(load.force * load.at for load in beam.loads)
    return total, turning + beam.end_moments[0] - beam.end_moments[1]


def height(beam: Beam, x: FloatArray) -> FloatArray:
    """Height (k,) m of the member's line at x (k,) m."""
    x = np.asarray(x, dtype=float)
    straight = beam.shift + beam.tilt * x
    return offsets(beam.bends, x, beam.length) + straight + _bow(beam, x)


def moment(beam: Beam, x: FloatArray) -> FloatArray:
    """Bending moment (k,) N m at x (k,) m, + sagging."""
    up, d, half = _forces(beam, x)
    inside = np.abs(d) < half
    mean = np.where(inside, 0.5 * (half + d**2 / np.where(inside, half, 1)), np.abs(d))
    return 0.5 * (mean @ up + sum(beam.end_moments))


def shear(beam: Beam, x: FloatArray) -> FloatArray:
    """dM/dx (k,) N at x (k,) m; just beyond a point force, at the far end before it."""
    up, d, half = _forces(beam, x)
    inside = np.abs(d) < half
    side = np.where(inside, d / np.where(inside, half, 1), np.sign(d))
    beyond = np.where(np.asarray(x) < beam.length, 1.0, -1.0)
    return 0.5 * np.where((d == 0) & (half == 0), beyond[:, None], side) @ up


def greatest_moments(beam: Beam) -> tuple[tuple[float, float], tuple[float, float]]:
    """Where (m) and how large (N m) the most sagging and the most hogging moments are.

    Between breaks of the load the shear is a straight line, so that its zeros are exact.
    """
    breaks = breakpoints(beam)
    start, end = breaks[:-1], breaks[1:]
    middle = 0.5 * (start + end)
    slope = -_intensity(beam, middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        zero = middle - shear(beam, middle) / slope
    zero = zero[(zero > start) & (zero < end)]
    x = np.concatenate([breaks, zero])
    M = moment(beam, x)
    most, least = int(np.argmax(M)), int(np.argmin(M))
    return (float(x[most]), float(M[most])), (float(x[least]), float(M[least]))


def breakpoints(beam: Beam) -> FloatArray:
    """Places (k,) m where load or line has a break: ends, supports, loads, bends."""
    spread = [*beam.loads, *beam.bends]
    halves = [0.5 * (s.spread if isinstance(s, BeamLoad) else s.length) for s in spread]
    sides = [s.at + h for s, half in zip(spread, halves, strict=True)
             for h in (-half, half)]  # fmt: skip
    all_of = [0.0, beam.length, *(rest.at for rest in beam.rests), *sides]
    return np.unique(np.clip(all_of, 0.0, beam.length))


def rigid_position(
    places: FloatArray, tops: FloatArray, centre: float
) -> tuple[float, float]:
    """Shift (m) and tilt (rad) of a stiff member laid on tops (r,) m at places (r,) m.

    tops : less the member's own line there.  It comes down until it lies on two of them
    with the centre of the loads (m) between: the upper hull of the tops.
    """
    centre = float(np.clip(centre, places.min(), places.max()))
    i, j = np.triu_indices(len(places), 1)
    i, j = np.where(places[i] < places[j], (i, j), (j, i))
    span = places[j] - places[i]
    astride = (places[i] <= centre) & (centre <= places[j])
    tilt = (tops[j] - tops[i]) / span
    high = np.where(astride, tops[i] + tilt * (centre - places[i]), -np.inf)
    best = int(np.argmax(high))
    return float(high[best] - tilt[best] * centre), float(tilt[best])


def _bow(beam: Beam, x: FloatArray) -> FloatArray:
    """Elastic bow (k,) m, but for a shift and a tilt."""
    up, d, half = _forces(beam, x)
    inside, far = np.abs(d) < half, np.abs(d)
    spread = ((half + d) ** 4 + (half - d) ** 4) / np.where(inside, 8 * half, 1)
    mean = np.where(inside, spread, far * (far**2 + half**2))
    first, last = beam.end_moments
    couples = 0.25 * (first * x**2 + last * (beam.length - x) ** 2)
    return (mean @ up / 12 + couples) / beam.rigidity


def _forces(beam: Beam, x: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Forces (j,) N, + up, distances (k, j) m of x from their middles, half spreads.

    What a force does at x is the mean of |x - z|^n over its spread; the weight is one.
    """
    rows = [(r.at, 0.0, up) for r, up in zip(beam.rests, beam.reactions, strict=True)]
    rows += [(load.at, 0.5 * load.spread, -load.force) for load in beam.loads]
    middle = 0.5 * beam.length
    rows.append((middle, middle, -beam.weight * beam.length))
    at, half, up = np.array(rows).T
    return up, np.asarray(x, dtype=float)[:, None] - at, half


def _intensity(beam: Beam, x: FloatArray) -> FloatArray:
    """Line load (k,) N/m, + down, at x (k,)."""
    up, d, half = _forces(beam, x)
    inside = np.abs(d) < half
    return -np.where(inside, 0.5 / np.where(inside, half, 1), 0) @ up


def _forces_of_all(
    weight: float,
    loads: tuple[BeamLoad, ...],
    moments: tuple[float, float],
    length: float,
) -> float:
    """Size of all loads together, N."""
    point = sum(abs(load.force) for load in loads)
    return abs(weight) + point + sum(map(abs, moments)) / length


def _faults(
    length: float,
    rests: tuple[BeamSupport, ...],
    loads: tuple[BeamLoad, ...],
    units: str,
) -> list[str]:
    """Supports and loads that are off the member, and supports in one place."""

    def station(at: float) -> str:
        return place(at, units)

    reach = [("a support", r.at, 0.0) for r in rests]
    reach += [("a load", load.at, 0.5 * load.spread) for load in loads]
    slack = 1e-9 * length
    faults = [
        f"{name} at {station(at)} is off the member, which ends at {station(length)}"
        for name, at, half in reach
        if not (at - half >= -slack and at + half <= length + slack)
    ]
    places = sorted(rest.at for rest in rests if rest.stiffness is None)
    faults += [
        f"two rigid supports at {station(a)}; keep them {station(NEAREST)} apart or more"
        for a, b in pairwise(places)
        if b - a < NEAREST
    ]
    if len(rests) < 2:
        faults.append("fewer than two supports; a member lies on two or more")
    return faults


def _tipping(beam: Beam, total: float, turning: float, units: str) -> str:
    """Why no forces of the supports can hold the loads."""
    places = sorted(rest.at for rest in beam.rests if rest.pushes == "up")
    if total <= 0.0 or not places:
        return "the member is lifted off its supports; hold it down or add weight"
    centre, low, high = (
        place(at, units) for at in (turning / total, places[0], places[-1])
    )
    return (
        f"the member tips: its loads act at {centre} from the marked end, outside its "
        f"supports from {low} to {high}; move a support or a weight, or hold it down"
    )

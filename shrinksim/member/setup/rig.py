"""Member on its supports for heating: line, moment, reactions and gaps.

One plane of the member stands upright: its weight and what is hung on it bend it there,
on supports that push and do not pull.  In the other plane, flat, nothing bends it.
Heights and moments are as it lies: + up, + sagging, which presses the side that
faces up together and so helps a heat whose open end is on that side.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shrinksim.arrays import GRAVITY, FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, Plane, offsets
from shrinksim.member.setup import beam
from shrinksim.member.setup.beam import Beam, BeamLoad, BeamSupport, solve_beam
from shrinksim.member.setup.rigging import (
    FACES,
    HungWeight,
    LoadedJack,
    Prop,
    Rigging,
    Side,
    rigging_faults,
)
from shrinksim.shop.sections.shape import plastic_moment

__all__ = [
    "FACES",
    "HungWeight",
    "LoadedJack",
    "Prop",
    "Rigging",
    "Side",
    "SupportedMember",
    "bending_stress",
    "helping_ratio",
    "moment_ratio",
    "rest_on_supports",
    "rigging_faults",
    "rotation_drop",
    "sag_off_chord",
    "stiffness_at",
]

STATIONS = 121


@dataclass(frozen=True)
class SupportedMember:
    """A member at rest on its supports, with line, moment and reactions.

    rigging : with the levels that gaps and jacks have fixed: use this one to see what a
    heat does, the original one to set gaps and jacks again.  plane : the one upright.
    camber, sweep : bends as surveyed.  solved : the beam, for values at any x.
    own_weight : N.  plastic_moment N m, elastic_modulus m3 : about the axis that bends.
    x (k,) m.  line : (k,) m, height over the line of the supports; rigid_line : the same
    of a member that does not give; sag : line - rigid_line, elastic.  flat_line : (k,) m,
    off the end chord in the flat plane, signed as surveyed.  moment (k,) N m, + sagging;
    shear (k,) N.
    reactions (r,) N, + up; touching (r,) bool; clearance (r,) m of air under the steel;
    uplift (r,) N that a prop must hold down.  jack_forces (j,) N, + down.
    """

    rigging: Rigging
    plane: Plane
    camber: tuple[Bend, ...]
    sweep: tuple[Bend, ...]
    solved: Beam
    own_weight: float
    plastic_moment: float
    elastic_modulus: float
    x: FloatArray
    line: FloatArray
    rigid_line: FloatArray
    sag: FloatArray
    flat_line: FloatArray
    moment: FloatArray
    shear: FloatArray
    reactions: FloatArray
    touching: NDArray[np.bool_]
    clearance: FloatArray
    uplift: FloatArray
    jack_forces: FloatArray


def rest_on_supports(
    rigging: Rigging,
    camber: Iterable[Bend] = (),
    sweep: Iterable[Bend] = (),
    x: FloatArray | None = None,
) -> SupportedMember:
    """Find the position and forces of the bent member on its supports.

    camber, sweep : bends as surveyed, in the member's own planes.  x : m, stations;
    None takes even ones and every break of the load.  CaseError where it cannot lie so.
    """
    if faults := rigging_faults(rigging):
        raise CaseError(faults)
    camber, sweep = tuple(camber), tuple(sweep)
    plane, sign = FACES[rigging.up]
    seen = {"camber": camber, "sweep": sweep}
    upright = tuple(replace(b, turn=sign * b.turn) for b in seen.pop(plane))
    (flat,) = seen.values()
    props, solved = _on_supports(rigging, upright)
    if x is None:
        even = np.linspace(0.0, rigging.length, STATIONS)
        x = np.union1d(even, beam.breakpoints(solved))
    x = np.asarray(x, float)
    W, Mp = _strength(rigging, plane)
    line, rigid_line, count = (
        beam.height(solved, x),
        _rigid_line(solved, props, x),
        len(props),
    )
    return SupportedMember(
        rigging=replace(rigging, props=props, jacks=_set_levels(rigging.jacks, solved)),
        plane=plane,
        camber=camber,
        sweep=sweep,
        solved=solved,
        own_weight=solved.weight * rigging.length,
        plastic_moment=Mp,
        elastic_modulus=W,
        x=frozen(x),
        line=frozen(line),
        rigid_line=frozen(rigid_line),
        sag=frozen(line - rigid_line),
        flat_line=frozen(offsets(flat, x, rigging.length)),
        moment=frozen(beam.moment(solved, x)),
        shear=frozen(beam.shear(solved, x)),
        reactions=frozen(solved.reactions[:count]),
        touching=frozen(solved.touching[:count], bool),
        clearance=frozen(solved.clearance[:count]),
        uplift=frozen(np.maximum(-solved.reactions[:count], 0.0)),
        jack_forces=frozen(_jack_forces(rigging.jacks, solved.reactions[count:])),
    )


def moment_ratio(standing: SupportedMember, x: FloatArray | float) -> FloatArray:
    """M/Mp (k,) at x (k,) m, + sagging: helps a heat open on the side that faces up."""
    M = beam.moment(standing.solved, np.atleast_1d(np.asarray(x, float)))
    return M / standing.plastic_moment


def helping_ratio(standing: SupportedMember, at: float, side: str) -> float:
    """M/Mp at a heat open to ``side``, + helps it; 0 in the flat plane."""
    plane, sign = FACES[side]
    if plane != standing.plane:
        return 0.0
    facing = sign * FACES[standing.rigging.up][1]
    return facing * float(moment_ratio(standing, at)[0])


def bending_stress(standing: SupportedMember, x: FloatArray | float) -> FloatArray:
    """Stress (k,) Pa of the outermost fibre on the side that faces up, - presses."""
    M = beam.moment(standing.solved, np.atleast_1d(np.asarray(x, float)))
    return -M / standing.elastic_modulus


def sag_off_chord(standing: SupportedMember, x: FloatArray) -> FloatArray:
    """Elastic part (k,) m of the offsets from the string between the ends, + up.

    What a reading of the upright plane, taken as it lies, contains of weight and load.
    """
    solved, length = standing.solved, standing.rigging.length
    ends = np.array([0.0, length])
    bow = [beam.height(solved, z) - offsets(solved.bends, z, length) for z in (x, ends)]
    return bow[0] - np.interp(x, ends, bow[1])


def rotation_drop(
    standing: SupportedMember,
    at: float,
    turn: float,
    side: str | None = None,
    x: FloatArray | None = None,
    spread: float = 0.0,
) -> FloatArray:
    """Change of height (k,) m, + up, when a heat at ``at`` m takes off ``turn`` rad.

    side : of its open end, None the one that faces up; in the flat plane nothing
    drops.  x : m, None the standing's.  spread : m that the turn is spread over.  The
    kinked member is laid again on the supports as they are, cribs and jacks with it;
    the crib's gap that lets it happen is the fall at the crib.
    """
    x = standing.x if x is None else np.asarray(x, float)
    side = standing.rigging.up if side is None else side
    plane, sign = FACES[side]
    if plane != standing.plane:
        return np.zeros_like(x)
    bends = {"camber": standing.camber, "sweep": standing.sweep}
    bends[plane] = (*bends[plane], Bend(at, -sign * turn, spread))
    after = rest_on_supports(standing.rigging, bends["camber"], bends["sweep"], x)
    return after.line - beam.height(standing.solved, x)


def stiffness_at(standing: SupportedMember, at: float) -> float:
    """Moment (N m/rad) that ``at`` m loses for each rad that a heat turns there.

    0 on two supports (dead weight); more where a further support, a crib in touch or a
    jack's stiffness takes load over.  Contacts are kept as they are.
    """
    props = zip(standing.rigging.props, standing.touching, strict=True)
    jacks = zip(standing.rigging.jacks, standing.jack_forces, strict=True)
    holding = [prop for prop, touching in props if touching]
    pressing = [jack for jack, force in jacks if jack.stiffness and force != 0.0]
    rests = [BeamSupport(s.at, 0.0, s.stiffness, "both") for s in (*holding, *pressing)]
    if len(rests) < 3:
        return 0.0
    solved = standing.solved
    kinked = solve_beam(solved.length, solved.rigidity, rests, bends=[Bend(at, 1.0)])
    return float(beam.moment(kinked, np.array([at]))[0])


def _on_supports(
    rigging: Rigging, upright: tuple[Bend, ...]
) -> tuple[tuple[Prop, ...], Beam]:
    """The member at rest, and its props with their levels.

    The cribs' gaps are those under the member as the other supports carry it.
    """
    carrying = [p for p in rigging.props if p.level is not None or p.gap == 0.0]
    solved = _solve(rigging, carrying, upright)
    if len(carrying) == len(rigging.props):
        return tuple(replace(p, level=p.level or 0.0) for p in carrying), solved
    under = beam.height(solved, np.array([p.at for p in rigging.props]))
    props = tuple(
        replace(p, level=(h - p.gap if p.gap > 0.0 else 0.0) if p.level is None
                else p.level)
        for p, h in zip(rigging.props, under.tolist(), strict=True)
    )  # fmt: skip
    return props, _solve(rigging, props, upright)


def _solve(rigging: Rigging, props: Iterable[Prop], upright: tuple[Bend, ...]) -> Beam:
    """The beam on these props, whose unknown levels are 0; jacks with a level spring."""
    properties = rigging.section.properties
    plane, _ = FACES[rigging.up]
    strong = plane == "camber"
    inertia = (
        properties.second_moment_strong if strong else properties.second_moment_weak
    )
    rests = [
        BeamSupport(p.at, p.level or 0.0, p.stiffness, "both" if p.holds_down else "up")
        for p in props
    ]
    loads = [BeamLoad(w.at, w.force, w.spread) for w in rigging.weights]
    for jack in rigging.jacks:
        if jack.stiffness is None or jack.level is None:
            loads.append(BeamLoad(jack.at, jack.force))
            continue
        free = jack.level - jack.force / jack.stiffness
        way = "down" if jack.force > 0.0 else "up"
        rests.append(BeamSupport(jack.at, free, jack.stiffness, way))
    return solve_beam(
        rigging.length, rigging.modulus * inertia, rests,
        weight=properties.mass_per_length * GRAVITY, loads=loads, bends=upright,
        end_moments=rigging.end_moments, units=rigging.print_units,
    )  # fmt: skip


def _strength(rigging: Rigging, plane: Plane) -> tuple[float, float]:
    """Elastic modulus m3 and plastic moment N m about the axis that bends."""
    properties = rigging.section.properties
    if plane == "camber":
        Mp = plastic_moment(rigging.section, "strong", rigging.yield_stress)
        return properties.elastic_modulus_strong, Mp
    Mp = plastic_moment(rigging.section, "weak", rigging.yield_stress)
    return properties.elastic_modulus_weak, Mp


def _rigid_line(solved: Beam, props: tuple[Prop, ...], x: FloatArray) -> FloatArray:
    """Height (k,) m at x of the bent member if it were rigid."""
    places = np.array([prop.at for prop in props])
    own = offsets(solved.bends, places, solved.length)
    tops = np.array([prop.level or 0.0 for prop in props]) - own
    total, turning = beam.resultant(solved)
    centre = turning / total if total > 0.0 else 0.5 * solved.length
    shift, tilt = beam.rigid_position(places, tops, centre)
    return offsets(solved.bends, x, solved.length) + shift + tilt * x


def _set_levels(jacks: tuple[LoadedJack, ...], solved: Beam) -> tuple[LoadedJack, ...]:
    """The jacks with the height of the member at them, where they are set now."""
    now = beam.height(solved, np.array([jack.at for jack in jacks]))
    return tuple(
        jack if jack.level is not None else replace(jack, level=height)
        for jack, height in zip(jacks, now.tolist(), strict=True)
    )


def _jack_forces(jacks: tuple[LoadedJack, ...], pressed: FloatArray) -> list[float]:
    """Forces N, + down: as set, or what is left of them since."""
    left = iter((-pressed).tolist())
    return [
        jack.force if jack.stiffness is None or jack.level is None else next(left)
        for jack in jacks
    ]

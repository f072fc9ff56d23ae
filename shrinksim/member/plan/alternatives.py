"""Alternatives for a job: as laid, turned over, with a weight, with other cooling."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from shrinksim.arrays import GRAVITY, FloatArray
from shrinksim.casefile.checks import is_quenched
from shrinksim.casefile.heating import AnyCooling, Mist, StillAir
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job
from shrinksim.member.job.record import OPPOSITE
from shrinksim.member.line import SIDES, Bend, Plane, Side
from shrinksim.member.plan.estimate import estimated_curves
from shrinksim.member.plan.forecast import Forecast, forecast
from shrinksim.member.plan.minor_axis import MOST, other_axis_margin, other_axis_ratios
from shrinksim.member.plan.next_heat import LEAST_MARGIN, HeatingScheme, MovementFactor
from shrinksim.member.plan.patterns import Site, patterns_of, planes_in, vee_angles
from shrinksim.member.plan.records import Alternative
from shrinksim.member.plan.response import (
    CurveRequest,
    Progress,
    ResponseCurve,
    model_curves,
    scaled,
    turn_at,
    utilisation_at,
)
from shrinksim.member.plan.sentences import fold_remark, in_hundred, mrad
from shrinksim.member.setup.cautions import FATAL, UNTRIED, brief_cautions, refusals
from shrinksim.member.setup.lifting import lift, lifting_in_brief
from shrinksim.member.setup.rigging import HungWeight
from shrinksim.member.setup.setup import Bends, Setup, rigging_of, set_up, upright_plane
from shrinksim.units.quantity import quantity, show
from shrinksim.units.tape import place

HUNG = 0.2
"""M/Mp that a weight is hung for; common practice keeps well under the 0.5 of FHWA."""

START = "600 degF"
"""Steel under which air or water may be put on it: Caltrans standard specifications,
55-1.02B(8)."""

HEAVIEST = 500.0
"""kg that is hung at most; our choice."""


@dataclass(frozen=True)
class Arrangement:
    """Arrangement of supports, weights and cooling.

    ratios : (b, l) M/Mp at the bends, see `Setup`; None when it is impossible.  remark :
    description, or why it is impossible.  setups : in which each bend is heated.
    refused : why it is refused, "" when it is not.  barred : (b,) bool, bends that may
    not be heated so.
    """

    name: str
    ratios: FloatArray | None
    cooling: AnyCooling
    remark: str
    setups: tuple[Setup, ...] = ()
    refused: str = ""
    barred: tuple[bool, ...] = ()


def arrangements(
    job: Job, setup: Setup, bends: Bends, sites: Sequence[Site]
) -> Iterator[Arrangement]:
    """Arrangements to compare, as laid first, each with its reasons for refusal."""
    for arrangement in _options(job, setup, bends, sites):
        setups = arrangement.setups
        fatal = FATAL if setups and all(of is setup for of in setups) else UNTRIED
        why = [word for of in setups for word in refusals(of.standing, fatal)]
        across = other_axis_ratios(setups, sites) if setups else []
        barred = [bool(why) or m > MOST for m in across]
        if any(m > MOST for m in across):
            why.append(f"its weight bends it across a heat with {max(across):.2f} Mp")
        yield replace(
            arrangement, refused="; ".join(dict.fromkeys(why)), barred=tuple(barred)
        )


def _options(
    job: Job, setup: Setup, bends: Bends, sites: Sequence[Site]
) -> Iterator[Arrangement]:
    """Arrangements before they are checked."""
    as_laid = (setup,) * len(sites)
    yield Arrangement(
        "as laid", setup.ratios, job.cooling, _as_laid(job, sites), as_laid
    )
    yield _turned(job, bends, sites)
    if len({site.side for site in sites}) > 1:
        yield _each_up(job, bends, sites)
    weighted = _weighted(job, setup, bends, sites)
    if weighted is not None:
        yield weighted
    if job.heats.estimate == "quick":  # its relation does not know of cooling
        return
    if isinstance(job.cooling, StillAir):
        mist = Mist.model_validate({"kind": "mist", "start_below": START})
        start = show(quantity(START, "temperature"), "temperature", job.print_units)
        remark = (
            f"mist once the steel is under {start}, where the procedure allows it; steam "
            "and spatter scald: face and hands covered, people away"
        )
        if not is_quenched(job.steel):
            yield Arrangement("mist cooling", setup.ratios, mist, remark, as_laid)
    else:
        remark = "left to cool by itself"
        yield Arrangement("still air", setup.ratios, StillAir(), remark, as_laid)


def _as_laid(job: Job, sites: Sequence[Site]) -> str:
    sides = " and ".join(dict.fromkeys(site.side for site in sites))
    return f"{job.rig.up} side up, heated at the {sides}"


def _turned(job: Job, bends: Bends, sites: Sequence[Site]) -> Arrangement:
    """The other side up."""
    up = OPPOSITE[job.rig.up]
    found = _laid(job, bends, sites, up=up)
    if isinstance(found, str):
        return Arrangement("turned over", None, job.cooling, found)
    lifted = lifting_in_brief(lift(rigging_of(job), *_planes(bends)), job.print_units)
    remark = "; ".join([f"{up} side up", lifted, *brief_cautions(found.standing)])
    setups = (found,) * len(sites)
    return Arrangement("turned over", found.ratios, job.cooling, remark, setups)


def _laid(
    job: Job,
    bends: Bends,
    sites: Sequence[Site],
    up: Side | None = None,
    hung: Sequence[HungWeight] = (),
) -> Setup | str:
    """Setup of the member, or the reason why it is impossible."""
    try:
        return set_up(rigging_of(job, up, hung), bends, [site.place for site in sites])
    except CaseError as error:
        return "; ".join(error.problems)


def _each_up(job: Job, bends: Bends, sites: Sequence[Site]) -> Arrangement:
    """The member turned for every bend, so that its bulging side is up."""
    name, rows, setups = "each bulge up", [], []
    sides = dict.fromkeys(site.side for site in sites)
    found = {s: _laid(job, bends, sites, up=cast(Side, s)) for s in sides}
    for b, site in enumerate(sites):
        setup = found[site.side]
        if isinstance(setup, str):
            return Arrangement(name, None, job.cooling, setup)
        rows.append(setup.ratios[b])
        setups.append(setup)
    words = dict.fromkeys(word for of in setups for word in brief_cautions(of.standing))
    lifted = lifting_in_brief(lift(rigging_of(job), *_planes(bends)), job.print_units)
    remark = "; ".join(["turned over between the bends", lifted, *words])
    return Arrangement(name, np.array(rows), job.cooling, remark, tuple(setups))


def _planes(bends: Bends) -> tuple[Sequence[Bend], Sequence[Bend]]:
    """Bends of camber and of sweep."""
    return bends.get("camber", ()), bends.get("sweep", ())


def _weighted(
    job: Job, setup: Setup, bends: Bends, sites: Sequence[Site]
) -> Arrangement | None:
    """A weight hung at the worst bend of the plane that stands upright."""
    name = "with a weight hung"
    plane = upright_plane(job.rig.up)
    standing = [i for i, site in enumerate(sites) if site.plane == plane]
    if not standing:
        return None
    b = max(standing, key=lambda i: sites[i].arm * abs(sites[i].bend.turn))
    site, now = sites[b], float(setup.ratios[b, -2])
    if site.side != job.rig.up:
        remark = "it would open the vee further: turn the member over first"
        return Arrangement(name, None, job.cooling, remark)
    trial = 1000.0
    more = _laid(job, bends, sites, hung=[HungWeight(site.bend.at, trial)])
    if isinstance(more, str) or now >= HUNG or more.ratios[b, -2] <= now:
        return None
    force = (HUNG - now) / (float(more.ratios[b, -2]) - now) * trial
    step = quantity("50 lb", "mass") if job.print_units == "us" else 25.0
    mass = math.floor(min(force / GRAVITY, HEAVIEST) / step) * step
    found = _laid(job, bends, sites, hung=[HungWeight(site.bend.at, mass * GRAVITY)])
    if isinstance(found, str) or mass <= 0.0:
        return None
    at = place(site.bend.at, job.print_units)
    words = [f"{show(mass, 'mass', job.print_units)} hung at {at}"]
    remark = "; ".join([*words, *brief_cautions(found.standing)])
    setups = (found,) * len(sites)
    return Arrangement(name, found.ratios, job.cooling, remark, setups)


def main_angle(job: Job, plane: Plane) -> int:
    """Index of the vee computed for the alternatives; other sizes go in proportion."""
    return len(vee_angles(job, plane)) // 2


def curves_needed(
    job: Job, arrangement: Arrangement, sites: Sequence[Site], whole: bool
) -> list[CurveRequest]:
    """Requests for the heats of an arrangement; ``whole`` : every size of vee."""
    if arrangement.ratios is None:
        return []
    found = []
    for plane in planes_in(sites):
        rows = [i for i, site in enumerate(sites) if site.plane == plane]
        reach = (
            float(arrangement.ratios[rows].min()),
            float(arrangement.ratios[rows].max()),
        )
        angles = vee_angles(job, plane)
        for angle in angles if whole else angles[main_angle(job, plane) :][:1]:
            patterns = patterns_of(job, plane, SIDES[plane][0], angle)
            found.append(CurveRequest(plane, patterns, arrangement.cooling, reach))
    return found


Curves = Mapping[Plane, tuple[ResponseCurve, ...]]


def curves_of(
    job: Job,
    found: Sequence[Arrangement],
    sites: Sequence[Site],
    store: Path,
    jobs: int | None,
    progress: Progress | None,
) -> list[Curves]:
    """The curves of every option, for all sizes of vee of each plane."""
    asked = [
        curves_needed(job, arrangement, sites, i == 0)
        for i, arrangement in enumerate(found)
    ]
    flat = [a for of in asked for a in of]
    if job.heats.estimate == "quick":
        curves = iter(estimated_curves(job, flat))
    else:
        curves = iter(model_curves(job, flat, store, jobs, progress))
    made: list[Curves] = []
    for of in asked:
        planes: dict[Plane, list[ResponseCurve]] = {}
        for a in of:
            planes.setdefault(a.plane, []).append(next(curves))
        made.append(
            {p: _filled(job, p, c, made[0] if made else {}) for p, c in planes.items()}
        )
    return made


def _filled(
    job: Job, plane: Plane, curves: Sequence[ResponseCurve], whole: Curves
) -> tuple[ResponseCurve, ...]:
    """Curves of all sizes: those that were not computed in proportion to as laid."""
    count = len(vee_angles(job, plane))
    if len(curves) == count:
        return tuple(curves)
    model, main = whole[plane], main_angle(job, plane)
    at = [float(c.turn[np.argmin(np.abs(c.ratio))]) for c in model]
    return tuple(scaled(curves[0], at[a] / at[main]) for a in range(count))


def compared(
    job: Job,
    arrangement: Arrangement,
    scheme: HeatingScheme | None,
    movement_factor: MovementFactor,
    known: Forecast | None,
) -> Alternative:
    """Row of the table for an arrangement."""
    nothing = _row_without_numbers(arrangement)
    if scheme is None or not scheme.sites:
        return nothing
    runs = known or forecast(scheme, movement_factor, job.heats.most)
    worst = max(
        range(len(scheme.sites)),
        key=lambda i: scheme.sites[i].arm * abs(scheme.turns[i]),
    )
    b, a = runs.first or (worst, main_angle(job, scheme.sites[worst].plane))
    move = movement_factor.mean * float(
        turn_at(scheme.curves[b][a], scheme.ratios[b, -2])
    )
    use = max(
        float(utilisation_at(curve, ratios[1:-1]).max())
        for ratios, curves in zip(scheme.ratios, scheme.curves, strict=True)
        for curve in curves[-1:]
    )
    margin = _least_margin(job, arrangement, scheme, 1.0 / use if use > 1e-6 else None)
    least = float(scheme.ratios[:, -2].min())
    seen = replace(
        nothing, move_per_heat=move, hinge_margin=margin, moment_ratio=least,
        remark=arrangement.remark + (OPPOSED if least < -5e-4 else ""),
    )  # fmt: skip
    if why := list(_against(arrangement, margin)):
        return replace(seen, remark="; ".join([arrangement.remark, *why]))
    if runs.first is None:
        if not any(site.stations for site in scheme.sites):
            return replace(seen, remark=f"{seen.remark}; {SPENT}")
        remark = f"{seen.remark}; no heat is worth giving: {mrad(move)} each"
        return replace(seen, remark=remark)
    return replace(
        seen, heats=runs.heats, least=runs.least, most=runs.most, hours=runs.hours,
        gas=runs.gas, possible=True,
        remark=f"{seen.remark}; {in_hundred(runs.chance)} end inside the tolerance",
    )  # fmt: skip


def _row_without_numbers(arrangement: Arrangement) -> Alternative:
    """Row of an arrangement that gives no heats."""
    return Alternative(
        name=arrangement.name,
        heats=None,
        least=None,
        most=None,
        move_per_heat=None,
        hours=None,
        gas=None,
        moment_ratio=None,
        hinge_margin=None,
        remark=arrangement.remark,
        possible=False,
    )


def _least_margin(
    job: Job, arrangement: Arrangement, scheme: HeatingScheme, margin: float | None
) -> float | None:
    """Least of ``margin`` and those of the bending across the heats."""
    found = [] if margin is None else [margin]
    across = (
        other_axis_ratios(arrangement.setups, scheme.sites)
        if arrangement.setups
        else []
    )
    for site, curves, ratio in zip(scheme.sites, scheme.curves, across, strict=False):
        hottest = max(float(np.nanmax(curve.peak)) for curve in curves)
        other = other_axis_margin(
            job, site.plane, ratio, max(hottest, job.torch.target)
        )
        found += [] if other is None else [other]
    return min(found, default=None)


def _against(arrangement: Arrangement, margin: float | None) -> Iterator[str]:
    """Reasons to refuse an arrangement."""
    if arrangement.refused:
        yield f"refused: {arrangement.refused}"
    if margin is not None and margin < LEAST_MARGIN:
        yield fold_remark(margin)


SPENT = "every place on the bends had its three heats"
OPPOSED = "; gravity opposes"

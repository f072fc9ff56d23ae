"""Ways of doing a job beside one another: as laid, turned over, weighted, cooled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from shrinksim.arrays import GRAVITY, FloatArray
from shrinksim.case.heating import AnyCooling, Mist, StillAir
from shrinksim.case.quantity import quantity, show
from shrinksim.errors import CaseError
from shrinksim.member.choice import Site, angles_of, patterns_of, planes_in
from shrinksim.member.forecast import Forecast, forecast
from shrinksim.member.job import Job
from shrinksim.member.job_schema import OPPOSITE
from shrinksim.member.lay import Bends, Lay, lay, rigging_of, upright
from shrinksim.member.line import SIDES, Plane
from shrinksim.member.moves import (
    Asked,
    MoveCurve,
    Progress,
    model_curves,
    scaled,
    turn_at,
    use_at,
)
from shrinksim.member.outlook import FOLDS, Belief, Way
from shrinksim.member.plan_records import Alternative
from shrinksim.member.plan_words import fold_remark, mrad
from shrinksim.member.quick import quick_curves
from shrinksim.member.rigging import Weight
from shrinksim.member.tape import place

HUNG = 0.2
"""M/Mp that a weight is hung for; common practice keeps well under the 0.5 of FHWA."""

START = "600 degF"
"""Steel under which air or water may be put on it: Caltrans standard specifications,
55-1.02B(8)."""

HEAVIEST = 500.0
"""kg that is hung at most; our choice."""


@dataclass(frozen=True)
class Option:
    """A way to lie and cool.  laid : None when it cannot; remark : why, or what it is.

    ratios : (b, l) M/Mp at the bends, see `Lay`.
    """

    name: str
    ratios: FloatArray | None
    cooling: AnyCooling
    remark: str


def options(
    job: Job, laid: Lay, bends: Bends, sites: Sequence[Site]
) -> Iterator[Option]:
    """As laid first, then the others that make sense for the job."""
    yield Option("as laid", laid.ratios, job.cooling, _as_laid(job, sites))
    yield _turned(job, bends, sites)
    if len({site.side for site in sites}) > 1:
        yield _each_up(job, bends, sites)
    weighted = _weighted(job, laid, bends, sites)
    if weighted is not None:
        yield weighted
    if job.heats.estimate == "quick":  # its relation does not know of cooling
        return
    if isinstance(job.cooling, StillAir):
        mist = Mist.model_validate({"kind": "mist", "start_below": START})
        start = show(quantity(START, "temperature"), "temperature", job.print_units)
        remark = f"mist once the steel is under {start}, where the procedure allows it"
        yield Option("mist cooling", laid.ratios, mist, remark)
    else:
        yield Option("still air", laid.ratios, StillAir(), "left to cool by itself")


def _as_laid(job: Job, sites: Sequence[Site]) -> str:
    sides = " and ".join(dict.fromkeys(site.side for site in sites))
    return f"{job.rig.up} side up, heated at the {sides}"


def _turned(job: Job, bends: Bends, sites: Sequence[Site]) -> Option:
    """The other side up."""
    up = OPPOSITE[job.rig.up]
    found = _laid(job, bends, sites, up=up)
    if isinstance(found, str):
        return Option("turned over", None, job.cooling, found)
    return Option("turned over", found, job.cooling, f"{up} side up")


def _laid(
    job: Job,
    bends: Bends,
    sites: Sequence[Site],
    up: str | None = None,
    hung: Sequence[Weight] = (),
) -> FloatArray | str:
    """M/Mp at the bends, or why the member cannot lie so."""
    try:
        return lay(rigging_of(job, up, hung), bends, sites).ratios  # type: ignore[arg-type]
    except CaseError as error:
        return "; ".join(error.problems)


def _each_up(job: Job, bends: Bends, sites: Sequence[Site]) -> Option:
    """The member turned for every bend, so that its bulging side is up."""
    name, rows = "each bulge up", []
    found = {s: _laid(job, bends, sites, up=s) for s in {site.side for site in sites}}
    for b, site in enumerate(sites):
        ratios = found[site.side]
        if isinstance(ratios, str):
            return Option(name, None, job.cooling, ratios)
        rows.append(ratios[b])
    return Option(name, np.array(rows), job.cooling, "turned over between the bends")


def _weighted(
    job: Job, laid: Lay, bends: Bends, sites: Sequence[Site]
) -> Option | None:
    """A weight hung at the worst bend of the plane that stands upright."""
    name = "with a weight hung"
    plane = upright(job.rig.up)
    standing = [i for i, site in enumerate(sites) if site.plane == plane]
    if not standing:
        return None
    b = max(standing, key=lambda i: sites[i].arm * abs(sites[i].bend.turn))
    site, now = sites[b], float(laid.ratios[b, -2])
    if site.side != job.rig.up:
        remark = "it would open the vee further: turn the member over first"
        return Option(name, None, job.cooling, remark)
    trial = 1000.0
    more = _laid(job, bends, sites, hung=[Weight(site.bend.at, trial)])
    if isinstance(more, str) or now >= HUNG or more[b, -2] <= now:
        return None
    force = (HUNG - now) / (float(more[b, -2]) - now) * trial
    step = quantity("50 lb", "mass") if job.print_units == "us" else 25.0
    mass = math.floor(min(force / GRAVITY, HEAVIEST) / step) * step
    found = _laid(job, bends, sites, hung=[Weight(site.bend.at, mass * GRAVITY)])
    if isinstance(found, str) or mass <= 0.0:
        return None
    at = place(site.bend.at, job.print_units)
    remark = f"{show(mass, 'mass', job.print_units)} hung at {at}"
    return Option(name, found, job.cooling, remark)


def main_angle(job: Job, plane: Plane) -> int:
    """Number of the vee that other ways are computed for; the rest go in proportion."""
    return len(angles_of(job, plane)) // 2


def asked_of(
    job: Job, option: Option, sites: Sequence[Site], whole: bool
) -> list[Asked]:
    """The heats whose movement has to be known; ``whole`` : in every size of vee."""
    if option.ratios is None:
        return []
    found = []
    for plane in planes_in(sites):
        rows = [i for i, site in enumerate(sites) if site.plane == plane]
        reach = float(option.ratios[rows].min()), float(option.ratios[rows].max())
        angles = angles_of(job, plane)
        for angle in angles if whole else angles[main_angle(job, plane) :][:1]:
            patterns = patterns_of(job, plane, SIDES[plane][0], angle)
            found.append(Asked(plane, patterns, option.cooling, reach))
    return found


Curves = Mapping[Plane, tuple[MoveCurve, ...]]


def curves_of(
    job: Job,
    found: Sequence[Option],
    sites: Sequence[Site],
    store: Path,
    jobs: int | None,
    progress: Progress | None,
) -> list[Curves]:
    """The curves of every option, for all sizes of vee of each plane."""
    asked = [asked_of(job, option, sites, i == 0) for i, option in enumerate(found)]
    flat = [a for of in asked for a in of]
    if job.heats.estimate == "quick":
        curves = iter(quick_curves(job, flat))
    else:
        curves = iter(model_curves(job, flat, store, jobs, progress))
    made: list[Curves] = []
    for of in asked:
        planes: dict[Plane, list[MoveCurve]] = {}
        for a in of:
            planes.setdefault(a.plane, []).append(next(curves))
        made.append(
            {p: _filled(job, p, c, made[0] if made else {}) for p, c in planes.items()}
        )
    return made


def _filled(
    job: Job, plane: Plane, curves: Sequence[MoveCurve], whole: Curves
) -> tuple[MoveCurve, ...]:
    """Curves of all sizes: those that were not computed in proportion to as laid."""
    count = len(angles_of(job, plane))
    if len(curves) == count:
        return tuple(curves)
    model, main = whole[plane], main_angle(job, plane)
    at = [float(c.turn[np.argmin(np.abs(c.ratio))]) for c in model]
    return tuple(scaled(curves[0], at[a] / at[main]) for a in range(count))


def compared(
    job: Job, option: Option, way: Way | None, belief: Belief, known: Forecast | None
) -> Alternative:
    """An option's row of the table."""
    nothing = Alternative(
        option.name, None, None, None, None, None, None, None, None,
        option.remark, possible=False,
    )  # fmt: skip
    if way is None or not way.sites:
        return nothing
    runs = known or forecast(way, belief, job.heats.most)
    worst = max(
        range(len(way.sites)), key=lambda i: way.sites[i].arm * abs(way.turns[i])
    )
    b, a = runs.first or (worst, main_angle(job, way.sites[worst].plane))
    move = belief.mean * float(turn_at(way.curves[b][a], way.ratios[b, -2]))
    use = max(
        float(use_at(curve, ratios[1:-1]).max())
        for ratios, curves in zip(way.ratios, way.curves, strict=True)
        for curve in curves[-1:]
    )
    margin = 1.0 / use if use > 1e-6 else None
    least = float(way.ratios[:, -2].min())
    seen = replace(
        nothing, move_per_heat=move, hinge_margin=margin, moment_ratio=least,
        remark=option.remark + (OPPOSED if least < -5e-4 else ""),
    )  # fmt: skip
    if margin is not None and margin < FOLDS:
        return replace(seen, remark=f"{option.remark}; {fold_remark(margin)}")
    if runs.first is None:
        said = f"{seen.remark}; no heat is worth giving: {mrad(move)} each"
        return replace(seen, remark=said)
    return replace(
        seen, heats=runs.heats, least=runs.least, most=runs.most, hours=runs.hours,
        gas=runs.gas, possible=True,
        remark=f"{seen.remark}; {100 * runs.chance:.0f} % end inside the tolerance",
    )  # fmt: skip


OPPOSED = "; gravity opposes"

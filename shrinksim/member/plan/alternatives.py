"""Ways of doing a job beside one another: as laid, turned over, weighted, cooled."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import cast

import numpy as np

from shrinksim.arrays import GRAVITY, FloatArray
from shrinksim.case.heating import AnyCooling, Mist, StillAir
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job
from shrinksim.member.job.record import OPPOSITE
from shrinksim.member.line import SIDES, Bend, Plane, Side
from shrinksim.member.plan.estimate import quick_curves
from shrinksim.member.plan.forecast import Forecast, forecast
from shrinksim.member.plan.minor_axis import MOST, at_bends, margin_across
from shrinksim.member.plan.next_heat import FOLDS, Belief, Way
from shrinksim.member.plan.patterns import Site, angles_of, patterns_of, planes_in
from shrinksim.member.plan.records import Alternative
from shrinksim.member.plan.response import (
    Asked,
    MoveCurve,
    Progress,
    model_curves,
    scaled,
    turn_at,
    use_at,
)
from shrinksim.member.plan.sentences import fold_remark, in_hundred, mrad
from shrinksim.member.setup.cautions import FATAL, UNTRIED, refusals
from shrinksim.member.setup.cautions import briefly as brief
from shrinksim.member.setup.lifting import briefly, lift
from shrinksim.member.setup.rigging import Weight
from shrinksim.member.setup.setup import Bends, Lay, lay, rigging_of, upright
from shrinksim.units.quantity import quantity, show
from shrinksim.units.tape import place
from shrinksim.views.elevation.case_checks import is_quenched

HUNG = 0.2
"""M/Mp that a weight is hung for; common practice keeps well under the 0.5 of FHWA."""

START = "600 degF"
"""Steel under which air or water may be put on it: Caltrans standard specifications,
55-1.02B(8)."""

HEAVIEST = 500.0
"""kg that is hung at most; our choice."""


@dataclass(frozen=True)
class Option:
    """A way to lie and cool.

    ratios : (b, l) M/Mp at the bends, see `Lay`; None when it cannot lie so.  remark :
    why, or what it is.  lays : of every bend the way that it lies in while that is
    heated.  refused : why the way is none, "" when it is one.  barred : (b,) bool, bends
    that may not be heated so.
    """

    name: str
    ratios: FloatArray | None
    cooling: AnyCooling
    remark: str
    lays: tuple[Lay, ...] = ()
    refused: str = ""
    barred: tuple[bool, ...] = ()


def options(
    job: Job, laid: Lay, bends: Bends, sites: Sequence[Site]
) -> Iterator[Option]:
    """As laid first, then the others that make sense for the job, each checked."""
    for option in _options(job, laid, bends, sites):
        lays = option.lays
        fatal = FATAL if lays and all(of is laid for of in lays) else UNTRIED
        why = [word for of in lays for word in refusals(of.standing, fatal)]
        across = at_bends(lays, sites) if lays else []
        barred = [bool(why) or m > MOST for m in across]
        if any(m > MOST for m in across):
            why.append(f"its weight bends it across a heat with {max(across):.2f} Mp")
        yield replace(
            option, refused="; ".join(dict.fromkeys(why)), barred=tuple(barred)
        )


def _options(
    job: Job, laid: Lay, bends: Bends, sites: Sequence[Site]
) -> Iterator[Option]:
    """The ways, before anything is said against them."""
    as_laid = (laid,) * len(sites)
    yield Option("as laid", laid.ratios, job.cooling, _as_laid(job, sites), as_laid)
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
        remark = (
            f"mist once the steel is under {start}, where the procedure allows it; steam "
            "and spatter scald: face and hands covered, people away"
        )
        if not is_quenched(job.steel):
            yield Option("mist cooling", laid.ratios, mist, remark, as_laid)
    else:
        remark = "left to cool by itself"
        yield Option("still air", laid.ratios, StillAir(), remark, as_laid)


def _as_laid(job: Job, sites: Sequence[Site]) -> str:
    sides = " and ".join(dict.fromkeys(site.side for site in sites))
    return f"{job.rig.up} side up, heated at the {sides}"


def _turned(job: Job, bends: Bends, sites: Sequence[Site]) -> Option:
    """The other side up."""
    up = OPPOSITE[job.rig.up]
    found = _laid(job, bends, sites, up=up)
    if isinstance(found, str):
        return Option("turned over", None, job.cooling, found)
    lifted = briefly(lift(rigging_of(job), *_planes(bends)), job.print_units)
    remark = "; ".join([f"{up} side up", lifted, *brief(found.standing)])
    lays = (found,) * len(sites)
    return Option("turned over", found.ratios, job.cooling, remark, lays)


def _laid(
    job: Job,
    bends: Bends,
    sites: Sequence[Site],
    up: Side | None = None,
    hung: Sequence[Weight] = (),
) -> Lay | str:
    """The member laid down, or why it cannot lie so."""
    try:
        return lay(rigging_of(job, up, hung), bends, [site.place for site in sites])
    except CaseError as error:
        return "; ".join(error.problems)


def _each_up(job: Job, bends: Bends, sites: Sequence[Site]) -> Option:
    """The member turned for every bend, so that its bulging side is up."""
    name, rows, lays = "each bulge up", [], []
    sides = dict.fromkeys(site.side for site in sites)
    found = {s: _laid(job, bends, sites, up=cast(Side, s)) for s in sides}
    for b, site in enumerate(sites):
        laid = found[site.side]
        if isinstance(laid, str):
            return Option(name, None, job.cooling, laid)
        rows.append(laid.ratios[b])
        lays.append(laid)
    words = dict.fromkeys(word for of in lays for word in brief(of.standing))
    lifted = briefly(lift(rigging_of(job), *_planes(bends)), job.print_units)
    remark = "; ".join(["turned over between the bends", lifted, *words])
    return Option(name, np.array(rows), job.cooling, remark, tuple(lays))


def _planes(bends: Bends) -> tuple[Sequence[Bend], Sequence[Bend]]:
    """Bends of camber and of sweep."""
    return bends.get("camber", ()), bends.get("sweep", ())


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
    if isinstance(more, str) or now >= HUNG or more.ratios[b, -2] <= now:
        return None
    force = (HUNG - now) / (float(more.ratios[b, -2]) - now) * trial
    step = quantity("50 lb", "mass") if job.print_units == "us" else 25.0
    mass = math.floor(min(force / GRAVITY, HEAVIEST) / step) * step
    found = _laid(job, bends, sites, hung=[Weight(site.bend.at, mass * GRAVITY)])
    if isinstance(found, str) or mass <= 0.0:
        return None
    at = place(site.bend.at, job.print_units)
    words = [f"{show(mass, 'mass', job.print_units)} hung at {at}"]
    remark = "; ".join([*words, *brief(found.standing)])
    lays = (found,) * len(sites)
    return Option(name, found.ratios, job.cooling, remark, lays)


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
    margin = _least_margin(job, option, way, 1.0 / use if use > 1e-6 else None)
    least = float(way.ratios[:, -2].min())
    seen = replace(
        nothing, move_per_heat=move, hinge_margin=margin, moment_ratio=least,
        remark=option.remark + (OPPOSED if least < -5e-4 else ""),
    )  # fmt: skip
    if why := list(_against(option, margin)):
        return replace(seen, remark="; ".join([option.remark, *why]))
    if runs.first is None:
        if not any(site.stations for site in way.sites):
            return replace(seen, remark=f"{seen.remark}; {SPENT}")
        said = f"{seen.remark}; no heat is worth giving: {mrad(move)} each"
        return replace(seen, remark=said)
    return replace(
        seen, heats=runs.heats, least=runs.least, most=runs.most, hours=runs.hours,
        gas=runs.gas, possible=True,
        remark=f"{seen.remark}; {in_hundred(runs.chance)} end inside the tolerance",
    )  # fmt: skip


def _least_margin(
    job: Job, option: Option, way: Way, margin: float | None
) -> float | None:
    """Least of ``margin`` and those of the bending across the heats."""
    found = [] if margin is None else [margin]
    across = at_bends(option.lays, way.sites) if option.lays else []
    for site, curves, ratio in zip(way.sites, way.curves, across, strict=False):
        hottest = max(float(np.nanmax(curve.peak)) for curve in curves)
        other = margin_across(job, site.plane, ratio, max(hottest, job.torch.target))
        found += [] if other is None else [other]
    return min(found, default=None)


def _against(option: Option, margin: float | None) -> Iterator[str]:
    """Why a way is refused."""
    if option.refused:
        yield f"refused: {option.refused}"
    if margin is not None and margin < FOLDS:
        yield fold_remark(margin)


SPENT = "every place on the bends had its three heats"
OPPOSED = "; gravity opposes"

"""Bending about the other axis during a heat, and the strength left against it.

A heat in the plane that lies flat has no moment to help it, but the member's weight still
bends it in the upright plane, across the heat, on a section that is soft meanwhile.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from shrinksim.casefile.resolving import steel_of
from shrinksim.member.job.read import Job
from shrinksim.member.line import Plane
from shrinksim.member.plan.next_heat import LEAST_MARGIN
from shrinksim.member.plan.patterns import Site
from shrinksim.member.setup.rig import SupportedMember, moment_ratio
from shrinksim.member.setup.setup import Setup

WARNED = 0.1
"""M/Mp across a heat above which we warn; our choice, no source."""

MOST = 0.35
"""M/Mp across a heat above which it is refused; our choice, no source."""


def other_axis_ratio(standing: SupportedMember, plane: Plane, at: float) -> float:
    """M/Mp, in size, across a heat in ``plane``; 0 where that stands upright."""
    if plane == standing.plane:
        return 0.0
    return abs(float(moment_ratio(standing, at)[0]))


def hot_strength(job: Job, temperature: float) -> float:
    """Strength at ``temperature`` degC over the cold one, on the plateau."""
    strain = steel_of(job.steel).strain
    rows = strain.flow_start + strain.flow_step * np.arange(len(strain.flow))
    hot, cold = np.interp(
        [temperature, 20.0], rows, strain.flow[:, -1] + strain.back_stress
    )
    return float(hot / cold)


def hot_moment_share(job: Job, plane: Plane, temperature: float) -> float:
    """Plastic moment about the other axis over the cold one while a heat is hot.

    All that it heats is taken as hot as ``temperature`` degC at once, which is safe.
    Plate: its share of the width.  Vees in both flanges: that share of each, and the web.
    Web vee and strip: the whole flange under the strip; the web bears nothing.
    """
    soft, ratio = hot_strength(job, temperature), job.heats.depth_ratio
    left = 1.0 - ratio * (1.0 - soft)
    shape = job.member.shape
    if shape.flanges is None:
        return left
    if plane == "camber":
        return 0.5 * (1.0 + soft)
    plastic = shape.properties.plastic_modulus_strong
    flanges = min(shape.flanges.area * shape.flanges.arm / plastic, 1.0)
    return flanges * left + (1.0 - flanges) * soft


def other_axis_margin(
    job: Job, plane: Plane, ratio: float, temperature: float
) -> float | None:
    """Moment across the heat that folds the hot section over M/Mp = ``ratio``."""
    return hot_moment_share(job, plane, temperature) / ratio if ratio > 1e-6 else None


def is_refused(ratio: float, margin: float | None) -> bool:
    """Whether a heat is refused for the bending across it."""
    return ratio > MOST or (margin is not None and margin < LEAST_MARGIN)


def other_axis_ratios(setups: Sequence[Setup], sites: Sequence[Site]) -> list[float]:
    """Largest M/Mp across the heats of each bend, one setup for each bend."""
    return [
        max(
            other_axis_ratio(of.standing, site.plane, at)
            for at in (site.bend.at, *site.stations)
        )
        for of, site in zip(setups, sites, strict=True)
    ]


def other_axis_cautions(job: Job, plane: Plane, ratio: float) -> Iterator[str]:
    """Caution on a heat with M/Mp = ``ratio`` across it."""
    if ratio <= WARNED:
        return
    hot = "the steel is hot"
    if job.member.shape.flanges is not None:
        hot = "both flanges are hot" if plane == "sweep" else "one flange is hot"
    yield (
        f"While {hot} the weight bends the member about its other axis with "
        f"{ratio:.2f} of its cold plastic moment; the most that is planned with is "
        f"{MOST:g}. Turn the member on its side for this heat, or take load off."
    )

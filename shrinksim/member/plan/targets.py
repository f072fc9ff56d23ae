"""Targets of a plan from the survey: planes, bends to straighten, margins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.job.read import Job
from shrinksim.member.line import SIDES, Plane
from shrinksim.member.plan.alternatives import Curves, main_angle
from shrinksim.member.plan.next_heat import MARGIN_SIGMAS, HeatingScheme, Target
from shrinksim.member.plan.patterns import Site, heating_site, planes_in
from shrinksim.member.plan.response import turn_at
from shrinksim.member.survey.shape import Shape
from shrinksim.member.survey.survey import SurveyResult

MOST_MARGIN = 0.5
"""Of the tolerance, that is kept for the reading error at most."""


def planes_to_straighten(job: Job, survey: SurveyResult, x: FloatArray) -> list[Plane]:
    """Planes that are out of tolerance and can be straightened."""
    found: list[Plane] = []
    for plane, shape in survey.shapes.items():
        allowed = survey.allowed.get(plane)
        if allowed is None or not shape.bends:
            continue
        out = float(
            np.abs(surveyed_line(survey, plane, x)).max()
        ) > allowed - reading_margin(survey, plane)
        if out and not (plane == "sweep" and job.member.shape.flat):
            found.append(plane)
    return found


def surveyed_line(survey: SurveyResult, plane: Plane, x: FloatArray) -> FloatArray:
    """Offsets (k,) m of the plane's line as surveyed."""
    shape = survey.shapes[plane]
    return np.interp(x, shape.x, shape.line)


def reading_margin(survey: SurveyResult, plane: Plane) -> float:
    """Part (m) of the tolerance that is reserved for the reading error."""
    widest = MARGIN_SIGMAS * float(survey.shapes[plane].band.max())
    return min(widest, MOST_MARGIN * survey.allowed[plane])


def heating_sites(
    job: Job,
    survey: SurveyResult,
    x: FloatArray,
    moves: Mapping[Plane, FloatArray] | None = None,
) -> list[Site]:
    """Sites of all bends to straighten; moves : rad of one heat at each."""
    sites = []
    for plane in planes_to_straighten(job, survey, x):
        allowed = survey.allowed[plane]
        for i, bend in enumerate(survey.shapes[plane].bends):
            move = float(moves[plane][i]) if moves else abs(bend.turn)
            side = SIDES[plane][0 if bend.turn >= 0.0 else 1]
            earlier = [at for on, at in survey.heated if on == side]
            sites.append(heating_site(job, plane, bend, x, allowed, move, earlier))
    return sites


def heating_scheme(
    job: Job,
    survey: SurveyResult,
    ratios: FloatArray,
    curves: Curves,
    x: FloatArray,
    barred: Sequence[bool] = (),
) -> HeatingScheme:
    """Build a heating scheme: bends, targets, moments and response curves.

    barred : (b,) bool, bends that may not be heated so; they get no stations.
    """
    rows = heating_sites(job, survey, x)
    moves: dict[Plane, list[float]] = {}
    for site, ratio in zip(rows, ratios, strict=True):
        curve = curves[site.plane][main_angle(job, site.plane)]
        moves.setdefault(site.plane, []).append(float(turn_at(curve, ratio[-2])))
    sites = heating_sites(job, survey, x, {p: np.array(m) for p, m in moves.items()})
    sites = [
        replace(site, stations=(), visits=()) if shut else site
        for site, shut in zip(sites, barred or [False] * len(sites), strict=True)
    ]
    sense = np.array([site.sense for site in sites])
    turns = np.array([abs(site.bend.turn) for site in sites])
    covariance = np.zeros((len(sites), len(sites)))
    targets = []
    for plane in planes_in(sites):
        own = [i for i, site in enumerate(sites) if site.plane == plane]
        lift = np.stack([sites[i].lift for i in own], axis=1)
        covariance[np.ix_(own, own)] = _of_the_line(survey.shapes[plane], lift)
        margin = reading_margin(survey, plane)
        band = np.interp(x, survey.shapes[plane].x, survey.shapes[plane].band)
        rest = surveyed_line(survey, plane, x) - lift @ turns[own]
        allowed = survey.allowed[plane]
        targets.append(Target(plane, tuple(own), lift, rest, allowed, margin, band))
    return HeatingScheme(
        x, tuple(sites), turns, covariance * np.outer(sense, sense), tuple(targets), ratios,
        tuple(curves[site.plane] for site in sites),
    )  # fmt: skip


def _of_the_line(shape: Shape, lift: FloatArray) -> FloatArray:
    """Covariance (b, b) of the turns, limited to the uncertainty of the line.

    Where a kink and a curve fit alike, a turn is far less sure than the line: a longer
    bend turns more for the same line.  lift (k, b) : m, of 1 rad at the bends.
    """
    C = shape.covariance
    sigma = np.sqrt(np.maximum(np.einsum("ki,ij,kj->k", lift, C, lift), 0.0)).max()
    return C * min(1.0, float(shape.band.max()) / max(float(sigma), 1e-12)) ** 2

"""Quick estimate of the movement of a heat by a shipped relation.

An `Estimator` gives turn and relative standard deviation of one heat.  For plates it is
the relation of the literature; for I-sections, where none was found, a formula that
is calibrated by finite-element runs.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import Protocol

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.calibration.formula_use import quick_move
from shrinksim.casefile.heating import AnyCooling, StillAir
from shrinksim.casefile.resolving import steel_of
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job
from shrinksim.member.line import Plane
from shrinksim.member.plan.minor_axis import hot_strength
from shrinksim.member.plan.response import CurveRequest, ResponseCurve, computed_ratios
from shrinksim.shop.sections.shape import STEEL_DENSITY, Section
from shrinksim.units.quantity import quantity


class Estimator(Protocol):
    """Turn (rad, > 0 helps) of one heat and its relative standard deviation.

    angle : rad.  temperature : degC of the steel.  ratio : M/Mp, + helps.
    """

    def __call__(
        self,
        section: Section,
        angle: float,
        depth_ratio: float,
        temperature: float,
        ratio: float,
        cooling: AnyCooling,
    ) -> tuple[float, float]: ...


RELATION_SIGMA = 0.25
"""Standard deviation over the mean: means of several heats lie within about a quarter of
it (from memory, low confidence)."""

OPPOSING = -5e-4
"""M/Mp below which a moment opposes."""

OPPOSING_SIGMA_FACTOR = 2.0
"""Times the standard deviation where a moment opposes, for which nothing is published;
our choice."""

RELATION_TEMPERATURE = 650.0
"""degC that the relation is for."""


def published(
    section: Section,
    angle: float,
    depth_ratio: float,  # noqa: ARG001 (the relation has none)
    temperature: float,
    ratio: float,
    cooling: AnyCooling,
) -> tuple[float, float]:
    """Mean turn of vees on plates, heated to 650 degC, published relation, from memory.

    (0.6 + 2 M/Mp) 0.0147 sin(angle / 3); with jacks, to M/Mp = 0.5.  Avent, Mukai &
    Robinson, J. Struct. Eng. 2000, and the FHWA guide, ch. 5.  In proportion to the
    temperature's rise below that.  It was found in still air.
    """
    if not isinstance(cooling, StillAir):
        message = (
            'heats.estimate = "quick" is for still air: the published relation knows no '
            f'{cooling.kind}; leave [cooling] out, or write estimate = "model"'
        )
        raise CaseError(message)
    if section.kind != "plate":
        message = (
            'heats.estimate = "quick" has no published relation for I-sections; write '
            'estimate = "model"'
        )
        raise CaseError(message)
    rise = min(max(temperature - 20.0, 0.0) / (RELATION_TEMPERATURE - 20.0), 1.0)
    turn = (0.6 + 2.0 * ratio) * 0.0147 * math.sin(angle / 3.0) * rise
    return turn, RELATION_SIGMA


def relation_cautions(job: Job, ratio: float) -> Iterator[str]:
    """Caution on a heat outside the range of the published relation."""
    plate = job.member.shape.kind == "plate"
    if plate and job.heats.estimate == "quick" and ratio < OPPOSING:
        yield (
            "The published relation is for moments of 0 to 0.5 Mp that help; against one "
            "its standard deviation is doubled here. The model computes this: estimate "
            '= "model".'
        )


SOURCES: Mapping[str, str] = {
    "published": "published relation, from memory: vees on plates, mean of many heats"
}


def estimator_of(job: Job, plane: Plane) -> Estimator:
    """Choose the shipped estimator for the job's member bending in a plane.

    Plates: the published relation.  I-sections: the calibration by finite-element runs.
    """
    if job.member.shape.kind == "plate":
        return published
    strength = job.steel.yield_stress or steel_of(job.steel).yield_stress
    axis = "strong" if plane == "camber" else "weak"
    return partial(quick_move, axis=axis, yield_stress=strength, torch=job.torch)


def estimated_curves(
    job: Job, asked: Sequence[CurveRequest], estimator: Estimator | None = None
) -> list[ResponseCurve]:
    """Response curve of every request; ``estimator`` in place of the shipped one."""
    return [_curve(job, a, estimator or estimator_of(job, a.plane)) for a in asked]


def _curve(job: Job, asked: CurveRequest, estimator: Estimator) -> ResponseCurve:
    """A heat's curve; its times and gas by a heat balance, to a factor of two."""
    ratio = np.array(computed_ratios(*asked.ratios))
    angle = quantity(str(asked.patterns[0]["angle"]), "angle")
    found = [
        estimator(
            job.member.shape, angle, job.heats.depth_ratio, job.torch.target, float(r),
            asked.cooling,
        )
        for r in ratio
    ]  # fmt: skip
    turn, relative = np.array(found).T
    heating, cooling, gas = _times(job, asked, angle)
    same = np.ones_like(ratio)
    strength = _hot_share(job)
    opposed = estimator is published and min(asked.ratios) < OPPOSING
    return ResponseCurve(
        ratio=frozen(ratio),
        turn=frozen(turn),
        shortening=frozen(0.0 * same),
        peak=frozen(job.torch.target * same),
        heating_time=frozen(heating * same),
        cooling_time=frozen(cooling * same),
        gas=frozen(gas * same),
        utilisation=frozen(np.abs(ratio) / strength),
        model=float(relative.max()),
        source=SOURCES.get(getattr(estimator, "__name__", ""), "shipped calibration"),
        sigma_factor=OPPOSING_SIGMA_FACTOR if opposed else 1.0,
    )


HEAT_LOSS = 1.6
"""Heat that goes into the steel beside the vee and the air, over what stays in it."""


def _times(job: Job, asked: CurveRequest, angle: float) -> tuple[float, float, float]:
    """Seconds of heating and of cooling, and J burnt: a heat balance of the vee."""
    member = job.member.case_member(asked.plane)
    depth = job.heats.depth_ratio * member.view_depth
    thickness = job.member.shape.wall
    steel = steel_of(job.steel).heat
    grid = steel.start + steel.step * np.arange(len(steel.heat_content))
    content: FloatArray = np.interp(
        [job.surroundings.ambient, job.torch.target], grid, steel.heat_content
    )
    volume = depth**2 * math.tan(0.5 * angle) * thickness
    energy = HEAT_LOSS * volume * float(content[1] - content[0])
    burnt = energy / job.torch.efficiency
    heating = burnt / (job.torch.power * job.torch.torches)
    air = 25.0  # W/m2K, both faces, convection and radiation while it cools
    cooling = STEEL_DENSITY * 600.0 * thickness / (2.0 * air) * math.log(600.0 / 5.0)
    return heating, cooling, burnt


def _hot_share(job: Job) -> float:
    """Plastic moment over the cold one with the whole vee at the target temperature."""
    y = (np.arange(400) + 0.5) / 400
    soft = hot_strength(job, job.torch.target)
    strength = np.where(y < 1.0 - job.heats.depth_ratio, 1.0, soft)
    below = np.cumsum(strength) - 0.5 * strength
    side = np.where(below < 0.5 * strength.sum(), -1.0, 1.0)
    return float((side * strength * y).sum() / 100.0)

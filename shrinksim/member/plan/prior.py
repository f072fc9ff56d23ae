"""Prior of the movement factor, before any heat of the member."""

from __future__ import annotations

import math

from shrinksim.calibration.model_error import MODEL_SIGMA
from shrinksim.member.job.read import Job
from shrinksim.member.plan.estimate import RELATION_SIGMA
from shrinksim.member.plan.next_heat import MovementFactor

SHOP_SIGMA = 0.25
"""Relative standard deviation due to the shop (torch, hand, steel) over the movement;
our guess, no source."""


def prior_sigma(job: Job) -> float:
    """Standard deviation of the shop's factor (of its logarithm): model and shop."""
    if job.heats.estimate == "quick":
        model = RELATION_SIGMA
    else:
        model = MODEL_SIGMA[job.member.shape.kind]
    return math.hypot(model, SHOP_SIGMA)


def prior_factor(job: Job) -> MovementFactor:
    """Movement factor before any heat."""
    return MovementFactor(sigma=prior_sigma(job))

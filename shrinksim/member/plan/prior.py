"""What is thought of a heat's movement before any heat was given to the member."""

from __future__ import annotations

import math

from shrinksim.calibration.model_error import MODEL_SIGMA
from shrinksim.member.job.read import Job
from shrinksim.member.plan.estimate import OF_RELATION
from shrinksim.member.plan.next_heat import Belief

OF_SHOP = 0.25
"""Standard deviation of what is the shop's own (torch, hand, steel), over the movement;
our guess, no source."""


def prior_of(job: Job) -> float:
    """Standard deviation of the shop's factor (of its logarithm): model and shop."""
    if job.heats.estimate == "quick":
        model = OF_RELATION
    else:
        model = MODEL_SIGMA["plate" if job.member.section == "plate" else "I"]
    return math.hypot(model, OF_SHOP)


def first_belief(job: Job) -> Belief:
    """The factor on movements before any heat was given."""
    return Belief(sigma=prior_of(job))

"""Surveys whose bends are known, for tests of the plan."""

from types import SimpleNamespace

import numpy as np

from shrinksim.member.line import Bend, offsets
from shrinksim.member.survey.survey import SurveyResult


def shape(plane, length, bends, sigma=0.5e-3):
    """A fitted line with these bends, each known to ``sigma`` rad."""
    x = np.linspace(0.0, length, 61)
    covariance = np.eye(len(bends)) * sigma**2
    unit = [offsets([Bend(b.at, 1.0, b.length)], x, length) for b in bends]
    lift = np.stack(unit, axis=1)
    band = np.sqrt(np.einsum("ki,ij,kj->k", lift, covariance, lift))
    line = offsets(bends, x, length)
    return SimpleNamespace(
        plane=plane, length=length, bends=tuple(bends), x=x, line=line, band=band,
        covariance=covariance, residual=0.0, reading_error=0.0, said=(),
    )  # fmt: skip


def survey(job, allowed=4e-3, sigma=0.5e-3, heated=(), **bends):
    """A survey of planes with bends, all allowed the same deviation (m)."""
    shapes = {p: shape(p, job.member.length, b, sigma) for p, b in bends.items()}
    return SurveyResult(shapes, dict.fromkeys(shapes, allowed), heated=tuple(heated))

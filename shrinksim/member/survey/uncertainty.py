"""Uncertainty of a fitted line: covariance of its bends, and the band around it.

Three sources are put together.  Readings: the covariance of the least squares, with
stations and lengths of bends free.  Descriptions: a kink or a curve, one bend fewer or
more fit the same readings nearly as well; each weighs exp(-score / 2), and what it says
otherwise counts as an error.  So the band of a line found straight is not nil: it holds
the bends that the readings may hide, and at the least a bow of one standard deviation.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.survey.bend_search import jacobian, shape_derivative
from shrinksim.member.survey.trial_line import (
    FitData,
    Term,
    TrialLine,
    fit_terms,
    string_columns,
    term_shapes,
)

FAR = 14.0
"""Score over the best's, from which on a rival weighs nothing (a thousandth)."""

MOST_RIVALS = 12


@dataclass(frozen=True)
class FitUncertainty:
    """Uncertainty of a fitted line.

    covariance (b, b) rad2 : of its terms' sizes (misread: m2).

    at_sigma (b,) m: of the stations.  total_sigma : rad, of the turn from end to end.
    step, step_sigma (p,) m: at the splices.  line, band (x,) m: offsets from the end
    chord, and their standard deviation.
    """

    covariance: FloatArray
    at_sigma: FloatArray
    total_sigma: float
    step: FloatArray
    step_sigma: FloatArray
    line: FloatArray
    band: FloatArray


@dataclass(frozen=True)
class _View:
    """One trial as it is weighed: sizes and steps, their covariance, line and band."""

    trial: TrialLine
    covariance: FloatArray
    at_sigma: FloatArray
    step: FloatArray
    step_covariance: FloatArray
    total: float
    total_variance: float
    line: FloatArray
    variance: FloatArray


def fit_uncertainty(
    data: FitData, trials: Sequence[TrialLine], x: FloatArray
) -> FitUncertainty:
    """Uncertainty of the last trial, with the others as rivals; x (x,) m."""
    best = trials[-1]
    near = _different([t for t in trials[:-1] if t.score < best.score + FAR], best)
    views = [_view(data, trial, x) for trial in (best, *near)]
    chosen = views[0]
    weight = np.exp(-0.5 * (np.array([v.trial.score for v in views]) - best.score))
    weight = np.minimum(weight, 1.0) / np.minimum(weight, 1.0).sum()
    line, total = np.zeros_like(x), 0.0
    for w, v in zip(weight, views, strict=True):
        line = line + w * (v.variance + (v.line - chosen.line) ** 2)
        total += w * (v.total_variance + (v.total - chosen.total) ** 2)
    if all(term.kind == "misread" for term in best.terms):
        bow = Term("bow", 0.5 * data.length, data.length)
        least = _view(data, fit_terms(data, (*best.terms, bow)), x)
        line = np.maximum(line, least.variance)
        total = max(total, least.total_variance)
    return FitUncertainty(
        _mixed(chosen, views, weight),
        chosen.at_sigma,
        float(np.sqrt(total)),
        chosen.step,
        np.sqrt(np.diag(chosen.step_covariance)),
        chosen.line,
        np.sqrt(line),
    )


def _mixed(chosen: _View, views: Sequence[_View], weight: FloatArray) -> FloatArray:
    """Covariance of the sizes over the views that have the same number of terms."""
    kinds = [_kinds(v.trial) for v in views]
    same = np.array([kind == kinds[0] for kind in kinds])
    share = weight * same / (weight @ same)
    total = np.zeros_like(chosen.covariance)
    for w, view, alike in zip(share, views, same, strict=True):
        if alike:
            by = view.trial.size - chosen.trial.size
            total += w * (view.covariance + np.outer(by, by))
    return total


def _kinds(trial: TrialLine) -> list[str]:
    """What the terms are, a bow counting as a bend."""
    return ["misread" if t.kind == "misread" else "bend" for t in trial.terms]


def _different(trials: Sequence[TrialLine], best: TrialLine) -> list[TrialLine]:
    """Each trial once, the best of it; not ``best`` itself.  At most ``MOST_RIVALS``."""
    found: dict[object, TrialLine] = {_sort(best): best}
    for trial in sorted(trials, key=lambda t: t.score):
        found.setdefault(_sort(trial), trial)
    return list(found.values())[1 : MOST_RIVALS + 1]


def _sort(trial: TrialLine) -> object:
    """Kinks, curves and bows in their order: trials of one sort refine to one."""
    return tuple((t.kind, t.length > 0.0) for t in trial.terms)


def _view(data: FitData, trial: TrialLine, x: FloatArray) -> _View:
    """A trial's sizes with their covariance, and the line they make."""
    by_terms, free = jacobian(data, trial)
    base = string_columns(data.x, data.length, data.splices) / data.error
    J = np.concatenate([by_terms, base], axis=1)
    b, p = len(trial.terms), len(data.splices)
    rest = data.height - J[:, :b] @ trial.size
    held = np.zeros(J.shape[1])
    held[b : b + len(free)] = 12.0 / data.length**2
    cov = np.linalg.pinv(J.T @ J + np.diag(held), hermitian=True)
    step = np.linalg.lstsq(base, rest, rcond=None)[0][2:]
    at_sigma = np.zeros(b)
    for k, (i, what) in enumerate(free):
        if what == "at":
            at_sigma[i] = np.sqrt(cov[b + k, b + k])
    G = _of_line(data, trial, x, free)
    used = [*range(b + len(free)), *range(len(cov) - p, len(cov))]
    part = cov[np.ix_(used, used)]
    turns = np.array([float(term.kind != "misread") for term in trial.terms])
    return _View(
        trial=trial,
        covariance=cov[:b, :b],
        at_sigma=at_sigma,
        step=step,
        step_covariance=cov[len(cov) - p :, len(cov) - p :],
        total=float(turns @ trial.size),
        total_variance=float(turns @ cov[:b, :b] @ turns),
        line=G[:, :b] @ trial.size + G[:, b + len(free) :] @ step,
        variance=np.einsum("ij,jk,ik->i", G, part, G),
    )


def _of_line(
    data: FitData, trial: TrialLine, x: FloatArray, free: Sequence[tuple[int, str]]
) -> FloatArray:
    """Offsets (x, c) from the end chord by sizes, free numbers and steps."""
    ends = np.array([0.0, data.length])
    parts = []
    for at in (x, ends):
        made = term_shapes(at, trial.terms)
        for i, term in enumerate(trial.terms):
            if term.kind == "misread":
                made[:, i] = 0.0
        moved = [
            shape_derivative(at, trial.terms[i], what) * trial.size[i]
            for i, what in free
        ]
        steps = [(at > s + 1e-9).astype(float) for s in data.splices]
        parts.append(np.column_stack([made, *moved, *steps]))
    here, (first, last) = parts
    return here - first - np.outer(x / data.length, last - first)

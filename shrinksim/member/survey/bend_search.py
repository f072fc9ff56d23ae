"""The search through trial lines: one term more at a time, exchanged and refined."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.survey.trial_line import (
    AGAINST,
    MOST_BENDS,
    Candidates,
    FitData,
    Term,
    TrialLine,
    candidate_terms,
    clashes,
    clear_of,
    fit_terms,
    parameter_count,
    selected,
    station_range,
    term_columns,
    term_shapes,
)

HOPE = 12.0
"""Score over that of the trial before, up to which exchanges may still make it pay."""

SORTS = {("bend", False), ("bend", True), ("bow", True)}
"""Kinds of bends, and whether they have a length."""

WORTH = 6.0
"""Score over that of a trial, up to which another is refined before they compare."""


def search_lines(data: FitData) -> list[TrialLine]:
    """Every trial that was refined, the best last.

    A bow with bends on it is easily found for bends alone: then these are tried too.
    """
    candidates, tried = candidate_terms(data), []
    best = _climbed(data, candidates, tried)
    if len(best.terms) > 1 and any(term.kind == "bow" for term in best.terms):
        other = _climbed(data, selected(data, candidates, ~candidates.bow), tried)
        best = min(best, other, key=lambda trial: trial.score)
    for _ in range(3):
        others = _otherwise(data, best, candidates)
        tried += others
        better = min(others, key=lambda trial: trial.score, default=best)
        if better.score > best.score - 0.05:
            break
        best = _settled(data, better, candidates, tried)
    return [*(trial for trial in tried if trial is not best), best]


def _climbed(
    data: FitData, candidates: Candidates, tried: list[TrialLine]
) -> TrialLine:
    """The best of a search; it ends where neither one term more pays its price, nor
    two in the place of one, nor two more.  ``tried`` takes all that was tried.
    """
    best = fit_terms(data, ())
    tried.append(best)
    ways, way = (_added, _split, _added_two), 0
    while way < len(ways) and len(best.terms) < MOST_BENDS:
        after = ways[way](data, best, candidates)
        way += 1
        if after is None:
            continue
        tried.append(after)
        if after.score < best.score + HOPE:
            after = _settled(data, after, candidates, tried)
        if after.score < best.score - 0.05:
            best, way = after, 0
    return best


def _added(
    data: FitData, trial: TrialLine, candidates: Candidates, count: int = 1
) -> TrialLine | None:
    """The trial with the best term more, refined."""
    new = best_terms(data, trial.terms, candidates, count)
    return refine(data, fit_terms(data, (*trial.terms, *new))) if new else None


def _added_two(
    data: FitData, trial: TrialLine, candidates: Candidates
) -> TrialLine | None:
    """The trial with the best two terms more: an S is no kink."""
    return _added(data, trial, candidates, 2)


def _split(data: FitData, trial: TrialLine, candidates: Candidates) -> TrialLine | None:
    """The trial with the best two terms in the place of one."""
    found = []
    for out in trial.terms:
        kept = [term for term in trial.terms if term is not out]
        new = best_terms(data, kept, candidates, 2)
        if new is not None:
            found.append(fit_terms(data, (*kept, *new)))
    return min(found, key=lambda t: t.score) if found else None


def _settled(
    data: FitData, trial: TrialLine, candidates: Candidates, tried: list[TrialLine]
) -> TrialLine:
    """Every two terms exchanged for a better two or one, spread bends for kinks."""
    for _ in range(4):
        before = trial.score
        for count in (2, 1):
            for out in _neighbours(trial.terms):
                if count <= len(out) and set(out) <= set(trial.terms):
                    other = _exchanged(data, trial, candidates, out, count)
                    tried += [other] if other else []
                    if other and other.score < trial.score - 0.01:
                        trial = other
        trial = _sharpened(data, trial)
        if trial.score > before - 0.1:
            break
    trial = refine(data, trial)
    tried.append(trial)
    return trial


def _neighbours(terms: tuple[Term, ...]) -> list[tuple[Term, ...]]:
    """Terms next to one another, or one of them a bow; a term that is alone."""
    if len(terms) < 2:
        return [terms]
    pairs = combinations(enumerate(terms), 2)
    return [
        (s, t) for (i, s), (j, t) in pairs if j == i + 1 or "bow" in {s.kind, t.kind}
    ]


def _sharpened(data: FitData, trial: TrialLine) -> TrialLine:
    """The trial with kinks in the place of spread bends where that is better."""
    for term in trial.terms:
        if term.kind == "bend" and term.length > 0.0 and term in trial.terms:
            kept = [other for other in trial.terms if other is not term]
            other = fit_terms(data, (*kept, term._replace(length=0.0)))
            other = refine(data, other, 4)
            trial = other if other.score < trial.score else trial
    return trial


def _exchanged(
    data: FitData,
    trial: TrialLine,
    candidates: Candidates,
    out: tuple[Term, ...],
    count: int,
) -> TrialLine | None:
    """The trial with the best ``count`` terms for ``out``, None if there is no hope."""
    kept = [term for term in trial.terms if term not in out]
    new = best_terms(data, kept, candidates, count)
    if new is None:
        return None
    if count == len(out) and all(any(_near(data, a, b) for b in out) for a in new):
        return None
    other = fit_terms(data, (*kept, *new))
    return refine(data, other, 4) if other.score < trial.score + WORTH else None


def _otherwise(
    data: FitData, best: TrialLine, candidates: Candidates
) -> list[TrialLine]:
    """The best line with each bend in turn of another sort: kink, curve or bow."""
    found = []
    for out in best.terms:
        if out.kind not in {"bend", "bow"}:
            continue
        kept = [term for term in best.terms if term is not out]
        for sort in SORTS - {(out.kind, out.length > 0.0)}:
            of_sort = [(t.kind, t.length > 0.0) == sort for t in candidates.terms]
            part = selected(data, candidates, np.array(of_sort, dtype=bool))
            new = best_terms(data, kept, part, 1)
            if new is not None:
                other = fit_terms(data, (*kept, *new))
                found += [refine(data, other)] if np.isfinite(other.score) else []
    return found


def _near(data: FitData, one: Term, two: Term) -> bool:
    """Whether refining one would lead to the other."""
    if (one.kind, one.length > 0.0) != (two.kind, two.length > 0.0):
        return False
    number = np.interp([one.at, two.at], data.x, np.arange(len(data.x)))
    return bool(abs(number[1] - number[0]) < 1.0)


def best_terms(
    data: FitData, kept: Sequence[Term], candidates: Candidates, count: int
) -> tuple[Term, ...] | None:
    """The one or two terms of the pool that lower the score most beside ``kept``."""
    spare = len(data.x) - 2 - len(data.splices) - sum(map(parameter_count, kept))
    fits = np.flatnonzero(
        (candidates.takes + count - 1 <= spare) & clear_of(candidates, kept)
    )
    if not fits.size:
        return None
    A, cost = candidates.A[:, fits], candidates.cost[fits]
    if kept:
        Q = np.linalg.qr(term_columns(data, kept))[0]
        A = A - Q @ (Q.T @ A)
    norm = np.sqrt(np.einsum("ij,ij->j", A, A))
    norm = np.where(norm > 1e-5, norm, np.inf)
    A /= norm
    b = A.T @ data.height
    if count == 1:
        at = int(np.argmax(b**2 - cost))
        return (candidates.terms[fits[at]],) if np.isfinite(norm[at]) else None
    gram = A.T @ A
    gap = np.maximum(1.0 - gram**2, 1e-6)
    first = (b[:, None] - gram * b) / gap
    net = b * first.T + b[:, None] * first - cost - cost[:, None]
    bow, many = candidates.bow[fits], candidates.takes[fits]
    beside_bow = bow | bow[:, None]
    net -= AGAINST * (beside_bow & (first * first.T < 0.0))
    over = (gap < 1e-5) | (many + many[:, None] > spare) | clashes(candidates, fits)
    net[over] = -np.inf
    i, j = np.unravel_index(int(np.argmax(net)), net.shape)
    if not np.isfinite(net[i, j]) or not np.isfinite(norm[[i, j]]).all():
        return None
    return candidates.terms[fits[i]], candidates.terms[fits[j]]


def refine(data: FitData, trial: TrialLine, most: int = 12) -> TrialLine:
    """The trial with its bends moved and stretched to where they fit best."""
    for _ in range(most):
        step = _better(data, trial)
        if step is None:
            return trial
        trial = step
    return trial


def jacobian(
    data: FitData, trial: TrialLine
) -> tuple[FloatArray, list[tuple[int, str]]]:
    """Columns (k, b + free) over the reading error: by sizes, by stations and lengths.

    Also which the free ones are: number of the term, "at" or "length".
    """
    free = [
        (i, what)
        for i, term in enumerate(trial.terms)
        if term.kind == "bend"
        for what in (("at", "length") if term.length > 0.0 else ("at",))
    ]
    moved = [
        trial.size[i] * shape_derivative(data.x, trial.terms[i], what)
        for i, what in free
    ]
    parts = [term_shapes(data.x, trial.terms), *moved]
    return np.column_stack(parts) / data.error, free


def shape_derivative(x: FloatArray, term: Term, what: str) -> FloatArray:
    """Derivative (k,) of a bend's shape by its station ("at") or its "length"."""
    share = np.clip((x - term.at) / max(term.length, 1e-9) + 0.5, 0.0, 1.0)
    return share if what == "at" else 0.5 * (share**2 - share)


def _better(data: FitData, trial: TrialLine) -> TrialLine | None:
    """The trial after one Gauss-Newton step, shortened until it fits better."""
    J, free = jacobian(data, trial)
    if not free:
        return None
    J = J - data.base @ (data.base.T @ J)
    sizes = len(trial.size)
    rest = data.height - J[:, :sizes] @ trial.size
    scale = np.sqrt(np.einsum("ij,ij->j", J, J)) + 1e-30
    held = np.full(len(scale), 1e-9)
    held[sizes:] += (1.0 / data.length / scale[sizes:]) ** 2
    N = J / scale
    step = np.linalg.solve(N.T @ N + np.diag(held), N.T @ rest)[sizes:] / scale[sizes:]
    for share in (1.0, 0.4, 0.1):
        terms = list(trial.terms)
        for (i, what), by in zip(free, share * step, strict=True):
            moved = getattr(terms[i], what) + float(by)
            terms[i] = terms[i]._replace(**{what: moved})
        kept = [_within(data, a, b) for a, b in zip(trial.terms, terms, strict=True)]
        after = fit_terms(data, kept)
        if after.score < trial.score - 1e-5:
            return after
    return None


def _within(data: FitData, before: Term, term: Term) -> Term:
    """A bend that was moved, put back where it can be told."""
    if term.kind != "bend":
        return term
    if term.length != 0.0:
        least = 1.5 * float(np.median(np.diff(data.x)))
        length = min(max(term.length, least), 0.98 * data.length)
        before, term = before._replace(length=length), term._replace(length=length)
    inside = station_range(data, before)
    if inside is None:
        return before
    return term._replace(at=min(max(term.at, inside[0]), inside[1]))

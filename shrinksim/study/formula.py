"""Which formula: its terms and its bend, chosen by heats that were left out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.study.candidates import ALWAYS, MOST, candidates
from shrinksim.study.fit import (
    BENDS,
    FOLDS,
    REPEATS,
    Bend,
    Choice,
    Fit,
    Rows,
    choose,
    first_weight,
    fitted,
    solve,
    told,
)
from shrinksim.study.measures import Term, columns_of


@dataclass(frozen=True)
class Formula:
    """A formula that was chosen and fitted.  choice : how, for the record."""

    terms: tuple[Term, ...]
    bend: Bend
    fit: Fit
    choice: Mapping[str, Any]


def formula_for(
    values: Mapping[str, FloatArray], scale: FloatArray, turn: FloatArray
) -> Formula:
    """The formula for data; values (n,) of the variables, scale and turn (n,) mrad.

    Both bends are tried with the weights of a first idea; the better one is chosen once
    more with its own scatter as weights.
    """
    named = candidates(values)
    rows = _weighted(Rows(columns_of(named, values), scale, turn, np.ones_like(turn)))
    most = min(MOST, len(turn) // 6)
    first = {bend: choose(rows, bend, ALWAYS, most) for bend in BENDS}
    bend = min(BENDS, key=lambda b: first[b].error)
    chosen = first[bend]
    fit = fitted(rows.terms(chosen.order[: chosen.taken]), bend)
    sigma = fit.scatter.sigma(turn - fit.residuals)
    rows = Rows(rows.columns, scale, turn, 1.0 / sigma)
    chosen = choose(rows, bend, ALWAYS, most)
    taken = chosen.order[: chosen.taken]
    choice = {
        "folds": FOLDS,
        "repeats": REPEATS,
        "rule": "fewest terms within one standard error of the least error",
        "candidates": [list(term) for term in named],
        "bends": {b: {"taken": c.taken, "error": c.error} for b, c in first.items()},
        "steps": _steps(chosen, named),
        "taken": chosen.taken,
    }
    terms = tuple(named[k] for k in taken)
    return Formula(terms, bend, fitted(rows.terms(taken), bend), choice)


def _weighted(rows: Rows) -> Rows:
    """Rows with the weights of a first idea, the published shape fitted to them."""
    for _ in range(3):
        first = rows.terms(range(ALWAYS))
        about = told(first, "straight", solve(first, "straight"))
        weight = first_weight(rows.turn, about)
        rows = Rows(rows.columns, rows.scale, rows.turn, weight)
    return rows


def _steps(chosen: Choice, named: list[Term]) -> list[dict[str, Any]]:
    """Cross-validated error after each term."""
    found = []
    for k, (error, spread) in enumerate(
        zip(chosen.errors.tolist(), chosen.spreads.tolist(), strict=True)
    ):
        last = named[chosen.order[ALWAYS + k - 1]]
        step = {"terms": ALWAYS + k, "added": list(last), "error": error}
        found.append(step | {"standard_error": spread})
    return found

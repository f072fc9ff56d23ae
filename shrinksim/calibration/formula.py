"""Choice of a formula: its terms and its bend, by cross-validation."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.calibration.fit import (
    BENDS,
    FLOOR,
    SHARE,
    Bend,
    Fit,
    FitRows,
    fitted,
    predicted,
    solve,
    weight_of,
)
from shrinksim.calibration.selection import FOLDS, REPEATS, TermChoice, choose
from shrinksim.calibration.terms import ALWAYS, MOST, candidates
from shrinksim.calibration.variables import Term, columns_of


@dataclass(frozen=True)
class Formula:
    """A formula that was chosen and fitted.

    choice, weights : how, and with what weights, for the record.
    """

    terms: tuple[Term, ...]
    bend: Bend
    fit: Fit
    choice: Mapping[str, Any]
    weights: Mapping[str, Any]


def formula_for(
    values: Mapping[str, FloatArray], scale: FloatArray, turn: FloatArray
) -> Formula:
    """The formula for data; values (n,) of the variables, scale and turn (n,) mrad."""
    named = candidates(values)
    rows = FitRows(columns_of(named, values), scale, turn, np.ones_like(turn))
    rows, about = _weighted(rows)
    most = min(MOST, len(turn) // 6)
    tried = {bend: choose(rows, bend, ALWAYS, most) for bend in BENDS}
    bend = min(BENDS, key=lambda b: tried[b].error)
    chosen = tried[bend]
    taken = chosen.terms
    choice = {
        "folds": FOLDS,
        "repeats": REPEATS,
        "rule": "fewest terms within one standard error of the least error",
        "candidates": [list(term) for term in named],
        "bends": {
            b: {"taken": len(c.terms), "error": c.error} for b, c in tried.items()
        },
        "steps": _steps(chosen, named),
        "taken": len(taken),
    }
    terms = tuple(named[k] for k in taken)
    weights = {
        "absolute_mrad": FLOOR * float(np.median(np.abs(turn))),
        "relative": SHARE,
        "about": about.tolist(),
    }
    return Formula(terms, bend, fitted(rows.terms(taken), bend), choice, weights)


def _weighted(rows: FitRows) -> tuple[FitRows, FloatArray]:
    """Rows with the weights of a first idea; its coefficients, of the published shape."""
    about = np.zeros(ALWAYS)
    for _ in range(3):
        first = rows.terms(range(ALWAYS))
        about = solve(first, "straight")
        weight = weight_of(rows.turn, predicted(first, "straight", about))
        rows = FitRows(rows.columns, rows.scale, rows.turn, weight)
    return rows, about


def _steps(chosen: TermChoice, named: list[Term]) -> list[dict[str, Any]]:
    """Cross-validated error of the best model of each size."""
    return [
        {
            "terms": len(model),
            "best": [list(named[k]) for k in model],
            "error": error,
            "standard_error": spread,
        }
        for model, error, spread in zip(
            chosen.models, chosen.errors.tolist(), chosen.spreads.tolist(), strict=True
        )
    ]

"""Range of validity of a formula: the box of its data, and the leverage in it.

The box bounds what is given and what the formula makes of it.  Inside its corners there
may be no data; there the leverage x' (X'X)^-1 x tells how far a heat is from all that was
computed (Cook & Weisberg, Residuals and Influence in Regression, 1982, 2.1: points beyond
the largest leverage of the data are extrapolation).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray

SLACK = 1e-6
"""Of a range, for numbers that were rounded on their way."""


@dataclass(frozen=True)
class Range:
    """Range of one quantity in the data.  unit : of low and high, "" for plain numbers."""

    name: str
    words: str
    unit: str
    low: float
    high: float

    def outside(self, value: float) -> str:
        """Fault of a value, "" inside."""
        slack = SLACK * max(self.high - self.low, abs(self.high))
        if self.low - slack <= value <= self.high + slack:
            return ""
        unit = f" {self.unit}" if self.unit else ""
        return (
            f"{self.words} {value:.4g}{unit} is outside what was computed, "
            f"{self.low:.4g} to {self.high:.4g}{unit}"
        )


@dataclass(frozen=True)
class Guard:
    """The range of a formula.

    ranges : the box.  names : variables of the leverage.  middle, inverse : (v,) their
    mean and (v + 1, v + 1) the inverse of their normal matrix, 1 first.  most : largest
    leverage of the data.
    """

    ranges: tuple[Range, ...]
    names: tuple[str, ...]
    middle: FloatArray
    inverse: FloatArray
    most: float


def guard_of(
    ranges: Sequence[Range], names: Sequence[str], values: Mapping[str, FloatArray]
) -> Guard:
    """The guard of data; values : variable -> (n,)."""
    names = tuple(n for n in names if np.ptp(values[n]) > 0.0)
    table = np.stack([values[n] for n in names], axis=1)
    middle = table.mean(axis=0)
    rows = np.hstack([np.ones((len(table), 1)), table - middle])
    inverse = np.linalg.inv(rows.T @ rows)
    leverage = np.einsum("ni,ij,nj->n", rows, inverse, rows)
    return Guard(tuple(ranges), names, middle, inverse, float(leverage.max()))


def leverage(guard: Guard, values: Mapping[str, float]) -> float:
    """Leverage of a heat: its distance from the middle of the data."""
    away = np.array([values[n] for n in guard.names]) - guard.middle
    row = np.append(1.0, away)
    return float(row @ guard.inverse @ row)


def outside(
    guard: Guard, given: Mapping[str, float], values: Mapping[str, float]
) -> list[str]:
    """Why a heat is outside, nothing inside.

    given : by the names of the ranges, in their units.  values : of the variables.
    """
    said = [r.outside(given[r.name]) for r in guard.ranges if r.name in given]
    said = [sentence for sentence in said if sentence]
    if not said and leverage(guard, values) > guard.most:
        far = leverage(guard, values) / guard.most
        said.append(
            "each value is inside its range, but no heat near this combination was "
            f"computed (leverage {far:.2g} of the largest of the data)"
        )
    return said

"""Values of a varied key: lists, ranges and samples, in the units of the file."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from shrinksim.errors import CaseError
from shrinksim.text.quoting import kind_of, near, shown
from shrinksim.units.quantity import DIMENSIONS, quantity

MOST_RUNS = 10_000
"""Most runs of a study."""

RANGE = ("from", "to", "steps")

_PLAIN = re.compile(
    r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*([^\d\s/.,-].*)?"
)


@dataclass(frozen=True)
class ValueList:
    """List of values as written in the file."""

    values: tuple[Any, ...]


@dataclass(frozen=True)
class ValueRange:
    """Range from ``low`` to ``high`` in ``unit``; steps : values, None for a sample."""

    low: float
    high: float
    unit: str
    steps: int | None

    def at(self, share: float) -> Any:
        """Value at a share (0 to 1) of the range, as a case file has it, to six digits."""
        number = float(f"{self.low + share * (self.high - self.low):.6g}")
        return f"{number:g} {self.unit}" if self.unit else number


Varied = ValueList | ValueRange


def read_varied(given: object, sampled: bool) -> Varied:
    """Values of a key of [vary]; CaseError with the ends of sentences if invalid."""
    if isinstance(given, Mapping):
        return _value_range(given, sampled)
    if not isinstance(given, list):
        example = (
            '["20 deg", "30 deg"] or { from = "20 deg", to = "60 deg", steps = 5 }'
        )
        message = f"= {shown(given)} does not vary; write {example}"
        raise CaseError(message)
    if not given:
        message = "is an empty list; write at least one value"
        raise CaseError(message)
    kinds = sorted({kind_of(value) for value in given})
    if len(kinds) > 1:
        message = f"has values of different kinds: {', '.join(kinds)}"
        raise CaseError(message)
    twice = [value for k, value in enumerate(given) if value in given[:k]]
    if twice:
        message = f"has {shown(twice[0])} twice; leave one out"
        raise CaseError(message)
    return ValueList(tuple(given))


def is_range(given: object) -> bool:
    """Whether a table is a range, and not a table of further keys (a line has "from")."""
    if not isinstance(given, Mapping):
        return False
    inside = [given[key] for key in RANGE if key in given]
    return any(not isinstance(value, (list, Mapping)) for value in inside)


def _value_range(given: Mapping[str, Any], sampled: bool) -> ValueRange:
    """Range of a table; one CaseError with all its faults."""
    faults = []
    for key in given:
        if key not in RANGE:
            faults.append(f"has the key {shown(key)}{near(key, RANGE)}")
    for key in ("from", "to"):
        if key not in given:
            faults.append(f'has no {key}; write {key} = "20 deg", say')
    steps = given.get("steps")
    faults += _steps_faults(steps, sampled)
    ends = [given.get("from"), given.get("to")]
    found = in_common_unit(ends) if None not in ends else None
    if None not in ends and found is None:
        pair = f"from = {shown(ends[0])} and to = {shown(ends[1])}"
        faults.append(f"{pair} are no two numbers of one kind; give a list of values")
    if found is not None and found[0][0] == found[0][1]:
        faults.append(f"is an empty range: from and to are both {shown(ends[0])}")
    if faults or found is None:
        raise CaseError(faults)
    (low, high), unit = found
    return ValueRange(low, high, unit, steps)


def _steps_faults(steps: object, sampled: bool) -> list[str]:
    """Faults of the number of values of a range."""
    if sampled:
        return ["has steps, but a sample needs none; leave it out"] * (
            steps is not None
        )
    if steps is None:
        return ["has no steps; write how many values, steps = 5, or add a [sample]"]
    if not whole(steps, 2, MOST_RUNS):
        return [f"steps = {shown(steps)} is not a whole number from 2 to {MOST_RUNS}"]
    return []


def whole(given: object, least: int, most: int) -> bool:
    """Whether it is a whole number within bounds."""
    if not isinstance(given, int) or isinstance(given, bool):
        return False
    return least <= given <= most


def in_common_unit(values: Sequence[Any]) -> tuple[list[float], str] | None:
    """Values as numbers in a common unit, "" for plain numbers; None if impossible.

    The unit is that of the first value where possible.
    """
    if all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in values):
        return [float(v) for v in values], ""
    if not all(isinstance(v, str) for v in values):
        return None
    parts = [_PLAIN.fullmatch(v) for v in values]
    units = {" ".join((p[2] or "").split()) for p in parts if p}
    if all(parts) and len(units) == 1 and not re.search(r"\s\d", next(iter(units))):
        return [float(p[1]) for p in parts if p], next(iter(units))
    for name, dimension in DIMENSIONS.items():
        try:
            amounts = [quantity(v, name) for v in values]
        except CaseError:
            continue
        first = parts[0][2] or "" if parts[0] else ""
        if not first or re.search(r"\s\d", first):  # "3/8 in", "40 ft 6 in"
            first = dimension.metric[0]
        return _converted(amounts, name, first)
    return None


def _converted(
    amounts: list[float], dimension: str, unit: str
) -> tuple[list[float], str]:
    """SI amounts as numbers in a unit, or in the metric unit where that is none."""
    try:
        zero = quantity(f"0 {unit}", dimension)
        one = quantity(f"1 {unit}", dimension) - zero
    except CaseError:
        return _converted(amounts, dimension, DIMENSIONS[dimension].metric[0])
    return [float(f"{(a - zero) / one:.12g}") for a in amounts], unit


def grid(varied: Sequence[Varied]) -> list[tuple[Any, ...]]:
    """Every combination; the last key varies fastest."""
    combinations: list[tuple[Any, ...]] = [()]
    for one in varied:
        values = _values(one)
        combinations = [(*before, v) for before in combinations for v in values]
    return combinations


def count(varied: Sequence[Varied]) -> int:
    """Number of combinations."""
    total = 1
    for one in varied:
        total *= len(one.values) if isinstance(one, ValueList) else one.steps or 1
    return total


def _values(one: Varied) -> Sequence[Any]:
    """All values of a list or a range."""
    if isinstance(one, ValueList):
        return one.values
    steps = one.steps or 2
    return [one.at(k / (steps - 1)) for k in range(steps)]


def latin_hypercube(
    varied: Sequence[Varied], runs: int, seed: int
) -> list[tuple[Any, ...]]:
    """Latin hypercube sample: each range is cut in ``runs`` strata with one value in each.

    McKay, Beckman and Conover, Technometrics 21 (1979).  Values of a list occur equally
    often, to within one.
    """
    chance = np.random.default_rng(seed)
    columns = []
    for one in varied:
        order = chance.permutation(runs)
        if isinstance(one, ValueRange):
            shares = (order + chance.random(runs)) / runs
            columns.append([one.at(float(u)) for u in shares])
        else:
            many = len(one.values)
            turn = int(chance.integers(many))
            columns.append([one.values[(int(k) + turn) % many] for k in order])
    return list(zip(*columns, strict=True))

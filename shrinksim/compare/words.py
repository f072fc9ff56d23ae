"""A comparison in words and cells for its page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.units.quantity import show
from shrinksim.units.scales import scale_in, time_text
from shrinksim.views.ranking import MARGIN_SHARE, SCHEDULE_SCATTER, TORCH_ERROR

if TYPE_CHECKING:
    from shrinksim.compare.comparison import Comparison, Side
    from shrinksim.compare.ranking import Compared

MARKS = {"best": "★ best", "no different from the best": "≈ best"}
"""Sign and word of a cell; a cell without is neither."""

SCATTER = 1.5
"""Ratio up to which single heats in the shop do not show a difference: they scatter by
about half of their mean (from memory)."""

NOT_VISIBLE_IN_SHOP = (
    "One heat of each in the shop will not show this difference: single heats scatter by "
    "about half of their mean (from memory)."
)

DIGITS = 2
"""Of an error; its value gets as many decimals."""


@dataclass(frozen=True)
class Cell:
    """A number with its numerical error and its mark, as texts."""

    value: str
    error: str = ""
    mark: str = ""


def headline(comparison: Comparison) -> list[str]:
    """Main results of the comparison, most important first."""
    sentences = [
        f"Do not heat it like {side.letter}: under its load the heated section gives way "
        f"like a hinge{' and the member folds' if side.folds else ''}."
        for side in comparison.sides
        if side.hinged
    ]
    turns = [m for m in comparison.measures if m.dimension == "mrad"]
    return sentences + [_rotation_compared(comparison, measure) for measure in turns]


def _rotation_compared(comparison: Comparison, measure: Compared) -> str:
    """Comparison of one permanent rotation in a sentence."""
    name = measure.name.split(", +")[0]
    letters = [side.letter for side in comparison.sides]
    if measure.verdict.startswith("no difference"):
        there = [v for v in measure.values if v is not None]
        ends = [_plain(comparison.units, "mrad", f(there)) for f in (min, max)]
        between = " to ".join(dict.fromkeys(ends)).replace(" mrad to", " to")
        return f"No difference in {name} larger than the numerical error: {between}."
    if measure.verdict == "not ranked":
        return (
            f"The {name} cannot be ranked: fewer than two cases have one with a known "
            "error."
        )
    best = measure.places.index("best")
    largest = cell(comparison.units, measure, best)
    tied = [
        letter
        for letter, place in zip(letters, measure.places, strict=True)
        if place.startswith("no diff")
    ]
    text = f"Largest {name}: {letters[best]} with {largest.value} ({largest.error})"
    if tied:
        text += f", and {' and '.join(tied)}, no different within the numerical error"
    value = abs(measure.values[best] or 0.0)
    others = {
        side.letter: (abs(other), error or 0.0)
        for side, other, error, place in zip(
            comparison.sides,
            measure.values,
            measure.errors,
            measure.places,
            strict=True,
        )
        if other is not None and not place and not side.hinged
    }
    ratios: dict[str, list[str]] = {}
    for letter, (other, error) in others.items():
        if other > error:
            ratios.setdefault(f"{value / other:.3g} times that of", []).append(letter)
        else:
            ratios.setdefault("none by", []).append(letter)
    parts = [f"{n} {' and '.join(who)}" for n, who in ratios.items()]
    sentence = f"{text}; {', '.join(parts)}." if parts else f"{text}."
    least = min((value / other for other, _ in others.values() if other), default=9.0)
    return sentence if least > SCATTER else f"{sentence} {NOT_VISIBLE_IN_SHOP}"


def table(comparison: Comparison) -> list[tuple[Side, list[Cell]]]:
    """Rows of the table of results: a case and its cells."""
    return [
        (side, [cell(comparison.units, m, k) for m in comparison.measures])
        for k, side in enumerate(comparison.sides)
    ]


def cell(units: str, measure: Compared, number: int) -> Cell:
    """One case's value of a measure, its error and mark."""
    value, error = measure.values[number], measure.errors[number]
    mark = MARKS.get(measure.places[number], "")
    if value is None:
        return Cell("—")
    if error is None:
        return Cell(_plain(units, measure.dimension, value), "error not known", mark)
    text, apart = _with_error(units, measure.dimension, value, error)
    return Cell(text, f"± {apart}" if error > 0.0 else "", mark)


def _plain(units: str, dimension: str, value: float) -> str:
    """A value with its unit, to three or four digits."""
    match dimension:
        case "mrad":
            return f"{value:.3g} mrad"
        case "share":
            return f"{value:.2f}"
        case "time":
            return time_text(value)
        case "length":
            length = scale_in(units, "length")
            return f"{float(length(value)):.3g} {length.unit}"
        case _:
            return show(value, dimension, units).replace("deg", "°")


def _with_error(
    units: str, dimension: str, value: float, error: float
) -> tuple[str, str]:
    """A value to the decimals that its error has, and the error."""
    if dimension == "temperature":
        degrees = scale_in(units, "temperature")
        spread = error / degrees.one
        return f"{float(degrees(value)):.0f} {degrees.unit}", f"{spread:.0f}"
    if dimension == "time":
        return time_text(value), time_text(error)
    if dimension == "energy":
        number, unit = _plain(units, dimension, value).split(" ", 1)
        spread = error * float(number) / value if value else error
        return f"{number} {unit}", f"{spread:.2g}"
    unit, one = "", 1.0
    if dimension == "mrad":
        unit = " mrad"
    elif dimension == "length":
        length = scale_in(units, "length")
        unit, one = f" {length.unit}", length.one
    largest, spread = value / one, error / one
    places = decimals(spread)
    largest = round(largest, places) + 0.0
    return f"{largest:.{places}f}{unit}".replace("-", "−"), f"{spread:.{places}f}"


def decimals(error: float) -> int:
    """Decimals that show an error with two digits; at least two, at most five."""
    if not error > 0.0:
        return 2
    return int(np.clip(DIGITS - 1 - np.floor(np.log10(error)), 1, 5))


def cautions(sides: Sequence[Side]) -> list[tuple[str, str]]:
    """Every caution once, with the letters of the cases that it is for."""
    found: dict[str, list[str]] = {}
    for side in sides:
        for caution in side.summary["cautions"]:
            found.setdefault(caution["text"], []).append(side.letter)
    every = len(sides)
    rows = [
        ("all" if len(letters) == every else ", ".join(letters), text)
        for text, letters in found.items()
    ]
    return sorted(rows, key=lambda row: row[0] != "all")


def trust(comparison: Comparison) -> list[str]:
    """Reliability of the differences, in sentences."""
    sentences = [
        "± is the numerical error (standard deviation): of mesh, steps and the schedule "
        "search of a torch held at a target temperature, from a coarser repeat of each "
        f"run (rotation, shortening); {TORCH_ERROR:g} K of the peak temperature under "
        f"such a torch; {100.0 * SCHEDULE_SCATTER:.2g} % of its times and gas; "
        f"{100.0 * MARGIN_SHARE:g} % of a hot-hinge margin, which is an assumption. Two "
        "cases are ranked only where the difference is larger than both errors "
        "together; where the torch has the same travel schedule in both, most of the "
        "error is common, "
        "and the difference has to be larger than half of its change in the coarser "
        "repeats.",
        "It is not how far the prediction may be from the shop: single heats scatter by "
        "about half of their mean, means of several by about a quarter (from memory, low "
        "confidence). A difference smaller than that will not show in one heat each. The "
        "simplifications are the same in all cases, so that differences are more certain "
        "than the numbers themselves.",
    ]
    if any(
        (side.summary.get("refinement") or None) is None for side in comparison.sides
    ):
        sentences.append(
            "Where an error is not known (a member that folds, or a coarser run that was "
            "not completed), that number is not ranked."
        )
    return sentences

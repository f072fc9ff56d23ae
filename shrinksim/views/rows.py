"""The main quantities of a result in the terminal and on the tiles of its report.

Both are loops over the view's table of measures: those that have a `Shown`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from shrinksim.report.reported import Reported
from shrinksim.units.quantity import quantity, show
from shrinksim.units.scales import AXES, scale_in, three_digits, time_text
from shrinksim.views.ranking import COMPLETE, Summary
from shrinksim.views.view import Measure, Shown

Row = tuple[str, str]

NO_ROTATION = 0.05
"""mrad; a permanent rotation under this is called none: 0.15 mm at 3 m."""

NOISE = 2e-3
"""Share of the largest rotation under which another one is rounding of the mesh."""

TINY = 5e-4
"""mrad, under which a rotation is the rounding of the computation."""

NO_LENGTH = 1e-9
"""m, under which a change of length is the rounding of the computation."""


def terminal_rows(
    measures: Sequence[Measure], summary: Summary, units: str
) -> dict[str, str]:
    """Name -> value of the main quantities.  units : "metric" or "us"."""
    found = _wanted(measures, summary)
    return _no_rotation(measures, summary) | {
        _name(measure, shown, summary): _signed(
            shown, _precise(shown, value, units), value
        )
        for measure, shown, value in found
    }


def numerical_errors(measures: Sequence[Measure], refinement: Summary) -> str:
    """The numerical errors (standard deviation) of the permanent rotations."""
    found = [m for m in measures if m.bend is not None and m.error in refinement]
    texts = [f"{refinement[m.error]:.2f} mrad" for m in found]
    if len(texts) == 1:
        return texts[0]
    planes = [m.bend.plane for m in found if m.bend is not None]
    return ", ".join(f"{p} {t}" for p, t in zip(planes, texts, strict=True))


def tiles(measures: Sequence[Measure], result: Reported) -> list[Row]:
    """Name and value, to three digits, with the numerical error where it is known."""
    summary = {m.key: m.value(result) for m in measures if m.shown is not None}
    summary["converged"] = result.outcome == COMPLETE
    units = "us" if result.resolved.get("print_units") == "us" else "metric"
    refinement = result.refinement or {}
    rows = []
    for measure, shown, value in _wanted(measures, summary):
        text = _signed(shown, _rounded(shown, value, units), value)
        error = refinement.get(measure.error)
        if error is not None:
            text = _with_error(text, shown, float(error), units)
        rows.append((_name(measure, shown, summary), text))
    return [*_no_rotation(measures, summary).items(), *rows]


def _wanted(
    measures: Sequence[Measure], summary: Summary
) -> Iterator[tuple[Measure, Shown, Any]]:
    """Measures that are shown for this result, permanent rotations first."""
    least = _least(measures, summary)
    for measure in sorted(measures, key=lambda m: m.bend is None):
        shown = measure.shown
        if shown is None or (shown.folded == "" and not summary["converged"]):
            continue
        value = summary.get(measure.key)
        if value is None and not shown.absent:
            continue
        if measure.bend is not None and abs(float(value or 0.0)) < least:
            continue
        if shown.where(summary):
            yield measure, shown, _settled(shown, value)


def _settled(shown: Shown, value: Any) -> Any:
    """A quantity, 0 where it is the rounding of the computation."""
    least = 0.0
    if shown.dimension == "mrad":
        least = TINY
    elif shown.dimension == "length":
        least = NO_LENGTH / _si(shown, 1.0)
    return 0.0 if value is not None and abs(value) < least else value


def _least(measures: Sequence[Measure], summary: Summary) -> float:
    """Rotation (mrad) from which on one is shown; with one plane it always is."""
    turns = [abs(float(summary[m.key])) for m in measures if m.bend is not None]
    return max(NO_ROTATION, NOISE * max(turns)) if len(turns) > 1 else 0.0


def _no_rotation(measures: Sequence[Measure], summary: Summary) -> dict[str, str]:
    """The row of a member that stays straight in every plane."""
    turns = [abs(float(summary[m.key])) for m in measures if m.bend is not None]
    straight = len(turns) > 1 and max(turns) < _least(measures, summary)
    return (
        {"permanent rotation": f"none (under {NO_ROTATION} mrad)"} if straight else {}
    )


def _name(measure: Measure, shown: Shown, summary: Summary) -> str:
    """The name of a quantity, or of what stands for it where the member folds."""
    return measure.words if summary["converged"] else shown.folded


def _signed(shown: Shown, text: str, value: Any) -> str:
    """The size of a quantity, and what its sign means."""
    if not shown.plus or not value:
        return text
    return f"{text.lstrip('-')} ({shown.plus if value >= 0.0 else shown.minus})"


def _precise(shown: Shown, value: Any, units: str) -> str:
    """A value in the reader's units for the terminal."""
    if value is None:
        return shown.absent
    if shown.dimension in ("mrad", "share"):
        return f"{float(value):.2f}{' mrad' * (shown.dimension == 'mrad')}"
    return show(_si(shown, float(value)), shown.dimension, units)


def _rounded(shown: Shown, value: Any, units: str) -> str:
    """A value in the reader's units to three digits."""
    if value is None:
        return shown.absent
    value, dimension = float(value), shown.dimension
    match dimension:
        case "mrad":
            return f"{value:.3g} mrad"
        case "share":
            return f"{value:.2f}"
        case "time":
            return time_text(_si(shown, value))
        case "temperature":
            degrees = scale_in(units, dimension)
            return f"{float(degrees(_si(shown, value))):.0f} {degrees.unit}"
    if dimension not in AXES:
        return show(_si(shown, value), dimension, units)
    axis = scale_in(units, dimension)
    return f"{three_digits(float(axis(_si(shown, value))))} {axis.unit}"


def _with_error(text: str, shown: Shown, error: float, units: str) -> str:
    """The numerical error, in the same unit, in the brackets behind a number."""
    if shown.dimension != "mrad":
        error = float(scale_in(units, shown.dimension)(_si(shown, error)))
    size = f"{error:.2g}" if error >= 0.001 else "under 0.001"
    number, _, sign = text.removesuffix(")").partition(" (")
    return f"{number} ({', '.join(filter(None, [sign, f'numerical error {size}']))})"


def _si(shown: Shown, value: float) -> float:
    """A number of the summary in SI (degC)."""
    return quantity(f"{value!r} {shown.unit}", shown.dimension)

"""Quantities of several runs side by side, ranked within their numerical errors."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shrinksim.views import VIEWS
from shrinksim.views.ranking import Ranking, Summary, folded
from shrinksim.views.view import Measure

NOTHING = 0.05
"""mrad (0.15 mm at 3 m) and hundredths of mm of shortening under which a row is left out
when all are."""

BEST, TIED, PLAIN = "best", "no different from the best", ""
"""Place of a run in a measure."""


@dataclass(frozen=True)
class Compared:
    """One quantity of every run; errors are numerical (standard deviation).

    dimension : of `units.quantity`, "mrad" or "share".  values SI (degC, mrad) or None
    where a run gives none.  best : what is best, in words.  places : of each run.
    verdict : in words, which runs differ.
    """

    name: str
    dimension: str
    values: tuple[float | None, ...]
    errors: tuple[float | None, ...]
    best: str
    places: tuple[str, ...]
    verdict: str


def measures(runs: Sequence[Summary], names: Sequence[str]) -> tuple[Compared, ...]:
    """The ranked measures of the runs' view; names : of the runs."""
    table = VIEWS[runs[0]["view"]].stages().measures
    found = [
        _measured(measure, measure.ranking, runs, names)
        for measure in table
        if measure.ranking is not None
    ]
    return tuple(measure for measure in found if measure is not None)


def _measured(
    measure: Measure, wanted: Ranking, runs: Sequence[Summary], names: Sequence[str]
) -> Compared | None:
    """A measure of all runs, None where no run has it or all are negligible."""
    values = [wanted.value(run) for run in runs]
    there = [abs(v) for v in values if v is not None]
    if not there or (not wanted.needed and max(there) < NOTHING):
        return None
    errors = [wanted.error(run) for run in runs]
    out = [wanted.dimension != "share" and hinged(run) for run in runs]
    good = [
        None if value is None or error is None or no else wanted.better(value)
        for value, error, no in zip(values, errors, out, strict=True)
    ]
    changes = [wanted.change(run) for run in runs]

    def apart(a: int, b: int) -> float:
        if runs[a]["torch_way"] == runs[b]["torch_way"]:
            common = common_error(changes[a], changes[b])
            if common is not None:
                return common
        return (errors[a] or 0.0) + (errors[b] or 0.0)

    places, verdict = ranked(good, apart, names)
    name = ", ".join(filter(None, [measure.words, wanted.sign]))
    return Compared(
        name, wanted.dimension, tuple(values), tuple(errors), wanted.best,
        places, verdict,
    )  # fmt: skip


def common_error(a: float | None, b: float | None) -> float | None:
    """Error of the difference of two runs with the same travel schedule and mesh.

    a, b : changes in the coarser run of each.  Most of the error is common to both: half
    of the change of the difference, and at least a fifth of half of both changes.
    """
    if a is None or b is None:
        return None
    return max(0.5 * abs(a - b), 0.1 * (abs(a) + abs(b)))


def ranked(
    good: Sequence[float | None], apart: Callable[[int, int], float],
    names: Sequence[str],
) -> tuple[tuple[str, ...], str]:  # fmt: skip
    """Place of each run, and the verdict, from its score (larger is better).

    apart : the difference from which on two runs are ranked.
    """
    known = {k: g for k, g in enumerate(good) if g is not None}
    places = [PLAIN] * len(good)
    if len(known) < 2:
        return tuple(places), "not ranked"
    first = max(known, key=lambda k: known[k])
    tied = [
        k for k in known if k != first and known[first] - known[k] <= apart(k, first)
    ]
    verdict = "no difference"
    if len(tied) < len(known) - 1:
        places[first] = BEST
        for k in tied:
            places[k] = TIED
        verdict = f"{names[first]} is best"
        if tied:
            verdict += f", {' and '.join(names[k] for k in tied)} no different"
    rest = [name for k, name in enumerate(names) if k not in known]
    if rest:
        verdict += f"; {' and '.join(rest)} not ranked"
    return tuple(places), verdict


def hinged(run: Summary) -> bool:
    """Whether the load reaches the hot plastic moment; such a run is never the best."""
    margin = run.get("hot_hinge_margin")
    return folded(run) or (margin is not None and float(margin) < 1.0)

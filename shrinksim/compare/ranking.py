"""Numbers of several runs beside each other, ranked no finer than they are known."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from shrinksim.views.elevation.chain import LEAD

Summary = Mapping[str, Any]

MARGIN_SHARE = 0.05
"""Share of a hinge margin that is taken as its numerical error; common practice has
none, and no run estimates it."""

TORCH_ERROR = 2.0
"""K, of the hottest steel under a held torch, which is led until it is that near."""

NOTHING = 0.05
"""mrad (0.15 mm at 3 m) and hundredths of mm of shortening under which a row is left out
when all are."""

BEST, TIED, PLAIN = "best", "no different from the best", ""
"""What a run is in a measure."""


@dataclass(frozen=True)
class Measure:
    """One quantity of every run; errors are numerical, one standard unit each way.

    dimension : of `case.quantity`, "mrad" or "share".  values SI (degC, mrad) or None
    where a run gives none.  best : what is best, in words.  places : what each run is.
    verdict : what the differences amount to.
    """

    name: str
    dimension: str
    values: tuple[float | None, ...]
    errors: tuple[float | None, ...]
    best: str
    places: tuple[str, ...]
    verdict: str


@dataclass(frozen=True)
class _Wanted:
    """How a measure is read from a summary.

    better : larger is better.  change : what the coarser run changed, None if unknown.
    """

    name: str
    dimension: str
    best: str
    better: Callable[[float], float]
    value: Callable[[Summary], float | None]
    error: Callable[[Summary], float | None]
    change: Callable[[Summary], float | None]
    needed: bool = True


def measures(runs: Sequence[Summary], names: Sequence[str]) -> tuple[Measure, ...]:
    """The measures that the runs' view has; names : what each run is called."""
    section = runs[0]["view"] == "section"
    wanted = (*(_SECTION if section else _ELEVATION), *_BOTH)
    found = [_measured(one, runs, names) for one in wanted]
    return tuple(measure for measure in found if measure is not None)


def _measured(
    wanted: _Wanted, runs: Sequence[Summary], names: Sequence[str]
) -> Measure | None:
    """A measure of all runs, None where no run has it or all are nothing."""
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
    return Measure(
        wanted.name, wanted.dimension, tuple(values), tuple(errors), wanted.best,
        places, verdict,
    )  # fmt: skip


def common_error(a: float | None, b: float | None) -> float | None:
    """Error of the gap between two runs whose torch goes the same way on the same mesh.

    a, b : what the coarser run of each changed.  Most of it is common to both: half of
    what it changed the gap by, and at least a fifth of half of both changes.
    """
    if a is None or b is None:
        return None
    return max(0.5 * abs(a - b), 0.1 * (abs(a) + abs(b)))


def ranked(
    good: Sequence[float | None], apart: Callable[[int, int], float],
    names: Sequence[str],
) -> tuple[tuple[str, ...], str]:  # fmt: skip
    """What each run is, and the verdict, from how good it is (larger is better).

    apart : the gap over which two runs differ.
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


def folded(run: Summary) -> bool:
    """Whether the member folds while hot."""
    return run["outcome"] == "hot hinge"


def hinged(run: Summary) -> bool:
    """Whether the load comes up to what the hot section can carry: never the best."""
    margin = run.get("hot_hinge_margin")
    return folded(run) or (margin is not None and float(margin) < 1.0)


def number_of(name: str, factor: float = 1.0) -> Callable[[Summary], float | None]:
    """A number of the summary in other units, None where it has none."""

    def value(run: Summary) -> float | None:
        found = run.get(name)
        return None if found is None else factor * float(found)

    return value


def _moved(name: str, factor: float = 1.0) -> Callable[[Summary], float | None]:
    """A permanent movement; a folded member has none."""
    number = number_of(name, factor)
    return lambda run: None if folded(run) else number(run)


def _change(name: str, factor: float = 1.0) -> Callable[[Summary], float | None]:
    """What the coarser run changed, None where that is not known."""

    def value(run: Summary) -> float | None:
        found = (run.get("refinement") or {}).get(name)
        return None if found is None else factor * float(found)

    return value


def _error(name: str, factor: float = 1.0) -> Callable[[Summary], float | None]:
    """A numerical error, None where the run has no estimate."""
    return _change(name, factor)


def _torch_share(name: str, factor: float = 1.0) -> Callable[[Summary], float | None]:
    """What the way of a held torch leaves open; nothing where its speed is given."""
    number = number_of(name, factor)
    return lambda run: LEAD * abs(number(run) or 0.0) if run["held"] else 0.0


def _margin_error(run: Summary) -> float | None:
    margin = run.get("hot_hinge_margin")
    return None if margin is None else MARGIN_SHARE * float(margin)


def _peak_error(run: Summary) -> float:
    return TORCH_ERROR if run["held"] else 0.0


def _same(run: Summary) -> float:  # noqa: ARG001 (every one)
    """The same torch gives the same number to the last digit."""
    return 0.0


def _unknown(run: Summary) -> None:
    """No run tells."""


def _less(value: float) -> float:
    return -abs(value)


_ELEVATION = (
    _Wanted(
        "turn, + closes the wide end", "mrad", "most", float, _moved("rotation_mrad"),
        _error("rotation_error_mrad"), _change("rotation_change_mrad"),
    ),
)  # fmt: skip

_SECTION = (
    _Wanted(
        "camber, + top hollow", "mrad", "most, either way", abs,
        _moved("camber_rotation_mrad"), _error("camber_error_mrad"), _unknown, False,
    ),
    _Wanted(
        "sweep, + right hollow", "mrad", "most, either way", abs,
        _moved("sweep_rotation_mrad"), _error("sweep_error_mrad"), _unknown, False,
    ),
)  # fmt: skip

_BOTH = (
    _Wanted(
        "shortening", "length", "least", _less, _moved("shortening_mm", 1e-3),
        _error("shortening_error_mm", 1e-3), _change("shortening_change_mm", 1e-3),
    ),
    _Wanted(
        "hottest steel", "temperature", "coolest", lambda v: -v,
        number_of("peak_temperature_C"), _peak_error, _same,
    ),
    _Wanted(
        "smallest margin to a hot hinge", "share", "largest", float,
        number_of("hot_hinge_margin"), _margin_error, _unknown,
    ),
    _Wanted(
        "torch on", "time", "shortest", _less, number_of("heating_time_s"),
        _torch_share("heating_time_s"), _same,
    ),
    _Wanted(
        "until cold", "time", "shortest", _less, number_of("cooling_time_s"),
        lambda run: LEAD * abs(float(run["cooling_time_s"])), _unknown,
    ),
    _Wanted(
        "heat of the gas", "energy", "least", _less, number_of("burnt_J"),
        _torch_share("burnt_J"), _same,
    ),
)  # fmt: skip

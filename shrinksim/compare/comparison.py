"""Two to eight cases side by side: read, checked, computed once each, and ranked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from string import ascii_uppercase
from typing import Any

from shrinksim.compare.differences import Difference, differences
from shrinksim.compare.histories import compared
from shrinksim.compare.ranking import Compared, hinged, measures
from shrinksim.errors import CaseError, NotConverged
from shrinksim.runs.store import AnyCase, Failure, Row, run_key
from shrinksim.runs.sweep import Progress, run_cases
from shrinksim.views.reading import load

FEWEST, MOST = 2, 8


@dataclass(frozen=True)
class Side:
    """One case of a comparison: its letter, file and results.

    summary : as in summary.json; traces : as `traces` makes them.
    """

    letter: str
    path: Path
    case: AnyCase
    summary: dict[str, Any]
    traces: dict[str, Any]
    cached: bool

    @property
    def title(self) -> str:
        """The case's title."""
        return self.case.title

    @property
    def hinged(self) -> bool:
        """Whether the load reaches the hot plastic moment."""
        return hinged(self.summary)

    @property
    def folds(self) -> bool:
        """Whether the member folds while hot."""
        return self.summary["outcome"] == "hot hinge"


@dataclass(frozen=True)
class Comparison:
    """Cases of one view side by side, in the units of the first."""

    sides: tuple[Side, ...]
    differences: tuple[Difference, ...]
    measures: tuple[Compared, ...]

    @property
    def units(self) -> str:
        """Units to print in: metric or us."""
        return self.sides[0].case.print_units

    @property
    def view(self) -> str:
        """The view of all cases."""
        return str(self.sides[0].summary["view"])


def load_sides(paths: Sequence[Path]) -> tuple[AnyCase, ...]:
    """The cases in files; CaseError names every fault of every file, and of the choice."""
    problems: list[str] = []
    if not FEWEST <= len(paths) <= MOST:
        problems.append(
            f"{len(paths)} {'case' if len(paths) == 1 else 'cases'} given; a comparison "
            f"takes {FEWEST} to {MOST}"
        )
    cases: dict[Path, AnyCase] = {}
    for path in dict.fromkeys(paths):
        try:
            cases[path] = load(path)
        except CaseError as error:
            problems += error.problems
    problems += _twice(paths, cases) + _views(cases)
    if problems:
        raise CaseError(problems)
    return tuple(cases.values())


def _twice(paths: Sequence[Path], cases: dict[Path, AnyCase]) -> list[str]:
    """Files given twice, and files that hold the same case."""
    found = [
        f"{path} is given {paths.count(path)} times; give each case once"
        for path in dict.fromkeys(paths)
        if paths.count(path) > 1
    ]
    first: dict[str, Path] = {}
    for path, case in cases.items():
        other = first.setdefault(run_key(case), path)
        if other != path:
            found.append(
                f"{path} is the same case as {other}, up to its title and what is "
                "drawn; leave one out, or change what is to be compared"
            )
    return found


def _views(cases: dict[Path, AnyCase]) -> list[str]:
    """Cases of both views, which have no number in common to be compared by."""
    by_view: dict[str, list[str]] = {}
    for path, case in cases.items():
        by_view.setdefault(case.view, []).append(str(path))
    if len(by_view) < 2:
        return []
    texts = "; ".join(
        f'"{view}": {", ".join(names)}' for view, names in by_view.items()
    )
    return [f"cases of different views cannot be compared ({texts}); compare one view"]


def compare(
    paths: Sequence[Path],
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
) -> Comparison:
    """Compute the cases that are not in the store, and compare all of them.

    jobs : as for `run_cases`.  Raises CaseError for cases that cannot be read, compared
    or drawn, NotConverged when a run gives no result; finished runs stay in the store.
    """
    paths = [Path(path) for path in paths]
    cases = load_sides(paths)
    runs = run_cases(cases, store, jobs, progress, compute=compared)
    _refuse(paths, runs)
    sides = tuple(
        _side(letter, path, case, run)
        for letter, path, case, run in zip(
            ascii_uppercase, paths, cases, runs, strict=False
        )
    )
    units = cases[0].print_units
    found = measures([s.summary for s in sides], [s.letter for s in sides])
    return Comparison(sides, differences(cases, units), found)


def _refuse(paths: Sequence[Path], runs: Sequence[Row | Failure]) -> None:
    """Raise CaseError or NotConverged for runs without a result."""
    failed = [
        (path, run)
        for path, run in zip(paths, runs, strict=True)
        if isinstance(run, Failure) and run.outcome != "hot hinge"
    ]
    if not failed:
        return
    texts = [f"{path}: {run.outcome}: {run.reason}" for path, run in failed]
    if all(run.outcome == "refused" for _, run in failed):
        raise CaseError([f"{path}: {run.reason}" for path, run in failed])
    raise NotConverged("\n".join(texts))


def _side(letter: str, path: Path, case: AnyCase, run: Row | Failure) -> Side:
    assert run.summary is not None
    summary = dict(run.summary)
    traces = summary.pop("traces")
    return Side(letter, path, case, summary, traces, run.cached)

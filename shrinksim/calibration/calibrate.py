"""The runs of a calibration: computed through a store, then fitted, set by set."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shrinksim.calibration.design import DesignSet, case_of, fresh_of, points_of
from shrinksim.calibration.file import Calibrating
from shrinksim.calibration.fitting import Computed, calibrated, computed
from shrinksim.calibration.formula_use import Calibration
from shrinksim.errors import CaseError
from shrinksim.runs.store import PHYSICS
from shrinksim.runs.sweep import Compute, Progress, run_cases
from shrinksim.runs.workers import cores
from shrinksim.views.result import versions_here

FEWEST = 12
"""Whole heats that a formula is fitted to at least."""


@dataclass(frozen=True)
class Found:
    """A set's formula and its heats."""

    calibration: Calibration
    data: tuple[Computed, ...]


def calibrations(
    asked: Calibrating,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
    compute: Compute | None = None,
) -> list[Found]:
    """Compute what the store does not have, and fit; one of each set.

    compute : from case to summary, in place of the package's own.
    """
    found = []
    for design in asked.sets:
        data = _data(design, store, jobs, progress, compute)
        whole = sum(one.whole and not one.fresh for one in data)
        if whole < FEWEST:
            reasons = {f"{d.run.outcome}: {d.run.reason}" for d in data if not d.whole}
            message = (
                f"set of {design.of}: only {whole} heats came to their end, too few for "
                f"a formula ({'; '.join(sorted(reasons)[:3])})"
            )
            raise CaseError(message)
        made = _made(asked, design, data, jobs)
        found.append(Found(calibrated(design, data, made), tuple(data)))
    return found


def _data(
    design: DesignSet, store: Path, jobs: int | None, progress: Progress | None,
    compute: Compute | None,
) -> list[Computed]:  # fmt: skip
    """The set's heats with their runs, those for trying last."""
    points, fresh = points_of(design)[0], fresh_of(design)
    cases = [case_of(design, point) for point in (*points, *fresh)]

    def say(stage: str, share: float, text: str) -> None:
        if progress is not None:
            progress(stage, share, f"{design.of}: {text}")

    runs = run_cases(cases, store, jobs, say, compute=compute)
    many = len(points)
    fitting = computed(design, points, runs[:many], fresh=False)
    return fitting + computed(design, fresh, runs[many:], fresh=True)


def _made(
    asked: Calibrating, design: DesignSet, data: Sequence[Computed], jobs: int | None
) -> Mapping[str, Any]:
    """Time, machine and version of the computed heats."""
    seconds = [float(one.run.record.get("seconds") or 0.0) for one in data]
    stamps = sorted(str(one.run.record.get("finished", "")) for one in data)
    versions = versions_here()
    return {
        "title": asked.title,
        "made_by": f"shrinksim {versions['shrinksim']}",
        "physics": PHYSICS,
        "versions": versions,
        "machine": {
            "cores": cores(),
            "architecture": versions["machine"],
            "remark": asked.remark,
        },
        "computing": {
            "sum_of_runs_s": round(sum(seconds), 1),
            "first_finished": stamps[0],
            "last_finished": stamps[-1],
            "workers": jobs or cores(),
            "written": time.strftime("%Y-%m-%dT%H:%M:%S%z"),
        },
        "numerics": dict(design.numerics),
        "passed_over": points_of(design)[1],
    }

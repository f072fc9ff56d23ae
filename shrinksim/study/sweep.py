"""Runs of a study: computed through a store, or those stored so far."""

from __future__ import annotations

from concurrent.futures import Executor
from pathlib import Path
from typing import Any

from shrinksim.runs.store import Store, run_key
from shrinksim.runs.sweep import Progress, run_cases, with_title
from shrinksim.study.file import Study
from shrinksim.study.table import StudyRows


def sweep(
    study: Study,
    store: Path | str,
    jobs: int | None = None,
    executor: Executor | None = None,
    progress: Progress | None = None,
    **options: Any,
) -> StudyRows:
    """Rows of a study, computed where missing; runs that are left out are None.

    options : compute, refine, reports, again, as of `run_cases`.
    """
    cases = [run.case for run in study.runs if run.case is not None]
    found = iter(run_cases(cases, store, jobs, progress, executor=executor, **options))
    return StudyRows(
        study, tuple(next(found) if run.case else None for run in study.runs)
    )


def stored_rows(study: Study, store: Path | str) -> StudyRows:
    """Rows of a study that are in the store; nothing is computed."""
    there = Store(Path(store))
    runs = []
    for run in study.runs:
        found = there.get(run_key(run.case)) if run.case else None
        runs.append(with_title(found, run.case) if found and run.case else None)
    return StudyRows(study, tuple(runs))

"""Many cases computed in parallel; runs that are in the store are not repeated."""

from __future__ import annotations

import functools
import pickle
import time
from collections.abc import Callable, Generator, Sequence
from concurrent.futures import CancelledError, Executor, Future, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

from shrinksim.casefile.resolving import resolved
from shrinksim.errors import CaseError
from shrinksim.runs.run_case import Compute, compute_record, computed, name_of
from shrinksim.runs.store import (
    CASE_FAILURES,
    PHYSICS,
    AnyCase,
    Failure,
    Row,
    Store,
    run_key,
)
from shrinksim.runs.workers import WorkerDied, broken_pipes_harmless, cores, map_tasks
from shrinksim.views.result import versions_here

Progress = Callable[[str, float, str], None]
"""progress(stage, share 0..1, text)."""

Outcomes = Generator[tuple[int, dict[str, Any]], None, None]

REPORTS = "reports"
"""Folder in the store with the results folders of runs, if requested."""


def run_cases(
    cases: Sequence[AnyCase],
    store: Path | str,
    jobs: int | None = None,
    progress: Progress | None = None,
    *,
    executor: Executor | None = None,
    compute: Compute | None = None,
    refine: bool = False,
    reports: bool = False,
    again: bool = False,
) -> list[Row | Failure]:
    """Rows and failures of the cases, in their order; stored runs are not repeated.

    jobs : worker processes, None one for each processor, 0 in this process.  executor :
    of concurrent.futures, in place of them.  compute : from case to summary, in place
    of the package's own.  refine : with the numerical error.  reports : with a results
    folder for each run.  again : also
    repeat the failures that are due to the case.  Raises CaseError
    when another process writes to the store, or its disk is full.
    """
    found = Store(Path(store))
    compute = compute or _default_compute(refine, found.folder.absolute(), reports)
    keys = [run_key(case) for case in cases]
    wanted = dict(zip(keys, cases, strict=True))
    usable = functools.partial(
        _is_usable, found, name_of(compute), refine, reports, again
    )
    if not all(usable(key) for key in wanted):
        with found.writing():
            missing = {k: c for k, c in wanted.items() if not usable(k)}
            fresh = _compute_missing(found, missing, compute, jobs, executor, progress)
    else:
        fresh = {}
    return [
        with_title(fresh.get(key) or _stored(found, key), case)
        for key, case in zip(keys, cases, strict=True)
    ]


def _default_compute(refine: bool, folder: Path, reports: bool) -> Compute:
    """The package's own computation."""
    where = folder / REPORTS if reports else None
    return functools.partial(computed, refine=refine, reports=where)


def with_title(found: Row | Failure, case: AnyCase) -> Row | Failure:
    """Run with the title of the case; the key does not contain the title."""
    given = {**found.input, "title": case.title}
    summary = found.summary
    if summary is not None and "title" in summary:
        summary = {**summary, "title": case.title}
    return replace(found, input=given, summary=summary)


def _stored(store: Store, key: str) -> Row | Failure:
    """Run of a key that is in the store."""
    found = store.get(key)
    assert found is not None
    return found


def _is_usable(
    store: Store, by: str, refine: bool, reports: bool, again: bool, key: str
) -> bool:
    """Whether the store has the run of a key as it is requested."""
    found = store.get(key)
    if found is None or found.record["by"] != by:
        return False
    if isinstance(found, Failure):
        return found.outcome in CASE_FAILURES and not again
    if reports and not (store.folder / REPORTS / key / "complete.json").is_file():
        return False
    return bool(found.record["refine"]) or not refine


def _compute_missing(
    store: Store,
    missing: dict[str, AnyCase],
    compute: Compute,
    jobs: int | None,
    executor: Executor | None,
    progress: Progress | None,
) -> dict[str, Row | Failure]:
    """Compute the missing runs; each is stored as soon as it is finished."""
    report = progress or (lambda stage, share, text: None)
    keys, done = list(missing), {}
    failed = 0
    tasks = [(compute, missing[key]) for key in keys]
    damaged = f", {store.damaged} damaged lines not used" if store.damaged else ""
    report("runs", 0.0, f"{len(keys)} to compute{damaged}")
    with closing(_outcomes(tasks, jobs, executor)) as outcomes:
        for number, outcome in outcomes:
            key = keys[number]
            record = _record(missing[key], compute, outcome)
            done[key] = store.add(key, record)
            failed += isinstance(done[key], Failure)
            words = f"{len(done)} of {len(keys)} done"
            words += f", {failed} failed" if failed else ""
            report("runs", len(done) / len(keys), words)
    return done


def _record(case: AnyCase, compute: Compute, outcome: dict[str, Any]) -> dict[str, Any]:
    """Record of a run in the store."""
    options = getattr(compute, "keywords", {})
    file = case.steel.file
    return {
        **outcome,
        "by": name_of(compute),
        "refine": bool(options.get("refine")),
        "finished": time.strftime("%Y-%m-%dT%H:%M:%S%z"),
        "versions": _versions(),
        "input": resolved(case),
        "steel_file": None if file is None else Path(file).read_text(encoding="utf-8"),
    }


@functools.cache
def _versions() -> dict[str, str]:
    """Versions of the package and its dependencies, looked up once."""
    return versions_here()


def _outcomes(
    tasks: list[tuple[Compute, AnyCase]], jobs: int | None, executor: Executor | None
) -> Outcomes:
    """(number of the task, its outcome), in the order of completion."""
    broken_pipes_harmless()
    if executor is not None:
        yield from _by_executor(executor, tasks)
        return
    jobs = cores() if jobs is None else jobs
    if jobs == 0:
        yield from (
            (number, compute_record(*task)) for number, task in enumerate(tasks)
        )
        return
    _refuse_unpicklable(tasks)
    with closing(map_tasks(compute_record, tasks, jobs)) as results:
        for number, result in results:
            if isinstance(result, WorkerDied):
                result = _worker_died(result.how)
            yield number, result


def _worker_died(how: str) -> dict[str, Any]:
    """Outcome of a run whose worker processes died."""
    return {
        "outcome": "worker died",
        "reason": f"its worker process died each time it was tried ({how})",
        "summary": None,
        "seconds": None,
        "peak_memory_MB": None,
        "physics": PHYSICS,
    }


def _refuse_unpicklable(tasks: list[tuple[Compute, AnyCase]]) -> None:
    """Raise CaseError when a worker could not import the function."""
    if not tasks:
        return
    name = name_of(tasks[0][0])
    try:
        pickle.dumps(tasks[0])
        fault = "is in the script itself" if name.startswith("__main__.") else ""
    except (pickle.PicklingError, AttributeError, TypeError):
        fault = "cannot be sent to worker processes"
    if fault:
        message = (
            f"compute = {name} {fault}; put it in a module of its own, or use jobs = 0"
        )
        raise CaseError(message)


def _by_executor(executor: Executor, tasks: list[tuple[Compute, AnyCase]]) -> Outcomes:
    """Outcomes by an executor of the caller; pending tasks are cancelled at the end."""
    futures: dict[Future[dict[str, Any]], int] = {}
    try:
        for number, task in enumerate(tasks):
            futures[executor.submit(compute_record, *task)] = number
        for future in as_completed(futures):
            yield futures[future], _result(future)
    finally:
        for future in futures:
            future.cancel()


def _result(future: Future[dict[str, Any]]) -> dict[str, Any]:
    """Outcome of a future; "worker died" if its worker is gone."""
    try:
        outcome = future.result()
    except (BrokenProcessPool, CancelledError) as error:
        message = (
            f"the executor gave up ({type(error).__name__}: {error}); finished runs are "
            "kept, start again to go on"
        )
        raise CaseError(message) from error
    except Exception as error:
        return _worker_died(f"{type(error).__name__}: {str(error)[:200]}")
    if outcome["physics"] != PHYSICS:
        message = (
            f"a worker has another version of the package (physics {outcome['physics']}, "
            f"here {PHYSICS}); install the same one everywhere"
        )
        raise CaseError(message)
    return outcome

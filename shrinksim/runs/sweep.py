"""Many cases computed side by side, each once: what is in the store is not repeated."""

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
from shrinksim.runs.run_case import Compute, attempt, computed, name_of
from shrinksim.runs.store import OWN, PHYSICS, AnyCase, Failure, Row, Store, run_key
from shrinksim.runs.workers import Died, answers, broken_pipes_harmless, cores
from shrinksim.views.result import versions_here

Progress = Callable[[str, float, str], None]
"""progress(stage, share 0..1, text)."""

Outcomes = Generator[tuple[int, dict[str, Any]], None, None]

REPORTS = "reports"
"""Folder in the store with the results folders of runs, where they are asked for."""


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
    """What comes of every case, in their order; runs that the store has are not repeated.

    jobs : worker processes, None one for each processor, 0 in this process.  executor :
    of concurrent.futures, in place of them.  compute : from case to summary, in place
    of the package's own.  refine : with the numerical error.  reports : with a results
    folder for each run.  again : failures that would fail again, too.  Raises CaseError
    when another process writes to the store, or its disk is full.
    """
    found = Store(Path(store))
    compute = compute or _own(refine, found.folder.absolute(), reports)
    keys = [run_key(case) for case in cases]
    wanted = dict(zip(keys, cases, strict=True))
    sound = functools.partial(_sound, found, name_of(compute), refine, reports, again)
    if not all(sound(key) for key in wanted):
        with found.writing():
            missing = {k: c for k, c in wanted.items() if not sound(k)}
            fresh = _fill(found, missing, compute, jobs, executor, progress)
    else:
        fresh = {}
    return [
        titled(fresh.get(key) or _there(found, key), case)
        for key, case in zip(keys, cases, strict=True)
    ]


def _own(refine: bool, folder: Path, reports: bool) -> Compute:
    """The package's own computation."""
    where = folder / REPORTS if reports else None
    return functools.partial(computed, refine=refine, reports=where)


def titled(found: Row | Failure, case: AnyCase) -> Row | Failure:
    """The run under the title of the case that asks for it; the key leaves it out."""
    given = {**found.input, "title": case.title}
    summary = found.summary
    if summary is not None and "title" in summary:
        summary = {**summary, "title": case.title}
    return replace(found, input=given, summary=summary)


def _there(store: Store, key: str) -> Row | Failure:
    """A run that is known to be in the store."""
    found = store.get(key)
    assert found is not None
    return found


def _sound(
    store: Store, by: str, refine: bool, reports: bool, again: bool, key: str
) -> bool:
    """Whether the store's run with a key is what is asked for."""
    found = store.get(key)
    if found is None or found.record["by"] != by:
        return False
    if isinstance(found, Failure):
        return found.outcome in OWN and not again
    if reports and not (store.folder / REPORTS / key / "complete.json").is_file():
        return False
    return bool(found.record["refine"]) or not refine


def _fill(
    store: Store,
    missing: dict[str, AnyCase],
    compute: Compute,
    jobs: int | None,
    executor: Executor | None,
    progress: Progress | None,
) -> dict[str, Row | Failure]:
    """Compute the missing runs; each is on the disk before the next is waited for."""
    say = progress or (lambda stage, share, text: None)
    keys, done = list(missing), {}
    failed = 0
    tasks = [(compute, missing[key]) for key in keys]
    damaged = f", {store.damaged} damaged lines not used" if store.damaged else ""
    say("runs", 0.0, f"{len(keys)} to compute{damaged}")
    with closing(_outcomes(tasks, jobs, executor)) as outcomes:
        for number, outcome in outcomes:
            key = keys[number]
            record = _record(missing[key], compute, outcome)
            done[key] = store.add(key, record)
            failed += isinstance(done[key], Failure)
            words = f"{len(done)} of {len(keys)} done"
            words += f", {failed} failed" if failed else ""
            say("runs", len(done) / len(keys), words)
    return done


def _record(case: AnyCase, compute: Compute, outcome: dict[str, Any]) -> dict[str, Any]:
    """What the store keeps of a run."""
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
    """Versions of the package and what it stands on, looked up once."""
    return versions_here()


def _outcomes(
    tasks: list[tuple[Compute, AnyCase]], jobs: int | None, executor: Executor | None
) -> Outcomes:
    """(number of the task, its outcome), as they come."""
    broken_pipes_harmless()
    if executor is not None:
        yield from _through(executor, tasks)
        return
    jobs = cores() if jobs is None else jobs
    if jobs == 0:
        yield from ((number, attempt(*task)) for number, task in enumerate(tasks))
        return
    _refuse_strays(tasks)
    with closing(answers(attempt, tasks, jobs)) as found:
        for number, answer in found:
            yield number, _dead(answer.how) if isinstance(answer, Died) else answer


def _dead(how: str) -> dict[str, Any]:
    """The outcome of a run that took its workers with it."""
    return {
        "outcome": "worker died",
        "reason": f"its worker process died each time it was tried ({how})",
        "summary": None,
        "seconds": None,
        "peak_memory_MB": None,
        "physics": PHYSICS,
    }


def _refuse_strays(tasks: list[tuple[Compute, AnyCase]]) -> None:
    """CaseError when a worker could not import the function."""
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


def _through(executor: Executor, tasks: list[tuple[Compute, AnyCase]]) -> Outcomes:
    """Outcomes by an executor of the caller's; what has not begun is called off at last."""
    futures: dict[Future[dict[str, Any]], int] = {}
    try:
        for number, task in enumerate(tasks):
            futures[executor.submit(attempt, *task)] = number
        for future in as_completed(futures):
            yield futures[future], _result(future)
    finally:
        for future in futures:
            future.cancel()


def _result(future: Future[dict[str, Any]]) -> dict[str, Any]:
    """A future's outcome; what became of its worker, if that is gone."""
    try:
        outcome = future.result()
    except (BrokenProcessPool, CancelledError) as error:
        message = (
            f"the executor gave up ({type(error).__name__}: {error}); finished runs are "
            "kept, start again to go on"
        )
        raise CaseError(message) from error
    except Exception as error:
        return _dead(f"{type(error).__name__}: {str(error)[:200]}")
    if outcome["physics"] != PHYSICS:
        message = (
            f"a worker has another version of the package (physics {outcome['physics']}, "
            f"here {PHYSICS}); install the same one everywhere"
        )
        raise CaseError(message)
    return outcome

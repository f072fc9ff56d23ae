"""One run of a sweep, in whichever process: its outcome as a plain record."""

from __future__ import annotations

import functools
import json
import sys
import threading
import time
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from shrinksim.errors import CaseError, NotConverged
from shrinksim.process.machine import set_up_process
from shrinksim.runs.store import PHYSICS, AnyCase, run_key
from shrinksim.runs.workers import broken_pipes_harmless
from shrinksim.text.records import plain

Compute = Callable[[AnyCase], Mapping[str, Any]]
"""compute(case) -> summary; a function of a module, so that workers can import it."""

IN_STORES = {
    "shrinksim.runs.run_case.computed": "shrinksim.study.attempt.computed",
    "shrinksim.compare.histories.compared": "shrinksim.study.traces.compared",
}
"""Names of moved functions in stores, the same as before they moved."""

_ONE_RUN = threading.Lock()
"""One run at a time in a process: gmsh is not thread-safe."""


def computed(
    case: AnyCase, refine: bool = False, reports: Path | None = None
) -> Mapping[str, Any]:
    """Summary of a case; with ``reports`` its results folder is written there."""
    from shrinksim.runs.run import run

    result = run(case, search_again=refine)
    if reports is not None:
        from shrinksim.report.folder import write_results

        write_results(result, reports / run_key(case), force=True)
    return result.summary()


def name_of(compute: Compute) -> str:
    """Name of the function in stores, with its module."""
    while isinstance(compute, functools.partial):
        compute = compute.func
    name = f"{compute.__module__}.{compute.__qualname__}"
    return IN_STORES.get(name, name)


def compute_record(compute: Compute, case: AnyCase) -> dict[str, Any]:
    """Record of a run: outcome, reason, summary, time and memory.  Never raises."""
    set_up_process()
    with _ONE_RUN:
        began = time.perf_counter()
        outcome, reason, summary = _outcome(compute, case)
        seconds = time.perf_counter() - began
    broken_pipes_harmless()
    return {
        "outcome": outcome,
        "reason": reason,
        "summary": summary,
        "seconds": round(seconds, 3),
        "peak_memory_MB": _peak_memory(),
        "physics": PHYSICS,
    }


def _outcome(
    compute: Compute, case: AnyCase
) -> tuple[str, str, Mapping[str, Any] | None]:
    """Outcome, the reason unless it is complete, and the summary if there is one."""
    try:
        summary = _plain(compute(case))
    except CaseError as error:
        return "refused", "; ".join(error.problems), None
    except NotConverged as error:
        return "not converged", str(error), None
    except MemoryError:
        reason = "out of memory; use larger elements or fewer workers"
        return "program fault", reason, None
    except Exception as error:
        text = str(error).split("\n")[0][:300]
        return "program fault", f"{type(error).__name__}: {text}", None
    outcome = str(summary.get("outcome", "complete"))
    reason = "" if outcome == "complete" else "the member folds while hot"
    return outcome, reason, summary


def _plain(summary: Mapping[str, Any]) -> dict[str, Any]:
    """Summary as JSON reads it back."""
    return json.loads(json.dumps(plain(summary)))


def _peak_memory() -> float | None:
    """Largest resident memory of this process so far, MB; None where unknown."""
    try:
        import resource
    except ImportError:
        return None
    unit = 1024**2 if sys.platform == "darwin" else 1024
    return round(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / unit, 1)

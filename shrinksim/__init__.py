"""Predicts how far heat and restraint move a steel member for good.

``load(path)`` reads a case file, ``run(case)`` computes it; the stages are in
``shrinksim.heat.march``, ``shrinksim.strain`` and ``shrinksim.movement`` for arrays of your
own.  Names here are imported when they are first asked for.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from shrinksim.errors import CaseError, NotConverged

if TYPE_CHECKING:
    from shrinksim.report.folder import write_results
    from shrinksim.runs.run import prepare, run
    from shrinksim.views.elevation.record import Case
    from shrinksim.views.reading import load
    from shrinksim.views.result import Result

__version__ = "0.1.0"

__all__ = [
    "Case",
    "CaseError",
    "NotConverged",
    "Result",
    "load",
    "prepare",
    "run",
    "write_results",
]

_HOMES = {
    "Case": "views.elevation.record",
    "Result": "views.result",
    "load": "views.reading",
    "prepare": "runs.run",
    "run": "runs.run",
    "write_results": "report.folder",
}


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    from importlib import import_module

    if name not in _HOMES:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)

"""Predicts how far heat and restraint move a steel member permanently.

    import shrinksim as ss
    case = ss.load("bar.toml")                          # or ss.case(member={...},
                                                        #   steel={...}, heat=[...])
    hot = case.changed({"heat.pattern.angle": "30 deg"})
    result = ss.run(hot)
    result.plot("peak_temperature"); result.at_nodes("peak_temperature"); result.save("out")

``sweep``, ``survey`` and ``plan`` do many cases and whole members.  The stages take
meshes, temperatures, supports and laws of your own: ``shrinksim.heat``,
``shrinksim.strain``.  Names here are imported when they are first asked for.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from shrinksim.errors import CaseError, NotConverged
from shrinksim.version import __version__

if TYPE_CHECKING:
    from shrinksim import fem, heat, strain, views
    from shrinksim.door import case, plan, survey, sweep
    from shrinksim.report.folder import write_results
    from shrinksim.runs.run import run, run_once
    from shrinksim.shop.steel import Steel, steel, steel_from_file
    from shrinksim.views.reading import case_from, load, prepare
    from shrinksim.views.result import Result

__all__ = [
    "CaseError",
    "NotConverged",
    "Result",
    "Steel",
    "__version__",
    "case",
    "case_from",
    "fem",
    "heat",
    "load",
    "plan",
    "prepare",
    "run",
    "run_once",
    "steel",
    "steel_from_file",
    "strain",
    "survey",
    "sweep",
    "views",
    "write_results",
]

_HOMES = {
    "Result": "views.result",
    "Steel": "shop.steel",
    "case": "door",
    "case_from": "views.reading",
    "fem": "",
    "heat": "",
    "load": "views.reading",
    "plan": "door",
    "prepare": "views.reading",
    "run": "runs.run",
    "run_once": "runs.run",
    "steel": "shop.steel",
    "steel_from_file": "shop.steel",
    "strain": "",
    "survey": "door",
    "sweep": "door",
    "views": "",
    "write_results": "report.folder",
}
"""Public name -> module that has it; "" where it is a module itself."""


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _HOMES:
        message = f"module {__name__!r} has no attribute {name!r}"
        raise AttributeError(message)
    home = _HOMES[name]
    if not home:
        return import_module(f"{__name__}.{name}")
    found = getattr(import_module(f"{__name__}.{home}"), name)
    globals()[name] = found  # a folder of the same name must not hide it later
    return found


def __dir__() -> list[str]:
    return list(__all__)

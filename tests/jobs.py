"""Small cases for the tests of the whole chain, in a workshop of our own."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from

BAR: dict[str, Any] = {
    "title": "test bar",
    "member": {"section": "plate", "width": "100 mm", "thickness": "8 mm"},
    "steel": {"grade": "S235"},
    "torch": {
        "power": "8 kW",
        "efficiency": 0.3,
        "radius": "22 mm",
    },
    "numerics": {"element": "11 mm", "heat_tolerance": "8 K"},
    "heat": [
        {
            "pattern": [
                {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
            ]
        }
    ],
}


def job(base: dict[str, Any] | None = None, **changes: Any) -> Case:
    """A case like ``base`` (the bar) with dotted keys changed; None takes a key away.

    ``vee__angle="20 deg"`` changes a key of the first pattern; ``load`` whole tables.
    """
    tables = copy.deepcopy(base or BAR)
    for key, value in changes.items():
        place: Any = tables
        *path, last = key.split("__")
        for name in path:
            if name == "vee":
                place = place["heat"][0]["pattern"][0]
            elif name == "cooling":
                place = place["heat"][0].setdefault("cooling", {})
            else:
                place = place.setdefault(name, {})
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    return case_from(tables, "test", Path())

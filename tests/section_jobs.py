"""Small cases in the section view, coarse enough for tests."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Any

from shrinksim.views.reading import case_from
from shrinksim.views.section.record import SectionCase

PLATE: dict[str, Any] = {
    "title": "test plate",
    "view": "section",
    "member": {"section": "plate", "width": "120 mm", "thickness": "10 mm"},
    "steel": {"grade": "S235"},
    "torch": {
        "power": "6 kW",
        "efficiency": 0.4,
        "radius": "15 mm",
        "drive": "travel",
        "speed": "8 mm/s",
    },
    "numerics": {
        "element": "4 mm",
        "far_element": "14 mm",
        "heat_tolerance": "10 K",
        "temperature_step": "60 K",
    },
    "heat": [{"pattern": [{"kind": "line along", "on": "top", "length": "1 m"}]}],
}

BEAM: dict[str, Any] = {
    **PLATE,
    "title": "test beam",
    "member": {"section": "IPE 160"},
    "heat": [
        {"pattern": [{"kind": "line along", "on": "flange top", "length": "1 m"}]}
    ],
}


def cut_job(base: dict[str, Any] | None = None, **changes: Any) -> SectionCase:
    """A case like ``base`` (the plate) with dotted keys changed; None takes a key away.

    ``line__at="20 mm"`` changes a key of the first pattern, ``cooling__kind`` of the
    first heat's cooling; ``load`` whole tables.
    """
    tables = copy.deepcopy(base or PLATE)
    for key, value in changes.items():
        place: Any = tables
        *path, last = key.split("__")
        for name in path:
            if name == "line":
                place = place["heat"][0]["pattern"][0]
            elif name == "cooling":
                place = place["heat"][0].setdefault("cooling", {})
            else:
                place = place.setdefault(name, {})
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    case = case_from(tables, "test", Path())
    assert isinstance(case, SectionCase)
    return case

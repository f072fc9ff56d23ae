"""A sound case as tables, and what the reader says of a changed one."""

import copy
from pathlib import Path

import pytest

from shrinksim.errors import CaseError
from shrinksim.views.reading import case_from

VEE = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
PLATE = {
    "title": "a plate",
    "member": {"section": "plate", "width": "4 in", "thickness": "10 mm"},
    "steel": {"grade": "S235"},
    "heat": [{"pattern": [VEE]}],
}
BEAM = PLATE | {"member": {"section": "IPE 300", "axis": "strong"}}


def read(tables, folder=Path()):
    return case_from(copy.deepcopy(tables), "a.toml", folder)


def faults(tables, folder=Path()):
    with pytest.raises(CaseError) as caught:
        read(tables, folder)
    assert all(p.startswith("a.toml: ") for p in caught.value.problems)
    return [p.removeprefix("a.toml: ") for p in caught.value.problems]


def only(tables, folder=Path()):
    found = faults(tables, folder)
    assert len(found) == 1, found
    return found[0]


def with_pattern(base=PLATE, **pattern):
    return base | {"heat": [{"pattern": [pattern]}]}


def with_cooling(**cooling):
    return PLATE | {"heat": [{"pattern": [VEE], "cooling": cooling}]}

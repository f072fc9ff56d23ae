"""Sound jobs as tables, and what the reader says of changed ones."""

import copy
from pathlib import Path

import pytest

from shrinksim.errors import CaseError
from shrinksim.member.job.read import job_from

READ = [["0 m", "0 mm"], ["1 m", "8 mm"], ["1.5 m", "12 mm"], ["3 m", "0 mm"]]
BAR = {
    "title": "a bar",
    "member": {
        "section": "plate",
        "width": "100 mm",
        "thickness": "6 mm",
        "length": "3 m",
    },
    "steel": {"grade": "S235"},
    "survey": {"camber": READ, "camber_line": "bottom"},
    "tolerance": {"camber": "4 mm"},
    "support": [{"at": "200 mm"}, {"at": "2.8 m"}],
}
BEAM = BAR | {
    "title": "a beam",
    "member": {"section": "IPE 300", "length": "12 m"},
    "tolerance": {"standard": "EN 10034"},
    "support": [{"at": "1 m"}, {"at": "11 m"}],
}


def read(tables, folder=Path()):
    return job_from(copy.deepcopy(tables), "a.toml", folder)


def faults(tables, folder=Path()):
    with pytest.raises(CaseError) as caught:
        read(tables, folder)
    assert all(p.startswith("a.toml: ") for p in caught.value.problems)
    return [p.removeprefix("a.toml: ") for p in caught.value.problems]


def only(tables, folder=Path()):
    found = faults(tables, folder)
    assert len(found) == 1, found
    return found[0]


def changed(base=BAR, **changes):
    """The job with dotted keys changed ("member__width"); None takes a key away."""
    tables = copy.deepcopy(base)
    for key, value in changes.items():
        *path, last = key.split("__")
        place = tables
        for name in path:
            place = place.setdefault(name, {})
        if value is None:
            place.pop(last, None)
        else:
            place[last] = value
    return tables

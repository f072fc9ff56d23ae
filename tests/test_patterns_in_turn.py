"""Patterns one after another: each torch heats its own steel, in its own time."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
import pytest
from jobs import job
from section_jobs import BEAM

from shrinksim.errors import NotConverged
from shrinksim.runs.run import run_once
from shrinksim.runs.run import run_once as run_section
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result
from shrinksim.views.section.record import SectionCase

pytestmark = pytest.mark.slow

STRIP = {"kind": "strip along", "on": "flange top", "width": "40 mm", "length": "1 m"}
OTHER = STRIP | {"on": "flange bottom"}


def turns(*patterns: dict[str, Any], **torch: Any) -> Result:
    tables = copy.deepcopy(BEAM)
    tables["torch"] = {"power": "12 kW", "efficiency": 0.4, "radius": "20 mm", **torch}
    tables["heat"] = [{"pattern": list(patterns)}]
    case = case_from(tables, "turns", ".")  # type: ignore[arg-type] (no files)
    assert isinstance(case, SectionCase)
    return run_section(case)


def test_the_second_flange_gets_its_own_heat_at_once():
    run = turns(STRIP, OTHER, drive="at once", target="600 degC", power="90 kW")
    first, second = run.heating.torch_times
    assert second == pytest.approx(first, rel=0.1)
    y, peak = run.mesh.points[:, 1], run.heat.peak
    for face in (y > y.max() - 1e-9, y < 1e-9):
        assert peak[face].max() == pytest.approx(600.0, abs=3.0)


def test_the_second_torch_comes_when_the_first_is_through():
    """Both pass the middle of the length; the second starts when the first ends."""
    run = turns(STRIP, OTHER, drive="held", target="600 degC")
    one, two = run.heating.schedules
    assert one is not None
    assert two == pytest.approx(one, rel=0.1)
    label = np.array([name.words for name in run.heat.phases])
    begins = [run.heat.times[label == f"heat 1: torch {k}"].min() for k in (1, 2)]
    assert begins[1] - begins[0] == pytest.approx(0.5 / one + 0.5 / two, rel=0.05)
    assert abs(run.movement.camber) < 0.2 * abs(turns(STRIP).movement.camber)


def test_steel_that_is_hot_already_is_said():
    low = STRIP | {"at": "20 mm", "width": "10 mm", "torch": {"target": "250 degC"}}
    near = STRIP | {"at": "-10 mm", "width": "40 mm"}
    with pytest.raises(NotConverged, match="already when its torch is lit"):
        turns(near, low, drive="at once", target="600 degC", power="90 kW")


def test_a_far_pattern_does_not_count_for_the_next():
    vee = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
    far = [
        vee | {"at": "-200 mm"},
        vee | {"at": "200 mm", "torch": {"target": "500 degC"}},
    ]
    case = job(member__patch="900 mm", heat=[{"pattern": far}])
    run = run_once(case)
    right = run.mesh.points[:, 0] > 100e-3
    assert run.heat.peak[right].max() == pytest.approx(500.0, abs=6.0)

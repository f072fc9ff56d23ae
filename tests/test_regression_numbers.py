"""Regression numbers: three small cases whose results stand here as they were computed.

No source but the package itself: they tell that a number has moved, not that it is right
(tests/verification does that).  Coarse steps and meshes, so that they take little time.
Another processor, BLAS or order of compilation moves them by some 1e-12 of their size
(measured), another mesh of another gmsh by more.

    python tests/test_regression_numbers.py      # prints them as they are now
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import pytest

from shrinksim import run
from shrinksim.runs.store import PHYSICS
from shrinksim.views.reading import case_from

SAME = 1e-6
COARSE = {"heat_tolerance": "20 K", "temperature_step": "120 K"}
VEE = {
    "title": "jacked vee, cooled by mist",
    "member": {"section": "plate", "width": "100 mm", "thickness": "6 mm"},
    "steel": {"grade": "S235"},
    "torch": {"target": "640 degC"},
    "load": {"kind": "jack", "moment": "0.25 Mp", "stiffness": "1 EI/L"},
    "heat": [{
        "pattern": [
            {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
        ],
        "cooling": {"kind": "mist", "start_below": "315 degC"},
    }],
    "numerics": COARSE | {"element": "15 mm", "far_element": "40 mm"},
}  # fmt: skip
LINE = {
    "title": "line along a plate",
    "view": "section",
    "member": {"section": "plate", "width": "300 mm", "thickness": "10 mm"},
    "steel": {"grade": "S355"},
    "torch": {"drive": "travel", "speed": "8 mm/s"},
    "heat": [{"pattern": [{"kind": "line along", "on": "top", "length": "1 m"}]}],
    "numerics": COARSE | {"element": "6 mm", "far_element": "30 mm"},
}
STRIP = {
    "title": "strip beside the middle of a flange, jacked",
    "view": "section",
    "member": {"section": "IPE 300"},
    "steel": {"grade": "S275"},
    "torch": {"target": "600 degC"},
    "load": {"kind": "jack", "camber_moment": "0.15 Mp", "stiffness": "1 EI/L"},
    "heat": [{
        "pattern": [
            {"kind": "strip along", "on": "flange top", "width": "60 mm",
             "length": "2 m", "at": "20 mm"}
        ],
    }],
    "numerics": COARSE | {"element": "10 mm", "far_element": "40 mm"},
}  # fmt: skip

WRITTEN_WITH = "3"
"""PHYSICS when the numbers below were written."""

NUMBERS: list[tuple[dict[str, Any], dict[str, float]]] = [
    (VEE, {
        "rotation_mrad": 4.033706596,
        "rotation_elastic_mrad": 1.022871381,
        "shortening_mm": 0.138881339,
        "peak_temperature_C": 639.929824,
        "heating_time_s": 35.69372114,
        "cooling_time_s": 1593.984667,
        "hot_hinge_margin": 3.14192198,
        "max_plastic_strain": 0.01762913266,
        "max_residual_tension_MPa": 206.4464253,
    }),
    (LINE, {
        "camber_rotation_mrad": 10.75971405,
        "shortening_mm": 0.04284365139,
        "angular_change_mrad": 0.07598056802,
        "transverse_shrinkage_mm": -0.003586956287,
        "peak_temperature_C": 686.3940624,
        "cooling_time_s": 2781.5,
        "max_plastic_strain": 0.008867823369,
        "max_residual_tension_MPa": 410.5027609,
    }),
    (STRIP, {
        "camber_rotation_mrad": 7.352007831,
        "sweep_rotation_mrad": 18.78010802,
        "shortening_mm": 0.7957290602,
        "peak_temperature_C": 600.0105673,
        "heating_time_s": 2050.756589,
        "hot_hinge_margin": 3.151046526,
        "max_plastic_strain": 0.008449135713,
        "max_residual_tension_MPa": 305.0430518,
    }),
]  # fmt: skip


@cache
def _summaries() -> tuple[dict[str, Any], ...]:
    return tuple(
        run(case_from(tables, "regression", Path())).summary() for tables, _ in NUMBERS
    )


def now(case: int) -> dict[str, float]:
    """The numbers of a case as the package computes them."""
    summary = _summaries()[case]
    assert summary["outcome"] == "complete"
    return {name: summary[name] for name in NUMBERS[case][1]}


@pytest.mark.slow
@pytest.mark.parametrize("case", range(3), ids=["vee", "line", "strip"])
def test_no_number_moves_without_a_word_on_kept_runs(case):
    found, written = now(case), NUMBERS[case][1]
    moved = [
        f"{name} was {written[name]!r} and is {found[name]!r}"
        for name in written
        if found[name] != pytest.approx(written[name], rel=SAME)
    ]
    assert not moved, (
        f"{NUMBERS[case][0]['title']}: {'; '.join(moved)}. If that is meant, raise "
        "PHYSICS in runs/store.py, so that runs kept by users are not mixed with new "
        "ones, and write the new numbers and WRITTEN_WITH here (python "
        "tests/test_regression_numbers.py prints them)."
    )


def test_the_numbers_were_written_with_this_physics():
    assert WRITTEN_WITH == PHYSICS, (
        f"PHYSICS is {PHYSICS}, the numbers here were written with {WRITTEN_WITH}: "
        "write them anew (python tests/test_regression_numbers.py prints them)."
    )


if __name__ == "__main__":
    for number, (tables, _) in enumerate(NUMBERS):
        print(tables["title"], now(number), sep="\n")

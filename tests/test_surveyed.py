"""A survey taken on supports: the sag that is taken off has the sense of the readings."""

import math
from pathlib import Path

import numpy as np
import pytest

from shrinksim.member.job.read import job_from
from shrinksim.member.setup.rig import rest_on_supports, sag_off_chord
from shrinksim.member.setup.setup import rigging_of
from shrinksim.member.survey.survey import evaluate_survey

SECOND = {"top": "strong", "bottom": "strong", "left": "weak", "right": "weak"}
PLANE = {"top": "camber", "bottom": "camber", "left": "sweep", "right": "sweep"}
FALLS = {"top": -1.0, "bottom": 1.0, "right": -1.0, "left": 1.0}
"""Sense, as surveyed, in which a member that lies with this side up hangs down."""


def on_supports(up, readings, **survey):
    plane = PLANE[up]
    pairs = [[f"{x!r} m", f"{1e3 * v!r} mm"] for x, v in readings]
    tables = {
        "title": "straight",
        "member": {"section": "IPE 300", "length": "12 m"},
        "steel": {"grade": "S235"},
        "survey": {
            plane: pairs, "as_lies": "on supports", "reading_error": "1 mm",
            "camber_line": "bottom", "sweep_line": "left", **survey
        },
        "tolerance": {"camber": "5 mm", "sweep": "5 mm"},
        "rig": {"up": up},
        "support": [{"at": "0 m"}, {"at": "12 m"}],
    }  # fmt: skip
    return job_from(tables, "test", Path())


@pytest.mark.parametrize("up", ["top", "bottom", "left", "right"])
def test_a_straight_member_that_hangs_is_straight(up):
    x = np.linspace(0.0, 12.0, 25)
    rig = rigging_of(on_supports(up, [(0.0, 0.0), (6.0, 0.0), (12.0, 0.0)]))
    sag = np.abs(sag_off_chord(rest_on_supports(rig), x))
    own = 5 * 42.2 * 9.81 * 12.0**4 / 384 / 210e9  # 5 w L4 / 384 EI
    inertia = 8356e-8 if SECOND[up] == "strong" else 603.8e-8  # EN 10365 tables
    assert sag.max() == pytest.approx(own / inertia, rel=2e-3)
    readings = list(zip(x.tolist(), (FALLS[up] * sag).tolist(), strict=True))
    found = evaluate_survey(on_supports(up, readings)).shapes[PLANE[up]]
    assert found.bends == ()
    assert math.isclose(float(np.abs(found.line).max()), 0.0, abs_tol=1e-9)

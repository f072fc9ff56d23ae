"""Trends of vee heats on plates: the FHWA guide for heat-straightening of damaged steel
bridge members, ch. 5, and Avent, Mukai & Robinson, J. Struct. Eng. 2000 (both from
memory): rotation in proportion to the vee angle, and (0.6 + 2 M/Mp) times as much under
a jacking moment.

Plate 4 x 1/4 in, A36, hottest steel 650 degC, default torch; coarse steps.  The numbers of
the published relation themselves are compared in benchmarks/published_vee.py.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from shrinksim import run
from shrinksim.views.reading import case_from

pytestmark = pytest.mark.long

ANGLES = np.array([20.0, 30.0, 45.0, 60.0])


@cache
def turns(ratio: float) -> np.ndarray:
    """Rotation, rad, of every angle under a jack of 1 EI/L."""
    load = {"kind": "jack", "moment": f"{ratio} Mp", "stiffness": "1 EI/L"}
    found = []
    for angle in ANGLES:
        vee = {
            "kind": "vee",
            "angle": f"{angle} deg",
            "depth_ratio": 0.75,
            "open": "top",
        }
        tables = {
            "title": "published vee",
            "member": {"section": "plate", "width": "4 in", "thickness": "1/4 in"},
            "steel": {"grade": "A36"},
            "torch": {"target": "650 degC"},
            "load": load if ratio else {"kind": "none"},
            "heat": [{"pattern": [vee]}],
            "numerics": {"heat_tolerance": "10 K", "temperature_step": "50 K"},
        }
        result = run(case_from(tables, "published vee", Path()))
        found.append(result.movement.rotation)
    return np.array(found)


def off_a_line(rotation: np.ndarray) -> np.ndarray:
    """Share by which each is off the best line through zero over the angle."""
    slope = float(rotation @ ANGLES) / float(ANGLES @ ANGLES)
    return rotation / (slope * ANGLES) - 1.0


def test_jacked_vees_turn_in_proportion_to_their_angle():
    """At M/Mp = 0.25 within 20 % of a line through zero."""
    assert np.abs(off_a_line(turns(0.25))).max() < 0.20


def test_free_vees_turn_in_proportion_to_their_angle_from_30_degrees():
    """Within 20 % from 30 degrees; the free one of 20 degrees is 24 % under the line."""
    off = off_a_line(turns(0.0))
    assert np.abs(off[1:]).max() < 0.20
    assert off[0] == pytest.approx(-0.24, abs=0.06)


def test_a_jack_multiplies_the_movement():
    """(0.6 + 2 x 0.25) / 0.6 = 1.83 as the mean over the angles, within 20 %."""
    assert np.mean(turns(0.25) / turns(0.0)) == pytest.approx(1.1 / 0.6, rel=0.2)

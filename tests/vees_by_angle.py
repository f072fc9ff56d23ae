"""Vee heats of four angles on a plate 4 x 1/4 in: A36, hottest steel 650 degC."""

from __future__ import annotations

from functools import cache
from pathlib import Path

import numpy as np

from shrinksim import run
from shrinksim.views.reading import case_from

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

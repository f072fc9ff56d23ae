"""Summaries of made-up runs for comparisons."""

from __future__ import annotations

from made_up_result import NASTY
from plain_case import PLATE, VEE

FEWER = PLATE | {"title": "b", "heat": [{"pattern": [VEE | {"angle": "30 deg"}]}]}


def summary(rotation=5.0, error=0.1, **more):
    """Of a made-up run of the elevation."""
    return {
        "title": "a", "view": "elevation", "outcome": "complete", "input_hash": "abc",
        "rotation_mrad": rotation, "shortening_mm": 0.4, "peak_temperature_C": 640.0,
        "hot_hinge_margin": 2.0, "heating_time_s": 40.0, "cooling_time_s": 900.0,
        "burnt_J": 3e5, "held": True, "torch_way": str(rotation),
        "seconds": {"total": 4.0}, "versions": {"shrinksim": "1.2.3"},
        "cautions": [{"code": "a", "text": NASTY}],
        "refinement": {
            "rotation_error_mrad": error, "rotation_change_mrad": 2.0 * error,
            "shortening_error_mm": 0.01, "shortening_change_mm": 0.02,
        },
    } | more  # fmt: skip

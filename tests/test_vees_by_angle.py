"""Regression number: where the package leaves the published trend of vees."""

import pytest
from vees_by_angle import off_a_line, turns

pytestmark = pytest.mark.long


def test_the_free_vee_of_20_degrees_is_under_the_line():
    """By 24 %, as computed; the published relation has it on the line."""
    assert off_a_line(turns(0.0))[0] == pytest.approx(-0.24, abs=0.06)

"""Trends of vee heats on plates: the FHWA guide for heat-straightening of damaged steel
bridge members, ch. 5, and Avent, Mukai & Robinson, J. Struct. Eng. 2000 (both from
memory): rotation in proportion to the vee angle, and (0.6 + 2 M/Mp) times as much under
a jacking moment.

Plate 4 x 1/4 in, A36, hottest steel 650 degC, default torch; coarse steps.  The numbers of
the published relation themselves are compared in benchmarks/published_vee.py.
"""

from __future__ import annotations

import numpy as np
import pytest
from vees_by_angle import off_a_line, turns

pytestmark = pytest.mark.long


def test_jacked_vees_turn_in_proportion_to_their_angle():
    """At M/Mp = 0.25 within 20 % of a line through zero."""
    assert np.abs(off_a_line(turns(0.25))).max() < 0.20


def test_free_vees_turn_in_proportion_to_their_angle_from_30_degrees():
    """Within 20 % from 30 degrees; tests/test_vees_by_angle.py has the one of 20."""
    assert np.abs(off_a_line(turns(0.0))[1:]).max() < 0.20


def test_a_jack_multiplies_the_movement():
    """(0.6 + 2 x 0.25) / 0.6 = 1.83 as the mean over the angles, within 20 %."""
    assert np.mean(turns(0.25) / turns(0.0)) == pytest.approx(1.1 / 0.6, rel=0.2)

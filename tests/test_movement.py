"""What a hot section can carry, against hand calculation of two-layer bars."""

import numpy as np
import pytest

from shrinksim.movement import hot_plastic_moment

Y = (np.arange(200) + 0.5) * 0.1 / 200
LAYER = np.full(200, 0.01 * 0.1 / 200)


def carried(strength, axial, sense):
    return hot_plastic_moment(
        np.array(strength).reshape(1, 1, -1), LAYER, Y, np.array([axial]),
        np.array([sense]), 0.05,
    )[0, 0]  # fmt: skip


def test_cold_bar_has_its_plastic_moment():
    level = np.full(200, 235e6)
    mp = 235e6 * 0.01 * 0.1**2 / 4
    for sense in (1.0, -1.0):
        assert carried(level, 0.0, sense) == pytest.approx(mp, rel=1e-4)


@pytest.mark.parametrize("n", [0.3, -0.6])
def test_axial_force_takes_its_share(n):
    """M / Mp = 1 - n2, any plasticity text."""
    level = np.full(200, 235e6)
    mp, np_ = 235e6 * 0.01 * 0.1**2 / 4, 235e6 * 0.01 * 0.1
    for sense in (1.0, -1.0):
        got = carried(level, n * np_, sense)
        assert got == pytest.approx(mp * (1 - n**2), rel=1e-3)


def test_a_pull_helps_one_way_and_hurts_the_other():
    """Top half at a fifth of its strength, N = 40 kN at mid-height; exact by hand.

    Total T = 141 kN; tension A = (T + N)/2 = 90.5 kN from the pulled side.  Bottom
    pulled (top pressed): 90.5 of its 117.5 kN, up to y = 38.51 mm; M about mid-height.
    """
    strength = np.where(Y < 0.05, 235e6, 47e6)

    def by_hand(sense):
        force = strength * LAYER
        order = np.argsort(Y) if sense > 0 else np.argsort(-Y)
        left, moment = 0.5 * (force.sum() + 40e3), 0.0
        for k in order:
            pulled = min(force[k], left)
            left -= pulled
            moment += (2 * pulled - force[k]) * (0.05 - Y[k])
        return sense * moment

    for sense in (1.0, -1.0):
        assert carried(strength, 40e3, sense) == pytest.approx(by_hand(sense), rel=2e-3)
    assert by_hand(1.0) == pytest.approx(3215.0, rel=1e-2)
    assert by_hand(-1.0) == pytest.approx(1615.0, rel=1e-2)

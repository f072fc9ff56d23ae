"""Bars of the lesson against closed forms with the numbers of EN 1993-1-2:2005.

Restrained bar, bar against a spring and three bars: H. Satoh 1972; K. Masubuchi,
Analysis of Welded Structures, Pergamon 1980, ch. 5 (both from memory); the algebra is
redone here.  Steel: perfectly plastic at ky fy, fy = 235 MPa.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from shrinksim.lesson.bars import (
    COLD,
    FREE,
    JAWS,
    RIGID,
    STEP,
    WALLS,
    bar_track,
    lesson_steel,
)
from shrinksim.lesson.lesson import PEAK, SPRINGS
from shrinksim.lesson.states import Holding

FY, E = 235e6, 210e9
GRID = [20.0, 100.0, 200.0, 300.0, 400.0, 500.0, 600.0, 700.0]
KY = [1.0, 1.0, 1.0, 1.0, 1.0, 0.78, 0.47, 0.23]
KE = [1.0, 1.0, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13]
"""EN 1993-1-2:2005, table 3.1."""

GRADE = lesson_steel()


def level(T: float) -> float:
    return FY * float(np.interp(T, GRID, KY))


def modulus(T: float) -> float:
    return E * float(np.interp(T, GRID, KE))


def grown(T: float) -> float:
    """EN 1993-1-2:2005, 3.4.1.1, from 20 degC."""
    return 1.2e-5 * T + 0.4e-8 * T**2 - 2.416e-4


def squeezed(peak: float, stiffness: float) -> float:
    """Plastic shortening at the peak of a bar that yields there against a spring."""
    give = level(peak) * (1.0 / modulus(peak) + 1.0 / (stiffness * E))
    return max(0.0, grown(peak) - give)


def test_the_standards_numbers_at_650():
    """Between the rows of the table: 0.35 fy, 0.22 E; 9.2484e-3."""
    assert level(650.0) == pytest.approx(82.25e6)
    assert modulus(650.0) == pytest.approx(46.2e9)
    assert grown(650.0) == pytest.approx(9.2484e-3)


def test_a_free_bar_grows_by_the_standard_and_comes_back():
    track = bar_track(FREE, PEAK, GRADE)
    expected = [grown(T) for T in track.temperature]
    assert track.stretch == pytest.approx(expected, rel=1e-6, abs=1e-12)
    assert abs(track.stretch[-1]) < 1e-12
    assert np.abs(track.stress).max() < 1.0  # Pa
    assert np.abs(track.plastic).max() < 1e-12
    assert track.thicker == pytest.approx(expected, rel=1e-6, abs=1e-12)


def test_a_bar_in_a_vice_drops_out_shorter_by_what_it_was_squeezed():
    """Plastic shortening = growth - ky fy / E at the peak; nothing pulls it back."""
    track = bar_track(JAWS, PEAK, GRADE)
    hot = track.step("hottest")
    assert track.stress[hot, 0] == pytest.approx(-82.25e6, rel=1e-6)
    expected = squeezed(PEAK, RIGID)
    assert expected == pytest.approx(9.2484e-3 - 82.25e6 / 46.2e9, rel=1e-4)
    assert -track.plastic[hot] == pytest.approx(expected, rel=1e-6)
    assert -track.stretch[-1] == pytest.approx(expected, rel=1e-6)
    assert abs(track.stress[-1, 0]) < 10.0  # Pa
    assert track.stress.max() < 10.0  # the jaws never pull


def test_what_does_not_go_into_length_goes_into_thickness():
    """Plastic flow keeps its volume: half of the squeeze across."""
    track = bar_track(JAWS, PEAK, GRADE)
    assert track.thicker[-1] == pytest.approx(-0.5 * track.stretch[-1], rel=1e-6)
    assert track.thicker[track.step("hottest")] > grown(PEAK)


def test_a_bar_between_walls_ends_in_full_pull_and_is_cut_loose_by_fy_over_e():
    track = bar_track(WALLS, PEAK, GRADE)
    cold = track.step("cold again")
    assert track.stress[cold, 0] == pytest.approx(FY, rel=1e-6)
    assert track.stress[-1, 0] == pytest.approx(0.0, abs=10.0)
    expected = FY / E * (1.0 + 1.0 / RIGID)
    assert -track.stretch[-1] == pytest.approx(expected, rel=1e-6)


def test_a_held_bar_begins_to_yield_where_growth_meets_strength():
    """E(T) times growth = fy: 110.30 degC, between two steps of the lesson."""

    def spare(T: float) -> float:
        return level(T) * (1.0 / modulus(T) + 1.0 / (RIGID * E)) - grown(T)

    onset = brentq(spare, 50.0, 200.0)
    assert onset == pytest.approx(110.30, abs=0.02)
    for hold in (JAWS, WALLS):
        track = bar_track(hold, PEAK, GRADE)
        at = track.step("starts to yield")
        assert track.temperature[at - 1] <= onset <= track.temperature[at]


def test_a_bar_held_to_100_degrees_stays_as_it_was():
    for hold in (JAWS, WALLS):
        track = bar_track(hold, 100.0, GRADE)
        expected = -modulus(100.0) * grown(100.0)
        hot = track.stress[track.step("hottest"), 0]
        assert hot == pytest.approx(expected, rel=2.0 / RIGID)
        assert abs(track.stretch[-1]) < 1e-8


@pytest.mark.parametrize("stiffness", SPRINGS)
def test_a_bar_against_a_spring_that_pushes_and_pulls(stiffness):
    """Cold stress = the spring's pull, at most fy; loose: what has flowed is left."""
    track = bar_track(Holding("spring", stiffness), PEAK, GRADE)
    hot, cold = track.step("hottest"), track.step("cold again")
    shrink = squeezed(PEAK, stiffness)
    soft = (1.0 / E) * (1.0 + 1.0 / stiffness)
    pull = min(FY, shrink / soft)
    assert -track.plastic[hot] == pytest.approx(shrink, rel=1e-6, abs=1e-7)
    assert track.stress[cold, 0] == pytest.approx(pull, rel=1e-6, abs=10.0)
    left = pull * soft
    assert -track.stretch[-1] == pytest.approx(left, rel=1e-6, abs=1e-10)


@pytest.mark.parametrize("stiffness", SPRINGS)
def test_a_spring_that_only_pushes_leaves_all_of_the_squeeze(stiffness):
    track = bar_track(Holding("spring", stiffness, "only pushes"), PEAK, GRADE)
    shrink = squeezed(PEAK, stiffness)
    assert -track.stretch[-1] == pytest.approx(shrink, rel=1e-6, abs=1e-7)
    assert track.stress.max() < 10.0


# side area, peak; cold stress of the middle and of a side MPa, stretch cold
THREE = [
    (1.0, 200.0, 72.1686, -36.0843, -1.7182998e-4),
    (5.0, 200.0, 183.8663, -18.3866, -8.7555363e-5),
    (1.0, 650.0, 235.0, -117.5, -117.5e6 / E),
    (5.0, 650.0, 235.0, -23.5, -23.5e6 / E),
]


@pytest.mark.parametrize(("sides", "peak", "middle", "side", "stretch"), THREE)
def test_three_bars_lock_their_stress_in(sides, peak, middle, side, stretch):
    """The three-bar analogy; at 200 degC the cold pull is elastic, p / (1/E + 1/(2nE)),
    p the squeeze at the peak with (1/E(T) + 1/(2nE)).
    """
    track = bar_track(Holding("three bars", sides=sides), peak, GRADE)
    if peak == 200.0:
        shrink = squeezed(peak, 2.0 * sides)
        pull = shrink * E / (1.0 + 0.5 / sides)
        assert pull / 1e6 == pytest.approx(middle, abs=1e-4)
    assert track.stress[-1] / 1e6 == pytest.approx([middle, side, side], abs=1e-3)
    assert track.stretch[-1] == pytest.approx(stretch, rel=1e-5)


@pytest.mark.parametrize("sides", [1.0, 5.0])
def test_three_bars_are_in_equilibrium_at_every_step(sides):
    """No outer force: the bars' forces add up to nothing (law of nature)."""
    track = bar_track(Holding("three bars", sides=sides), PEAK, GRADE)
    force = track.stress[:, 0] + sides * (track.stress[:, 1] + track.stress[:, 2])
    assert np.abs(force).max() < 1e-5 * FY


@settings(max_examples=12, deadline=None)
@given(st.floats(30.0, 690.0), st.floats(0.05, 20.0))
def test_any_push_leaves_what_was_squeezed_at_the_peak(peak, stiffness):
    """The hotter the weaker: what yields on the way is still yielding at the peak."""
    track = bar_track(Holding("spring", stiffness, "only pushes"), peak, GRADE)
    shrink = squeezed(peak, stiffness)
    assert -track.stretch[-1] == pytest.approx(shrink, rel=1e-5, abs=2e-7)


def test_steps_and_stops_are_in_order():
    track = bar_track(WALLS, PEAK, GRADE)
    steps = [stop.step for stop in track.stops]
    assert steps == sorted(set(steps))
    assert [stop.name for stop in track.stops] == [
        "cold",
        "starts to yield",
        "hottest",
        "push gone",
        "yields in pull",
        "cold again",
        "let go",
    ]
    assert track.temperature[0] == track.temperature[-1] == COLD
    assert np.abs(np.diff(track.temperature)).max() <= STEP + 1e-9

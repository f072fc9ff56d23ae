"""Fitting a formula, against known answers and a general library; where it holds."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import least_squares

from shrinksim.calibration.fit import (
    ROUND,
    FitRows,
    bent,
    fitted,
    left_out,
    predicted,
    scatter_of,
    slopes_of,
    solve,
)
from shrinksim.calibration.formula import formula_for
from shrinksim.calibration.selection import choose
from shrinksim.calibration.validity import Range, guard_of, leverage, outside

# the fit


def data(seed, count=120, noise=0.1):
    """Rows whose turns are 1 + 2 x1 - 0.5 x2, with noise."""
    chance = np.random.default_rng(seed)
    columns = np.hstack([np.ones((count, 1)), chance.uniform(-1, 1, (count, 9))])
    turn = columns[:, 0] + 2.0 * columns[:, 1] - 0.5 * columns[:, 2]
    turn = turn + noise * chance.standard_normal(count)
    return FitRows(columns, np.ones(count), turn, np.full(count, 1.0 / noise))


@pytest.mark.slow
def test_terms_that_matter_are_found_and_others_mostly_left():
    extra = []
    for seed in range(8):
        found = choose(data(seed), "straight", 1, 6, seed)
        taken = set(found.terms)
        assert {0, 1, 2} <= taken
        extra.append(len(taken) - 3)
    assert np.mean(extra) < 1.0


def test_noise_alone_gives_no_terms():
    chance = np.random.default_rng(5)
    columns = np.hstack([np.ones((100, 1)), chance.uniform(-1, 1, (100, 12))])
    rows = FitRows(columns, np.ones(100), chance.standard_normal(100), np.ones(100))
    found = choose(rows, "straight", 1, 6)
    assert found.terms == (0,)
    assert found.error == pytest.approx(1.0, abs=0.4)


@pytest.mark.slow
def test_limits_hold_the_true_coefficients_as_often_as_they_say():
    inside = []
    for seed in range(20):
        fit = fitted(data(seed, 80).terms((0, 1, 2)), "straight", seed)
        true = np.array([1.0, 2.0, -0.5])
        inside += list((fit.low < true) & (true < fit.high))
    assert 0.85 < np.mean(inside) <= 1.0


def test_left_out_is_what_refitting_without_each_gives():
    rows = data(7, 40).terms((0, 1, 2, 3))
    weight = np.random.default_rng(8).uniform(0.5, 2.0, 40)
    rows = FitRows(rows.columns, rows.scale, rows.turn, weight)
    apart = left_out(rows, "straight", solve(rows, "straight"))
    for k in range(40):
        other = solve(rows.some(np.flatnonzero(np.arange(40) != k)), "straight")
        assert apart[k] == pytest.approx(rows.turn[k] - rows.columns[k] @ other)


def test_covariance_is_that_of_many_repeats():
    rows = data(3, 60).terms((0, 1, 2))
    chance = np.random.default_rng(4)

    def again():
        turn = rows.columns @ np.array([1.0, 2.0, -0.5])
        turn = turn + 0.3 * chance.standard_normal(60)
        return FitRows(rows.columns, rows.scale, turn, np.ones(60))

    repeats = [solve(again(), "straight") for _ in range(300)]
    spread = np.sqrt(np.diag(fitted(again(), "straight").covariance))
    assert spread == pytest.approx(np.std(repeats, axis=0), rel=0.35)


def test_the_rounded_bend_is_solved_as_a_general_library_does():
    """scipy.optimize.least_squares from another start."""
    rows = data(2, 80).terms((0, 1, 2))
    chance = np.random.default_rng(2)
    scale = chance.uniform(1.0, 3.0, 80)
    true = np.array([0.2, 1.0, -0.5])
    turn = scale * bent("rounded", rows.columns @ true)[0]
    rows = FitRows(
        rows.columns, scale, turn + 0.02 * chance.standard_normal(80),
        chance.uniform(5.0, 20.0, 80),
    )  # fmt: skip
    found = solve(rows, "rounded")
    other = least_squares(
        lambda c: rows.weight * (rows.turn - predicted(rows, "rounded", c)), np.zeros(3)
    )
    assert found == pytest.approx(other.x, abs=1e-5)
    assert found == pytest.approx(true, abs=0.05)
    slopes = slopes_of(rows, "rounded", found)
    assert slopes == pytest.approx(-other.jac, abs=1e-3 * np.abs(other.jac).max())


@given(st.floats(-20.0, 20.0))
def test_the_rounded_bend_is_never_negative_and_straight_far_out(x):
    value, slope = bent("rounded", np.array([x]))
    step = 1e-6
    other = bent("rounded", np.array([x - step, x + step]))[0]
    assert value[0] >= 0.0
    assert slope[0] == pytest.approx((other[1] - other[0]) / (2.0 * step), abs=1e-6)
    if x > 10.0 * ROUND:
        assert value[0] == pytest.approx(x, abs=1e-4)
    if x < -10.0 * ROUND:
        assert value[0] == pytest.approx(0.0, abs=1e-4)


@pytest.mark.slow
@pytest.mark.parametrize("bend", ["straight", "rounded"])
def test_the_bend_that_made_the_data_is_chosen(bend):
    chance = np.random.default_rng(11)
    values = {n: chance.uniform(-1.0, 1.0, 70) for n in "mdwoshayt"}
    values |= {n: np.round(chance.random(70)) for n in "jk"} | {"f": np.zeros(70)}
    scale = chance.uniform(1.0, 4.0, 70)
    x = 0.1 + 2.0 * values["m"] + 0.5 * values["w"]
    turn = scale * bent(bend, x)[0] + 0.05 * chance.standard_normal(70)
    found = formula_for(values, scale, turn)
    assert found.bend == bend
    assert set(found.terms) >= {(), ("m",), ("w",)}
    told_of = dict(zip(found.terms, found.fit.coefficients, strict=True))
    assert told_of["m",] == pytest.approx(2.0, abs=0.15)
    assert told_of["w",] == pytest.approx(0.5, abs=0.1)


@pytest.mark.parametrize(
    ("absolute", "relative"), [(0.3, 0.0), (0.1, 0.2), (0.06, 0.3)]
)
def test_scatter_is_told_in_its_two_parts(absolute, relative):
    chance = np.random.default_rng(2)
    turn = chance.uniform(0.0, 5.0, 4000)
    sigma = np.hypot(absolute, relative * turn)
    found = scatter_of(sigma * chance.standard_normal(4000), turn)
    for at in (0.1, 1.0, 4.0):
        true = math.hypot(absolute, relative * at)
        assert float(found.sigma(at)) == pytest.approx(true, rel=0.15, abs=0.02)


# the guard


def test_leverages_of_the_data_sum_to_the_number_of_coefficients():
    chance = np.random.default_rng(1)
    values = {name: chance.standard_normal(50) for name in "mdw"}
    guard = guard_of([], "mdw", values)
    rows = [{n: float(v[k]) for n, v in values.items()} for k in range(50)]
    found = [leverage(guard, row) for row in rows]
    assert sum(found) == pytest.approx(4.0)
    assert max(found) == pytest.approx(guard.most)
    assert leverage(guard, {n: float(v.mean()) for n, v in values.items()}) == (
        pytest.approx(1.0 / 50)
    )


def test_an_empty_corner_of_the_box_is_outside():
    chance = np.random.default_rng(3)
    x = chance.uniform(-1.0, 1.0, 200)
    values = {"m": x, "d": x + 0.05 * chance.standard_normal(200)}
    box = [Range("m", "moment", "", -1.0, 1.0)]
    guard = guard_of(box, "md", values)
    assert outside(guard, {"m": 0.9}, {"m": 0.9, "d": 0.9}) == []
    assert "combination" in outside(guard, {"m": 0.9}, {"m": 0.9, "d": -0.9})[0]
    assert outside(guard, {"m": 1.1}, {"m": 1.1, "d": 1.1}) == [
        "moment 1.1 is outside what was computed, -1 to 1"
    ]

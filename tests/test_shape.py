"""The shape told from readings: what is found, how surely, and what is said of it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import curve_fit

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, offsets
from shrinksim.member.survey.readings import Readings
from shrinksim.member.survey.shape import Shape, fit_shape

LENGTH, ERROR = 12.0, 1.5e-3


def read(bends, stations, rng=None, error=ERROR, length=LENGTH):
    """Readings of a bent member against a string that stands anyhow."""
    x = np.linspace(0.0, length, stations) if np.isscalar(stations) else stations
    y = offsets(bends, x, length)
    if rng is not None:
        y = y + rng.normal(0.0, error, len(x))
        y = y + rng.normal(0.0, 0.02) + rng.normal(0.0, 0.003) * x
    return Readings("camber", x, y, error)


def fit(bends, stations, rng=None, error=ERROR) -> Shape:
    return fit_shape(read(bends, stations, rng, error), LENGTH)


def some_kinks(rng, number, apart=3.5, least=12e-3):
    """Kinks of 12 to 25 mrad either way, well apart and 1.5 m from the ends or more."""
    at = np.sort(rng.uniform(1.5, LENGTH - 1.5, number))
    while number > 1 and np.diff(at).min() < apart:
        at = np.sort(rng.uniform(1.5, LENGTH - 1.5, number))
    turn = rng.uniform(least, 25e-3, number) * rng.choice([-1.0, 1.0], number)
    return [Bend(float(a), float(t)) for a, t in zip(at, turn, strict=True)]


BEAM_LINES = [
    (Bend(2.0, 5e-3), 20.0 / 3.0, 2.0),
    (Bend(3.0, 24e-3, 6.0), 18.0, 3.0),
    (Bend(3.0, 4.8e-3, 1.2), 6.48, 3.0),
]


@pytest.mark.parametrize(("bend", "stands", "at"), BEAM_LINES)
def test_beam_lines(bend, stands, at):
    """Moment areas (O. Mohr 1868; any handbook, from memory), a member 6 m long: a kink
    of 5 mrad at 2 m stands off 20/3 mm there; 4e-6 1/mm all along 18 mm in the middle,
    over the middle 1.2 m 6.48 mm.
    """
    x = np.linspace(0.0, 6.0, 25)
    shape = fit_shape(Readings("sweep", x, offsets([bend], x, 6.0), 2e-5), 6.0)
    (found,) = shape.bends
    assert found.turn == pytest.approx(bend.turn, rel=2e-3)
    assert found.at == pytest.approx(bend.at, abs=2e-3)
    assert found.length == pytest.approx(bend.length, abs=0.03)
    assert np.interp(at, shape.x, shape.line) == pytest.approx(stands * 1e-3, rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize(("number", "stations"), [(1, 13), (1, 25), (2, 25)])
def test_kinks_are_recovered_within_their_sigma(number, stations):
    """Within 3 sigma in 95 of 100 surveys, and sigma neither too large nor too small."""
    rng, pulls, good, trials = np.random.default_rng(17), [], 0, 120
    for _ in range(trials):
        kinks = some_kinks(rng, number)
        shape = fit(kinks, stations, rng)
        if len(shape.bends) != number:
            continue
        off = [
            (found.turn - true.turn) / found.sigma
            for found, true in zip(shape.bends, kinks, strict=True)
        ]
        pulls += off
        good += max(map(abs, off)) < 3.0
    assert good >= 0.95 * trials
    assert 0.8 <= np.std(pulls) <= 1.25
    assert abs(np.mean(pulls)) < 0.4


@pytest.mark.slow
def test_band_holds_the_line():
    """Over surveys of one to three bends of any kind, also those that come out merged."""
    rng, pulls = np.random.default_rng(23), []
    for _ in range(90):
        kinds = rng.choice([0.0, 2.0, LENGTH], 1 + rng.integers(2))
        bends = some_kinks(rng, len(kinds))
        bends = [
            Bend(
                0.5 * LENGTH if s == LENGTH else np.clip(b.at, 2, 10), b.turn, float(s)
            )
            for b, s in zip(bends, kinds, strict=True)
        ]
        shape = fit(bends, 21, rng)
        off = (shape.line - offsets(bends, shape.x, LENGTH))[40:-40:50]
        pulls.append(off / shape.band[40:-40:50])
    assert 0.8 <= np.sqrt(np.mean(np.square(pulls))) <= 1.25
    assert np.mean(np.abs(pulls) < 2.0) >= 0.9


@pytest.mark.slow
@pytest.mark.parametrize("stations", [5, 9, 13, 30])
def test_noise_on_a_straight_member_is_no_bend(stations):
    rng = np.random.default_rng(stations)
    shapes = [fit([], stations, rng) for _ in range(120)]
    straight = [s for s in shapes if not s.bends and not s.misread]
    assert len(straight) >= 0.9 * len(shapes)
    assert all(s.band[len(s.x) // 2] > 0.1 * ERROR for s in straight)
    assert all(s.total_sigma > 0.0 for s in straight)


@pytest.mark.slow
@pytest.mark.parametrize("stations", [7, 13, 30])
def test_mill_camber_is_one_bow(stations):
    rng = np.random.default_rng(stations)
    shapes = [fit([Bend(6.0, 25e-3, 12.0)], stations, rng) for _ in range(60)]
    bows = [s for s in shapes if [b.length for b in s.bends] == [LENGTH]]
    assert len(bows) >= 0.9 * len(shapes)
    # sigma also holds that it may end short of the ends, so that it is wide here
    pulls = [(s.bends[0].turn - 25e-3) / s.bends[0].sigma for s in bows]
    assert np.std(pulls) <= 1.25
    assert all(s.bends[0].sigma < 6e-3 for s in bows)


def test_one_kink_against_a_general_least_squares_library():
    """scipy.optimize.curve_fit on two straight lines, with the known reading error."""

    def two_lines(x, height, slope, turn, at):
        return height + slope * x - turn * np.maximum(x - at, 0.0)

    rng = np.random.default_rng(4)
    for _ in range(10):
        (kink,) = some_kinks(rng, 1)
        readings = read([kink], 25, rng)
        shape = fit_shape(readings, LENGTH)
        (found,) = shape.bends
        if found.length > 0.0:
            continue
        start = [0.0, 0.0, found.turn, found.at]
        sigma = np.full(25, ERROR)
        best, cov = curve_fit(
            two_lines, readings.x, readings.offset, start, sigma, absolute_sigma=True
        )
        rest = readings.offset - two_lines(readings.x, *best)
        assert shape.residual <= np.sqrt(np.mean(rest**2)) * (1.0 + 1e-6)
        assert found.turn == pytest.approx(best[2], abs=0.05 * found.sigma)
        # ours also holds that it may be a curve
        assert 0.95 * np.sqrt(cov[2, 2]) <= found.sigma <= 2.5 * np.sqrt(cov[2, 2])


@pytest.mark.slow
@given(st.floats(-0.05, 0.05), st.floats(-5e-3, 5e-3), st.integers(0, 50))
@settings(max_examples=15, deadline=None)
def test_the_string_may_stand_anyhow(height, slope, seed):
    rng = np.random.default_rng(seed)
    readings = read(some_kinks(rng, 2), 21, rng)
    moved = readings.offset + height + slope * readings.x
    one = fit_shape(readings, LENGTH)
    other = fit_shape(Readings("camber", readings.x, moved, ERROR), LENGTH)
    assert len(one.bends) == len(other.bends)
    np.testing.assert_allclose(one.line, other.line, atol=2e-6)


@given(st.integers(0, 50))
@settings(max_examples=10, deadline=None)
def test_upside_down_and_from_the_other_end(seed):
    rng = np.random.default_rng(seed)
    readings = read(some_kinks(rng, 1), 21, rng)
    one = fit_shape(readings, LENGTH)
    over = fit_shape(Readings("camber", readings.x, -readings.offset, ERROR), LENGTH)
    back = Readings("camber", LENGTH - readings.x[::-1], readings.offset[::-1], ERROR)
    other = fit_shape(back, LENGTH)
    np.testing.assert_allclose(over.line, -one.line, atol=1e-5)
    np.testing.assert_allclose(other.line[::-1], one.line, atol=1e-4)
    assert other.total == pytest.approx(one.total, abs=0.1 * one.total_sigma)


def test_more_error_less_certainty():
    rng = np.random.default_rng(8)
    noise = rng.normal(0.0, 1.0, 21)
    x = np.linspace(0.0, LENGTH, 21)
    line = offsets([Bend(5.0, 40e-3)], x, LENGTH)
    sigmas = [
        fit_shape(Readings("camber", x, line + e * noise, e), LENGTH).bends[0].sigma
        for e in (1e-3, 2e-3, 4e-3)
    ]
    assert sigmas[0] < sigmas[1] < sigmas[2]


def test_turn_needed_is_the_other_way():
    shape = fit([Bend(4.0, 20e-3), Bend(9.0, -15e-3)], 25, np.random.default_rng(1))
    assert np.sign(shape.needed).tolist() == [-1.0, 1.0]
    assert shape.total == pytest.approx(sum(b.turn for b in shape.bends))
    assert shape.covariance.shape == (2, 2)
    sigma = [b.sigma for b in shape.bends]
    np.testing.assert_allclose(np.sqrt(np.diag(shape.covariance)), sigma)


def codes(shape):
    return {caution.code for caution in shape.cautions}


def test_a_reading_that_no_bend_explains_is_left_out_and_said():
    readings = read([Bend(5.0, 20e-3)], 17, np.random.default_rng(2))
    y = readings.offset.copy()
    y[11] += 0.020
    shape = fit_shape(Readings("camber", readings.x, y, ERROR), LENGTH)
    assert shape.misread == (pytest.approx(readings.x[11]),)
    assert "misread" in codes(shape)
    (bend,) = shape.bends
    assert abs(bend.turn - 20e-3) < 4.0 * bend.sigma


@pytest.mark.slow
def test_scatter_beyond_the_stated_error_is_noticed():
    rng = np.random.default_rng(3)
    found = []
    for _ in range(10):
        readings = read([Bend(5.0, 25e-3)], 30, rng, 6e-3)
        shape = fit_shape(
            Readings("camber", readings.x, readings.offset, ERROR), LENGTH
        )
        found.append("scatter" in codes(shape) and len(shape.bends) <= 3)
        assert shape.reading_error >= ERROR
    assert sum(found) >= 9


def test_readings_finer_than_stated_are_noticed():
    readings = read([Bend(5.0, 25e-3)], 30, np.random.default_rng(3), 2e-4)
    told = Readings("camber", readings.x, readings.offset, 3e-3)
    assert "neat" in codes(fit_shape(told, LENGTH))


def test_what_few_or_missing_readings_leave_open_is_said():
    three = fit([Bend(6.0, 20e-3)], 3)
    assert "few readings" in codes(three)
    assert len(three.bends) == 1
    inner = fit([Bend(6.0, 20e-3)], np.linspace(1.0, 10.0, 19))
    assert "unread ends" in codes(inner)
    end = fit([Bend(0.6, 30e-3)], 13, np.random.default_rng(1))
    assert "end bend" in codes(end)
    turn = next(b for b in end.bends if b.at < 2.0)
    assert turn.sigma > 2e-3


def test_two_near_kinks_come_out_as_one_curve():
    shape = fit([Bend(5.8, 10e-3), Bend(6.3, 10e-3)], 13, np.random.default_rng(5))
    (bend,) = shape.bends
    assert abs(bend.turn - 20e-3) < 3.0 * bend.sigma


def test_a_splice_needs_readings_on_both_pieces():
    readings = read([], 13)
    with pytest.raises(CaseError, match="fewer than two readings") as caught:
        fit_shape(readings, LENGTH, splices=(0.5, 11.6))
    assert len(caught.value.problems) == 2


@pytest.mark.slow
@given(st.data())
@settings(max_examples=60, deadline=None)
def test_any_readings_give_a_finite_shape(data):
    count = data.draw(st.integers(3, 14))
    gaps = data.draw(st.lists(st.floats(0.05, 3.0), min_size=count, max_size=count))
    x = np.cumsum(gaps) - gaps[0]
    x *= LENGTH / x[-1]
    heights = st.floats(-0.3, 0.3, allow_subnormal=False)
    y = data.draw(st.lists(heights, min_size=count, max_size=count))
    error = data.draw(st.sampled_from([1e-5, 1e-3, 1e-2]))
    splices = ()
    if count >= 4 and data.draw(st.booleans()):
        splices = (float(0.5 * (x[1] + x[2])),)
    shape = fit_shape(Readings("sweep", x, np.array(y), error), LENGTH, splices)
    assert np.isfinite(shape.line).all()
    assert np.isfinite(shape.band).all()
    assert (shape.band >= 0.0).all()
    assert np.isfinite(shape.total_sigma)
    sigma = [b.sigma for b in shape.bends]
    assert np.isfinite(sigma).all()
    assert shape.at_sigma.shape == (len(sigma),)
    assert all(0.0 <= b.at <= LENGTH for b in shape.bends)
    assert shape.line[0] == pytest.approx(0.0, abs=1e-9)
    assert shape.line[-1] == pytest.approx(0.0, abs=1e-9)
    made = offsets(shape.bends, shape.x, LENGTH)
    for step in shape.steps:
        made = made + step.height * ((shape.x > step.at) - shape.x / LENGTH)
    np.testing.assert_allclose(made, shape.line, atol=1e-7)

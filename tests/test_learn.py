"""What is learnt from a log, against the normal mean with known variance and by trials."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from test_log import heat

from shrinksim.member.log import learn as learning
from shrinksim.member.log.diagnosis import checks_before_next_heat, findings_in_words
from shrinksim.member.log.learn import (
    PRIOR_SIGMA,
    SCATTERS,
    WRONG,
    ObservedHeat,
    evaluate_heats,
    observed_heat,
    shop_factor,
)

M = 2e-3
"""rad, an expected movement."""


def moves(ratios, error=0.05, expected=M):
    return [
        ObservedHeat(k, expected, r * expected, error * expected)
        for k, r in enumerate(ratios)
    ]


def drawn(rng, f, count, scatter, error, wrong=0.0):
    """Ratios of moved to expected as the model draws them."""
    s = np.exp(rng.normal(-0.5 * scatter**2, scatter, count))
    ratios = f * s + rng.normal(0.0, error, count)
    ill = rng.random(count) < wrong
    return np.where(ill, rng.standard_cauchy(count), ratios)


def test_without_heats_it_is_the_prior():
    prior = shop_factor([])
    z = 1.6448536269514722  # 95 % point of the normal distribution
    assert prior.median == pytest.approx(1.0, rel=1e-4)
    assert prior.low == pytest.approx(np.exp(-z * PRIOR_SIGMA), rel=1e-3)
    assert prior.high == pytest.approx(np.exp(z * PRIOR_SIGMA), rel=1e-3)
    assert prior.mean == pytest.approx(np.exp(PRIOR_SIGMA**2 / 2), rel=1e-3)


@pytest.mark.parametrize("scatter", [0.25, 0.5])
@pytest.mark.parametrize("ratios", [[0.7], [0.5, 0.9, 1.4], [2.0] * 8])
def test_exact_readings_give_the_normal_mean_with_known_variance(ratios, scatter):
    """Gelman et al., Bayesian Data Analysis, 3rd ed., eq. 2.12 (from memory)."""
    found = shop_factor(moves(ratios, error=1e-6), scatters=(scatter,), wrong=0.0)
    z = np.log(ratios) + 0.5 * scatter**2
    weight = 1.0 / PRIOR_SIGMA**2 + len(z) / scatter**2
    centre, spread = z.sum() / scatter**2 / weight, weight**-0.5
    assert np.log(found.median) == pytest.approx(centre, abs=2e-3)
    assert np.log(found.high) == pytest.approx(centre + 1.64485 * spread, abs=4e-3)
    assert np.log(found.low) == pytest.approx(centre - 1.64485 * spread, abs=4e-3)
    assert found.mean == pytest.approx(np.exp(centre + spread**2 / 2), rel=3e-3)
    # a log-normal product: its squared relative spread is exp(sum of variances) - 1
    both = np.sqrt(np.exp(spread**2 + scatter**2) - 1.0)
    assert found.single == pytest.approx(both, rel=1e-2)


@pytest.mark.parametrize("f", [0.4, 1.0, 2.2])
@pytest.mark.parametrize("wrong", [0.0, 0.1])
def test_many_heats_find_the_true_factor(f, wrong):
    rng = np.random.default_rng(7)
    error = 0.1 * f
    found = shop_factor(moves(drawn(rng, f, 300, 0.35, error, wrong), error))
    spread = np.hypot(0.35, 0.1) / np.sqrt(300)  # of a mean of ln f and its readings
    assert np.log(found.median / f) == pytest.approx(0.0, abs=4 * spread)
    assert found.high / found.low < 1.15
    assert found.scatter == pytest.approx(0.35, abs=0.02)


@pytest.mark.slow
@pytest.mark.parametrize("error", [0.05, 0.4])
def test_nine_intervals_in_ten_hold_the_factor_they_were_drawn_with(error):
    """Ranks of draws in their posteriors are even (simulation-based calibration)."""
    rng = np.random.default_rng(11)
    inside, below = [], []
    for _ in range(500):
        f = np.exp(rng.normal(0.0, PRIOR_SIGMA))
        count = int(rng.integers(1, 7))
        scatter = rng.choice(SCATTERS)
        found = shop_factor(moves(drawn(rng, f, count, scatter, error, WRONG), error))
        inside.append(found.low <= f <= found.high)
        below.append(f < found.median)
    three = 3.0 / np.sqrt(500)  # standard deviations of a share
    assert np.mean(inside) == pytest.approx(0.9, abs=three * 0.3)
    assert np.mean(below) == pytest.approx(0.5, abs=three * 0.5)


def test_the_spread_of_the_next_heat_is_told_right():
    rng = np.random.default_rng(5)
    z = []
    for _ in range(400):
        f, scatter = np.exp(rng.normal(0.0, PRIOR_SIGMA)), rng.choice(SCATTERS)
        *past, following = drawn(rng, f, 4, scatter, 0.02)
        found = shop_factor(moves(past, error=0.02))
        z.append((following - found.mean) / (found.single * found.mean))
    assert np.mean(z) == pytest.approx(0.0, abs=3 / 20)
    assert np.std(z) == pytest.approx(1.0, abs=0.2)


RATIOS = st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=6)


@settings(max_examples=60, deadline=None)
@given(RATIOS, st.floats(1e-4, 10.0), st.randoms(use_true_random=False))
def test_any_readings_in_any_order_give_one_finite_answer(ratios, error, random):
    found = shop_factor(moves(ratios, error))
    values = [found.low, found.median, found.high, found.mean, found.single]
    assert np.all(np.isfinite(values))
    assert 0.0 < found.low <= found.median <= found.high
    assert all(-1e-9 <= w <= 1.0 + 1e-9 for w in found.wrong)
    random.shuffle(ratios)
    again = shop_factor(moves(ratios, error))
    assert again.median == pytest.approx(found.median, rel=1e-9)
    assert again.high == pytest.approx(found.high, rel=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.floats(1e-3, 1e3))
def test_only_ratios_count(scale):
    a = shop_factor(moves([0.5, 1.2, -0.4]))
    b = shop_factor(moves([0.5, 1.2, -0.4], expected=M * scale))
    assert b.median == pytest.approx(a.median, rel=1e-6)


def test_a_heat_that_went_wrong_does_not_move_the_factor():
    good = [0.8, 0.9, 0.7, 0.85]
    clean, odd = shop_factor(moves(good)), shop_factor(moves([*good, -1.5]))
    assert odd.median == pytest.approx(clean.median, rel=0.02)
    assert odd.wrong[-1] > 0.99
    assert max(odd.wrong[:-1]) < 0.05


@pytest.mark.parametrize("side", ["top", "bottom", "right", "left"])
def test_readings_tell_the_turn_of_a_kink(side):
    """A kink phi at a, b from the ends lifts its place by phi a b / L (geometry)."""
    sign = 1.0 if side in {"top", "right"} else -1.0
    plane = "camber" if side in {"top", "bottom"} else "sweep"
    a, b, turn = 4.0, 8.0, 2e-3
    fall = sign * turn * a * b / 12.0
    half = sign * turn * (a / 2) * b / 12.0
    texts = [
        f"{plane} 4 m: {0.05:.6f} m to {0.05 - fall:.6f} m",
        f"{plane} 2 m: {0.02:.6f} m to {0.02 - half:.6f} m",
    ]
    one = observed_heat(heat(1, 4.0, side, texts[:1]), 12.0, 1e-3)
    assert one.observed == pytest.approx(turn, rel=2e-3)
    assert one.error == pytest.approx(1e-3 * np.sqrt(2) / (a * b / 12.0))
    two = observed_heat(heat(1, 4.0, side, texts), 12.0, 1e-3)
    assert two.observed == pytest.approx(turn, rel=2e-3)
    assert two.error < one.error
    other = "sweep" if plane == "camber" else "camber"
    assert (
        observed_heat(heat(1, 4.0, side, [texts[0].replace(plane, other)]), 12.0, 1e-3)
        is None
    )
    assert observed_heat(heat(1, 4.0, side, texts, expected=None), 12.0, 1e-3) is None
    assert (
        observed_heat(heat(1, 4.0, side, [f"{plane} 0 m: 1 mm to 2 mm"]), 12.0, 1e-3)
        is None
    )


def said(ratios, error=0.5e-3, ratio=0.1, expected=M):
    """Learnt from heats at mid-span of 12 m that moved ``ratios`` of 2 mrad (6 mm)."""
    heats, now = [], 0.1
    for k, r in enumerate(ratios, start=1):
        then = now - r * M * 3.0
        text = f"6 m: {now:.6f} m to {then:.6f} m"
        heats.append(heat(k, 6.0, "top", [text], expected=expected, moment_ratio=ratio))
        now = then
    return evaluate_heats(heats, 12.0, error)


@pytest.mark.parametrize(
    ("ratios", "error", "behaviour"),
    [
        ([], 1e-3, "no readings"), ([1.0, 0.8], 5e-4, "as predicted"),
        ([0.4] * 5, 5e-4, "less"), ([2.2] * 5, 5e-4, "more"),
        ([1.0, -1.0], 5e-4, "backwards"), ([-1.0, 1.0], 5e-4, "backwards"),
        ([1.0, -1.0, 1.0], 5e-4, "as predicted"), ([1.0], 10e-3, "cannot tell"),
        ([-0.1], 5e-3, "cannot tell"),
    ],
)  # fmt: skip
def test_how_it_behaves(ratios, error, behaviour):
    findings = said(ratios, error)
    assert findings.diagnosis == behaviour
    assert findings_in_words(findings)
    fine = behaviour in {"as predicted", "no readings"}
    assert (checks_before_next_heat(findings) == ()) == fine


def test_backwards_is_told_with_its_numbers_and_the_load_first():
    findings = said([1.0, -1.0], ratio=-0.08)
    words = " ".join(findings_in_words(findings))
    assert "went backwards" in words
    assert "Heat 2 turned the member 2.0 mrad the wrong way; expected were 2.0" in words
    assert "-0.08 Mp" in checks_before_next_heat(findings)[0]
    assert "turn the member over" in checks_before_next_heat(findings)[0]
    helped = said([1.0, -1.0], ratio=0.2)
    assert "read cold" in checks_before_next_heat(helped)[0]
    assert "+0.20 Mp" in checks_before_next_heat(helped)[-1]
    unknown = said([1.0, -1.0], ratio=None)
    assert "Does the load press" in checks_before_next_heat(unknown)[0]


def test_heats_without_a_plan_are_left_out_and_said():
    heats = [heat(1, expected=None), heat(2), heat(3, readings=())]
    findings = evaluate_heats(heats, 12.0, 1e-3)
    assert findings.unread == (1, 3)
    assert [h.number for h in findings.heats] == [2]
    assert "left out: heat 1, 3" in " ".join(findings_in_words(findings))


def test_the_scatter_is_of_many_sizes_and_the_grid_fine_enough(monkeypatch):
    coarse = shop_factor(moves([0.5, 1.1, 0.9], error=0.08))
    monkeypatch.setattr(learning, "STEP", 0.0025)
    monkeypatch.setattr(learning, "LOG_F", np.arange(-4.0, 3.0, 0.0025))
    fine = shop_factor(moves([0.5, 1.1, 0.9], error=0.08))
    for name in ("low", "median", "high", "mean", "single"):
        assert getattr(coarse, name) == pytest.approx(getattr(fine, name), rel=2e-3)


def test_a_line_over_the_member_reads_the_other_way():
    """The same heat, read from below and from above: the same turn."""
    below = heat(readings=("6 m: 60 mm to 52 mm",))
    above = heat(readings=("6 m: 40 mm to 48 mm",))
    one = observed_heat(below, 12.0, 1e-3)
    two = observed_heat(above, 12.0, 1e-3, inverted_planes=("camber",))
    assert one is not None
    assert two is not None
    assert one.observed == pytest.approx(two.observed)
    assert one.observed > 0.0

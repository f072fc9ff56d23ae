"""Movements of heats against the moment: the runs behind them, and between the runs."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_job import BAR, BEAM, changed, read

from shrinksim.errors import CaseError
from shrinksim.member.plan.estimate import estimated_curves, published
from shrinksim.member.plan.patterns import patterns_of
from shrinksim.member.plan.response import (
    RATIOS,
    CurveRequest,
    ResponseCurve,
    computed_ratios,
    heat_case,
    heat_response,
    model_curves,
    response_at,
    scaled,
    turn_at,
    utilisation_at,
)
from shrinksim.runs.sweep import run_cases
from shrinksim.shop.sections.i_section import ISection

COARSE = {"element": "16 mm", "heat_tolerance": "16 K", "temperature_step": "80 K"}
VEE = np.radians(45.0)


def curve(ratio, turn, use=None):
    k = len(ratio)
    use = np.abs(ratio) * 1.2 if use is None else np.array(use)
    flat = [np.full(k, v) for v in (1e-4, 640.0, 60.0, 1800.0, 2e5)]
    return ResponseCurve(np.array(ratio), np.array(turn), *flat, use, 0.2, "made up")


@settings(max_examples=200, deadline=None)
@given(
    steps=st.lists(st.floats(0.01, 1.0), min_size=2, max_size=7),
    values=st.lists(
        st.floats(-5.0, 5.0).map(lambda turn: round(turn, 9)), min_size=8, max_size=8
    ),
)
def test_a_curve_rises_and_falls_no_more_than_its_runs(steps, values):
    x = np.cumsum([0.0, *steps])
    made = curve(x, values[: len(x)])
    at = np.linspace(x[0], x[-1], 101)
    i = np.clip(np.searchsorted(x, at, side="right") - 1, 0, len(x) - 2)
    ends = np.stack([made.turn[i], made.turn[i + 1]])
    found = turn_at(made, at)
    assert np.all(found >= ends.min(axis=0) - 1e-9)
    assert np.all(found <= ends.max(axis=0) + 1e-9)


@given(a=st.floats(-0.6, 0.6), b=st.floats(-0.6, 0.6))
def test_nodes_enclose_what_is_asked(a, b):
    low, high = sorted((a, b))
    found = computed_ratios(low, high)
    assert len(found) >= 3
    assert set(found) <= set(RATIOS)
    assert found == tuple(sorted(found))
    assert found[0] <= max(low, RATIOS[0]) + 1e-9
    assert found[-1] >= min(high, RATIOS[-1]) - 1e-9


def test_a_curve_goes_through_its_runs_and_stays_between_them():
    made = curve([-0.1, 0.0, 0.1, 0.2], [1e-3, 1.5e-3, 2.5e-3, 4e-3])
    assert turn_at(made, made.ratio) == pytest.approx(made.turn)
    inside = turn_at(made, np.linspace(-0.1, 0.2, 50))
    assert np.all(np.diff(inside) > 0.0)
    assert turn_at(made, 0.9) == pytest.approx(4e-3)


def test_margin_falls_with_the_moment_and_beyond_the_runs():
    made = curve([-0.1, 0.0, 0.1, 0.2], [1e-3, 1.5e-3, 2.5e-3, 4e-3])
    assert response_at(made, 0.0).hinge_margin is None
    assert response_at(made, 0.1).hinge_margin == pytest.approx(1.0 / 0.12)
    assert utilisation_at(made, 0.4) == pytest.approx(2.0 * utilisation_at(made, 0.2))


def test_a_run_that_folded_gives_a_margin_but_no_movement():
    made = curve([0.0, 0.2, 0.5], [1.5e-3, 4e-3, np.nan], use=[0.0, 0.4, 1.1])
    assert turn_at(made, 0.5) == pytest.approx(4e-3)
    assert response_at(made, 0.5).hinge_margin < 1.0
    assert 1.0 < response_at(made, 0.3).hinge_margin < 2.5


def test_a_small_movement_is_not_known_better_than_a_share_of_a_large_one():
    made = curve([-0.1, 0.0, 0.1], [0.0, 1e-3, 2e-3])
    assert response_at(made, -0.1).sigma == pytest.approx(
        0.3 * response_at(made, 0.1).sigma
    )


def test_a_repeat_moves_less_and_scales():
    made = curve([0.0, 0.1, 0.2], [1e-3, 2e-3, 3e-3])
    assert response_at(made, 0.1, 0.72).turn == pytest.approx(1.44e-3)
    half = scaled(made, 0.5)
    assert turn_at(half, 0.1) == pytest.approx(1e-3)
    assert response_at(half, 0.1).peak == 640.0


def test_the_case_of_a_heat_says_what_the_job_says():
    job = read(changed(BEAM, steel__yield_stress="300 MPa", numerics=COARSE))
    patterns = patterns_of(job, "camber", "top", np.radians(30.0))
    case = heat_case(job, "camber", patterns, -0.05)
    assert (case.member.section, case.member.axis) == ("IPE 300", "strong")
    assert [p.kind for p in case.heats[0].patterns] == ["vee", "strip"]
    assert case.load.kind == "weight"
    assert case.load.moment_ratio == pytest.approx(-0.05)
    assert case.load.removed == "never"
    assert case.steel.yield_stress == pytest.approx(300e6)
    assert case.numerics.element == pytest.approx(0.016)
    vees = patterns_of(job, "sweep", "right", 0.5)
    weak = heat_case(job, "sweep", vees, 0.0, visits=3)
    assert (weak.member.axis, weak.load.kind) == ("weak", "none")
    assert len(weak.heats) == 3


def test_us_units_do_not_change_the_heat():
    job, us = read(BAR), read(changed(BAR, print_units="us"))
    vee = patterns_of(job, "camber", "top", VEE)
    one, other = (heat_case(j, "camber", vee, 0.1) for j in (job, us))
    assert one.torch == other.torch
    assert one.member == other.member


@pytest.mark.parametrize(
    ("angle", "ratio", "mrad"),
    [
        (20, 0.0, 1.02),
        (30, 0.0, 1.53),
        (45, 0.25, 4.19),
        (60, 0.5, 8.04),
        (45, 0.16, 3.50),
    ],
)
def test_quick_plates_follow_the_published_relation(angle, ratio, mrad):
    """Avent, Mukai & Robinson 2000 / FHWA guide ch. 5, values from memory."""
    plate = read(BAR).member.shape
    found = published(plate, np.radians(angle), 0.75, 650.0, ratio, read(BAR).cooling)
    assert found[0] * 1e3 == pytest.approx(mrad, abs=0.006)


def test_quick_refuses_i_sections_and_says_where_it_comes_from():
    job = read(BAR)
    vee = patterns_of(job, "camber", "top", VEE)
    made = estimated_curves(
        job, [CurveRequest("camber", vee, job.cooling, (0.0, 0.1))]
    )[0]
    assert "from memory" in made.source
    assert 10.0 < made.heating_time[0] < 120.0
    beam = read(BEAM)
    assert isinstance(beam.member.shape, ISection)
    asked = CurveRequest("camber", vee, beam.cooling, (0.0, 0.1))
    with pytest.raises(CaseError, match="no published relation for I-sections"):
        estimated_curves(beam, [asked], published)


@pytest.mark.slow
def test_a_moment_that_helps_moves_more_and_runs_are_kept(tmp_path):
    """Law: more moment in the straightening sense, more movement (FHWA ch. 5).

    And between the runs the curve is near to a run that it has not seen.
    """
    job = read(changed(BAR, numerics=COARSE))
    vee = patterns_of(job, "camber", "top", VEE)
    asked = CurveRequest("camber", vee, job.cooling, (-0.05, 0.1))
    (made,) = model_curves(job, [asked], tmp_path, jobs=0)
    assert np.all(np.diff(made.turn) > 0.0)
    assert np.all(made.peak > 600.0)
    assert made.utilisation[np.argmin(np.abs(made.ratio))] == 0.0
    size = (tmp_path / "index.jsonl").stat().st_size
    got = heat_response(job, "camber", vee, 0.05, store=tmp_path, jobs=0)
    assert (tmp_path / "index.jsonl").stat().st_size == size
    assert got.turn == pytest.approx(float(turn_at(made, 0.05)))
    (row,) = run_cases([heat_case(job, "camber", vee, 0.07)], tmp_path, 0)
    turn = row.summary["rotation_mrad"] * 1e-3
    assert float(turn_at(made, 0.07)) == pytest.approx(turn, rel=0.02)

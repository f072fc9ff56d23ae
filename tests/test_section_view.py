"""The section view on small cases: laws of nature first, then what people rely on."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from section_jobs import BEAM, PLATE, cut_job

import shrinksim
from shrinksim.fem.basis import locate
from shrinksim.views.result import Result
from shrinksim.views.section.cautions import warm_share

TIPS = ["flange top edge right", "flange bottom edge right"]
HELD = {"power": "6 kW", "efficiency": 0.4, "radius": "15 mm"}
ROW = {
    "kind": "spots along",
    "on": "top",
    "at": "30 mm",
    "diameter": "30 mm",
    "length": "1 m",
}


def cut(base: dict[str, Any] | None = None, **changes: Any) -> Result:
    """Run a case of `cut_job`."""
    result = shrinksim.run(cut_job(base, **changes))
    assert result.view.name == "section"
    return result


@pytest.fixture(scope="module")
def plate():
    """A line along the middle of the top."""
    return cut()


@pytest.fixture(scope="module")
def aside():
    """A line 30 mm to the right of it."""
    return cut(line__at="30 mm")


@pytest.fixture(scope="module")
def beam():
    """A line along the top of a beam."""
    return cut(BEAM)


def test_heat_of_a_pass_is_power_over_speed(plate):
    """J per metre: what a torch gives to each metre of its way."""
    assert plate.heat.absorbed[-1] == pytest.approx(6e3 * 0.4 / 8e-3, rel=2e-3)


def test_energy_is_counted(plate, beam):
    assert abs(plate.heat.imbalance) < 1e-4
    assert abs(beam.heat.imbalance) < 1e-4


@pytest.mark.slow
def test_held_torch_comes_to_its_target_and_goes_slower_for_more():
    found = [cut(torch={**HELD, "target": f"{goal} degC"}) for goal in (500, 600)]
    for goal, result in zip((500.0, 600.0), found, strict=True):
        assert abs(result.heat.peak.max() - goal) <= 2.0
    cool, hot = (result.heating.schedules[0] for result in found)
    assert cool is not None
    assert hot is not None
    assert hot < cool
    assert found[1].heat.absorbed[-1] > found[0].heat.absorbed[-1]


def test_a_torch_over_the_length_stops_at_its_target():
    torch = {**HELD, "power": "60 kW", "drive": "at once", "target": "500 degC"}
    result = cut(torch=torch)
    assert abs(result.heat.peak.max() - 500.0) <= 2.0
    assert result.heating.schedules == (None,)
    absorbed = 60e3 * 0.4 * result.heating.torch_times[0]
    assert result.heat.absorbed[-1] == pytest.approx(absorbed, rel=2e-3)


@pytest.mark.slow
def test_symmetric_heat_only_shortens(plate, beam):
    both = cut(line__on=["top", "bottom"]).movement
    assert abs(both.camber) < 0.01 * plate.movement.camber
    flanges = cut(BEAM, line__on=["flange top", "flange bottom"]).movement
    assert abs(flanges.camber) < 1e-6 * beam.movement.camber
    assert both.shortening > plate.movement.shortening
    assert flanges.shortening > beam.movement.shortening


@pytest.mark.slow
def test_mirrored_heat_is_mirrored_movement(plate, aside, beam):
    """Meshes are mirrored nearly, not to the bit, hence the tolerance."""
    left = cut(line__at="-30 mm").movement
    assert left.sweep == pytest.approx(-aside.movement.sweep, rel=1e-3)
    assert left.camber == pytest.approx(aside.movement.camber, rel=1e-3)
    under = cut(line__on="bottom").movement
    assert under.camber == pytest.approx(-plate.movement.camber, rel=1e-3)
    assert under.angular_change == pytest.approx(
        plate.movement.angular_change, rel=1e-3
    )
    low = cut(BEAM, line__on="flange bottom").movement
    assert low.camber == pytest.approx(-beam.movement.camber, rel=1e-3)


def test_the_heated_side_becomes_the_hollow_one(plate, aside, beam):
    assert plate.movement.camber > 0.0
    assert beam.movement.camber > 0.0
    assert aside.movement.sweep > 0.0
    assert plate.movement.shortening > 0.0
    assert plate.movement.angular_change > 0.0


@pytest.mark.slow
def test_two_tips_of_one_side_sweep_only():
    right = cut(BEAM, line__on=TIPS).movement
    left = cut(BEAM, line__on=[t.replace("right", "left") for t in TIPS]).movement
    assert right.sweep > 0.0
    assert abs(right.camber) < 1e-4 * right.sweep
    assert left.sweep == pytest.approx(-right.sweep, rel=1e-3)


def test_movement_follows_from_the_plastic_strains(aside, beam):
    """Unit-load theorem: a second way from the strains to the movement."""
    for moved in (aside.movement, beam.movement):
        again = [moved.strain, moved.camber, moved.sweep]
        most = np.abs(again[1:]).max()
        assert moved.from_plastic[0] == pytest.approx(moved.strain, rel=1e-3)
        assert moved.from_plastic[1:] == pytest.approx(again[1:], abs=1e-3 * most)


def test_let_go_section_carries_nothing(aside):
    """No force and no moment of the axial stress, no load on it."""
    body, axial = aside.body, aside.strain.stress[..., 3] * aside.body.weight
    scale = np.abs(axial).sum()
    assert abs(axial.sum()) < 1e-4 * scale
    for k in range(2):
        assert abs((axial * body.arms[..., k]).sum()) < 1e-4 * scale


def test_rotation_is_curvature_over_the_length(aside):
    moved = aside.movement
    assert moved.sweep_rotation == pytest.approx(moved.sweep * 1.0)
    longer = cut(line__at="30 mm", line__length="2 m").movement
    assert longer.sweep == pytest.approx(moved.sweep, rel=1e-3)
    assert longer.sweep_rotation == pytest.approx(2.0 * moved.sweep_rotation, rel=1e-3)


def test_residual_stress_is_near_yield_in_the_heated_zone(aside):
    """Tension of the order of the yield stress where it was hot, pressure beside."""
    spot = np.array([[30e-3, 8e-3]])
    element, _ = locate(aside.mesh, spot)
    hot = float(aside.strain.stress[element[0], :, 3].mean())
    assert 0.85 * 235e6 < hot < 1.16 * 235e6
    assert aside.strain.stress[..., 3].min() < -30e6


def weight(share: float, **changes: Any) -> dict[str, Any]:
    return {"kind": "weight", "sweep_moment": f"{share} Mp", **changes}


@pytest.mark.slow
def test_a_load_that_helps_gives_more_and_one_that_opposes_less(aside):
    helped = cut(line__at="30 mm", load=weight(0.25)).movement.sweep
    opposed = cut(line__at="30 mm", load=weight(-0.25)).movement.sweep
    assert opposed < 0.5 * aside.movement.sweep
    assert helped > 1.1 * aside.movement.sweep


@pytest.mark.slow
def test_a_jack_is_a_spring_that_cannot_pull(aside):
    """Its moment falls by its stiffness times the change of curvature, to no less
    than nothing; a soft jack is a weight.
    """
    load = {"kind": "jack", "sweep_moment": "0.25 Mp", "stiffness": "2 EI/L"}
    result = cut(line__at="30 mm", load=load)
    moved, hot = result.movement, slice(1, -1)
    moment, sweep = moved.sweep_moment_history[hot], moved.sweep_history[hot]
    most, K = 0.25 * result.geometry.moments[1], 2.0 * result.geometry.stiffness[1]
    assert abs(moment[0]) == pytest.approx(most, rel=1e-3)
    spring = np.maximum(most - K * (sweep - sweep[0]), 0.0)
    assert np.abs(moment) == pytest.approx(spring, abs=1e-3 * most)
    assert moved.sweep > aside.movement.sweep
    soft = cut(line__at="30 mm", load={**load, "stiffness": "0.01 EI/L"}).movement
    heavy = cut(line__at="30 mm", load=weight(0.25)).movement
    assert soft.sweep == pytest.approx(heavy.sweep, rel=0.01)


def test_a_held_member_pushes_while_hot_and_moves_when_let_go(aside):
    moved = cut(line__at="30 mm", load={"kind": "held"}).movement
    moment, Mp = moved.sweep_moment_history, 235e6 * 10e-3 * 0.12**2 / 4.0
    assert np.abs(moment).max() > 0.05 * Mp
    assert moment[-1] == 0.0
    assert np.abs(moved.sweep_history[:-1]).max() < 0.01 * moved.sweep
    assert moved.sweep > 1.2 * aside.movement.sweep


def test_held_edges_bend_more_across_the_line(plate):
    held = cut(load={"kind": "none", "edges": "held"}).movement
    assert held.angular_change > 1.5 * plate.movement.angular_change
    assert held.transverse_shrinkage > plate.movement.transverse_shrinkage


def test_a_row_of_spots_moves_for_its_share():
    def spots(spacing: str) -> Result:
        torch = {**HELD, "target": "500 degC"}
        pattern = {**ROW, "spacing": spacing}
        return cut(torch=torch, heat=[{"pattern": [pattern]}])

    near, far = spots("60 mm"), spots("120 mm")
    assert near.movement.share == pytest.approx(0.5)
    assert far.movement.share == pytest.approx(0.25)
    assert far.movement.sweep_rotation == pytest.approx(
        0.5 * near.movement.sweep_rotation, rel=1e-6
    )
    spent, half = near.heating.torch_times[0], far.heating.torch_times[0]
    assert spent == pytest.approx(2.0 * half, rel=1e-6)
    assert "spots" in {c.code for c in near.cautions}


def below(result: Result, level: float) -> float:
    """s, when the steel is below ``level`` degC for good."""
    hottest = result.heat.temperature.max(axis=1)
    return float(result.heat.times[np.flatnonzero(hottest > level)[-1]])


@pytest.mark.slow
def test_cooling_where_it_is_put(plate):
    """Mist on the heated face, on the back, on all: sooner cold the more it wets."""
    face = cut(cooling__kind="mist")
    back = cut(cooling__kind="mist", cooling__on="bottom")
    every = cut(cooling__kind="mist", cooling__everywhere=True)
    assert below(every, 60.0) < below(back, 60.0) < below(plate, 60.0)
    assert below(every, 60.0) < below(face, 60.0) < below(plate, 60.0)
    for result in (face, back, every):
        assert abs(result.heat.imbalance) < 1e-4


def test_cooling_behind_the_torch_comes_after_its_distance(plate):
    """Until the spray is there nothing differs; then the steel cools sooner."""
    wet = cut(cooling__kind="mist", cooling__behind="100 mm")
    early = 0.5 * 100e-3 / 8e-3
    t, dry = wet.heat.times, plate.heat
    hottest = wet.heat.temperature.max(axis=1)
    still = np.interp(t, dry.times, dry.temperature.max(axis=1))
    assert hottest[t < early] == pytest.approx(still[t < early], rel=0.02)
    gone = 2.0 * 100e-3 / 8e-3 + 1.6 * 15e-3 / 8e-3
    level = float(np.interp(gone, dry.times, dry.temperature.max(axis=1)))
    assert below(wet, level) < 0.9 * gone
    assert "cooling behind the torch" in {c.code for c in wet.cautions}


@pytest.mark.slow
@pytest.mark.parametrize(("power", "radius"), [("5 kW", "6 mm"), ("10 kW", "12 mm")])
def test_a_quick_line_pulls_with_okerbloms_force(power, radius):
    """0.335 E alpha Q' / (rho c): N. O. Okerblom's coefficient (from memory, derived in
    tests/verification/test_tendon_force.py), for a line source in a wide plate of steel
    "K".  Constants of steel: alpha 14e-6 and c = 600 J/kgK, EN 1994-1-2, 3.3.1 (from
    memory); E = 210 GPa.  Steel that softens and a line of some width: 5 to 10 % more.
    """
    result = cut(
        member={"section": "plate", "width": "600 mm", "thickness": "4 mm"},
        torch={
            "power": power,
            "efficiency": 0.5,
            "radius": radius,
            "drive": "travel",
            "speed": "40 mm/s",
        },
        line__on=["top", "bottom"],
        numerics={
            "element": "2 mm",
            "far_element": "4 mm",
            "heat_tolerance": "10 K",
            "temperature_step": "60 K",
        },
    )
    heat = float(result.heat.absorbed[-1])
    force = 0.335 * 210e9 * 14e-6 * heat / (7850.0 * 600.0)
    assert result.movement.tendon_force == pytest.approx(force, rel=0.12)
    assert result.movement.tendon_force > force


@pytest.mark.slow
def test_a_member_that_folds_is_told_so():
    load = {"kind": "weight", "camber_moment": "0.97 Mp"}
    result = cut(BEAM, torch__speed="3 mm/s", load=load)
    assert result.outcome == "hot hinge"
    assert not result.summary()["converged"]
    assert "hot hinge" in {c.code for c in result.cautions}
    assert result.movement.hinge_margin is not None
    assert result.movement.hinge_margin < 1.1


def test_margin_starts_at_the_cold_one(aside):
    result = cut(line__at="30 mm", load=weight(0.25))
    assert result.movement.hinge_margin_history[1] == pytest.approx(4.0, rel=0.02)
    assert result.movement.hinge_margin is not None
    assert 1.0 < result.movement.hinge_margin <= 4.0
    assert aside.movement.hinge_margin is None


def test_refinement_says_what_the_mesh_is_worth():
    result = shrinksim.run(cut_job(line__at="30 mm", numerics={}), search_again=True)
    assert result.view.name == "section"
    assert result.refinement is not None
    assert abs(result.refinement["camber_change_percent"]) < 3.0
    assert abs(result.refinement["sweep_change_percent"]) < 3.0
    assert result.refinement["camber_error_mrad"] > 0.0
    assert any("changed camber and sweep" in text for text in result.trust)


def test_summary_is_plain_numbers(plate):
    summary = plate.summary()
    assert json.loads(json.dumps(summary, allow_nan=False)) == summary
    assert summary["view"] == "section"
    assert summary["energy_J_per_m"]["absorbed"] == pytest.approx(3e5, rel=2e-3)
    assert summary["burnt_J"] == pytest.approx(6e3 / 8e-3)


def test_movement_per_heat_falls_off_at_one_place(aside):
    """Later heats at one place find the steel already pulling at yield."""
    heat = {
        "pattern": [{**PLATE["heat"][0]["pattern"][0], "at": "30 mm"}],
        "cooling": {"kind": "still air", "until": "60 degC"},
    }
    twice = cut(heat=[heat] * 2).movement.sweep
    first = aside.movement.sweep
    assert first < twice < 1.5 * first


def test_a_passing_torch_on_a_narrow_plate_is_told(aside, plate):
    """Bending in the plane only: not a line on the middle, not heat at once."""

    def codes(result: Result) -> set[str]:
        return {c.code for c in result.cautions}

    narrow = {"section": "plate", "width": "60 mm", "thickness": "10 mm"}
    assert "short hot zone" in codes(cut(member=narrow, line__at="15 mm"))
    assert "short hot zone" not in codes(plate)
    torch = {**HELD, "power": "60 kW", "drive": "at once", "target": "500 degC"}
    once = cut(member=narrow, line__at="15 mm", torch=torch)
    assert "short hot zone" not in codes(once)


def test_warm_share_is_the_mean_over_the_peak(aside):
    """By the mesh: the mean of a quadratic triangle is that of its mid-side nodes."""
    history, mesh = aside.heat, aside.mesh
    a, b, c = (mesh.points[mesh.triangles[:, k]] for k in range(3))
    area = np.cross(b - a, c - a)
    T = history.temperature[:, mesh.triangles[:, 3:]].mean(axis=2)
    mean = T @ area / area.sum()
    share = (mean.max() - 20.0) / (history.peak.max() - 20.0)
    assert warm_share(aside.geometry, history) == pytest.approx(share, rel=0.05)

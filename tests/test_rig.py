"""How a member lies for heating: turns, signs, loads, cribs and cautions."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.arrays import GRAVITY
from shrinksim.errors import CaseError
from shrinksim.member.line import Bend, offsets
from shrinksim.member.setup import beam
from shrinksim.member.setup.lifting import (
    lift,
    lift_points,
    weight_to_lift,
)
from shrinksim.member.setup.rig import (
    HungWeight,
    LoadedJack,
    Prop,
    Rigging,
    bending_stress,
    helping_ratio,
    moment_ratio,
    rest_on_supports,
    rotation_drop,
    sag_off_chord,
    stiffness_at,
)
from shrinksim.shop.sections.catalogue import catalogue

IPE300 = catalogue()["IPE300"]
FY = 235e6
ENDS = (Prop(1.0), Prop(11.0))
LYING = Rigging(
    section=IPE300,
    length=12.0,
    yield_stress=FY,
    props=ENDS,
)
BULGE = (Bend(6.0, 20e-3),)
OPPOSITE = {"top": "bottom", "bottom": "top", "left": "right", "right": "left"}


@pytest.mark.parametrize("name", ["IPE300", "IPN300"])
def test_weight_of_a_twelve_metre_beam(name):
    """300 mm deep, 12 m: 5 to 7 kN (common practice, no source)."""
    weight = weight_to_lift(catalogue()[name], 12.0)
    assert 4.95e3 < weight < 7e3
    standing = rest_on_supports(replace(LYING, section=catalogue()[name]))
    assert standing.own_weight == pytest.approx(weight, rel=1e-12)
    assert standing.reactions.sum() == pytest.approx(weight, rel=1e-9)


def test_weight_sags_and_helps_on_top():
    """Between supports near the ends: w (L2 / 8 - L a / 2) in the middle."""
    standing = rest_on_supports(LYING, BULGE)
    w = standing.own_weight / 12.0
    M = w * (12.0**2 / 8 - 12.0 * 1.0 / 2)
    Mp = 628.356e-6 * FY  # EN 10365, from memory
    assert moment_ratio(standing, 6.0)[0] == pytest.approx(M / Mp, rel=1e-5)
    assert helping_ratio(standing, 6.0, "top") == pytest.approx(M / Mp, rel=1e-5)
    assert helping_ratio(standing, 6.0, "bottom") == pytest.approx(-M / Mp, rel=1e-5)
    assert (
        helping_ratio(standing, 6.0, "left")
        == helping_ratio(standing, 6.0, "right")
        == 0.0
    )
    over = w * 1.0**2 / 2  # the overhang hogs the support
    assert helping_ratio(standing, 1.0, "bottom") == pytest.approx(over / Mp, rel=1e-5)
    pressed = bending_stress(standing, 6.0)[0]
    assert pressed == pytest.approx(-M / 557.074e-6, rel=1e-5)


@pytest.mark.parametrize("up", ["top", "bottom", "left", "right"])
def test_every_way_up(up):
    """The weight helps the heat on the upper side, about the axis that lies level."""
    standing = rest_on_supports(replace(LYING, up=up), BULGE, (Bend(4.0, 8e-3),))
    properties = IPE300.properties
    strong = up in {"top", "bottom"}
    Z = properties.plastic_modulus_strong if strong else properties.plastic_modulus_weak
    M = standing.own_weight / 12.0 * 12.0
    for side in ("top", "bottom", "left", "right"):
        ratio = helping_ratio(standing, 6.0, side)
        sign = (side == up) - (side == OPPOSITE[up])
        assert ratio == pytest.approx(sign * M / (Z * FY), rel=1e-9)
    inertia = (
        properties.second_moment_strong if strong else properties.second_moment_weak
    )
    w = standing.own_weight / 12.0
    sag = w * 10.0**2 / (384 * 210e9 * inertia) * (5 * 10.0**2 - 24 * 1.0**2)
    middle = np.interp(6.0, standing.x, standing.sag)
    assert middle == pytest.approx(-sag, rel=1e-9)  # overhangs lift the middle
    turn = {"top": 20e-3, "bottom": -20e-3, "right": 8e-3, "left": -8e-3}[up]
    place = 6.0 if strong else 4.0
    rise = turn * (place - 1.0) * (11.0 - place) / 10.0
    assert np.interp(place, standing.x, standing.rigid_line) == pytest.approx(
        rise, rel=1e-9
    )
    flat = offsets(
        (Bend(4.0, 8e-3),) if strong else BULGE, np.asarray(standing.x), 12.0
    )
    assert standing.flat_line == pytest.approx(flat, abs=1e-15)


@given(
    st.floats(-0.03, 0.03), st.floats(-0.03, 0.03), st.floats(1.0, 11.0),
    st.sampled_from(["top", "left"]), st.floats(0.0, 3e3),
)  # fmt: skip
@settings(max_examples=60, deadline=None)
def test_turned_over_it_lies_as_the_opposite_member(camber, sweep, at, up, force):
    props = (Prop(0.5), Prop(5.0), Prop(11.5))
    rigging = replace(LYING, props=props, weights=(HungWeight(at, force),), up=up)
    one = rest_on_supports(rigging, (Bend(at, camber),), (Bend(5.0, sweep),))
    other = rest_on_supports(
        replace(rigging, up=OPPOSITE[up]), (Bend(at, -camber),), (Bend(5.0, -sweep),)
    )
    assert other.line == pytest.approx(one.line, abs=1e-12)
    assert other.reactions == pytest.approx(one.reactions, abs=1e-6)
    assert other.flat_line == pytest.approx(-one.flat_line, abs=1e-15)


@given(
    st.lists(st.floats(1.5, 10.5), min_size=1, max_size=3),
    st.lists(st.floats(-0.02, 0.02), min_size=3, max_size=3),
    st.floats(0.0, 8e3), st.floats(0.0, 0.05),
)  # fmt: skip
@settings(max_examples=80, deadline=None)
def test_forces_balance_and_cribs_only_push(places, turns, force, gap):
    bends = [Bend(at, turn) for at, turn in zip(places, turns, strict=False)]
    rigging = Rigging(
        section=IPE300,
        length=12.0,
        yield_stress=FY,
        props=(*ENDS, Prop(6.0, gap)),
        weights=(HungWeight(4.0, force, 0.5),),
    )
    standing = rest_on_supports(rigging, bends)
    total = standing.own_weight + force
    assert standing.reactions.sum() == pytest.approx(total, rel=1e-9)
    turning = standing.reactions @ np.array([1.0, 11.0, 6.0])
    wanted = standing.own_weight * 6.0 + force * 4.0
    assert turning == pytest.approx(wanted, rel=1e-9)
    assert standing.reactions.min() >= -1e-9 * total
    assert standing.clearance.min() >= 0.0
    product = standing.reactions * standing.clearance
    assert np.abs(product).max() <= 1e-9 * total
    if gap > 0.0:  # air is measured as it lies: the crib does not touch yet
        assert standing.clearance[2] == pytest.approx(gap, rel=1e-6, abs=1e-9)
    again = rest_on_supports(standing.rigging, bends)
    assert again.line == pytest.approx(standing.line, abs=1e-9)


def test_level_of_a_crib_under_a_straight_member():
    """Level -gap: (5 w L4 / 384 EI - gap) 48 EI / L3, as of two supports and a stop."""
    L, gap = 12.0, 2e-3
    props = (Prop(0.0), Prop(6.0, level=-gap), Prop(L))
    standing = rest_on_supports(
        Rigging(
            section=IPE300,
            length=L,
            yield_stress=FY,
            props=props,
        )
    )
    w, EI = standing.own_weight / L, 210e9 * 8356.11e-8
    force = (5 * w * L**4 / (384 * EI) - gap) * 48 * EI / L**3
    assert standing.reactions[1] == pytest.approx(force, rel=1e-5)


def test_a_heat_lets_the_member_down_as_a_rigid_kink():
    """turn a b / span between two supports; the overhangs rise with their slopes."""
    standing = rest_on_supports(LYING, BULGE)
    x = np.array([0.0, 1.0, 5.0, 11.0, 12.0])
    drop = rotation_drop(standing, 5.0, 4e-3, x=x)
    fall = 4e-3 * 4.0 * 6.0 / 10.0
    rises = [4e-3 * 6.0 / 10.0, 4e-3 * 4.0 / 10.0]  # slopes at the supports, over 1 m
    wanted = [rises[0], 0.0, -fall, 0.0, rises[1]]
    assert drop == pytest.approx(wanted, rel=1e-9, abs=1e-12)
    assert rotation_drop(standing, 5.0, 4e-3, "bottom", x) == pytest.approx(-drop)
    assert not rotation_drop(standing, 5.0, 4e-3, "left", x).any()
    spread = rotation_drop(standing, 5.0, 4e-3, x=x, spread=0.2)
    less = 4e-3 * 0.2 / 8.0  # k s (2 L - s) / 8: the kink rounded off
    assert spread[2] == pytest.approx(-(fall - less), rel=1e-9)


def test_a_heat_on_an_overhang_lifts_or_lowers_only_its_end():
    x = np.array([6.0, 11.0, 12.0])
    drop = rotation_drop(rest_on_supports(LYING), 11.0, 5e-3, x=x)
    assert drop == pytest.approx([0.0, 0.0, 5e-3], abs=1e-12)


def test_turned_on_its_back_it_falls_when_the_bottom_is_heated():
    standing = rest_on_supports(replace(LYING, up="bottom"), (Bend(6.0, -20e-3),))
    drop = rotation_drop(standing, 6.0, 4e-3, "bottom", np.array([6.0]))
    assert drop[0] == pytest.approx(-4e-3 * 10.0 / 4.0, rel=1e-9)


def test_the_crib_catches_it():
    """It falls by the gap, not by the kink; then the crib carries and opposes."""
    standing = rest_on_supports(
        replace(LYING, props=(*ENDS, Prop(6.0, gap=5e-3))), BULGE
    )
    free = rotation_drop(standing, 6.0, 1e-3, x=np.array([6.0]))
    assert free[0] == pytest.approx(-2.5e-3, rel=1e-9)
    caught = rotation_drop(standing, 6.0, 3e-3, x=np.array([6.0]))
    assert caught[0] == pytest.approx(-5e-3, rel=1e-9)
    after = rest_on_supports(standing.rigging, (Bend(6.0, 17e-3),))
    assert after.reactions[2] > 0.0
    assert helping_ratio(after, 6.0, "top") < helping_ratio(standing, 6.0, "top")


def test_a_jack_of_stiffness_loses_load_as_the_steel_gives():
    """Middle jack on two supports at the ends: kink t lowers it by t L / 4 less what the
    falling force gives back, dF = k t L / 4 / (1 + k L3 / 48 EI)."""
    L, k, turn = 12.0, 5e5, 2e-3
    rigging = Rigging(
        section=IPE300,
        length=L,
        yield_stress=FY,
        props=(Prop(0.0), Prop(L)),
        jacks=(LoadedJack(6.0, 20e3, k),),
    )
    standing = rest_on_supports(rigging, BULGE)
    assert list(standing.jack_forces) == [20e3]
    EI = 210e9 * IPE300.properties.second_moment_strong
    lost = k * turn * L / 4 / (1 + k * L**3 / (48 * EI))
    after = rest_on_supports(standing.rigging, (Bend(6.0, 20e-3 - turn),))
    assert after.jack_forces[0] == pytest.approx(20e3 - lost, rel=1e-9)
    stiff = lost / turn * L / 4
    assert stiffness_at(standing, 6.0) == pytest.approx(stiff, rel=1e-9)
    loose = rest_on_supports(standing.rigging, (Bend(6.0, -0.3),))
    assert list(loose.jack_forces) == [0.0]


def test_a_jack_without_stiffness_is_a_weight():
    jacked = rest_on_supports(replace(LYING, jacks=(LoadedJack(4.0, 5e3),)))
    hung = rest_on_supports(replace(LYING, weights=(HungWeight(4.0, 5e3),)))
    assert jacked.line == pytest.approx(hung.line, abs=1e-15)
    assert stiffness_at(jacked, 4.0) == 0.0


def test_a_jack_may_stand_over_a_crib_and_may_lift():
    props = (*ENDS, Prop(6.0, gap=4e-3))
    rigging = replace(LYING, props=props, jacks=(LoadedJack(6.0, 10e3, 1e6),))
    standing = rest_on_supports(rigging, BULGE)
    after = rest_on_supports(standing.rigging, (Bend(6.0, 16e-3),))
    middle = np.interp(6.0, standing.x, standing.line)
    assert np.interp(6.0, after.x, after.line) == pytest.approx(middle - 4e-3, rel=1e-9)
    lifting = rest_on_supports(replace(LYING, jacks=(LoadedJack(6.0, -2e3, 1e6),)))
    lower = rest_on_supports(lifting.rigging, (Bend(6.0, -1e-3),))
    assert lower.jack_forces[0] < -2e3  # it is pressed down on the jack under it


@given(st.floats(2.0, 10.0), st.sampled_from([None, 1e5, 1e7]))
@settings(max_examples=30, deadline=None)
def test_stiffness_is_the_slope_of_the_moment(at, give):
    """A small heat on three supports, laid again: change of moment over its turn."""
    props = (Prop(0.0), Prop(4.5, stiffness=give), Prop(12.0))
    standing = rest_on_supports(replace(LYING, props=props))
    if not standing.touching.all():
        return
    turn = 1e-7
    after = rest_on_supports(standing.rigging, (Bend(at, -turn),))
    place = np.array([at])
    change = beam.moment(after.solved, place) - beam.moment(standing.solved, place)
    got = stiffness_at(standing, at)
    assert got > 0.0
    assert got == pytest.approx(-change[0] / turn, rel=1e-5)


def test_sag_in_a_string_line():
    """On supports at the ends 5 w L4 / 384 EI; a reading on supports contains it."""
    standing = rest_on_supports(replace(LYING, props=(Prop(0.0), Prop(12.0))), BULGE)
    EI = 210e9 * IPE300.properties.second_moment_strong
    sag = 5 * standing.own_weight / 12 * 12.0**4 / (384 * EI)
    x = np.array([0.0, 6.0, 12.0])
    assert sag_off_chord(standing, x) == pytest.approx([0.0, -sag, 0.0], abs=1e-12)
    seen = sag_off_chord(rest_on_supports(LYING, BULGE), np.asarray(standing.x))
    line = rest_on_supports(LYING, BULGE, x=standing.x).line
    chord = np.interp(standing.x, [0.0, 12.0], [line[0], line[-1]])
    free = offsets(BULGE, np.asarray(standing.x), 12.0)
    assert line - chord == pytest.approx(free + seen, abs=1e-12)


def test_equal_moments_on_two_slings():
    """0.2071 L from the ends: w a2 / 2 over the slings and in the middle."""
    low, high = lift_points(12.0)
    assert low / 12.0 == pytest.approx(0.2071, abs=5e-5)
    assert high == pytest.approx(12.0 - low)
    lifted = lift(LYING)
    M = lifted.weight / 12.0 * low**2 / 2
    assert abs(lifted.moment) == pytest.approx(M, rel=1e-9)
    props = (Prop(low), Prop(high))
    hung = rest_on_supports(replace(LYING, props=props))
    (_, sagging), (_, hogging) = beam.greatest_moments(hung.solved)
    assert sagging == pytest.approx(-hogging, rel=1e-9)
    for near in (low - 0.1, low + 0.1):  # anywhere else it is more
        assert abs(lift(LYING, at=(near, 12.0 - near)).moment) > M
    assert lifted.slings == pytest.approx([lifted.weight / 2] * 2)
    assert lifted.mass == pytest.approx(lifted.weight / GRAVITY)


def test_all_faults_at_once():
    wrong = replace(
        LYING,
        props=(
            Prop(-1.0),
            Prop(5.0, gap=0.01, holds_down=True),
            Prop(5.0, stiffness=-1),
        ),
        up="front",
        yield_stress=0.0,
    )
    with pytest.raises(CaseError) as told:
        rest_on_supports(wrong)
    text = "\n".join(told.value.problems)
    for part in (
        "yield stress is 0; it must be more than zero",
        "rig.up = 'front' is not one of top, bottom, right, left",
        "support[0].at = -1 m is off the member, which is 12 m long",
        "support[1] has a gap and holds down",
        "support[2].stiffness = -1 N/m is not more than zero",
        "support[2] stands where support[1] does",
    ):
        assert part in text
    loads = replace(
        LYING,
        weights=(HungWeight(11.9, 1e3, 0.5),),
        jacks=(LoadedJack(13.0, 1e3, 0.0),),
    )
    with pytest.raises(CaseError) as told:
        rest_on_supports(loads)
    assert len(told.value.problems) == 3
    with pytest.raises(CaseError, match="at least two supports without a gap"):
        rest_on_supports(replace(LYING, props=(Prop(1.0), Prop(11.0, gap=0.01))))
    with pytest.raises(CaseError, match="tips"):
        rest_on_supports(replace(LYING, weights=(HungWeight(12.0, 1e6),)))

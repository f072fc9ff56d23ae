"""Cautions of how a member lies: lifting, loads, supports, moments, rolling."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend
from shrinksim.member.setup.cautions import rig_cautions, unbraced
from shrinksim.member.setup.lateral import critical_moment
from shrinksim.member.setup.lifting import lift, lifting_cautions
from shrinksim.member.setup.rig import (
    HungWeight,
    LoadedJack,
    Prop,
    Rigging,
    SupportedMember,
    rest_on_supports,
)
from shrinksim.member.setup.rolling import roll_angle
from shrinksim.shop.sections.catalogue import catalogue
from shrinksim.shop.sections.plate import Plate

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


def codes(standing: SupportedMember) -> set[str]:
    return {caution.code for caution in rig_cautions(standing)}


def test_lifting_needs_care():
    text = " ".join(c.text for c in lifting_cautions(lift(LYING)))
    assert "506.9 kg" in text
    assert "nobody under the load" in text
    high = lifting_cautions(lift(LYING, (Bend(6.0, 0.2),), at=(0.5, 11.5)))
    assert "rolls in the slings" in {c.code for c in high}
    hanging = lifting_cautions(lift(LYING, (Bend(6.0, -0.2),)))
    assert "rolls in the slings" not in {c.code for c in hanging}
    with pytest.raises(CaseError, match="tips"):
        lift(LYING, at=(7.0, 11.0))


def test_a_plain_lie_has_no_more_cautions_than_it_needs():
    crib = (*ENDS, Prop(6.0, gap=25e-3))
    assert codes(rest_on_supports(replace(LYING, props=crib), BULGE)) == set()
    assert codes(rest_on_supports(LYING, BULGE)) == {"no crib"}
    low = rest_on_supports(replace(LYING, props=(*ENDS, Prop(6.0, gap=60e-3))), BULGE)
    assert codes(low) == {"low crib"}


def test_cautions_of_loads_and_supports():
    loaded = rest_on_supports(replace(LYING, weights=(HungWeight(6.0, 2e3),)), BULGE)
    assert {"load", "hung load"} <= codes(loaded)
    jacked = rest_on_supports(replace(LYING, jacks=(LoadedJack(6.0, 2e3),)), BULGE)
    assert "load" in codes(jacked)
    assert "hung load" not in codes(jacked)
    three = rest_on_supports(replace(LYING, props=(*ENDS, Prop(6.0))), BULGE)
    (rocks,) = (c for c in rig_cautions(three) if c.code == "rocks")
    assert "support at 6 m (by 4" in rocks.text
    held = (Prop(0.0, holds_down=True), Prop(4.0))
    (up,) = (c for c in rig_cautions(rest_on_supports(replace(LYING, props=held)))
             if c.code == "uplift")  # fmt: skip
    assert "At 0 mm the member lifts; it must be held down there with 2" in up.text
    nearly = rest_on_supports(replace(LYING, props=(Prop(0.2), Prop(6.1))))
    assert "tips" in codes(nearly)


def test_cautions_of_the_moment():
    def carrying(force: float) -> set[str]:
        return codes(
            rest_on_supports(replace(LYING, weights=(HungWeight(6.0, force),)))
        )

    Mp = 628.356e-6 * FY
    own = 4.97e3 / 12 * 12
    at_ratio = {r: (r * Mp - own) * 4 / 10.0 for r in (0.45, 0.55, 0.95, 1.05)}
    assert not {"moment", "yields cold", "folds cold"} & carrying(at_ratio[0.45])
    assert "moment" in carrying(at_ratio[0.55])
    assert {"moment", "yields cold"} <= carrying(at_ratio[0.95])
    assert "folds cold" in carrying(at_ratio[1.05])


def test_a_plate_on_edge_rolls_and_buckles():
    bar = Rigging(
        section=Plate(0.1, 0.01),
        length=8.0,
        yield_stress=FY,
        props=(Prop(0.3), Prop(7.7)),
    )
    assert {"may roll", "sideways"} <= codes(rest_on_supports(bar, (Bend(4.0, 0.02),)))
    flat = rest_on_supports(replace(bar, up="left"))
    assert not {"may roll", "rolls over", "sideways"} & codes(flat)
    aside = rest_on_supports(bar, (), (Bend(4.0, 0.05),))
    assert "rolls over" in codes(aside)


def test_lean_of_a_member_that_does_not_give():
    """tan = (half the foot - sideways) / (half the height + rise of its weight); a kink
    t on supports at the ends takes the weight off by t L / 8."""
    stiff = replace(LYING, modulus=1e18, props=(Prop(0.0), Prop(12.0)))
    up, aside = 0.03, 0.02
    for camber, sweep in ((0.0, 0.0), (up, 0.0), (-up, 0.0), (up, aside)):
        standing = rest_on_supports(stiff, (Bend(6.0, camber),), (Bend(6.0, sweep),))
        foot, height = 0.075 - abs(sweep) * 1.5, 0.15 + camber * 1.5
        assert roll_angle(standing) == pytest.approx(math.atan2(foot, height), rel=1e-4)


def test_unbraced_length():
    assert unbraced(rest_on_supports(LYING)) == pytest.approx(10.0)
    inner = rest_on_supports(replace(LYING, props=(Prop(4.0), Prop(8.0))))
    assert unbraced(inner) == pytest.approx(8.0)  # twice the overhang
    slender = Rigging(
        section=catalogue()["IPE100"],
        length=12.0,
        yield_stress=FY,
        props=(Prop(0.0), Prop(12.0)),
    )
    M = rest_on_supports(slender).moment.max()
    assert M / critical_moment(slender.section, 12.0) > 1.0 / 3.0
    assert "sideways" in codes(rest_on_supports(slender))
    assert "sideways" not in codes(rest_on_supports(LYING))

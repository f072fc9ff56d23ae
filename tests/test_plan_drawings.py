"""The plan's drawings and chalk marks, against geometry and statics."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up_plan import BEAM, card, job_of, made_up_plan, vees
from matplotlib.backends.backend_agg import FigureCanvasAgg

from shrinksim.arrays import GRAVITY
from shrinksim.member.line import offsets
from shrinksim.member.plan import words as plan_words
from shrinksim.member.plan.chalk import card_marks
from shrinksim.member.plan.figures import kinks_of, member_on_supports
from shrinksim.member.plan.frame import drawn_planes
from shrinksim.member.plan.line_drawing import exaggeration, member_lines, stacks
from shrinksim.page.style import drawing, svg
from shrinksim.units.quantity import quantity


@pytest.mark.parametrize("angle", ["20 deg", "45 deg"])
@pytest.mark.parametrize("side", ["top", "bottom", "right", "left"])
def test_a_vee_on_the_steel_has_its_angle_and_depth(side, angle):
    """Sides that meet at the apex under the angle, from the open edge (geometry)."""
    job = job_of()
    pattern = vees(side)[0] | {"angle": angle}
    x = np.linspace(0.0, 12.0, 5)
    heat = card(1, 4.0, side, 2e-3, 0 * x, 0 * x, x, 6.0, patterns=(pattern,))
    (mark,) = card_marks(heat, job)
    upright = side in {"top", "bottom"}
    depth, flange = (0.300, 0.0107) if upright else (0.150, 0.0)
    assert mark.reach == pytest.approx(0.75 * depth)
    apex, one, other = mark.ring
    a, b = one - apex, other - apex
    between = math.acos(a @ b / math.hypot(*a) / math.hypot(*b))
    assert between == pytest.approx(quantity(angle, "angle"))
    edge = depth - flange if side in {"top", "right"} else flange
    assert one[1] == pytest.approx(edge)
    assert abs(apex[1] - (depth if side in {"top", "right"} else 0.0)) == pytest.approx(
        0.75 * depth
    )
    assert mark.end - mark.start == pytest.approx(other[0] - one[0])
    assert side in mark.where


@pytest.mark.parametrize("up", ["top", "bottom", "right", "left"])
def test_views_agree_with_turning_the_member_in_space(up):
    """Rotation about the member's axis; x to the right, seen from the side and above."""
    own = {"top": (0, 1), "bottom": (0, -1), "right": (-1, 0), "left": (1, 0)}  # y, z
    y, z = own[up]
    turn = math.pi / 2 - math.atan2(z, y)
    c, s = round(math.cos(turn)), round(math.sin(turn))
    now = {name: (c * a - s * b, s * a + c * b) for name, (a, b) in own.items()}
    assert now[up] == (0, 1)
    side, above = drawn_planes(job_of(BEAM, rig={"up": up}))
    assert now[side.high] == (0, 1)
    assert now[side.low] == (0, -1)
    assert now[above.high] == (1, 0)  # the left hand of who looks along the member
    assert now[above.low] == (-1, 0)
    for view in (side, above):  # + offsets of the survey are towards top or right
        plus = "top" if view.plane == "camber" else "right"
        assert (view.high == plus) == (view.sign == 1)


@given(st.lists(st.floats(-0.1, 0.1), min_size=3, max_size=40))
def test_kinks_make_the_line_again(offset):
    x = np.linspace(0.0, 12.0, len(offset))
    line = np.array(offset)
    line -= np.interp(x, [0.0, 12.0], line[[0, -1]])
    made = offsets(kinks_of(x, line), x, 12.0)
    np.testing.assert_allclose(made, line, atol=1e-9)


def test_the_member_in_the_drawing_is_in_balance():
    job = job_of()
    standing = member_on_supports(made_up_plan(job), job)
    down = standing.own_weight + 200.0 * GRAVITY + 2000.0
    assert float(standing.reactions.sum()) == pytest.approx(down, rel=1e-6)
    assert member_on_supports(made_up_plan(job), job_of(BEAM | {"support": []})) is None


def test_offset_at_a_heat_falls_as_geometry_says():
    """Turn phi at a and b from the ends: phi a b / L at that place."""
    job, plan = job_of(), made_up_plan(heats=1)
    (heat,) = plan.cards
    a, b = heat.at, 12.0 - heat.at
    assert plan_words.offset_change(heat, job, 4e-3) == pytest.approx(
        4e-3 * a * b / 12.0
    )
    rows = dict(plan_words.facts(heat, job))
    assert (
        rows["offset at 5.4 m shrinks by"] == "about 14 mm"
    )  # 4.6e-3 x 5.4 x 6.6 / 12
    assert rows["nine times in ten"] == "4.7 mm to 23 mm"  # x (1 -+ 1.645 x 0.4)


def test_exaggeration_is_what_is_stated():
    job, plan = job_of(), made_up_plan(heats=4, sweep_heats=1)
    with drawing():
        figure = member_lines(plan, job)
        drawn = svg(figure, "member").decode()
    for view, axes in zip(drawn_planes(job), figure.axes, strict=True):
        factor = exaggeration(plan, job, view)
        assert f"offsets drawn {factor:g} times as large" in drawn
        at = axes.transData.transform([(0.0, 0.0), (12.0, 10.0)])
        along, across = np.diff(at, axis=0)[0] / (12.0, 0.010)  # a metre; 10 mm
        assert across / along == pytest.approx(factor)
        low, high = axes.get_ylim()
        for line in (plan.before, plan.after):
            assert low < 1e3 * (view.sign * line[view.plane]).min()
            assert high > 1e3 * (view.sign * line[view.plane]).max()


def test_heats_at_one_place_are_stacked():
    plan = made_up_plan(heats=8)
    found = stacks(plan.cards, 12.0)
    assert [numbers for *_, numbers in found] == [
        ["1", "4", "7"],
        ["2", "5", "8"],
        ["3", "6"],
    ]


@pytest.mark.parametrize("at", ["5.4 m", "5.7 m", "6 m", "6.3 m", "7 m"])
@pytest.mark.parametrize("heats", [1, 4, 9])
def test_no_load_stands_on_a_heats_number(at, heats):
    """Boxes of the drawn texts, by the plotting library, do not meet."""
    job = job_of(
        weight=[{"at": at, "mass": "200 kg"}], jack=[{"at": "6.6 m", "force": "2 kN"}]
    )
    plan = made_up_plan(job, heats=heats)
    with drawing():
        figure = member_lines(plan, job, member_on_supports(plan, job))
        canvas = FigureCanvasAgg(figure)
        canvas.draw()
        box = {
            text: text.get_window_extent(canvas.get_renderer())
            for text in figure.axes[0].texts
            if text.get_text()
        }
    loads = [text for text in box if text.get_text() in {"200 kg", "jack 2 kN"}]
    others = [text for text in box if text not in loads]
    numbers = [text for text in others if text.get_text()[0].isdigit()]
    assert len(loads) == 2
    assert numbers
    pairs = [(load, other) for load in loads for other in others] + [tuple(loads)]
    for one, other in pairs:
        assert not box[one].overlaps(box[other]), (one.get_text(), other.get_text())
    top = figure.axes[0].get_window_extent(canvas.get_renderer()).y1
    assert max(box[load].y1 for load in loads) <= top

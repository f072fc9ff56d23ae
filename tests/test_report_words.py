"""What a report says where somebody could take it wrongly, and the sizes in its drawing."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest
from made_up_result import DEPTH, made_up
from made_up_section import made_up as made_up_section

from shrinksim.page.style import drawing
from shrinksim.report import effort
from shrinksim.report.folder import pictures, report_page
from shrinksim.shop.pattern import box_outline, vee_outline
from shrinksim.shop.sections.shape import Band
from shrinksim.views.elevation import words
from shrinksim.views.elevation.dimensions import angle_of, distinct
from shrinksim.views.elevation.setup_drawing import setup


def changed(result, **more):
    return SimpleNamespace(**(vars(result) | more))


def drawn(result, **more):
    return changed(result, geometry=changed(result.geometry, **more))


def page_of(result):
    return report_page(result, pictures(result), "title = 1", result.summary())


def texts(result):
    with drawing():
        return [text.get_text() for text in setup(result).axes[0].texts]


@pytest.mark.parametrize("degrees", [20.0, 45.0, 60.0])
@pytest.mark.parametrize("opens", ["top", "bottom"])
def test_a_vee_is_drawn_with_its_width_depth_and_angle(degrees, opens):
    """Width 2 d tan(angle / 2) (geometry)."""
    edge, apex = (DEPTH, DEPTH - 0.075) if opens == "top" else (0.0, 0.075)
    ring = vee_outline(0.0, apex, edge, math.radians(degrees))
    assert angle_of(ring) == pytest.approx(degrees)
    said = texts(drawn(made_up(), outlines=(ring,)))
    wide = 2.0 * 75.0 * math.tan(math.radians(degrees) / 2.0)
    assert f"{wide:.3g} mm wide" in said
    assert "75 mm deep" in said
    assert f"{degrees:g}°" in said


def test_us_units_and_other_patterns_have_sizes_too():
    strip = box_outline(-0.0254, 0.09, 0.0254, DEPTH)
    said = texts(drawn(made_up(units="us"), outlines=(strip,)))
    assert "2 in wide" in said
    assert not any("deep" in text and "drawn" not in text for text in said)


def test_a_vee_and_its_strip_of_the_same_width_are_measured_once():
    ring = vee_outline(0.0, 0.02, 0.09, 0.8)
    x = ring[:, 0]
    strip = box_outline(float(x.min()) - 3e-4, 0.09, float(x.max()), DEPTH)
    found = distinct(drawn(made_up(), outlines=(strip, ring)))
    assert len(found) == 1
    assert len(found[0]) == 3
    line = np.array([[0.0, 0.01], [0.0, 0.05]])
    assert distinct(drawn(made_up(), outlines=(line,))) == []


@pytest.mark.parametrize("made", [made_up, made_up_section])
def test_what_comes_near_to_folding_is_not_told_as_a_thing_to_do(made):
    near = made(load="weight")
    movement = changed(near.movement, hinge_margin=1.02)
    caution = SimpleNamespace(code="margin", text="at its weakest")
    page = page_of(changed(near, movement=movement, cautions=(caution,)))
    assert "<h2>What to do</h2>" not in page
    assert "It comes near to folding" in page
    assert "1.02 times" in page
    assert '<div class="verdict folds">' in page
    safe = page_of(changed(near, movement=movement))
    assert "<h2>What to do</h2>" in safe
    assert "near to folding" not in safe


def test_a_folded_heat_does_not_claim_what_it_never_came_to():
    folded = made_up(load="weight", outcome="hot hinge")
    names = dict(words.report_words(folded, {})["tiles"])
    assert "peak temperature if it had not folded" in names
    assert "torch time if it had not folded" in names
    assert "as if it had not folded" in " ".join(words.details(folded))


@pytest.mark.parametrize(
    ("moment", "way"), [("0.25 Mp", "together"), ("-0.25 Mp", "apart")]
)
def test_a_load_is_told_in_newtons_and_which_way_it_presses(moment, way):
    """The made-up moment is 800 N m."""
    result = made_up()
    load = result.resolved["load"] | {"moment": moment}
    resolved = result.resolved | {"load": load}
    first = words.actions(changed(result, resolved=resolved))[0]
    assert f"moment {moment} (0.8\u00a0kN\u00a0m)" in first
    assert f"the wide end of the heat {way}" in first
    free = words.actions(made_up(load="none"))[0]
    assert "wide end" not in free


def test_about_the_weak_axis_both_flanges_are_heated():
    bands = (
        Band("flange low", 0.0, 0.045, 0.02, 0.01, 2.0, 2),
        Band("web", 0.045, 0.055, 0.1, 0.1, 2.0, 2),
        Band("flange high", 0.055, DEPTH, 0.02, 0.01, 2.0, 2),
    )
    steps = " ".join(words.actions(drawn(made_up(), bands=bands)))
    assert "on both flanges at the same time, a torch on each" in steps
    assert "both flanges" not in " ".join(words.actions(made_up()))


def test_the_coarser_repeat_has_units():
    known = {"factor": 1.6, "rotation_change_mrad": -0.05, "rotation_error_mrad": 0.03}
    rows = dict(effort.effort(changed(made_up(), refinement=known)))
    assert rows["coarser repeat: rotation change"] == "-0.05 mrad"
    assert rows["numerical error (standard deviation): rotation"] == "0.03 mrad"

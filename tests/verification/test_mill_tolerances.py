"""Mill tolerances for straightness.

ASTM A6/A6M as in AISC Manual Table 1-22: W and HP, camber and sweep 1/8 in for every
10 ft; with flanges narrower than 6 in the sweep 1/8 in for every 5 ft.  S shapes: camber
1/8 in for every 5 ft (from memory).  W shapes with a flange about as wide as the depth,
ordered as columns: up to 45 ft at most 3/8 in, beyond 3/8 in and 1/8 in for every 10 ft
over 45 ft (same table).  EN 10034:1993: straightness of I and H sections,
0.30 % of the length for depths over 80 to 180 mm, 0.15 % to 360 mm, 0.10 % above.
"""

import numpy as np
import pytest

from shrinksim.member.survey.tolerance import straightness_limit, straightness_verdict
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.plate import Plate

INCH, FOOT = 0.0254, 0.3048


@pytest.mark.parametrize(
    ("name", "plane", "allowed_in"),
    [
        ("W12X26", "camber", 0.5),  # 40 ft: four times 1/8 in
        ("W12X26", "sweep", 0.5),  # flange 6.49 in
        ("W8X31", "sweep", 0.5),
        ("W6X9", "sweep", 1.0),  # flange 3.94 in: eight times 1/8 in
        ("W6X9", "camber", 0.5),
        ("S12X31.8", "camber", 1.0),
    ],
)
def test_a6_at_40_feet(name, plane, allowed_in):
    found = straightness_limit(plane, section_named(name), 40.0 * FOOT, "ASTM A6")
    assert found.allowed == pytest.approx(allowed_in * INCH, rel=1e-9)
    assert "ASTM A6" in found.source


@pytest.mark.parametrize(
    ("feet", "allowed_in"), [(20.0, 0.25), (30.0, 0.375), (45.0, 0.375), (65.0, 0.625)]
)
def test_a6_ordered_as_columns(feet, allowed_in):
    for plane in ("camber", "sweep"):
        found = straightness_limit(
            plane, section_named("W8X31"), feet * FOOT, "ASTM A6", ordered="as columns"
        )
        assert found.allowed == pytest.approx(allowed_in * INCH, rel=1e-9)
        assert "as columns" in found.source


def test_shapes_that_a6_does_not_list_are_named():
    found = straightness_limit("camber", section_named("IPE 300"), 12.0, "ASTM A6")
    assert "taken for IPE300" in found.source
    assert (
        "taken for"
        not in straightness_limit(
            "camber", section_named("W12X26"), 12.0, "ASTM A6"
        ).source
    )


@pytest.mark.parametrize(
    ("name", "share"),
    [
        ("IPE 100", 3.0e-3),
        ("IPE 160", 3.0e-3),
        ("HEA 200", 1.5e-3),  # depth 190 mm
        ("IPE 300", 1.5e-3),
        ("IPE 360", 1.5e-3),
        ("IPE 400", 1.0e-3),
        ("HEB 200", 1.5e-3),
    ],
)
def test_en10034_by_depth(name, share):
    for plane in ("camber", "sweep"):
        found = straightness_limit(plane, section_named(name), 12.0, "EN 10034")
        assert found.allowed == pytest.approx(share * 12.0, rel=1e-12)
        assert "EN 10034:1993" in found.source


def test_what_the_standards_leave_open_is_said():
    assert (
        straightness_limit("sweep", section_named("S12X31.8"), 10.0, "ASTM A6").allowed
        is None
    )
    tapered = straightness_limit("camber", section_named("IPN 300"), 10.0, "EN 10034")
    assert tapered.allowed is None
    assert "EN 10024" in tapered.source
    assert straightness_limit("camber", Plate(0.1, 0.01), 3.0, None).allowed is None


def test_an_own_value_comes_first():
    found = straightness_limit(
        "sweep", section_named("IPE 300"), 12.0, "EN 10034", own=0.004
    )
    assert found.allowed == 0.004


@pytest.mark.parametrize(
    ("off", "sigma", "word"),
    [
        (0.010, 0.001, "inside"),
        (0.030, 0.001, "outside"),
        (0.017, 0.003, "cannot tell"),
    ],
)
def test_verdict_in_words(off, sigma, word):
    allowed = straightness_limit("camber", section_named("IPE 300"), 12.0, "EN 10034")
    line = off * np.sin(np.linspace(0.0, np.pi, 31))
    verdict = straightness_verdict(
        "camber", -line, np.full(31, sigma), allowed, "metric"
    )
    assert verdict is not None
    assert verdict.inside == (off <= 0.018)
    assert verdict.deviation == pytest.approx(off, rel=1e-3)
    assert word in verdict.text
    assert "18 mm" in verdict.text


def test_a_line_found_straight_with_rough_readings_is_not_inside_for_sure():
    allowed = straightness_limit("camber", section_named("IPE 300"), 12.0, "EN 10034")
    band = 0.012 * np.sin(np.linspace(0.0, np.pi, 31))
    rough = straightness_verdict("camber", np.zeros(31), band, allowed, "metric")
    fine = straightness_verdict("camber", np.zeros(31), 0.5 * band, allowed, "metric")
    assert rough is not None
    assert fine is not None
    assert "cannot tell" in rough.text
    assert rough.sigma == pytest.approx(0.012, rel=1e-2)
    assert fine.text.endswith("inside")


def test_a_worse_place_off_the_largest_offset_counts():
    """Twice the band is beyond the limit at one end only."""
    allowed = straightness_limit("camber", section_named("IPE 300"), 12.0, "EN 10034")
    line, band = np.full(31, 0.010), np.full(31, 0.001)
    line[5], band[25] = 0.011, 0.005
    verdict = straightness_verdict("camber", line, band, allowed, "metric")
    assert verdict is not None
    assert verdict.inside
    assert "cannot tell" in verdict.text

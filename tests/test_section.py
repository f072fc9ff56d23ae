from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.shop.sections.catalogue import catalogue, section_named
from shrinksim.shop.sections.i_section import ISection
from shrinksim.shop.sections.plate import Plate
from shrinksim.shop.sections.shape import STEEL_DENSITY, plastic_moment

IPE300 = ISection("IPE300", 0.300, 0.150, 0.0071, 0.0107, 0.015)


@st.composite
def shapes(draw) -> ISection:
    h = draw(st.floats(0.05, 1.2))
    b = h * draw(st.floats(0.3, 1.2))
    tf, tw = h * draw(st.floats(0.01, 0.2)), b * draw(st.floats(0.01, 0.4))
    r = draw(st.floats(0, 0.99)) * min((b - tw) / 2, h / 2 - tf)
    return ISection("drawn", h, b, tw, tf, r)


def test_plate_properties():
    p = Plate(0.1, 0.01).properties
    assert p.area == pytest.approx(1e-3)
    assert p.second_moment_strong == pytest.approx(0.01 * 0.1**3 / 12)
    assert p.second_moment_weak == pytest.approx(0.1 * 0.01**3 / 12)
    assert p.plastic_modulus_strong / p.elastic_modulus_strong == pytest.approx(1.5)
    assert p.plastic_modulus_weak / p.elastic_modulus_weak == pytest.approx(1.5)
    assert p.mass_per_length == pytest.approx(STEEL_DENSITY * 1e-3)


@given(shapes())
def test_parallel_flanges_agree_with_the_handbook_formula(s):
    h, b, tw, tf, r = (
        s.depth, s.flange_width, s.web_thickness, s.flange_thickness, s.root_radius
    )  # fmt: skip
    p = s.properties
    d, fillet = h - 2 * tf, (1 - math.pi / 4) * r**2
    assert p.area == pytest.approx(2 * b * tf + d * tw + 4 * fillet)
    # corner fillet: centroid from the corner, second moment about its own centroid
    c = r * (10 - 3 * math.pi) / (12 - 3 * math.pi)
    own = r**4 * (1 / 3 - math.pi / 16 - 1 / (36 - 9 * math.pi))
    strong = (b * h**3 - (b - tw) * d**3) / 12 + 4 * (own + fillet * (d / 2 - c) ** 2)
    weak = (2 * tf * b**3 + d * tw**3) / 12 + 4 * (own + fillet * (tw / 2 + c) ** 2)
    assert p.second_moment_strong == pytest.approx(strong)
    assert p.second_moment_weak == pytest.approx(weak)
    plastic = b * tf * (h - tf) + tw * d**2 / 4 + 4 * fillet * (d / 2 - c)
    assert p.plastic_modulus_strong == pytest.approx(plastic)
    plastic = tf * b**2 / 2 + d * tw**2 / 4 + 4 * fillet * (tw / 2 + c)
    assert p.plastic_modulus_weak == pytest.approx(plastic)


def test_taper_without_radii_is_a_polygon():
    s = ISection("x", 0.2, 0.1, 0.008, 0.012, 0.0, 0.0, 0.15)
    p = s.properties
    # the mean thickness of an outstand is the one in its middle
    middle = 0.012 + 0.15 * (0.025 - (0.05 + 0.004) / 2)
    outstands = 4 * (0.05 - 0.004) * middle
    assert p.area == pytest.approx(0.2 * 0.008 + outstands, rel=1e-12)


@given(shapes(), st.floats(0.0, 0.16), st.floats(0, 0.9))
def test_tapered_shapes_scale(s, slope, toe_share):
    tip = s.flange_thickness - slope * s.flange_width / 4
    assume(tip > 0.05 * s.flange_thickness)
    try:
        tapered = replace(s, flange_slope=slope, toe_radius=toe_share * tip / 2)
    except CaseError:
        assume(False)
        raise
    p = tapered.properties
    double = ISection("double", *(2 * v for v in (
        s.depth, s.flange_width, s.web_thickness, s.flange_thickness, s.root_radius,
        tapered.toe_radius,
    )), flange_slope=slope)  # fmt: skip
    q = double.properties
    assert q.area == pytest.approx(4 * p.area)
    assert q.second_moment_weak == pytest.approx(16 * p.second_moment_weak)
    assert 1 < p.plastic_modulus_strong / p.elastic_modulus_strong < 2
    assert p.plastic_modulus_weak > p.elastic_modulus_weak


@given(shapes())
def test_strong_bands_hold_all_of_the_steel(s):
    strips = s.elevation("strong").bands
    assert strips[0].low == 0
    assert strips[-1].high == pytest.approx(s.depth)
    assert all(a.high == b.low for a, b in pairwise(strips))
    area = sum(strip.thickness * (strip.high - strip.low) for strip in strips)
    assert area == pytest.approx(s.properties.area)
    # of the perimeter only the fillets, 4 r (2 - pi/2), are taken as their corners
    perimeter = sum(strip.losing_faces * (strip.high - strip.low) for strip in strips)
    exact = 4 * s.flange_width + 2 * s.depth - 2 * s.web_thickness
    assert perimeter == pytest.approx(exact)


@given(shapes())
def test_weak_bands_and_the_cold_web_hold_all_but_the_fillets(s):
    strips, cold = s.elevation("weak").bands, s.elevation("weak").cold_layers
    assert [strip.name for strip in strips] == ["flange low", "web", "flange high"]
    assert strips[-1].high == s.flange_width
    area = sum(x.thickness * (x.high - x.low) for x in (*strips, *cold))
    fillets = (4 - math.pi) * s.root_radius**2
    assert area == pytest.approx(s.properties.area - fillets)
    for layer in cold:
        assert (layer.low, layer.high) == (strips[1].low, strips[1].high)


def test_bands_of_a_plate_and_of_an_ipe300():
    (strip,) = Plate(0.1, 0.012).elevation("strong").bands
    assert (strip.name, strip.low, strip.high) == ("plate", 0.0, 0.1)
    assert (strip.thickness, strip.heat_thickness) == (0.012, 0.012)
    assert (strip.losing_faces, strip.torched_faces) == (2.0, 2)
    names = [strip.name for strip in IPE300.elevation("strong").bands]
    assert names == ["flange bottom", "root bottom", "web", "root top", "flange top"]
    root = IPE300.elevation("strong").bands[1].thickness
    assert root == pytest.approx(0.0071 + 2 * (1 - math.pi / 4) * 0.015)
    square = replace(IPE300, root_radius=0.0)
    assert len(square.elevation("strong").bands) == 3
    web = IPE300.elevation("weak").bands[1]
    assert web.thickness == pytest.approx(2 * 0.0107 + 2 * 0.025)
    assert web.losing_faces == pytest.approx(2 + 4 * 0.025 / 0.0071)
    assert IPE300.elevation("strong").cold_layers == ()
    assert IPE300.elevation("weak").cold_layers[0].thickness == pytest.approx(0.2286)
    assert (
        ISection("s", 0.06, 0.06, 0.005, 0.006, 0.0).elevation("weak").cold_layers == ()
    )


def test_tapered_bands_are_close_to_the_section():
    for s in [shape for shape in catalogue().values() if shape.kind == "I"]:
        strips, p, half = s.elevation("strong").bands, s.properties, s.depth / 2
        area = sum(x.thickness * (x.high - x.low) for x in strips)
        strong = sum(
            x.thickness * ((x.high - half) ** 3 - (x.low - half) ** 3) / 3
            for x in strips
        )
        assert area == pytest.approx(p.area, rel=0.007 if s.flange_slope else 1e-9)
        assert strong == pytest.approx(p.second_moment_strong, rel=0.012)


def test_plastic_moment():
    assert plastic_moment(IPE300, "strong", 235e6) == pytest.approx(
        147.6636e3, rel=1e-5
    )
    assert plastic_moment(Plate(0.1, 0.01), "weak", 235e6) == pytest.approx(587.5)


@pytest.mark.parametrize(
    ("written", "name"),
    [
        ("IPE 300", "IPE300"), ("ipe300", "IPE300"), ("W12x26", "W12X26"),
        ("w 12 × 26", "W12X26"), ("HE 200 A", "HEA200"), ("HE200B", "HEB200"),
        ("hea-200", "HEA200"), ("INP 200", "IPN200"), ("S3x5.7", "S3X5.7"),
    ],
)  # fmt: skip
def test_names_are_read_as_shops_write_them(written, name):
    assert section_named(written) is catalogue()[name]


@pytest.mark.parametrize(
    ("written", "hint"),
    [
        ("IPE330", "did you mean IPE300 or IPE360"),
        ("W12x27", "did you mean W12X26"),
        ("IEP300", "did you mean .*IPE300"),
        ("HEM200", "did you mean HE"),
        ("", "88 shapes"),
        ("¡²³½" * 30, "88 shapes"),
    ],
)
def test_an_unknown_name_says_what_was_meant(written, hint):
    with pytest.raises(CaseError, match=hint) as caught:
        section_named(written)
    assert 'section = "I"' in str(caught.value)


def test_catalogue_has_every_family():
    names = " ".join(catalogue())
    assert len(catalogue()) >= 40
    for family in ("IPE", "HEA", "HEB", "IPN", "W12X", "S12X"):
        assert family in names


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"depth": -0.1}, "depth -100 mm must be more than zero"),
        ({"web_thickness": math.nan}, "web thickness nan mm"),
        ({"root_radius": -0.001}, "root radius -1 mm must be zero or more"),
        ({"web_thickness": 0.2}, "leaves no flange"),
        ({"flange_thickness": 0.15}, "fill all of depth 300 mm"),
        ({"root_radius": 0.08}, "root radius 80 mm does not fit"),
        ({"flange_slope": 0.5}, "no steel at the tip"),
        ({"toe_radius": 0.011}, "toe radius 11 mm is more than"),
    ],
)
def test_impossible_shapes_are_refused(change, why):
    with pytest.raises(CaseError, match=why):
        replace(IPE300, **change)


def test_both_faults_of_a_plate_are_told_at_once():
    with pytest.raises(CaseError) as caught:
        Plate(-1.0, math.inf)
    assert len(caught.value.problems) == 2


def test_a_wrong_axis_is_refused():
    with pytest.raises(CaseError, match="always strong"):
        Plate(0.1, 0.01).elevation("weak")
    wrong: Any = "x"
    for function in (
        lambda: IPE300.elevation(wrong),
        lambda: plastic_moment(IPE300, wrong, 1),
    ):
        with pytest.raises(CaseError, match="not one of strong, weak"):
            function()

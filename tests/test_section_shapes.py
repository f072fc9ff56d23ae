"""What every section shape owes to whoever asks: closed forms against its outline."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.shop.outline import surface_length, surfaces
from shrinksim.shop.sections.angle import Angle
from shrinksim.shop.sections.catalogue import KINDS, catalogue
from shrinksim.shop.sections.channel import Channel
from shrinksim.shop.sections.i_section import ISection
from shrinksim.shop.sections.integrals import properties_of
from shrinksim.shop.sections.plate import Plate
from shrinksim.shop.sections.shape import Section


@st.composite
def shapes(draw) -> Section:
    """A section of any kind and of any size that steel comes in."""
    h, share = draw(st.floats(0.04, 1.0)), st.floats(0.0, 0.9)
    b = h * draw(st.floats(0.3, 1.2))
    match draw(st.sampled_from(list(KINDS))):
        case "plate":
            return Plate(h, h * draw(st.floats(0.005, 0.9)))
        case "angle":
            least = min(h, b)
            t = least * draw(st.floats(0.04, 0.3))
            toe = draw(share) * t
            root = draw(share) * (least - t - toe)
            return Angle("drawn", b, h, t, root, toe)
        case word:
            make = {"I": ISection, "channel": Channel}[word]
            tf, tw = h * draw(st.floats(0.05, 0.15)), b * draw(st.floats(0.03, 0.3))
            slope = draw(st.sampled_from([0.0, 0.05, 0.08]))
            rise = slope * b / 2
            room = min((b - tw) / 2, h / 2 - tf - rise)
            root = draw(st.sampled_from([0.0, 0.1, 0.4])) * room
            toe = draw(st.sampled_from([0.0, 0.2, 0.4])) * min(room, tf - rise)
            return make("drawn", h, b, tw, tf, root, max(toe, 0.0), slope)


@given(shapes())
@settings(max_examples=80, deadline=None)
def test_properties_are_those_of_the_outline(shape):
    p, q = shape.properties, properties_of(shape.outline())
    upright = ("weak", "strong") if shape.flat else ("strong", "weak")
    assert p.area == pytest.approx(q.area, rel=1e-9)
    assert p.mass_per_length == pytest.approx(q.mass_per_length, rel=1e-9)
    for own, other in zip(upright, ("strong", "weak"), strict=True):
        for name in ("second_moment", "plastic_modulus", "elastic_modulus"):
            got, wanted = getattr(p, f"{name}_{own}"), getattr(q, f"{name}_{other}")
            assert got == pytest.approx(wanted, rel=1e-6), name
    size = max(shape.size)
    assert p.centroid == pytest.approx(q.centroid, abs=1e-9 * size)
    assert p.product_moment == pytest.approx(
        q.product_moment, abs=1e-9 * p.area * size**2
    )


@given(shapes())
@settings(max_examples=80, deadline=None)
def test_outline_closes_and_every_surface_has_steel_under_it(shape):
    pieces = shape.outline()
    for a, b in pairwise([*pieces, pieces[0]]):
        assert a.end == pytest.approx(b.start, abs=1e-12)
    x, y = zip(*(piece.start for piece in pieces), strict=True)
    assert (max(x) - min(x), max(y)) == pytest.approx(shape.size, rel=1e-9)
    assert min(y) == 0.0
    for name in surfaces(pieces):
        assert surface_length(pieces, name) > 0.0
        assert 0.0 < shape.wall_under(name) <= max(shape.size)


@given(shapes())
@settings(max_examples=80, deadline=None)
def test_symmetry_is_told_as_it_is(shape):
    centre = shape.properties.centroid
    middle = (0.0, 0.5 * shape.size[1])
    for even, at, half, size in zip(
        shape.symmetry, centre, middle, shape.size, strict=True
    ):
        if even:
            assert at == pytest.approx(half, abs=1e-9 * size)
    if any(shape.symmetry):
        assert shape.properties.product_moment == 0.0


@given(shapes(), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
@settings(max_examples=40, deadline=None)
def test_no_moment_uses_up_nothing_and_one_alone_itself(shape, m, other):
    assert shape.utilisation(0.0, 0.0) == 0.0
    assert shape.utilisation(0.0, m) >= m - 1e-12
    assert (
        shape.utilisation(m, other) >= max(shape.utilisation(0.0, other), 0.0) - 1e-12
    )


@pytest.mark.parametrize("name", catalogue())
def test_walls_of_rolled_shapes_have_words_and_lines_in_the_steel(name):
    shape = catalogue()[name]
    assert name in shape.words(lambda metres: f"{1e3 * metres:g} mm")
    width, height = shape.size
    for wall in shape.midlines:
        for x, y in (wall.start, wall.end):
            assert abs(x) <= 0.5 * width
            assert 0.0 <= y <= height

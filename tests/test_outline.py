"""The outline of a section, distances on its surfaces, and the mesh inside it."""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.errors import CaseError
from shrinksim.fem.basis import quadrature
from shrinksim.fem.mesher import graded_from, mesh_outline
from shrinksim.shop.outline import (
    Piece,
    along_surface,
    surface_coordinate,
    surface_length,
    surfaces,
)
from shrinksim.shop.sections.catalogue import catalogue, section_named
from shrinksim.shop.sections.i_section import ISection
from shrinksim.shop.sections.plate import Plate

SIDES, LEVELS = ("left", "right"), ("top", "bottom")
I_NAMES = {
    *(f"flange {level}" for level in LEVELS),
    *(f"flange {level} edge {side}" for level in LEVELS for side in SIDES),
    *(f"flange {level} inside {side}" for level in LEVELS for side in SIDES),
    *(f"root {level} {side}" for level in LEVELS for side in SIDES),
    *(f"web {side}" for side in SIDES),
}
IPE300, IPN300 = section_named("IPE 300"), section_named("IPN 300")
SHARP = replace(IPE300, name="sharp", root_radius=0.0)
PLATE = Plate(0.2, 0.02)
SECTIONS = [PLATE, SHARP, *catalogue().values()]


def name_of(section) -> str:
    return getattr(section, "name", "plate")


@st.composite
def shapes(draw) -> ISection:
    """Tapered or parallel, with and without radii."""
    h = draw(st.floats(0.08, 1.0))
    b = h * draw(st.floats(0.3, 1.1))
    tf, tw = h * draw(st.floats(0.05, 0.15)), b * draw(st.floats(0.03, 0.3))
    slope = draw(st.sampled_from([0.0, 0.05, 0.14]))
    room = min((b - tw) / 2, h / 2 - tf - slope * b / 4)
    root = draw(st.sampled_from([0.0, 0.1, 0.5])) * room
    toe = draw(st.sampled_from([0.0, 0.2, 0.45])) * min(room, tf - slope * b / 4)
    return ISection("drawn", h, b, tw, tf, root, max(toe, 0.0), slope)


def fine(piece: Piece, n: int = 2000) -> np.ndarray:
    """Points (n, 2) along one piece, drawn without the code under test."""
    t = np.linspace(0, 1, n)[:, None]
    start, end = np.array(piece.start), np.array(piece.end)
    chord = start + t * (end - start)
    if piece.centre is None:
        return chord
    centre = np.array(piece.centre)
    arm = chord - centre
    radius = np.linalg.norm(start - centre)
    return centre + radius * arm / np.linalg.norm(arm, axis=1)[:, None]


def closed_ring(pieces) -> np.ndarray:
    return np.concatenate([fine(piece)[:-1] for piece in pieces])


def moments(ring: np.ndarray) -> tuple[float, float]:
    """Area, positive counter-clockwise, and its second moment about the line y = 0."""
    (x, y), (u, v) = ring.T, np.roll(ring, -1, axis=0).T
    cross = x * v - u * y
    return float(cross.sum() / 2), float((cross * (y * y + y * v + v * v)).sum() / 12)


def check_outline(section):
    pieces = section.outline()
    for a, b in pairwise([*pieces, pieces[0]]):
        assert a.end == b.start
    area, second = moments(closed_ring(pieces))
    exact = section.properties
    centred = exact.second_moment_weak if section.flat else exact.second_moment_strong
    assert area == pytest.approx(exact.area, rel=1e-6)
    assert second - area * exact.centroid[1] ** 2 == pytest.approx(centred, rel=1e-5)


@pytest.mark.parametrize("section", SECTIONS, ids=name_of)
def test_outline_closes_around_the_area_of_the_section(section):
    check_outline(section)


@given(shapes())
@settings(max_examples=40, deadline=None)
def test_outline_of_any_shape(section):
    check_outline(section)


def test_names():
    assert set(surfaces(PLATE.outline())) == {
        "top", "bottom", "edge left", "edge right"
    }  # fmt: skip
    assert set(surfaces(IPE300.outline())) == I_NAMES
    assert set(surfaces(IPN300.outline())) == I_NAMES
    without = {name for name in I_NAMES if not name.startswith("root")}
    assert set(surfaces(SHARP.outline())) == without


def test_a_surface_that_is_not_there():
    with pytest.raises(
        CaseError, match="'lid' is not one of the surfaces bottom, edge"
    ):
        surface_length(PLATE.outline(), "lid")


def test_where_the_surfaces_of_an_ipe_300_lie():
    """Dimensions of EN 10365: 300 x 150, web 7.1, flange 10.7, radius 15 mm."""
    pieces = IPE300.outline()
    for name, s, where in [
        ("flange top", 0.03, (0.03, 0.3)),
        ("flange bottom", 0.03, (0.03, 0.0)),
        ("flange top inside left", -1.0, (-0.075, 0.2893)),
        ("flange top edge right", 1.0, (0.075, 0.3)),
        ("flange bottom edge left", -1.0, (-0.075, 0.0)),
        ("web left", 0.05, (-0.00355, 0.2)),
        ("web right", -0.05, (0.00355, 0.1)),
        ("root top right", 1.0, (0.01855, 0.2893)),
        ("root bottom right", 1.0, (0.00355, 0.0257)),
    ]:
        got = along_surface(pieces, name, np.array([s]))[0]
        assert got == pytest.approx(where, abs=1e-12), name
    assert surface_length(pieces, "web left") == pytest.approx(0.3 - 0.0514)
    assert surface_length(pieces, "root top left") == pytest.approx(0.015 * math.pi / 2)


@pytest.mark.parametrize("name", ["IPE300", "HEA200", "HEB300", "IPE500"])
def test_perimeter_against_the_paint_surface_of_parallel_flanges(name):
    """EN 10365 painting surface 2 h + 4 b - 2 tw - (8 - 2 pi) r, a closed form."""
    s = section_named(name)
    got = sum(piece.length for piece in s.outline())
    r = (8 - 2 * math.pi) * s.root_radius
    wanted = 2 * s.depth + 4 * s.flange_width - 2 * s.web_thickness - r
    assert got == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize(
    ("name", "published"), [("IPE300", 1.16), ("HEA200", 1.14), ("HEB300", 1.73)]
)
def test_perimeter_against_handbook_values(name, published):
    """Painting surface, m2/m, of EN 10365 tables; from memory."""
    got = sum(piece.length for piece in section_named(name).outline())
    assert got == pytest.approx(published, abs=0.005)


@pytest.mark.parametrize("section", [PLATE, SHARP, IPE300, IPN300], ids=name_of)
def test_distances_on_surfaces_and_back(section):
    pieces = section.outline()
    for name in surfaces(pieces):
        half = surface_length(pieces, name) / 2
        s = np.linspace(-half, half, 41)
        points = along_surface(pieces, name, s)
        back = surface_coordinate(pieces, name, points[:, 0], points[:, 1])
        np.testing.assert_allclose(back, s, atol=1e-12)
        steps = np.linalg.norm(np.diff(points, axis=0), axis=1)
        assert steps.sum() == pytest.approx(2 * half, rel=1e-3)
        rising = 0 if points[-1, 0] - points[0, 0] > 1e-9 else 1
        if "root" not in name and "edge" not in name:
            assert np.all(np.diff(points[:, rising]) > 0)
        else:
            assert np.all(np.diff(points[:, 1]) >= -1e-15)


def test_surface_coordinate_keeps_the_shape_of_its_points():
    pieces = PLATE.outline()
    x = np.linspace(-0.1, 0.1, 6).reshape(2, 3)
    got = surface_coordinate(pieces, "top", x, np.full_like(x, 0.02))
    np.testing.assert_allclose(got, x, atol=1e-15)


def arcs_of(pieces):
    return [piece for piece in pieces if piece.centre is not None]


@pytest.mark.parametrize("side", [0.004, 0.03])
@pytest.mark.parametrize("section", [PLATE, SHARP, IPE300, IPN300], ids=name_of)
def test_mesh_inside_the_outline(section, side):
    pieces = section.outline()
    mesh = mesh_outline(pieces, lambda x, y: side)
    assert mesh.regions == ("section",)
    area = float(quadrature(mesh, "interior 6").area.sum())
    assert area == pytest.approx(section.properties.area, rel=2e-4)
    check_edges(mesh, pieces)
    longest = np.argmax(np.ptp(mesh.points, axis=0))
    assert np.all(np.diff(mesh.points[:, longest]) >= 0)


def check_edges(mesh, pieces):
    """Every side of the boundary belongs to one edge, and its nodes lie on that."""
    sides = mesh.triangles[:, [[0, 1, 3], [1, 2, 4], [2, 0, 5]]].reshape(-1, 3)
    middle, count = np.unique(sides[:, 2], return_counts=True)
    boundary = np.sort(middle[count == 1])
    named = np.concatenate([edge[:, 2] for edge in mesh.edges.values()])
    np.testing.assert_array_equal(np.sort(named), boundary)
    assert set(mesh.edges) == set(surfaces(pieces))
    for name, edge in mesh.edges.items():
        x, y = mesh.points[edge].T
        s = surface_coordinate(pieces, name, x, y)
        back = along_surface(pieces, name, s.ravel()).reshape(*s.shape, 2)
        np.testing.assert_allclose(back, mesh.points[edge.T], atol=1e-10)
        covered = np.abs(s[0] - s[1]).sum()
        assert covered == pytest.approx(surface_length(pieces, name), rel=1e-9)


def test_middles_on_arcs_lie_on_the_arcs():
    pieces = IPN300.outline()
    mesh = mesh_outline(pieces, lambda x, y: 0.006)
    assert len(arcs_of(pieces)) == 8
    for arc in arcs_of(pieces):
        if not arc.name.startswith("root"):
            continue
        nodes = mesh.points[mesh.edges[arc.name]]
        radius = np.linalg.norm(nodes - np.array(arc.centre), axis=2)
        np.testing.assert_allclose(radius, IPN300.root_radius, rtol=1e-9)
        bulge = nodes[:, 2] - nodes[:, :2].mean(axis=1)
        assert np.all(np.linalg.norm(bulge, axis=1) > 1e-5)


@pytest.mark.parametrize("side", [0.006, 0.05, 0.5])
def test_no_triangle_turns_over_at_a_small_radius(side):
    for radius in (0.001, 0.004, 0.015):
        section = replace(IPE300, name="small", root_radius=radius)
        mesh = mesh_outline(section.outline(), lambda x, y: side)
        assert np.all(quadrature(mesh, "interior 6").area > 0)


def test_mesh_is_fine_at_the_heated_face():
    pieces = IPE300.outline()
    heated = along_surface(pieces, "flange top", np.linspace(-0.075, 0.075, 151))
    mesh = mesh_outline(pieces, graded_from(heated, 0.0015, 0.006, 0.15))

    def mean_side(name: str) -> float:
        return surface_length(pieces, name) / len(mesh.edges[name])

    assert mean_side("flange top") == pytest.approx(0.0015, rel=0.1)
    assert mean_side("flange bottom") == pytest.approx(0.006, rel=0.1)
    assert 0.0015 < mean_side("flange top inside left") < 0.004


def test_size_grows_with_the_distance():
    size = graded_from(np.array([[0.0, 0.0], [0.1, 0.0]]), 0.001, 0.005, 0.1)
    assert size(0.1, 0.0) == pytest.approx(0.001)
    assert size(0.05, 0.0) == pytest.approx(0.005)
    assert size(0.11, 0.0) == pytest.approx(0.002)
    assert size(9.0, 9.0) == 0.005

"""What a cold section carries, and where its steel is."""

import numpy as np
import pytest
from plain_case import only, read
from plain_section import BEAM, PLATE

from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.i_section import ISection
from shrinksim.shop.sections.plate import Plate
from shrinksim.views.section.case_checks import on_steel
from shrinksim.views.section.load_checks import capacity_faults, plastic_moments
from shrinksim.views.section.record import SectionCase


@pytest.mark.parametrize(
    ("axis", "most"),
    [("camber", 0.3 * 0.012**2 / 4 * 355e6), ("sweep", 0.3**2 * 0.012 / 4 * 355e6)],
)
def test_a_plate_lies_flat_when_its_moments_are_judged(axis, most):
    """b t^2 / 4 and b^2 t / 4 times fy, plastic moments of a rectangle (textbook)."""
    for share in (0.99, -0.99):
        moment = f"{share * most:.6f} N m"
        read(PLATE | {"load": {"kind": "weight", f"{axis}_moment": moment}})
    weight = {"kind": "weight", f"{axis}_moment": f"{1.01 * most:.6f} N m"}
    assert f"load.{axis}_moment is 1.01 Mp" in only(PLATE | {"load": weight})


def test_forces_beside_moments():
    for axis, base, carried in (
        ("camber", PLATE, False), ("sweep", PLATE, False), ("camber", BEAM, False),
        ("sweep", BEAM, True),
    ):  # fmt: skip
        most = 355e3 * (300 * 12e-6 if base is PLATE else 5381e-6)
        weight = {"kind": "weight", f"{axis}_moment": "0.9 Mp",
                  "axial": f"{0.35 * most:.1f} kN"}  # fmt: skip
        tables = base | {"load": weight}
        if carried:
            read(tables)
        else:
            assert f"load.{axis}_moment and load.axial together" in only(tables)
    heavy = {"kind": "weight", "axial": "-1300 kN"}
    assert "load.axial is 1.02 of what the cold section" in only(
        PLATE | {"load": heavy}
    )


def rectangles(shape):
    """Points x, y and areas (k,) m of a fine grid over the plates of a section."""
    b, h = 0.5 * getattr(shape, "flange_width", 0.0), 0.5 * getattr(shape, "depth", 0.0)
    match shape:
        case Plate(width=w, thickness=t):
            boxes = [(-w / 2, w / 2, -t / 2, t / 2)]
        case ISection(web_thickness=tw, flange_thickness=tf):
            boxes = [(-b, b, h - tf, h), (-b, b, -h, tf - h),
                     (-tw / 2, tw / 2, tf - h, h - tf)]  # fmt: skip
    rows = []
    for left, right, low, high in boxes:
        x, y = (
            np.linspace(a, b, 401)[:-1] + (b - a) / 800
            for a, b in ((left, right), (low, high))
        )
        X, Y = np.meshgrid(x, y)
        rows.append([X, Y, np.full_like(X, (right - left) * (high - low) / X.size)])
    return np.concatenate(rows, axis=1).reshape(3, -1)


@pytest.mark.parametrize("name", ["IPE 300", "HEA 200", "W8X31", "plate"])
def test_both_moments_are_refused_only_where_no_plastic_state_carries_them(name):
    """Fully plastic states, integrated over the section for neutral axes all round."""
    shape = Plate(0.3, 0.012) if name == "plate" else section_named(name)
    x, y, area = rectangles(shape)
    tall = 0.04 if name == "plate" else 1.0
    most = plastic_moments(shape, 1.0)
    for turn in np.linspace(0.05, 1.52, 12):
        sign = np.sign(y * np.cos(turn) + tall * x * np.sin(turn))
        carried = np.sum(area * sign * y), np.sum(area * sign * x)
        for share, refused in ((0.99, False), (1.08, True)):
            load = _weight(*(share * m * 235e6 for m in carried))
            said = list(capacity_faults(load, shape, 235e6, "metric"))
            beyond = max(share * m / p for m, p in zip(carried, most, strict=True)) >= 1
            assert bool(said) == refused
            if said and not beyond:
                assert "load.camber_moment and load.sweep_moment together" in said[0]


def _weight(camber, sweep):
    weight = {"kind": "weight", "camber_moment": f"{camber} N m",
              "sweep_moment": f"{sweep} N m"}  # fmt: skip
    return SectionCase.model_validate(BEAM | {"load": weight}).load


def test_points_on_the_steel():
    shape = section_named("IPE 300")
    pieces = shape.outline()
    r, x0, y0 = 0.015, 0.0071 / 2 + 0.015, 0.0107 + 0.015
    rim = np.array([x0, y0]) - r / np.sqrt(2)
    for sx, sy in ((1, 1), (-1, 1), (1, -1), (-1, -1)):
        for step, inside in ((-1e-4, True), (1e-4, False)):
            px, py = rim + step
            assert on_steel(pieces, sx * px, py if sy > 0 else 0.3 - py) is inside
    assert on_steel(pieces, 0.075, 0.3)
    assert on_steel(pieces, -0.075, 0.0107)
    assert not on_steel(pieces, -0.0751, 0.0107)

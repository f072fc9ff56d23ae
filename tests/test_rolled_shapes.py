"""Channels and angles in the section view, and where they are refused."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from plain_section import PLATE as PLAIN
from section_jobs import PLATE, cut_job

import shrinksim
from shrinksim.errors import CaseError
from shrinksim.fem.mesher import mesh_outline
from shrinksim.fem.section import section_body, section_ties
from shrinksim.fem.structure import support
from shrinksim.member.setup.rigging import Prop, Rigging, rigging_faults
from shrinksim.shop.outline import surfaces
from shrinksim.shop.sections.angle import Angle
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.channel import Channel
from shrinksim.shop.steel import steel
from shrinksim.strain import elastic_response
from shrinksim.views.reading import case_from
from shrinksim.views.section.result import SectionResult

LINE = {"kind": "line along", "length": "1 m"}
CHANNEL = {
    "section": "channel", "depth": "120 mm", "flange_width": "60 mm",
    "web_thickness": "6 mm", "flange_thickness": "9 mm", "root_radius": "9 mm",
}  # fmt: skip
ANGLE = {
    "section": "angle", "width": "80 mm", "depth": "80 mm", "thickness": "8 mm",
    "root_radius": "10 mm",
}  # fmt: skip
S235 = steel("S235").strain


def cut(member: dict[str, Any], on: list[str], at: str = "0 mm") -> SectionResult:
    base = PLATE | {"member": member, "torch": {**PLATE["torch"], "power": "4 kW"}}
    base |= {"heat": [{"pattern": [LINE | {"on": on, "at": at}]}]}
    result = shrinksim.run(cut_job(base))
    assert result.view.name == "section"
    return result


def left_over(result: SectionResult) -> np.ndarray:
    """Force and both moments of the stress left, over what their sizes come to."""
    body = result.body
    pull = body.weight * result.strain.stress[..., 3]
    parts = np.stack([pull, *np.moveaxis(pull[..., None] * body.arms, -1, 0)])
    return parts.sum(axis=(1, 2)) / np.abs(parts).sum(axis=(1, 2))


def check_movement(result: SectionResult) -> None:
    """In equilibrium, and as the plastic strains say by the unit-load theorem."""
    moved = result.movement
    assert np.abs(left_over(result)).max() < 1e-4
    got = [moved.strain, moved.camber, moved.sweep]
    scale = np.abs([moved.camber, moved.sweep]).max()
    assert got == pytest.approx(list(moved.from_plastic), abs=2e-3 * scale)


@pytest.mark.slow
def test_flange_of_a_channel_bows_it_sideways_more_than_up():
    """A force at the flange: curvatures P ey / Ix and P ex / Iy, elementary."""
    result = cut({"section": "UPN 160"}, ["flange top"])
    check_movement(result)
    moved, p = result.movement, result.geometry.properties
    ratio = (0.0 - p.centroid[0]) / p.second_moment_weak
    ratio /= (0.155 - p.centroid[1]) / p.second_moment_strong
    assert moved.camber > 0.0
    assert moved.sweep / moved.camber == pytest.approx(ratio, rel=0.15)
    assert moved.sweep > 1.5 * moved.camber


@pytest.mark.slow
def test_both_flanges_of_a_channel_sweep_it_only():
    result = cut(CHANNEL, ["flange top", "flange bottom"])
    check_movement(result)
    moved = result.movement
    assert result.geometry.side == (1, 0)
    assert abs(moved.camber) < 0.02 * moved.sweep
    assert not any(c.code == "twist" for c in result.cautions)


@pytest.mark.slow
def test_legs_of_an_angle_mirror_each_other():
    lying = cut(ANGLE, ["lying leg"], "15 mm")
    standing = cut(ANGLE, ["standing leg"], "15 mm")
    check_movement(lying)
    check_movement(standing)
    one, other = lying.movement, standing.movement
    large = max(abs(one.camber), abs(one.sweep))
    assert one.camber == pytest.approx(other.sweep, abs=0.03 * large)
    assert one.sweep == pytest.approx(other.camber, abs=0.03 * large)
    assert any(c.code == "twist" for c in lying.cautions)


@pytest.mark.parametrize(
    "shape",
    [
        Angle("L", 0.08, 0.08, 0.008, 0.01, 0.005),
        Angle("unequal", 0.06, 0.1, 0.008, 0.01),
        section_named("UPN 120"),
    ],
    ids=lambda s: s.name,
)
def test_elastic_moment_bends_by_ei_with_the_product_of_inertia(shape):
    """k = I^-1 M / E with I of the outline: unsymmetrical bending, any handbook."""
    body = section_body(mesh_outline(shape.outline(), lambda x, y: 0.008), S235)
    ties = section_ties(body.mesh)
    p, E = shape.properties, float(np.interp(20.0, *_modulus()))
    inertia = np.array(
        [[p.second_moment_strong, -p.product_moment],
         [-p.product_moment, p.second_moment_weak]]
    )  # fmt: skip
    for moment in ([1e3, 0.0], [0.0, 1e3], [1e3, -700.0]):
        push = np.zeros(ties.unknowns)
        push[-2:] = np.array(moment) / body.arm
        cold = np.full(len(body.mesh.points), 20.0)
        q = elastic_response(body, support(ties), push, cold)
        got = q[-2:] / body.arm
        wanted = np.linalg.solve(inertia, moment) / E
        assert got == pytest.approx(wanted, rel=5e-4, abs=1e-6 * np.abs(wanted).max())


def _modulus() -> tuple[np.ndarray, np.ndarray]:
    return S235.start + S235.step * np.arange(len(S235.modulus)), S235.modulus


@pytest.mark.parametrize(
    ("member", "one"),
    [
        (CHANNEL, "web back"),
        ({"section": "C8x11.5"}, "web back"),
        (ANGLE, "lying leg"),
        ({"section": "L 100x100x10"}, "lying leg"),
    ],
)
def test_every_surface_can_be_heated(member, one):
    def read(on: str) -> Any:
        heat = [{"pattern": [LINE | {"on": on}]}]
        return sound(PLAIN | {"member": member, "heat": heat})

    for name in surfaces(read(one).member.shape.outline()):
        read(name)


def sound(tables: dict[str, Any]) -> Any:
    return case_from(tables, "case.toml", Path())


def said(tables: dict[str, Any]) -> str:
    with pytest.raises(CaseError) as caught:
        sound(tables)
    return " | ".join(caught.value.problems)


VEE = {"kind": "vee", "angle": "30 deg", "depth_ratio": 0.6, "open": "top"}
ELEVATION = {"title": "a vee", "steel": {"grade": "S235"},
             "heat": [{"pattern": [VEE]}]}  # fmt: skip


@pytest.mark.parametrize(
    ("member", "why"),
    [
        ({"section": "UPN 200"}, "'UPN200' is a channel; seen from the side"),
        ({"section": "UPN 200", "axis": "weak"}, "'UPN200' is a channel; in plan"),
        (CHANNEL | {"axis": "strong"}, "'channel' is a channel; seen from the side"),
        (ANGLE, "'angle' is an angle; its principal axes are inclined"),
    ],
)
def test_no_elevation(member, why):
    sentence = said(ELEVATION | {"member": member})
    assert "case.toml: member.section = " in sentence
    assert why in sentence
    assert 'use view = "section"' in sentence


def test_moments_on_an_angle_are_refused():
    heat = [{"pattern": [LINE | {"on": "lying leg"}]}]
    load = {"kind": "weight", "camber_moment": "0.1 Mp"}
    tables = PLAIN | {"member": ANGLE, "heat": heat, "load": load}
    assert "load.kind = 'weight' is not for section 'angle'" in said(tables)
    sound(tables | {"load": {"kind": "held"}})


def test_plans_are_for_plates_and_i_sections():
    rigging = Rigging(section_named("UPN200"), 6.0, 235e6, (Prop(0.5), Prop(5.5)))
    assert any(
        "plans are for plates and I-sections" in f for f in rigging_faults(rigging)
    )


@pytest.mark.parametrize(
    ("name", "kind"),
    [("HSS6X6X1/4", "a hollow section"), ("RHS 100x50x5", "a hollow section"),
     ("WT6X20", "a tee"), ("Z 100", "a zed")],
)  # fmt: skip
def test_kinds_that_are_not_modelled_are_named_and_have_no_neighbour(name, kind):
    with pytest.raises(CaseError, match=f"is {kind}, which is not modelled") as caught:
        section_named(name)
    assert "did you mean" not in str(caught.value)


@pytest.mark.parametrize(
    ("written", "hint"),
    [("UPN90", "UPN80 or UPN100"), ("L 100x100x11", "L100X10"), ("L120x80x10", None)],
)
def test_neighbours_are_of_the_same_kind(written, hint):
    with pytest.raises(CaseError) as caught:
        section_named(written)
    assert (hint in str(caught.value)) if hint else "did you" not in str(caught.value)


@pytest.mark.parametrize(
    ("make", "why"),
    [
        (lambda: Channel("c", 0.2, 0.08, 0.09, 0.01, 0.01), "leaves no flange"),
        (lambda: Channel("c", 0.2, 0.08, 0.006, 0.1, 0.01), "fill all of depth"),
        (lambda: Channel("c", 0.2, 0.08, 0.006, 0.01, 0.09), "root radius 90 mm does"),
        (lambda: Angle("a", 0.08, 0.08, 0.09, 0.01), "leaves no leg"),
        (lambda: Angle("a", 0.08, 0.08, 0.008, 0.075), "does not fit between the legs"),
        (lambda: Angle("a", 0.08, 0.08, 0.008, 0.01, 0.009), "toe radius 9 mm is more"),
        (lambda: Angle("a", 0.08, -0.08, 0.008, 0.01), "depth -80 mm must be more"),
    ],
)
def test_impossible_shapes_are_refused(make, why):
    with pytest.raises(CaseError, match=why):
        make()

"""Channels and angles against handbooks and the general open library sectionproperties.

UPN: DIN 1026-1, UPE: EN 10365, L: EN 10056-1, C: the American shapes table (AISC); all
dimensions and values from memory, so that every row checks the data file and itself.

Error budget of the channels with tapered flanges: their thickness is the mean one, the
radii are nominal, and the tables round to three digits.  Seen: UPN area within 0.34 %,
strong axis 0.32 %, weak axis 0.57 %, centroid 0.44 %; C 0.49 %, 0.21 %, 1.4 % (whose
smallest table value has three digits), 0.28 %.  UPE and L, without a taper: rounding of
the tables, up to 0.35 %.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from sectionproperties.analysis import Section
from sectionproperties.pre.library import (
    angle_section,
    channel_section,
    tapered_flange_channel,
)

from shrinksim.fem.basis import quadrature
from shrinksim.fem.mesher import mesh_outline
from shrinksim.shop.sections.angle import Angle
from shrinksim.shop.sections.catalogue import catalogue, section_named
from shrinksim.shop.sections.channel import Channel

pytestmark = pytest.mark.slow

CM, INCH = 1e-2, 0.0254
CORNERS = 48

# A cm2, I strong and weak cm4, centroid from the back of the web cm
EUROPEAN = [
    ("UPN80", 11.0, 106, 19.4, 1.45),
    ("UPN100", 13.5, 206, 29.3, 1.55),
    ("UPN120", 17.0, 364, 43.2, 1.60),
    ("UPN140", 20.4, 605, 62.7, 1.75),
    ("UPN160", 24.0, 925, 85.3, 1.84),
    ("UPN180", 28.0, 1350, 114, 1.92),
    ("UPN200", 32.2, 1910, 148, 2.01),
    ("UPN220", 37.4, 2690, 197, 2.14),
    ("UPN240", 42.3, 3600, 248, 2.23),
    ("UPN260", 48.3, 4820, 317, 2.36),
    ("UPN280", 53.3, 6280, 399, 2.53),
    ("UPN300", 58.8, 8030, 495, 2.70),
    ("UPN320", 75.8, 10870, 597, 2.60),
    ("UPN350", 77.3, 12840, 570, 2.40),
    ("UPN380", 80.4, 15760, 615, 2.38),
    ("UPE100", 12.5, 207, 38.2, 1.91),
    ("UPE120", 15.4, 364, 55.4, 1.98),
    ("UPE160", 21.7, 911, 107, 2.27),
    ("UPE200", 29.0, 1910, 187, 2.56),
    ("UPE240", 38.5, 3600, 311, 2.79),
    ("UPE300", 56.6, 7820, 538, 2.89),
]
# the same in inches
AMERICAN = [
    ("C4X5.4", 1.58, 3.85, 0.312, 0.457),
    ("C6X8.2", 2.39, 13.1, 0.687, 0.512),
    ("C8X11.5", 3.37, 32.5, 1.31, 0.572),
    ("C10X15.3", 4.48, 67.3, 2.27, 0.634),
    ("C12X20.7", 6.08, 129, 3.86, 0.698),
    ("C15X33.9", 10.0, 315, 8.07, 0.788),
]
# A cm2, I cm4 along a leg, centroid from the heel cm, principal I cm4
ANGLES = [
    ("L50X5", 4.80, 11.0, 1.40, 17.4, 4.55),
    ("L60X6", 6.91, 22.8, 1.69, 36.1, 9.44),
    ("L70X7", 9.40, 42.3, 1.97, 67.1, 17.5),
    ("L80X8", 12.3, 72.2, 2.26, 115, 29.9),
    ("L90X9", 15.5, 116, 2.54, 184, 47.9),
    ("L100X10", 19.2, 177, 2.82, 280, 73.0),
    ("L120X12", 27.5, 368, 3.40, 584, 152),
    ("L150X15", 43.0, 898, 4.25, 1430, 370),
    ("L200X16", 61.8, 2340, 5.52, 3720, 960),
    ("L200X20", 76.3, 2850, 5.68, 4530, 1170),
]
SEEN = {
    "UPN": (0.0035, 0.0033, 0.0058, 0.0045),
    "UPE": (0.0013, 0.0015, 0.0017, 0.0020),
    "C": (0.0050, 0.0022, 0.0138, 0.0029),
}


def channel_row(name: str) -> tuple[float, ...]:
    shape = catalogue()[name]
    p = shape.properties
    back = p.centroid[0] + 0.5 * shape.size[0]
    return p.area, p.second_moment_strong, p.second_moment_weak, back


@pytest.mark.parametrize("row", [*EUROPEAN, *AMERICAN], ids=lambda row: row[0])
def test_every_channel_of_the_catalogue(row):
    name, *values = row
    one = INCH if row in AMERICAN else CM
    family = name.rstrip("0123456789.X")
    within = SEEN[family if family in SEEN else "C"]
    for got, value, power, rel in zip(
        channel_row(name), values, (2, 4, 4, 1), within, strict=True
    ):
        assert got == pytest.approx(value * one**power, rel=rel)


@pytest.mark.parametrize("row", ANGLES, ids=lambda row: row[0])
def test_every_angle_of_the_catalogue(row):
    name, *values = row
    p = catalogue()[name].properties
    assert p.second_moment_weak == pytest.approx(p.second_moment_strong, rel=1e-12)
    spread = abs(p.product_moment)  # principal axes of equal legs lie at 45 degrees
    got = (
        p.area, p.second_moment_strong, p.centroid[1],
        p.second_moment_strong + spread, p.second_moment_strong - spread,
    )  # fmt: skip
    for value, wanted, power in zip(got, values, (2, 4, 1, 4, 4), strict=True):
        assert value == pytest.approx(wanted * CM**power, rel=0.0035)


def test_every_channel_and_angle_is_checked_here():
    checked = {row[0] for row in [*EUROPEAN, *AMERICAN, *ANGLES]}
    others = {name for name, s in catalogue().items() if s.kind != "I"}
    assert checked == others


def analysed(geometry, *, warping: bool = False) -> Section:
    section = Section(geometry.create_mesh(0.0 if not warping else 12.0, coarse=True))
    section.calculate_geometric_properties()
    section.calculate_plastic_properties()
    if warping:
        section.calculate_warping_properties()
    return section


OWN = Channel("own", 0.2, 0.075, 0.0085, 0.0115, 0.0115, 0.006, 0.08)
PEERS = {
    # the library's flange thickness holds in the middle of the outstand
    "tapered": (
        OWN,
        lambda: tapered_flange_channel(
            200,
            75,
            11.5 - 0.08 * 8.5 / 2,
            8.5,
            11.5,
            6,
            math.degrees(math.atan(0.08)),
            CORNERS,
        ),
    ),
    "UPE200": (
        section_named("UPE 200"),
        lambda: channel_section(200, 80, 11, 6, 13, CORNERS),
    ),
    "L100X10": (
        section_named("L 100x10"),
        lambda: angle_section(100, 100, 10, 12, 6, CORNERS),
    ),
    "unequal": (
        Angle("own", 0.075, 0.12, 0.01, 0.011, 0.0055),
        lambda: angle_section(120, 75, 10, 11, 5.5, CORNERS),
    ),
}


@pytest.mark.parametrize("name", PEERS)
def test_properties_by_the_library(name):
    """Seen: within 0.01 %, of the polygon that cuts the arcs."""
    shape, geometry = PEERS[name]
    peer, p = analysed(geometry()), shape.properties
    strong, weak, product = peer.get_ic()
    z_strong, z_weak = peer.get_s()
    got = [p.area, p.second_moment_strong, p.second_moment_weak,
           p.plastic_modulus_strong, p.plastic_modulus_weak]  # fmt: skip
    wanted = [peer.get_area() * 1e-6, strong * 1e-12, weak * 1e-12,
              z_strong * 1e-9, z_weak * 1e-9]  # fmt: skip
    if shape.kind == "channel":
        assert got == pytest.approx(wanted, rel=2e-4)
    else:  # its plastic moduli are about other axes: those of the geometry agree
        assert got[:3] == pytest.approx(wanted[:3], rel=2e-4)
    assert p.product_moment == pytest.approx(product * 1e-12, rel=2e-4, abs=1e-14)
    x, y = peer.get_c()
    assert (p.centroid[0] + 0.5 * shape.size[0], p.centroid[1]) == pytest.approx(
        (x * 1e-3, y * 1e-3), rel=2e-4
    )


@pytest.mark.parametrize("name", ["UPE200", "L100X10"])
def test_thin_walled_torsion_by_the_library(name):
    """Fillets are left out, on the safe side: seen 17 % under (UPE 200)."""
    shape, geometry = PEERS[name]
    peer = analysed(geometry(), warping=True)
    torsion = peer.get_j() * 1e-12
    assert 0.82 * torsion < shape.torsion_constant < torsion
    if shape.kind == "channel":
        warping = peer.get_gamma() * 1e-18
        assert shape.warping_constant == pytest.approx(warping, rel=0.05)


@pytest.mark.parametrize("name", PEERS)
def test_the_mesh_fills_the_outline(name):
    shape, _ = PEERS[name]
    q = quadrature(mesh_outline(shape.outline(), lambda x, y: 0.006), "interior 6")
    p = shape.properties
    x, y = q.xy[..., 0] - p.centroid[0], q.xy[..., 1] - p.centroid[1]
    got = [q.area.sum(), *(np.sum(q.area * v) for v in (y * y, x * x, x * y))]
    wanted = [p.area, p.second_moment_strong, p.second_moment_weak, p.product_moment]
    assert got == pytest.approx(wanted, rel=2e-4, abs=1e-12)

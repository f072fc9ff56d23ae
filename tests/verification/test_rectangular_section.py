"""The rectangular beam of test_rectangular_beam as a section: 20 mm by 100 mm, steel "K".

W. Prager & P. G. Hodge, Theory of Perfectly Plastic Solids, 1951 (from memory); the
algebra is redone here.  The texts' fibres are free across; flow
could hold them back in a section of finite width, so it is solved at its own width and at
a twentieth: both are within the texts' tolerance.
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import rectangle
from strain_cases import (
    ALPHA,
    MM,
    SY,
    E,
    axial,
    constant_steel,
    plane_section,
    ramp,
    uniform,
)

from shrinksim.arrays import FloatArray
from shrinksim.fem.section import SectionBody, section_body, section_ties
from shrinksim.fem.structure import support
from shrinksim.strain import Control

pytestmark = pytest.mark.slow

WIDTH, DEPTH = 20 * MM, 100 * MM
YIELD_CURVATURE = 2.0 * SY / (E * DEPTH)
WIDTHS = {"narrow": 0.05 * WIDTH, "full": WIDTH}
CLOSE = Control(tolerance=1e-6)


def yield_moment(body: SectionBody) -> float:
    return SY * body.second_moments[0] / (0.5 * DEPTH)


def section(width: float) -> SectionBody:
    across = 2 if width < WIDTH else 6  # even: mirrored
    return section_body(rectangle(width, DEPTH, across, 32), constant_steel())


def moment(body: SectionBody, stress: FloatArray) -> float:
    """N m that goes with the curvature of the depth."""
    return body.arm * float((body.weight * body.arms[..., 0] * stress[..., 3]).sum())


def bent(body: SectionBody, curvature: float) -> tuple[float, float, FloatArray]:
    """Curved by a very stiff spring, then released: moment, curvature, stress left."""
    free = section_ties(body.mesh)
    stiff, rest = np.zeros((2, free.unknowns))
    stiff[-2] = 1e5 * E * body.second_moments[0] / body.arm**2
    rest[-2] = curvature * body.arm
    hold = support(free, spring=stiff, rest=rest)
    fraction = np.append(np.linspace(0.0, 1.0, 11), 0.0)
    out = uniform(body, hold, np.full(12, 20.0), fraction, control=CLOSE)
    turned = axial(body, out)[:, 1]
    assert turned[-2] == pytest.approx(curvature, rel=5e-5)
    return out.push[-2, -2] * body.arm, turned[-1], out.stress


# curvature over that at yield; moment and curvature left over those at yield
D5 = [(1.5, 1.277778, 0.22222), (2.0, 1.375, 0.625), (3.0, 1.444444, 1.55556)]


@pytest.mark.parametrize("width", sorted(WIDTHS))
@pytest.mark.parametrize(("share", "most", "left"), D5)
def test_moment_curvature_and_springback(share, most, left, width):
    """D5: M / My = 1.5 - 0.5 (ky/k)2."""
    m = 1.5 - 0.5 / share**2
    assert (m, share - m) == pytest.approx((most, left), rel=3e-5)
    body = section(WIDTHS[width])
    bending, turned, stress = bent(body, share * YIELD_CURVATURE)
    assert bending / yield_moment(body) == pytest.approx(m, rel=1e-3)
    assert turned / YIELD_CURVATURE == pytest.approx(share - m, rel=5e-3)
    assert abs(moment(body, stress)) < 1e-5 * yield_moment(body)


def held_straight(width: float, share: float) -> tuple[float, float]:
    """Moment over that at yield, hot and cold, its faces ``share`` gradients apart."""
    body = section(width)
    hold = support(section_ties(body.mesh, held=(False, True, True)))
    gradient = 2.0 * SY / (E * ALPHA)
    path = 20.0 + ramp(0.0, share * gradient, 0.0, step=0.125 * gradient)
    top = len(path) // 2
    field = body.mesh.points[:, 1] / DEPTH - 0.5
    out = uniform(body, hold, path, field=field, control=CLOSE, snapshots=(top,))
    moments = [moment(body, s) for s in (out.snapshots[top], out.stress)]
    return moments[0] / yield_moment(body), moments[1] / yield_moment(body)


# gradient over that at yield; moment over that at yield, hot and cold
D6 = [(1.0, 1.0, 0.0), (1.5, 1.277778, 0.222222), (2.5, 1.42, 0.94)]


@pytest.mark.parametrize("width", sorted(WIDTHS))
@pytest.mark.parametrize(("share", "hot", "cold"), D6)
def test_straight_beam_with_a_gradient_of_temperature(share, hot, cold, width):
    """D6: the hot curve is bending's; the cold one springs back along twice its size."""

    def line(k: float) -> float:
        return k if k < 1 else 1.5 - 0.5 / k**2

    assert line(share) == pytest.approx(hot, rel=1e-6)
    assert line(share) - 2.0 * line(0.5 * share) == pytest.approx(-cold, abs=1e-6)
    found = held_straight(WIDTHS[width], share)
    assert found[0] == pytest.approx(-hot, rel=1e-3)
    assert found[1] == pytest.approx(cold, rel=3e-3, abs=1e-4)


# moment over that at yield; curvature 1/mm at start, after the cycle, unloaded; e0
C14 = [
    (0.8, 1.790476e-5, 6.025831e-5, 3.853715e-5, -5.138199e-4),
    (0.0, 0.0, 0.0, 0.0, -2.485895e-4),
]


@pytest.mark.parametrize("width", sorted(WIDTHS))
@pytest.mark.parametrize(("share", "start", "cycled", "unloaded", "stretch"), C14)
def test_one_symmetric_thermal_cycle_under_a_moment(
    share, start, cycled, unloaded, stretch, width
):
    """C14: T = 20 + 400 q (2y/h)2, q 0 to 1 to 0, moment held; fibres here."""
    heat = ramp(20.0, 420.0, 20.0, step=4.0)
    path = np.concatenate([[20.0], heat, [20.0]])
    fraction = np.ones(len(path))
    fraction[[0, -1]] = 0.0
    y = ((np.arange(1000) + 0.5) / 1000 - 0.5) * DEPTH
    shape = (2.0 * y / DEPTH) ** 2
    body = section(WIDTHS[width])
    most = share * yield_moment(body)
    line = plane_section(
        y,
        np.full(len(y), body.area / len(y)),
        [
            (20.0 + (T - 20.0) * shape, 0.0, f * most)
            for T, f in zip(path, fraction, strict=True)
        ],
        lambda T: np.full(len(T), E),
        lambda T: ALPHA * (T - 20.0),
        lambda T: np.full(len(T), SY),
    )
    turned = np.array([line[k][1] for k in (1, -2, -1)])
    assert turned / 1e3 == pytest.approx([start, cycled, unloaded], rel=2e-4, abs=1e-12)
    assert line[-1][0] == pytest.approx(stretch, rel=1e-4)
    free = section_ties(body.mesh)
    force = np.zeros(free.unknowns)
    force[-2] = most / body.arm
    field = (2.0 * body.mesh.points[:, 1] / DEPTH - 1.0) ** 2
    hold = support(free, force=force)
    out = uniform(body, hold, path, fraction, field=field, control=CLOSE)
    found = axial(body, out)[[1, -2, -1]]
    assert found[:, 1] == pytest.approx(turned, rel=5e-3, abs=1e-4 * YIELD_CURVATURE)
    assert found[:, 2] == pytest.approx(0.0, abs=1e-4 * YIELD_CURVATURE)
    assert found[-1, 0] == pytest.approx(line[-1][0], rel=5e-3)

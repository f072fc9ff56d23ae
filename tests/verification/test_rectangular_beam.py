"""A rectangular beam bent into the plastic range, released, and cycled in temperature.

The moment-curvature line of a rectangle, its springback and its meeting with axial force
are in any text on plasticity (W. Prager & P. G. Hodge, Theory of Perfectly Plastic
Solids, 1951, from memory); the algebra is redone here.  20 mm by 100 mm, steel "K".
"""

from __future__ import annotations

import numpy as np
import pytest
from meshes import rectangle
from strain_cases import ALPHA, MPA, SY, E, constant_steel, plane_section, ramp, uniform

from shrinksim.fem.ends import PlaneEnds, plane_ends
from shrinksim.fem.sheet import Body, strain_body, support

WIDTH, DEPTH, LENGTH = 0.02, 0.1, 0.05
YIELD_CURVATURE = 2.0 * SY / (E * DEPTH)
YIELD_MOMENT = SY * WIDTH * DEPTH**2 / 6.0
BENDING = E * WIDTH * DEPTH**3 / 12.0


def beam(layers: int) -> tuple[Body, PlaneEnds]:
    mesh = rectangle(LENGTH, DEPTH, 1, layers)
    ends = plane_ends(mesh, 0.5 * DEPTH, 0.5 * DEPTH)
    return strain_body(mesh, WIDTH, constant_steel()), ends


def bent(curvature: float, layers: int):
    """Turned by a very stiff jack, then released; curvature and moment at each knot."""
    body, ends = beam(layers)
    m = ends.ties.unknowns
    stiff, rest = np.zeros(m), np.zeros(m)
    stiff[ends.turn] = 1e5 * BENDING / LENGTH / ends.arm**2
    rest[ends.turn] = curvature * LENGTH * ends.arm
    hold = support(ends.ties, spring=stiff, rest=rest)
    fraction = np.append(np.linspace(0.0, 1.0, 11), 0.0)
    path = np.full(len(fraction), 20.0)
    out = uniform(body, hold, path, fraction, snapshots=(10,))
    turned = out.q[:, ends.turn] / ends.arm / LENGTH
    return body, out, turned, out.push[:, ends.turn] * ends.arm


# curvature over that at yield; moment, residual curvature, and residual stress MPa at
# the surface and at the edge of the elastic core
D5 = [
    (1.5, 1.277778, 0.22222, -65.278, 34.815),
    (2.0, 1.375, 0.62500, -88.125, 73.4375),
    (3.0, 1.444444, 1.55556, -104.444, 121.852),
    (5.0, 1.48, 3.52000, -112.800, 165.440),
]


@pytest.mark.parametrize(("share", "moment", "left", "surface", "core"), D5)
def test_moment_curvature_and_springback(share, moment, left, surface, core):
    """D5: M / My = 1.5 - 0.5 (ky/k)2; stresses left are SY less M y / I."""
    m = 1.5 - 0.5 / share**2
    closed = (m, share - m, SY / MPA * (1.0 - m), SY / MPA * (1.0 - m / share))
    assert closed == pytest.approx((moment, left, surface, core), rel=3e-5)
    body, out, turned, moments = bent(share * YIELD_CURVATURE, 24)
    assert turned[-2] == pytest.approx(share * YIELD_CURVATURE, rel=2e-5)
    assert moments[-2] / YIELD_MOMENT == pytest.approx(m, rel=5e-4)
    assert moments[-1] == 0.0
    assert turned[-1] / YIELD_CURVATURE == pytest.approx(closed[1], rel=3e-3)

    y = np.einsum("qa,ea->eq", body.N, body.mesh.points[body.triangles][..., 1])
    far = y / (0.5 * DEPTH) - 1.0  # -1 at the lower face, 1 at the upper
    exact = np.clip(-far * share, -1.0, 1.0) + far * m  # + turn: the top shortens
    away = (
        np.abs(np.abs(far) - 1.0 / share) > 2.0 / 24.0
    )  # where layers do not straddle
    found = out.stress[..., 0] / SY
    assert found[away] == pytest.approx(exact[away], abs=0.005)
    assert np.abs(found - exact).max() < 0.05


def held_straight(heat: list[float], layers: int, axial: float = 0.0) -> list[float]:
    """Moments over yield of a beam kept from turning, its faces ``heat`` K apart.

    axial : N on it from before the first heat.
    """
    body, ends = beam(layers)
    m = ends.ties.unknowns
    stiff, force = np.zeros(m), np.zeros(m)
    stiff[ends.turn] = 1e5 * BENDING / LENGTH / ends.arm**2
    force[ends.stretch] = axial
    path = np.concatenate([[0.0], ramp(0.0, *heat, step=0.25 * GRADIENT)])
    at = [int(np.flatnonzero(path == h)[-1]) for h in heat]
    fraction = np.ones(len(path))
    fraction[0] = 0.0
    across = body.mesh.points[:, 1] / DEPTH - 0.5
    out = uniform(
        body, support(ends.ties, spring=stiff, force=force), path + 20.0, fraction,
        field=across,
    )  # fmt: skip
    return list(-out.push[at, ends.turn] * ends.arm / YIELD_MOMENT)


GRADIENT = 2.0 * SY / (E * ALPHA)
"""K between the faces of a straight beam at first yield."""


# gradient over that at yield; moment over that at yield, hot and cold
D6 = [(1.0, 1.0, 0.0), (1.5, 1.277778, 0.222222), (2.5, 1.42, 0.94)]


@pytest.mark.parametrize(("share", "hot", "cold"), D6)
def test_straight_beam_with_a_gradient_of_temperature(share, hot, cold):
    """D6: as bending by share; the cold moment is what springback undid, at most hot.

    For a share of 2.5 the other side of the springback yields: the cold curve is the
    first one at twice the size (Masing), M(1) - 2 M(share / 2).
    """

    def line(k: float) -> float:
        return k if k < 1 else 1.5 - 0.5 / k**2

    assert line(share) == pytest.approx(hot, rel=1e-6)
    assert line(share) - 2.0 * line(0.5 * share) == pytest.approx(-cold, abs=1e-6)
    assert pytest.approx(186.5079, abs=1e-4) == GRADIENT
    found = held_straight([share * GRADIENT, 0.0], 24)
    # the hotter, upper side is in compression: positive, as a closing turn
    assert found[0] == pytest.approx(-line(share), rel=1e-3)
    assert found[1] == pytest.approx(cold, rel=3e-3, abs=1e-4)


@pytest.mark.parametrize("n", [0.3, 0.6])
def test_moment_with_axial_force(n):
    """D5: M / Mp = 1 - n2 where all is plastic; pulled first, then curved by heat."""
    share = 12.0
    y = (np.arange(4000) + 0.5) / 4000 - 0.5
    # the elastic core of half height 1 / (2 share) sits at y = -n / 2, all else yields
    stress = np.clip((y + 0.5 * n) * 2.0 * share, -1.0, 1.0)
    assert stress.mean() == pytest.approx(n, abs=1e-4)
    fibres = 4.0 * (stress * y).mean()
    assert fibres == pytest.approx(1.0 - n**2, rel=0.005)
    found = held_straight([share * GRADIENT], 40, axial=n * SY * WIDTH * DEPTH)[0] / 1.5
    assert abs(found) == pytest.approx(fibres, rel=1e-3)
    assert abs(found) == pytest.approx(1.0 - n**2, rel=5e-3)


# moment over that at yield; curvature 1/mm at start, after the cycle, unloaded; e0
C14 = [
    (0.8, 1.790476e-5, 6.025831e-5, 3.853715e-5, -5.138199e-4),
    (0.0, 0.0, 0.0, 0.0, -2.485895e-4),
]


@pytest.mark.parametrize(("share", "start", "cycled", "unloaded", "stretch"), C14)
def test_one_symmetric_thermal_cycle_under_a_moment(
    share, start, cycled, unloaded, stretch
):
    """C14: T = 20 + 400 q (2y/h)2, q 0 to 1 to 0, moment held; fibres here."""
    heat = ramp(20.0, 420.0, 20.0, step=4.0)
    fraction = np.ones(len(heat) + 2)
    fraction[[0, -1]] = 0.0
    path = np.concatenate([[20.0], heat, [20.0]])

    y = ((np.arange(1000) + 0.5) / 1000 - 0.5) * DEPTH
    shape = (2.0 * y / DEPTH) ** 2
    steps = [
        (20.0 + (T - 20.0) * shape, 0.0, f * share * YIELD_MOMENT)
        for T, f in zip(path, fraction, strict=True)
    ]
    fibres = plane_section(
        y,
        np.full(len(y), WIDTH * DEPTH / len(y)),
        steps,
        lambda T: np.full(len(T), E),
        lambda T: ALPHA * (T - 20.0),
        lambda T: np.full(len(T), SY),
    )
    line = np.array([fibres[k][1] for k in (1, -2, -1)])
    assert line / 1e3 == pytest.approx([start, cycled, unloaded], rel=2e-4, abs=1e-12)
    assert fibres[-1][0] == pytest.approx(stretch, rel=1e-4)

    body, ends = beam(30)
    force = np.zeros(ends.ties.unknowns)
    force[ends.turn] = -share * YIELD_MOMENT / ends.arm  # the fibres' sense: top longer
    field = (2.0 * body.mesh.points[:, 1] / DEPTH - 1.0) ** 2
    hold = support(ends.ties, force=force)
    out = uniform(body, hold, path, fraction, field=field)
    turned = -out.q[:, ends.turn] / ends.arm / LENGTH
    scale = YIELD_CURVATURE
    assert turned[[1, -2, -1]] == pytest.approx(line, rel=5e-3, abs=1e-4 * scale)
    assert out.q[-1, ends.stretch] / LENGTH == pytest.approx(fibres[-1][0], rel=5e-3)

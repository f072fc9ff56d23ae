"""Heat released at a plane or a line where k grows with a power of the temperature.

Zel'dovich & Kompaneets 1950; Barenblatt 1952; Zel'dovich & Raizer, Physics of Shock
Waves, ch. X (citations from memory).  With k = K (T / TOP)^n, m = n + 1, u = T / TOP
and s = K t / (rho c m) the heat fills a region with a sharp edge:

    u = s^-alpha max(C - kappa (r / s^(alpha/d))^2, 0)^(1/n),
    alpha = d / (d n + 2),  kappa = alpha n / (2 m d),

d = 1 for a plane, 2 for a line.  The march starts from a moment of it and goes on until
the middle has cooled to 30 to 60 % of what it was.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of
from meshes import annulus, rectangle
from scipy.integrate import quad

from shrinksim.heat import Phase, Stepping, solve_heat

pytestmark = pytest.mark.slow

K, CAPACITY, TOP = 45.0, 4.0e6, 1000.0
"""W/mK at TOP; J/m3K; degC."""
REACH = 0.030
"""m, edge of the heated region at the start."""


def table(n: float):
    T = np.linspace(0.0, TOP, 4001)
    return 0.0, T[1], K * (T / TOP) ** n, CAPACITY * T


def source(n: float, d: int):
    """T(r, t), the edge r(t) in m, and the start at which T is TOP and the edge REACH."""
    alpha = d / (d * n + 2.0)
    kappa = alpha * n / (2.0 * (n + 1.0) * d)
    # u(0) = 1 and edge = REACH at the start: s^(alpha n) = C and C s^(2 alpha/d) =
    # kappa REACH^2, where alpha n + 2 alpha / d = 1
    first = kappa * REACH**2
    C = first ** (alpha * n)
    rate = K / (CAPACITY * (n + 1.0))

    def T(r, t):
        s = rate * t
        inside = C - kappa * (r / s ** (alpha / d)) ** 2
        return TOP * s**-alpha * np.maximum(inside, 0.0) ** (1.0 / n)

    def edge(t):
        return np.sqrt(C / kappa) * (rate * t) ** (alpha / d)

    return T, edge, first / rate


def march(mesh, r, n, d, end):
    """To ``end`` times the start; history, T(r, t), edge(t) and the moments looked at."""
    T, edge, start = source(n, d)
    moments = start * np.geomspace(1.0, end, 201)
    history = solve_heat(
        body_of(mesh, table(n)),
        [Phase(moments[-1] - start, times=moments[1:] - start)],
        initial=T(r, start),
        stepping=Stepping(newton=1e-3),
    )
    return history, T, edge, moments


def compare(found, r, cell):
    """Field away from the edge, the edge itself, and the heat.

    Next to the edge k goes to 0 and the slope of T jumps (n = 1) or is without bound
    (n = 2): there the field is as good as the mesh, so it is compared inside 0.9 of the
    radius, and the edge (T at 1 % of the middle's) to two cells.
    """
    history, T, edge, moments = found
    for s in (50, 100, 200):
        t, ours = moments[s], history.temperature[s]
        inside = r < 0.9 * edge(t)
        np.testing.assert_allclose(ours[inside], T(r[inside], t), atol=0.5)
        level = 0.01 * T(0.0, t)
        fine = np.linspace(0.0, edge(t), 20001)
        exact = fine[T(fine, t) > level].max()
        assert r[ours > level].max() == pytest.approx(exact, abs=2.0 * cell)
    assert abs(history.stored[-1]) < 1e-6 * CAPACITY * TOP * 1e-5
    assert history.absorbed[-1] == history.lost[-1] == 0.0


def total(T, edge, d, t):
    """Heat over rho c and over the angle."""
    return quad(lambda r: T(r, t) * r ** (d - 1), 0.0, edge(t), epsrel=1e-10)[0]


def flow(T, n, d, r, t, e=1e-5):
    """Heat flowing inwards through the place or circle r, over the angle."""
    slope = (T(r + e, t) - T(r - e, t)) / (2 * e)
    return r ** (d - 1) * K * (T(r, t) / TOP) ** n * slope


@pytest.mark.parametrize("n", [0.5, 1.0, 2.0])
def test_reference_keeps_the_heat_and_spreads_by_the_law(n):
    """int T dV stays; u_t = div(u^n grad u) K / rho c, by differences."""
    for d in (1, 2):
        T, edge, start = source(n, d)
        assert T(0.0, start) == pytest.approx(TOP)
        assert edge(start) == pytest.approx(REACH)
        assert total(T, edge, d, 5 * start) == pytest.approx(total(T, edge, d, start))
        t, h, e, r = 2.0 * start, 1e-4, 1e-5, np.array([0.005, 0.01, 0.02])
        rate = (T(r, t * (1 + h)) - T(r, t * (1 - h))) / (2 * h * t)
        out, back = (flow(T, n, d, x, t) for x in (r + e, r - e))
        spread = (out - back) / (2 * e) / r ** (d - 1)
        np.testing.assert_allclose(CAPACITY * rate, spread, rtol=1e-4)


@pytest.mark.parametrize("n", [0.5, 1.0, 2.0])
def test_plane_source(n):
    mesh = rectangle(0.08, 0.001, 160, 1)
    x = mesh.points[:, 0]
    compare(march(mesh, x, n, 1, 8.0), x, 0.5e-3)


@pytest.mark.parametrize("n", [0.5, 1.0, 2.0])
def test_line_source(n):
    """A sector; its tip, 0.1 mm, is left out."""
    mesh = annulus(1e-4, 0.06, 100, 4, 0.1)
    r = np.linalg.norm(mesh.points, axis=1)
    compare(march(mesh, r, n, 2, 6.0), r, 0.6e-3)

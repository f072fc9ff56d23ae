"""Heat released at one moment along a line: the section of a fast pass.

Rykalin, Berechnung der Wärmevorgänge beim Schweissen; Rosenthal, Weld. J. 20 (1941)
220s (citations from memory).  Through a thin plate, rise = (Q'/d) / sqrt(4 pi k rho c t)
exp(-y^2 / 4 a t), twice that when released on the edge of a half plate; on the face of a
thick plate, rise = Q' / (2 pi k t) exp(-r^2 / 4 a t).  At a place the peaks are
Q' / (rho c d y sqrt(2 pi e)) and 2 Q' / (pi e rho c r^2).  Time from 800 to 500 degC at
the source, both in closed form.

The line is a Gaussian of 0.3 mm sigma, 0.7 mm wide at half its height, or a pulse of
0.05 s of the package's heat through a named edge, timed from its middle.
"""

from __future__ import annotations

import numpy as np
import pytest
from heat_media import body_of, constant
from meshes import grid, growing, values_at

from shrinksim.fem.conduction import EdgeSource
from shrinksim.heat import Phase, Stepping, solve_heat

LINE, D, K, CAPACITY, AIR = 600e3, 0.010, 45.0, 7850.0 * 600.0, 20.0
"""J/m, m, W/mK, J/m3K, degC."""
A = K / CAPACITY
SIGMA, PULSE = 0.3e-3, 0.05
LINEAR = Stepping(newton=1e4)  # linear: the first iteration is exact
PLACES = np.array([0.0, 0.010, 0.020, 0.050])
THIN = [
    (5.0, [539.9297, 328.0802, 84.0946, 20.0011]),
    (20.0, [279.9648, 248.0838, 174.0401, 29.8721]),
    (60.0, [170.0908, 163.6858, 146.0648, 70.4490]),
    (300.0, [87.1226, 86.5397, 84.8212, 73.9720]),
]
THIN_PEAKS = [(0.010, 308.2430), (0.020, 154.1215), (0.050, 61.6486)]
THICK_PEAKS = [(0.010, 298.3431), (0.020, 74.5858)]


def thin(y, t):
    return (
        LINE / D / np.sqrt(4 * np.pi * K * CAPACITY * t) * np.exp(-(y**2) / (4 * A * t))
    )


def thick(r, t):
    return LINE / (2 * np.pi * K * t) * np.exp(-(r**2) / (4 * A * t))


def moments(first, end, ratio=1.03):
    """s, a small step first, each later one a share of the time gone by."""
    t = first * np.append(1.0, ratio ** np.arange(1, 600))
    return np.append(t[t < 0.999 * end], end)


def rise_at(mesh, history, where):
    return values_at(mesh, history.temperature, np.asarray(where, float)) - AIR


def read(times, rise, t):
    """Between two steps, straight in the logarithms, which is nearly exact."""
    later = times > 0.0
    return np.exp(np.interp(np.log(t), np.log(times[later]), np.log(rise[later])))


def cooling_time(times, rise, scale):
    """s from 800 to 500 degC where the heat is ``scale`` times as much."""
    top = max(int(np.argmax(rise)), 1)
    log_rise = np.log(scale * rise[top:])[::-1]
    at = np.interp(np.log([780.0, 480.0]), log_rise, np.log(times[top:])[::-1])
    return float(np.exp(at[1]) - np.exp(at[0]))


@pytest.fixture(scope="module")
def plate():
    """Half of a plate, by symmetry, with the Gaussian as its first field."""
    mesh = grid(growing(3e-3, 1.5e-4, 0.5, 1.1), np.array([0.0, 0.005]))
    y = mesh.points[:, 0]
    height = LINE / D / CAPACITY / np.sqrt(2 * np.pi) / SIGMA
    first = AIR + height * np.exp(-(y**2) / (2 * SIGMA**2))
    phase = Phase(300.0, times=moments(2e-3, 300.0))
    body = body_of(mesh, constant(K, CAPACITY), D)
    history = solve_heat(body, [phase], initial=first, stepping=LINEAR)
    where = np.stack([PLACES, np.full(4, 0.002)], axis=1)
    return history, rise_at(mesh, history, where)


@pytest.fixture(scope="module")
def half_plate():
    """The edge of a half plate takes all the heat in a pulse."""
    mesh = grid(growing(3e-3, 1.5e-4, 0.5, 1.1), np.array([0.0, 0.005]))
    body = body_of(mesh, constant(K, CAPACITY), D)

    def flux(x, y, t):
        return np.full_like(x, LINE / D / PULSE)

    torch = EdgeSource("left", flux, D)
    burning = Phase(PULSE, inlets=(torch,), times=np.linspace(0.0, PULSE, 11)[1:])
    waiting = Phase(300.0, times=moments(2e-3, 300.0))
    history = solve_heat(body, [burning, waiting], initial=AIR, stepping=LINEAR)
    where = np.stack([PLACES, np.full(4, 0.002)], axis=1)
    assert history.absorbed[-1] == pytest.approx(LINE / D * D * 0.005, rel=1e-9)
    return history, rise_at(mesh, history, where)


@pytest.fixture(scope="module")
def block():
    """A quarter plane, x along the face: a pulse of Gaussian heat through its face."""
    side = growing(2e-3, 2e-4, 0.15, 1.15)
    mesh = grid(side, side)
    body = body_of(mesh, constant(K, CAPACITY))

    def flux(x, y, t):
        shape = np.exp(-(x**2) / (2 * SIGMA**2)) / np.sqrt(2 * np.pi) / SIGMA
        return LINE / PULSE * shape

    torch = EdgeSource("bottom", flux)
    burning = Phase(PULSE, inlets=(torch,), times=np.linspace(0.0, PULSE, 6)[1:])
    waiting = Phase(25.0, times=moments(4e-3, 25.0, 1.06))
    history = solve_heat(body, [burning, waiting], initial=AIR, stepping=LINEAR)
    assert history.absorbed[-1] == pytest.approx(0.5 * LINE, rel=1e-4)
    return mesh, history


@pytest.mark.parametrize(("t", "digits"), THIN)
def test_plate(plate, t, digits):
    history, rise = plate
    np.testing.assert_allclose(AIR + thin(PLACES, t), digits, atol=6e-5)
    for place in range(4):
        ours = AIR + read(history.times, np.abs(rise[:, place]) + 1e-12, t)
        assert ours == pytest.approx(digits[place], rel=0.01)


@pytest.mark.parametrize(("t", "digits"), THIN)
def test_edge_of_a_half_plate_is_twice_as_hot(half_plate, t, digits):
    history, rise = half_plate
    clock = history.times - 0.5 * PULSE
    for place in range(4):
        ours = AIR + read(clock, np.abs(rise[:, place]) + 1e-12, t)
        assert ours == pytest.approx(2.0 * digits[place] - AIR, rel=0.01)


def test_peaks_beside_the_line(plate, half_plate):
    for place, (y, digits) in enumerate(THIN_PEAKS, start=1):
        exact = LINE / (CAPACITY * D * y * np.sqrt(2 * np.pi * np.e))
        assert exact == pytest.approx(digits, abs=6e-5)
        assert plate[1][:, place].max() == pytest.approx(exact, rel=0.01)
        assert half_plate[1][:, place].max() == pytest.approx(2 * exact, rel=0.01)


@pytest.mark.parametrize("angle", [0.0, 45.0, 90.0])
@pytest.mark.parametrize(("r", "digits"), THICK_PEAKS)
def test_thick_plate(block, angle, r, digits):
    """Peaks, and the whole curve from where the heat has spread by 7 mm on."""
    mesh, history = block
    exact = 2 * LINE / (np.pi * np.e * CAPACITY * r**2)
    assert exact == pytest.approx(digits, abs=6e-5)
    at = r * np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    rise = rise_at(mesh, history, [at])[:, 0]
    assert rise.max() == pytest.approx(exact, rel=0.01)
    clock = history.times - 0.5 * PULSE
    late = clock > 0.007**2 / (2 * A)
    np.testing.assert_allclose(rise[late], thick(r, clock[late]), rtol=0.01, atol=0.1)


def test_time_from_800_to_500_degc(plate, block):
    """1 kJ/mm on 10 mm: thick and thin plate.

    EN 1011-2:2001, annex D (from memory) gives 5.29 s and 11.36 s with its fitted
    constants for the same weld; those of this steel are not its own, so the band is wide.
    """
    scale = 1e6 / LINE
    exact_thin = (1e6 / D) ** 2 / (4 * np.pi * K * CAPACITY) * (480.0**-2 - 780.0**-2)
    assert exact_thin == pytest.approx(10.12458, abs=6e-6)
    history, rise = plate
    ours_thin = cooling_time(history.times, rise[:, 0], scale)
    assert ours_thin == pytest.approx(exact_thin, rel=0.01)
    exact_thick = 1e6 / (2 * np.pi * K) * (1 / 480.0 - 1 / 780.0)
    assert exact_thick == pytest.approx(2.83396, abs=6e-6)
    mesh, history = block
    at_source = rise_at(mesh, history, [[0.0, 0.0]])[:, 0]
    clock = history.times - 0.5 * PULSE
    ours_thick = cooling_time(clock, at_source, scale)
    assert ours_thick == pytest.approx(exact_thick, rel=0.01)
    assert 0.5 < ours_thick / 5.28846 < 1.0
    assert 0.8 < ours_thin / 11.36357 < 1.0

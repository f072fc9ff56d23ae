"""EN 1993-1-2:2005, carbon steel: 3.2.1 with table 3.1 and figure 3.1, 3.4.1.

Tables of values at round temperatures, worked out by hand from the standard's
formulas; the integral of the specific heat in closed form, checked by quadrature.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from shrinksim.shop import steel_curves as curves
from shrinksim.shop.steel import steel

# T, ky, kp, kE, W/mK, J/kgK, elongation 1e-3, tangent 1e-6/K
ROWS = """
20    1    1      1      53.334  439.8018  0         12.16
100   1    1      1      50.670  487.620   0.99840   12.80
200   1    0.807  0.9    47.340  529.760   2.31840   13.60
300   1    0.613  0.8    44.010  564.740   3.71840   14.40
400   1    0.420  0.7    40.680  605.880   5.19840   15.20
500   0.78 0.360  0.6    37.350  666.500   6.75840   16.00
600   0.47 0.180  0.31   34.020  760.21739 8.39840   16.80
700   0.23 0.075  0.13   30.690  1008.15789 10.11840 17.60
800   0.11 0.050  0.09   27.300  803.26087 11.00000  0
900   0.06 0.0375 0.0675 27.300  650       11.80000  20
1000  0.04 0.025  0.045  27.300  650       13.80000  20
1100  0.02 0.0125 0.0225 27.300  650       15.80000  20
1200  0    0      0      27.300  650       17.80000  20
"""
TABLE = np.array([[float(x) for x in row.split()] for row in ROWS.strip().splitlines()])

# T, kJ/kg from 20 degC
ENTHALPY = {
    100: 37.20698, 200: 88.19115, 300: 142.92032, 400: 201.34448, 500: 264.74565,
    600: 335.73782, 700: 419.10608, 735: 475.42781, 750: 511.36895, 800: 561.60083,
    900: 632.06384, 1000: 697.06384, 1200: 827.06384,
}  # fmt: skip


@pytest.mark.parametrize(
    ("function", "column", "unit"),
    [
        (curves.k_y, 1, 1.0),
        (curves.k_p, 2, 1.0),
        (curves.k_E, 3, 1.0),
        (curves.conductivity, 4, 1.0),
        (curves.specific_heat, 5, 1.0),
        (curves.elongation, 6, 1e-3),
    ],
)
def test_table(function, column, unit):
    np.testing.assert_allclose(
        function(TABLE[:, 0]), unit * TABLE[:, column], rtol=1e-6, atol=1e-12
    )


def test_reduction_factors_are_straight_between_rows():
    for function, column in ((curves.k_y, 1), (curves.k_p, 2), (curves.k_E, 3)):
        middle = 0.5 * (TABLE[1:, 0] + TABLE[:-1, 0])
        expected = 0.5 * (TABLE[1:, column] + TABLE[:-1, column])
        np.testing.assert_allclose(function(middle), expected, rtol=1e-12)


def test_tangent_expansion():
    T = TABLE[TABLE[:, 0] != 800.0, 0]
    inside = np.clip(T, 20.01, 1199.0)
    slope = (curves.elongation(inside + 1e-3) - curves.elongation(inside - 1e-3)) / 2e-3
    expected = TABLE[TABLE[:, 0] != 800.0, 7] * 1e-6
    np.testing.assert_allclose(slope, expected, rtol=2e-5)
    assert curves.elongation(801.0) == curves.elongation(799.0)


@pytest.mark.parametrize(
    ("T", "below", "above"),
    [(600, 759.920, 760.21739), (735, 5000, 5000), (900, 650.4438, 650)],
)
def test_specific_heat_on_both_sides_of_the_joints(T, below, above):
    assert curves.specific_heat(T - 1e-9) == pytest.approx(below, rel=1e-6)
    assert curves.specific_heat(float(T)) == pytest.approx(above, rel=1e-6)


def test_steps_of_conductivity_and_elongation():
    assert curves.conductivity(800.0 - 1e-9) == pytest.approx(27.36, rel=1e-6)
    assert curves.conductivity(800.0) == 27.3
    assert curves.elongation(750.0 - 1e-9) == pytest.approx(11.00840e-3, rel=1e-6)
    assert curves.elongation(750.0) == 11.0e-3
    assert curves.elongation(860.0) == pytest.approx(11.0e-3)
    assert curves.elongation(861.0) == pytest.approx(2e-5 * 861 - 6.2e-3, rel=1e-12)


def test_enthalpy():
    T = np.array(list(ENTHALPY), float)
    expected = 1e3 * np.array(list(ENTHALPY.values()))
    np.testing.assert_allclose(curves.heat_content(T) / 7850.0, expected, rtol=1e-6)
    assert curves.heat_content(800.0) == pytest.approx(4408.5665e6, rel=1e-7)


def test_enthalpy_is_the_integral_of_the_specific_heat():
    for low, high in (
        (-40, 20),
        (20, 300),
        (300, 600),
        (600, 735),
        (735, 900),
        (900, 1250),
    ):
        area = quad(
            curves.specific_heat, low, high, epsabs=1e-9, epsrel=1e-12, limit=200
        )[0]
        gain = (
            curves.heat_content(float(high)) - curves.heat_content(float(low))
        ) / 7850.0
        assert gain == pytest.approx(area, rel=1e-9)


def test_the_heat_table_holds_the_enthalpy():
    table = steel("S235").heat
    for T, expected in ENTHALPY.items():
        row = round((T - table.start) / table.step)
        assert table.heat_content[row] / 7850e3 == pytest.approx(expected, rel=1e-6)


def figure_3_1(strain, T, fy):
    """Stress at total strain up to 0.15, written as in the standard's table."""
    f_y, f_p = curves.k_y(T) * fy, curves.k_p(T) * fy
    E = curves.k_E(T) * 210e9
    e_p, e_y = f_p / E, 0.02
    if strain <= e_p:
        return strain * E
    if strain >= e_y:
        return f_y
    c = (f_y - f_p) ** 2 / ((e_y - e_p) * E - 2 * (f_y - f_p))
    a = np.sqrt((e_y - e_p) * (e_y - e_p + c / E))
    b = np.sqrt(c * (e_y - e_p) * E + c**2)
    return f_p - c + (b / a) * np.sqrt(a**2 - (e_y - strain) ** 2)


@pytest.mark.parametrize("fy", [235e6, 275e6, 355e6])
@pytest.mark.parametrize(
    "T", [150.0, 300.0, 400.0, 500.0, 600.0, 650.0, 700.0, 830.0, 1100.0]
)
def test_ellipse_against_figure_3_1(T, fy):
    f_y, f_p, E = curves.k_y(T) * fy, curves.k_p(T) * fy, curves.k_E(T) * 210e9
    for strain in f_p / E + (0.02 - f_p / E) * np.array(
        [1e-4, 0.01, 0.1, 0.3, 0.7, 0.99, 1.5]
    ):
        stress = figure_3_1(strain, T, fy)
        plastic = strain - stress / E
        assert curves.ellipse(plastic, f_y, f_p, E) == pytest.approx(stress, rel=1e-9)


def test_ellipse_ends():
    assert curves.ellipse(0.0, 235e6, 98.7e6, 147e9) == pytest.approx(98.7e6, rel=1e-9)
    assert curves.ellipse(1.0, 235e6, 98.7e6, 147e9) == 235e6
    assert curves.ellipse(1e-3, 235e6, 235e6, 210e9) == pytest.approx(235e6, rel=1e-6)


@pytest.mark.parametrize("grade", ["S235", "S355"])
def test_the_strain_table_against_figure_3_1(grade):
    """Between the knots too, on the rows (10 K) and between them: 0.3 % and 1 %."""
    made = steel(grade)
    table = made.strain
    for T, tolerance in (
        (200.0, 3e-3),
        (400.0, 3e-3),
        (650.0, 3e-3),
        (700.0, 3e-3),
        (465.0, 1e-2),
        (585.0, 1e-2),
    ):
        row = int((T - table.flow_start) // table.flow_step)
        share = (T - table.flow_start) / table.flow_step - row
        flow = (1 - share) * table.flow[row] + share * table.flow[row + 1]
        E = np.interp(
            T, table.start + table.step * np.arange(len(table.modulus)), table.modulus
        )
        assert pytest.approx(curves.k_E(T) * 210e9, rel=1e-9) == E
        f_p = curves.k_p(T) * made.yield_stress
        for strain in np.append(f_p / E + np.geomspace(1e-8, 0.02, 400), 0.05):
            stress = figure_3_1(strain, T, made.yield_stress)
            found = np.interp(strain - stress / E, table.plastic, flow)
            assert found == pytest.approx(stress, rel=tolerance)

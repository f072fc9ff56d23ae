"""The steel of the reference problem: formulas, and the same as tables of the package.

EN 1993-1-2:2005, 3.2 (strength, stiffness) and 3.4 (heat, elongation) for S250 with
isotropic linear hardening: sy = fy kp + Hm p, Hm = fy (ky - kp) / 0.02 + 0.001 E.
The formulas serve the scikit-fem peer, the tables serve the package.  SI, degC.
"""

from __future__ import annotations

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.shop.steel import HeatTable, StrainTable

DENSITY, POISSON = 7850.0, 0.3
YIELD, MODULUS = 250e6, 210e9

KNOTS = np.array([20, 100, 200, 300, 400, 500, 600, 700, 800, 900, 1000, 1100, 1200.0])
K_Y = np.array([1, 1, 1, 1, 1, 0.78, 0.47, 0.23, 0.11, 0.06, 0.04, 0.02, 0.0])
K_P = np.array(
    [1, 1, 0.807, 0.613, 0.42, 0.36, 0.18, 0.075, 0.05, 0.0375, 0.025, 0.0125, 0.0]
)
K_E = np.array([1, 1, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13, 0.09, 0.0675, 0.045, 0.0225, 0.0])


def specific_heat(T: FloatArray) -> FloatArray:
    """J/kgK, EN 1993-1-2 3.4.1.2."""
    T = np.asarray(T, float)
    cold = 425 + 0.773 * T - 1.69e-3 * T**2 + 2.22e-6 * T**3
    rising = 666 + 13002 / (738 - np.minimum(T, 737))
    falling = 545 + 17820 / (np.maximum(T, 732) - 731)
    return np.select([T < 600, T < 735, T < 900], [cold, rising, falling], 650.0)


def heat_content(T: FloatArray) -> FloatArray:
    """J/m3 from 20 degC: the antiderivative of ``specific_heat``, in closed form."""
    return DENSITY * (_integral(np.asarray(T, float)) - _integral(np.array(20.0)))


def _integral(T: FloatArray) -> FloatArray:
    def cold(T: FloatArray) -> FloatArray:
        return 425 * T + 0.773 / 2 * T**2 - 1.69e-3 / 3 * T**3 + 2.22e-6 / 4 * T**4

    a, b = np.clip(T, 600, 735), np.clip(T, 735, 900)
    return (
        cold(np.minimum(T, 600.0))
        + 666 * (a - 600)
        + 13002 * np.log(138 / (738 - a))
        + 545 * (b - 735)
        + 17820 * np.log((b - 731) / 4)
        + 650 * np.maximum(T - 900, 0.0)
    )


def conductivity(T: FloatArray) -> FloatArray:
    """W/mK, EN 1993-1-2 3.4.1.3."""
    return np.where(np.asarray(T) < 800, 54 - 0.0333 * np.asarray(T), 27.3)


def thermal_strain(T: FloatArray) -> FloatArray:
    """From 20 degC, EN 1993-1-2 3.4.1.1."""
    T = np.asarray(T, float)
    below = 1.2e-5 * T + 0.4e-8 * T**2 - 2.416e-4
    return np.where(T < 750, below, np.where(T < 860, 1.1e-2, 2e-5 * T - 6.2e-3))


def modulus(T: FloatArray) -> FloatArray:
    """Pa."""
    return MODULUS * np.interp(T, KNOTS, K_E)


def yield_stress(T: FloatArray) -> FloatArray:
    """Pa, before any hardening."""
    return YIELD * np.interp(T, KNOTS, K_P)


def hardening(T: FloatArray) -> FloatArray:
    """Pa per unit of equivalent plastic strain."""
    gain = np.interp(T, KNOTS, K_Y) - np.interp(T, KNOTS, K_P)
    return YIELD * gain / 0.02 + 0.001 * modulus(T)


def heat_table() -> HeatTable:
    """The heat columns every 1 K."""
    T = np.arange(0.0, 1201.0)
    return HeatTable(0.0, 1.0, conductivity(T), heat_content(T))


def strain_table() -> StrainTable:
    """The strain columns: every 1 K, and the flow stress (linear) every 100 K."""
    T, rows = np.arange(0.0, 1200.0), np.arange(0.0, 1200.0, 100.0)
    flow = np.stack([yield_stress(rows), yield_stress(rows) + hardening(rows)], axis=1)
    return StrainTable(
        0.0, 1.0, modulus(T), thermal_strain(T), POISSON, 0.0, 100.0,
        np.array([0.0, 1.0]), flow, np.zeros(len(rows)), 1.0, np.inf,
    )  # fmt: skip

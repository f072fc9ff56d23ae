"""Curves of carbon steel against temperature, EN 1993-1-2:2005; T in degC, any shape.

Below 20 degC every curve keeps its value at 20 degC, except the elongation and the heat
content, which go on with their slope there; the same holds above 1200 degC.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shrinksim.arrays import FloatArray

Values = FloatArray | float

DENSITY = 7850.0
"""kg/m3, EN 1993-1-2:2005, 3.2.2 (1)."""

MODULUS = 210e9
"""Pa at 20 degC, EN 1993-1-1:2005, 3.2.6 (1)."""

POISSON = 0.3
"""EN 1993-1-1:2005, 3.2.6 (1); taken for all temperatures."""

PLATEAU_STRAIN = 0.02
"""Total strain at which the yield plateau begins, EN 1993-1-2:2005, figure 3.1."""

FLOOR = 0.005
"""Least share of the cold yield stress and modulus kept where EN goes to zero (1200
degC), so that hot steel still has a stiffness.  Our choice, no source."""

_TEMPERATURES = np.array([20.0, *range(100, 1201, 100)])
_PLATEAU = np.array([1, 1, 1, 1, 1, 0.78, 0.47, 0.23, 0.11, 0.06, 0.04, 0.02, 0])
_PROPORTIONAL = np.array(
    [1, 1, 0.807, 0.613, 0.42, 0.36, 0.18, 0.075, 0.05, 0.0375, 0.025, 0.0125, 0]
)
_MODULUS = np.array(
    [1, 1, 0.9, 0.8, 0.7, 0.6, 0.31, 0.13, 0.09, 0.0675, 0.045, 0.0225, 0]
)


def k_y(T: Values) -> FloatArray:
    """Yield plateau over the yield stress at 20 degC.  Table 3.1 (read in codes)."""
    return np.asarray(np.interp(T, _TEMPERATURES, _PLATEAU))


def k_p(T: Values) -> FloatArray:
    """Proportional limit over the yield stress at 20 degC.  Table 3.1 (from memory)."""
    return np.asarray(np.interp(T, _TEMPERATURES, _PROPORTIONAL))


def k_E(T: Values) -> FloatArray:
    """Modulus over that at 20 degC.  Table 3.1 (read in codes that quote it)."""
    return np.asarray(np.interp(T, _TEMPERATURES, _MODULUS))


def conductivity(T: Values) -> FloatArray:
    """W/mK.  EN 1993-1-2:2005, 3.4.1.3."""
    T = np.maximum(np.asarray(T, float), 20.0)
    return np.where(T < 800.0, 54.0 - 3.33e-2 * T, 27.3)


def specific_heat(T: Values) -> FloatArray:
    """J/kgK, with the peak of 5000 at 735 degC.  EN 1993-1-2:2005, 3.4.1.2."""
    T = np.maximum(np.asarray(T, float), 20.0)
    low, rise = np.minimum(T, 600.0), np.clip(T, 600.0, 735.0)
    fall = np.clip(T, 735.0, 900.0)
    parts = [
        425.0 + 7.73e-1 * low - 1.69e-3 * low**2 + 2.22e-6 * low**3,
        666.0 + 13002.0 / (738.0 - rise),
        545.0 + 17820.0 / (fall - 731.0),
    ]
    return np.select([T < 600.0, T < 735.0, T < 900.0], parts, 650.0)


def heat_content(T: Values) -> FloatArray:
    """J/m3 above 20 degC: density times the integral of the specific heat, closed form.

    The parts of 3.4.1.2 are integrated each over its own range and added up.
    """
    T = np.asarray(T, float)
    low, rise = np.clip(T, 20.0, 600.0), np.clip(T, 600.0, 735.0)
    fall = np.clip(T, 735.0, 900.0)
    energy = _cubic(low) - _cubic(np.array(20.0))
    energy += 666.0 * (rise - 600.0) - 13002.0 * np.log((738.0 - rise) / 138.0)
    energy += 545.0 * (fall - 735.0) + 17820.0 * np.log((fall - 731.0) / 4.0)
    energy += 650.0 * np.maximum(T - 900.0, 0.0)
    energy += specific_heat(20.0) * np.minimum(T - 20.0, 0.0)
    return DENSITY * energy


def _cubic(T: FloatArray) -> FloatArray:
    """Antiderivative of the specific heat below 600 degC, J/kg."""
    return 425.0 * T + 0.3865 * T**2 - 1.69e-3 / 3.0 * T**3 + 0.555e-6 * T**4


def elongation(T: Values) -> FloatArray:
    """Relative elongation from 20 degC.  EN 1993-1-2:2005, 3.4.1.1.

    At 750 degC it steps down by 8.4e-6, as in the standard: do not differentiate it.
    """
    T = np.asarray(T, float)
    rising = 1.2e-5 * T + 0.4e-8 * T**2 - 2.416e-4
    below = (1.2e-5 + 0.8e-8 * 20.0) * (T - 20.0)
    cases = [T < 20.0, T < 750.0, T <= 860.0]
    return np.select(cases, [below, rising, 1.1e-2], 2e-5 * T - 6.2e-3)


def ellipse(p: Values, plateau: Values, limit: Values, E: Values) -> FloatArray:
    """Stress (Pa) at plastic strain p = strain - stress/E on the curve of figure 3.1.

    Elastic up to ``limit``, an ellipse up to ``plateau`` at 2 % total strain, then
    level (EN 1993-1-2:2005, 3.2.1).  The ellipse leaves ``limit`` with slope E, so its
    quadratic for the stress at given p has a plain root: with d = 0.02 - limit/E, c as
    in the standard and A = d + c/E (a2 = d A, b2 = c E A),
    stress = limit + (sqrt(c d E p (2 A - p)) - c p) / A.
    """
    p, plateau, limit, E = np.broadcast_arrays(
        *(np.asarray(x, float) for x in (p, plateau, limit, E))
    )
    d = PLATEAU_STRAIN - limit / E
    rise = plateau - limit
    c = rise**2 / (d * E - 2.0 * rise)
    A = d + c / E
    level = p >= PLATEAU_STRAIN - plateau / E
    within = np.where(level, 0.0, p)
    root = np.sqrt(c * d * E * within * (2.0 * A - within))
    return np.where(level, plateau, limit + (root - c * within) / A)


def has_ellipse(plateau: Values, limit: Values, E: Values) -> NDArray[np.bool_]:
    """Where figure 3.1 has a curve: its chord to 2 % strain gives a positive c."""
    plateau, limit, E = (np.asarray(x, float) for x in (plateau, limit, E))
    d = PLATEAU_STRAIN - limit / E
    return d * E > 2.0 * (plateau - limit)


def plastic_knots() -> FloatArray:
    """Plastic strains (30,) of the flow table: 0.02 (i/28)4, and one on the plateau.

    Spaced for the curve's start, which rises with the root of p: linear interpolation
    stays within 0.25 % of it up to S690, where geometric spacing needs 0.8 %.
    """
    return np.append(PLATEAU_STRAIN * (np.arange(29) / 28.0) ** 4, 0.021)

"""Tables of a steel against temperature, built from a grade's curves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.steel_change import Transformation
from shrinksim.shop.steel_file import Grade

BACK_STRAIN = 4.0e-3
"""Characteristic plastic strain p_c of the back stress.

Least squares of kp fy + (ky - kp) fy (1 - exp(-p/p_c)) to the ellipse over 20-700 degC
and p = 0..0.02: 4.04e-3 for S235, 3.97e-3 for S275, 3.83e-3 for S355.  The misfit is at
most 0.07 fy (at 400 degC, p = 0.06 %), 0.013 fy in the mean square.
"""

_FINE = np.arange(-50.0, 1301.0)  # degC, of the smooth curves
_ROWS = np.arange(0.0, 1201.0, 10.0)  # degC, of the flow stress


@dataclass(frozen=True)
class HeatTable:
    """Thermal properties on a uniform grid in degC; linear between knots and beyond.

    conductivity : (k,) W/mK.  heat_content : (k,) J/m3 from 20 degC, exact at knots.
    """

    start: float
    step: float
    conductivity: FloatArray
    heat_content: FloatArray


@dataclass(frozen=True)
class StrainTable:
    """Mechanical properties on two uniform grids in degC, elastic and of the flow stress.

    modulus : (k,) Pa.  thermal_strain : (k,) from 20 degC.  plastic : (j,) equivalent
    plastic strain, from 0; extrapolated with the last slope.  flow : (r, j) Pa.
    back_stress : (r,) Pa, saturation of the back stress X (zeros: isotropic), where X =
    back_stress * alpha and d alpha = (d eps_p direction - alpha dp) / back_strain.
    annealing : degC above which hardening is lost, inf: never.
    transformation : change of phase; None leaves it out.
    """

    start: float
    step: float
    modulus: FloatArray
    thermal_strain: FloatArray
    poisson: float
    flow_start: float
    flow_step: float
    plastic: FloatArray
    flow: FloatArray
    back_stress: FloatArray
    back_strain: float
    annealing: float
    transformation: Transformation | None = None


def heat_table(grade: Grade) -> HeatTable:
    """Conductivity and heat content of a grade every kelvin; latent heat included."""
    k = curves.conductivity(_FINE)
    if "conductivity" in grade.columns:
        column = grade.columns["conductivity"]
        k = np.interp(_FINE, column.temperature, column.values)
    content = curves.heat_content(_FINE)
    if "specific_heat" in grade.columns:
        column = grade.columns["specific_heat"]
        knots = np.union1d(_FINE, column.temperature)
        c = np.interp(knots, column.temperature, column.values)
        steps = 0.5 * (c[1:] + c[:-1]) * np.diff(knots)
        energy = np.append(0.0, np.cumsum(steps))  # exact: c is straight in each step
        at_20 = energy[np.searchsorted(knots, 20.0)]
        content = curves.DENSITY * (energy[np.searchsorted(knots, _FINE)] - at_20)
    if grade.change is not None:
        start, end = grade.change.heating
        done = np.clip((_FINE - start) / (end - start), 0.0, 1.0)
        content = content + curves.DENSITY * grade.change.latent_heat * done
    return HeatTable(float(_FINE[0]), 1.0, frozen(k), frozen(content))


def strain_table(
    grade: Grade,
    fy: float,
    hardening: str,
    share: float,
    annealing: float,
    level: bool,
) -> StrainTable:
    """Curves of a grade with yield stress fy (Pa); level : plastic at ky fy at once.

    share : kinematic part of mixed hardening.  annealing : degC.
    """
    E = _modulus(grade, _FINE)
    rows_E = _modulus(grade, _ROWS)
    plateau, limit = _strengths(grade, fy)
    kinematic = _kinematic_share(hardening, share)
    plastic, flow, back = curves.plastic_knots(), plateau[:, None], np.zeros(len(_ROWS))
    if level:
        plastic = np.array([0.0, 0.02])
        flow = np.repeat(flow, 2, axis=1)
    else:
        _check_ellipse(plateau, limit, rows_E)
        ellipse = curves.ellipse(plastic, flow, limit[:, None], rows_E[:, None])
        flow = (1.0 - kinematic) * ellipse + kinematic * limit[:, None]
        back = kinematic * (plateau - limit)
    return StrainTable(
        float(_FINE[0]),
        1.0,
        frozen(E),
        frozen(_thermal_strain(grade)),
        curves.POISSON,
        float(_ROWS[0]),
        10.0,
        frozen(plastic),
        frozen(flow),
        frozen(back),
        BACK_STRAIN,
        float(annealing),
        grade.change,
    )


def _kinematic_share(hardening: str, share: float) -> float:
    """Share of the rise from kp fy to ky fy that moves the yield surface."""
    match hardening:
        case "isotropic":
            return 0.0
        case "kinematic":
            return 1.0
        case "mixed" if 0.0 <= share <= 1.0:
            return share
        case "mixed":
            message = f"kinematic_share = {share:g} is not from 0 to 1"
        case _:
            message = f"hardening = {hardening!r} is not isotropic, kinematic or mixed"
    raise CaseError(message)


def _modulus(grade: Grade, T: FloatArray) -> FloatArray:
    """Modulus (Pa), not below the floor of the curve."""
    if "modulus" in grade.columns:
        column = grade.columns["modulus"]
        E = np.interp(T, column.temperature, column.values)
        return np.maximum(
            E, curves.FLOOR * np.interp(20.0, column.temperature, column.values)
        )
    return curves.MODULUS * np.maximum(curves.k_E(T), curves.FLOOR)


def _strengths(grade: Grade, fy: float) -> tuple[FloatArray, FloatArray]:
    """Plateau and proportional limit (r,) Pa; columns scale with the yield stress."""
    k = {"yield_plateau": curves.k_y(_ROWS), "proportional_limit": curves.k_p(_ROWS)}
    for name, column in grade.columns.items():
        if name in k:
            stress = np.interp(_ROWS, column.temperature, column.values)
            k[name] = stress / grade.yield_stress
    plateau = fy * np.maximum(k["yield_plateau"], curves.FLOOR)
    limit = fy * np.maximum(k["proportional_limit"], curves.FLOOR)
    above = np.flatnonzero(limit > plateau * (1.0 + 1e-9))
    if len(above) and "proportional_limit" in grade.columns:
        row = above[0]
        message = (
            f"columns.proportional_limit is {limit[row] / 1e6:.1f} MPa at "
            f"{_ROWS[row]:.0f} degC, above the yield plateau of "
            f"{plateau[row] / 1e6:.1f} MPa there"
        )
        raise CaseError(message)
    return plateau, np.minimum(limit, plateau)


def _check_ellipse(plateau: FloatArray, limit: FloatArray, E: FloatArray) -> None:
    """Raise CaseError where figure 3.1 has no ellipse."""
    short = np.flatnonzero(np.logical_not(curves.has_ellipse(plateau, limit, E)))
    if len(short):
        row = short[0]
        message = (
            f"at {_ROWS[row]:.0f} degC the curve cannot rise from "
            f"{limit[row] / 1e6:.0f} MPa to {plateau[row] / 1e6:.0f} MPa at 2 % strain "
            f"with a modulus of {E[row] / 1e9:.1f} GPa; use a lower yield stress or "
            'curve = "plateau"'
        )
        raise CaseError(message)


def _thermal_strain(grade: Grade) -> FloatArray:
    """Thermal strain (k,), 0 at 20 degC, extrapolated with the end slopes."""
    if "elongation" not in grade.columns:
        return curves.elongation(_FINE)
    T, e = grade.columns["elongation"].temperature, grade.columns["elongation"].values
    first, last = (e[1] - e[0]) / (T[1] - T[0]), (e[-1] - e[-2]) / (T[-1] - T[-2])
    strain = np.interp(_FINE, T, e)
    strain += first * np.minimum(_FINE - T[0], 0.0)
    strain += last * np.maximum(_FINE - T[-1], 0.0)
    return strain - np.interp(20.0, _FINE, strain)

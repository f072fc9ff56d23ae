"""Cooling laws: the heat that leaves a face, against the temperature of its surface.

A law is a function (T degC, any shape; t s) -> (q W/m2 leaving, dq/dT W/m2K), smooth
(C1) and finite; the laws here do not depend on t.  The views decide when a cooling
starts and where it acts.  Every q is an odd function of the temperature difference:
water or air warms steel that is colder than itself.

Water on hot steel boils in four regimes: a vapour film above about 400-600 degC that
insulates, transition (q rises as the surface cools: the slope is negative), a peak near
150-250 degC, and nucleate boiling and plain convection below.  Where the film breaks
down is disputed: from 150 to over 1000 degC depending on the spray (Hnizdil et al.,
Metals 2020), nearly independent of it (Tenzer, TU Darmstadt 2020), and a jet can wet
steel of 880 degC (Leocadio & Passos 2021).  Hence the wide factors of `COOLINGS`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from shrinksim.arrays import KELVIN, STEFAN_BOLTZMANN, FloatArray
from shrinksim.errors import CaseError

Law = Callable[[FloatArray, float], tuple[FloatArray, FloatArray]]
"""law(T, t) -> (q, slope)."""

Curve = Callable[[FloatArray], tuple[FloatArray, FloatArray]]
"""curve(u) -> (q, dq/du) for temperature differences u >= 0 K."""


@dataclass(frozen=True)
class Cooling:
    """Kind of cooling.  law : factory, its first argument the temperature of the medium.

    medium : "air" or "water".  factor : the true flux lies between q / factor and
    q * factor, according to the sources.  source : of the values; note : limits.
    """

    law: Callable[..., Law]
    medium: str
    factor: float
    source: str
    note: str


def still_air(ambient: float, emissivity: float = 0.8, h: float | None = None) -> Law:
    """Free convection and grey radiation to still air.  Form of EN 1991-1-2, 3.1.

    ambient : degC.  h : W/m2K constant; None takes 9.5 - 450/(u + 70) at u K over
    ambient, within 1 % of Churchill & Chu (1975, from memory) for a vertical plate
    0.2 m high from 80 to 680 K.
    """
    _check("emissivity", emissivity, 0.0, 1.0)
    if h is not None:
        _check("h", h, 0.0, 1e5)

    if h is None:
        return _still(ambient, emissivity * STEFAN_BOLTZMANN)

    def convection(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        return h * u, np.full_like(u, h)

    return _with_radiation(_odd(convection, ambient), ambient, emissivity)


def _still(ambient: float, grey: float) -> Law:
    """Still air with free convection, written for few passes over its array because
    every face and edge evaluates it in every iteration.
    """
    black = (ambient + KELVIN) ** 4

    def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:  # noqa: ARG001
        u = np.asarray(T, float) - ambient
        a = u + (ambient + KELVIN)
        share = 450.0 / (np.abs(u) + 70.0)
        cube = a * a * a
        q = (9.5 - share) * u + grey * (cube * a - black)
        return q, 9.5 - (70.0 / 450.0) * share * share + (4.0 * grey) * cube

    return law


def air_jet(
    ambient: float, h: float = 120.0, emissivity: float = 0.8, strength: float = 1.0
) -> Law:
    """Compressed air blown on the face; h : W/m2K, 50 to 300 (from memory)."""
    _check("h", h, 0.0, 2000.0)
    _check("emissivity", emissivity, 0.0, 1.0)

    def convection(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        return h * u, np.full_like(u, h)

    blown = _scaled(_odd(convection, ambient), strength)
    return _with_radiation(blown, ambient, emissivity)


def mist(water: float, flux: float = 1.0, strength: float = 1.0) -> Law:
    """Spray of air and water; water : degC, flux : kg/m2s, see `spray`."""
    _check("flux", flux, 0.2, 10.0)
    return _scaled(_odd(spray(flux), water), strength)


def water_stream(water: float, flux: float = 10.0, strength: float = 1.0) -> Law:
    """Water running from a hose; water : degC, flux : kg/m2s, see `spray`."""
    _check("flux", flux, 3.0, 30.0)
    return _scaled(_odd(spray(flux), water), strength)


def wet_rag(
    water: float, wetted: float = 2200.0, film: float = 320.0, strength: float = 1.0
) -> Law:
    """A wet rag held on the face: a thin film of water.  water : degC.

    wetted, film : W/m2K below about 200 and above about 400 degC; the middles of
    1000-5000 and 200-500, a guess without source.  They change over at 300 degC.
    """
    _check("wetted", wetted, 100.0, 2e4)
    _check("film", film, 10.0, wetted)
    middle, width = 300.0 - water, 70.0

    def boiling(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        step = np.tanh((u - middle) / width)
        h = film + 0.5 * (wetted - film) * (1.0 - step)
        fall = -0.5 * (wetted - film) * (1.0 - step**2) / width
        return h * u, h + u * fall

    return _scaled(_odd(boiling, water), strength)


def spray(flux: float) -> Curve:
    """Water spray on hot metal; flux Vs : kg/m2s, fitted for 3-30 and u = 180-1100 K.

    h = 190 + tanh(Vs/8) (140 Vs (1 - Vs u/72000) + 3.26 u2 (1 - tanh(u/128))) W/m2K:
    Wendelstorf, Spitzer & Wendelstorf, Int. J. Heat Mass Transfer 51 (2008), from
    memory.
    """
    share = np.tanh(flux / 8.0)

    def boiling(u: FloatArray) -> tuple[FloatArray, FloatArray]:
        step = np.tanh(u / 128.0)
        wetting = 3.26 * u**2 * (1.0 - step)
        film = 140.0 * flux * (1.0 - flux * u / 72000.0)
        h = 190.0 + share * (film + wetting)
        rise = 6.52 * u * (1.0 - step) - 3.26 * u**2 * (1.0 - step**2) / 128.0
        rise -= 140.0 * flux**2 / 72000.0
        return h * u, h + u * share * rise

    return boiling


def _odd(curve: Curve, medium: float) -> Law:
    """Odd law from a curve over the temperature (degC) of the medium."""

    def law(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:  # noqa: ARG001
        u = np.asarray(T, float) - medium
        q, slope = curve(np.abs(u))
        return np.sign(u) * q, slope

    return law


def _scaled(law: Law, strength: float) -> Law:
    """Law with its flux times ``strength``, for its uncertainty."""
    _check("strength", strength, 0.01, 100.0)

    def scaled(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        q, slope = law(T, t)
        return strength * q, strength * slope

    return scaled


def _with_radiation(law: Law, ambient: float, emissivity: float) -> Law:
    """Sum of the law and grey radiation to surroundings at ``ambient`` degC."""
    grey, surroundings = emissivity * STEFAN_BOLTZMANN, ambient + KELVIN

    def both(T: FloatArray, t: float) -> tuple[FloatArray, FloatArray]:
        q, slope = law(T, t)
        a = np.asarray(T, float) + KELVIN
        square = a * a
        out = grey * (square * square - surroundings**4)
        return q + out, slope + 4.0 * grey * (a * square)

    return both


def _check(name: str, value: float, least: float, most: float) -> None:
    if not least <= value <= most:
        message = f"{name} = {value:g} is not from {least:g} to {most:g}"
        raise CaseError(message)


_SPRAY = (
    "Wendelstorf, Spitzer & Wendelstorf, Int. J. Heat Mass Transfer 51 (2008), "
    "formula from memory"
)

COOLINGS: Mapping[str, Cooling] = MappingProxyType(
    {
        "still air": Cooling(
            still_air,
            "air",
            1.3,
            "Churchill & Chu 1975, vertical plate 0.2 m (from memory), and radiation; "
            "form of EN 1991-1-2, 3.1",
            "the factor covers an emissivity of 0.7 to 0.9 and light draughts: our "
            "estimate",
        ),
        "air jet": Cooling(
            air_jet,
            "air",
            2.5,
            "50 to 300 W/m2K about the jet, from memory; its middle is taken",
            "the effect is confined to some 50 mm about the jet",
        ),
        "mist": Cooling(
            mist,
            "water",
            2.0,
            f"{_SPRAY}, at 1 kg/m2s",
            "carried below its range of 3-30 kg/m2s; Nozaki's formula for the film "
            "(from memory) gives 1.45 times as much at 600 K; more uncertain where the "
            "film breaks down, 150-600 degC",
        ),
        "wet rag": Cooling(
            wet_rag,
            "water",
            3.0,
            "no source: a guess for a thin film of water, 1-5 kW/m2K below 200 degC "
            "and 0.2-0.5 kW/m2K above 400 degC",
            "a rag that is not kept wet cools far less",
        ),
        "water stream": Cooling(
            water_stream,
            "water",
            3.0,
            f"{_SPRAY}, at 10 kg/m2s",
            "a jet can wet steel as hot as 880 degC (Leocadio & Passos 2021), where "
            "this curve still has an insulating film",
        ),
    }
)
"""Kinds of cooling by their names in a case file."""

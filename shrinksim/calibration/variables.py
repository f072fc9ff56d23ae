"""Variables of a formula: a few numbers of a heat without unit.

A held torch on a sheet has no length or time of its own but its radius, the sheet's
thickness and the depth of the vee, so that the turn depends on ratios of them: depth over
radius, and net power over what the sheet conducts away, k thickness rise.  (Losses to the
air and the speed of mist break that; they are small beside a torch.)
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.calibration.design import (
    COLD,
    CONDUCTIVITY,
    Kind,
    Point,
    grade_yield,
    shape_of,
    vee_of,
)
from shrinksim.shop.sections.shape import Section

DEGREE = math.radians(1.0)


@dataclass(frozen=True)
class VeeHeat:
    """A heat with a vee, as a formula takes it.

    angle : rad.  depth : m of the view.  thickness : m, under the torch.  temperature :
    degC of the hottest steel.  moment_ratio : M/Mp, + helps.  radius : m.  power : net
    W of all torches at the vee.  yield_stress : Pa.  jack, mist : 1 or 0.  flanges :
    area of one flange over the web's, b tf / (h tw), 0 for a plate.
    """

    of: Kind
    angle: float
    depth_ratio: float
    depth: float
    thickness: float
    temperature: float
    moment_ratio: float
    radius: float
    power: float
    yield_stress: float
    jack: float = 0.0
    mist: float = 0.0
    flanges: float = 0.0


def heat_of(of: Kind, point: Point) -> VeeHeat:
    """The heat of a point of a design."""
    vee, shape = vee_of(of, point), shape_of(point)
    return VeeHeat(
        of, point["angle"], point["depth_ratio"], vee.depth, vee.thickness,
        point["temperature"], point["moment_ratio"], vee.radius,
        vee.power * vee.torches, grade_yield(point["steel"]),
        float(point["load"] == "jack"), float(point["cooling"] == "mist"),
        flange_share(shape),
    )  # fmt: skip


def flange_share(shape: Section) -> float:
    """Area of one flange over that of the web, 0 without."""
    flanges = shape.flanges
    return 0.0 if flanges is None else flanges.area / flanges.web_area


def temperature_strain(temperature: float, yield_stress: float) -> float:
    """Strain that a fully held piece keeps: expansion less the yield strain when hot.

    The literature's curves for heat straightening (Roeder; used by Avent), from memory,
    in degF, 800 to 1200 of them: alpha = (6.1 + 0.0019 T) 1e-6, Fy(T)/Fy = -0.72 +
    0.0042 T - 2.75e-6 T2, E(T)/E = 0.5 + 0.001333 T - 1.111e-6 T2, E = 200 GPa.  Twice it
    is the 0.0147 of the published relation at 1200 degF for 36 ksi.
    """
    F = 1.8 * temperature + 32.0
    expansion = 6.1e-6 * (F - 70.0) + 0.95e-9 * (F * F - 4900.0)
    softer = (-0.72 + 0.0042 * F - 2.75e-6 * F * F) / (
        0.5 + 0.001333 * F - 1.111e-6 * F * F
    )
    return expansion - yield_stress / 200e9 * softer


def scale_of(heat: VeeHeat) -> float:
    """mrad, 2000 sin(angle / 3) times the temperature strain: the published scale."""
    strain = temperature_strain(heat.temperature, heat.yield_stress)
    return 2000.0 * math.sin(heat.angle / 3.0) * strain


def strength_of(heat: VeeHeat) -> float:
    """Net power over what the sheet conducts away, see `design`."""
    return heat.power / (CONDUCTIVITY * heat.thickness * (heat.temperature - COLD))


def depth_over_radius(heat: VeeHeat) -> float:
    """Depth of the vee over the radius of the torch."""
    return heat.depth_ratio * heat.depth / heat.radius


def radius_over_opening(heat: VeeHeat) -> float:
    """Radius of the torch over the width of the vee at the edge of the member."""
    opening = 2.0 * heat.depth_ratio * heat.depth * math.tan(0.5 * heat.angle)
    return heat.radius / opening


VARIABLES: Mapping[str, Callable[[VeeHeat], float]] = MappingProxyType(
    {
        "m": lambda heat: heat.moment_ratio,
        "d": lambda heat: heat.depth_ratio - 0.75,
        "w": lambda heat: math.log(depth_over_radius(heat) / 8.0),
        "o": lambda heat: radius_over_opening(heat),
        "s": lambda heat: math.log(strength_of(heat) / 10.0),
        "h": lambda heat: (heat.temperature - 600.0) / 100.0,
        "a": lambda heat: heat.angle / (40.0 * DEGREE) - 1.0,
        "y": lambda heat: heat.yield_stress / 235e6 - 1.0,
        "j": lambda heat: heat.jack,
        "k": lambda heat: heat.mist,
        "t": lambda heat: math.log(heat.thickness / 0.010),
        "f": lambda heat: math.log(heat.flanges) if heat.flanges else 0.0,
    }
)
"""The numbers that terms of a formula are products of; near zero for usual heats."""

WORDS: Mapping[str, str] = MappingProxyType(
    {
        "m": "moment over the plastic moment, + helps",
        "d": "depth ratio less 0.75",
        "w": "ln(depth of the vee / radius of the torch / 8)",
        "o": "radius of the torch / width of the vee at its edge",
        "s": "ln(net power / (40 W/mK x thickness x (T - 20 K)) / 10)",
        "h": "(temperature - 600 degC) / 100 K",
        "a": "angle / 40 deg - 1",
        "y": "yield stress / 235 MPa - 1",
        "j": "1 with a jack as stiff as the heated patch, 0 under a weight",
        "k": "1 with mist under 316 degC, 0 in still air",
        "t": "ln(thickness under the torch / 10 mm)",
        "f": "ln(area of a flange / area of the web)",
    }
)

Term = tuple[str, ...]
"""A product of variables by name; () is 1."""


def values_of(heats: Sequence[VeeHeat]) -> dict[str, FloatArray]:
    """Variable -> its value (n,) in every heat."""
    return {
        name: np.array([value(heat) for heat in heats])
        for name, value in VARIABLES.items()
    }


def columns_of(terms: Sequence[Term], values: Mapping[str, FloatArray]) -> FloatArray:
    """Every term's value, (n, terms)."""
    one = np.ones_like(values["m"])
    return np.stack(
        [np.prod([one, *(values[name] for name in term)], axis=0) for term in terms],
        axis=1,
    )

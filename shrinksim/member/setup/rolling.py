"""Angle to roll over of a member on its supports."""

from __future__ import annotations

import math

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.member.line import offsets
from shrinksim.member.setup import beam
from shrinksim.member.setup.rig import SupportedMember

FINE = 401


def upright_size(standing: SupportedMember) -> tuple[float, float]:
    """Breadth of the face that it stands on, and its height as it stands; m."""
    section = standing.rigging.section
    broad, tall = section.size[::-1] if section.flat else section.size
    return (broad, tall) if standing.plane == "camber" else (tall, broad)


def above_supports(standing: SupportedMember) -> float:
    """Height (m) of the centre of gravity over the axis line at the supports."""
    x = np.linspace(0.0, standing.rigging.length, FINE)
    return _off(standing, beam.height(standing.solved, x), x)


def beside_supports(standing: SupportedMember) -> float:
    """Distance (m) of the centre of gravity beside the line through the supports."""
    x = np.linspace(0.0, standing.rigging.length, FINE)
    flat = standing.sweep if standing.plane == "camber" else standing.camber
    return abs(_off(standing, offsets(flat, x, standing.rigging.length), x))


def roll_angle(standing: SupportedMember) -> float:
    """Lean (rad) at which its weight is over the edge of its base; <= 0 it falls over.

    tan = (half the foot - distance of the centre of gravity beside the middle of the
    supports) / its height over them; what hangs on the member is left out.
    """
    broad, tall = upright_size(standing)
    height = 0.5 * tall + above_supports(standing)
    return math.atan2(0.5 * broad - beside_supports(standing), height)


def _off(standing: SupportedMember, line: FloatArray, x: FloatArray) -> float:
    """Mean of a line (k,) m over the straight line through it at the outer supports."""
    places = [
        prop.at
        for prop, force in zip(standing.rigging.props, standing.reactions, strict=True)
        if force > 0.0
    ]
    outer = np.array([min(places), max(places)])
    heights = np.interp(outer, x, line)
    tilt = (heights[1] - heights[0]) / (outer[1] - outer[0]) if len(places) > 1 else 0.0
    straight = heights[0] + tilt * (x - outer[0])
    return float(np.trapezoid(line - straight, x) / standing.rigging.length)

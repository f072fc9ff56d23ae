"""How even the steel is through its thickness under a torch on one face."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.case.schema import Case
from shrinksim.units.quantity import show

THROUGH = 0.6
"""Largest `unevenness` at which the in-plane view is taken to be enough: up to it heat on
one face bends a plate in its plane as even heat does to 10 %, benchmarks/THICKNESS.md."""

FACE = 0.37
"""Of `unevenness` times the rise: how much hotter the face gets than even steel would;
median of 58 cases, 0.32 to 0.39 in those over 0.4."""

MORE = 0.4
"""Of `unevenness` squared: how much larger the movement may be than that of even steel;
bounds the same cases."""

DIFFUSIVITY = 9.0e-6
"""m2/s, of steel at some 300 degC, EN 1993-1-2."""


def unevenness(power: float, radius: float, depth: float, rise: float) -> float:
    """Difference through ``depth`` m over the rise (K), under the middle of a torch.

    A face that takes the flux q while the other is insulated differs from it by
    q d / (2 k) once heat has gone through (Carslaw & Jaeger, 1959, sec. 3.8, from
    memory).  q = 3 P / (pi R^2) in the middle of a Gaussian that holds 95 % of ``power``
    W (absorbed) in ``radius`` m; k = 40 W/mK.  That flux brings the steel to its rise
    in t = rho c d rise / q, so this is also (d / diffusion depth)^2 with the diffusion
    depth sqrt(2 a t), how far heat gets into the steel while it is being heated.
    """
    flux = 3.0 * power / (np.pi * radius**2)
    return flux * depth / (2.0 * 40.0) / max(rise, 1.0)


@dataclass(frozen=True)
class Through:
    """How uneven the steel gets through its thickness.

    number : the largest `unevenness`.  hotter : K, the face over even steel's peak.
    more : the movement over that of even steel, at most, less 1.  wait : s after the
    torch until face and back are within a tenth of the rise.
    """

    number: float
    hotter: float
    more: float
    wait: float


def through_thickness(case: Case) -> Through:
    """What torches on one face do; d is half the thickness with one on each face."""
    worst = Through(0.0, 0.0, 0.0, 0.0)
    view = case.member.shape.elevation(case.member.bending)
    for heat in case.heats:
        for p in heat.patterns:
            t = p.torch
            strip = p.kind == "strip"
            thickness = view.strip_thickness if strip else view.face_thickness
            depth = thickness / (2.0 if t.torches == 2 else 1.0)
            goal = t.target if t.drive == "held" else 650.0
            rise = max(goal - case.surroundings.ambient, 1.0)
            number = unevenness(t.power * t.efficiency, t.radius, depth, rise)
            if number > worst.number:
                hotter, more = FACE * number * rise, MORE * number**2
                worst = Through(number, hotter, more, depth**2 / DIFFUSIVITY)
    return worst


def uneven_words(through: Through, units: str) -> str:
    """What a number over `THROUGH` means, and what to do."""
    hotter = kelvin(through.hotter, units)
    more = f"up to {through.more:.0%} larger"
    if through.more > 1.0:
        more = "twice as large or more"
    return (
        f"{differs(through)}, and this view takes it as even. At the speed computed the "
        f"face gets some {hotter} hotter than shown; the movement may be {more}, and the "
        "piece bends out of its plane as well. A torch held by what the face reads while "
        "it burns goes faster and moves the piece less, by a third to two thirds. Read "
        f"the crayon {max(through.wait, 1.0):.0f} s after the torch has gone, when the "
        "steel is even; use a softer or wider flame, or heat both faces."
    )


def differs(through: Through) -> str:
    """How much the faces differ, in words."""
    if through.number > 1.0:
        return "The steel will be far from even through its thickness"
    return (
        f"Under the torch the faces of the steel will differ by about "
        f"{through.number:.0%} of the rise"
    )


def kelvin(rise: float, units: str) -> str:
    """A difference of temperatures to ten degrees."""
    number, unit = show(rise, "temperature_difference", units).split()
    return f"{round(float(number), -1):.0f} {unit}"

"""Temperature difference through the thickness under a torch on one face."""

from __future__ import annotations

from dataclasses import dataclass

from shrinksim.units.quantity import show
from shrinksim.views.elevation.record import Case
from shrinksim.views.unevenness import DIFFUSIVITY, unevenness

FACE = 0.55
"""Of `unevenness` times the rise: how much hotter the face gets than even steel where the
torch goes to and fro over a pattern.  A 45 degree vee on a bar 100 mm wide, computed with
its thickness on the same timetable (benchmarks/PLATES.md): 0.57 at 6 mm, 0.54 at 9.5 mm."""


@dataclass(frozen=True)
class Through:
    """Temperature difference through the thickness.

    number : the largest `unevenness`.  hotter : K, the face over even steel's peak.
    wait : s after the torch until face and back are within a tenth of the rise.
    """

    number: float
    hotter: float
    wait: float


def through_thickness(case: Case) -> Through:
    """The difference of a case; d is half the thickness with a torch on each face."""
    worst = Through(0.0, 0.0, 0.0)
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
                hotter = FACE * number * rise
                worst = Through(number, hotter, depth**2 / DIFFUSIVITY)
    return worst


def uneven_words(through: Through, units: str) -> str:
    """Meaning of a number over `THROUGH`, and the remedy."""
    hotter = kelvin(through.hotter, units)
    bar = "4 x 1/4 in" if units == "us" else "100 x 6 mm"
    return (
        f"{differs(through)}, and this view takes it as even. At the speed computed the "
        f"face gets some {hotter} hotter than shown, and the piece bends out of its plane, "
        f"which this view does not tell: a bar of {bar} with one free vee of 45 "
        "degrees by 20 mrad, where it turns by 3 mrad in its plane. A torch held at the "
        "same temperature by what the face reads while it burns goes faster, and turns "
        "that bar by 0.2 mrad only, and bends it out of its plane by 12. Compute plates "
        f'with view = "solid". Read the crayon {max(through.wait, 1.0):.0f} s after the '
        "torch has gone, when the steel is even; use a softer or wider flame, or heat both "
        "faces."
    )


def differs(through: Through) -> str:
    """Temperature difference of the faces in words."""
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

"""Temperature difference through the thickness under a torch on one face."""

from __future__ import annotations

from dataclasses import dataclass

from shrinksim.units.quantity import show
from shrinksim.views.elevation.record import Case
from shrinksim.views.unevenness import DIFFUSIVITY, FACE, MORE, unevenness


@dataclass(frozen=True)
class Through:
    """Temperature difference through the thickness.

    number : the largest `unevenness`.  hotter : K, the face over even steel's peak.
    more : the movement over that of even steel, at most, less 1.  wait : s after the
    torch until face and back are within a tenth of the rise.
    """

    number: float
    hotter: float
    more: float
    wait: float


def through_thickness(case: Case) -> Through:
    """The difference of a case; d is half the thickness with a torch on each face."""
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
    """Meaning of a number over `THROUGH`, and the remedy."""
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

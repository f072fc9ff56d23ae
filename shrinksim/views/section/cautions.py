"""Cautions of the section view: the general ones, and the limits of this view."""

from __future__ import annotations

import numpy as np

from shrinksim.casefile.heating import StillAir
from shrinksim.heat.history import HeatHistory
from shrinksim.units.quantity import show
from shrinksim.views.caution import (
    LOADED,
    Caution,
    always,
    of_cooling,
    of_moment,
    of_outcome,
    of_starts,
    of_target,
)
from shrinksim.views.section.geometry import Cut, Heated, moments_of
from shrinksim.views.section.record import SectionCase
from shrinksim.views.unevenness import DIFFUSIVITY

LONG = 3.0
"""Depths of member: a shorter heat is no long heat.  What an end of it disturbs fades
over about one depth at each end (Saint-Venant)."""

QUICK = 2.0
"""Speed times radius over twice the diffusivity: under it heat runs ahead of the torch.
The peak rise over a thin plate is then too high in this view by more than 6 %: steady
against passing Gaussian source (Rosenthal's solution, Trans. ASME 68 (1946), integrated
over a Gaussian): 12 % at 1, 6 % at 2, 3 % at 3, 2 % at 5."""

WARM = 0.12
"""Largest `warm_share` at which a passing torch bends the member in this view as in the
elevation view, to some 5 %: benchmarks/THICKNESS.md, plates bent in their plane."""

OVERSTATED = (
    (0.12, 1.05),
    (0.16, 1.2),
    (0.26, 1.35),
    (0.32, 1.5),
    (0.35, 1.7),
    (0.39, 2.3),
)
"""Share, and curvature of this view over the elevation view's, at 560 degC: same place.
It does not fall with the length of the hot zone (72 widths: still 1.33)."""


def before(case: SectionCase, cut: Cut) -> list[Caution]:
    """Cautions that are known before the torch is lit."""
    found, load = always(), case.load
    if load.kind != "none":
        found.append(LOADED)
    for moment, most in zip(moments_of(case, cut), cut.moments, strict=True):
        if moment != 0.0:
            found += of_moment(moment / most)
    torches = [p.torch for heat in case.heats for p in heat.patterns]
    found += of_target(torches, cut.steel, case.print_units)
    found += _of_length(case, cut)
    found += _of_one_flange(cut)
    found += _of_shear_centre(case, cut)
    if cut.share < 1.0:
        found.append(
            Caution(
                "spots",
                "The section goes through the middle of the spots; its movement is taken "
                "for their share of the length. The cold steel between spots, which "
                "holds them, is not in this view: expect the truth near, not on it.",
            )
        )
    for heat in case.heats:
        if not isinstance(heat.cooling, StillAir):
            found += of_cooling(heat.cooling, case.print_units)
    return list(dict.fromkeys(found))


def _of_length(case: SectionCase, cut: Cut) -> list[Caution]:
    """Caution on a heat that is short against the member's depth."""
    depth, length = max(cut.size), cut.heated_length
    if length >= LONG * depth:
        return []
    units = case.print_units
    return [
        Caution(
            "short heat",
            f"The heat is {show(length, 'length', units)} long on a member "
            f"{show(depth, 'length', units)} deep: this view is for heats longer than "
            f"{LONG:g} depths. The cold steel beyond its ends holds a shorter one, and "
            "the movement differs; use the elevation view where it can draw the heat.",
        )
    ]


def _of_one_flange(cut: Cut) -> list[Caution]:
    """Caution on a heat that is off all axes of symmetry of a member."""
    symmetry = cut.shape.symmetry
    even = any(s and side == 0 for s, side in zip(symmetry, cut.side, strict=True))
    if cut.shape.flat or even:
        return []
    if not all(symmetry):
        return [_of_twist(cut)]
    return [
        Caution(
            "twist",
            "The heat is off both axes of the section: the member bends both ways and "
            "twists as well. This view keeps the section from twisting and cannot tell "
            "by how much; heat the other flange alike, or expect to correct a twist.",
        )
    ]


def _of_twist(cut: Cut) -> Caution:
    """Caution on a heat of a section that is not alike right and left."""
    name = cut.shape.kind
    if any(cut.shape.symmetry):
        where = f"The heat is off the only axis of symmetry of the {name}"
        advice = "heat the other flange alike, or expect to correct a twist"
    else:
        where = f"The {name} has no axis of symmetry along its sides"
        advice = "expect to correct a twist and a bow in the other direction"
    return Caution(
        "twist",
        f"{where}: the member bends both ways and twists as well. This view keeps the "
        f"section from twisting and cannot tell by how much; {advice}.",
    )


def _of_shear_centre(case: SectionCase, cut: Cut) -> list[Caution]:
    """Caution on the moment of a load beside the shear centre."""
    if cut.shape.flat or cut.shape.symmetry[0] or not moments_of(case, cut)[0]:
        return []
    return [
        Caution(
            "shear centre",
            f"A load in line with the web of a {cut.shape.kind} twists it: the shear "
            "centre lies outside, behind the web. This view takes the moment without "
            "that twist; load the member through the shear centre, or hold it upright "
            "at the loads and on both sides of the heat.",
        )
    ]


def slow_speed(heated: Heated, speed: float | None) -> float:
    """Speed times radius over twice the diffusivity; inf for a torch that stays."""
    if speed is None:
        return float("inf")
    return speed * heated.drive.radius / (2.0 * DIFFUSIVITY)


def warm_share(cut: Cut, history: HeatHistory) -> float:
    """Rise of the section's mean over that of its hottest steel, each at its most.

    Small when a narrow hot zone is gripped by much cold steel; large when the section
    gets warm as a whole and bows while it is hot.
    """
    table = cut.steel.heat
    T = table.start + table.step * np.arange(len(table.heat_content))
    begin = float(history.temperature[0].mean())
    held = np.interp(begin, T, table.heat_content)
    held += float(history.stored.max()) / cut.properties.area
    mean = float(np.interp(held, table.heat_content, T))
    return (mean - begin) / max(float(history.peak.max()) - begin, 1.0)


def _of_passing(
    cut: Cut, history: HeatHistory, speeds: tuple[float | None, ...]
) -> list[Caution]:
    """Caution on a torch that passes a section which bows while it is hot."""
    bends = cut.side[0] if cut.shape.flat else any(cut.side)
    share = warm_share(cut, history)
    if not bends or all(v is None for v in speeds) or share <= WARM:
        return []
    shares, ratios = zip(*OVERSTATED, strict=True)
    ratio = float(np.interp(share, shares, ratios))
    times = "more than twice" if ratio > 2.0 else f"some {ratio:.1f} times"
    return [
        Caution(
            "short hot zone",
            "The torch passes, so that only a short piece of the member is hot at a "
            "time; this view takes it as hot all along, and lets it bow as such. The "
            f"section as a whole gets warm by {share:.0%} of the hottest steel's rise; "
            f"plates that did came out {times} as bent in this view as in the elevation "
            "view at 560 degC, and up to twice that in cooler heats. Use that view where "
            "it can draw the heat. The shortening is overstated as well, by less.",
        )
    ]


def after(
    case: SectionCase, cut: Cut, history: HeatHistory, speeds: tuple[float | None, ...],
    margin: float | None, outcome: str,
) -> list[Caution]:  # fmt: skip
    """Cautions that follow from the result of the run."""
    units = case.print_units
    found = of_outcome(cut.steel, float(history.peak.max()), margin, outcome, units)
    found += of_starts(history.starting_temperatures[1:], units)
    every = [h for heat in cut.heats for h in heat]
    slowest = min(slow_speed(h, v) for h, v in zip(every, speeds, strict=True))
    if slowest < QUICK:
        found.append(
            Caution(
                "slow torch",
                f"The torch is slow for its size (speed times radius over twice the "
                f"diffusivity {slowest:.1f}, under {QUICK:g}): heat runs ahead of it "
                "along the member, which this view leaves out. It overstates the rise "
                f"at a given speed by some {0.12 / slowest:.0%}; a torch held at its "
                "target is in truth slower than shown.",
            )
        )
    found += _of_passing(cut, history, speeds)
    bent = moments_of(case, cut)[0] != 0.0 or case.load.axial < 0.0
    if bent and not cut.shape.flat:
        found.append(
            Caution(
                "sideways",
                "A long member bent about its strong axis can also buckle sideways, most "
                "of all with one flange hot; brace it. This view does not check it.",
            )
        )
    return found

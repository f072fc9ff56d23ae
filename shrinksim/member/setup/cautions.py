"""Cautions on the supports, load and stability of a member set up for heating."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from shrinksim.member.setup import beam
from shrinksim.member.setup.lateral import critical_moment
from shrinksim.member.setup.rig import SupportedMember
from shrinksim.member.setup.rolling import above_supports, roll_angle
from shrinksim.units.quantity import show
from shrinksim.units.tape import offset, place
from shrinksim.views.caution import LOADED, MOMENT_LIMIT, Caution

LEAN = math.radians(15.0)
"""Lean at which a standing member rolls over, under which we warn; our choice."""

SIDEWAYS = 1.0 / 3.0
"""Moment over the elastic critical one, above which we warn: a hot flange holds it less
than a cold one; our choice, no source."""

LIGHT = 0.05
"""Share of the load on an outer support under which we warn; our choice, no source."""

CATCH = 2 * 0.0254
"""m, most under a member for blocks that catch it: Caltrans standard specifications,
55-1.02B(8), of girders curved with the web level."""


def rig_cautions(standing: SupportedMember) -> list[Caution]:
    """Cautions on supports, load and stability, each where it applies."""
    cautions = [*_of_the_load(standing), *_of_the_supports(standing)]
    cautions += [*_of_the_cribs(standing), *_of_the_moment(standing)]
    return [*cautions, *_of_rolling(standing), *_of_buckling(standing)]


def _of_the_load(standing: SupportedMember) -> Iterator[Caution]:
    rigging = standing.rigging
    if rigging.weights or rigging.jacks:
        yield LOADED
    if rigging.weights:
        yield Caution(
            "hung load",
            "A load hangs on the member: rated slings and shackles, hung close over the "
            "ground so that it cannot fall far, nobody under it, and no sling near the "
            "heat.",
        )


def _of_the_supports(standing: SupportedMember) -> Iterator[Caution]:
    """Supports that lift off, that must hold down, that hardly carry."""
    units = standing.rigging.print_units
    total, _ = beam.resultant(standing.solved)
    in_line = [p.gap == 0.0 and not p.level for p in standing.rigging.props]
    clear = [
        f"{place(prop.at, units)} (by {offset(gap, units)})"
        for prop, gap, even in zip(
            standing.rigging.props, standing.clearance.tolist(), in_line, strict=True
        )
        if even and gap > 0.0
    ]
    if clear:
        yield Caution(
            "rocks",
            f"It does not lie on the support at {' and at '.join(clear)}: it can rock, "
            "and comes down there with a jolt. Put a shim in, or take the support away.",
        )
    for prop, force in zip(standing.rigging.props, standing.uplift, strict=True):
        if force > 1e-6 * abs(total):
            yield Caution(
                "uplift",
                f"At {place(prop.at, units)} the member lifts; it must be held "
                f"down there with {show(float(force), 'force', units)}.",
            )
    order = np.argsort([prop.at for prop in standing.rigging.props])
    carrying = [i for i in order if standing.touching[i]]
    for i in {carrying[0], carrying[-1]}:
        prop, force = standing.rigging.props[i], float(standing.reactions[i])
        if not prop.holds_down and force < LIGHT * total:
            yield Caution(
                "tips",
                f"The support at {place(prop.at, units)} carries only "
                f"{show(force, 'force', units)}: a push or a little more weight tips "
                "the member. Move a support or hold it down.",
            )


def _of_the_cribs(standing: SupportedMember) -> Iterator[Caution]:
    """No cribbing under the span, or too far below it."""
    units = standing.rigging.print_units
    cribs = [
        (prop.at, gap)
        for prop, gap in zip(
            standing.rigging.props, standing.clearance.tolist(), strict=True
        )
        if prop.gap > 0.0 or prop.level
    ]
    near = offset(CATCH, units)
    source = "Caltrans 55-1.02B(8), for girders curved with the web level"
    if not cribs:
        yield Caution(
            "no crib",
            "Nothing catches the member if it gives way while hot: put cribbing under "
            f"its span, {near} or less below it ({source}).",
        )
    for at, gap in cribs:
        if gap > CATCH:
            yield Caution(
                "low crib",
                f"The crib at {place(at, units)} is "
                f"{offset(gap, units)} under the member; keep it within {near} "
                f"({source}), and pack it up as the member comes down.",
            )


def _of_the_moment(standing: SupportedMember) -> Iterator[Caution]:
    """A moment beyond practice, beyond yield, beyond what the cold member carries."""
    at, M = max(beam.greatest_moments(standing.solved), key=lambda pair: abs(pair[1]))
    ratio = abs(M) / standing.plastic_moment
    stress = abs(M) / standing.elastic_modulus
    where = place(at, standing.rigging.print_units)
    if ratio >= 1.0:
        yield Caution(
            "folds cold",
            f"At {where} the moment is {ratio:.2f} of the plastic moment: the member "
            "folds before it is heated. Take load off or move the supports.",
        )
    elif stress > standing.rigging.yield_stress:
        yield Caution(
            "yields cold",
            f"At {where} load alone bends it beyond yield; sags and movements told here "
            "are too small. Take load off or move the supports.",
        )
    if MOMENT_LIMIT < ratio < 1.0:
        yield Caution(
            "moment",
            f"At {where} the moment is {ratio:.2f} of the cold plastic moment; practice "
            f"stops at {MOMENT_LIMIT:g} (FHWA guide, ch. 3, from memory).",
        )


def _of_rolling(standing: SupportedMember) -> Iterator[Caution]:
    lean = roll_angle(standing)
    if lean <= 0.0:
        yield Caution(
            "rolls over",
            "Its weight lies beside the face that it stands on: it falls over unless "
            "held. Lay it flat, or guide it on both sides.",
        )
    elif lean < LEAN:
        up = above_supports(standing) > 0.0
        hang = ", and its bulge, now up, comes round to hang" if up else ""
        yield Caution(
            "may roll",
            f"It stands on a narrow face: leaning by {math.degrees(lean):.0f} degrees it "
            f"rolls over{hang}. Guide it on both sides at the supports, with room to "
            "move up and down.",
        )


def _of_buckling(standing: SupportedMember) -> Iterator[Caution]:
    """Sideways buckling between supports that keep the member upright."""
    ratio = sideways_ratio(standing)
    span = place(unbraced(standing), standing.rigging.print_units)
    source = "EN 1993-1-1 NCCI SN003 with C1 = 1, from memory"
    if ratio >= 1.0:
        yield Caution(
            "buckles sideways",
            f"The moment is {ratio:.2f} of the one at which {span} of it buckle sideways "
            f"and twist when cold ({source}): it may not lie so. Brace it sideways along "
            "the span, take load off, or lay it flat.",
        )
    elif ratio > SIDEWAYS:
        yield Caution(
            "sideways",
            f"The moment is {ratio:.2f} of the one at which {span} of it buckle sideways "
            f"and twist when cold ({source}), and a hot flange holds less. Brace it "
            "sideways along the span, or lay it flat.",
        )


def sideways_ratio(standing: SupportedMember) -> float:
    """The moment over the one that buckles it sideways; 0 where it bends the weak way."""
    if standing.plane != "camber":
        return 0.0
    rigging = standing.rigging
    _, M = max(beam.greatest_moments(standing.solved), key=lambda pair: abs(pair[1]))
    critical = critical_moment(rigging.section, unbraced(standing), rigging.modulus)
    return abs(M) / critical


FATAL = ("buckles sideways", "folds cold", "yields cold")
"""Codes of cautions that refuse a setup."""

UNTRIED = (*FATAL, "rolls over")
"""The same for a setup that does not exist yet, so that nothing guides the member."""

BRIEF = {
    "buckles sideways": "it buckles sideways while cold",
    "folds cold": "it folds before it is heated",
    "yields cold": "load alone bends it beyond yield",
    "rolls over": "it falls over unless held",
    "sideways": "brace it sideways",
    "may roll": "it may roll: guide it on both sides",
    "rocks": "it rocks on its supports",
    "uplift": "it must be held down at a support",
    "tips": "a support hardly carries: it tips easily",
    "no crib": "put cribbing under it",
    "low crib": "the crib is too far down",
    "moment": "the moment is beyond practice",
    "hung load": "rated slings, and nobody under it",
}
"""Cautions in a few words, for a table."""


def refusals(standing: SupportedMember, fatal: Sequence[str] = FATAL) -> list[str]:
    """Reasons to refuse this setup, in a few words each."""
    codes = [caution.code for caution in rig_cautions(standing)]
    return [BRIEF[code] for code in codes if code in fatal]


def brief_cautions(standing: SupportedMember) -> list[str]:
    """Cautions on this setup that do not refuse it, in a few words each."""
    codes = [caution.code for caution in rig_cautions(standing)]
    return [BRIEF[code] for code in codes if code in BRIEF and code not in UNTRIED]


def unbraced(standing: SupportedMember) -> float:
    """Longest length (m) between supports, or twice the longest overhang."""
    places = np.sort(
        [
            prop.at
            for prop, touching in zip(
                standing.rigging.props, standing.touching, strict=True
            )
            if touching
        ]
    )
    overhang = max(places[0], standing.rigging.length - places[-1])
    return float(max(np.diff(places).max(initial=0.0), 2.0 * overhang))

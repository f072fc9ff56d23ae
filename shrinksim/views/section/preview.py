"""Preview of a run of a section case, before anything is solved."""

from __future__ import annotations

from shrinksim.casefile.heating import AnyCooling, StillAir
from shrinksim.units.quantity import show
from shrinksim.views.preview import Preview, cooling_words
from shrinksim.views.section.cautions import before
from shrinksim.views.section.geometry import Cut, cut_of, mesh_cut, moments_of
from shrinksim.views.section.record import (
    AnyAlong,
    LineAlong,
    SectionCase,
    SpotsAlong,
    StripAlong,
)

STEPS = 95
"""Heat steps of one pattern with its cooling, observed in the shipped cases."""

TRIALS = 4
"""Passes of a speed search for a torch held at a target, observed in the shipped cases."""


def prepare(case: SectionCase) -> Preview:
    """Mesh a section case and preview its run."""
    cut = cut_of(case)
    mesh = mesh_cut(cut)
    unknowns = 2 * len(mesh.points) + 3
    patterns = [h for heat in cut.heats for h in heat]
    steps = STEPS * len(patterns)
    searches = sum(h.drive.target is not None and not h.at_once for h in patterns)
    passes = steps + 0.3 * STEPS * TRIALS * searches
    seconds = 0.5 + passes * (2.5e-3 + 2.3e-6 * unknowns)
    cautions = tuple(before(case, cut))
    lines = tuple(_sentences(case, cut))
    return Preview(unknowns, len(mesh.triangles), steps, seconds, lines, cautions)


def _sentences(case: SectionCase, cut: Cut) -> list[str]:
    """Steps of the run, in order, in sentences."""
    units = case.print_units
    sentences = [
        f"{case.member.section}, cross-section: the heat through the "
        "thickness is computed; the heat is taken as long, and every section stays "
        "plane.",
        f"Elements of {show(cut.fine, 'length', units)} at the heated surface, up to "
        f"{show(cut.far, 'length', units)} away from it.",
        *_load(case, cut),
    ]
    for number, heat in enumerate(case.heats):
        parts = "; then ".join(_pattern(p, units) for p in heat.patterns)
        cooling = _cooling(heat.cooling, units)
        sentences.append(f"Heat {number + 1}: {parts}; {cooling}.")
    return sentences


def _load(case: SectionCase, cut: Cut) -> list[str]:
    """The load about both axes, with the stiffness of its source."""
    load, units = case.load, case.print_units
    held = ["its two long edges are held while hot"] if load.edges == "held" else []
    if load.kind == "held":
        held.insert(0, "the member is held straight while hot")
    if load.kind in {"none", "held"}:
        return [f"Load: {', and '.join(held)}."] if held else []
    parts = [
        f"{name} moment {show(moment, 'moment', units)}, {moment / most:.2f} of that "
        f"axis' cold plastic moment {show(most, 'moment', units)}"
        for name, moment, most in zip(
            ("camber", "sweep"), moments_of(case, cut), cut.moments, strict=True
        )
        if moment != 0.0
    ]
    if load.axial != 0.0:
        pulls = "pull" if load.axial > 0.0 else "push"
        parts.append(f"a {pulls} of {show(abs(load.axial), 'force', units)}")
    text = f"Load: {load.kind}, {'; '.join(parts) or 'set without a moment'}"
    if load.stiffness_ratio is not None:
        text += f"; its stiffness {load.stiffness_ratio:g} EI/L of the heated length"
    elif load.stiffness is not None:
        text += f"; its stiffness {show(load.stiffness, 'rotational_stiffness', units)}"
    return [f"{'; '.join([text, *held])}."]


def _pattern(pattern: AnyAlong, units: str) -> str:
    """The heated pattern and the motion of the torch."""

    def text(value: float) -> str:
        return show(value, "length", units)

    match pattern:
        case LineAlong():
            what = "a line"
        case StripAlong(width=width):
            what = f"a strip {text(width)} wide"
        case SpotsAlong(diameter=diameter, spacing=spacing):
            what = f"spots of {text(diameter)} every {text(spacing)}"
    where = f"the {' and the '.join(pattern.on)}"
    if pattern.at != 0.0:
        where += f", {text(pattern.at)} from the middle of each"
        if len(pattern.on) == 1:
            where = where.removesuffix(" of each")
    several = f" ({len(pattern.on)} torches at the same time)" * (len(pattern.on) > 1)
    torch, target = pattern.torch, show(pattern.torch.target, "temperature", units)
    if isinstance(pattern, SpotsAlong):
        drive = f"the torch stays on each until the hottest steel is at {target}"
    elif torch.drive == "travel":
        drive = f"the torch travels at {show(torch.speed, 'speed', units)}"
    elif torch.drive == "at once":
        drive = (
            "the torch plays over the whole length until the hottest steel is at "
            f"{target}"
        )
    else:
        drive = f"the torch travels at the speed that gives {target} (searched for)"
    return f"{what} along {where}, over {text(pattern.length)}{several}; {drive}"


def _cooling(cooling: AnyCooling, units: str) -> str:
    """The cooling, its start, and its surfaces if named."""
    text = cooling_words(cooling, units)
    if isinstance(cooling, StillAir):
        return text
    if cooling.everywhere:
        return f"{text} on all surfaces"
    return f"{text} on the {' and the '.join(cooling.on)}" if cooling.on else text

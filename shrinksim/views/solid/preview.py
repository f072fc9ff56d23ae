"""What running a solid case would do, before anything is solved."""

from __future__ import annotations

import numpy as np

from shrinksim.shop.pattern import Pattern, path_length
from shrinksim.units.quantity import show
from shrinksim.views.preview import Preview, cooling_words
from shrinksim.views.solid.cautions import before
from shrinksim.views.solid.geometry import Slab, mesh_of, slab
from shrinksim.views.solid.loading import moments_of, stiffness_of
from shrinksim.views.solid.record import SolidCase

ADVANCE = 0.19
"""Radii that the torch goes in a heat step, seen in the shipped cases."""

COOLING_STEPS = 60
"""Steps of a cooling to cold, seen in the shipped cases."""

HELD_PASSES = 6
"""Passes of a torch that is held by what the steel shows, seen in the shipped cases."""

ON = {"front": "on the front", "back": "on the back", "both": "on both faces at once"}
READ = {
    "face": "read on the heated face while it burns",
    "face after": "read on the heated face after it has gone",
    "back": "read on the back",
}


def prepare(case: SolidCase) -> Preview:
    """Mesh a case and say what running it would do.  Raises as `slab` does."""
    work = slab(case)
    mesh = mesh_of(work)
    flat, across = work.orders
    unknowns = (2 * (flat + 1) + across + 1) * len(mesh.points)
    steps = sum(
        COOLING_STEPS + sum(_torch_steps(p) for p in heat) for heat in work.patterns
    )
    seconds = steps * (5e-6 * unknowns) + 1.0
    lines = tuple(_sentences(case, work))
    told = tuple(before(case, work))
    return Preview(unknowns, len(mesh.triangles), steps, seconds, lines, told)


def _torch_steps(pattern: Pattern) -> int:
    length = float(path_length(pattern.path.points)[-1])
    return 12 + int(np.ceil(length / (ADVANCE * pattern.path.drive.radius)))


def _sentences(case: SolidCase, work: Slab) -> list[str]:
    """What will be done, in order."""
    units = case.print_units

    def size(metres: float) -> str:
        return show(metres, "length", units)

    said = [
        f"plate {size(work.depth)} wide and {size(work.thickness)} thick: a patch "
        f"{size(work.length)} long is meshed; elements of {size(work.sheet.fine)} in the "
        f"heated pattern, up to {size(work.sheet.far)} away from it.",
        *_load(case, work),
    ]
    for number, (heat, drawn) in enumerate(zip(case.heats, work.patterns, strict=True)):
        kinds = ", then ".join(f"{p.kind} {ON[p.face]}" for p in heat.patterns)
        length = sum(float(path_length(p.path.points)[-1]) for p in drawn)
        reads = {READ[p.torch.read] for p in heat.patterns if p.torch.drive == "held"}
        held = f", the torch held, {' and '.join(sorted(reads))}" if reads else ""
        said.append(
            f"Heat {number + 1}: {kinds}; {size(length)} of torch path{held}; "
            f"{cooling_words(heat.cooling, units)}."
        )
    said.append(
        f"Orders {work.through} through the thickness (in the plane, across it), for a "
        f"plate {work.steepness:.2g} times as thick as the torch's radius; they leave out "
        f"about {work.lost:.1%} of the rotation out of the plane."
    )
    return said


def _load(case: SolidCase, work: Slab) -> list[str]:
    """The load, with the stiffness of what it comes from."""
    load, units = case.load, case.print_units
    if load.kind == "none":
        return []
    if load.kind == "held":
        return ["Load: the ends are held."]
    plane, flat = moments_of(case, work)
    text = (
        f"Load: {load.kind}, moment {show(plane, 'moment', units)}, "
        f"{plane / work.sheet.plastic_moment:.2f} of the cold plastic moment "
        f"{show(work.sheet.plastic_moment, 'moment', units)}"
    )
    k = stiffness_of(case, work)
    if load.kind in ("jack", "clamp") and k is not None:
        text += f"; its stiffness {show(k, 'rotational_stiffness', units)}"
    if flat:
        text += (
            f"; out of the plane {show(flat, 'moment', units)}, "
            f"{flat / work.flat_plastic_moment:.2f} of the cold plastic moment "
            f"{show(work.flat_plastic_moment, 'moment', units)}"
        )
    return [f"{text}."]

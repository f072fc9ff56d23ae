"""What people see of the section view."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from shrinksim.arrays import FloatArray
from shrinksim.units.quantity import quantity, show
from shrinksim.views.fields import plane_fields
from shrinksim.views.section.deformed import fine_ring, shifted
from shrinksim.views.section.pictures import section_alternative, section_plates
from shrinksim.views.section.result import SectionResult
from shrinksim.views.section.words import section_told
from shrinksim.views.view import Face

NOTHING = 0.05
"""mrad; a bend under this is not printed beside one that is."""

SIDES = {"camber": ("top", "bottom"), "sweep": ("right", "left")}
"""Which side becomes the hollow one, with a positive and a negative curvature."""


def terminal(summary: Mapping[str, Any], units: str) -> dict[str, str]:
    """How a heated length moved: what there is of it."""

    def shown(key: str, unit: str, dimension: str) -> str:
        return show(quantity(f"{summary[key]!r} {unit}", dimension), dimension, units)

    rows = {}
    for name, (plus, minus) in SIDES.items():
        turn = summary[f"{name}_rotation_mrad"]
        if abs(turn) >= NOTHING:
            curvature = shown(f"{name}_per_m", "rad/m", "curvature")
            hollow = plus if turn > 0 else minus
            rows[f"permanent {name}"] = (
                f"{abs(turn):.2f} mrad, {curvature.lstrip('-')} ({hollow} hollow)"
            )
    rows = rows or {"camber and sweep": f"none (under {NOTHING} mrad)"}
    rows["shortening"] = shown("shortening_mm", "mm", "length")
    angle = summary["angular_change_mrad"]
    if angle is not None:
        way = "to the heated face" if angle >= 0 else "from the heated face"
        rows["angular change"] = f"{abs(angle):.2f} mrad ({way})"
        across = shown("transverse_shrinkage_mm", "mm", "length")
        change = "wider" if across.startswith("-") else "narrower"
        rows[f"{change} across"] = across.lstrip("-")
    if summary["converged"]:
        rows["tendon force"] = shown("tendon_force_kN", "kN", "force")
    return rows


def error(refinement: Mapping[str, Any]) -> str:
    """Numerical errors of camber and sweep."""
    errors = {name: refinement[f"{name}_error_mrad"] for name in SIDES}
    return ", ".join(f"{name} {value:.2f} mrad" for name, value in errors.items())


def shape(result: SectionResult) -> tuple[FloatArray, FloatArray, float]:
    """Outline of the section and how it moved, m."""
    ring = fine_ring(result)
    return ring, shifted(result, ring), 1.0


FACE = Face(
    words=section_told,
    pictures=section_plates,
    alternative=section_alternative,
    terminal=terminal,
    error=error,
    fields=plane_fields,
    shape=shape,
)

"""What a run came to, in lines for the terminal."""

from __future__ import annotations

from typing import Any

from shrinksim.commands.terminal import cautions


def outcome(summary: dict[str, Any], units: str) -> str:
    """What came out, for the terminal.  ``summary`` as in summary.json."""
    section = summary.get("view") == "section"
    moved = _section_rows if section else _elevation_rows
    margin = summary["hot_hinge_margin"]
    rows = moved(summary, units) | {
        "peak temperature": _shown(
            summary, "peak_temperature_C", "degC", "temperature", units
        ),
        "heating time": _shown(summary, "heating_time_s", "s", "time", units),
        "residual tension": _shown(
            summary, "max_residual_tension_MPa", "MPa", "stress", units
        ),
        "hot-hinge margin": "no moment on it" if margin is None else f"{margin:.2f}",
    }
    rows = {name: value for name, value in rows.items() if value}
    if not summary["converged"]:
        rows = {"outcome": "hot hinge: the member folds while hot"} | rows
    refinement = summary.get("refinement")
    if refinement:
        rows["numerical error"] = _error(refinement)
    wide = max(map(len, rows)) + 2
    table = "\n".join(f"  {name:<{wide}}{value}" for name, value in rows.items())
    texts = [caution["text"] for caution in summary["cautions"]]
    return "\n".join([summary["title"], table, *cautions(texts)])


def _shown(
    summary: dict[str, Any], key: str, unit: str, dimension: str, units: str
) -> str:
    """A value of the summary in the reader's units, "" if there is none."""
    from shrinksim.units.quantity import quantity, show

    if summary[key] is None:  # a member that folds leaves no cold stress
        return ""
    return show(quantity(f"{summary[key]!r} {unit}", dimension), dimension, units)


def _elevation_rows(summary: dict[str, Any], units: str) -> dict[str, str]:
    """How a patch of the elevation moved."""
    turn = summary["rotation_mrad"]
    closes = "the open end closes" if turn >= 0 else "the open end opens further"
    return {
        "rotation for good": f"{turn:.2f} mrad ({closes})",
        "shortening": _shown(summary, "shortening_mm", "mm", "length", units),
    }


NOTHING = 0.05
"""mrad; a bend under this is not printed beside one that is."""


def _section_rows(summary: dict[str, Any], units: str) -> dict[str, str]:
    """How a heated length moved in the section view: what there is of it."""
    rows = {}
    sides = {"camber": ("top", "bottom"), "sweep": ("right", "left")}
    for name, (plus, minus) in sides.items():
        turn = summary[f"{name}_rotation_mrad"]
        if abs(turn) >= NOTHING:
            curvature = _shown(summary, f"{name}_per_m", "rad/m", "curvature", units)
            hollow = plus if turn > 0 else minus
            rows[f"{name} for good"] = (
                f"{abs(turn):.2f} mrad, {curvature.lstrip('-')} ({hollow} hollow)"
            )
    rows = rows or {"camber and sweep": f"none (under {NOTHING} mrad)"}
    rows["shortening"] = _shown(summary, "shortening_mm", "mm", "length", units)
    angle = summary["angular_change_mrad"]
    if angle is not None:
        way = "to the heated face" if angle >= 0 else "from the heated face"
        rows["angular change"] = f"{abs(angle):.2f} mrad ({way})"
        across = _shown(summary, "transverse_shrinkage_mm", "mm", "length", units)
        change = "wider" if across.startswith("-") else "narrower"
        rows[f"{change} across"] = across.lstrip("-")
    if summary["converged"]:
        rows["tendon force"] = _shown(summary, "tendon_force_kN", "kN", "force", units)
    return rows


def _error(refinement: dict[str, float]) -> str:
    """How far mesh, steps and the torch's way may have moved the turn."""
    if "camber_error_mrad" in refinement:
        errors = {
            name: refinement[f"{name}_error_mrad"] for name in ("camber", "sweep")
        }
        return ", ".join(f"{name} {error:.2f} mrad" for name, error in errors.items())
    return f"{refinement['rotation_error_mrad']:.2f} mrad"

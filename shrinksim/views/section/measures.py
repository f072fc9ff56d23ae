"""Quantities of the section view, and how far to trust them."""

from __future__ import annotations

from typing import Any

from shrinksim.views.measures import (
    EFFORT,
    MOMENT,
    heat_measures,
    history_measures,
    one,
    residual_stresses,
    shortening,
    torch_measures,
)
from shrinksim.views.ranking import Ranking, moved, refined, unknown
from shrinksim.views.rows import NO_ROTATION
from shrinksim.views.view import LineTurn, Measure, Shown, Trace

CURVATURE = one("mrad/m", "curvature")


def _rotation(name: str, side: str, other: str) -> Measure:
    """Permanent rotation of camber or sweep over the heated length.

    side, other : which becomes hollow with a positive and with a negative one.
    """
    return Measure(
        f"{name}_rotation_mrad",
        lambda r: getattr(r.movement, f"{name}_rotation") * 1e3,
        f"permanent rotation, {name}",
        error=f"{name}_error_mrad",
        ranking=Ranking(
            "mrad",
            "most, either way",
            abs,
            moved(f"{name}_rotation_mrad"),
            refined(f"{name}_error_mrad"),
            unknown,
            needed=False,
            sign=f"+ {side} hollow",
        ),
        bend=LineTurn(name, spread=True),
        shown=Shown(
            "mrad",
            "mrad",
            f"{side} hollow",
            f"{other} hollow",
            folded=f"rotation when it stopped, {name}",
        ),
    )


def _curvature(name: str) -> Measure:
    """Curvature of camber or sweep, and how it grew."""
    return Measure(
        f"{name}_per_m",
        lambda r: getattr(r.movement, name),
        f"curvature, {name}",
        column=f"{name} [mrad/m]",
        scale=CURVATURE,
        history=lambda r: getattr(r.movement, f"{name}_history"),
        trace=Trace(name, name, "curvature"),
        shown=Shown(
            "rad/m",
            "curvature",
            folded=f"curvature when it stopped, {name}",
            where=lambda s: abs(s[f"{name}_rotation_mrad"]) >= NO_ROTATION,
        ),
    )


def _moment(name: str) -> Measure:
    return Measure(
        "",
        column=f"{name} moment [kN m]",
        scale=MOMENT,
        history=lambda r: getattr(r.movement, f"{name}_moment_history"),
    )


def _scaled(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


MEASURES = (
    _curvature("camber"),
    _curvature("sweep"),
    Measure(
        "strain_per_mille", lambda r: r.movement.strain * 1e3, "strain along",
        column="strain along the member [mm/m]", scale=1e-3,
        trace=Trace("strain", "strain along the member", "strain"),
        history=lambda r: r.movement.strain_history,
    ),
    _moment("camber"),
    _moment("sweep"),
    Measure(
        "heated_length_mm", lambda r: r.movement.heated_length * 1e3, "heated length"
    ),
    Measure("heated_share", lambda r: r.movement.share),
    _rotation("camber", "top", "bottom"),
    _rotation("sweep", "right", "left"),
    shortening(),
    Measure(
        "angular_change_mrad", lambda r: _scaled(r.movement.angular_change, 1e3),
        "angular change",
        shown=Shown(
            "mrad", "mrad", "to the heated face", "from the heated face",
            folded="angular change when it stopped",
        ),
    ),
    Measure(
        "transverse_shrinkage_mm", lambda r: r.movement.transverse_shrinkage * 1e3,
        "transverse shrinkage",
        shown=Shown(
            "mm", "length", "narrower", "wider",
            folded="transverse shrinkage when it stopped",
            where=lambda s: s["angular_change_mrad"] is not None,
        ),
    ),
    Measure(
        "tendon_force_kN", lambda r: r.movement.tendon_force / 1e3, "tendon force",
        shown=Shown("kN", "force"),
    ),
    Measure(
        "camber_from_plastic_per_m", lambda r: float(r.movement.from_plastic[1])
    ),
    Measure("sweep_from_plastic_per_m", lambda r: float(r.movement.from_plastic[2])),
    Measure(
        "torch_speed_mm_s",
        lambda r: [_scaled(v, 1e3) for v in r.heating.schedules],
        "torch speed",
    ),
    *heat_measures("_per_m"),
    *history_measures("/m"),
    *torch_measures(lambda r: float(sum(r.heating.torch_times)), lambda r: burnt(r)),
    *residual_stresses(lambda r: float(_axial(r).max()), lambda r: float(-_axial(r).min())),
    Measure(
        "max_plastic_strain", lambda r: float(r.strain.equivalent_plastic.max()),
        "largest plastic strain",
    ),
    *EFFORT,
)  # fmt: skip


def _axial(r: Any) -> Any:
    """Stress along the member (e, q), MPa."""
    return r.strain.stress[..., 3] / 1e6


def burnt(result: Any) -> float:
    """Energy (J) of the gas of all torches, over the whole heated length."""
    patterns = [p for heat in result.case.heats for p in heat.patterns]
    return sum(
        time * p.torch.power * p.torch.torches * len(p.on)
        for time, p in zip(result.heating.torch_times, patterns, strict=True)
    )


def trust(result: Any) -> tuple[str, ...]:
    """Sentences on what is modelled, what is not, and how large that may be."""
    case, cut, refinement = result.case, result.geometry, result.refinement
    sentences = [
        "Single heats scatter by about half of their mean, means of several heats by "
        "about a quarter (from memory, low confidence): take the number as the middle "
        "of such a band, and measure after each heat.",
        "Modelled: a long heat in its section, the true outline with its radii, heat "
        "through the thickness, losses from every surface, steel that softens and yields "
        "in all directions by EN 1993-1-2, sections that stay plane.",
        "The permanent rotation is the curvature times the heated length. The ends of a "
        "heat hold it back by about a third of the member's depth of that length, both "
        "together (elevation view, flat bars); this is not taken off.",
        "Not modelled: heat that runs along the member, ends of the heat, twist, "
        "buckling, phase change above about 720 degC unless the steel's file gives it, "
        "creep beyond what the EN curves contain, residual stress from rolling.",
    ]
    if cut.shape.flat:
        edges = "free" if case.load.edges == "free" else "held"
        sentences.append(
            f"The plate's long edges are {edges} here. A real line heat lies between: "
            "the cold plate ahead of the torch holds the hot line across. So with free "
            "edges the angular change is on the low side and the shrinkage across the "
            "line is not known; with held edges both are on the high side."
        )
    if refinement is None:
        sentences.append(
            "The numerical error is not known, because the coarser run was not "
            "completed."
        )
    else:
        sentences.append(
            "Numerical error (standard deviation): about "
            f"{refinement['camber_error_mrad']:.3f} mrad of camber, "
            f"{refinement['sweep_error_mrad']:.3f} of sweep and "
            f"{refinement['shortening_error_mm']:.4f} mm: a repeat with mesh and steps "
            f"{refinement['factor']:g} times as coarse changed camber and sweep by "
            f"{refinement['camber_change_percent']:+.2f} % and "
            f"{refinement['sweep_change_percent']:+.2f} % of the larger of the two; at "
            "least 0.4 % is taken."
        )
    return tuple(sentences)

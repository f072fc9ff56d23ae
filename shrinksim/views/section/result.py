"""The result of a section case: what was computed, how far to trust it, its summary."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.case.resolving import resolved
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.section import SectionBody
from shrinksim.heat.march import HeatHistory
from shrinksim.shop.outline import Piece, along_surface
from shrinksim.strain import StrainHistory
from shrinksim.views.elevation.cautions import Caution
from shrinksim.views.elevation.result import hash_of, time_above, versions_here
from shrinksim.views.section.geometry import Cut
from shrinksim.views.section.movement import SectionMovement
from shrinksim.views.section.record import SectionCase


@dataclass(frozen=True)
class SectionResult:
    """Everything that a run of a section case gives.

    speeds : m/s of each pattern's torch, None if it does not travel.  torch_times : s
    that each burns over the whole length.  outcome : "complete", or "hot hinge" when
    the member folds while hot.  refinement : None, or what a coarser run changed.
    seconds : stage -> s.
    """

    case: SectionCase
    cut: Cut
    mesh: Mesh
    body: SectionBody
    heat: HeatHistory
    speeds: tuple[float | None, ...]
    torch_times: tuple[float, ...]
    strain: StrainHistory
    movement: SectionMovement
    cautions: tuple[Caution, ...]
    outcome: str
    seconds: Mapping[str, float]
    refinement: Mapping[str, float] | None = None
    view: str = "section"

    @property
    def title(self) -> str:
        """The case's title."""
        return self.case.title

    @property
    def pieces(self) -> tuple[Piece, ...]:
        """The section's outline."""
        return self.cut.pieces

    @property
    def heated(self) -> tuple[tuple[str, float, float], ...]:
        """Surface, from, to (m) of every pattern."""
        return self.cut.spans

    @property
    def points(self) -> Mapping[str, tuple[float, float]]:
        """Named points (x, y) m: the case's own, else under the torch and across."""
        if self.case.output.points:
            return dict(self.case.output.points)
        name, low, high = self.cut.spans[0]
        middle = along_surface(self.pieces, name, np.array([0.5 * (low + high)]))[0]
        far = self.mesh.points[
            int(np.argmax(np.linalg.norm(self.mesh.points - middle, axis=1)))
        ]
        named = {"under the torch": middle, "farthest from it": far}
        return {k: (float(p[0]), float(p[1])) for k, p in named.items()}

    @property
    def steel_limit(self) -> float:
        """degC, the limit of practice for the grade."""
        return self.cut.steel.limit

    @property
    def load_kind(self) -> str:
        """What kind of load."""
        return self.case.load.kind

    @property
    def resolved(self) -> Mapping[str, Any]:
        """The case with everything filled in."""
        return resolved(self.case)

    @property
    def input_hash(self) -> str:
        """First 16 hex digits of the SHA-256 of the resolved case."""
        file = self.case.steel.file
        return hash_of(self.resolved, None if file is None else Path(file))

    @property
    def versions(self) -> Mapping[str, str]:
        """Versions of the package, what it stands on, and the machine."""
        return versions_here()

    @property
    def trust(self) -> tuple[str, ...]:
        """How far to trust the numbers."""
        return trust(self.case, self.cut, self.refinement)

    def summary(self) -> dict[str, Any]:
        """Plain numbers with units in their names, for summary.json."""
        heat, strain, moved = self.heat, self.strain, self.movement
        done = self.outcome == "complete"
        axial = strain.stress[..., 3] / 1e6
        angle = moved.angular_change
        return {
            "title": self.title,
            "view": self.view,
            "converged": done,
            "outcome": self.outcome,
            "strain_per_mille": moved.strain * 1e3,
            "camber_per_m": moved.camber,
            "sweep_per_m": moved.sweep,
            "heated_length_mm": moved.heated_length * 1e3,
            "heated_share": moved.share,
            "camber_rotation_mrad": moved.camber_rotation * 1e3,
            "sweep_rotation_mrad": moved.sweep_rotation * 1e3,
            "shortening_mm": moved.shortening * 1e3,
            "angular_change_mrad": None if angle is None else angle * 1e3,
            "transverse_shrinkage_mm": moved.transverse_shrinkage * 1e3,
            "tendon_force_kN": moved.tendon_force / 1e3,
            "camber_from_plastic_per_m": float(moved.from_plastic[1]),
            "sweep_from_plastic_per_m": float(moved.from_plastic[2]),
            "torch_speed_mm_s": [None if v is None else v * 1e3 for v in self.speeds],
            "peak_temperature_C": float(heat.peak.max()),
            "heating_time_s": float(sum(self.torch_times)),
            "cooling_time_s": float(heat.times[-1]) - heat.heating_time,
            "hottest_point_above_limit_s": time_above(heat, self.steel_limit),
            "energy_J_per_m": {
                "absorbed": float(heat.absorbed[-1]),
                "lost": float(heat.lost[-1]),
                "stored": float(heat.stored[-1]),
                "imbalance": heat.imbalance,
            },
            "burnt_J": self._burnt(),
            "hot_hinge_margin": moved.hinge_margin,
            "hot_stress_MPa": float(strain.hot_stress.max()) / 1e6,
            "max_residual_tension_MPa": float(axial.max()) if done else None,
            "max_residual_compression_MPa": float(-axial.min()) if done else None,
            "max_plastic_strain": float(strain.equivalent_plastic.max()),
            "largest_residual": float(strain.residual.max()),
            "refinement": self.refinement,
            "steps": {"heat": heat.steps, "strain": strain.steps},
            "unknowns": {"heat": heat.unknowns, "strain": strain.unknowns},
            "newton_iterations": {
                "heat": heat.iterations,
                "strain": strain.iterations,
            },
            "seconds": dict(self.seconds),
            "cautions": [{"code": c.code, "text": c.text} for c in self.cautions],
            "input_hash": self.input_hash,
            "versions": dict(self.versions),
        }

    def _burnt(self) -> float:
        """Energy (J) of the gas of all torches, over the whole heated length."""
        patterns = [p for heat in self.case.heats for p in heat.patterns]
        return sum(
            time * p.torch.power * p.torch.torches * len(p.on)
            for time, p in zip(self.torch_times, patterns, strict=True)
        )


def trust(
    case: SectionCase, cut: Cut, refinement: Mapping[str, float] | None
) -> tuple[str, ...]:
    """Sentences on what is modelled, what is not, and how large that may be."""
    said = [
        "Single heats scatter by about half of their mean, means of several heats by "
        "about a quarter (from memory, low confidence): take the number as the middle "
        "of such a band, and measure after each heat.",
        "Modelled: a long heat in its section, the true outline with its radii, heat "
        "through the thickness, losses from every surface, steel that softens and yields "
        "in all directions by EN 1993-1-2, sections that stay plane.",
        "The turn is the curvature times the heated length. The ends of a heat hold it "
        "back by about a third of the member's depth of that length, both together "
        "(elevation view, flat bars); this is not taken off.",
        "Not modelled: heat that runs along the member, ends of the heat, twist, "
        "buckling, phase change above about 720 degC unless the steel's file gives it, "
        "creep beyond what the EN curves contain, residual stress from rolling.",
    ]
    if cut.shape.flat:
        edges = "free" if case.load.edges == "free" else "held"
        said.append(
            f"The plate's long edges are {edges} here. A real line heat lies between: "
            "the cold plate ahead of the torch holds the hot line across. So with free "
            "edges the angular change is on the low side and the shrinkage across the "
            "line is not told; with held edges both are on the high side."
        )
    if refinement is None:
        said.append(
            "The numerical error is not known: the coarser run that would tell it did "
            "not come to its end."
        )
    else:
        said.append(
            f"Numerical error: about {refinement['camber_error_mrad']:.3f} mrad of "
            f"camber, {refinement['sweep_error_mrad']:.3f} of sweep and "
            f"{refinement['shortening_error_mm']:.4f} mm: a repeat with mesh and steps "
            f"{refinement['factor']:g} times as coarse changed camber and sweep by "
            f"{refinement['camber_change_percent']:+.2f} % and "
            f"{refinement['sweep_change_percent']:+.2f} % of the larger of the two; at "
            "least 0.4 % is taken."
        )
    return tuple(said)

"""The result of a case: what was computed, how far to trust it, and its summary."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim import __version__
from shrinksim.arrays import FloatArray
from shrinksim.case.resolving import resolved
from shrinksim.case.schema import Case
from shrinksim.fem.mesh import Mesh
from shrinksim.heat.march import HeatHistory
from shrinksim.movement import Movement
from shrinksim.shop.pattern import TorchPath
from shrinksim.shop.sections.shape import Band
from shrinksim.strain import StrainHistory
from shrinksim.views.elevation.cautions import Caution
from shrinksim.views.elevation.geometry import Workpiece

PACKAGES = ("numpy", "scipy", "numba", "gmsh", "meshio", "matplotlib", "pydantic")


def hash_of(resolved_case: Mapping[str, Any], steel_file: Path | None) -> str:
    """First 16 hex digits of the SHA-256 of a resolved case and its steel's file."""
    text = json.dumps(resolved_case, sort_keys=True)
    if steel_file is not None:
        text += Path(steel_file).read_text(encoding="utf-8")
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def versions_here() -> dict[str, str]:
    """Versions of the package, what it stands on, and the machine."""
    found = {"shrinksim": __version__, "python": platform.python_version()}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found | {"machine": platform.machine()}


@dataclass(frozen=True)
class Result:
    """Everything that a run of a case gives.

    outcome : "complete", or "hot hinge" when the member folds while hot.  refinement :
    None, or what a second run with another mesh and other steps gave.  seconds : stage
    -> s.  cautions : what to be careful of.
    """

    case: Case
    work: Workpiece
    mesh: Mesh
    heat: HeatHistory
    strain: StrainHistory
    movement: Movement
    cautions: tuple[Caution, ...]
    outcome: str
    seconds: Mapping[str, float]
    refinement: Mapping[str, float] | None = None

    @property
    def view(self) -> str:
        """Which view of the member was computed."""
        return "elevation"

    @property
    def title(self) -> str:
        """The case's title."""
        return self.case.title

    @property
    def bands(self) -> tuple[Band, ...]:
        """Bands of the elevation."""
        return self.work.bands

    @property
    def outlines(self) -> tuple[FloatArray, ...]:
        """Outline (k, 2) m of every pattern."""
        return self.work.outlines

    @property
    def paths(self) -> tuple[TorchPath, ...]:
        """The torch's path over every pattern."""
        return tuple(p.path for heat in self.work.patterns for p in heat)

    @property
    def points(self) -> Mapping[str, tuple[float, float]]:
        """Named points (x, y) m: the case's own, else where the torch starts and ends."""
        if self.case.output.points:
            return dict(self.case.output.points)
        path = self.paths[0].points
        middle = path[len(path) // 2]
        names = {"torch start": path[0], "half way": middle, "torch end": path[-1]}
        return {k: (float(p[0]), float(p[1])) for k, p in names.items()}

    @property
    def steel_limit(self) -> float:
        """degC, the limit of practice for the grade."""
        return self.work.steel.limit

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
        return hash_of(self.resolved, self.case.steel.file)

    @property
    def versions(self) -> Mapping[str, str]:
        """Versions of the package, what it stands on, and the machine."""
        return versions_here()

    @property
    def trust(self) -> tuple[str, ...]:
        """How far to trust the numbers."""
        return trust(self.case, self.refinement)

    def summary(self) -> dict[str, Any]:
        """Plain numbers with units in their names, for summary.json."""
        heat, strain, moved = self.heat, self.strain, self.movement
        done = self.outcome == "complete"

        def whole(value: float) -> float | None:
            return value if done else None

        stress = strain.stress[: len(self.mesh.triangles), :, 0] / 1e6
        return {
            "title": self.title,
            "view": self.view,
            "converged": self.outcome == "complete",
            "outcome": self.outcome,
            "rotation_mrad": moved.rotation * 1e3,
            "shortening_mm": moved.shortening * 1e3,
            "curvature_per_m": moved.curvature,
            "heated_length_mm": moved.heated_length * 1e3,
            "rotation_elastic_mrad": whole(moved.rotation_elastic * 1e3),
            "rotation_loaded_mrad": whole(
                (moved.rotation + moved.rotation_elastic) * 1e3
            ),
            "rotation_from_plastic_mrad": whole(moved.rotation_from_plastic * 1e3),
            "peak_temperature_C": float(heat.peak.max()),
            "heating_time_s": heat.heating_time,
            "cooling_time_s": float(heat.times[-1]) - heat.heating_time,
            "hottest_point_above_limit_s": time_above(heat, self.steel_limit),
            "energy_J": {
                "absorbed": float(heat.absorbed[-1]),
                "lost": float(heat.lost[-1]),
                "stored": float(heat.stored[-1]),
                "imbalance": heat.imbalance,
            },
            "burnt_J": burnt(self.case, self.heat),
            "hot_hinge_margin": moved.hinge_margin,
            "hot_stress_MPa": float(strain.hot_stress.max()) / 1e6,
            "max_residual_tension_MPa": whole(float(stress.max())),
            "max_residual_compression_MPa": whole(float(-stress.min())),
            "max_plastic_strain": float(strain.equivalent_plastic[: len(stress)].max()),
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


def time_above(heat: HeatHistory, limit: float) -> float:
    """Seconds that the hottest point of the steel spent above ``limit`` degC."""
    above = heat.temperature.max(axis=1) > limit
    return float(np.sum(np.diff(heat.times)[above[1:]]))


def burnt(case: Case, heat: HeatHistory) -> float:
    """Energy (J) of the gas: burnt power of the torches while they were on."""
    total, steps = 0.0, np.diff(heat.times)
    plan = 2 if case.member.bending == "weak" else 1
    runs = _torch_seconds(heat, steps)
    patterns = [p for h in case.heats for p in h.patterns]
    for seconds, p in zip(runs, patterns, strict=False):
        total += seconds * p.torch.power * p.torch.torches * plan
    return total


def _torch_seconds(heat: HeatHistory, steps: FloatArray) -> list[float]:
    """Seconds of each run of the torch, in order; a new path starts a new run."""
    runs: list[float] = []
    before = None
    for dt, label, at in zip(steps, heat.label[1:], heat.torch[1:], strict=True):
        if not np.isfinite(at[0]):
            before = None
            continue
        if label != before:
            runs.append(0.0)
        runs[-1] += float(dt)
        before = label
    return runs


def trust(case: Case, refinement: Mapping[str, float] | None) -> tuple[str, ...]:
    """Sentences on what is modelled, what is not, and how large that may be."""
    said = [
        "Single heats scatter by about half of their mean, means of several heats by "
        "about a quarter (from memory, low confidence): take the number as the middle "
        "of such a band, and measure after each heat.",
        "Modelled: heat spreading in the plane of the drawing, losses from the faces, "
        "steel that softens and yields by EN 1993-1-2, the load as it relaxes.",
        "Not modelled: differences through the thickness, buckling or dishing of thin "
        "plate, phase change above about 720 degC, creep beyond what the EN curves "
        "contain, residual stress from rolling or earlier damage, the operator's hand.",
    ]
    if not case.member.shape.flat:
        said.append(
            "An I-section is one sheet here: a flange seen on edge has one temperature "
            "over its width, and the radii at its roots are lumped into the web."
        )
    if refinement is None:
        said.append(
            "The numerical error is not known: the coarser run that would tell it did "
            "not come to its end."
        )
    else:
        torch = "; the torch's way was looked for anew" * bool(refinement["torch_anew"])
        held = any(p.torch.drive != "travel" for h in case.heats for p in h.patterns)
        way = (
            ", and from what the way of a held torch leaves open (3 %, about the weak "
            "axis 5 %)" * held
        )
        said.append(
            f"Numerical error: about {refinement['rotation_error_mrad']:.3f} mrad and "
            f"{refinement['shortening_error_mm']:.4f} mm, from a repeat with mesh and "
            f"steps {refinement['factor']:g} times as coarse, which changed the rotation "
            f"by {refinement['rotation_change_mrad']:+.3f} mrad and the shortening by "
            f"{refinement['shortening_change_mm']:+.4f} mm{torch or way}."
        )
    return tuple(said)

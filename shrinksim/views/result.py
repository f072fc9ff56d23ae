"""The result of a run, in every view."""

from __future__ import annotations

import hashlib
import json
import platform
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any, Generic, TypeVar

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.casefile.own import own_mark, own_parts
from shrinksim.casefile.resolving import resolved
from shrinksim.errors import CaseError
from shrinksim.fem.mesh import Mesh
from shrinksim.heat.history import HeatHistory
from shrinksim.strain import StrainHistory
from shrinksim.version import __version__
from shrinksim.views.caution import Caution
from shrinksim.views.ranking import COMPLETE, HINGE
from shrinksim.views.rows import terminal_rows
from shrinksim.views.view import Heating, Held, View

C = TypeVar("C")
G = TypeVar("G")
M = TypeVar("M")

PACKAGES = ("numpy", "scipy", "numba", "gmsh", "meshio", "matplotlib", "pydantic")


@dataclass(frozen=True, repr=False, eq=False)
class Result(Generic[C, G, M]):
    """The result of a run of a case.

    geometry : of the view, drawn and meshed.  body, held : the body that was strained,
    and its supports.  outcome : COMPLETE or HINGE.  seconds : stage -> s.  cautions :
    safety remarks.  refinement : changes in a second, coarser run and the numerical
    errors; None where that run was not completed.
    """

    view: View
    case: C
    geometry: G
    mesh: Mesh
    body: Any
    held: Held
    heating: Heating
    strain: StrainHistory
    movement: M
    outcome: str
    seconds: Mapping[str, float]
    cautions: tuple[Caution, ...] = ()
    refinement: Mapping[str, float | bool] | None = None

    @property
    def heat(self) -> HeatHistory:
        """Temperatures over time."""
        return self.heating.history

    @property
    def title(self) -> str:
        """The case's title."""
        return self._case.title

    @property
    def points(self) -> Mapping[str, tuple[float, float]]:
        """Named points (x, y) m: the case's own, else the view's."""
        return dict(self._case.output.points) or self.view.stages().points(self)

    @property
    def steel_limit(self) -> float:
        """Limit of practice for the grade, degC."""
        geometry: Any = self.geometry
        return geometry.steel.limit

    @property
    def load_kind(self) -> str:
        """Kind of the load."""
        return self._case.load.kind

    @property
    def resolved(self) -> Mapping[str, Any]:
        """The case with all defaults filled in."""
        return resolved(self._case)

    @property
    def input_hash(self) -> str:
        """First 16 hex digits of the SHA-256 of the resolved case, and a mark of the
        caller's own steel and law.
        """
        return hash_of(self.resolved, self._case.steel.file) + own_mark(self.case)

    @property
    def versions(self) -> Mapping[str, str]:
        """Versions of the package and its dependencies, and the machine."""
        return versions_here()

    @property
    def trust(self) -> Sequence[str]:
        """How far to trust the numbers."""
        sentences = list(self.view.stages().trust(self))
        sentences += [
            f"The {part} is the caller's own, not the one that the case names."
            for part in own_parts(self.case)
        ]
        return sentences

    def summary(self) -> dict[str, Any]:
        """Plain numbers with units in their names, for summary.json."""
        measures = self.view.stages().measures
        return {
            "title": self.title,
            "view": self.view.name,
            "converged": self.outcome == COMPLETE,
            "outcome": self.outcome,
            **{m.key: m.value(self) for m in measures if m.key},
            "refinement": self.refinement,
            "seconds": dict(self.seconds),
            "cautions": [{"code": c.code, "text": c.text} for c in self.cautions],
            "input_hash": self.input_hash,
            "versions": dict(self.versions),
        }

    def rows(self) -> dict[str, str]:
        """Main quantities by name, with units, as the terminal prints them."""
        measures = self.view.stages().measures
        return terminal_rows(measures, self.summary(), self._case.print_units)

    def save(self, folder: Path | str, *, force: bool = False) -> Path:
        """Write the results folder (report, numbers, pictures, fields); return it.

        force : replace an earlier results folder.  Raises CaseError when the folder holds
        anything else, or the disk does not take it.
        """
        from shrinksim.report.folder import write_results

        return write_results(self, folder, force=force)

    def plot(self, name: str = "") -> Any:
        """A picture of the report as a matplotlib Figure; without a name the first one.

        Raises CaseError with the names that there are.
        """
        from shrinksim.page.style import drawing

        plates = {plate.name: plate for plate in self.view.face().pictures(self)}
        name = name or next(iter(plates))
        if name not in plates:
            known = ", ".join(plates)
            message = f"picture {name!r} is not one of {known}"
            raise CaseError(message)
        with drawing():
            return plates[name].draw(self)

    def at_nodes(self, name: str) -> FloatArray:
        """A field at the nodes of the mesh in the last state, (n,) or (n, 3).

        name : as in the VTU files, without its unit: "peak_temperature" degC,
        "displacement" m, "final_stress_xx" MPa, "equivalent_plastic_strain".  Values of
        elements are averaged at their nodes.  Raises CaseError with the names.
        """
        fields = self.view.face().fields(self, len(self.strain.times) - 1)
        nodal = {_field_name(field): field for field in fields.at_nodes}
        cells = {_field_name(field): field for field in fields.of_cells}
        if name in nodal:
            return fields.at_nodes[nodal[name]]
        if name not in cells:
            known = sorted(
                f"{short} [{field.partition(' [')[2]}"
                for short, field in {**nodal, **cells}.items()
            )
            message = f"field {name!r} is not one of {', '.join(known)}"
            raise CaseError(message)
        values = np.asarray(fields.of_cells[cells[name]], float)
        corners = list(fields.cells.values())
        nodes = np.concatenate([part.ravel() for part in corners])
        sizes = [part.shape[1] for part in corners for _ in range(len(part))]
        count = np.bincount(nodes, minlength=len(fields.points))
        total = np.bincount(nodes, np.repeat(values, sizes), len(fields.points))
        return total / np.maximum(count, 1)

    def __repr__(self) -> str:
        rows = ", ".join(f"{name} {value}" for name, value in self.rows().items())
        end = f"{self.outcome}; {len(self.cautions)} cautions"
        return f"<{_brief(self.title, 50)}: {_brief(rows, 150)}; {end}>"

    def _repr_html_(self) -> str:
        """A small table with the peak temperatures, for notebooks."""
        from shrinksim.report.folder import snippet

        return snippet(self)

    @property
    def _case(self) -> Any:
        return self.case


def folds(result: Result[Any, Any, Any]) -> bool:
    """Whether the member folds at a hot hinge, where the computation stops."""
    return result.outcome == HINGE


AnyResult = Result[Any, Any, Any]


def _field_name(field: str) -> str:
    """Name of a field without its unit: "final stress xx [MPa]" is final_stress_xx."""
    return field.split(" [")[0].replace(" ", "_")


def _brief(text: str, most: int) -> str:
    """The text, or its beginning where it has more than ``most`` characters."""
    return text if len(text) <= most else f"{text[: most - 3]}..."


def hash_of(resolved_case: Mapping[str, Any], steel_file: Path | None) -> str:
    """First 16 hex digits of the SHA-256 of a resolved case and its steel's file."""
    text = json.dumps(resolved_case, sort_keys=True)
    if steel_file is not None:
        text += Path(steel_file).read_text(encoding="utf-8")
    return hashlib.sha256(text.encode()).hexdigest()[:16]


@cache
def versions_here() -> dict[str, str]:
    """Versions of the package and its dependencies, and the machine."""
    found = {"shrinksim": __version__, "python": platform.python_version()}
    for name in PACKAGES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            continue
    return found | {"machine": platform.machine()}

"""What the output needs of a result: read-only names, so that any record will do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from typing_extensions import TypeIs

    from shrinksim.arrays import FloatArray
    from shrinksim.fem.mesh import Mesh
    from shrinksim.heat.march import HeatHistory
    from shrinksim.movement import Movement
    from shrinksim.shop.outline import Piece
    from shrinksim.shop.pattern import TorchPath
    from shrinksim.shop.sections.shape import Band
    from shrinksim.strain import StrainHistory
    from shrinksim.views.section.geometry import Cut
    from shrinksim.views.section.movement import SectionMovement


class Remark(Protocol):
    """A caution: a short code and its sentence."""

    @property
    def code(self) -> str: ...
    @property
    def text(self) -> str: ...


class Asked(Protocol):
    """The part of a case that the output goes by: units to print in, metric or us."""

    @property
    def print_units(self) -> str: ...


class Told(Protocol):
    """The part of a result that both views are written, drawn and reported by.

    points : name -> (x, y) m.  steel_limit : degC.  outcome : "complete" or "hot hinge".
    resolved : the case as resolved.  trust : sentences.  seconds : stage -> s.
    refinement : name -> change, or None.
    """

    @property
    def title(self) -> str: ...
    @property
    def case(self) -> Asked: ...
    @property
    def mesh(self) -> Mesh: ...
    @property
    def points(self) -> Mapping[str, tuple[float, float]]: ...
    @property
    def heat(self) -> HeatHistory: ...
    @property
    def strain(self) -> StrainHistory: ...
    @property
    def movement(self) -> Movement | SectionMovement: ...
    @property
    def cautions(self) -> Sequence[Remark]: ...
    @property
    def outcome(self) -> str: ...
    @property
    def seconds(self) -> Mapping[str, float]: ...
    @property
    def refinement(self) -> Mapping[str, Any] | None: ...
    @property
    def steel_limit(self) -> float: ...
    @property
    def load_kind(self) -> str: ...
    @property
    def trust(self) -> Sequence[str]: ...
    @property
    def versions(self) -> Mapping[str, str]: ...
    @property
    def input_hash(self) -> str: ...
    @property
    def resolved(self) -> Mapping[str, Any]: ...
    def summary(self) -> dict[str, Any]:
        """What goes into summary.json."""
        ...


class Shown(Told, Protocol):
    """A result of the elevation view.  outlines : (k, 2) m each."""

    @property
    def bands(self) -> Sequence[Band]: ...
    @property
    def outlines(self) -> Sequence[FloatArray]: ...
    @property
    def paths(self) -> Sequence[TorchPath]: ...
    @property
    def movement(self) -> Movement: ...


class SectionShown(Told, Protocol):
    """A result of the section view.

    pieces : the outline.  heated : surface, from, to (m) of every pattern.  speeds m/s
    and torch_times s of every pattern's torch over the whole length; a torch that does
    not travel has no speed.
    """

    @property
    def view(self) -> str: ...
    @property
    def cut(self) -> Cut: ...
    @property
    def pieces(self) -> tuple[Piece, ...]: ...
    @property
    def heated(self) -> Sequence[tuple[str, float, float]]: ...
    @property
    def speeds(self) -> Sequence[float | None]: ...
    @property
    def torch_times(self) -> Sequence[float]: ...
    @property
    def movement(self) -> SectionMovement: ...


def is_section(result: Told) -> TypeIs[SectionShown]:
    """Whether a result is of the section view; any other is of the elevation."""
    return getattr(result, "view", "elevation") == "section"


def folds(result: Told) -> bool:
    """Whether the member met a hot hinge, so that the computation stopped there."""
    return result.outcome == "hot hinge"

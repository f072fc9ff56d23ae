"""What the output needs of a result: read-only names, so that any record will do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from shrinksim.arrays import FloatArray
    from shrinksim.fem.mesh import Mesh
    from shrinksim.heat import HeatHistory
    from shrinksim.movement import Movement
    from shrinksim.shop.pattern import TorchPath
    from shrinksim.shop.section import Band
    from shrinksim.strain import StrainHistory


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


class Shown(Protocol):
    """The part of a result that is written, drawn and reported.

    outlines : (k, 2) m each.  points : name -> (x, y) m.  steel_limit : degC.
    outcome : "complete" or "hot hinge".  resolved : the case as resolved.
    trust : sentences.  seconds : stage -> s.  refinement : name -> change, or None.
    """

    @property
    def title(self) -> str: ...
    @property
    def case(self) -> Asked: ...
    @property
    def mesh(self) -> Mesh: ...
    @property
    def bands(self) -> Sequence[Band]: ...
    @property
    def outlines(self) -> Sequence[FloatArray]: ...
    @property
    def paths(self) -> Sequence[TorchPath]: ...
    @property
    def points(self) -> Mapping[str, tuple[float, float]]: ...
    @property
    def heat(self) -> HeatHistory: ...
    @property
    def strain(self) -> StrainHistory: ...
    @property
    def movement(self) -> Movement: ...
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


def folds(result: Shown) -> bool:
    """Whether the member met a hot hinge, so that the computation stopped there."""
    return result.outcome == "hot hinge"

"""Records of the tables that all views share, in SI (see also `heating`).

A record mirrors its table of the case file key by key; a view's own tables are in its
``record``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Any, Literal, Protocol

from pydantic import BaseModel, Field, PrivateAttr, StrictBool

from shrinksim.casefile.fields import (
    Ambient,
    Amount,
    Annealing,
    File,
    Kelvins,
    Point,
    Share,
    Size,
    Stress,
    Text,
    relative,
)
from shrinksim.casefile.heating import RECORD
from shrinksim.shop.sections.catalogue import KINDS, section_named
from shrinksim.shop.sections.shape import Section

Moment = Annotated[Amount, relative("moment", "Mp")]
Stiffness = Annotated[Amount, relative("rotational_stiffness", "EI/L")]


class Dimensions(Protocol):
    """Name of a section and its given dimensions, m."""

    @property
    def section(self) -> str: ...
    @property
    def width(self) -> float | None: ...
    @property
    def thickness(self) -> float | None: ...
    @property
    def depth(self) -> float | None: ...
    @property
    def flange_width(self) -> float | None: ...
    @property
    def web_thickness(self) -> float | None: ...
    @property
    def flange_thickness(self) -> float | None: ...
    @property
    def root_radius(self) -> float | None: ...


def shape_of(given: Dimensions) -> Section:
    """Section of a name and dimensions; CaseError when they are invalid."""
    kind = KINDS.get(given.section)
    if kind is None:
        return section_named(given.section)
    return kind.make({k: getattr(given, k) or 0.0 for k in (*kind.due, *kind.free)})


class SteelChoice(BaseModel):
    """Choice of steel: a ``grade`` or a ``file``.

    yield_stress : Pa.  annealing : degC above which hardening is lost, inf never.
    kinematic_share : of mixed hardening.  curve : None takes the file's (a grade has
    the ellipse).
    """

    model_config = RECORD
    grade: Text | None = None
    file: File | None = None
    yield_stress: Stress | None = None
    hardening: Literal["isotropic", "kinematic", "mixed"] = "isotropic"
    kinematic_share: Share = 0.5
    annealing: Annealing = 800.0
    curve: Literal["ellipse", "plateau"] | None = None
    _own: Any = PrivateAttr(default=None)


class Surroundings(BaseModel):
    """Surrounding air; ambient : degC."""

    model_config = RECORD
    ambient: Ambient = 20.0
    emissivity: Share = 0.8


class Numerics(BaseModel):
    """Resolution of the computation; None is automatic.

    element, far_element : m, inside the pattern and far from it.
    temperature_step : K up to which heat steps are joined into one mechanical step.
    heat_tolerance : K, of the heat steps (their true error is far smaller).
    """

    model_config = RECORD
    element: Size | None = None
    far_element: Size | None = None
    temperature_step: Kelvins = 30.0
    heat_tolerance: Kelvins = 6.0

    def coarser(self, fine: float, far: float, factor: float) -> Numerics:
        """Numerics of a coarser run: sides ``fine`` and ``far`` m and limits times
        ``factor``, the tolerance of the second-order heat steps times its square.
        """
        update = {
            "element": fine * factor,
            "far_element": far * factor,
            "temperature_step": self.temperature_step * factor,
            "heat_tolerance": self.heat_tolerance * factor**2,
        }
        return self.model_copy(update=update)


class Output(BaseModel):
    """points : name -> (x, y) m whose temperatures are drawn.  fields : write VTU."""

    model_config = RECORD
    points: dict[Text, Point] = Field(default={}, max_length=20)
    fields: StrictBool = True


class AnyCase(Protocol):
    """Case of any view."""

    @property
    def title(self) -> str: ...
    @property
    def print_units(self) -> Literal["metric", "us"]: ...
    @property
    def steel(self) -> SteelChoice: ...
    @property
    def view(self) -> str: ...
    @property
    def load(self) -> Any: ...
    @property
    def heats(self) -> Sequence[Any]: ...
    @property
    def output(self) -> Output: ...
    @property
    def model_copy(self) -> Callable[..., Any]: ...
    @property
    def model_dump(self) -> Callable[..., dict[str, Any]]: ...

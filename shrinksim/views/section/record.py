"""The case of the section view: a member heated along its length, in its cross-section.

Lengths m; in the section x counts from the middle, y up from the lowest fibre.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, Discriminator, Field, PrivateAttr, Tag

from shrinksim.casefile.fields import (
    Force,
    Height,
    Missing,
    Place,
    Size,
    Surfaces,
    Text,
    Wait,
    measured,
)
from shrinksim.casefile.heating import MOST_HEATS, RECORD, AnyCooling, StillAir, Torch
from shrinksim.casefile.origin import Origin, changed
from shrinksim.casefile.resolving import filled, merged
from shrinksim.casefile.tables import (
    Moment,
    Numerics,
    Output,
    SteelChoice,
    Stiffness,
    Surroundings,
    shape_of,
)
from shrinksim.shop.sections.shape import Section

Length = Annotated[float, measured("length", above="0 mm", most="100 m")]
On = Annotated[Surfaces, Missing('name a surface: on = "top" of a plate, "flange top"')]


class SectionMember(BaseModel):
    """The member: a kind with its dimensions, or a named shape; a plate lies flat; m."""

    model_config = RECORD
    section: Text
    width: Size | None = None
    thickness: Size | None = None
    depth: Size | None = None
    flange_width: Size | None = None
    web_thickness: Size | None = None
    flange_thickness: Size | None = None
    root_radius: Height | None = None

    @property
    def shape(self) -> Section:
        """The section; CaseError when the dimensions make none."""
        return shape_of(self)


class LineAlong(BaseModel):
    """A line of heat along the member on the surfaces ``on``, ``at`` m from their middle.

    length : m along the member.
    """

    model_config = RECORD
    kind: Literal["line along"]
    on: On
    at: Place = 0.0
    length: Length
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class StripAlong(BaseModel):
    """A strip ``width`` m wide along the member; the torch weaves across as it goes."""

    model_config = RECORD
    kind: Literal["strip along"]
    on: On
    at: Place = 0.0
    width: Size
    length: Length
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class SpotsAlong(BaseModel):
    """A row of spots along the member, ``spacing`` m from middle to middle."""

    model_config = RECORD
    kind: Literal["spots along"]
    on: On
    at: Place = 0.0
    diameter: Size
    spacing: Size
    length: Length
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


def _along_kind(given: Any) -> str | None:
    """Which pattern a table describes; "" where it does not say."""
    if isinstance(given, Mapping):
        kind = given.get("kind")
        return kind if isinstance(kind, str) else ""
    return getattr(given, "kind", None)


AnyAlong = Annotated[
    Annotated[LineAlong, Tag("line along")]
    | Annotated[StripAlong, Tag("strip along")]
    | Annotated[SpotsAlong, Tag("spots along")],
    Discriminator(_along_kind),
]


class SectionHeat(BaseModel):
    """Patterns heated one after another, and the cooling that follows the last."""

    model_config = RECORD
    patterns: tuple[AnyAlong, ...] = Field(
        alias="pattern", min_length=1, max_length=MOST_HEATS
    )
    cooling: AnyCooling = Field(default_factory=StillAir)


class SectionLoad(BaseModel):
    """The load on the section; a positive moment helps (compresses the heated side).

    axial : N, + pulls.  Moments of camber and of sweep: ratios of that axis' cold
    plastic moment or N m.  The stiffness of a jack or clamp: ``stiffness_ratio`` times
    EI/L of the heated length or ``stiffness`` N m/rad.  edges : of a plate, free or held
    in the plane of the section while hot.
    """

    model_config = RECORD
    INSTEAD: ClassVar[Mapping[str, str]] = {"moment": "camber_moment or sweep_moment"}
    kind: Literal["none", "weight", "jack", "clamp", "held"] = "none"
    given_camber: Moment | None = Field(default=None, alias="camber_moment")
    given_sweep: Moment | None = Field(default=None, alias="sweep_moment")
    axial: Force = 0.0
    given_stiffness: Stiffness | None = Field(default=None, alias="stiffness")
    removed: Literal["after cooling", "never"] = "after cooling"
    edges: Literal["free", "held"] = "free"

    @property
    def camber_ratio(self) -> float | None:
        """Camber moment over its cold plastic moment, None when not given so."""
        return self.given_camber.ratio if self.given_camber else None

    @property
    def camber(self) -> float | None:
        """Camber moment in N m, None when not given so."""
        return self.given_camber.value if self.given_camber else None

    @property
    def sweep_ratio(self) -> float | None:
        """Sweep moment over its cold plastic moment, None when not given so."""
        return self.given_sweep.ratio if self.given_sweep else None

    @property
    def sweep(self) -> float | None:
        """Sweep moment in N m, None when not given so."""
        return self.given_sweep.value if self.given_sweep else None

    @property
    def stiffness_ratio(self) -> float | None:
        """Stiffness over EI/L of the heated length, None when not given so."""
        return self.given_stiffness.ratio if self.given_stiffness else None

    @property
    def stiffness(self) -> float | None:
        """Stiffness in N m/rad, None when not given so."""
        return self.given_stiffness.value if self.given_stiffness else None


class SectionCase(BaseModel):
    """One job in the section view: a long heat, cooled and released."""

    model_config = RECORD
    title: Text
    view: Literal["section"]
    print_units: Literal["metric", "us"] = "metric"
    member: SectionMember
    steel: SteelChoice
    surroundings: Surroundings = Surroundings()
    torch: Torch = Field(default_factory=Torch)
    load: SectionLoad = SectionLoad()
    heats: tuple[SectionHeat, ...] = Field(
        alias="heat", min_length=1, max_length=MOST_HEATS
    )
    numerics: Numerics = Numerics()
    output: Output = Output()
    _origin: Origin | None = PrivateAttr(default=None)

    def changed(self, values: Mapping[str, Any]) -> SectionCase:
        """A copy with other values at its keys, with the checks of a file.

        values : key -> value as a file has it, {"heat.pattern.at": "30 mm"}.
        Raises CaseError with every fault.
        """
        return changed(self, self._origin, values)


def resolve(case: SectionCase, folder: Path) -> SectionCase:
    """The section case with torches, starts and reach filled in."""

    def pattern_of(pattern: AnyAlong) -> AnyAlong:
        return pattern.model_copy(update={"torch": merged(case.torch, pattern.torch)})

    return filled(case, folder, pattern_of)

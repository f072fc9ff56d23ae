"""The case: what a shop says of one job, as frozen records in SI (see `heating`).

A record mirrors its table of the case file key by key.  `load` in `reading` makes one
from a file, with everything that the file leaves out filled in.
"""

from __future__ import annotations

from typing import Annotated, Literal, Protocol

from pydantic import BaseModel, Field, StrictBool

from shrinksim.case.fields import (
    Ambient,
    Amount,
    Annealing,
    File,
    Force,
    Height,
    Kelvins,
    Point,
    Share,
    Size,
    Stress,
    Text,
    relative,
)
from shrinksim.case.heating import MOST_HEATS, RECORD, Heat, Torch
from shrinksim.shop.sections.catalogue import KINDS, section_named
from shrinksim.shop.sections.shape import Section

Moment = Annotated[Amount, relative("moment", "Mp")]
Stiffness = Annotated[Amount, relative("rotational_stiffness", "EI/L")]


class Dimensions(Protocol):
    """A section's name and the dimensions given for it, m."""

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
    """The section; CaseError when the dimensions make none."""
    kind = KINDS.get(given.section)
    if kind is None:
        return section_named(given.section)
    return kind.make({k: getattr(given, k) or 0.0 for k in (*kind.due, *kind.free)})


class Member(BaseModel):
    """The member: a kind with its dimensions, or a shape of the catalogue; m.

    axis : about which an I-section bends.  patch : length to compute, None automatic.
    """

    model_config = RECORD
    section: Text
    width: Size | None = None
    thickness: Size | None = None
    depth: Size | None = None
    flange_width: Size | None = None
    web_thickness: Size | None = None
    flange_thickness: Size | None = None
    root_radius: Height | None = None
    axis: Literal["strong", "weak"] | None = None
    patch: Size | None = None

    @property
    def shape(self) -> Section:
        """The section; CaseError when the dimensions make none."""
        return shape_of(self)

    @property
    def bending(self) -> Literal["strong", "weak"]:
        """The axis, strong for a plate, which bends in its own plane."""
        return self.axis or "strong"

    @property
    def view_depth(self) -> float:
        """Height of the elevation, m: plate width, depth or flange width."""
        return self.shape.elevation(self.bending).depth

    @property
    def face(self) -> tuple[float, float]:
        """Lowest and highest y (m) of the face: inside the flanges if on edge."""
        return self.shape.elevation(self.bending).face


class SteelChoice(BaseModel):
    """The steel: a ``grade`` or a ``file``.

    yield_stress : Pa.  annealing : degC above which hardening is forgotten, inf never.
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


class Surroundings(BaseModel):
    """The air around; ambient : degC."""

    model_config = RECORD
    ambient: Ambient = 20.0
    emissivity: Share = 0.8


class Load(BaseModel):
    """What acts on the patch; a positive moment helps (presses the open edge together).

    axial : N, + pulls.  The moment is either ``moment_ratio`` of the cold plastic
    moment or ``moment`` N m; the stiffness of a jack or clamp either
    ``stiffness_ratio`` times EI/L of the patch or ``stiffness`` N m/rad.
    """

    model_config = RECORD
    kind: Literal["none", "weight", "jack", "clamp", "held"] = "none"
    given_moment: Moment | None = Field(default=None, alias="moment")
    axial: Force = 0.0
    given_stiffness: Stiffness | None = Field(default=None, alias="stiffness")
    removed: Literal["after cooling", "never"] = "after cooling"

    @property
    def moment_ratio(self) -> float | None:
        """Moment over the cold plastic moment, None when not given so."""
        return self.given_moment.ratio if self.given_moment else None

    @property
    def moment(self) -> float | None:
        """Moment in N m, None when not given so."""
        return self.given_moment.value if self.given_moment else None

    @property
    def stiffness_ratio(self) -> float | None:
        """Stiffness over EI/L of the patch, None when not given so."""
        return self.given_stiffness.ratio if self.given_stiffness else None

    @property
    def stiffness(self) -> float | None:
        """Stiffness in N m/rad, None when not given so."""
        return self.given_stiffness.value if self.given_stiffness else None


class Numerics(BaseModel):
    """How fine to compute; None is automatic.

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
        """Sides, that were ``fine`` and ``far`` m, and limits times ``factor``; the
        tolerance of the second-order heat steps times its square.
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


class Case(BaseModel):
    """One job: a member heated, cooled and released."""

    model_config = RECORD
    title: Text
    view: Literal["elevation"] = "elevation"
    print_units: Literal["metric", "us"] = "metric"
    member: Member
    steel: SteelChoice
    surroundings: Surroundings = Surroundings()
    torch: Torch = Field(default_factory=Torch)
    load: Load = Load()
    heats: tuple[Heat, ...] = Field(alias="heat", min_length=1, max_length=MOST_HEATS)
    numerics: Numerics = Numerics()
    output: Output = Output()

"""Records of a job file: measured member, tolerance, supports and limits of heats.

A record mirrors its table of the job file key by key; `member.job.read` reads one.
Places are m from the marked end, planes and signs as in `shrinksim.member.line`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import BaseModel, Field, StrictBool

from shrinksim.arrays import GRAVITY
from shrinksim.casefile.fields import (
    Angle,
    Example,
    File,
    Force,
    Height,
    Pair,
    PositiveShare,
    Size,
    Text,
    measured,
    whole,
)
from shrinksim.casefile.heating import RECORD, AnyCooling, StillAir, Torch
from shrinksim.casefile.tables import Numerics, SteelChoice, Surroundings, shape_of
from shrinksim.member.line import PLANES, Plane, Side
from shrinksim.shop.sections.shape import Section
from shrinksim.views.elevation.record import Member

OPPOSITE: dict[Side, Side] = {
    "top": "bottom", "bottom": "top", "left": "right", "right": "left",
}  # fmt: skip

Length = Annotated[
    float, measured("length", least="0.5 m", most="60 m"), Example("12 m")
]
Station = Annotated[float, measured("length", least="0 m", most="60 m"), Example("6 m")]
Offset = Annotated[float, measured("length", least="-2 m", most="2 m")]
Error = Annotated[float, measured("length", least="0.05 mm", most="100 mm")]
Allowed = Annotated[float, measured("length", least="0.1 mm", most="1 m")]
Mass = Annotated[float, measured("mass", above="0 kg", most="100 t")]
Spring = Annotated[float, measured("spring", above="0 kN/mm", most="10000 kN/mm")]
TwistRate = Annotated[float, measured("curvature", above="0 rad/m", most="1 rad/m")]
READINGS = '[["0 m", "50 mm"], ["3 m", "62 mm"]]'
Reading = Annotated[
    tuple[Station, Offset],
    Pair(READINGS, f"write {READINGS}: station, offset", "is no list of readings"),
]

MOST_HEATS = 60


LAST_NUMBER = 999_999
"""The highest number of a heat in a log."""


Count = Annotated[int, whole(1, MOST_HEATS, 12)]
HeatNumber = Annotated[int, whole(0, LAST_NUMBER, 3)]

READING_ERROR = 1.5e-3
"""m, standard deviation of a reading when the job gives none: a reading by hand is good
to about 3 mm (common practice, no source), taken as two standard deviations."""

MOST_READINGS = 400
MOST_LOADS = 40


class JobMember(BaseModel):
    """The member: section as in a case, length in m; a plate stands on its edge."""

    model_config = RECORD
    section: Text
    length: Length
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

    def case_member(self, plane: Plane) -> Member:
        """Member of a case that bends in ``plane``."""
        axis = None
        if self.section != "plate":
            axis = "strong" if plane == "camber" else "weak"
        given = {name: getattr(self, name) for name in DIMENSIONS}
        kept = {name: value for name, value in given.items() if value is not None}
        return Member.model_construct(section=self.section, axis=axis, **kept)


DIMENSIONS = (
    "width",
    "thickness",
    "depth",
    "flange_width",
    "web_thickness",
    "flange_thickness",
    "root_radius",
)
"""Keys of a section's dimensions."""


class JobSurvey(BaseModel):
    """How the member was measured; readings are (station, offset) in m.

    tool : the line that offsets are taken from.  block : m, offset blocks under its
    ends, which the readings include.  reading_error : m, standard deviation of one.
    file : a table of readings beside the job.  edge_spacing : m between the two edges
    that are read for twist.  as_lies : "free" of load, or "on supports" with the
    elastic sag of its weight, the supports and the weights in the readings.
    camber_line, sweep_line : side that the line runs along; from one on the bottom or
    the left a larger reading is a member further up or right, else further down or left.
    None, only where it is no string and has no blocks: + readings are up and right.
    after_heat : number, in the log, of the last heat before the readings; 0 for none.
    """

    model_config = RECORD
    tool: Literal["string", "laser"] = "string"
    block: Height = 0.0
    reading_error: Error = READING_ERROR
    file: File | None = None
    camber: tuple[Reading, ...] = Field(default=(), max_length=MOST_READINGS)
    sweep: tuple[Reading, ...] = Field(default=(), max_length=MOST_READINGS)
    camber_other_edge: tuple[Reading, ...] = Field(default=(), max_length=MOST_READINGS)
    sweep_other_edge: tuple[Reading, ...] = Field(default=(), max_length=MOST_READINGS)
    edge_spacing: Size | None = None
    as_lies: Literal["free", "on supports"] = "free"
    camber_line: Literal["bottom", "top"] | None = None
    sweep_line: Literal["left", "right"] | None = None
    after_heat: HeatNumber = 0

    def line_on(self, plane: Plane) -> Side:
        """Side of the member that the string or laser line runs along."""
        if plane == "camber":
            return self.camber_line or "bottom"
        return self.sweep_line or "left"

    @property
    def measures_gaps(self) -> bool:
        """Whether readings are gaps to a string or line, which has a side."""
        return self.tool == "string" or self.block > 0.0

    @property
    def inverted_planes(self) -> tuple[Plane, ...]:
        """Planes read from a line on the top or right, where readings grow downwards."""
        return tuple(p for p in PLANES if self.line_on(p) in {"top", "right"})


class Tolerance(BaseModel):
    """Straightness tolerance: a standard, own values, or both.

    camber, sweep : m off the chord.  twist : rad/m.  An own value comes before the
    standard's.
    """

    model_config = RECORD
    standard: Literal["ASTM A6", "EN 10034"] | None = None
    camber: Allowed | None = None
    sweep: Allowed | None = None
    twist: TwistRate | None = None


class Rig(BaseModel):
    """Position for heating; up : the side, as surveyed, that faces up."""

    model_config = RECORD
    up: Side = "top"


class JobSupport(BaseModel):
    """A support; gap : m under the member where it does not touch yet (cribbing).

    holds_down : the member is tied to it.
    """

    model_config = RECORD
    at: Station
    gap: Height = 0.0
    holds_down: StrictBool = False


class JobWeight(BaseModel):
    """A weight on the member, ``mass`` kg or ``force`` N (+ down), over ``spread`` m."""

    model_config = RECORD
    at: Station
    mass: Mass | None = None
    force: Force | None = None
    spread: Height = 0.0

    @property
    def down(self) -> float:
        """N, + down."""
        return (self.mass or 0.0) * GRAVITY + (self.force or 0.0)


class Jack(BaseModel):
    """A jack set before the heat; force : N, + down.  stiffness : N/m, None soft."""

    model_config = RECORD
    at: Station
    force: Force
    stiffness: Spring | None = None


class HeatLimits(BaseModel):
    """Limits that the user sets for the plan; None leaves the choice to the plan.

    angle : rad of every vee.  depth_ratio : of its depth to the member's.  spacing : m,
    least between heats of one set.  most : heats in all.  estimate : "model" computes
    the heats, "quick" takes a shipped relation with its error.
    """

    model_config = RECORD
    angle: Angle | None = None
    depth_ratio: PositiveShare = 0.75
    spacing: Size | None = None
    most: Count = MOST_HEATS
    estimate: Literal["model", "quick"] = "model"


class Splice(BaseModel):
    """Two pieces joined at ``at``, by a weld of that kind."""

    model_config = RECORD
    at: Station
    weld: Literal["butt", "fillet"] = "butt"


class Job(BaseModel):
    """One member to be straightened."""

    model_config = RECORD
    title: Text
    print_units: Literal["metric", "us"] = "metric"
    member: JobMember
    steel: SteelChoice
    surroundings: Surroundings = Surroundings()
    survey: JobSurvey
    tolerance: Tolerance
    rig: Rig = Rig()
    supports: tuple[JobSupport, ...] = Field(
        default=(), alias="support", max_length=MOST_LOADS
    )
    weights: tuple[JobWeight, ...] = Field(
        default=(), alias="weight", max_length=MOST_LOADS
    )
    jacks: tuple[Jack, ...] = Field(default=(), alias="jack", max_length=MOST_LOADS)
    torch: Torch = Field(default_factory=Torch)
    cooling: AnyCooling = Field(default_factory=StillAir)
    heats: HeatLimits = HeatLimits()
    splices: tuple[Splice, ...] = Field(
        default=(), alias="splice", max_length=MOST_LOADS
    )
    numerics: Numerics = Numerics()

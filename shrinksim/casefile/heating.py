"""Records of the heating: torch, patterns, cooling, and the heats in order.

Lengths m, x along the member from the middle of the patch, y up from the bottom edge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Annotated, Any, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Discriminator,
    Field,
    PrivateAttr,
    StrictBool,
    Tag,
)

from shrinksim.casefile.fields import (
    Angle,
    Duration,
    Factor,
    Film,
    Height,
    Hot,
    Place,
    Point,
    PositiveShare,
    Power,
    Size,
    Speed,
    Surfaces,
    Text,
    Wait,
    Water,
)

RECORD = ConfigDict(frozen=True, extra="forbid")

MOST_HEATS = 40
"""Most heats of a case, and most patterns of a heat."""

Route = Literal["serpentine", "straight"]
Edge = Literal["top", "bottom"]


def _unset() -> float:
    """Placeholder of a value from elsewhere (the flame, the other depth) until resolved."""
    return math.nan


class Torch(BaseModel):
    """Torch and its motion.

    power : W burnt.  radius : m, holds 95 % of the heat.  speed : m/s of travel, or
    the fastest that a hand moves when held.  target : degC of the hottest steel.
    patience : s, longest at one place.
    torches : 2 heats both faces at once.  drive "at once" is for the section view: the
    torch heats the whole length at the same time.
    """

    model_config = RECORD
    flame: Text = "welding tip"
    power: Power = Field(default_factory=_unset)
    efficiency: PositiveShare = Field(default_factory=_unset)
    radius: Size = Field(default_factory=_unset)
    drive: Literal["held", "travel", "at once"] = "held"
    target: Hot = 640.0
    speed: Speed = 0.030
    patience: Duration = 300.0
    torches: Literal[1, 2] = 1


class Vee(BaseModel):
    """A vee open at one edge; depth : m from that edge to the apex, angle : rad.

    The file gives ``depth`` or ``depth_ratio`` (of the depth of the view); the
    resolved case has both.
    """

    model_config = RECORD
    kind: Literal["vee"]
    angle: Angle
    depth: Size = Field(default_factory=_unset)
    depth_ratio: PositiveShare = Field(default_factory=_unset)
    open: Edge
    at: Place = 0.0
    path: Route = "serpentine"
    pitch: Size | None = None
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class Strip(BaseModel):
    """A strip across a flange that is seen on its edge; width : m along the member."""

    model_config = RECORD
    kind: Literal["strip"]
    on: Literal["flange top", "flange bottom"]
    width: Size
    at: Place = 0.0
    path: Route = "serpentine"
    pitch: Size | None = None
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class Line(BaseModel):
    """A line heat from ``start`` to ``end`` (x, y)."""

    model_config = RECORD
    kind: Literal["line"]
    start: Point = Field(alias="from")
    end: Point = Field(alias="to")
    path: Route = "straight"
    pitch: Size | None = None
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class Spot(BaseModel):
    """A round spot with its centre at (at, height)."""

    model_config = RECORD
    kind: Literal["spot"]
    at: Place = 0.0
    height: Height
    diameter: Size
    path: Route = "serpentine"
    pitch: Size | None = None
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class Rectangle(BaseModel):
    """A rectangle, ``width`` along the member, ``depth`` up from ``height``."""

    model_config = RECORD
    kind: Literal["rectangle"]
    at: Place = 0.0
    height: Height
    width: Size
    depth: Size
    path: Route = "serpentine"
    pitch: Size | None = None
    pause: Wait = 0.0
    torch: Torch = Field(default_factory=Torch)


class StillAir(BaseModel):
    """Cooling in still air until the hottest point is at ``until`` degC.

    It acts everywhere and does not follow a torch: ``behind`` is None.
    """

    model_config = RECORD
    kind: Literal["still air"] = "still air"
    behind: Size | None = None
    until: Hot = 50.0
    longest: Duration = 14400.0


class _Forced(BaseModel):
    """Keys of every forced cooling, of the pattern and ``reach`` m around it.

    behind : m of path between the torch and the cooling that follows it, over ``reach``
    m about its centre, to the end of the path; then, and without it, as follows.
    start_after : s after the last torch (or the cooling that followed it), or
    start_below : degC of the hottest point.
    on : surfaces, in the section view only.  strength : times the law's flux.
    """

    model_config = RECORD
    strength: Factor = 1.0
    behind: Size | None = None
    start_after: Wait | None = None
    start_below: Hot | None = None
    reach: Height | None = None
    everywhere: StrictBool = False
    on: Surfaces | None = None
    until: Hot = 50.0
    longest: Duration = 14400.0
    _law: Any = PrivateAttr(default=None)


class AirJet(_Forced):
    """Compressed air blown on; h : W/m2K, None takes the law's own."""

    kind: Literal["air jet"]
    h: Film | None = None


class Mist(_Forced):
    """Air and water sprayed together; water : degC."""

    kind: Literal["mist"]
    water: Water = 15.0


class WetRag(_Forced):
    """A wet rag held on the steel; water : degC.

    wetted, film : W/m2K below about 200 and above about 400 degC, None the law's own.
    It is laid on and does not follow a torch: ``behind`` is None.
    """

    kind: Literal["wet rag"]
    water: Water = 15.0
    wetted: Film | None = None
    film: Film | None = None


class WaterStream(_Forced):
    """Running water; water : degC."""

    kind: Literal["water stream"]
    water: Water = 15.0


ForcedCooling = AirJet | Mist | WetRag | WaterStream
_OPTIONS = ("h", "wetted", "film", "strength")


def law_options(cooling: ForcedCooling) -> dict[str, float]:
    """Options of the cooling law in the case, as arguments of its factory."""
    found = {name: getattr(cooling, name, None) for name in _OPTIONS}
    return {name: value for name, value in found.items() if value is not None}


PATTERNS = {"vee": Vee, "strip": Strip, "line": Line, "spot": Spot}
PATTERNS |= {"rectangle": Rectangle}
COOLINGS = {
    "still air": StillAir,
    "air jet": AirJet,
    "mist": Mist,
    "wet rag": WetRag,
    "water stream": WaterStream,
}


def _pattern_kind(given: Any) -> str | None:
    """Kind of the pattern of a table; "" where it is missing."""
    if isinstance(given, Mapping):
        kind = given.get("kind")
        return kind if isinstance(kind, str) else ""
    return getattr(given, "kind", None)


def _cooling_kind(given: Any) -> str | None:
    """Kind of the cooling of a table; still air where it is missing."""
    if isinstance(given, Mapping):
        kind = given.get("kind", "still air")
        return kind if isinstance(kind, str) else ""
    return getattr(given, "kind", None)


AnyPattern = Annotated[
    Annotated[Vee, Tag("vee")]
    | Annotated[Strip, Tag("strip")]
    | Annotated[Line, Tag("line")]
    | Annotated[Spot, Tag("spot")]
    | Annotated[Rectangle, Tag("rectangle")],
    Discriminator(_pattern_kind),
]
AnyCooling = Annotated[
    Annotated[StillAir, Tag("still air")]
    | Annotated[AirJet, Tag("air jet")]
    | Annotated[Mist, Tag("mist")]
    | Annotated[WetRag, Tag("wet rag")]
    | Annotated[WaterStream, Tag("water stream")],
    Discriminator(_cooling_kind),
]


class Heat(BaseModel):
    """Heat: patterns heated one after another, and the cooling after the last."""

    model_config = RECORD
    patterns: tuple[AnyPattern, ...] = Field(
        alias="pattern", min_length=1, max_length=MOST_HEATS
    )
    cooling: AnyCooling = Field(default_factory=StillAir)


def vee_depth(vee: Vee, view_depth: float) -> float:
    """Depth of a vee in m, from the open edge of a view so deep."""
    return vee.depth_ratio * view_depth if math.isnan(vee.depth) else vee.depth

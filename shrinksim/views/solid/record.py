"""The case of the solid view: a flat bar or plate with thickness, heated on its faces.

Lengths m, x along the member from the middle of the patch, y up from the bottom edge.
The front is the face that the drawing shows, the back the one behind it.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, Discriminator, Field, PrivateAttr, Tag

from shrinksim.casefile.fields import Duration, Kelvins, Size, Text
from shrinksim.casefile.heating import (
    MOST_HEATS,
    RECORD,
    AirJet,
    Line,
    Mist,
    Rectangle,
    Spot,
    StillAir,
    Torch,
    Vee,
    WaterStream,
    WetRag,
    vee_depth,
)
from shrinksim.casefile.load import Load
from shrinksim.casefile.origin import Origin, changed
from shrinksim.casefile.resolving import filled, merged
from shrinksim.casefile.tables import (
    Moment,
    Numerics,
    Output,
    SteelChoice,
    Surroundings,
)
from shrinksim.shop.sections.plate import Plate
from shrinksim.shop.sections.shape import Axis

Side = Literal["front", "back", "both"]

AFTER = 4.0
"""s after the torch has left a place at which a crayon is put on it; no source."""


class SolidMember(BaseModel):
    """A flat bar or plate; width, thickness : m.  patch : length to compute, None
    automatic.
    """

    model_config = RECORD
    section: Text
    width: Size
    thickness: Size
    patch: Size | None = None

    @property
    def shape(self) -> Plate:
        """The plate."""
        return Plate(self.width, self.thickness)

    @property
    def bending(self) -> Axis:
        """A plate bends in its plane as about its strong axis."""
        return "strong"


class FaceTorch(Torch):
    """A torch on a face.

    read : where the hottest steel is read that a held torch is led by: on the heated
    face while it burns, there ``after`` s after it has left a place, or on the back.
    """

    read: Literal["face", "face after", "back"] = "face"
    after: Duration | None = None


class FaceVee(Vee):
    """A vee on a face."""

    face: Side = "front"
    torch: FaceTorch = Field(default_factory=FaceTorch)  # pyright: ignore[reportIncompatibleVariableOverride]


class FaceLine(Line):
    """A line heat on a face."""

    face: Side = "front"
    torch: FaceTorch = Field(default_factory=FaceTorch)  # pyright: ignore[reportIncompatibleVariableOverride]


class FaceSpot(Spot):
    """A round spot on a face."""

    face: Side = "front"
    torch: FaceTorch = Field(default_factory=FaceTorch)  # pyright: ignore[reportIncompatibleVariableOverride]


class FaceRectangle(Rectangle):
    """A rectangle on a face."""

    face: Side = "front"
    torch: FaceTorch = Field(default_factory=FaceTorch)  # pyright: ignore[reportIncompatibleVariableOverride]


class FaceJet(AirJet):
    """Compressed air; face : None the heated one."""

    face: Side | None = None


class FaceMist(Mist):
    """Air and water; face : None the heated one."""

    face: Side | None = None


class FaceRag(WetRag):
    """A wet rag; face : None the heated one."""

    face: Side | None = None


class FaceStream(WaterStream):
    """Running water; face : None the heated one."""

    face: Side | None = None


def _pattern_kind(given: Any) -> str | None:
    """Which pattern a table describes; "" where it does not say."""
    if isinstance(given, Mapping):
        kind = given.get("kind")
        return kind if isinstance(kind, str) else ""
    return getattr(given, "kind", None)


def _cooling_kind(given: Any) -> str | None:
    """Which cooling a table describes; still air where it does not say."""
    if isinstance(given, Mapping):
        kind = given.get("kind", "still air")
        return kind if isinstance(kind, str) else ""
    return getattr(given, "kind", None)


AnyFacePattern = Annotated[
    Annotated[FaceVee, Tag("vee")]
    | Annotated[FaceLine, Tag("line")]
    | Annotated[FaceSpot, Tag("spot")]
    | Annotated[FaceRectangle, Tag("rectangle")],
    Discriminator(_pattern_kind),
]
AnyFaceCooling = Annotated[
    Annotated[StillAir, Tag("still air")]
    | Annotated[FaceJet, Tag("air jet")]
    | Annotated[FaceMist, Tag("mist")]
    | Annotated[FaceRag, Tag("wet rag")]
    | Annotated[FaceStream, Tag("water stream")],
    Discriminator(_cooling_kind),
]


class FaceHeat(BaseModel):
    """Patterns heated one after another, and the cooling that follows the last."""

    model_config = RECORD
    patterns: tuple[AnyFacePattern, ...] = Field(
        alias="pattern", min_length=1, max_length=MOST_HEATS
    )
    cooling: AnyFaceCooling = Field(default_factory=StillAir)


class SolidLoad(Load):
    """What acts on the patch, about both axes.

    The moment of the load acts in the plane: positive presses the open edge together.
    flat_moment bends out of the plane: positive presses the front together, which then
    gets hollow; a ratio of its own cold plastic moment or N m.  It stays as a weight
    does, whatever the moment in the plane comes from.
    """

    given_flat: Moment | None = Field(default=None, alias="flat_moment")

    @property
    def flat_ratio(self) -> float | None:
        """Flat moment over its cold plastic moment, None when not given so."""
        return self.given_flat.ratio if self.given_flat else None

    @property
    def flat_moment(self) -> float | None:
        """Flat moment in N m, None when not given so."""
        return self.given_flat.value if self.given_flat else None


Orders = Literal["2, 3", "3, 4", "4, 4"]


class SolidNumerics(Numerics):
    """How fine to compute; None is automatic.

    through : orders through the thickness of the displacements in the plane and across.
    """

    temperature_step: Kelvins = 40.0
    heat_tolerance: Kelvins = 16.0
    through: Orders | None = None


class SolidCase(BaseModel):
    """One job in the solid view: a plate heated on its faces, cooled and released."""

    model_config = RECORD
    title: Text
    view: Literal["solid"]
    print_units: Literal["metric", "us"] = "metric"
    member: SolidMember
    steel: SteelChoice
    surroundings: Surroundings = Surroundings()
    torch: FaceTorch = Field(default_factory=FaceTorch)
    load: SolidLoad = SolidLoad()
    heats: tuple[FaceHeat, ...] = Field(
        alias="heat", min_length=1, max_length=MOST_HEATS
    )
    numerics: SolidNumerics = SolidNumerics()
    output: Output = Output()
    _origin: Origin | None = PrivateAttr(default=None)

    def changed(self, values: Mapping[str, Any]) -> SolidCase:
        """A copy with other values at its keys, with the checks of a file.

        values : key -> value as a file has it, {"heat.pattern.face": "both"}.
        Raises CaseError with every fault.
        """
        return changed(self, self._origin, values)


def resolve(case: SolidCase, folder: Path) -> SolidCase:
    """The case with torches, depths, starts, reach and faces filled in."""
    depth = case.member.width

    def pattern_of(pattern: AnyFacePattern) -> AnyFacePattern:
        torch: Any = merged(case.torch, pattern.torch)
        if torch.drive == "held" and torch.read == "face after" and not torch.after:
            torch = torch.model_copy(update={"after": AFTER})
        update: dict[str, Any] = {"torch": torch}
        if isinstance(pattern, Vee):
            update["depth"] = vee_depth(pattern, depth)
            update["depth_ratio"] = round(update["depth"] / depth, 12)
        return pattern.model_copy(update=update)

    found = filled(case, folder, pattern_of)
    heats = tuple(
        heat.model_copy(update={"cooling": _on_face(heat)}) for heat in found.heats
    )
    return found.model_copy(update={"heats": heats})


def _on_face(heat: FaceHeat) -> Any:
    """The cooling of a heat with the face that it is on."""
    cooling = heat.cooling
    if isinstance(cooling, StillAir) or cooling.face is not None:
        return cooling
    faces = {pattern.face for pattern in heat.patterns}
    face = faces.pop() if len(faces) == 1 else "both"
    return cooling.model_copy(update={"face": face})


def side_shares(face: Side) -> tuple[float, float]:
    """Shares of the back and the front in what a torch brings, in this order."""
    return {"front": (0.0, 1.0), "back": (1.0, 0.0), "both": (0.5, 0.5)}[face]


def torches_on(face: Side) -> int:
    """Torches that burn at once."""
    return 2 if face == "both" else 1

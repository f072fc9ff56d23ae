"""The case of the elevation view: a member heated in its plane, seen from the side.

A record mirrors its table of the case file key by key.  Lengths m, x along the member
from the middle of the patch, y up from the bottom edge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, ClassVar, Literal

from pydantic import BaseModel, Field, PrivateAttr

from shrinksim.casefile.fields import Force, Height, Size, Text
from shrinksim.casefile.heating import (
    MOST_HEATS,
    RECORD,
    AnyPattern,
    Heat,
    Torch,
    Vee,
)
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


class Member(BaseModel):
    """The member: "plate", "I" with its dimensions, or a shape of the catalogue; m.

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


class Load(BaseModel):
    """The load on the patch; a positive moment helps (presses the open edge together).

    axial : N, + pulls.  The moment is either ``moment_ratio`` of the cold plastic
    moment or ``moment`` N m; the stiffness of a jack or clamp either
    ``stiffness_ratio`` times EI/L of the patch or ``stiffness`` N m/rad.
    """

    model_config = RECORD
    INSTEAD: ClassVar[Mapping[str, str]] = {
        "camber_moment": "moment",
        "sweep_moment": "moment",
    }
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
    _origin: Origin | None = PrivateAttr(default=None)

    def changed(self, values: Mapping[str, Any]) -> Case:
        """A copy with other values at its keys, with the checks of a file.

        values : key -> value as a file has it, {"heat.pattern.angle": "30 deg"}.
        Raises CaseError with every fault.
        """
        return changed(self, self._origin, values)


def resolve(case: Case, folder: Path) -> Case:
    """The case with torches, depths, starts and reach filled in."""
    depth = case.member.view_depth

    def pattern_of(pattern: AnyPattern) -> AnyPattern:
        update: dict[str, Any] = {"torch": merged(case.torch, pattern.torch)}
        if isinstance(pattern, Vee):
            update["depth"] = vee_depth(pattern, depth)
            update["depth_ratio"] = round(update["depth"] / depth, 12)
        return pattern.model_copy(update=update)

    return filled(case, folder, pattern_of)


def vee_depth(vee: Vee, view_depth: float) -> float:
    """Depth of a vee in m, from the open edge of a view so deep."""
    return vee.depth_ratio * view_depth if math.isnan(vee.depth) else vee.depth

"""The load on a member that bends in its plane."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar, Literal

from pydantic import BaseModel, Field

from shrinksim.casefile.fields import Force
from shrinksim.casefile.heating import RECORD
from shrinksim.casefile.tables import Moment, Stiffness


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

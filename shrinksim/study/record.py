"""Records of the tables of a study file, key by key."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar, Literal

from pydantic import BaseModel, Field

from shrinksim.casefile.fields import Missing, Text, Written, whole
from shrinksim.casefile.heating import RECORD
from shrinksim.errors import CaseError
from shrinksim.study.values import MOST_RUNS
from shrinksim.text.quoting import shown


def _case_name(given: object) -> str:
    """Name of a case file, checked."""
    if isinstance(given, str) and given.strip() and given.isprintable():
        return given
    message = f"{shown(given)} is not the name of a case file"
    raise CaseError(message)


CaseName = Annotated[
    str,
    Written(_case_name, lambda value, _us: value, {"type": "string"}),
    Missing('write case = "flat_bar_vee.toml", say'),
]
Varying = Annotated[
    dict[str, Any], Missing("write a table [vary] with the keys that vary")
]


class Sample(BaseModel):
    """Sampled runs, in place of every combination."""

    model_config = RECORD
    NAME: ClassVar[str] = "a sample"
    kind: Literal["latin hypercube"]
    runs: Annotated[int, whole(2, MOST_RUNS, 40), Missing("write runs = 40, say")]
    seed: Annotated[int, whole(0, 2**32, 1)] = 1


class StudyFile(BaseModel):
    """Study file: the base case, relative to the file, and the varied keys.

    invalid : what to do with runs that cannot be computed.
    """

    model_config = RECORD
    title: Text | None = None
    case: CaseName
    invalid: Literal["stop", "leave out"] = "stop"
    vary: Varying = Field()
    sample: Sample | None = None

"""Records of a plan: cards of the heats in order, alternatives, the whole plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from shrinksim.arrays import FloatArray
from shrinksim.member.line import Plane

if TYPE_CHECKING:
    from shrinksim.member.survey.tolerance import Verdict

Estimate = Literal["model", "quick"]


@dataclass(frozen=True)
class HeatCard:
    """One heat of the plan, for the person with the torch.

    number : 1, 2, ... in order.  at : m from the marked end.  side : side of the member
    as surveyed that the open end is on (the bulging side).  patterns : [[heat.pattern]]
    tables of a case.  words : the patterns in the trade's words.  target : degC.
    moment_ratio : M/Mp at the heat, + helps (presses the open end together).
    other_axis_ratio : M/Mp about the other axis, in size; where there is one,
    hinge_margin is of that.
    move : rad, turn that it takes off the bend (expected, > 0 helps).  sigma : rad, one
    standard deviation of a single heat, model and scatter together.  peak : degC.
    heating_time : s torch on.  cooling_time : s until it may be touched or the next heat
    given.  gas : J burnt.  hinge_margin : load that folds the hot section over the load
    that is on it, least over the heat; None without a load.  drop : m, fall of the
    member at ``drop_at`` m (mid-span or the crib) by this heat, + down.
    line_after : (k,) m of this card's plane, offsets from the end chord after this heat.
    band_after : (k,) m, one standard deviation of it, all heats so far carried along.
    """

    number: int
    at: float
    plane: Plane
    side: str
    patterns: tuple[Mapping[str, Any], ...]
    words: str
    target: float
    cooling: str
    moment_ratio: float
    move: float
    sigma: float
    peak: float
    heating_time: float
    cooling_time: float
    gas: float
    hinge_margin: float | None
    drop: float
    drop_at: float
    line_after: FloatArray
    band_after: FloatArray
    cautions: tuple[str, ...] = ()
    other_axis_ratio: float = 0.0


@dataclass(frozen=True)
class Alternative:
    """One alternative for the same job, a row of the table.

    name : "as laid", "turned over", "with a weight hung", "mist cooling".
    heats : expected number; least, most : its range (9 of 10 runs of the plan).  None
    where it does not get there.  move_per_heat : rad, of the first heat, + helps.
    hours : h.  gas : J.  moment_ratio : the least helpful M/Mp at a heat, + helps.
    hinge_margin : the least; None without a load.  remark : why (not), in a sentence.
    possible : False where it is refused.
    """

    name: str
    heats: float | None
    least: int | None
    most: int | None
    move_per_heat: float | None
    hours: float | None
    gas: float | None
    moment_ratio: float | None
    hinge_margin: float | None
    remark: str
    possible: bool = True


@dataclass(frozen=True)
class Plan:
    """A plan of heats for one member.

    x : (k,) m from the marked end.  before, after : plane -> (k,) m offsets from the end
    chord; after is what is expected when all cards are done.  band_before, band_after :
    plane -> (k,) m, one standard deviation of them.  cards : in order of work.
    least, most : range of the number of heats (9 of 10 runs of the plan that re-reads
    after each heat).  stop : the rule for stopping, in words and numbers.
    chance : of ending inside the tolerance under that rule.  hours : h, with cooling.
    gas : J burnt.  seconds : s that the plan took to make.  input_hash : of what it was
    made from.  factor : on all movements, from the logged heats; the cards include it.
    """

    title: str
    x: FloatArray
    before: Mapping[Plane, FloatArray]
    band_before: Mapping[Plane, FloatArray]
    after: Mapping[Plane, FloatArray]
    band_after: Mapping[Plane, FloatArray]
    cards: tuple[HeatCard, ...]
    least: int
    most: int
    chance: float
    verdict_before: tuple[Verdict, ...]
    verdict_after: tuple[Verdict, ...]
    stop: tuple[str, ...]
    alternatives: tuple[Alternative, ...]
    cautions: tuple[str, ...]
    estimate: Estimate
    hours: float
    gas: float
    seconds: float
    input_hash: str
    factor: float = 1.0

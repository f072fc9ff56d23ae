"""Computed states of a lesson: bars and a plate, step by step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from shrinksim.arrays import FloatArray, IntArray


@dataclass(frozen=True)
class Stop:
    """A named step."""

    step: int
    name: str


@dataclass(frozen=True)
class Holding:
    """Support of the end of a bar.

    stiffness : of the spring there over the bar's cold EA/L; 0 is a free bar.
    sides : area of each of two cold bars, joined to it by rigid ends, over its own; 0
    is none.
    """

    name: str
    stiffness: float = 0.0
    way: Literal["pushes and pulls", "only pushes"] = "pushes and pulls"
    sides: float = 0.0


@dataclass(frozen=True)
class BarTrack:
    """A bar that is heated to ``peak`` degC, cooled and released.

    temperature (s,) degC of the heated bar.  stress (s, b) Pa along each bar, + pulls;
    the heated one first.  stretch (s,) change of length over the cold length.  plastic
    (s,) plastic strain along the heated bar.  thicker (s,) change of its thickness over
    the cold thickness.  stops : named steps, in order.
    """

    holding: Holding
    peak: float
    temperature: FloatArray
    stress: FloatArray
    stretch: FloatArray
    plastic: FloatArray
    thicker: FloatArray
    stops: tuple[Stop, ...]

    def step(self, name: str) -> int:
        """The step of a stop."""
        return next(stop.step for stop in self.stops if stop.name == name)


@dataclass(frozen=True)
class PlateHeat:
    """Temperatures of one or more plates at all their steps.

    times (s,) s since the torch was lit; the last of them, "cold", has none (inf).
    temperature (s, i, j) degC at the grid of `Plate`; hottest (s,) degC of all steel;
    torch (s, 2) m, NaN when it is off; torch_off s.  ready : s until the hottest steel
    is cold enough for the next heat.  forced : degC of the hottest steel when air or
    water begins, None for still air.
    """

    name: str
    times: FloatArray
    temperature: FloatArray
    hottest: FloatArray
    torch: FloatArray
    torch_off: float
    ready: float
    forced: float | None


@dataclass(frozen=True)
class PlateTrack:
    """A plate with a vee heat, held at its left end.

    heating : name of its `Heating`; frames (f,) the steps of that which are shown.
    displacement (f, i, j, 2) m at every second place of the grid of `Plate`.
    turn, moment (s,) rad of the right end, + closes the vee, and N m on it, + presses
    the vee together; at all steps, released in the last.  rotation : rad, shortening :
    m, permanent.  margin : hot plastic moment over the moment, None without a load.
    stops : named frames.
    """

    name: str
    heating: str
    frames: IntArray
    displacement: FloatArray
    turn: FloatArray
    moment: FloatArray
    rotation: float
    shortening: float
    margin: float | None
    folds: bool
    stops: tuple[Stop, ...]


@dataclass(frozen=True)
class LessonPlate:
    """Common data of the plates.

    x (i,), y (j,) m: the grid, x from the middle of the vee, y from the lower edge.
    outline (k, 2) m of the vee.  plastic_moment N m, cold.  radius : m of the torch;
    power : W that the steel takes up; target : degC of the hottest steel.  elements
    of a side of ``element`` m in the vee; temperature_step K, heat_tolerance K.  change :
    of the free plate's rotation, relative, in a repeat ``coarser`` times as coarse.
    """

    x: FloatArray
    y: FloatArray
    outline: FloatArray
    width: float
    thickness: float
    angle: float
    depth_ratio: float
    plastic_moment: float
    radius: float
    power: float
    target: float
    elements: int
    element: float
    temperature_step: float
    heat_tolerance: float
    coarser: float
    change: float


@dataclass(frozen=True)
class Lesson:
    """All computed states of a lesson page."""

    grade: str
    yield_stress: float
    strength: tuple[FloatArray, FloatArray]
    held: tuple[BarTrack, ...]
    free: BarTrack
    sprung: tuple[BarTrack, ...]
    three: tuple[BarTrack, ...]
    plate: LessonPlate
    heatings: Mapping[str, PlateHeat]
    loads: tuple[PlateTrack, ...]
    coolings: tuple[PlateTrack, ...]
    seconds: float
    versions: Mapping[str, str]

"""What the heat stage is told: phases of heating and cooling, and how to step."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.conduction import EdgeExchange, EdgeSource, Exchange
from shrinksim.heat.trailing_cooling import Following
from shrinksim.shop.pattern import TorchPath

Source = Callable[[FloatArray, FloatArray, float], FloatArray]
"""source(x, y, t) -> W absorbed per m2 of plan area, t from the start of the phase."""


TORCH = "torch"
"""Kind of a phase in which a torch burns."""


@dataclass(frozen=True)
class PhaseName:
    """What a phase is: its kind, and of which heat and torch (from 1; 0 of none)."""

    kind: str = ""
    heat: int = 0
    torch: int = 0

    @property
    def words(self) -> str:
        """As people read it: "heat 1: torch 2"."""
        kind = self.kind
        if self.torch:
            kind = f"{TORCH} {self.torch}{kind.removeprefix(TORCH)}"
        return f"heat {self.heat}: {kind}" if self.heat else kind


@dataclass(frozen=True)
class Phase:
    """A stretch of time with the same things acting.

    duration : s, at the longest.  until : degC, ends when no node is hotter.
    times : (k,) s from the phase's start: fixed steps in place of adaptive ones.
    torch : moves along its path and ends the phase when it is through.
    inlets : heat through edges, their t from the phase's start.  reach : degC, ends
    when the hottest node (of ``near``) is that hot.  place : (2,) m, where heat comes
    in, for the record.  following : cooling that follows the torch; it goes on to the
    end of the path while later phases run.  trailing : ends when no such cooling is left.
    """

    duration: float
    exchanges: tuple[Exchange, ...] = ()
    edges: tuple[EdgeExchange, ...] = ()
    sources: tuple[Source, ...] = ()
    torch: TorchPath | None = None
    until: float | None = None
    times: FloatArray | None = None
    name: PhaseName = PhaseName()
    inlets: tuple[EdgeSource, ...] = ()
    reach: float | None = None
    near: IntArray | None = None
    place: FloatArray | None = None
    following: Following | None = None
    trailing: bool = False


@dataclass(frozen=True)
class Stepping:
    """Step control of the heat march.

    tolerance : K, on the difference to the embedded first-order formula (the error of
    the second-order result is far smaller).  first, largest : s.  second_order :
    SDIRK2, else backward Euler.  newton : K.
    """

    tolerance: float = 4.0
    first: float = 0.1
    largest: float = 600.0
    second_order: bool = True
    newton: float = 1e-2

"""Input of the heat stage: phases of heating and cooling, and step control."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.conduction import EdgeExchange, EdgeSource, Exchange
from shrinksim.heat.gauge import TorchReading
from shrinksim.heat.trailing_cooling import TrailingCooling
from shrinksim.shop.pattern import TorchPath

Source = Callable[[FloatArray, FloatArray, float], FloatArray]
"""source(x, y, t) -> W absorbed per m2 of plan area, t from the start of the phase."""

TORCH = "torch"
"""Kind of a phase in which a torch burns."""


@dataclass(frozen=True)
class PhaseName:
    """Identity of a phase: its kind, and the number of its heat and torch (0: none)."""

    kind: str = ""
    heat: int = 0
    torch: int = 0

    @property
    def words(self) -> str:
        """Text such as "heat 1: torch 2"."""
        kind = self.kind
        if self.torch:
            kind = f"{TORCH} {self.torch}{kind.removeprefix(TORCH)}"
        return f"heat {self.heat}: {kind}" if self.heat else kind


@dataclass(frozen=True)
class Phase:
    """Stretch of time with constant boundary conditions and sources.

    duration : s, at the longest.  until : degC, ends when no node is hotter.
    times : (k,) s from the phase's start: fixed steps in place of adaptive ones.
    torch : moves along its path; the phase ends when it is out.
    inlets : heat through edges, their t from the phase's start.  heat_to : degC, ends
    when the hottest node (of ``target_nodes``) is that hot.  heated_at : (2,) m, centre
    of the heat input, for the record.  trailing_cooling : follows the torch, and runs to
    the end of the path during later phases.  until_passes_end : ends when no such
    cooling is left.  reading : what a held torch is led by, None the mesh's triangles
    while it burns.  sides : shares of the bottom and the top face of a plate in what
    torch and sources bring, None as its medium has them.
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
    heat_to: float | None = None
    target_nodes: IntArray | None = None
    heated_at: FloatArray | None = None
    trailing_cooling: TrailingCooling | None = None
    until_passes_end: bool = False
    reading: TorchReading | None = None
    sides: tuple[float, float] | None = None


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

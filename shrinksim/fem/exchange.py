"""Boundary conditions of heat: exchange and inflow at faces and edges."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from shrinksim.arrays import FloatArray, frozen

Law = Callable[[FloatArray, float], tuple[FloatArray, FloatArray]]
"""law(T, t) -> (q, slope): heat leaving a face, W/m2, and its derivative to T."""

COLDEST, HOTTEST, APART = -100.0, 1500.0, 0.5
"""degC, the grid on which steady laws are tabulated: between its points every shipped
law is off by less than 2e-6 of itself over 300 degC, 5e-6 over 100, 2e-4 over 40."""


@dataclass(frozen=True, eq=False)
class Exchange:
    """Heat leaving the faces of the elements: law, times faces per plan area.

    faces : broadcasts to (e, q).  steady : the law does not depend on time, and is
    tabulated.  sides : shares of the bottom and the top face, where each has a
    temperature of its own.
    """

    law: Law
    faces: FloatArray
    steady: bool = False
    sides: tuple[float, float] = (0.5, 0.5)


@dataclass(frozen=True, eq=False)
class EdgeExchange:
    """Heat leaving through a named edge: law, times the thickness of the edge, m.

    cover : share (f, b) of each point that the law acts on; None is all.  steady : as
    of an Exchange.
    """

    edge: str
    law: Law
    thickness: float
    cover: FloatArray | None = None
    steady: bool = False


@dataclass(frozen=True)
class EdgeSource:
    """Heat coming in through a named edge, times its thickness, m.

    flux : (x, y, t) -> W/m2 at points x, y (f, b) m of the edge.
    """

    edge: str
    flux: Callable[[FloatArray, FloatArray, float], FloatArray]
    thickness: float = 1.0


@dataclass(frozen=True)
class Loads:
    """Thermal loads of a step.

    exchanges, edges : heat leaving.  source : t -> (e, q) W/m2 of plan area coming in.
    fixed : t -> (k,) degC of the medium's fixed nodes.  inlets : heat coming in.  sides :
    shares of the bottom and the top face in the source, None as the medium has them.
    """

    exchanges: Sequence[Exchange] = ()
    edges: Sequence[EdgeExchange] = ()
    source: Callable[[float], FloatArray] | None = None
    fixed: Callable[[float], FloatArray] | None = None
    inlets: Sequence[EdgeSource] = ()
    sides: tuple[float, float] | None = None


@lru_cache(maxsize=64)
def tabulated(law: Law) -> FloatArray:
    """A steady law (k,) W/m2 on the grid."""
    count = round((HOTTEST - COLDEST) / APART) + 1
    q, _ = law(np.linspace(COLDEST, HOTTEST, count), 0.0)
    return frozen(q)

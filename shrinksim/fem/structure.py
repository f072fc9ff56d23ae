"""What a march through a temperature history needs of a meshed body and its supports.

A sheet (plane stress) and a section (generalised plane strain) each give one; the march
in `strain` knows no difference.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from shrinksim.arrays import FloatArray, frozen
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import Solve, Ties


class PhaseChange(Protocol):
    """heating, cooling : (start, end) degC.  strain : of all austenite over ferrite."""

    @property
    def heating(self) -> tuple[float, float]: ...
    @property
    def cooling(self) -> tuple[float, float]: ...
    @property
    def strain(self) -> float: ...


class SteelTable(Protocol):
    """What a body needs of its steel (shop.steel.StrainTable has it).

    modulus, thermal_strain (k,) on start + step * i degC; flow (r, j) Pa on
    flow_start + flow_step * i degC and plastic strains ``plastic`` (j,); back_stress
    (r,) Pa with characteristic strain ``back_strain``; annealing degC; transformation
    None leaves phase change out.
    """

    @property
    def start(self) -> float: ...
    @property
    def step(self) -> float: ...
    @property
    def modulus(self) -> FloatArray: ...
    @property
    def thermal_strain(self) -> FloatArray: ...
    @property
    def poisson(self) -> float: ...
    @property
    def flow_start(self) -> float: ...
    @property
    def flow_step(self) -> float: ...
    @property
    def plastic(self) -> FloatArray: ...
    @property
    def flow(self) -> FloatArray: ...
    @property
    def back_stress(self) -> FloatArray: ...
    @property
    def back_strain(self) -> float: ...
    @property
    def annealing(self) -> float: ...
    @property
    def transformation(self) -> PhaseChange | None: ...


@dataclass(frozen=True)
class Support:
    """What holds and loads the unknowns, all multiplied by the schedule's fraction.

    force (m,) N; spring (m,) N/m pulling towards ``rest`` (m,) m; one_way (m,): the
    spring only pushes in the sense of its rest.  offset (d,) m: given displacements of
    the full dofs that have no unknown, also times the fraction.
    """

    ties: Ties
    force: FloatArray
    spring: FloatArray
    rest: FloatArray
    one_way: FloatArray
    offset: FloatArray

    def push(self, q: FloatArray, fraction: float) -> tuple[FloatArray, FloatArray]:
        """Forces on the unknowns and their stiffness (what they lose as q grows)."""
        if not self.spring.any():
            return fraction * self.force, self.spring
        reach = self.rest - q
        sense = np.where(self.rest < 0.0, -1.0, 1.0)
        active = (self.one_way == 0) | (reach * sense > 0)
        stiff = fraction * self.spring * active
        return fraction * self.force + stiff * reach, stiff


def support(
    ties: Ties,
    *,
    force: FloatArray | None = None,
    spring: FloatArray | None = None,
    rest: FloatArray | None = None,
    one_way: FloatArray | None = None,
    offset: FloatArray | None = None,
) -> Support:
    """A support with nothing acting but what is given."""
    m = ties.unknowns

    def filled(part: FloatArray | None) -> FloatArray:
        return frozen(np.zeros(m) if part is None else part)

    full = np.zeros(len(ties.target)) if offset is None else offset
    return Support(
        ties,
        filled(force),
        filled(spring),
        filled(rest),
        filled(one_way),
        frozen(full),
    )


@dataclass(frozen=True)
class State:
    """Converged state: q (m,), plastic strain, its equivalent, back-stress memory,
    stress; (e, q, c) with c = 3 components in a sheet, 4 in a section.  austenite (e,
    q): its share of the steel, None as long as there is none.
    """

    q: FloatArray
    eps: FloatArray
    p: FloatArray
    alpha: FloatArray
    stress: FloatArray
    austenite: FloatArray | None = None


@dataclass(frozen=True)
class Structure:
    """A supported body, ready to march.

    begin : the state of rest.  evaluator(old, T, fraction, swell) : the residual of a
    step to temperatures T (n,) as a function of the unknowns; swell (e, q) is strain
    beyond thermal expansion.  elastic(T, q, fraction) : elastic tangent.  factorise :
    of a tangent.
    """

    begin: State
    evaluator: Callable[
        [State, FloatArray, float, FloatArray], Callable[[FloatArray], Point]
    ]
    elastic: Callable[[FloatArray, FloatArray, float], Any]
    factorise: Callable[[Any], Solve]


class Strainable(Protocol):
    """A body that can be strained: a sheet, a section, or one of your own.

    nodal_shape : nodes, and displacements of each, which come first among the full dofs.
    points_shape : elements, and points of each.
    """

    @property
    def mesh(self) -> Mesh: ...
    @property
    def nodal_shape(self) -> tuple[int, int]: ...
    @property
    def points_shape(self) -> tuple[int, int]: ...
    @property
    def hot_share(self) -> FloatArray: ...
    @property
    def cold(self) -> float: ...
    @property
    def table(self) -> SteelTable: ...
    def at_points(self, T: FloatArray) -> FloatArray:
        """Temperatures (e, q) degC at the points, from the nodes' (n,)."""
        ...

    def structure(self, hold: Support) -> Structure:
        """The body on a support."""
        ...


def rest(unknowns: int, shape: tuple[int, int], components: int) -> State:
    """The state of rest of (e, q) points."""
    zero = np.zeros((*shape, components))
    return State(np.zeros(unknowns), zero, np.zeros(shape), zero, zero)

"""Interface between the strain march and a meshed body on its supports.

A sheet (plane stress) and a section (generalised plane strain) provide it; the march in
`strain` does not tell them apart.
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
    """Phase change.  heating, cooling : (start, end) degC.

    strain : of all austenite over ferrite.
    """

    @property
    def heating(self) -> tuple[float, float]: ...
    @property
    def cooling(self) -> tuple[float, float]: ...
    @property
    def strain(self) -> float: ...


class SteelTable(Protocol):
    """Properties of the steel that a body needs (shop.steel.StrainTable has them).

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
    """Loads and springs on the unknowns, all multiplied by the schedule's fraction.

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
        """Forces (m,) N on the unknowns, and their stiffness -d force/dq (m,) N/m."""
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
    """Support with the given parts; the others are zero."""
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
    """Equilibrium state: q (m,), plastic strain, its equivalent, back-stress memory,
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
    """Body on its supports.

    begin : stress-free state.  evaluator(old, T, fraction, phase_strain) : residual of a
    step to temperatures T (n,) as a function of the unknowns; phase_strain (e, q) is the
    transformation strain.  elastic(T, q, fraction) : elastic tangent.  factorise :
    of a tangent.
    """

    begin: State
    evaluator: Callable[
        [State, FloatArray, float, FloatArray], Callable[[FloatArray], Point]
    ]
    elastic: Callable[[FloatArray, FloatArray, float], Any]
    factorise: Callable[[Any], Solve]


class Strainable(Protocol):
    """Body of the strain march: a sheet, a section, or your own.

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
        """Structure of the body on a support."""
        ...


def rest(unknowns: int, shape: tuple[int, int], components: int) -> State:
    """Stress-free state of (e, q) points."""
    zero = np.zeros((*shape, components))
    return State(np.zeros(unknowns), zero, np.zeros(shape), zero, zero)

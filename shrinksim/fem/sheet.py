"""A sheet of plane-stress elements and what holds it: forces, tangents, new state."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.basis import quadrature
from shrinksim.fem.kernels.plane import (
    elastic_moduli,
    plane_stiffness,
    plane_sweep,
)
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import Assembly, Ties


class SteelTable(Protocol):
    """What a sheet needs of its steel (shop.steel.StrainTable has it).

    modulus, thermal_strain (k,) on start + step * i degC; flow (r, j) Pa on
    flow_start + flow_step * i degC and plastic strains ``plastic`` (j,); back_stress
    (r,) Pa with characteristic strain ``back_strain``; annealing degC.
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
class Body:
    """Elements with thickness and steel, ready to strain.

    weight (e, q) m3.  hot_share (e,): 0 for overlays that stay at ``cold`` degC.
    """

    mesh: Mesh
    triangles: IntArray
    N: FloatArray
    dN: FloatArray
    weight: FloatArray
    hot_share: FloatArray
    cold: float
    table: SteelTable

    @property
    def floor(self) -> float:
        """Force (N) too small to matter: a stress of 1e-9 of the modulus all over."""
        length = float(np.ptp(self.mesh.points[:, 0]))
        return 1e-9 * float(self.table.modulus.max() * self.weight.sum()) / length


def strain_body(
    mesh: Mesh,
    thickness: FloatArray | float,
    table: SteelTable,
    *,
    overlay: tuple[IntArray, FloatArray] | None = None,
    cold: float = 20.0,
    rule: str = "interior 3",
) -> Body:
    """Thickness : (e,) m.  overlay : element numbers and thickness (k,) m of layers that
    share those elements' nodes but stay at ``cold`` degC.
    """
    points = quadrature(mesh, rule)
    depth = np.broadcast_to(np.asarray(thickness, float), len(mesh.triangles))
    extra = np.empty(0, np.int64) if overlay is None else overlay[0]
    every = np.concatenate([np.arange(len(mesh.triangles)), extra])
    if overlay is not None:
        depth = np.concatenate([depth, overlay[1]])
    hot = np.ones(len(every))
    hot[len(mesh.triangles) :] = 0.0
    return Body(
        mesh,
        np.ascontiguousarray(mesh.triangles[every]),
        points.N,
        np.ascontiguousarray(points.dN[every]),
        points.area[every] * depth[:, None],
        hot,
        cold,
        table,
    )


@dataclass(frozen=True)
class State:
    """Converged state: q (m,), plastic strain, its equivalent and back-stress memory."""

    q: FloatArray
    eps: FloatArray
    p: FloatArray
    alpha: FloatArray
    stress: FloatArray


def evaluator(
    body: Body, hold: Support, plan: Assembly, old: State, T: FloatArray,
    fraction: float,
) -> Callable[[FloatArray], Point]:  # fmt: skip
    """The residual of a step to temperatures T (n,) as a function of the unknowns."""
    table = body.table
    shape = (len(body.triangles), body.N.shape[0])
    floor = body.floor

    def evaluate(q: FloatArray) -> Point:
        u = (hold.ties.expand(q) + fraction * hold.offset).reshape(-1, 2)
        forces, moduli = np.empty((shape[0], 12)), np.empty((*shape, 6))
        stress, eps, alpha = (np.empty((*shape, 3)) for _ in range(3))
        p = np.empty(shape)
        hot = plane_sweep(
            u, T, body.cold, body.triangles, body.N, body.dN, body.weight,
            body.hot_share, table.start, table.step, table.modulus,
            table.thermal_strain, table.poisson, table.flow_start, table.flow_step,
            table.plastic, table.flow, table.back_stress, table.back_strain, old.eps,
            old.p, old.alpha, forces, moduli, stress, eps, p, alpha,
        )  # fmt: skip
        push, stiff = hold.push(q, fraction)
        inside, size = plan.vector(forces)

        def matrix() -> FloatArray:
            return _stored(body, plan, moduli, stiff)

        scale = max(float(np.linalg.norm(size) + np.linalg.norm(push)), floor)
        return Point(push - inside, scale, matrix, (eps, p, alpha, stress), hot)

    return evaluate


def elastic_matrix(
    body: Body, plan: Assembly, hold: Support, T: FloatArray, q: FloatArray,
    fraction: float,
) -> FloatArray:  # fmt: skip
    """The elastic stiffness at temperatures T (n,), springs included, ready to factor."""
    table = body.table
    moduli = np.empty((*body.weight.shape, 6))
    elastic_moduli(
        T, body.cold, body.triangles, body.N, body.weight, body.hot_share, table.start,
        table.step, table.modulus, table.poisson, moduli,
    )  # fmt: skip
    return _stored(body, plan, moduli, hold.push(q, fraction)[1])


def _stored(
    body: Body, plan: Assembly, moduli: FloatArray, stiff: FloatArray
) -> FloatArray:
    """The stiffness of moduli (e, q, 6) and springs (m,), ready to factor."""
    tangents = np.empty((len(body.triangles), 12, 12))
    plane_stiffness(body.dN, moduli, tangents)
    storage = plan.matrix(tangents)
    plan.add_diagonal(storage, stiff)
    return storage

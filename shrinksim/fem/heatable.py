"""What a heat march needs of a meshed body: a sheet and a plate each give it."""

from __future__ import annotations

from typing import Protocol

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import Quadrature
from shrinksim.fem.conduction import FactorCache, HeatStep
from shrinksim.fem.exchange import Loads
from shrinksim.fem.mesh import Mesh
from shrinksim.fem.sparse import Assembly


class Heatable(Protocol):
    """A body that can be heated.

    mesh : its points are the nodes of temperature, its triangles those of the face that
    places are found on.  quadrature : at which sources and losses are summed.  volume :
    (e, q) m3 under its points.  plan : of its unknowns.
    """

    @property
    def mesh(self) -> Mesh: ...
    @property
    def quadrature(self) -> Quadrature: ...
    @property
    def volume(self) -> FloatArray: ...
    @property
    def plan(self) -> Assembly: ...
    def step_to(
        self, T: FloatArray, t: float, dt: float, loads: Loads, *,
        second_order: bool = True, tolerance: float = 1e-3,
        nodal_heat: FloatArray | None = None, rate: FloatArray | None = None,
        cache: FactorCache | None = None,
    ) -> HeatStep:  # fmt: skip
        """One implicit step from t to t + dt, see `fem.conduction.heat_step`."""
        ...

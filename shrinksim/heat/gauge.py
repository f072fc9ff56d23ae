"""Where and when the temperature is read that a held torch is led by."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray
from shrinksim.fem.basis import locate
from shrinksim.fem.heatable import Heatable
from shrinksim.heat.torch_motion import Timetable, heated_nodes
from shrinksim.heat.torch_schedule import TOLERANCE, control_points
from shrinksim.shop.pattern import TorchPath, point_along


@dataclass(frozen=True)
class TorchReading:
    """faces : triangles (e, 6) of each face that is read.  after : s after the torch has
    left a place; 0 reads all steel under the path while the torch burns.  near : K, how
    near the reading is brought to the target.
    """

    faces: tuple[IntArray, ...]
    after: float = 0.0
    near: float = TOLERANCE


@dataclass(frozen=True)
class Gauge:
    """A reading at the control points of a path.

    places (k,) m along the path.  probes : nodes (k, 6) of each face, N (k, 6).  nodes
    (j,) : of the faces, under the path; start (j,) degC when the torch is lit.
    """

    places: FloatArray
    probes: tuple[IntArray, ...]
    N: FloatArray
    nodes: IntArray
    start: FloatArray
    after: float
    near: float

    def at_points(self, fields: FloatArray) -> FloatArray:
        """Temperatures (s, k) at the control points, of the hotter face."""
        each = [np.einsum("ska,ka->sk", fields[:, p], self.N) for p in self.probes]
        return np.maximum.reduce(each)

    def read(
        self, times: FloatArray, fields: FloatArray, table: Timetable
    ) -> tuple[FloatArray, float]:
        """Peaks (k,) at the control points and the hottest reading, degC.

        times (s,) s since the torch was lit; fields (s, n) degC.
        """
        T = self.at_points(fields)
        if self.after > 0.0:
            left = np.interp(self.places, table.distance, table.times) + self.after
            read = np.array(
                [np.interp(t, times, row) for t, row in zip(left, T.T, strict=True)]
            )
            return read, float(read.max())
        peak = fields[:, self.nodes].max(axis=0)
        hottest = peak[peak > self.start + 1.0].max(initial=float(self.start.min()))
        return T.max(axis=0), float(hottest)


def gauge_on(
    body: Heatable, torch: TorchPath, reading: TorchReading | None, T: FloatArray
) -> Gauge:
    """The gauge of a torch on a body that is at T (n,) degC when it is lit."""
    faces = (body.mesh.triangles,) if reading is None else reading.faces
    places = control_points(torch)
    element, N = locate(body.mesh, point_along(torch.points, places))
    heated = heated_elements(body, torch)
    under = [heated_nodes(body, torch, np.unique(face[heated])) for face in faces]
    nodes = np.concatenate(under)
    after = 0.0 if reading is None else reading.after
    near = TOLERANCE if reading is None else reading.near
    probes = tuple(face[element] for face in faces)
    return Gauge(places, probes, N, nodes, T[nodes], after, near)


def heated_elements(body: Heatable, torch: TorchPath) -> IntArray:
    """Elements of the regions that take the torch's heat."""
    region = [k for k, name in enumerate(body.mesh.regions) if name in torch.on]
    return np.flatnonzero(np.isin(body.mesh.region, region))

"""Motion of a torch along its path, and the step sizes that resolve it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.heatable import Heatable
from shrinksim.shop.pattern import TorchPath, path_length, point_along

STRIDE = 0.4
"""Largest distance of the torch in a step, in radii."""


@dataclass(frozen=True)
class Timetable:
    """Travel schedule of a torch: times (k,) s from lighting, rising from 0 until it is
    out, and the distance (k,) m along its path at each.
    """

    times: FloatArray
    distance: FloatArray

    def at(self, t: float) -> float:
        """Distance (m) at t s."""
        return float(np.interp(t, self.times, self.distance))

    @property
    def end(self) -> float:
        """Time (s) at which the torch is out."""
        return float(self.times[-1])


def constant_speed(length: float, speed: float) -> Timetable:
    """Schedule of a travel over ``length`` m at ``speed`` m/s."""
    return Timetable(frozen([0.0, length / speed]), frozen([0.0, length]))


class TorchMotion:
    """Position of a torch in the march: a schedule followed step by step.

    stride : m, largest distance in a step.  start, travel : m, distance along the path
    at the start of the current step, and covered in it.
    """

    def __init__(
        self, body: Heatable, torch: TorchPath, table: Timetable, stride: float
    ) -> None:
        self.torch, self.table, self.stride = torch, table, stride
        self.s = path_length(torch.points)  # (k,) m
        region = np.array([r in torch.on for r in body.mesh.regions])
        self.absorbs = region[body.mesh.region][:, None].astype(float)
        self.t, self.dt, self.start, self.travel = 0.0, 0.0, 0.0, 0.0

    @property
    def finished(self) -> bool:
        """Whether the torch is out."""
        return self.t >= self.table.end * (1.0 - 1e-9)

    def limit_step(self, dt: float, adaptive: bool) -> float:
        """Set the next step; returns its size, shortened to the stride if adaptive."""
        self.start = self.table.at(self.t)
        if adaptive:
            dt = min(dt, self.table.end - self.t)
            arrival = np.interp(
                self.start + self.stride,
                self.table.distance,
                self.table.times,
                right=np.inf,
            )
            dt = min(dt, max(float(arrival) - self.t, 0.02 * dt))
        self.dt = dt
        self.travel = self.table.at(self.t + dt) - self.start
        return dt

    def position(self, share: float) -> FloatArray:
        """Torch centre (2,) m at a share 0..1 of the step (of the last, when it ended)."""
        s, points = self.table.at(self.t + share * self.dt), self.torch.points
        x, y = np.interp(s, self.s, points[:, 0]), np.interp(s, self.s, points[:, 1])
        return np.array([x, y])

    def flux(self, x: FloatArray, y: FloatArray, share: float) -> FloatArray:
        """Absorbed flux (e, q) W/m2 at a share of the step."""
        return self.absorbs * self.torch.flux(x, y, self.position(share))

    def accept(self) -> None:
        """Accept the step."""
        self.t, self.dt = self.t + self.dt, 0.0


HEATED_RADII = 2.0
"""Radii from a torch's path within which steel counts as heated by it."""


def heated_nodes(body: Heatable, torch: TorchPath, nodes: IntArray) -> IntArray:
    """The nodes, out of ``nodes``, within ``HEATED_RADII`` of a torch's path."""
    length = float(path_length(torch.points)[-1])
    count = int(np.ceil(3.0 * length / torch.drive.radius)) + 1
    path = point_along(torch.points, np.linspace(0.0, length, count))
    gap = body.mesh.points[nodes][:, None] - path
    if torch.across > 0.0:
        gap[..., 1] = 0.0
    distance = np.hypot(gap[..., 0], gap[..., 1]).min(axis=1)
    return nodes[distance <= HEATED_RADII * torch.drive.radius]

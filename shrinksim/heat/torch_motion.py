"""Where a torch is on its path, and how far it goes in a step of the heat march."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen
from shrinksim.fem.heatable import Heatable
from shrinksim.shop.pattern import TorchPath, along, path_length

STRIDE = 0.4
"""Farthest that the torch goes in a step, in radii."""


@dataclass(frozen=True)
class Timetable:
    """When a torch is where: times (k,) s from its lighting, rising from 0 to when it
    goes out, and the distance (k,) m along its path.
    """

    times: FloatArray
    distance: FloatArray

    def at(self, t: float) -> float:
        """Distance (m) at t s."""
        return float(np.interp(t, self.times, self.distance))

    @property
    def end(self) -> float:
        """s, when the torch goes out."""
        return float(self.times[-1])


def steady(length: float, speed: float) -> Timetable:
    """A torch that goes ``length`` m at ``speed`` m/s."""
    return Timetable(frozen([0.0, length / speed]), frozen([0.0, length]))


class Walk:
    """A torch on its way by a timetable, step by step.

    stride : m, farthest that it goes in a step.  at, move : m, where the step starts
    and how far it goes.
    """

    def __init__(
        self, body: Heatable, torch: TorchPath, table: Timetable, stride: float
    ) -> None:
        self.torch, self.table, self.stride = torch, table, stride
        self.s = path_length(torch.points)
        region = np.array([r in torch.on for r in body.mesh.regions])
        self.takes = region[body.mesh.region][:, None].astype(float)
        self.now, self.dt, self.at, self.move = 0.0, 0.0, 0.0, 0.0

    @property
    def through(self) -> bool:
        """Whether the torch is out."""
        return self.now >= self.table.end * (1.0 - 1e-9)

    def plan(self, dt: float, adaptive: bool) -> float:
        """Take up the next step; returns its size, perhaps shorter."""
        self.at = self.table.at(self.now)
        if adaptive:
            dt = min(dt, self.table.end - self.now)
            reach = np.interp(
                self.at + self.stride,
                self.table.distance,
                self.table.times,
                right=np.inf,
            )
            dt = min(dt, max(float(reach) - self.now, 0.02 * dt))
        self.dt = dt
        self.move = self.table.at(self.now + dt) - self.at
        return dt

    def place(self, share: float) -> FloatArray:
        """Torch centre (2,) m at a share 0..1 of the step (of the last, when it ended)."""
        at, points = self.table.at(self.now + share * self.dt), self.torch.points
        x, y = np.interp(at, self.s, points[:, 0]), np.interp(at, self.s, points[:, 1])
        return np.array([x, y])

    def flux(self, x: FloatArray, y: FloatArray, share: float) -> FloatArray:
        """Absorbed flux (e, q) W/m2 at a share of the step."""
        return self.takes * self.torch.flux(x, y, self.place(share))

    def accept(self) -> None:
        """Take the step."""
        self.now, self.dt = self.now + self.dt, 0.0


UNDER = 2.0
"""Radii from a torch's path within which steel counts as heated by it."""


def under(body: Heatable, torch: TorchPath, nodes: IntArray) -> IntArray:
    """Those of the nodes that a torch's path comes near to."""
    length = float(path_length(torch.points)[-1])
    count = int(np.ceil(3.0 * length / torch.drive.radius)) + 1
    path = along(torch.points, np.linspace(0.0, length, count))
    gap = body.mesh.points[nodes][:, None] - path
    if torch.across > 0.0:
        gap[..., 1] = 0.0
    near = np.hypot(gap[..., 0], gap[..., 1]).min(axis=1) <= UNDER * torch.drive.radius
    return nodes[near]

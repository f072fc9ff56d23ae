"""Where a torch is on its path, and how far it goes in a step of the heat march."""

from __future__ import annotations

import numpy as np
from scipy.sparse import csr_array

from shrinksim.arrays import FloatArray
from shrinksim.errors import NotConverged
from shrinksim.fem.basis import locate
from shrinksim.fem.conduction import Medium
from shrinksim.shop.pattern import TorchPath, along, path_length

SPILL = np.sqrt(np.pi / 12.0)
"""Rise still to come to a spot when the torch moves off it: this times its rate of rise
times radius over pace, the integral of the Gaussian that passes (no conduction)."""

STRIDE = 0.4
"""Farthest that the torch goes in a step, in radii."""


class Walk:
    """Where the torch is on its path, and how far it goes in a step.

    A held torch stays until the spot under it has its target.  The advance of a step
    is predicted: it ends where the field now, plus the rise that the last step gave to
    the spot it ended on, falls to the target.  A torch that moves on still heats the
    spot behind it; it is left lower by that lead, so that each spot comes to its target
    when the torch has gone on, and at the end of the path when it goes off.

    followed : m, farthest that the cooling behind it may go in a step, None without.
    """

    def __init__(
        self, body: Medium, torch: TorchPath, followed: float | None = None
    ) -> None:
        self.torch = torch
        self.followed = followed
        self.length = float(path_length(torch.points)[-1])
        spacing = torch.drive.radius / 12.0
        count = max(2, int(np.ceil(self.length / spacing)) + 1)
        self.s = np.linspace(0.0, self.length, count)
        element, N = locate(body.mesh, along(torch.points, self.s))
        nodes = body.mesh.triangles[element]
        rows = np.repeat(np.arange(count), 6)
        size = (count, len(body.mesh.points))
        self.probe = csr_array((N.ravel(), (rows, nodes.ravel())), shape=size)
        region = np.array([r in torch.on for r in body.mesh.regions])
        self.takes = region[body.mesh.region][:, None].astype(float)
        self.at, self.move, self.rise, self.waited = 0.0, 0.0, 0.0, 0.0
        start = 0.0 if self.length == 0.0 else 0.12
        self.lead = start * (
            torch.drive.target or 0.0
        )  # a hand moves before it is late
        self.pace, self.spot = 0.0, 0
        self.through = False
        self.reached = -np.inf

    def plan(self, T: FloatArray, t: float, dt: float, adaptive: bool) -> float:
        """Choose the advance of the next step; returns its size, perhaps shorter."""
        drive = self.torch.drive
        longest = min(STRIDE * drive.radius, self.followed or np.inf)
        if drive.target is None:
            left = self.length - self.at
            if adaptive:
                dt = min(dt, longest / drive.speed, max(left / drive.speed, 1e-9))
            self.move = min(drive.speed * dt, left)
            return dt
        if self.waited > drive.patience:
            place = along(self.torch.points, self.at)
            message = (
                f"the torch cannot reach its target: at t = {t:.0f} s it has waited "
                f"{self.waited:.0f} s at x = {place[0]:.4f} m, y = {place[1]:.4f} m, "
                f"where the steel came to {self.reached:.0f} degC of "
                f"{drive.target:.0f} degC; use more power or a smaller radius, "
                "or lower the target"
            )
            if self.followed is not None:
                message += ", or let the cooling follow farther behind"
            raise NotConverged(message, time=t)
        short = self.aim - float((self.probe[[self.spot]] @ T)[0])
        if short > 0.0 and self.rise * dt > short:
            dt = max(short / self.rise, 0.3 * dt)
        wanted = self._advance(T, dt)
        if wanted > longest:
            dt *= longest / wanted
            wanted = min(self._advance(T, dt), longest)
        self.move = wanted
        return dt

    @property
    def aim(self) -> float:
        """What the centre is brought to, degC: at the end nothing is still to come."""
        target = self.torch.drive.target or -np.inf
        return target if self.at >= self.length - 1e-9 else target - self.lead

    def _advance(self, T: FloatArray, dt: float) -> float:
        drive = self.torch.drive
        assert drive.target is not None
        ahead = self.s >= self.at - 1e-12
        s = self.s[ahead]
        field_ahead = (self.probe @ T)[ahead] + self.rise * dt
        aim = self.aim
        cold = np.flatnonzero(field_ahead < aim)
        limit = min(drive.speed * dt, self.length - self.at)
        if not len(cold):
            return limit
        k = int(cold[0])
        if k == 0:
            return 0.0
        part = (field_ahead[k - 1] - aim) / (field_ahead[k - 1] - field_ahead[k])
        return float(min(s[k - 1] + part * (s[k] - s[k - 1]) - self.at, limit))

    def place(self, share: float) -> FloatArray:
        """Torch centre (2,) m at a share 0..1 of the step (of the last, when it ended)."""
        return along(self.torch.points, self.at + share * self.move)

    def flux(self, x: FloatArray, y: FloatArray, share: float) -> FloatArray:
        """Absorbed flux (e, q) W/m2 at a share of the step."""
        return self.takes * self.torch.flux(x, y, self.place(share))

    def accept(self, before: FloatArray, after: FloatArray, dt: float) -> None:
        """Take the step: remember the rise at its end and how long the torch waited."""
        drive = self.torch.drive
        self.at += self.move
        move, self.move = self.move, 0.0
        self.spot = int(np.argmin(np.abs(self.s - self.at)))
        row = self.probe[[self.spot]]
        spot = float((row @ after)[0])
        self.rise = max(spot - float((row @ before)[0]), 0.0) / dt
        share = 1.0 - np.exp(-move / drive.radius)
        self.pace += share * (move / dt - self.pace)
        if drive.target is not None and self.pace > 0.0:
            coming = SPILL * self.rise * drive.radius / self.pace
            self.lead += share * (min(coming, 0.45 * drive.target) - self.lead)
        self.waited = self.waited + dt if move < 1e-4 * drive.radius else 0.0
        self.reached = spot
        self.through = self.at >= self.length - 1e-9 and spot >= self.aim - 1.0

"""The heat stage: phases of torch, waiting and cooling marched to a history."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.sparse import csr_array

from shrinksim.arrays import FloatArray, frozen
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.basis import locate
from shrinksim.fem.conduction import (
    EdgeExchange,
    Exchange,
    HeatStep,
    Loads,
    Medium,
    heat_step,
)
from shrinksim.fem.sparse import one_blas_thread
from shrinksim.shop.pattern import TorchPath, along, path_length

Source = Callable[[FloatArray, FloatArray, float], FloatArray]
"""source(x, y, t) -> W absorbed per m2 of plan area, t from the start of the phase."""

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Phase:
    """A stretch of time with the same things acting.

    duration : s, at the longest.  until : degC, ends when no node is hotter.
    times : (k,) s from the phase's start: fixed steps in place of adaptive ones.
    torch : moves along its path and ends the phase when it is through.
    """

    duration: float
    exchanges: tuple[Exchange, ...] = ()
    edges: tuple[EdgeExchange, ...] = ()
    sources: tuple[Source, ...] = ()
    torch: TorchPath | None = None
    until: float | None = None
    times: FloatArray | None = None
    label: str = ""


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


@dataclass(frozen=True)
class HeatHistory:
    """What the steel went through.

    times (s,) s; temperature (s, n) degC; torch (s, 2) m, NaN when it is off; absorbed,
    lost, stored (s,) J since the start; peak (n,) degC; label (s,) phase of each time.
    """

    times: FloatArray
    temperature: FloatArray
    torch: FloatArray
    absorbed: FloatArray
    lost: FloatArray
    stored: FloatArray
    peak: FloatArray
    label: tuple[str, ...]
    steps: int
    iterations: int
    unknowns: int
    seconds: float

    @property
    def imbalance(self) -> float:
        """(absorbed - lost - stored) over the largest of them; 0 when all is counted."""
        miss = self.absorbed[-1] - self.lost[-1] - self.stored[-1]
        parts = (self.absorbed, self.lost, self.stored)
        scale = max(*(float(np.abs(part).max()) for part in parts), 1.0)
        return float(miss / scale)

    @property
    def heating_time(self) -> float:
        """Seconds with a torch on."""
        on = np.isfinite(self.torch[1:, 0])
        return float(np.sum(np.diff(self.times)[on]))


@dataclass
class _March:
    """The growing history; ``absorbed``, ``lost`` and ``stored`` are running sums."""

    T: FloatArray
    t: float = 0.0
    held: FloatArray | None = None
    rate: FloatArray | None = None
    absorbed: float = 0.0
    lost: float = 0.0
    stored: float = 0.0
    iterations: int = 0
    rows: list[tuple[float, FloatArray, float, float, float, str]] = field(
        default_factory=list
    )
    torch: list[FloatArray] = field(default_factory=list)

    def accept(self, step: HeatStep, dt: float, at: FloatArray, label: str) -> None:
        self.rate = (step.T - self.T) / dt
        self.T, self.t, self.held = step.T, self.t + dt, step.held
        self.absorbed += step.gained
        self.lost += step.lost
        self.stored += step.stored
        self.iterations += step.iterations
        self.note(at, label)

    def note(self, at: FloatArray, label: str) -> None:
        row = (self.t, self.T, self.absorbed, self.lost, self.stored, label)
        self.rows.append(row)
        self.torch.append(at)


SPILL = np.sqrt(np.pi / 12.0)
"""Rise still to come to a spot when the torch moves off it: this times its rate of rise
times radius over pace, the integral of the Gaussian that passes (no conduction)."""

STRIDE = 0.4
"""Farthest that the torch goes in a step, in radii."""

NOWHERE = np.full(2, np.nan)


def solve_heat(
    body: Medium,
    phases: Sequence[Phase],
    *,
    initial: FloatArray | float = 20.0,
    fixed: Callable[[float], FloatArray] | None = None,
    stepping: Stepping | None = None,
    progress: Progress | None = None,
) -> HeatHistory:
    """March through the phases.  initial : degC, scalar or (n,).

    Raises NotConverged when a step fails at the smallest size, or when the torch
    cannot bring the spot under it to its target.
    """
    began = time.perf_counter()
    control = stepping or Stepping()
    march = _March(np.full(len(body.mesh.points), 1.0) * initial)
    march.note(NOWHERE, "start")
    with one_blas_thread():
        for phase in phases:
            _run_phase(body, phase, march, control, fixed, progress)
    times, fields, absorbed, lost, stored, labels = zip(*march.rows, strict=True)
    temperature = np.array(fields)
    return HeatHistory(
        frozen(times),
        frozen(temperature),
        frozen(march.torch),
        frozen(absorbed),
        frozen(lost),
        frozen(stored),
        frozen(temperature.max(axis=0)),
        tuple(labels),
        len(times) - 1,
        march.iterations,
        body.plan.ties.unknowns,
        time.perf_counter() - began,
    )


def _run_phase(
    body: Medium,
    phase: Phase,
    march: _March,
    control: Stepping,
    fixed: Callable[[float], FloatArray] | None,
    progress: Progress | None,
) -> None:
    begin = march.t
    held = phase.torch is not None and phase.torch.drive.target is not None
    if held and phase.times is not None:
        message = "a phase with a held torch sets its own steps; leave its times out"
        raise CaseError(message)
    walk = None if phase.torch is None else Walk(body, phase.torch)
    steps = None if phase.times is None else np.diff(np.append(0.0, phase.times))
    end = begin + (phase.duration if steps is None else float(np.sum(steps)))
    dt, count = control.first, 0
    while march.t < end - 1e-9 * max(end, 1.0):
        if phase.until is not None and march.T.max() <= phase.until:
            return
        if steps is None:
            dt = min(dt, end - march.t, control.largest)
            if 0.0 < end - march.t - dt < 0.2 * dt:
                dt = 0.5 * (end - march.t)
        else:
            dt = float(steps[count])
        step, dt, wanted = _one_step(
            body, phase, march, control, fixed, walk, dt, begin
        )
        at = NOWHERE
        if walk is not None:
            walk.accept(march.T, step.T, dt)
            at = walk.place(1.0)
        march.accept(step, dt, at, phase.label)
        if progress is not None:
            progress(march.t, f"{phase.label}, hottest {march.T.max():.0f} degC")
        if walk is not None and walk.through:
            return
        dt, count = wanted, count + 1
    if walk is not None and steps is None:
        message = f"the torch is not through its path at the end, t = {march.t:.0f} s"
        raise NotConverged(message, time=march.t)


def _one_step(
    body: Medium,
    phase: Phase,
    march: _March,
    control: Stepping,
    fixed: Callable[[float], FloatArray] | None,
    walk: Walk | None,
    dt: float,
    begin: float,
) -> tuple[HeatStep, float, float]:
    """A step that is accurate enough; returns it, its size, and the next size."""
    adaptive = phase.times is None
    smallest = 1e-4 * control.first
    while True:
        if walk is not None:
            dt = walk.plan(march.T, march.t, dt, adaptive)
        loads = Loads(
            phase.exchanges,
            phase.edges,
            _sources(body, phase, walk, march.t, dt, begin),
            fixed,
        )
        try:
            step = heat_step(
                body, march.T, march.t, dt, loads,
                second_order=control.second_order, tolerance=control.newton,
                held=march.held, rate=march.rate,
            )  # fmt: skip
        except NotConverged:
            if not adaptive or dt <= smallest:
                raise
            dt *= 0.25
            continue
        if not adaptive or not control.second_order:
            return step, dt, dt
        ratio = 0.9 * np.sqrt(control.tolerance / max(step.error, 1e-12))
        if ratio >= 0.6 or dt <= smallest:
            return step, dt, dt * float(np.clip(ratio, 0.4, 2.0))
        dt *= float(np.clip(ratio, 0.2, 0.7))


def _sources(
    body: Medium, phase: Phase, walk: Walk | None, t0: float, dt: float, begin: float
) -> Callable[[float], FloatArray] | None:
    """Sum of the phase's sources and its torch as a function of time."""
    if walk is None and not phase.sources:
        return None
    x, y = body.quadrature.xy[..., 0], body.quadrature.xy[..., 1]

    def source(t: float) -> FloatArray:
        total = np.zeros_like(x)
        for q in phase.sources:
            total += q(x, y, t - begin)
        if walk is not None:
            total += walk.flux(x, y, (t - t0) / dt)
        return total

    return source


class Walk:
    """Where the torch is on its path, and how far it goes in a step.

    A held torch stays until the spot under it has its target.  The advance of a step
    is predicted: it ends where the field now, plus the rise that the last step gave to
    the spot it ended on, falls to the target.  A torch that moves on still heats the
    spot behind it; it is left lower by that lead, so that each spot comes to its target
    when the torch has gone on, and at the end of the path when it goes off.
    """

    def __init__(self, body: Medium, torch: TorchPath) -> None:
        self.torch = torch
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
        longest = STRIDE * drive.radius
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

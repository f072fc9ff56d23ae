"""The heat march of a plate with thickness: phases to a history.

Phases, steps and history are those of `heat`; a phase's sources and torch are per plan
area and come in on the faces that the medium is heated on.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen, sealed
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.conduction import HeatStep, KeptFactor
from shrinksim.fem.exchange import EdgeSource, Loads
from shrinksim.fem.slab import PlateMedium
from shrinksim.fem.sparse import one_blas_thread
from shrinksim.history import HeatHistory
from shrinksim.phase import Phase, Stepping
from shrinksim.shop.pattern import path_length
from shrinksim.walk import STRIDE, Walk, steady

NOWHERE = np.full(2, np.nan)

Progress = Callable[[float, str], None]


@dataclass
class _March:
    """The growing history, and what the next step starts from."""

    T: FloatArray
    t: float = 0.0
    held: FloatArray | None = None
    content: float = 0.0
    rate: FloatArray | None = None
    sums: FloatArray = field(default_factory=lambda: np.zeros(3))
    iterations: int = 0
    rows: list[tuple[float, FloatArray, FloatArray, FloatArray, str]] = field(
        default_factory=list
    )
    factor: KeptFactor = field(default_factory=KeptFactor)

    def accept(self, step: HeatStep, dt: float, at: FloatArray, label: str) -> None:
        if self.held is None:
            self.content = step.content - step.stored
        self.rate = (step.T - self.T) / dt
        self.T, self.t, self.held = step.T, self.t + dt, step.held
        lost, gained = self.sums[1] + step.lost, self.sums[0] + step.gained
        self.sums = np.array([gained, lost, step.content - self.content])
        self.iterations += step.iterations
        self.note(at, label)

    def note(self, at: FloatArray, label: str) -> None:
        self.rows.append((self.t, self.T, at, self.sums, label))


def solve_plate_heat(
    body: PlateMedium,
    phases: Sequence[Phase],
    *,
    initial: FloatArray | float = 20.0,
    fixed: Callable[[float], FloatArray] | None = None,
    stepping: Stepping | None = None,
    progress: Progress | None = None,
) -> HeatHistory:
    """March through the phases.  initial : degC, scalar or of the medium's nodes.

    Raises NotConverged when a step fails at the smallest size, CaseError for a phase
    that the plate cannot be taken through.
    """
    began = time.perf_counter()
    control = stepping or Stepping()
    march = _March(np.full(len(body.mesh.points), 1.0) * initial)
    march.note(NOWHERE, "start")
    with one_blas_thread():
        for phase in phases:
            _run_phase(body, phase, march, control, fixed, progress)
    times, fields, torch, sums, labels = zip(*march.rows, strict=True)
    temperature, (absorbed, lost, stored) = np.array(fields), np.array(sums).T
    return HeatHistory(
        frozen(times), sealed(temperature), frozen(torch), frozen(absorbed),
        frozen(lost), frozen(stored), frozen(temperature.max(axis=0)), tuple(labels),
        len(times) - 1, march.iterations, body.plan.ties.unknowns,
        time.perf_counter() - began,
    )  # fmt: skip


def _run_phase(
    body: PlateMedium, phase: Phase, march: _March, control: Stepping,
    fixed: Callable[[float], FloatArray] | None, progress: Progress | None,
) -> None:  # fmt: skip
    walk, begin = _walk(body, phase), march.t
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
        at = NOWHERE if phase.place is None else phase.place
        if walk is not None:
            at = walk.place(1.0)
            walk.accept()
        march.accept(step, dt, at, phase.label)
        if progress is not None:
            progress(march.t, f"{phase.label}, hottest {march.T.max():.0f} degC")
        if walk is not None and walk.through:
            return
        dt, count = wanted, count + 1
    if walk is not None and steps is None:
        message = f"the torch is not through its path at the end, t = {march.t:.0f} s"
        raise NotConverged(message, time=march.t)


def _walk(body: PlateMedium, phase: Phase) -> Walk | None:
    torch = phase.torch
    if torch is None:
        return None
    if torch.drive.target is not None or phase.following is not None:
        message = (
            f"phase {phase.label!r}: a plate with thickness takes a torch of given "
            "speed with nothing that follows it; give a speed, cool afterwards"
        )
        raise CaseError(message)
    table = steady(float(path_length(torch.points)[-1]), torch.drive.speed)
    return Walk(body, torch, table, STRIDE * torch.drive.radius)  # type: ignore[arg-type]


def _one_step(
    body: PlateMedium, phase: Phase, march: _March, control: Stepping,
    fixed: Callable[[float], FloatArray] | None, walk: Walk | None, dt: float,
    begin: float,
) -> tuple[HeatStep, float, float]:  # fmt: skip
    """A step that is accurate enough; returns it, its size, and the next size."""
    adaptive = phase.times is None
    smallest = 1e-4 * control.first
    while True:
        if walk is not None:
            dt = walk.plan(dt, adaptive)
        loads = _loads(body, phase, walk, march.t, dt, begin, fixed)
        try:
            step = body.step_to(
                march.T, march.t, dt, loads, second_order=control.second_order,
                tolerance=control.newton, held=march.held, rate=march.rate,
                kept=march.factor,
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


def _loads(
    body: PlateMedium, phase: Phase, walk: Walk | None, t0: float, dt: float,
    begin: float, fixed: Callable[[float], FloatArray] | None,
) -> Loads:  # fmt: skip
    """What acts during a step, on the march's clock."""
    x, y = body.quadrature.xy[..., 0], body.quadrature.xy[..., 1]

    def source(t: float) -> FloatArray:
        total = np.zeros_like(x)
        for q in phase.sources:
            total += q(x, y, t - begin)
        if walk is not None:
            total += walk.flux(x, y, (t - t0) / dt)
        return total

    def moved(inlet: EdgeSource) -> EdgeSource:
        return replace(inlet, flux=lambda x, y, t: inlet.flux(x, y, t - begin))

    heated = walk is not None or phase.sources
    return Loads(
        phase.exchanges,
        phase.edges,
        source if heated else None,
        fixed,
        tuple(moved(inlet) for inlet in phase.inlets),
    )

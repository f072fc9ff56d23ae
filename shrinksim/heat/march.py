"""Heat stage: time integration of the phases to a temperature history.

Each step solves d/dt int N_a rho H(T) dV = - int grad N_a . k grad T dV + int N_a (q_in
- q_out) dA by SDIRK2 (see fem.conduction).  The step size follows from the error
estimate of the step and from the distance that the torch travels in it.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen, sealed
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.conduction import (
    EdgeSource,
    Exchange,
    FactorCache,
    HeatStep,
    Loads,
)
from shrinksim.fem.heatable import Heatable
from shrinksim.fem.sparse import one_blas_thread
from shrinksim.heat.gauge import gauge_on, heated_elements
from shrinksim.heat.history import HeatHistory
from shrinksim.heat.phase import Phase, PhaseName, Stepping
from shrinksim.heat.torch_motion import (
    STRIDE,
    Timetable,
    TorchMotion,
    constant_speed,
)
from shrinksim.heat.torch_schedule import (
    ROUGH_NEWTON,
    ROUGH_STEPS,
    ROUGH_STRIDE,
    PassResult,
    find_schedule,
)
from shrinksim.heat.trailing_cooling import (
    CoolingPass,
    remaining_pass,
    trailing_exchanges,
)
from shrinksim.shop.pattern import path_length

Progress = Callable[[float, str], None]


@dataclass
class _March:
    """State of the march and the rows recorded so far.

    absorbed, lost, stored : J since the start, when the heat content was ``content`` J.
    nodal_heat : (n,) J, see HeatStep.  rate : (n,) K/s of the last step.
    """

    T: FloatArray
    t: float = 0.0
    nodal_heat: FloatArray | None = None
    content: float | None = None
    rate: FloatArray | None = None
    absorbed: float = 0.0
    lost: float = 0.0
    stored: float = 0.0
    iterations: int = 0
    rows: list[tuple[float, FloatArray, float, float, float, PhaseName]] = field(
        default_factory=list
    )
    torch: list[FloatArray] = field(default_factory=list)
    passes: list[CoolingPass] = field(default_factory=list)
    tables: list[Timetable] = field(default_factory=list)
    cache: FactorCache = field(default_factory=FactorCache)

    def accept(
        self, step: HeatStep, dt: float, at: FloatArray, name: PhaseName
    ) -> None:
        self.rate = (step.T - self.T) / dt
        self.T, self.t, self.nodal_heat = step.T, self.t + dt, step.nodal_heat
        self.absorbed += step.gained
        self.lost += step.lost
        if self.content is None:
            self.content = step.content - step.stored
        self.stored = step.content - self.content
        self.iterations += step.iterations
        now = self.t + 1e-9 * max(self.t, 1.0)
        self.passes = [one for one in self.passes if one.end > now]
        self.record(at, name)

    def record(self, at: FloatArray, name: PhaseName) -> None:
        row = (self.t, self.T, self.absorbed, self.lost, self.stored, name)
        self.rows.append(row)
        self.torch.append(at)


NO_TORCH = np.full(2, np.nan)

TARGET_TOLERANCE = 0.5
"""K between the hottest steel and the ``heat_to`` of a phase at which it ends."""


def solve_heat(
    body: Heatable,
    phases: Sequence[Phase],
    *,
    initial: FloatArray | float = 20.0,
    fixed: Callable[[float], FloatArray] | None = None,
    stepping: Stepping | None = None,
    progress: Progress | None = None,
    timetables: Sequence[Timetable] = (),
) -> HeatHistory:
    """March through the phases.  initial : degC, scalar or (n,).

    timetables : of the held torches, in order, from an earlier history; they are followed
    instead of being searched for, for the same schedule on another mesh.

    Raises NotConverged when a step fails at the smallest size, or when the torch
    cannot bring the steel to its target.
    """
    began = time.perf_counter()
    control = stepping or Stepping()
    march = _March(np.full(len(body.mesh.points), 1.0) * initial)
    march.record(NO_TORCH, PhaseName("start"))
    with one_blas_thread():
        for phase in phases:
            if phase.torch is None or phase.torch.drive.target is None:
                _run_phase(body, phase, march, control, fixed, progress)
            elif len(march.tables) < len(timetables):
                march.tables.append(timetables[len(march.tables)])
                table = march.tables[-1]
                _run_phase(body, phase, march, control, fixed, progress, table)
            else:
                march = _held_phase(body, phase, march, control, fixed, progress)
    times, fields, absorbed, lost, stored, names = zip(*march.rows, strict=True)
    temperature = np.array(fields)
    return HeatHistory(
        frozen(times),
        sealed(temperature),
        frozen(march.torch),
        frozen(absorbed),
        frozen(lost),
        frozen(stored),
        frozen(temperature.max(axis=0)),
        tuple(names),
        len(times) - 1,
        march.iterations,
        body.plan.ties.unknowns,
        time.perf_counter() - began,
        tuple(march.tables),
    )


def _held_phase(
    body: Heatable, phase: Phase, march: _March, control: Stepping,
    fixed: Callable[[float], FloatArray] | None, progress: Progress | None,
) -> _March:  # fmt: skip
    """March through a phase with a held torch, with the schedule found for its target."""
    torch = phase.torch
    assert torch is not None
    if phase.times is not None:
        message = "a phase with a held torch sets its own steps; leave its times out"
        raise CaseError(message)
    gauge = gauge_on(body, torch, phase.reading, march.T)
    heated, count = heated_elements(body, torch), len(march.rows)
    calm = Phase(gauge.after, phase.exchanges, phase.edges)
    depth = float(np.median(body.volume[heated] / body.quadrature.area[heated]))

    def run_pass(table: Timetable, rough: bool) -> PassResult[_March]:
        other = _branch(march)
        other.tables.append(table)
        steps = control
        if rough:
            steps = replace(
                control,
                tolerance=ROUGH_STEPS * control.tolerance,
                newton=max(control.newton, ROUGH_NEWTON),
            )
        stride = ROUGH_STRIDE if rough else STRIDE
        _run_phase(body, phase, other, steps, fixed, progress, table, stride)
        later = other
        if gauge.after > 0.0:
            later = _branch(other)
            _run_phase(body, calm, later, steps, fixed, progress)
        times, fields = zip(*(row[:2] for row in later.rows[count:]), strict=True)
        read = gauge.read(np.array(times) - march.t, np.array(fields), table)
        return PassResult(*read, other)

    at_start = gauge.at_points(march.T[None])[0]
    return find_schedule(torch, at_start, depth, run_pass, gauge.near)


def _branch(march: _March) -> _March:
    """A copy that can be marched on by itself."""
    return replace(
        march, rows=[*march.rows], torch=[*march.torch], passes=[*march.passes],
        tables=[*march.tables], cache=FactorCache(),
    )  # fmt: skip


def _run_phase(
    body: Heatable, phase: Phase, march: _March, control: Stepping,
    fixed: Callable[[float], FloatArray] | None, progress: Progress | None,
    table: Timetable | None = None, stride: float = STRIDE,
) -> None:  # fmt: skip
    """March through one phase, with adaptive or given steps."""
    begin = march.t
    motion = _torch_motion(body, phase, table, stride)
    steps = None if phase.times is None else np.diff(np.append(0.0, phase.times))
    end = begin + (phase.duration if steps is None else float(np.sum(steps)))
    dt, count = control.first, 0
    while march.t < end - 1e-9 * max(end, 1.0):
        if phase.until is not None and march.T.max() <= phase.until:
            return
        if _at_target(phase, march.T):
            return
        if phase.until_passes_end and not march.passes:
            return
        if steps is None:
            dt = _step_to_target(phase, march, min(dt, end - march.t, control.largest))
            dt = min([dt, *(one.longest_step(march.t) for one in march.passes)])
            if 0.0 < end - march.t - dt < 0.2 * dt:
                dt = 0.5 * (end - march.t)
        else:
            dt = float(steps[count])
        step, dt, next_dt = _one_step(
            body, phase, march, control, fixed, motion, dt, begin
        )
        at = NO_TORCH if phase.heated_at is None else phase.heated_at
        if motion is not None:
            at = motion.position(1.0)
            motion.accept()
        march.accept(step, dt, at, phase.name)
        if progress is not None:
            progress(march.t, f"{phase.name.words}, hottest {march.T.max():.0f} degC")
        if motion is not None and motion.finished:
            _add_remaining_pass(phase, march, motion, begin)
            return
        dt, count = next_dt, count + 1
    if phase.heat_to is not None and not _at_target(phase, march.T):
        message = (
            f"the torch cannot reach its target: after {phase.duration:.0f} s the "
            f"hottest steel is at {_hottest(phase, march.T):.0f} degC of "
            f"{phase.heat_to:.0f} degC; "
            "use more power, a smaller radius or a shorter length, or lower the target"
        )
        raise NotConverged(message, time=march.t)
    if motion is not None and steps is None:
        message = f"the torch is not through its path at the end, t = {march.t:.0f} s"
        raise NotConverged(message, time=march.t)


def _torch_motion(
    body: Heatable, phase: Phase, table: Timetable | None, stride: float
) -> TorchMotion | None:
    """Motion of the phase's torch by its timetable, or at constant speed."""
    torch = phase.torch
    if torch is None:
        return None
    if table is None:
        table = constant_speed(float(path_length(torch.points)[-1]), torch.drive.speed)
    stride *= torch.drive.radius
    if phase.trailing_cooling is not None:
        stride = min(stride, phase.trailing_cooling.stride)
    return TorchMotion(body, torch, table, stride)


def _add_remaining_pass(
    phase: Phase, march: _March, motion: TorchMotion, begin: float
) -> None:
    """Keep the trailing cooling of a finished torch for the phases after it."""
    if phase.trailing_cooling is not None:
        points = motion.torch.points
        rest = remaining_pass(phase.trailing_cooling, points, begin, march.t)
        march.passes += [] if rest is None else [rest]


def _exchanges(
    body: Heatable, phase: Phase, march: _March, motion: TorchMotion | None, dt: float
) -> tuple[Exchange, ...]:
    """Exchanges of the phase, and trailing cooling of its torch and of earlier ones."""
    passes, spray = list(march.passes), phase.trailing_cooling
    if motion is not None and spray is not None:
        t0, start, travel = march.t, motion.start, motion.travel

        def distance(t: float) -> float:
            return start + (t - t0) / dt * travel - spray.behind

        passes.append(CoolingPass(spray, motion.torch.points, distance))
    return (*phase.exchanges, *trailing_exchanges(passes, body.quadrature.xy))


def _at_target(phase: Phase, T: FloatArray) -> bool:
    """Whether the hottest steel is at the phase's ``heat_to``; False without one."""
    if phase.heat_to is None:
        return False
    return _hottest(phase, T) >= phase.heat_to - TARGET_TOLERANCE


def _step_to_target(phase: Phase, march: _March, dt: float) -> float:
    """Step that does not overshoot the phase's ``heat_to``, by linear extrapolation."""
    if phase.heat_to is None or march.rate is None:
        return dt
    nodes = phase.target_nodes
    every = np.arange(len(march.T)) if nodes is None else nodes
    hottest = int(every[np.argmax(march.T[every])])
    short, rise = phase.heat_to - float(march.T[hottest]), float(march.rate[hottest])
    return max(short / rise, 0.02 * dt) if rise * dt > short else dt


def _share_to_target(phase: Phase, march: _March, step: HeatStep) -> float:
    """Share of a step that ends at ``heat_to``; 1 when the step does not overshoot."""
    hottest = _hottest(phase, step.T)
    if phase.heat_to is None or hottest <= phase.heat_to + TARGET_TOLERANCE:
        return 1.0
    before = _hottest(phase, march.T)
    return float(np.clip((phase.heat_to - before) / (hottest - before), 0.1, 0.95))


def _hottest(phase: Phase, T: FloatArray) -> float:
    """Highest temperature (degC) of the nodes that ``heat_to`` refers to."""
    return float((T if phase.target_nodes is None else T[phase.target_nodes]).max())


def _inlets(phase: Phase, begin: float) -> tuple[EdgeSource, ...]:
    """Inlets of the phase, with time from the start of the march."""

    def moved(inlet: EdgeSource) -> EdgeSource:
        return replace(inlet, flux=lambda x, y, t: inlet.flux(x, y, t - begin))

    return tuple(moved(inlet) for inlet in phase.inlets)


def _one_step(
    body: Heatable, phase: Phase, march: _March, control: Stepping,
    fixed: Callable[[float], FloatArray] | None, motion: TorchMotion | None,
    dt: float, begin: float,
) -> tuple[HeatStep, float, float]:  # fmt: skip
    """One step within the error tolerance; returns it, its size, and the next size."""
    adaptive = phase.times is None
    smallest = 1e-4 * control.first
    while True:
        if motion is not None:
            dt = motion.limit_step(dt, adaptive)
        loads = Loads(
            _exchanges(body, phase, march, motion, dt),
            phase.edges,
            _sources(body, phase, motion, march.t, dt, begin),
            fixed,
            _inlets(phase, begin),
            phase.sides,
        )
        try:
            step = body.step_to(
                march.T, march.t, dt, loads,
                second_order=control.second_order, tolerance=control.newton,
                nodal_heat=march.nodal_heat, rate=march.rate, cache=march.cache,
            )  # fmt: skip
        except NotConverged:
            if not adaptive or dt <= smallest:
                raise
            dt *= 0.25
            continue
        if not adaptive or not control.second_order:
            return step, dt, dt
        share = _share_to_target(phase, march, step)
        if share < 1.0 and dt > smallest:
            dt *= share
            continue
        ratio = 0.9 * np.sqrt(control.tolerance / max(step.error, 1e-12))
        if ratio >= 0.6 or dt <= smallest:
            return step, dt, dt * float(np.clip(ratio, 0.4, 2.0))
        dt *= float(np.clip(ratio, 0.2, 0.7))


def _sources(
    body: Heatable, phase: Phase, motion: TorchMotion | None, t0: float, dt: float,
    begin: float,
) -> Callable[[float], FloatArray] | None:  # fmt: skip
    """Sum of the phase's sources and its torch as a function of time."""
    if motion is None and not phase.sources:
        return None
    x, y = body.quadrature.xy[..., 0], body.quadrature.xy[..., 1]

    def source(t: float) -> FloatArray:
        total = np.zeros_like(x)
        for q in phase.sources:
            total += q(x, y, t - begin)
        if motion is not None:
            total += motion.flux(x, y, (t - t0) / dt)
        return total

    return source

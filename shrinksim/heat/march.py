"""The heat stage: phases of torch, waiting and cooling marched to a history."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from shrinksim.arrays import FloatArray, frozen, sealed
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.basis import locate
from shrinksim.fem.conduction import (
    EdgeSource,
    Exchange,
    HeatStep,
    KeptFactor,
    Loads,
)
from shrinksim.fem.heatable import Heatable
from shrinksim.fem.sparse import one_blas_thread
from shrinksim.heat.history import HeatHistory
from shrinksim.heat.phase import Phase, PhaseName, Stepping
from shrinksim.heat.torch_motion import STRIDE, Timetable, Walk, steady, under
from shrinksim.heat.torch_schedule import (
    ROUGH,
    ROUGH_NEWTON,
    ROUGH_STRIDE,
    Tried,
    led,
    places_on,
)
from shrinksim.heat.trailing_cooling import Trail, exchange_under, left_behind
from shrinksim.shop.pattern import along, path_length

Progress = Callable[[float, str], None]


@dataclass
class _March:
    """The growing history; ``absorbed``, ``lost`` and ``stored`` are sums since the
    start, when the steel held ``content`` J.
    """

    T: FloatArray
    t: float = 0.0
    held: FloatArray | None = None
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
    trails: list[Trail] = field(default_factory=list)
    tables: list[Timetable] = field(default_factory=list)
    factor: KeptFactor = field(default_factory=KeptFactor)

    def accept(
        self, step: HeatStep, dt: float, at: FloatArray, name: PhaseName
    ) -> None:
        self.rate = (step.T - self.T) / dt
        self.T, self.t, self.held = step.T, self.t + dt, step.held
        self.absorbed += step.gained
        self.lost += step.lost
        if self.content is None:
            self.content = step.content - step.stored
        self.stored = step.content - self.content
        self.iterations += step.iterations
        now = self.t + 1e-9 * max(self.t, 1.0)
        self.trails = [trail for trail in self.trails if trail.end > now]
        self.note(at, name)

    def note(self, at: FloatArray, name: PhaseName) -> None:
        row = (self.t, self.T, self.absorbed, self.lost, self.stored, name)
        self.rows.append(row)
        self.torch.append(at)


NOWHERE = np.full(2, np.nan)

NEAR = 0.5
"""K, how near the hottest steel comes to a target that it is brought to."""


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

    timetables : of the held torches, in order, that are not to be looked for: those of
    an earlier history, to go the same way on another mesh.

    Raises NotConverged when a step fails at the smallest size, or when the torch
    cannot bring the steel to its target.
    """
    began = time.perf_counter()
    control = stepping or Stepping()
    march = _March(np.full(len(body.mesh.points), 1.0) * initial)
    march.note(NOWHERE, PhaseName("start"))
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
    body: Heatable,
    phase: Phase,
    march: _March,
    control: Stepping,
    fixed: Callable[[float], FloatArray] | None,
    progress: Progress | None,
) -> _March:
    """A held torch, led so that the hottest steel that it heats comes to its target."""
    torch = phase.torch
    assert torch is not None
    if phase.times is not None:
        message = "a phase with a held torch sets its own steps; leave its times out"
        raise CaseError(message)
    element, N = locate(body.mesh, along(torch.points, places_on(torch)))
    probe = body.mesh.triangles[element]
    region = [k for k, name in enumerate(body.mesh.regions) if name in torch.on]
    heated = np.isin(body.mesh.region, region)
    nodes = under(body, torch, np.unique(body.mesh.triangles[heated]))
    count, start = len(march.rows), march.T[nodes]
    depth = float(np.median(body.volume[heated] / body.quadrature.area[heated]))

    def trial(table: Timetable, rough: bool) -> Tried[_March]:
        other = replace(
            march, rows=[*march.rows], torch=[*march.torch], trails=[*march.trails],
            tables=[*march.tables, table], factor=KeptFactor(),
        )  # fmt: skip
        steps = control
        if rough:
            steps = replace(
                control,
                tolerance=ROUGH * control.tolerance,
                newton=max(control.newton, ROUGH_NEWTON),
            )
        stride = ROUGH_STRIDE if rough else STRIDE
        _run_phase(body, phase, other, steps, fixed, progress, table, stride)
        fields = np.array([row[1] for row in other.rows[count:]])
        peak = fields[:, nodes].max(axis=0)
        hottest = peak[peak > start + 1.0].max(initial=float(start.min()))
        at = np.einsum("ska,ka->sk", fields[:, probe], N).max(axis=0)
        return Tried(at, float(hottest), other)

    return led(torch, np.einsum("ka,ka->k", march.T[probe], N), depth, trial)


def _run_phase(
    body: Heatable,
    phase: Phase,
    march: _March,
    control: Stepping,
    fixed: Callable[[float], FloatArray] | None,
    progress: Progress | None,
    table: Timetable | None = None,
    stride: float = STRIDE,
) -> None:
    begin = march.t
    walk = _walk(body, phase, table, stride)
    steps = None if phase.times is None else np.diff(np.append(0.0, phase.times))
    end = begin + (phase.duration if steps is None else float(np.sum(steps)))
    dt, count = control.first, 0
    while march.t < end - 1e-9 * max(end, 1.0):
        if phase.until is not None and march.T.max() <= phase.until:
            return
        if phase.reach is not None and _hottest(phase, march.T) >= phase.reach - NEAR:
            return
        if phase.trailing and not march.trails:
            return
        if steps is None:
            dt = _to_reach(phase, march, min(dt, end - march.t, control.largest))
            dt = min([dt, *(trail.longest(march.t) for trail in march.trails)])
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
        march.accept(step, dt, at, phase.name)
        if progress is not None:
            progress(march.t, f"{phase.name.words}, hottest {march.T.max():.0f} degC")
        if walk is not None and walk.through:
            _leave_behind(phase, march, walk, begin)
            return
        dt, count = wanted, count + 1
    if phase.reach is not None and _hottest(phase, march.T) < phase.reach - NEAR:
        message = (
            f"the torch cannot reach its target: after {phase.duration:.0f} s the "
            f"hottest steel is at {_hottest(phase, march.T):.0f} degC of "
            f"{phase.reach:.0f} degC; "
            "use more power, a smaller radius or a shorter length, or lower the target"
        )
        raise NotConverged(message, time=march.t)
    if walk is not None and steps is None:
        message = f"the torch is not through its path at the end, t = {march.t:.0f} s"
        raise NotConverged(message, time=march.t)


def _walk(
    body: Heatable, phase: Phase, table: Timetable | None, stride: float
) -> Walk | None:
    torch = phase.torch
    if torch is None:
        return None
    if table is None:
        table = steady(float(path_length(torch.points)[-1]), torch.drive.speed)
    stride *= torch.drive.radius
    if phase.following is not None:
        stride = min(stride, phase.following.stride)
    return Walk(body, torch, table, stride)


def _leave_behind(phase: Phase, march: _March, walk: Walk, begin: float) -> None:
    """Let what follows the torch go on by itself."""
    if phase.following is not None:
        points = walk.torch.points
        trail = left_behind(phase.following, points, begin, march.t)
        march.trails += [] if trail is None else [trail]


def _exchanges(
    body: Heatable, phase: Phase, march: _March, walk: Walk | None, dt: float
) -> tuple[Exchange, ...]:
    """The phase's exchanges, and what follows its torch and earlier ones."""
    trails, spray = list(march.trails), phase.following
    if walk is not None and spray is not None:
        t0, at, move = march.t, walk.at, walk.move

        def distance(t: float) -> float:
            return at + (t - t0) / dt * move - spray.behind

        trails.append(Trail(spray, walk.torch.points, distance))
    return (*phase.exchanges, *exchange_under(trails, body.quadrature.xy))


def _to_reach(phase: Phase, march: _March, dt: float) -> float:
    """A step that does not overshoot the phase's ``reach`` by much."""
    if phase.reach is None or march.rate is None:
        return dt
    every = np.arange(len(march.T)) if phase.near is None else phase.near
    hottest = int(every[np.argmax(march.T[every])])
    short, rise = phase.reach - float(march.T[hottest]), float(march.rate[hottest])
    return max(short / rise, 0.02 * dt) if rise * dt > short else dt


def _over(phase: Phase, march: _March, step: HeatStep) -> float:
    """Share of a step that ends at the phase's ``reach``; 1 when it is not over it."""
    if phase.reach is None or _hottest(phase, step.T) <= phase.reach + NEAR:
        return 1.0
    before = _hottest(phase, march.T)
    rise = _hottest(phase, step.T) - before
    return float(np.clip((phase.reach - before) / rise, 0.1, 0.95))


def _hottest(phase: Phase, T: FloatArray) -> float:
    """Hottest of the steel (degC) that the phase's ``reach`` is judged on."""
    return float((T if phase.near is None else T[phase.near]).max())


def _inlets(phase: Phase, begin: float) -> tuple[EdgeSource, ...]:
    """The phase's inlets on the march's clock."""

    def moved(inlet: EdgeSource) -> EdgeSource:
        return replace(inlet, flux=lambda x, y, t: inlet.flux(x, y, t - begin))

    return tuple(moved(inlet) for inlet in phase.inlets)


def _one_step(
    body: Heatable,
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
            dt = walk.plan(dt, adaptive)
        loads = Loads(
            _exchanges(body, phase, march, walk, dt),
            phase.edges,
            _sources(body, phase, walk, march.t, dt, begin),
            fixed,
            _inlets(phase, begin),
        )
        try:
            step = body.step_to(
                march.T, march.t, dt, loads,
                second_order=control.second_order, tolerance=control.newton,
                held=march.held, rate=march.rate, kept=march.factor,
            )  # fmt: skip
        except NotConverged:
            if not adaptive or dt <= smallest:
                raise
            dt *= 0.25
            continue
        if not adaptive or not control.second_order:
            return step, dt, dt
        over = _over(phase, march, step)
        if over < 1.0 and dt > smallest:
            dt *= over
            continue
        ratio = 0.9 * np.sqrt(control.tolerance / max(step.error, 1e-12))
        if ratio >= 0.6 or dt <= smallest:
            return step, dt, dt * float(np.clip(ratio, 0.4, 2.0))
        dt *= float(np.clip(ratio, 0.2, 0.7))


def _sources(
    body: Heatable, phase: Phase, walk: Walk | None, t0: float, dt: float, begin: float
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

"""Strain stage: quasi-static equilibrium over a temperature history.

int B^T sigma dV = f_ext at every knot, sigma = C(T) (B u - eps_thermal - eps_phase -
eps_plastic): small strain, J2 plasticity with radial return (Simo & Hughes 1998), in a
sheet (plane stress) or a section (generalised plane strain).  Any dofs may be tied,
loaded or sprung.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np

from shrinksim.arrays import FloatArray, IntArray, frozen, sealed
from shrinksim.errors import NotConverged
from shrinksim.fem.newton import SLOW, Balance, Point, TangentCache, Trial, solve_step
from shrinksim.fem.section import SectionBody, section_body
from shrinksim.fem.sheet import Body, strain_body
from shrinksim.fem.sparse import one_blas_thread
from shrinksim.fem.structure import State, Strainable, Structure, Support, support
from shrinksim.fem.transformation import transformation_strain

__all__ = [
    "Body",
    "Control",
    "Schedule",
    "SectionBody",
    "StrainHistory",
    "Support",
    "elastic_response",
    "knots",
    "section_body",
    "solve_strain",
    "strain_body",
    "support",
]

Progress = Callable[[float, str], None]


@dataclass(frozen=True)
class Schedule:
    """Knots of the march: times (s,), temperature (s, n) degC, fraction (s,) of the
    support's load.  The first knot is the stress-free start.
    """

    times: FloatArray
    temperature: FloatArray
    fraction: FloatArray


@dataclass(frozen=True)
class Control:
    """Limits of the march.

    tolerance : out-of-balance over the internal forces (the form is total: it does not
    add up over the steps).  iterations in a step, halvings of a step.  fold : m of
    displacement of the last unknown (the last ``folding`` ones) that counts as folding.
    last : tolerance of the last two knots.  slow : see fem.newton.Balance.
    """

    tolerance: float = 3e-4
    iterations: int = 18
    halvings: int = 6
    fold: float = np.inf
    last: float = 1e-6
    folding: int = 1
    slow: float = SLOW


@dataclass(frozen=True)
class StrainHistory:
    """Displacements, forces and stresses at the knots of the schedule.

    q (s, m) unknowns; push (s, m) N acting on them; displacement (s, n, 2 or 3)
    m; section_strain (s, 3) of a section, (s, 0) of a sheet, see fem.section; stress,
    plastic_strain (e, q, 3 or 4) at the end; equivalent_plastic (e, q); hot_stress (s,) Pa
    largest von Mises stress; residual (s,) relative out of balance; snapshots: knot
    number -> stress.  Elements of overlays come after those of the mesh.
    """

    times: FloatArray
    temperature: FloatArray
    fraction: FloatArray
    q: FloatArray
    push: FloatArray
    displacement: FloatArray
    section_strain: FloatArray
    stress: FloatArray
    plastic_strain: FloatArray
    equivalent_plastic: FloatArray
    hot_stress: FloatArray
    residual: FloatArray
    snapshots: dict[int, FloatArray]
    steps: int
    iterations: int
    unknowns: int
    seconds: float


@dataclass
class _March:
    """State of the march, and the record (s, m), (s,) of which ``count`` rows are filled.

    velocity : (m,) change of q in the last step of ``velocity_dt`` s.
    """

    state: State
    q: FloatArray
    push: FloatArray
    hot: FloatArray
    residual: FloatArray
    count: int = 1
    velocity: FloatArray | None = None
    velocity_dt: float = 0.0
    cache: TangentCache = field(default_factory=TangentCache)
    iterations: int = 0
    steps: int = 0


def solve_strain(
    body: Strainable,
    schedule: Schedule,
    hold: Support,
    *,
    control: Control | None = None,
    snapshots: tuple[int, ...] = (),
    progress: Progress | None = None,
) -> StrainHistory:
    """Strain history of a body on its supports over a schedule.

    Raises NotConverged with time, place and residual; its ``partial`` attribute holds
    the history up to there.
    """
    began = time.perf_counter()
    control = control or Control()
    structure = body.structure(hold)
    rows, m = len(schedule.times), hold.ties.unknowns
    march = _March(
        structure.begin,
        q=np.zeros((rows, m)),
        push=np.zeros((rows, m)),
        hot=np.zeros(rows),
        residual=np.zeros(rows),
    )
    stresses: dict[int, FloatArray] = {}
    with one_blas_thread():
        for k in range(1, len(schedule.times)):
            if k >= len(schedule.times) - 2:
                least = min(control.tolerance, control.last)
                control = replace(control, tolerance=least)
            try:
                _knot(body, structure, schedule, hold, march, control, k)
            except NotConverged as error:
                error.partial = _history(body, schedule, hold, march, stresses, began)
                raise
            if k in snapshots:
                stresses[k] = march.state.stress
            if progress is not None:
                hottest = schedule.temperature[k].max()
                progress(float(schedule.times[k]), f"hottest {hottest:.0f} degC")
    return _history(body, schedule, hold, march, stresses, began)


def _history(
    body: Strainable, schedule: Schedule, hold: Support, march: _March,
    stresses: dict[int, FloatArray], began: float,
) -> StrainHistory:  # fmt: skip
    """History up to the last filled row."""
    count = march.count
    full = np.empty((count, len(hold.offset)))
    for k in range(count):
        full[k] = hold.ties.expand(march.q[k]) + schedule.fraction[k] * hold.offset
    nodes, components = body.nodal_shape
    nodal = nodes * components
    state = march.state
    return StrainHistory(
        frozen(schedule.times[:count]),
        frozen(schedule.temperature[:count]),
        frozen(schedule.fraction[:count]),
        sealed(march.q[:count]),
        sealed(march.push[:count]),
        sealed(full[:, :nodal].reshape(count, nodes, components)),
        frozen(full[:, nodal:]),
        frozen(state.stress),
        frozen(state.eps),
        frozen(state.p),
        frozen(march.hot[:count]),
        frozen(march.residual[:count]),
        stresses,
        march.steps,
        march.iterations,
        hold.ties.unknowns,
        time.perf_counter() - began,
    )


def _knot(
    body: Strainable, structure: Structure, schedule: Schedule, hold: Support,
    march: _March, control: Control, k: int,
) -> None:  # fmt: skip
    """March from knot k - 1 to k; a step is halved where Newton does not converge."""
    T0, T1 = schedule.temperature[k - 1], schedule.temperature[k]
    f0, f1 = schedule.fraction[k - 1], schedule.fraction[k]
    t0, t1 = float(schedule.times[k - 1]), float(schedule.times[k])
    done, part, size = 0.0, 1.0, max(t1 - t0, 1e-12)
    hot, residual = 0.0, 0.0
    while done < 1.0 - 1e-9:
        part = min(part, 1.0 - done)
        goal = done + part
        T, before = T0 + goal * (T1 - T0), T0 + done * (T1 - T0)
        fraction = float(f0 + goal * (f1 - f0))
        old = _anneal(body, march.state, before, T)
        phase_strain, austenite = transformation_strain(body, old.austenite, T)
        guesses = [np.zeros_like(old.q)]
        if march.velocity is not None and f1 == f0:
            guesses.insert(
                0, march.velocity * min(part * size / march.velocity_dt, 3.0)
            )
        try:
            trial, point = _solve(
                body, structure, control, old, T, fraction, phase_strain, guesses,
                t0 + goal * size, march.cache,
            )  # fmt: skip
        except NotConverged:
            if part <= 0.5**control.halvings:
                raise
            part *= 0.5
            continue
        march.velocity = trial.q - old.q if f1 == f0 else None
        march.velocity_dt = part * size
        march.state = State(trial.q, *point.state, austenite=austenite)
        march.iterations += trial.iterations
        march.steps += 1
        hot, residual = max(hot, float(point.measure)), trial.residual
        done, part = goal, 2.0 * part
    march.q[k], march.hot[k], march.residual[k] = march.state.q, hot, residual
    march.push[k], _ = hold.push(march.state.q, float(f1))
    march.count = k + 1
    if np.abs(march.state.q[-control.folding :]).max() > control.fold:
        message = f"the member folds at t = {t1:.0f} s: it turned past {control.fold:g}"
        raise NotConverged(message, time=t1)


def _solve(
    body: Strainable, structure: Structure, control: Control, old: State,
    T: FloatArray, fraction: float, phase_strain: FloatArray,
    guesses: list[FloatArray], t: float, cache: TangentCache,
) -> tuple[Trial, Point]:  # fmt: skip
    """Equilibrium of one step from each guess in turn: the last velocity, then zero."""
    balance = Balance(
        structure.evaluator(old, T, fraction, phase_strain),
        structure.factorise,
        lambda: structure.elastic(T, old.q, fraction),
        control.tolerance,
        control.iterations,
        control.slow,
    )
    last: NotConverged | None = None
    for number, guess in enumerate(guesses):
        cautious = number == len(guesses) - 1
        try:
            return solve_step(balance, old.q, guess, cache, cautious)
        except NotConverged as error:
            last = error
    assert last is not None
    worst = int(np.argmax(T))
    place = body.mesh.points[worst]
    message = (
        f"no equilibrium at t = {t:.4g} s: {last}; hottest at x = {place[0]:.4f} m, "
        f"y = {place[1]:.4f} m, T = {T[worst]:.0f} degC"
    )
    raise NotConverged(message, time=t)


def elastic_response(
    body: Strainable, hold: Support, force: FloatArray, T: FloatArray
) -> FloatArray:
    """Elastic response: unknowns (m,) under forces (m,) N with moduli at T (n,)."""
    structure = body.structure(hold)
    with one_blas_thread():
        elastic = structure.elastic(T, structure.begin.q, 0.0)
        return structure.factorise(elastic)(force)


def _anneal(
    body: Strainable, state: State, before: FloatArray, after: FloatArray
) -> State:
    """State without hardening where the steel cools through its annealing temperature."""
    limit = body.table.annealing
    if not np.isfinite(limit) or before.max() < limit:
        return state
    hot = body.at_points(before) >= limit
    cool = body.at_points(after) < limit
    reset = hot & cool & (body.hot_share[:, None] > 0)
    if not reset.any():
        return state
    p = np.where(reset, 0.0, state.p)
    alpha = np.where(reset[..., None], 0.0, state.alpha)
    return replace(state, p=p, alpha=alpha)


PEAK_LOSS = 0.05
"""Share of the joining limit by which a peak between two knots may be cut off: plastic
strain depends on the peaks."""


def knots(times: FloatArray, temperature: FloatArray, largest: float) -> IntArray:
    """Knots: rows of a history; steps are joined while no node changes by more than
    ``largest`` K and none loses a peak or a dip of a twentieth of that.
    """
    rows, last = [0], 0
    high = low = temperature[0]
    for k in range(1, len(times)):
        if k + 1 == len(times):
            rows.append(k)
            break
        start, end = temperature[last], temperature[k + 1]
        high, low = np.maximum(high, temperature[k]), np.minimum(low, temperature[k])
        lost = max(
            float((high - np.maximum(start, end)).max()),
            float((np.minimum(start, end) - low).max()),
        )
        if np.abs(end - start).max() > largest or lost > PEAK_LOSS * largest:
            rows.append(k)
            last, high, low = k, temperature[k], temperature[k]
    return np.array(rows, np.int64)

"""Movement of a heat against the bending moment, computed by the model.

A heat is computed at a few moments over the plastic moment (M/Mp, + helps), always the
same ones, through a store of finished runs, so that the next plan reuses them.
Between them monotone cubics interpolate (scipy's PCHIP).
The load is a weight that stays: gravity does not relax.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

from shrinksim.arrays import FloatArray, frozen
from shrinksim.calibration.model_error import LEAST_SPREAD, MODEL_SIGMA
from shrinksim.casefile.heating import AnyCooling
from shrinksim.errors import CaseError
from shrinksim.member.job.read import Job, job_tables
from shrinksim.member.line import Plane
from shrinksim.runs.sweep import run_cases
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from

Progress = Callable[[str, float, str], None]
Pattern = Mapping[str, Any]

RATIOS = (-0.5, -0.35, -0.2, -0.1, -0.05, 0.0, 0.05, 0.1, 0.2, 0.35, 0.5)
"""M/Mp at which heats are computed, as many as a plan needs of them."""

LIMIT = RATIOS[-1]
"""M/Mp, the most that is planned with: FHWA guide, ch. 3 (from memory)."""

HEAT_SIGMA = 0.25
"""Standard deviation of single heats over their mean: they lie commonly within half of
it (from memory, low confidence), taken as two standard deviations."""


@dataclass(frozen=True)
class HeatResponse:
    """Response of the member to one heat at one moment.

    turn : rad that it takes off, > 0 helps.  sigma : rad, standard deviation of one
    such heat, model and scatter together.  shortening : m.  peak : degC.  heating_time,
    cooling_time : s, the latter until cold.  gas : J.  hinge_margin : None without a
    moment; 1 or less folds.
    """

    turn: float
    sigma: float
    shortening: float
    peak: float
    heating_time: float
    cooling_time: float
    gas: float
    hinge_margin: float | None


@dataclass(frozen=True)
class ResponseCurve:
    """Response to one heat at ``ratio`` (k,), M/Mp in rising order, + helps.

    Other fields as in HeatResponse, all (k,); utilisation : moment over the moment that
    folds the hot section; NaN where the run has no result.  model : standard deviation of
    the model's error over the movement.  source : of the numbers.  sigma_factor : on all
    standard deviations, over 1 where the source does not reach.
    """

    ratio: FloatArray
    turn: FloatArray
    shortening: FloatArray
    peak: FloatArray
    heating_time: FloatArray
    cooling_time: FloatArray
    gas: FloatArray
    utilisation: FloatArray
    model: float
    source: str
    sigma_factor: float = 1.0

    @property
    def sound(self) -> NDArray[np.bool_]:
        """(k,) bool, where the heat came to its end."""
        return np.isfinite(self.turn)

    @property
    def scale(self) -> float:
        """rad, the largest movement."""
        return float(np.abs(self.turn[self.sound]).max())


@dataclass(frozen=True)
class CurveRequest:
    """Request for the curve of a heat; ratios : range of M/Mp to cover."""

    plane: Plane
    patterns: tuple[Pattern, ...]
    cooling: AnyCooling
    ratios: tuple[float, float]


def computed_ratios(low: float, high: float) -> tuple[float, ...]:
    """Those of RATIOS that enclose low..high, three at least."""
    low, high = max(low, RATIOS[0]), min(high, RATIOS[-1])
    first = max(i for i, r in enumerate(RATIOS) if r <= low + 1e-9)
    last = min(i for i, r in enumerate(RATIOS) if r >= high - 1e-9)
    while last - first < 2:
        nearer = low - RATIOS[first] < RATIOS[last] - high
        if first > 0 and (nearer or last == len(RATIOS) - 1):
            first -= 1
        else:
            last += 1
    return RATIOS[first : last + 1]


def heat_case(
    job: Job,
    plane: Plane,
    patterns: Sequence[Pattern],
    ratio: float,
    cooling: AnyCooling | None = None,
    visits: int = 1,
) -> Case:
    """The case of a heat (given ``visits`` times at one place) under M/Mp = ``ratio``."""
    tables = job_tables(job)
    member = job.member.case_member(plane)
    case = {key: tables[key] for key in ("steel", "surroundings", "torch", "numerics")}
    case["member"] = member.model_dump(mode="json", exclude_none=True)
    heat: dict[str, Any] = {"pattern": [dict(p) for p in patterns]}
    cooled = cooling or job.cooling
    heat["cooling"] = cooled.model_dump(
        mode="json", exclude_none=True, context={"units": "metric"}
    )
    case |= {"title": "a heat of a plan", "heat": [heat] * visits}
    case["output"] = {"fields": False}
    if ratio != 0.0:
        moment = f"{ratio:.6g} Mp"
        case["load"] = {"kind": "weight", "moment": moment, "removed": "never"}
    found = case_from(case, "heat of the plan", Path())
    assert isinstance(found, Case)
    return found


def model_curves(
    job: Job,
    asked: Sequence[CurveRequest],
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
) -> list[ResponseCurve]:
    """Compute the curve of every request; runs in the store are reused."""
    points = [(a, ratio) for a in asked for ratio in computed_ratios(*a.ratios)]
    cases = [heat_case(job, a.plane, a.patterns, r, a.cooling) for a, r in points]
    found = iter(run_cases(cases, store, jobs, progress))
    curves = []
    for a in asked:
        ratios = computed_ratios(*a.ratios)
        rows = [next(found) for _ in ratios]
        curves.append(_curve(job, ratios, rows))
    return curves


def _curve(job: Job, ratios: Sequence[float], rows: Sequence[Any]) -> ResponseCurve:
    """The curve of one heat from its runs; a fold is a point of it, a fault is not."""
    table = []
    for ratio, row in zip(ratios, rows, strict=True):
        if row.outcome not in {"complete", "hot hinge"}:
            message = (
                f"a heat of the plan at M/Mp = {ratio:g} could not be computed: "
                f"{row.reason} ({row.outcome})"
            )
            raise CaseError(message)
        table.append(_point(ratio, row.summary, row.outcome == "hot hinge"))
    columns = [frozen(column) for column in np.array(table).T]
    source = "finite-element runs of this package"
    model = MODEL_SIGMA[job.member.shape.kind]
    curve = ResponseCurve(*columns, model=model, source=source)
    if not curve.sound.any():
        message = "the member folds while hot in every heat that was tried; lighten it"
        raise CaseError(message)
    return curve


def _point(ratio: float, summary: Mapping[str, Any], folds: bool) -> list[float]:
    """One run as a column of a curve."""
    margin = summary["hot_hinge_margin"]
    use = 0.0 if margin is None else 1.0 / max(margin, 1e-6)
    turn = np.nan if folds else summary["rotation_mrad"] * 1e-3
    return [
        ratio,
        turn,
        summary["shortening_mm"] * 1e-3,
        summary["peak_temperature_C"],
        summary["heating_time_s"],
        summary["cooling_time_s"],
        summary["burnt_J"],
        max(use, 1.0) if folds else use,
    ]


def heat_response(
    job: Job,
    plane: Plane,
    patterns: Sequence[Pattern],
    moment_ratio: float,
    cooling: AnyCooling | None = None,
    *,
    store: Path,
    jobs: int | None = None,
    progress: Progress | None = None,
) -> HeatResponse:
    """Response to one heat at one M/Mp, + helps."""
    reach = (moment_ratio, moment_ratio)
    asked = CurveRequest(plane, tuple(patterns), cooling or job.cooling, reach)
    return response_at(
        model_curves(job, [asked], store, jobs, progress)[0], moment_ratio
    )


def turn_at(curve: ResponseCurve, ratio: FloatArray | float) -> FloatArray:
    """Turn (any shape) rad at M/Mp; beyond what was computed, that of the nearest."""
    return interpolated(curve, curve.turn, ratio)


def utilisation_at(curve: ResponseCurve, ratio: FloatArray | float) -> FloatArray:
    """Moment over the moment that folds the hot section; 0 without a moment."""
    r = np.asarray(ratio, float)
    inside = interpolated(curve, curve.utilisation, r, folded=True)
    far = np.clip(r, curve.ratio[0], curve.ratio[-1])
    share = np.where(far == 0.0, 1.0, r / np.where(far == 0.0, 1.0, far))
    return np.where(r == 0.0, 0.0, inside * np.maximum(share, 1.0))


def interpolated(
    curve: ResponseCurve,
    values: FloatArray,
    ratio: FloatArray | float,
    folded: bool = False,
) -> FloatArray:
    """``values`` (k,) at other M/Mp; only ``folded`` takes points that fold along."""
    kept = np.isfinite(values) if folded else curve.sound
    x, y = curve.ratio[kept], values[kept]
    at = np.clip(np.asarray(ratio, float), x[0], x[-1])
    return PchipInterpolator(x, y)(at) if len(x) > 1 else np.full_like(at, y[0])


def response_at(curve: ResponseCurve, ratio: float, visit: float = 1.0) -> HeatResponse:
    """Response at M/Mp = ``ratio``; ``visit`` : share of the movement of a repeat."""
    turn = float(turn_at(curve, ratio)) * visit
    names = ("shortening", "peak", "heating_time", "cooling_time", "gas")
    others = {n: float(interpolated(curve, getattr(curve, n), ratio)) for n in names}
    use = float(utilisation_at(curve, ratio))
    sigma = reference_turn(curve, turn) * float(np.hypot(curve.model, HEAT_SIGMA))
    margin = None if use < 1e-6 else 1.0 / use
    return HeatResponse(turn, sigma, hinge_margin=margin, **others)


def reference_turn(curve: ResponseCurve, turn: FloatArray | float) -> Any:
    """Turn (rad) that relative standard deviations refer to, for a movement ``turn``."""
    return curve.sigma_factor * np.maximum(np.abs(turn), LEAST_SPREAD * curve.scale)


def scaled(curve: ResponseCurve, share: float) -> ResponseCurve:
    """Scale the movement, time and gas of a curve by ``share``."""
    return replace(
        curve,
        turn=frozen(curve.turn * share),
        shortening=frozen(curve.shortening * share),
        heating_time=frozen(curve.heating_time * share),
        gas=frozen(curve.gas * share),
    )

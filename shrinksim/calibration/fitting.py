"""From computed heats to a calibration: its formula, its record, its table of data."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.calibration.design import DesignSet, Point
from shrinksim.calibration.export import formula_text, python_text, spreadsheet
from shrinksim.calibration.fit import Fit, FitRows, agreement, fitted, rms, weight_of
from shrinksim.calibration.formula import formula_for
from shrinksim.calibration.formula_use import (
    NAMES,
    SCHEMA_VERSION,
    Calibration,
    calibration_from,
    estimated,
    given_of,
)
from shrinksim.calibration.validity import Guard, Range, guard_of
from shrinksim.calibration.variables import (
    DEGREE,
    WORDS,
    Term,
    VeeHeat,
    heat_of,
    scale_of,
    values_of,
)
from shrinksim.runs.store import Failure, Row

LICENCE = "CC0-1.0 (public domain dedication)"

DIGITS = 4
"""Digits of a coefficient: the pasted formula equals the fitted one."""

REASONS = 20
"""Different reasons that a record gives for heats that are left out."""

FREE = 0.05
"""M/Mp under which a heat counts as free."""

PUBLISHED = (0.6, 2.0)
"""Load factor of the published relation, a + b M/Mp, from memory: Avent, Mukai &
Robinson, J. Struct. Eng. 2000; FHWA guide for heat-straightening, ch. 5."""


@dataclass(frozen=True)
class Computed:
    """A point and the result of its run.  fresh : not for fitting."""

    point: Point
    heat: VeeHeat
    run: Row | Failure
    fresh: bool = False

    @property
    def whole(self) -> bool:
        """Whether the run gave a permanent rotation."""
        return isinstance(self.run, Row)

    @property
    def turn(self) -> float:
        """Permanent rotation, mrad."""
        return float((self.run.summary or {})["rotation_mrad"])

    @property
    def error(self) -> float:
        """Numerical error (standard deviation), mrad; nan when it is not known."""
        found = (self.run.summary or {}).get("refinement") or {}
        return float(found.get("rotation_error_mrad", np.nan))


def computed(
    of: DesignSet, points: Sequence[Point], runs: Sequence[Row | Failure], fresh: bool
) -> list[Computed]:
    """Points with their runs."""
    pairs = zip(points, runs, strict=True)
    return [Computed(p, heat_of(of.of, p), run, fresh) for p, run in pairs]


def hash_of(design: DesignSet) -> str:
    """First 16 hex digits of the SHA-256 of the set's design."""
    text = json.dumps(asdict(design), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def calibrated(
    design: DesignSet, data: Sequence[Computed], made: Mapping[str, Any]
) -> Calibration:
    """The formula for a set's data; made : on the machine and the passed-over points."""
    used = [one for one in data if one.whole and not one.fresh]
    heats = [one.heat for one in used]
    turn = np.array([one.turn for one in used])
    scale = np.array([scale_of(heat) for heat in heats])
    values = values_of(heats)
    chosen = formula_for(values, scale, turn)
    terms, fit = chosen.terms, chosen.fit
    guard = guard_of(_ranges(design, heats), _guarded(terms), values)
    record: dict[str, Any] = {
        "schema_version": SCHEMA_VERSION,
        "licence": LICENCE,
        "of": design.of,
        "numbers_of": "a finite-element model of this package, not measurements",
        **made,
        "design": asdict(design),
        "design_hash": hash_of(design),
        "heats": _counts(data),
        "scale": "2000 sin(angle / 3) x temperature strain, mrad",
        "coefficients": _coefficients(terms, fit),
        "bend": chosen.bend,
        "covariance": fit.covariance.tolist(),
        "scatter": _scatter(fit, turn, used),
        "choice": chosen.choice,
        "weights": chosen.weights,
        "ranges": [asdict(r) for r in guard.ranges],
        "guard": _guard(guard),
        "published_shape": _published_shape(used, scale, turn),
        "backward": _backward(used),
    }
    found = calibration_from(record)
    record["formula"] = formula_text(found)
    record["python"] = python_text(found)
    record["spreadsheet"] = spreadsheet(found)
    record["fresh"] = _fresh(found, [d for d in data if d.whole and d.fresh])
    return found


def _coefficients(terms: Sequence[Term], fit: Fit) -> list[dict[str, Any]]:
    """Every term with its coefficient and 95 % limits."""
    numbers = (
        [float(f"{v:.{DIGITS}g}") for v in x]
        for x in (fit.coefficients, fit.low, fit.high)
    )
    return [
        {"term": list(t), "words": words_of(t), "value": v, "low": a, "high": b}
        for t, v, a, b in zip(terms, *numbers, strict=True)
    ]


def words_of(term: Term) -> str:
    """A term in words."""
    return " x ".join(f"({WORDS[name]})" for name in term) or "1"


def _guarded(terms: Sequence[Term]) -> list[str]:
    """Variables whose combinations are guarded: those of the formula, and always these."""
    used = {name for term in terms for name in term}
    return [n for n in "mdwshaytf" if n in used | set("mdwsha")]


SAMPLED = {
    "angle": ("angle", 1.0 / DEGREE),
    "depth_ratio": ("depth_ratio", 1.0),
    "temperature": ("temperature", 1.0),
    "moment_ratio": ("moment_ratio", 1.0),
    "strength": ("torch_strength", 1.0),
    "depth": ("width", 1e3),
    "thickness": ("thickness", 1e3),
}
"""What the design spreads: its range is the file's, not that of the points."""


def _ranges(design: DesignSet, heats: Sequence[VeeHeat]) -> list[Range]:
    """The box of the data."""
    given = [given_of(heat) for heat in heats]
    ranges = []
    for name, (words, unit) in NAMES.items():
        if name not in given[0]:
            continue
        inside = [g[name] for g in given]
        low, high = min(inside), max(inside)
        key, factor = SAMPLED.get(name, ("", 1.0))
        if key in design.between:
            low, high = (factor * end for end in design.between[key])
        ranges.append(Range(name, words, unit, low, high))
    return ranges


def _guard(guard: Guard) -> dict[str, Any]:
    return {
        "variables": list(guard.names),
        "middle": guard.middle.tolist(),
        "inverse": guard.inverse.tolist(),
        "largest_leverage": guard.most,
    }


def _counts(data: Sequence[Computed]) -> dict[str, Any]:
    """Number of heats fitted and left out, with the reasons."""
    left: dict[str, int] = {}
    reasons: dict[str, None] = {}
    for one in data:
        if not one.whole:
            left[one.run.outcome] = left.get(one.run.outcome, 0) + 1
            reasons[f"{one.run.outcome}: {one.run.reason}"] = None
    return {
        "fitted": sum(d.whole and not d.fresh for d in data),
        "fresh": sum(d.whole and d.fresh for d in data),
        "left_out": left,
        "reasons": list(reasons)[:REASONS],
    }


def _scatter(fit: Fit, turn: FloatArray, used: Sequence[Computed]) -> dict[str, float]:
    """Scatter about the formula."""
    sigma = fit.scatter.sigma(turn - fit.residuals)
    error = np.array([one.error for one in used])
    error = error[np.isfinite(error)]
    return {
        "absolute_mrad": fit.scatter.absolute,
        "relative": fit.scatter.relative,
        "rms_mrad": rms(fit.residuals),
        "rms_left_out_mrad": rms(fit.apart),
        "explained": agreement(turn, fit.residuals),
        "explained_left_out": agreement(turn, fit.apart),
        "within_two_sigma": float(np.mean(np.abs(fit.apart) < 2.0 * sigma)),
        "numerical_error_median_mrad": float(np.median(error)) if len(error) else None,
        "numerical_error_largest_mrad": float(error.max()) if len(error) else None,
    }  # type: ignore[return-value]


def _published_shape(
    used: Sequence[Computed], scale: FloatArray, turn: FloatArray
) -> dict[str, Any]:
    """The published shape, a + b M/Mp times the scale, fitted to parts of the data."""
    jack = np.array([one.heat.jack > 0.5 for one in used])
    hot = np.array([one.heat.temperature >= 600.0 for one in used])
    parts = {
        "all": jack | ~jack, "with jacks": jack, "under weights": ~jack,
        "with jacks, 600 to 650 degC": jack & hot,
    }  # fmt: skip
    m = np.array([one.heat.moment_ratio for one in used])
    columns = np.stack([np.ones_like(m), m], axis=1)
    found = []
    for name, part in parts.items():
        if np.sum(part) < 8:
            continue
        weight = weight_of(turn[part], 0.0 * turn[part])
        rows = FitRows(columns[part], scale[part], turn[part], weight)
        fit = fitted(rows, "straight")
        limits = zip(
            *(x.tolist() for x in (fit.coefficients, fit.low, fit.high)), strict=True
        )
        predictions = scale[part] * (columns[part] @ np.array(PUBLISHED))
        found.append(
            {"data": name, "heats": int(np.sum(part)),
             "a, b": [list(row) for row in limits], "rms_mrad": rms(fit.residuals),
             "rms_of_published_mrad": rms(turn[part] - predictions)}
        )  # fmt: skip
    return {
        "shape": "scale x (a + b M/Mp)",
        "published": list(PUBLISHED),
        "source": "from memory; vees on plates, with jacks, to 650 degC",
        "fitted": found,
    }


def _backward(used: Sequence[Computed]) -> dict[str, Any]:
    """Heats that opened their vee instead of closing it."""
    back = [one for one in used if one.turn < 0.0]
    free = [one for one in used if abs(one.heat.moment_ratio) <= FREE]
    helped = [one for one in used if one.heat.moment_ratio >= 0.0]
    turns = sorted(one.turn for one in free)
    return {
        "heats": len(back),
        "not_opposed": sum(one.turn < 0.0 for one in helped),
        "not_opposed_of": len(helped),
        "free": len(free),
        "free_backward": sum(t < 0.0 for t in turns),
        "free_lowest_mrad": turns[0] if turns else None,
        "free_median_mrad": float(np.median(turns)) if turns else None,
        "free_highest_mrad": turns[-1] if turns else None,
    }


def _fresh(calibration: Calibration, fresh: Sequence[Computed]) -> dict[str, Any]:
    """Errors of the formula on heats that it was not fitted to."""
    predictions = [(one.turn, estimated(calibration, one.heat)) for one in fresh]
    away = np.array([turn - 1e3 * e.turn for turn, e in predictions])
    sigma = np.array([1e3 * e.sigma for _, e in predictions])
    turn = np.array([turn for turn, _ in predictions])
    if not len(turn):
        return {"heats": 0}
    return {
        "heats": len(turn),
        "inside": sum(e.inside for _, e in predictions),
        "rms_mrad": rms(away),
        "mean_mrad": float(away.mean()),
        "within_one_sigma": int(np.sum(np.abs(away) < sigma)),
        "within_two_sigma": int(np.sum(np.abs(away) < 2.0 * sigma)),
        "explained": agreement(turn, away),
    }

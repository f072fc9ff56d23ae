"""Permanent rotation by a heat with a vee, from a formula fitted to computed heats.

    estimate(load_calibration("plates"), section, angle=..., depth_ratio=..., ...)

The shipped formulas (public domain, CC0-1.0) are fitted to runs of this package and to
nothing else: they are as good as the model, plus their own scatter.  `quick_move` is what
a plan takes.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.calibration.design import (
    COLD,
    CONDUCTIVITY,
    KINDS,
    NARROWEST,
    WIDEST,
    WORKED,
    Kind,
)
from shrinksim.calibration.fit import BENDS, Bend, Scatter, bent
from shrinksim.calibration.model_error import LEAST_SPREAD, MODEL_SIGMA
from shrinksim.calibration.validity import Guard, Range, outside
from shrinksim.calibration.variables import (
    DEGREE,
    VARIABLES,
    Term,
    VeeHeat,
    columns_of,
    depth_over_radius,
    flange_share,
    scale_of,
    strength_of,
    values_of,
)
from shrinksim.casefile.heating import AnyCooling, Torch
from shrinksim.errors import CaseError
from shrinksim.shop.sections.shape import Axis, Section
from shrinksim.text.quoting import printable, shown

SCHEMA_VERSION = 1
USUAL_WIDTH, USUAL_STRENGTH = 2.0, {"plates": 10.0, "i sections weak": 10.0}
"""Radius over thickness and strength of a torch that is not given: those of the shipped
tips on the steel that practice gives them (tests/test_calibrate.py)."""
STRONG_STRENGTH = 18.0
"""The same for the web of an I-section, thin for the tips that its flange needs."""


@dataclass(frozen=True)
class Calibration:
    """A formula for the permanent rotation by one kind of heat.

    terms, coefficients, low, high : (p,), with 95 % limits.  bend : of their sum.
    covariance : (p, p) of the coefficients.  record : everything about it, as in its
    JSON file.
    """

    of: Kind
    terms: tuple[Term, ...]
    coefficients: FloatArray
    low: FloatArray
    high: FloatArray
    bend: Bend
    scatter: Scatter
    covariance: FloatArray
    guard: Guard
    record: Mapping[str, Any]


@dataclass(frozen=True)
class Estimate:
    """Permanent rotation by one heat.

    turn : rad, > 0 closes the open end.  sigma : rad, standard deviation of the model's
    results about the formula, without the error of the model.  inside : whether the heat
    is within the data.  why : it is not, in sentences.
    """

    turn: float
    sigma: float
    inside: bool
    why: str


def calibration_from(record: Mapping[str, Any]) -> Calibration:
    """The calibration in the record of a JSON file; CaseError when it is none."""
    try:
        if record["schema_version"] != SCHEMA_VERSION:
            message = (
                f"schema_version = {record['schema_version']}: this version reads "
                f"{SCHEMA_VERSION}"
            )
            raise CaseError(message)
        rows, guard, scatter = (
            record["coefficients"], record["guard"], record["scatter"],
        )  # fmt: skip
        ranges = tuple(Range(**entry) for entry in record["ranges"])
        value, low, high = (
            _numbers_in([row[name] for row in rows], (len(rows),))
            for name in ("value", "low", "high")
        )
        names = [*(name for row in rows for name in row["term"]), *guard["variables"]]
        unknown = [name for name in names if name not in VARIABLES]
        if unknown or record["of"] not in KINDS:
            message = f"{shown(unknown[0] if unknown else record['of'])} is unknown"
            raise ValueError(message)
        many = len(guard["variables"]) + 1
        bounds = [bound for one in ranges for bound in (one.low, one.high)]
        _numbers_in(bounds, (2 * len(ranges),))
        return Calibration(
            record["of"],
            tuple(tuple(row["term"]) for row in rows),
            value,
            low,
            high,
            BENDS[BENDS.index(record["bend"])],
            Scatter(*_number_each(scatter, "absolute_mrad", "relative")),
            _numbers_in(record["covariance"], (len(rows), len(rows))),
            Guard(
                ranges,
                tuple(guard["variables"]),
                _numbers_in(guard["middle"], (many - 1,)),
                _numbers_in(guard["inverse"], (many, many)),
                *_number_each(guard, "largest_leverage"),
            ),
            record,
        )
    except (KeyError, TypeError, ValueError, OverflowError) as error:
        if isinstance(error, CaseError):
            raise
        message = f"is no record of a calibration ({type(error).__name__}: {error})"
        raise CaseError(message) from error


def _numbers_in(given: Any, shape: tuple[int, ...]) -> FloatArray:
    """An array of plain numbers of that shape; ValueError of anything else."""
    found = np.array(given, dtype=float)
    if found.shape != shape or not np.isfinite(found).all():
        message = f"numbers of shape {found.shape} in place of {shape}, or none"
        raise ValueError(message)
    return found


def _number_each(given: Mapping[str, Any], *names: str) -> list[float]:
    """Plain numbers by their names."""
    return [float(_numbers_in(given[name], ())) for name in names]


def load_calibration(name: str | Path) -> Calibration:
    """A shipped calibration ("plates", "i sections strong", ...), or one from a file."""
    return _shipped(str(name)) if str(name) in KINDS else read_calibration(Path(name))


@cache
def _shipped(of: str) -> Calibration:
    path = files("shrinksim.calibration").joinpath("data", f"{file_name(of)}.json")
    return calibration_from(json.loads(path.read_text("utf-8")))


def file_name(of: str) -> str:
    """Name of a calibration's files without their ends."""
    return of.replace(" ", "_")


def read_calibration(path: Path) -> Calibration:
    """A calibration of one's own from its JSON file."""
    try:
        return calibration_from(json.loads(path.read_text(encoding="utf-8")))
    except OSError as error:
        known = ", ".join(KINDS)
        message = (
            f"{path}: cannot be read ({error.strerror or error}); shipped are {known}"
        )
        raise CaseError(message) from error
    except (ValueError, RecursionError) as error:
        said = "; ".join(getattr(error, "problems", (f"is no JSON ({error})",)))
        message = printable(f"{path}: {said}")
        raise CaseError(message) from error


def vee_heat(
    of: Kind,
    section: Section,
    *,
    angle: float,
    depth_ratio: float,
    temperature: float,
    ratio: float,
    yield_stress: float = 235e6,
    radius: float | None = None,
    power: float | None = None,
    jack: bool = False,
    mist: bool = False,
) -> VeeHeat:
    """A heat as a formula takes it; see `VeeHeat`.

    radius : m, power : net W of all torches at the vee (at one flange, weak axis); None
    takes a torch of the usual size for the steel.
    """
    if section.kind != WORKED[of].kind:
        message = f"the calibration of {of} is not for a {type(section).__name__}"
        raise CaseError(message)
    depth, thickness, flanges = _seen(of, section)
    if radius is None:
        radius = float(np.clip(USUAL_WIDTH * thickness, NARROWEST, WIDEST))
    if power is None:
        strength = USUAL_STRENGTH.get(of, STRONG_STRENGTH)
        power = strength * CONDUCTIVITY * thickness * max(temperature - COLD, 1.0)
    return VeeHeat(
        of, angle, depth_ratio, depth, thickness, temperature, ratio, radius, power,
        yield_stress, float(jack), float(mist), flanges,
    )  # fmt: skip


def _seen(of: Kind, section: Section) -> tuple[float, float, float]:
    """Depth of the view and thickness under the torch (m), and share of a flange."""
    view = section.elevation(WORKED[of].axis)
    return view.depth, view.face_thickness, flange_share(section)


def estimate(calibration: Calibration, section: Section, **given: Any) -> Estimate:
    """Permanent rotation by one heat; given : as of `vee_heat`."""
    return estimated(calibration, vee_heat(calibration.of, section, **given))


def estimated(calibration: Calibration, heat: VeeHeat) -> Estimate:
    """Permanent rotation by a heat; outside the data it is marked so."""
    why = outside(calibration.guard, given_of(heat), _numbers(heat))
    row = columns_of(calibration.terms, values_of([heat]))[0]
    value, slope = bent(calibration.bend, row @ calibration.coefficients)
    turn = scale_of(heat) * float(value)
    slopes = scale_of(heat) * slope * row
    of_formula = float(np.sqrt(slopes @ calibration.covariance @ slopes))
    sigma = float(np.hypot(calibration.scatter.sigma(turn), of_formula))
    return Estimate(turn * 1e-3, sigma * 1e-3, not why, "; ".join(why))


def _numbers(heat: VeeHeat) -> dict[str, float]:
    return {name: value(heat) for name, value in VARIABLES.items()}


NAMES: Mapping[str, tuple[str, str]] = {
    "angle": ("vee angle", "deg"),
    "depth_ratio": ("depth ratio", ""),
    "depth": ("depth of the member as seen", "mm"),
    "thickness": ("thickness under the torch", "mm"),
    "temperature": ("temperature of the hottest steel", "degC"),
    "moment_ratio": ("M/Mp", ""),
    "yield_stress": ("yield stress", "MPa"),
    "radius_over_thickness": ("radius of the torch over the thickness", ""),
    "depth_over_radius": ("depth of the vee over the radius of the torch", ""),
    "strength": ("strength of the torch (power over 40 W/mK x thickness x rise)", ""),
    "flange_share": ("area of a flange over the web's", ""),
}
"""Quantities that bound a formula: words and unit of each of `given_of`."""


def given_of(heat: VeeHeat) -> dict[str, float]:
    """Values of a heat that the ranges of a formula bound, by name and in their units."""
    return {
        "angle": heat.angle / DEGREE,
        "depth_ratio": heat.depth_ratio,
        "depth": heat.depth * 1e3,
        "thickness": heat.thickness * 1e3,
        "temperature": heat.temperature,
        "moment_ratio": heat.moment_ratio,
        "yield_stress": heat.yield_stress * 1e-6,
        "radius_over_thickness": heat.radius / heat.thickness,
        "depth_over_radius": depth_over_radius(heat),
        "strength": strength_of(heat),
    } | ({"flange_share": heat.flanges} if heat.flanges else {})


FARTHER = 2.0
"""Times the standard deviation at a moment beyond the data."""


def quick_move(
    section: Section,
    angle: float,
    depth_ratio: float,
    temperature: float,
    ratio: float,
    cooling: AnyCooling,
    *,
    axis: Axis = "strong",
    yield_stress: float = 235e6,
    torch: Torch | None = None,
) -> tuple[float, float]:
    """Rotation (rad, > 0 helps) by one heat under a weight, and its relative deviation.

    angle : rad.  temperature : degC.  ratio : M/Mp, + helps.  axis : that an I-section
    bends about.  torch : resolved; None one of the usual size.  The deviation is of the
    formula and the model together, over the rotation, or over 0.3 of that at the largest
    moment when it is less.  Beyond the moments that were computed the nearest of them is
    taken with twice the deviation; CaseError for any other heat outside the data.
    """
    of: Kind = "plates"
    if section.kind != "plate":
        of = "i sections strong" if axis == "strong" else "i sections weak"
    calibration = load_calibration(of)
    lowest, highest = _moments(calibration)
    radius, power = _torch(torch)

    def found(moment: float) -> Estimate:
        heat = vee_heat(
            of, section, angle=angle, depth_ratio=depth_ratio, ratio=moment,
            temperature=temperature, yield_stress=yield_stress, radius=radius,
            power=power, mist=cooling.kind == "mist",
        )  # fmt: skip
        return estimated(calibration, heat)

    here = found(float(np.clip(ratio, lowest, highest)))
    refused = "" if here.inside else here.why
    if cooling.kind not in {"still air", "mist"}:
        refused = f"cooling by {cooling.kind} was not computed"
    if refused:
        message = (
            f'heats.estimate = "quick" has no data for this heat: {refused}; write '
            'estimate = "model"'
        )
        raise CaseError(message)
    over = max(abs(here.turn), LEAST_SPREAD * abs(found(highest).turn))
    relative = float(
        np.hypot(here.sigma / over, MODEL_SIGMA["plate" if of == "plates" else "I"])
    )
    return here.turn, relative * (1.0 if lowest <= ratio <= highest else FARTHER)


def _moments(calibration: Calibration) -> tuple[float, float]:
    """M/Mp between which there are data."""
    found = next(r for r in calibration.guard.ranges if r.name == "moment_ratio")
    return found.low, found.high


def _torch(torch: Torch | None) -> tuple[float | None, float | None]:
    """Radius (m) and net power (W) of a case's torch, None where there is none."""
    if torch is None:
        return None, None
    return torch.radius, torch.power * torch.efficiency * torch.torches

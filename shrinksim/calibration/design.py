"""Design of a calibration: a spread of points, each made a case.

Points fill a box evenly (Sobol', USSR Comput. Math. Math. Phys. 7, 1967; scrambled, from
a seed).  Those that no shop would heat, or that the elevation view cannot claim, are
passed over: see `refused`.  A torch is described relative to its vee by two numbers without
unit, which is what the conduction of a sheet depends on:

    width = radius / thickness        strength = net power / (k thickness (target - 20))

net power : W that enters the steel from all torches at the vee (at one flange, for two),
k = 40 W/mK.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path
from typing import Any, Literal

from shrinksim.casefile.fields import text_of
from shrinksim.casefile.resolving import steel_of
from shrinksim.casefile.tables import SteelChoice
from shrinksim.errors import CaseError
from shrinksim.shop.sections.catalogue import section_named
from shrinksim.shop.sections.plate import Plate
from shrinksim.shop.sections.shape import Axis, Flanges, Section
from shrinksim.views.caution import FORCED, OPEN_END
from shrinksim.views.elevation.record import Case
from shrinksim.views.elevation.through_thickness import unevenness
from shrinksim.views.reading import case_from
from shrinksim.views.unevenness import THROUGH

Kind = Literal["plates", "i sections strong", "i sections weak"]
KINDS: tuple[Kind, ...] = ("plates", "i sections strong", "i sections weak")


@dataclass(frozen=True)
class Worked:
    """The kind of section that heats are of, and the axis it bends about."""

    kind: str
    axis: Axis


WORKED: Mapping[Kind, Worked] = {
    "plates": Worked("plate", "strong"),
    "i sections strong": Worked("I", "strong"),
    "i sections weak": Worked("I", "weak"),
}

CONDUCTIVITY = 40.0
"""W/mK, steel at some 400 degC: EN 1993-1-2, 3.4.1.3."""

COLD = 20.0
EFFICIENCY = 0.35
"""Share of the burnt power that enters the steel; only the gas depends on it."""

NARROWEST, WIDEST = 0.010, 0.040
"""m, radius of torches, from a small single-orifice tip to a rosebud."""

STRONGEST = 9.5e6
"""W/m2 in the middle of one torch: that of the smallest shipped tip."""

LONGEST = 18.0
"""Depth of a vee over the radius of its torch; beyond, nobody would take so small a one."""

STRIP_DEPTH = 0.0214
"""m that heat gets along a flange in the 40 s in which the torch of a strip is to bring
it to heat, sqrt(4 a t / pi), a = 9e-6 m2/s: power = 2 k A rise / depth (Carslaw & Jaeger,
1959, sec. 2.9, from memory).  3.7 kW for an IPE 300, 13 kW for a HEB 300."""

STRIP_TORCH = 0.020, 0.040
"""m, radius of the torch of a strip: twice the flange's thickness, within these."""

PAUSE = "10 s"

Point = Mapping[str, Any]
"""Varied values of one run by name: numbers in SI and degC, names of choices."""

BETWEEN: Mapping[str, str] = {
    "angle": "angle",
    "depth_ratio": "",
    "temperature": "temperature",
    "moment_ratio": "",
    "width": "length",
    "thickness": "length",
    "torch_width": "",
    "torch_strength": "",
}
"""Variables of a range and their dimension; the torch's are spread by their logarithm."""

STEPS: Mapping[str, float] = {
    "angle": math.radians(0.5),
    "length": 1e-4,
    "temperature": 1.0,
    "": 1e-3,
}
"""Rounding of the values, so that a run can be repeated from the table."""

ONE_OF = ("section", "steel", "cooling", "load")
"""Variables of a list."""

OF_PLATES = ("width", "thickness")


@dataclass(frozen=True)
class DesignSet:
    """A set of runs that one formula is fitted to.

    between : name -> (low, high), SI and degC.  one_of : name -> what it may be.
    fresh : how many more, of the next seed, that the formula is only tried on.
    numerics : as the table of a case.
    """

    of: Kind
    runs: int
    seed: int
    between: dict[str, tuple[float, float]]
    one_of: dict[str, tuple[str, ...]]
    numerics: Mapping[str, Any] = field(default_factory=dict)
    fresh: int = 0


@dataclass(frozen=True)
class DesignVee:
    """A vee and its torch as drawn; m and W.

    depth : of the view.  thickness : of the steel under the torch.  rise : m, from the
    apex to the open end that is drawn (inside of the flange, on the strong axis).
    reach : m, from the edge to the apex.  power : W net of each torch.
    """

    depth: float
    thickness: float
    rise: float
    reach: float
    opening: float
    radius: float
    power: float
    torches: int


def shape_of(point: Point) -> Section:
    """The section of a point."""
    if "section" in point:
        return section_named(point["section"])
    return Plate(point["width"], point["thickness"])


@cache
def grade_yield(grade: str) -> float:
    """Pa, nominal yield stress of a grade."""
    return steel_of(SteelChoice(grade=grade)).yield_stress


def vee_of(of: Kind, point: Point) -> DesignVee:
    """The vee of a point, and the torches that give it the strength asked for."""
    view = shape_of(point).elevation(WORKED[of].axis)
    depth, thickness, lip = view.depth, view.face_thickness, view.lip
    reach = point["depth_ratio"] * depth
    opening = 2.0 * (reach - lip) * math.tan(0.5 * point["angle"])
    radius = min(max(point["torch_width"] * thickness, NARROWEST), WIDEST)
    rise = point["temperature"] - COLD
    power = point["torch_strength"] * CONDUCTIVITY * thickness * rise
    one = unevenness(power, radius, thickness, rise) <= THROUGH
    torches = 1 if one and power <= _most(radius) else 2
    return DesignVee(
        depth, thickness, reach - lip, reach, opening, radius, power / torches, torches
    )


def _most(radius: float) -> float:
    """Net W of the hottest torch of a radius."""
    return STRONGEST * math.pi * radius**2 / 3.0


def refused(of: Kind, point: Point) -> str:
    """Why a point is passed over, "" when it is not."""
    vee = vee_of(of, point)
    rise = point["temperature"] - COLD
    if vee.opening > OPEN_END:
        return "open end wider than practice allows"
    if vee.opening < vee.radius or vee.reach < 2.0 * vee.radius:
        return "vee smaller than the torch"
    if vee.reach > LONGEST * vee.radius:
        return "torch too small for the vee"
    if vee.power > _most(vee.radius):
        return "torch hotter than the hottest tip"
    through = vee.thickness / vee.torches
    if unevenness(vee.power, vee.radius, through, rise) > THROUGH:
        return "steel uneven through its thickness"
    return ""


def points_of(design: DesignSet) -> tuple[list[Point], dict[str, int]]:
    """The points of a set, and how many were passed over for what reason."""
    found: list[Point] = []
    passed: dict[str, int] = {}
    for point in _spread(design):
        reason = refused(design.of, point)
        if reason:
            passed[reason] = passed.get(reason, 0) + 1
            continue
        found.append(point)
        if len(found) == design.runs:
            return found, passed
    message = (
        f"set of {design.of}: only {len(found)} of {design.runs} points can be heated "
        f"({', '.join(f'{n} {why}' for why, n in passed.items())}); widen its ranges"
    )
    raise CaseError(message)


def fresh_of(design: DesignSet) -> list[Point]:
    """Points that a formula fitted to the set is tried on."""
    if design.fresh == 0:
        return []
    return points_of(replace(design, runs=design.fresh, seed=design.seed + 1))[0]


def _spread(design: DesignSet) -> Iterator[Point]:
    """Points of the box, more of them than will be taken."""
    from scipy.stats import qmc

    names = [n for n in (*BETWEEN, *ONE_OF) if n in design.between | design.one_of]
    many = max(math.ceil(math.log2(16 * design.runs)), 5)
    sobol = qmc.Sobol(len(names), seed=design.seed)  # type: ignore[call-arg] (to 1.14)
    shares = sobol.random_base2(many)
    for row in shares:
        yield {n: _value(design, n, float(u)) for n, u in zip(names, row, strict=True)}


def _value(design: DesignSet, name: str, share: float) -> float | str:
    """A variable's value so far along its range."""
    if name in design.one_of:
        choice = design.one_of[name]
        return choice[min(int(share * len(choice)), len(choice) - 1)]
    low, high = design.between[name]
    if name.startswith("torch"):
        return float(f"{low * (high / low) ** share:.3g}")
    step = STEPS[BETWEEN[name]]
    return round((low + share * (high - low)) / step) * step


def case_of(design: DesignSet, point: Point) -> Case:
    """The case of a point."""
    of, vee = design.of, vee_of(design.of, point)
    member: dict[str, Any] = {"section": point.get("section", "plate")}
    if of == "plates":
        member |= {n: text_of(point[n], "length") for n in OF_PLATES}
    else:
        member["axis"] = of.rsplit(" ", 1)[-1]
    tables = {
        "title": f"calibration of {of}",
        "member": member,
        "steel": {"grade": point["steel"]},
        "torch": _torch(vee.power, vee.radius, point["temperature"], vee.torches),
        "load": _load(point),
        "heat": [{"pattern": _patterns(of, point, vee), "cooling": _cooling(point)}],
        "numerics": dict(design.numerics),
        "output": {"fields": False},
    }
    found = case_from(tables, f"point of {of}", Path())
    assert isinstance(found, Case)
    return found


def _torch(power: float, radius: float, target: float, torches: int) -> dict[str, Any]:
    """A torch of ``power`` W net."""
    return {
        "power": f"{power / EFFICIENCY * 1e-3:.6g} kW",
        "efficiency": EFFICIENCY,
        "radius": f"{radius * 1e3:.6g} mm",
        "target": text_of(target, "temperature"),
        "torches": torches,
    }


def _load(point: Point) -> dict[str, Any]:
    """A weight that stays, or a jack as stiff as the patch; no weight where it is 0."""
    if point["load"] == "weight" and point["moment_ratio"] == 0.0:
        return {"kind": "none"}
    moment = f"{point['moment_ratio']:.6g} Mp"
    if point["load"] == "jack":
        return {"kind": "jack", "moment": moment, "stiffness": "1 EI/L"}
    return {"kind": "weight", "moment": moment, "removed": "never"}


def _cooling(point: Point) -> dict[str, Any]:
    """Still air, or mist as soon as Caltrans 55-1.02B(8) allows it."""
    if point["cooling"] == "still air":
        return {"kind": "still air"}
    return {"kind": point["cooling"], "start_below": f"{FORCED:.6g} degC"}


def strip_torch(flanges: Flanges, target: float) -> tuple[float, float]:
    """Radius (m) and net power (W) of the torch that weaves over a flange."""
    low, high = STRIP_TORCH
    area = flanges.area
    power = 2.0 * CONDUCTIVITY * area * (target - COLD) / STRIP_DEPTH
    return min(max(2.0 * flanges.thickness, low), high), power


def _patterns(of: Kind, point: Point, vee: DesignVee) -> list[dict[str, Any]]:
    """A vee; on the strong axis a strip across the flange at its open end after it."""
    patterns: list[dict[str, Any]] = [
        {
            "kind": "vee",
            "angle": text_of(point["angle"], "angle"),
            "depth_ratio": point["depth_ratio"],
            "open": "top",
        }
    ]
    flanges = shape_of(point).flanges
    if of == "i sections strong" and flanges is not None:
        target = point["temperature"]
        radius, power = strip_torch(flanges, target)
        patterns.append(
            {
                "kind": "strip",
                "on": "flange top",
                "width": f"{max(vee.opening, 0.02) * 1e3:.6g} mm",
                "pause": PAUSE,
                "torch": _torch(power, radius, target, 1),
            }
        )
    return patterns

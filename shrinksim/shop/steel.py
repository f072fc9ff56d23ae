"""Steels as tables against temperature, for the heat and the strain stage.

Default hardening is isotropic, as a vee heat loads the heated steel mostly in one
direction and this needs no fitted constant; kinematic and mixed show its influence.
Hardening is lost above the annealing temperature (800 degC, common practice in
welding models, no source).  The format of a user's file: see shop.steel_file.
"""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path

import numpy as np

from shrinksim.errors import CaseError
from shrinksim.shop import steel_curves as curves
from shrinksim.shop.steel_file import Grade, grade_from_text, read_grade
from shrinksim.shop.steel_tables import (
    HeatTable,
    StrainTable,
    heat_table,
    strain_table,
)

__all__ = [
    "HeatTable",
    "Steel",
    "StrainTable",
    "grades",
    "steel",
    "steel_from_file",
]

TRANSFORMATION = 720.0
"""degC, lower transformation temperature (1330 degF).  FHWA, Guide for heat-
straightening of damaged steel bridge members, ch. 5.1."""


@dataclass(frozen=True)
class Steel:
    """Steel.  yield_stress : Pa at 20 degC; density : kg/m3.

    limit : degC, heating limit of practice for the grade.  transformation : degC, of the
    lower one; phase change itself is in the tables only when ``changes``.
    sources : name of a value or column -> where it comes from.
    """

    name: str
    yield_stress: float
    heat: HeatTable
    strain: StrainTable
    density: float
    poisson: float
    limit: float
    transformation: float
    sources: Mapping[str, str]

    @property
    def changes(self) -> bool:
        """Whether the steel's file gives a table of phase change."""
        return self.strain.transformation is not None


def grades() -> tuple[str, ...]:
    """Names of the shipped grades."""
    found = (files("shrinksim.shop") / "data" / "steels").iterdir()
    names = [entry.name for entry in found]
    return tuple(sorted(n.removesuffix(".toml") for n in names if n.endswith(".toml")))


def steel(
    grade: str,
    *,
    yield_stress: float | None = None,
    hardening: str = "isotropic",
    kinematic_share: float = 0.5,
    annealing: float = 800.0,
    curve: str = "EN",
) -> Steel:
    """Steel of a shipped grade ("S235", "A572-50").  yield_stress : Pa, annealing : degC.

    curve : "EN" (elastic, ellipse, plateau) or "plateau" (level at ky fy at once).
    """
    known = {_plain(name): name for name in grades()}
    name = known.get(_plain(grade))
    if name is None:
        near = difflib.get_close_matches(_plain(grade), list(known), 1)
        hint = f"; did you mean {known[near[0]]}?" if near else ""
        message = f"grade = {grade!r} is not one of {', '.join(grades())}{hint}"
        raise CaseError(message)
    entry = files("shrinksim.shop") / "data" / "steels" / f"{name}.toml"
    made = grade_from_text(entry.read_text(encoding="utf-8"), f"{name}.toml")
    return _made(made, yield_stress, hardening, kinematic_share, annealing, curve)


def steel_from_file(
    path: str | Path,
    *,
    yield_stress: float | None = None,
    hardening: str = "isotropic",
    kinematic_share: float = 0.5,
    annealing: float = 800.0,
    curve: str | None = None,
) -> Steel:
    """Steel of a user's file, see shop.steel_file; ``curve`` None takes the file's.

    Another yield stress (Pa) scales the file's columns of stress with it.
    """
    made = read_grade(path)
    curve = made.curve if curve is None else curve
    try:
        return _made(made, yield_stress, hardening, kinematic_share, annealing, curve)
    except CaseError as error:
        raise CaseError([f"{path}: {fault}" for fault in error.problems]) from error


def _plain(grade: str) -> str:
    """Grade name without differences of spelling."""
    letters = grade.upper().replace("ASTM", "").replace("GRADE", "").replace("GR", "")
    return "".join(c for c in letters if c.isalnum())


def _made(
    grade: Grade,
    yield_stress: float | None,
    hardening: str,
    share: float,
    annealing: float,
    curve: str,
) -> Steel:
    if curve not in ("EN", "ellipse", "plateau"):
        message = f"curve = {curve!r} is not one of EN, plateau"
        raise CaseError(message)
    fy = grade.yield_stress if yield_stress is None else float(yield_stress)
    if not 0.0 < fy < np.inf:
        message = f"yield_stress = {fy:g} Pa must be above 0"
        raise CaseError(message)
    sources = dict(grade.sources)
    if yield_stress is not None:
        sources["yield_stress"] = "given with the case"
    return Steel(
        grade.name,
        fy,
        heat_table(grade),
        strain_table(grade, fy, hardening, share, annealing, curve == "plateau"),
        curves.DENSITY,
        curves.POISSON,
        grade.limit,
        TRANSFORMATION if grade.change is None else grade.change.heating[0],
        sources,
    )

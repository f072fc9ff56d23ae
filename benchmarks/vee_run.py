"""One vee of `vee_study`: a changed case, its torch tuned, the heat, the movement."""

from __future__ import annotations

import json
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from unittest.mock import patch

import numpy as np
from published_vee import PLATE

from shrinksim.arrays import FloatArray
from shrinksim.errors import CaseError, NotConverged
from shrinksim.fem.conduction import Medium
from shrinksim.fem.mesh import Mesh
from shrinksim.heat import HeatHistory, Phase, PhaseName
from shrinksim.heat.trailing_cooling import smooth_cutoff
from shrinksim.runs.run import run_once
from shrinksim.views import VIEWS, workpiece
from shrinksim.views.cooling_phases import outside_by
from shrinksim.views.elevation import read_out as judge
from shrinksim.views.elevation import stages
from shrinksim.views.elevation.loading import heat_phases
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from
from shrinksim.views.result import AnyResult
from shrinksim.views.view import Heating
from shrinksim.views.workpiece import Workpiece

HOTTEST = 650.0
"""degC of the published heats."""
WITHIN = 3.0
"""K, how near to it the secant brings the hottest steel (the median)."""
AT_MOST = 20.0
"""K, farthest from it that a run is kept; the record has what it came to."""
COLD = 100.0
"""degC that the hottest steel cools to where the next row waits for it."""
LOWEST = 120.0
"""degC, lowest target that the secant tries."""
EDGE = 4e-3
"""Width (m) over which heat laid on the whole vee at once ends at its sides."""

FREE = {"kind": "none"}


@dataclass(frozen=True)
class Variant:
    """A changed case.  changes : dotted keys with "__", as "vee__angle" or "torch__power".

    rules : constants of the elevation's geometry in place of its own.  way : what is
    done to the path.  flux : W/m2 when the whole vee is heated at once.  tune : what
    brings the steel to HOTTEST ("" : nothing), measure : which steel.
    """

    factor: str
    name: str
    changes: dict[str, Any] = field(default_factory=dict)
    rules: dict[str, float] = field(default_factory=dict)
    way: str = ""
    flux: float = 0.0
    tune: str = "torch__target"
    measure: str = "hottest_C"
    loads: dict[str, Any] = field(default_factory=dict)


def case_of(variant: Variant, load: dict[str, Any], tuned: float) -> Case:
    """The case of a variant under a load, with its tuned target (degC) or speed (m/s)."""
    vee = {"kind": "vee", "angle": "45 deg", "depth_ratio": 0.75, "open": "top"}
    tables: dict[str, Any] = {
        "title": "vee study",
        "member": dict(PLATE),
        "steel": {"grade": "A36"},
        "load": load,
        "torch": {"flame": "heating tip, small"},
        "numerics": {},
        "heat": [{"pattern": [vee], "cooling": {"kind": "still air"}}],
    }
    places = tables | {"vee": vee, "cooling": tables["heat"][0]["cooling"]}
    units = {"torch__target": "degC", "torch__speed": "m/s"}
    given = dict(variant.changes)
    if variant.tune:
        given[variant.tune] = f"{tuned} {units[variant.tune]}"
    for key, value in given.items():
        table, name = key.split("__")
        places[table][name] = value
    if "file" in tables["steel"]:
        del tables["steel"]["grade"]
    case = case_from(tables, "vee study", Path())
    assert isinstance(case, Case)
    return case


def phases_of(
    variant: Variant, case: Case, work: Workpiece, body: Medium
) -> list[Phase]:
    """The phases of the case with the variant's way, or with the vee heated at once."""
    phases: list[Phase] = []
    for phase in heat_phases(case, work, body):
        phases += altered(variant, phase, work, body) if phase.torch else [phase]
    return phases


def altered(
    variant: Variant, phase: Phase, work: Workpiece, body: Medium
) -> list[Phase]:
    """A torch's phase, changed."""
    torch = phase.torch
    assert torch is not None
    points = torch.points
    if variant.flux:
        gap = outside_by(work.outlines[0], body.quadrature.xy)
        share = variant.flux * smooth_cutoff(gap, EDGE)
        source = {"torch": None, "sources": (lambda x, y, t: share,), "reach": HOTTEST}
        return [replace(phase, duration=3600.0, **source)]
    if variant.way == "base first":
        points = points[::-1]
    if variant.way == "up and down":
        points = np.concatenate([points, points[-2::-1]])
    if variant.way == "cold between rows":
        rows = [points[points[:, 1] == y] for y in np.unique(points[:, 1])]
        wait = replace(phase, torch=None, until=COLD, name=PhaseName("between rows", 1))
        torches = [replace(phase, torch=replace(torch, points=row)) for row in rows]
        return [p for row in torches for p in (row, wait)][:-1]
    return [replace(phase, torch=replace(torch, points=points))]


def within(variant: Variant) -> ExitStack:
    """The package with the variant's rules, for as long as the stack is open."""
    stack = ExitStack()
    for name, value in variant.rules.items():
        stack.enter_context(patch.object(workpiece, name, value))

    def phases(case: Case, work: Workpiece, body: Medium) -> list[Phase]:
        return phases_of(variant, case, work, body)

    stack.enter_context(patch.object(stages, "heat_phases", phases))
    return stack


Heated = tuple[Mesh, HeatHistory, float]


def heated(variant: Variant, known: dict[str, Heated]) -> Heated:
    """Mesh, heat history and the tuned target or speed; ``known`` keeps them.

    Steel's strength and the load change nothing of the heat.
    """
    changes = {k: v for k, v in variant.changes.items() if not k.startswith("steel")}
    key = json.dumps([changes, variant.rules, variant.way, variant.flux, variant.tune,
                      variant.measure])  # fmt: skip
    if key not in known:
        known[key] = tuned_heat(variant)
    return known[key]


def tuned_heat(variant: Variant) -> Heated:
    """Secant on the target, or on the logarithm of the speed."""
    speed = variant.tune == "torch__speed"
    tries: list[tuple[float, float]] = []
    best: tuple[float, Heated] | None = None
    value = np.log(0.006) if speed else HOTTEST
    for _ in range(6):
        tuned = float(np.exp(value) if speed else value)
        case = case_of(variant, FREE, tuned)
        work = workpiece.workpiece(case)
        mesh = workpiece.mesh_of(work)
        say = lambda stage, share, text: None  # noqa: E731
        heat = stages.heat(case, work, mesh, say, ()).history
        if not variant.tune:
            return mesh, heat, case.torch.target
        miss = peaks(work, mesh, heat)[variant.measure] - HOTTEST
        if best is None or abs(miss) < best[0]:
            best = abs(miss), (mesh, heat, tuned)
        if abs(miss) <= WITHIN:
            break
        tries.append((value, miss))
        value -= slope_over(tries, -200.0 if speed else 1.0) * miss
        value = value if speed else max(value, LOWEST)
    assert best is not None
    if best[0] <= AT_MOST:
        return best[1]
    message = f"{variant.name}: no target or speed gives {HOTTEST:.0f} degC: {tries}"
    raise NotConverged(message)


def slope_over(tries: list[tuple[float, float]], first: float) -> float:
    """Change of the tuned value for each kelvin, kept near the first guess."""
    guess = 1.0 / first
    if len(tries) < 2:
        return guess
    (a, fa), (b, fb) = tries[-2:]
    slope = (b - a) / (fb - fa) if fa != fb else guess
    low, high = sorted((0.3 * guess, 3.0 * guess))
    return float(np.clip(slope, low, high))


def peaks(work: Workpiece, mesh: Mesh, heat: HeatHistory) -> dict[str, float]:
    """Hottest steel, and what the steel inside the chalk lines and beside came to.

    spill : area above 500 degC outside the vee over the vee's area.  apart_K : how much
    the steel at the vee's apex has cooled from its peak when its base has its own.
    """
    y = mesh.points[:, 1]
    inside = outside_by(work.outlines[0], mesh.points) < 1e-6
    corner = mesh.points[mesh.triangles[:, :3]]
    d1, d2 = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = 0.5 * np.abs(d1[:, 0] * d2[:, 1] - d1[:, 1] * d2[:, 0])
    center = heat.peak[mesh.triangles[:, 3:]].mean(axis=1)
    within_vee = outside_by(work.outlines[0], corner.mean(axis=1)) < 0.0
    order = np.argsort(center[within_vee])
    share = np.cumsum(area[within_vee][order])
    median = np.interp(0.5 * share[-1], share, center[within_vee][order])
    hot = area[~within_vee & (center > 500.0)].sum() / share[-1]
    nodes = np.flatnonzero(inside)
    span = y[nodes].min(), y[nodes].max()
    low, high = span[0] + 0.2 * (span[1] - span[0]), span[1] - 0.2 * (span[1] - span[0])
    apex = heat.temperature[:, nodes[y[nodes] < low]].mean(axis=1)
    base = heat.temperature[:, nodes[y[nodes] > high]].mean(axis=1)
    return {
        "hottest_C": float(heat.peak.max()),
        "median_in_vee_C": float(median),
        "spill": float(hot),
        "apart_K": float(apex.max() - apex[int(np.argmax(base))]),
        "torch_s": burning(heat),
    }


def burning(heat: HeatHistory) -> float:
    """Seconds of the phases with a torch on, or with heat laid on at once."""
    on = np.array(["torch" in name.kind for name in heat.phases[1:]])
    return float(np.diff(heat.times)[on].sum())


def moved(variant: Variant, load: dict[str, Any], found: Heated) -> dict[str, Any]:
    """Strain stage on a known heat: rotation in mrad, where it comes from, and the load.

    moment_highest_Mp, moment_last_Mp : over the cold Mp, and cold just before release.
    """
    mesh, heat, tuned = found
    case = case_of(variant, load, tuned)
    known = replace(
        stages.STAGES, mesh=lambda work: mesh, heat=lambda *rest: Heating(heat)
    )
    view = replace(VIEWS["elevation"], stages=lambda: known)
    with patch.dict(VIEWS, elevation=view):
        run = run_once(case)
    share = run.movement.moment_history / run.geometry.plastic_moment
    return {
        "rotation_mrad": run.movement.rotation * 1e3,
        "shortening_mm": run.movement.shortening * 1e3,
        "outcome": run.outcome,
        "moment_highest_Mp": float(share.max()),
        "moment_last_Mp": float(share[-2]),
        **parts(run),
    }


def parts(run: AnyResult) -> dict[str, float]:
    """The rotation by the place of the plastic strains (unit-moment theorem), mrad.

    in_vee : inside the chalk lines.  beside : outside them, above the apex.  below :
    the depth that the vee leaves.
    """
    outline = run.geometry.outlines[0]
    x = run.mesh.points[run.mesh.triangles[:, :3]].mean(axis=1)
    inside = outside_by(outline, x) < 0.0
    above = x[:, 1] > outline[:, 1].min()
    places = {"in_vee": inside, "beside": above & ~inside, "below": ~above}
    plastic: FloatArray = run.strain.plastic_strain
    found = {}
    for name, where in places.items():
        strain = replace(run.strain, plastic_strain=plastic * where[:, None, None])
        found[name] = 1e3 * judge.rotation_from_plastic_strain(
            run.body, run.held.ends, strain
        )
    return found


def rows_of(variant: Variant, known: dict[str, Heated]) -> list[dict[str, Any]]:
    """A row for each load of a variant; one with the reason when it cannot be run."""
    changes = {k: v.split("/")[-1] for k, v in variant.changes.items() if "file" in k}
    changes = variant.changes | changes
    head = {"factor": variant.factor, "name": variant.name, "changes": changes}
    head |= {"rules": variant.rules, "way": variant.way, "flux": variant.flux}
    rows = []
    with within(variant):
        try:
            found = heated(variant, known)
            work = workpiece.workpiece(case_of(variant, FREE, found[2]))
            head |= {"tuned": found[2] if variant.tune else None}
            head |= peaks(work, found[0], found[1])
            for name, load in variant.loads.items():
                rows.append(head | {"load": name} | moved(variant, load, found))
        except (NotConverged, CaseError) as error:
            rows.append(head | {"load": "-", "failed": str(error)})
    return rows

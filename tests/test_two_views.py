"""The section view against the elevation view, where both must say the same.

An edge heat on a thin bar, even through its thickness.  Heated at once over its length
the bar bends as the section says, except near the ends of the heat.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shrinksim.arrays import FloatArray
from shrinksim.fem.conduction import Exchange, Medium
from shrinksim.heat import Phase
from shrinksim.movement import Movement
from shrinksim.runs.run import run_once
from shrinksim.shop.cooling import still_air
from shrinksim.views.cooling_phases import LONGEST
from shrinksim.views.elevation import stages
from shrinksim.views.elevation.loading import free_edges
from shrinksim.views.elevation.record import Case
from shrinksim.views.reading import case_from
from shrinksim.views.result import Result
from shrinksim.views.section.geometry import cut_of
from shrinksim.views.section.record import SectionCase
from shrinksim.views.section.torch import PASS, PIECES
from shrinksim.views.workpiece import Workpiece, by_band

pytestmark = pytest.mark.slow

WIDTH, AT, MM = 60.0, 15.0, 1e-3
"""mm: the bar is 60 x 2, its line of heat 15 mm off the middle."""


FADE = 8.0 * MM
"""Over which the heat ends along the bar: more than an element."""


def tables(power: float, element: float, **more: Any) -> dict[str, Any]:
    """What both views share; kW on each face that is heated, mm."""
    return {
        "title": "two views",
        "member": {"section": "plate", "width": f"{WIDTH} mm", "thickness": "2 mm"},
        "steel": {"grade": "S235"},
        "torch": {
            "power": f"{power} kW",
            "efficiency": 1.0,
            "radius": "12 mm",
            "drive": "travel",
            "speed": "10 mm/s",
        },
        "numerics": {
            "element": f"{element} mm",
            "far_element": "8 mm",
            "heat_tolerance": "4 K",
            "temperature_step": "30 K",
        },
        **more,
    }


def section_case(load: str | None = None) -> SectionCase:
    """The bar in its cross-section, both faces heated alike."""
    line = {"kind": "line along", "on": ["top", "bottom"], "at": f"{AT} mm"}
    heat = [{"pattern": [{**line, "length": "1 m"}]}]
    more: dict[str, Any] = {"view": "section", "heat": heat}
    if load is not None:
        more["load"] = {"kind": "weight", "sweep_moment": load}
    case = case_from(tables(0.3, 2.0, **more), "section", Path())
    assert isinstance(case, SectionCase)
    return case


def elevation_case(patch: float, load: str | None = None) -> Case:
    """The bar on its face; the line only says where the mesh is to be fine."""
    y, reach = 0.5 * WIDTH + AT, min(0.25 * patch, 60.0)
    line = {"from": [f"{-reach} mm", f"{y} mm"], "to": [f"{reach} mm", f"{y} mm"]}
    more: dict[str, Any] = {"heat": [{"pattern": [{"kind": "line", **line}]}]}
    if load is not None:
        more["load"] = {"kind": "weight", "moment": load}
    given = tables(0.6, 3.0, **more)
    given["member"]["patch"] = f"{patch} mm"
    case = case_from(given, "elevation", Path())
    assert isinstance(case, Case)
    return case


Phases = Callable[[Case, Workpiece, Medium], list[Phase]]


def everywhere_at_once(case: SectionCase, length: float) -> Phases:
    """The section's passing torch, but over ``length`` mm of the bar at once."""
    pattern = cut_of(case).heats[0][0]
    drive, speed = pattern.drive, pattern.drive.speed
    half = PASS * drive.radius / speed
    part, root = 2.0 * half / PIECES, np.sqrt(3.0)

    def source(start: float) -> Callable[[FloatArray, FloatArray, float], FloatArray]:
        def flux(x: FloatArray, y: FloatArray, t: float) -> FloatArray:
            gap = root * speed / drive.radius * (start + t - half)
            along = root / np.sqrt(np.pi) / drive.radius * np.exp(-(gap**2))
            across = 2.0 * drive.power * pattern.across(y - 0.5 * WIDTH * MM)
            inside = (0.5 * length * MM - np.abs(x)) / FADE + 0.5
            return across * along * np.clip(inside, 0.0, 1.0)

        return flux

    def phases(job: Case, work: Workpiece, body: Medium) -> list[Phase]:
        air = still_air(job.surroundings.ambient, job.surroundings.emissivity)
        faces = by_band(work, body.mesh, "losing_faces")[:, None]
        calm, edges = (Exchange(air, faces),), free_edges(work, air)
        hot = [
            Phase(part, calm, edges, sources=(source(k * part),), heated_at=np.zeros(2))
            for k in range(PIECES)
        ]
        return [*hot, Phase(LONGEST, calm, edges, until=25.0)]

    return phases


def at_once(
    patch_in: pytest.MonkeyPatch, length: float, patch: float, load: str | None = None
) -> Movement:
    """The elevation's movement of a bar heated at once over ``length`` mm."""
    phases = everywhere_at_once(section_case(load), length)
    patch_in.setattr(stages, "heat_phases", phases)
    return run_once(elevation_case(patch, load)).movement


@pytest.fixture(scope="module")
def section() -> Result:
    """The free bar in the section view."""
    return run_once(section_case())


def test_heated_over_its_whole_length_both_views_agree(section, monkeypatch):
    """Nothing changes along the bar then: the elevation is the section, seen on its
    face.  Two meshes, two ways to march, hence the tolerance.
    """
    moved, length = at_once(monkeypatch, 1e3, 120.0), 120.0 * MM
    assert moved.rotation == pytest.approx(section.movement.sweep * length, rel=0.015)
    assert moved.shortening == pytest.approx(
        -section.movement.strain * length, rel=0.015
    )


@pytest.mark.parametrize("load", ["0.25 Mp", "-0.2 Mp"])
def test_they_agree_under_load(section, monkeypatch, load):
    """Of a load that opposes little is left: its share of the free turn counts."""
    length, free = 120.0 * MM, section.movement.sweep
    sweep = run_once(section_case(load)).movement.sweep
    turn = at_once(monkeypatch, 1e3, 120.0, load).rotation
    assert abs(sweep - free) > 0.2 * free
    assert turn == pytest.approx(sweep * length, rel=0.015, abs=0.015 * free * length)


def test_the_ends_of_a_heat_cost_a_third_of_the_depth(section, monkeypatch):
    """Turn = curvature times the heated length less 0.3 to 0.4 depths, which the cold
    steel beyond the two ends takes off (0.40 at 1.3 depths long, 0.32 at 2.7).
    """
    for length in (80.0, 160.0):
        turn = at_once(monkeypatch, length, length + 160.0).rotation
        lost = (length * MM - turn / section.movement.sweep) / (WIDTH * MM)
        assert 0.25 < lost < 0.45


def test_a_passing_torch_turns_less_than_the_same_heat_at_once(monkeypatch):
    """Why the section view warns of a "short hot zone": the elevation view tells the
    two apart by itself, power, length and mesh alike.
    """
    passing = run_once(elevation_case(280.0))
    once = at_once(monkeypatch, 120.0, 280.0)
    absorbed = 600.0 * 120.0 / 10.0
    assert passing.heat.absorbed[-1] == pytest.approx(absorbed, rel=0.03)
    assert 0.0 < passing.movement.rotation < 0.85 * once.rotation

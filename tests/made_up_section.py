"""Small section results made up from formulas, for tests of what is written and drawn."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
from made_up_result import NASTY

from shrinksim.arrays import frozen
from shrinksim.fem.basis import quadrature
from shrinksim.fem.mesher import mesh_outline
from shrinksim.heat import HeatHistory, PhaseName
from shrinksim.heat.phase import TORCH
from shrinksim.shop.sections.i_section import ISection
from shrinksim.shop.sections.plate import Plate
from shrinksim.strain import StrainHistory
from shrinksim.views import VIEWS
from shrinksim.views.section.heating import FOLLOWED, GOES_ON
from shrinksim.views.section.movement import SectionMovement

PLATE = Plate(0.3, 0.012)
BEAM = ISection("I", 0.3, 0.15, 0.007, 0.011, 0.015)
LENGTH, CAMBER, SWEEP = 2.0, 6e-3, -2e-3
"""Heated length, m; the curvatures left, 1/m."""

FORCED = {"kind": "mist", "behind": "80 mm", "reach": "20 mm"}


def heat_history(mesh, spot):
    """A torch passes for 20 s; mist follows for 10 s; then it cools over an hour."""
    times = np.concatenate(
        [np.linspace(0, 20, 11), np.linspace(22, 30, 5), 30 + np.geomspace(5, 3600, 16)]
    )
    on = (times > 0) & (times <= 20)
    torch = np.full((len(times), 2), np.nan)
    torch[on] = spot
    near = np.exp(-np.sum(((mesh.points - spot) / 0.03) ** 2, axis=1))
    level = np.where(
        times <= 20, np.exp(-(((times - 12) / 5) ** 2)), np.exp(-times / 300) / 12
    )
    T = 20 + 600 * level[:, None] * near
    absorbed = 3e5 * np.minimum(times / 20, 1.0)
    phases = [PhaseName(TORCH, 1, 1)] * 11 + [PhaseName(FOLLOWED, 1, 1)] * 5
    phases += [PhaseName(GOES_ON, 1)] * 8 + [PhaseName("mist", 1)] * 4
    phases += [PhaseName("to cold")] * 4
    return HeatHistory(
        frozen(times), frozen(T), frozen(torch), frozen(absorbed),
        frozen(0.2 * absorbed), frozen(0.8 * absorbed), frozen(T.max(axis=0)),
        tuple(phases), len(times) - 1, 99, len(near), 1.0,
    )  # fmt: skip


def strain_history(mesh, heat):
    """The load on first and off last; stress along the member linear with height."""
    knots = heat.times[::2]
    end = knots[-1] + 3600
    times = np.concatenate([[0.0], knots, [end, end]])
    fraction = np.concatenate([[0.0], np.ones(len(knots)), [1.0, 0.0]])
    cold = np.full((1, len(mesh.points)), 20.0)
    T = np.concatenate([cold, heat.temperature[::2], cold, cold])
    x, y = mesh.points.T
    grown = np.linspace(0.0, 1.0, len(times))[:, None]
    u = np.stack([1e-4 * grown * y, 2e-3 * grown * np.abs(x)], axis=-1)
    along = 2e9 * (quadrature(mesh, "interior 3").xy[..., 1] - 0.5 * y.max())
    zero = np.zeros_like(along)
    stress = np.stack([zero, zero, zero, along], axis=-1)
    rows = np.zeros((len(times), 3))
    return StrainHistory(
        frozen(times), frozen(T), frozen(fraction), frozen(rows), frozen(rows),
        frozen(u), frozen(rows), frozen(stress), frozen(stress / 1e12),
        frozen(np.abs(along) / 1e11), frozen(times * 0 + 2e8),
        frozen(times * 0 + 1e-6), {}, len(times) - 1, 77, 2 * len(x), 1.0,
    )  # fmt: skip


def movement_of(times, shape, camber, sweep, share, moment):
    grown = np.linspace(0.0, 1.0, len(times))
    acting = np.where((grown > 0) & (grown < 1), moment, 0.0)
    margin = np.where(acting > 0, 2.0 - np.exp(-(((times - 12) / 8) ** 2)), np.inf)
    least = float(margin.min())
    over = LENGTH * share
    return SectionMovement(
        -2e-4, camber, sweep, LENGTH, share, camber * over, sweep * over, 2e-4 * over,
        4e-3 if isinstance(shape, Plate) else None, 3e-4, 9e4,
        frozen([-2e-4, camber, sweep]), frozen(times), frozen(-2e-4 * grown),
        frozen(camber * grown), frozen(sweep * grown), frozen(acting),
        frozen(0.0 * acting), frozen(margin), least if np.isfinite(least) else None,
    )  # fmt: skip


def pattern_of(kind, on):
    """A pattern as the resolved case has it."""
    own = {
        "line along": {},
        "strip along": {"width": "40 mm"},
        "spots along": {"diameter": "25 mm", "spacing": "100 mm"},
    }[kind]
    torch = {"drive": "held", "target": "600 degC"}
    base = {"kind": kind, "on": list(on), "at": "0 mm", "length": "2000 mm"}
    return base | own | {"pause": "0 s", "torch": torch}


def made_up(
    title=NASTY, units="metric", load="jack", outcome="complete", shape=PLATE,
    kind="strip along", on=("top",), camber=CAMBER, sweep=SWEEP, cooling=None,
    side=(0, 1), edges="free",
):  # fmt: skip
    """A result of the section view by its contract."""
    pieces = shape.outline()
    mesh = mesh_outline(pieces, lambda x, y: 0.012)
    spot = np.array([0.0, mesh.points[:, 1].max()])
    heat = heat_history(mesh, spot)
    strain = strain_history(mesh, heat)
    spots = kind == "spots along"
    share, moment = 0.25 if spots else 1.0, 0.0 if load == "none" else 4e3
    movement = movement_of(strain.times, shape, camber, sweep, share, moment)
    resolved = {
        "title": title,
        "view": "section",
        "print_units": units,
        "load": {
            "kind": load,
            "camber_moment": "0.25 Mp",
            "sweep_moment": "-0.1 Mp",
            "axial": "0 N",
            "stiffness": "2 EI/L",
            "edges": edges,
        },
        "heat": [{"pattern": [pattern_of(kind, on)], "cooling": cooling or FORCED}],
    }
    summary = {
        "title": title,
        "view": "section",
        "camber_rotation_mrad": np.float64(movement.camber_rotation * 1e3),
        "hot_hinge_margin": float("inf"),
        "torch_speed_mm_s": [None],
        "burnt_J": 3e6,
        "converged": outcome == "complete",
        "cautions": [{"code": "a", "text": NASTY}],
    }
    return SimpleNamespace(
        title=title, view=VIEWS["section"], case=SimpleNamespace(print_units=units),
        geometry=SimpleNamespace(
            shape=shape, side=side, steel=SimpleNamespace(yield_stress=235e6),
            pieces=pieces, spans=tuple((name, -0.02, 0.02) for name in on),
        ), mesh=mesh,
        heating=SimpleNamespace(
            schedules=(None if spots else 4e-3,), torch_times=(500.0,)
        ),
        points={"_under $^": (0.0, float(spot[1])), "<b>梁": (0.0, 0.0)}, heat=heat,
        strain=strain, movement=movement,
        cautions=(SimpleNamespace(code="a", text=f"careful {NASTY}"),),
        outcome=outcome, seconds={"mesh": 0.1, "total": 1.0},
        refinement={
            "factor": 1.5, "camber_change_percent": 0.2, "sweep_change_percent": 0.0,
        },
        steel_limit=650.0, load_kind=load, trust=("not far",),
        versions={"shrinksim": "1.2.3"}, input_hash="abc123", resolved=resolved,
        summary=lambda: summary,
    )  # fmt: skip

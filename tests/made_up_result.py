"""A small result made up from formulas, for tests of what is written and drawn."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np

from shrinksim.arrays import frozen
from shrinksim.fem.basis import quadrature
from shrinksim.fem.mesher import elevation_record
from shrinksim.heat import HeatHistory, PhaseName
from shrinksim.heat.phase import TORCH
from shrinksim.movement import Movement
from shrinksim.shop.pattern import Coverage, Drive, HeatedFace, vee
from shrinksim.shop.sections.shape import Band
from shrinksim.strain import StrainHistory
from shrinksim.views import VIEWS

LENGTH, DEPTH = 0.4, 0.1
NASTY = "<script>alert('$x_1$')</script> & Träger 梁"


def t6_mesh(nx=16, ny=6):
    """A rectangle in T6 triangles: a grid of squares, each cut in two."""
    x = np.linspace(-LENGTH / 2, LENGTH / 2, 2 * nx + 1)
    y = np.linspace(0.0, DEPTH, 2 * ny + 1)
    points = np.stack(np.meshgrid(x, y, indexing="ij"), axis=-1).reshape(-1, 2)

    def node(i, j):
        return i * len(y) + j

    triangles = []
    for i in range(0, 2 * nx, 2):
        for j in range(0, 2 * ny, 2):
            a, b = node(i, j), node(i + 2, j)
            c, d = node(i + 2, j + 2), node(i, j + 2)
            middle = node(i + 1, j + 1)
            triangles.append([a, b, c, node(i + 1, j), node(i + 2, j + 1), middle])
            triangles.append([a, c, d, middle, node(i + 1, j + 2), node(i, j + 1)])
    bands = [("plate", 0.0, DEPTH)]
    return elevation_record(points, np.array(triangles), LENGTH, bands)


def heat_history(mesh, path):
    """Torch on for 40 s, then cooling over an hour."""
    times = np.concatenate([np.linspace(0, 40, 21), 40 + np.geomspace(5, 3600, 20)])
    on = (times > 0) & (times <= 40)
    torch = np.full((len(times), 2), np.nan)
    torch[on] = path.points[np.linspace(0, len(path.points) - 1, on.sum()).astype(int)]
    x, y = mesh.points.T
    spot = np.exp(-((x / 0.04) ** 2) - ((y - 0.8 * DEPTH) / 0.05) ** 2)
    level = np.where(times <= 40, times / 40, np.exp(-(times - 40) / 300))
    T = 20 + 680 * level[:, None] * spot
    absorbed = 1e5 * np.minimum(times / 40, 1.0)
    stored = 1e5 * level
    phases = [PhaseName("start")] + [PhaseName(TORCH, 1, 1)] * 20
    phases += [PhaseName("still air", 1)] * 20
    return HeatHistory(
        frozen(times), frozen(T), frozen(torch), frozen(absorbed),
        frozen(absorbed - stored), frozen(stored), frozen(T.max(axis=0)),
        tuple(phases), len(times) - 1, 99, len(x), 1.0,
    )  # fmt: skip


def strain_history(mesh, heat, turn):
    """Knots at every second heat time; the load on first and off last."""
    knots = heat.times[::2]
    end = knots[-1] + 3600
    times = np.concatenate([[0.0], knots, [end, end]])
    fraction = np.concatenate([[0.0], np.ones(len(knots)), [1.0, 0.0]])
    cold = np.full((1, len(mesh.points)), 20.0)
    T = np.concatenate([cold, heat.temperature[::2], cold, cold])
    x, y = mesh.points.T
    share = np.clip(x / 0.06 + 0.5, 0, 1)
    u = np.zeros((len(times), len(x), 2))
    u[..., 0] = -turn[:, None] * share * (y - DEPTH / 2)
    u[..., 1] = turn[:, None] * np.where(x > 0, x, 0)
    sigma = 1e9 * (quadrature(mesh, "interior 3").xy[..., 1] - DEPTH / 2)
    stress = np.stack([sigma, 0 * sigma, 0 * sigma], axis=-1)
    overlay = np.full((2, 3, 3), 9e9)  # elements after the mesh's own are not drawn
    stress = np.concatenate([stress, overlay])
    zeros = np.zeros((len(times), 3))
    return StrainHistory(
        frozen(times), frozen(T), frozen(fraction), frozen(zeros), frozen(zeros),
        frozen(u), frozen(u[:, 0, :0]), frozen(stress), frozen(stress / 1e12),
        frozen(np.abs(stress[..., 0]) / 1e12), frozen(times * 0 + 2e8),
        frozen(times * 0 + 1e-6), {}, len(times) - 1, 77, 2 * len(x), 1.0,
    )  # fmt: skip


def movement_of(times, turn, load):
    moment = np.where(np.arange(len(times)) > 0, load, 0.0)
    moment[-1] = 0.0
    hot = 3e3 - 1.5e3 * np.exp(-(((times - 40) / 30) ** 2))
    margin = np.divide(hot, moment, out=np.full_like(hot, np.inf), where=moment > 0)
    least = float(margin.min())
    x = np.linspace(-LENGTH / 2, LENGTH / 2, 21)
    return Movement(
        float(turn[-1]), 4e-4, float(turn[-1]) / 0.08, 0.08, 5e-4, float(turn[-1]),
        frozen(x), frozen(turn[-1] * np.clip(x / 0.06 + 0.5, 0, 1)), frozen(times),
        frozen(turn), frozen(turn * 0.1), frozen(moment), frozen(margin),
        least if np.isfinite(least) else None,
    )  # fmt: skip


def made_up(title=NASTY, units="metric", load="jack", outcome="complete", sign=1.0):
    mesh = t6_mesh()
    drive = Drive(3e3, 0.015, 0.03, 650.0)
    way = Coverage(0.008, 0.006)
    pattern = vee(
        HeatedFace(DEPTH, ("plate",)), drive, way, at=0.0, angle=0.8, depth=0.075, opens=1
    )  # fmt: skip
    heat = heat_history(mesh, pattern.path)
    turn = sign * np.linspace(1e-3, 5e-3, len(heat.times[::2]) + 3)
    strain = strain_history(mesh, heat, turn)
    movement = movement_of(strain.times, turn, 0.0 if load == "none" else 800.0)
    resolved = {
        "title": title,
        "print_units": units,
        "load": {"kind": load, "moment": "0.25 Mp", "axial": "0 kN"},
    }
    summary = {
        "title": title,
        "rotation_mrad": np.float64(movement.rotation * 1e3),
        "hot_hinge_margin": float("inf"),
        "energy_J": {"absorbed": 1e5, "imbalance": 0.0},
        "burnt_J": 3e5,
        "converged": outcome == "complete",
        "cautions": [{"code": "a", "text": NASTY}],
    }
    return SimpleNamespace(
        title=title, view=VIEWS["elevation"], case=SimpleNamespace(print_units=units),
        geometry=SimpleNamespace(
            bands=(Band("plate", 0.0, DEPTH, 0.01, 0.01, 2.0, 2),),
            outlines=(pattern.outline,), paths=(pattern.path,),
        ), mesh=mesh,
        points={"_apex $^": (0.0, 0.03), "<b>梁": (0.0, 0.099)}, heat=heat,
        strain=strain, movement=movement,
        cautions=(SimpleNamespace(code="a", text=f"careful {NASTY}"),),
        outcome=outcome, seconds={"mesh": 0.1, "total": 1.0},
        refinement={"factor": 1.5, "rotation_change_mrad": 0.1}, steel_limit=650.0,
        load_kind=load, trust=("not far",), versions={"shrinksim": "1.2.3"},
        input_hash="abc123", resolved=resolved, summary=lambda: summary,
    )  # fmt: skip

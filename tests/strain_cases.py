"""Steels, marches and the one-dimensional reference of the strain tests."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.section import SectionBody
from shrinksim.fem.sheet import Support
from shrinksim.fem.structure import Strainable
from shrinksim.shop.steel import StrainTable
from shrinksim.strain import Control, Schedule, StrainHistory, solve_strain

E, NU, ALPHA, SY = 210e9, 0.3, 1.2e-5, 235e6  # material "K", perfectly plastic
MPA, MM = 1e6, 1e-3
TIGHT = Control(tolerance=1e-8)


def constant_steel(
    modulus: float = E,
    poisson: float = NU,
    alpha: float = ALPHA,
    level: float = SY,
    *,
    slope: float = 0.0,
    back: float = 0.0,
    back_strain: float = 1.0,
    annealing: float = np.inf,
) -> StrainTable:
    """A steel that is the same at all temperatures; slope : Pa, dflow/dp."""
    return StrainTable(
        20.0,
        1000.0,
        np.full(2, modulus),
        np.array([0.0, 1000.0 * alpha]),
        poisson,
        20.0,
        1000.0,
        np.array([0.0, 1.0]),
        np.tile([level, level + slope], (2, 1)),
        np.full(2, back),
        back_strain,
        annealing,
    )


def uniform(
    body: Strainable,
    hold: Support,
    temperatures: Sequence[float] | FloatArray,
    fraction: Sequence[float] | FloatArray | None = None,
    *,
    field: FloatArray | float = 1.0,
    snapshots: tuple[int, ...] = (),
    control: Control = TIGHT,
) -> StrainHistory:
    """March through 20 + (temperature - 20) * field (n,), one knot each."""
    rise = np.asarray(temperatures, float)[:, None] - 20.0
    T = 20.0 + rise * np.ones(len(body.mesh.points)) * field
    load = np.ones(len(T)) if fraction is None else np.asarray(fraction, float)
    schedule = Schedule(np.arange(len(T), dtype=float), T, load)
    return solve_strain(body, schedule, hold, control=control, snapshots=snapshots)


def axial(body: SectionBody, out: StrainHistory) -> FloatArray:
    """A section's axial strain and its two curvatures 1/m, (s, 3)."""
    return out.section_strain / [1.0, body.arm, body.arm]


def ramp(*corners: float, step: float) -> FloatArray:
    """From corner to corner in equal steps of at most ``step``."""
    parts = [np.array(corners[:1])]
    for a, b in pairwise(corners):
        count = max(1, int(np.ceil(abs(b - a) / step - 1e-9)))
        parts.append(np.linspace(a, b, count + 1)[1:])
    return np.concatenate(parts)


Curve = Callable[[FloatArray], FloatArray]


def plane_section(
    y: FloatArray,
    area: FloatArray,
    steps: Iterable[tuple[FloatArray, float, float]],
    modulus: Curve,
    free: Curve,
    level: Curve,
) -> list[tuple[float, float, FloatArray, FloatArray]]:
    """Perfectly plastic uniaxial fibres that stay plane: e0 + k y.

    steps : temperature (k,), axial force and moment at each.  Returns for each step
    e0, k, stress (k,) and plastic strain (k,).  Newton; total form of the elasticity.
    """
    e = np.zeros(2)
    plastic = np.zeros_like(y)
    shape = np.stack([np.ones_like(y), y])
    out = []
    for T, N, M in steps:
        E_T, heat, top = modulus(T), free(T), level(T)
        goal = np.array([N, M])
        for _ in range(200):
            trial = E_T * (e @ shape - heat - plastic)
            stress = np.clip(trial, -top, top)
            miss = goal - shape @ (stress * area)
            if np.abs(miss / np.array([1.0, y.max()])).max() < 1e-9 * SY * area.sum():
                break
            elastic = np.where(np.abs(trial) < top, E_T, 1e-4 * E_T) * area
            e = e + np.linalg.solve((shape * elastic) @ shape.T, miss)
        else:
            raise AssertionError(T)
        plastic = plastic + (trial - stress) / E_T
        out.append((e[0], e[1], stress, plastic.copy()))
    return out

"""A third view, built from outside the package: a bar of fibres under one strain.

The bar's fibres lie beside each other and keep their ends plane, so that it stretches
by one strain and bends by one curvature.  A heat brings the top fibre to a target, the
others in proportion to their height; the ends may be held by a spring.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from types import SimpleNamespace
from typing import Any, Literal

import numpy as np
from matplotlib.figure import Figure
from pydantic import BaseModel, Field

from shrinksim.arrays import FloatArray, frozen
from shrinksim.casefile.heating import RECORD
from shrinksim.casefile.resolving import steel_of
from shrinksim.casefile.tables import Numerics, Output, SteelChoice, Surroundings
from shrinksim.fem.newton import Point
from shrinksim.fem.sparse import ties
from shrinksim.fem.structure import State, Structure, rest, support
from shrinksim.heat import HeatHistory, PhaseName
from shrinksim.page.picture import Drawing
from shrinksim.page.style import blank, place
from shrinksim.views.caution import Caution
from shrinksim.views.measures import (
    EFFORT,
    heat_measures,
    history_measures,
    shortening,
    torch_measures,
)
from shrinksim.views.preview import Preview
from shrinksim.views.rows import tiles
from shrinksim.views.view import (
    Face,
    Fields,
    Heating,
    Held,
    LineTurn,
    Loaded,
    Measure,
    Shown,
    Stages,
    Trace,
    View,
)

FIBRES, MM = 21, 1e-3
TALL, LONG, AREA = 0.05, 1.0, 5e-4
"""m, m, m2: the one bar of this view."""


class FibreLoad(BaseModel):
    model_config = RECORD
    kind: Literal["none", "held"] = "none"
    removed: Literal["after cooling", "never"] = "after cooling"


class FibreHeat(BaseModel):
    model_config = RECORD
    target: float
    even: bool = False


class FibreCase(BaseModel):
    model_config = RECORD
    title: str
    view: Literal["fibres"]
    print_units: Literal["metric", "us"] = "metric"
    steel: SteelChoice
    surroundings: Surroundings = Surroundings()
    load: FibreLoad = FibreLoad()
    heats: tuple[FibreHeat, ...] = Field(alias="heat", min_length=1)
    numerics: Numerics = Numerics()
    output: Output = Output()


def faults(tables, case, folder) -> list[str]:
    if case is None:
        return []
    return [
        f"heat[{k}].target = {heat.target:g} is not between 100 and 1200 degC"
        for k, heat in enumerate(case.heats)
        if not 100.0 <= heat.target <= 1200.0
    ]


@dataclass(frozen=True)
class FibreBody:
    """Fibres at heights ``y`` (n,) m with their share of the area, one strain each."""

    mesh: Any
    y: FloatArray
    area: FloatArray
    cold: float
    table: Any

    @property
    def nodal_shape(self) -> tuple[int, int]:
        return 2, 1

    @property
    def points_shape(self) -> tuple[int, int]:
        return len(self.y), 1

    @property
    def hot_share(self) -> FloatArray:
        return np.ones(len(self.y))

    def at_points(self, T: FloatArray) -> FloatArray:
        return T[:, None]

    def structure(self, hold) -> Structure:
        return Structure(
            rest(2, self.points_shape, 1),
            lambda old, T, fraction, phase_strain: partial(
                self._point, hold, old, T, fraction
            ),
            lambda T, q, fraction: self._stiffness(self._modulus(T), hold, q, fraction),
            lambda matrix: lambda force: np.linalg.solve(matrix, force),
        )

    def _row(self, name: str, T: FloatArray) -> FloatArray:
        values = getattr(self.table, name)
        grid = self.table.start + self.table.step * np.arange(len(values))
        return np.interp(T, grid, values)

    def _modulus(self, T: FloatArray) -> FloatArray:
        return self._row("modulus", T)

    def _stiffness(self, E, hold, q, fraction) -> FloatArray:
        arms = np.stack([np.ones_like(self.y), -self.y])
        springs = np.diag(hold.push(q, fraction)[1])
        return (arms * (E * self.area)) @ arms.T * LONG + springs

    def _point(self, hold, old: State, T, fraction, q) -> Point:
        """Perfectly plastic fibres: stress = E (strain - thermal - plastic)."""
        table = self.table
        E, thermal = self._modulus(T), self._row("thermal_strain", T)
        grid = table.flow_start + table.flow_step * np.arange(len(table.flow))
        limit = np.interp(T, grid, table.flow[:, -1])
        u = hold.ties.expand(q)
        trial = E * (u[0] - u[1] * self.y - thermal - old.eps[:, 0, 0])
        stress = np.clip(trial, -limit, limit)
        plastic = old.eps[:, 0, 0] + (trial - stress) / E
        push, _ = hold.push(q, fraction)
        arms = np.stack([np.ones_like(self.y), -self.y])
        inside = arms @ (stress * self.area) * LONG
        tangent = np.where(np.abs(trial) > limit, 1e-6 * E, E)
        scale = float(np.abs(stress * self.area).sum() + np.abs(push).sum()) + 1.0
        eps = plastic[:, None, None]
        p = old.p + np.abs(eps[..., 0] - old.eps[..., 0])
        return Point(
            push - inside, scale, lambda: self._stiffness(tangent, hold, q, fraction),
            (eps, p, np.zeros_like(eps), stress[:, None, None]),
            float(np.abs(stress).max()),
        )  # fmt: skip


def draw(case):
    y = (np.arange(FIBRES) + 0.5) / FIBRES * TALL - 0.5 * TALL
    return SimpleNamespace(y=y, steel=steel_of(case.steel))


def mesh(geometry):
    return SimpleNamespace(points=np.stack([0.0 * geometry.y, geometry.y], axis=1))


def heat(case, geometry, mesh, say, schedules) -> Heating:
    """Up in 60 s, down in 600 s, the hottest fibre on top or all alike."""
    ambient, times, rows, names = case.surroundings.ambient, [0.0], [], []
    share = (geometry.y - geometry.y.min()) / np.ptp(geometry.y)
    rows.append(np.full(FIBRES, ambient))
    names.append(PhaseName("start"))
    for number, one in enumerate(case.heats, start=1):
        rise = (one.target - ambient) * (np.ones(FIBRES) if one.even else share)
        for kind, part, seconds in (("torch", 1.0, 3.0), ("still air", -1.0, 30.0)):
            for k in range(1, 21):
                up = k / 20 if part > 0 else 1.0 - k / 20
                times.append(times[-1] + seconds)
                rows.append(ambient + up * rise)
                names.append(PhaseName(kind, number, int(kind == "torch")))
        say("heat", 0.5, f"heat {number}")
    T = np.array(rows)
    stored = (T - ambient).sum(axis=1) * AREA / FIBRES * LONG * 7850.0 * 600.0
    gained = np.maximum(np.diff(stored, prepend=0.0), 0.0).cumsum()
    torch = np.where(
        np.array([n.kind == "torch" for n in names])[:, None], 0.0, np.nan
    ) * np.ones(2)
    history = HeatHistory(
        frozen(times), frozen(T), frozen(torch), frozen(gained),
        frozen(gained - stored), frozen(stored), frozen(T.max(axis=0)), tuple(names),
        len(times) - 1, 0, FIBRES, 0.0,
    )  # fmt: skip
    return Heating(history)


def body(case, geometry, mesh) -> FibreBody:
    area = np.full(FIBRES, AREA / FIBRES)
    ambient = case.surroundings.ambient
    return FibreBody(mesh, geometry.y, area, ambient, geometry.steel.strain)


def hold(case, geometry, body) -> Held:
    spring = None
    if case.load.kind == "held":
        stiff = 1e6 * float(body.table.modulus[0]) * AREA
        spring = np.array([stiff, stiff * TALL**2])
    return Held(support(ties(2, np.array([], int)), spring=spring), np.inf)


def folded(error, loaded):
    raise error


def move(loaded: Loaded, strain):
    stretch, bend = strain.displacement[..., 0].T * LONG
    none = np.full(len(strain.times), np.inf)
    return SimpleNamespace(
        times=strain.times, shortening=-float(stretch[-1]), rotation=float(bend[-1]),
        shortening_history=-stretch, rotation_history=bend, heated_length=LONG,
        hinge_margin=None, hinge_margin_history=none,
    )  # fmt: skip


def coarser(case, geometry):
    numerics = case.numerics
    step = numerics.temperature_step * 2.0
    update = {"numerics": numerics.model_copy(update={"temperature_step": step})}
    return case.model_copy(update=update)


def refinement(main, other, searched):
    turned = (other.movement.rotation - main.movement.rotation) * 1e3
    shorter = (other.movement.shortening - main.movement.shortening) * 1e3
    return {
        "factor": 2.0,
        "shortening_change_mm": shorter,
        "shortening_error_mm": abs(shorter),
        "rotation_error_mrad": abs(turned),
    }


def before(case, geometry):
    return [Caution("hot", "Hot steel burns; local codes and trained people decide.")]


def points(result):
    return {"top": (0.0, 0.5 * TALL), "bottom": (0.0, -0.5 * TALL)}


def point_temperatures(result):
    T = result.heat.temperature
    return {"top": T[:, -1], "bottom": T[:, 0]}


MEASURES = (
    Measure(
        "rotation_mrad", lambda r: r.movement.rotation * 1e3, "permanent rotation",
        column="rotation [mrad]", scale=1e-3,
        trace=Trace("rotation", "rotation", "mrad"),
        history=lambda r: r.movement.rotation_history, error="rotation_error_mrad",
        bend=LineTurn("", spread=True), shown=Shown("mrad", "mrad"),
    ),
    replace(
        shortening(), column="shortening [mm]", scale=MM,
        trace=Trace("shortening", "shortening", "length"),
        history=lambda r: r.movement.shortening_history,
    ),
    *heat_measures(),
    *history_measures(),
    *torch_measures(lambda r: r.heat.heating_time, lambda r: 0.0),
    *EFFORT,
)  # fmt: skip


def prepare(case):
    return Preview(2, FIBRES, 40, 0.1, ("A bar of fibres.",), tuple(before(case, None)))


def profile(result):
    """Plastic strain over the height."""
    figure: Figure = blank(2.0)
    axes = place(figure, 0.7, 0.5, 5.0, 1.2)
    axes.plot(result.strain.plastic_strain[:, 0, 0] * 1e3, result.geometry.y / MM)
    return figure


def words(result, summary):
    turn = f"{summary['rotation_mrad']:.3g} mrad"
    return {
        "headline": f"The heat bends the bar permanently by {turn}.",
        "details": [], "tiles": tiles(MEASURES, result), "actions": ["Heat the top."],
        "timeline": [], "clock": "", "near": False,
        "numbers": [("permanent rotation", turn)],
    }  # fmt: skip


def fields(result, row):
    y = result.geometry.y
    flat = np.stack([0.0 * y, y, 0.0 * y], axis=1)
    T = {"temperature [degC]": result.strain.temperature[row]}
    cells = {"line": np.stack([np.arange(FIBRES - 1), np.arange(1, FIBRES)], axis=1)}
    return Fields(flat, cells, T, {})


def shape(result):
    x, y = 0.5 * LONG, 0.5 * TALL
    ring = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
    shift = np.zeros_like(ring)
    shift[:, 0] = -ring[:, 0] * result.movement.shortening / LONG
    return ring, shift, 1.0


STAGES = Stages(
    draw=draw, mesh=mesh, heat=heat, body=body, hold=hold, folded=folded, move=move,
    coarser=coarser, refinement=refinement, before=before, after=lambda result: [],
    measures=MEASURES, trust=lambda result: ("A test's own view.",),
    points=points, point_temperatures=point_temperatures,
)  # fmt: skip

FACE = Face(
    words=words,
    pictures=lambda result: [
        Drawing("profile", "Plastic strain", "Over the height.", profile)
    ],
    alternative=lambda result, plate: f"{plate.heading}: a curve over the height.",
    fields=fields,
    shape=shape,
)

FIBRES_VIEW = View(
    "fibres",
    FibreCase,
    faults,
    lambda case, folder: case,
    prepare,
    lambda: STAGES,
    lambda: FACE,
)

"""Temperature through the plate's thickness, under the torch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.through import lagrange, lobatto_through
from shrinksim.movement import column_grid
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    FLATTEST,
    LINES,
    RED,
    SMALL,
    WIDTH,
    blank,
    foot_legend,
    place,
)
from shrinksim.units.scales import scale, time_text
from shrinksim.views.maps import TRANSFORMATION, colour_strip, levels_to
from shrinksim.views.solid.faces import on_levels
from shrinksim.views.solid.result import SolidResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ACROSS, DEEP = 121, 25
"""Places drawn over the width and through the thickness."""

AFTER = (0.0, 1.0, 3.0, 10.0)
"""s after the hottest moment at which curves are drawn."""

LEFT = 0.66


def hottest_moment(result: SolidResult) -> tuple[int, float, float]:
    """Row of the heat history with the hottest steel, and where (x, y) m that is."""
    T = result.heat.temperature
    row, place_of = np.unravel_index(int(np.argmax(T)), T.shape)
    x, y = result.mesh.points[int(place_of) % len(result.mesh.points)]
    return int(row), float(x), float(y)


def cut(result: SolidResult, row: int, x: float, y: FloatArray) -> FloatArray:
    """Temperatures (DEEP, len(y)) degC across the plate at ``x`` m, back to front."""
    half = 0.499999 * result.geometry.length
    grid = column_grid(result.mesh, np.array([np.clip(x, -half, half)]), y)
    levels = on_levels(result, result.heat.temperature[row])
    at_y = np.stack([grid.sample @ level for level in levels])
    thickness = result.geometry.thickness
    nodes = lobatto_through(thickness, len(levels) - 1).levels
    up, _ = lagrange(nodes, np.linspace(-0.5, 0.5, DEEP) * thickness)
    return up @ at_y


def faces_apart(result: SolidResult) -> tuple[float, float]:
    """Front and back (degC) at the hottest place when it is hottest."""
    row, x, y = hottest_moment(result)
    column = cut(result, row, x, np.array([y]))[:, 0]
    return float(column[-1]), float(column[0])


def through_thickness(result: SolidResult) -> Figure:
    """A cut across the plate under the torch, and temperature through it over time."""
    work, length = result.geometry, scale(result, "length")
    row, x, y = hottest_moment(result)
    wide = WIDTH - LEFT - 0.95
    true = wide * work.thickness / work.depth
    tall = float(np.clip(true, wide / FLATTEST, 1.8))
    wide = min(wide, wide * 1.8 / true) if true > 1.8 else wide
    figure = blank(tall + 3.68)
    axes = place(figure, LEFT, 3.35, wide, tall)
    shades = _map(result, axes, row, x, y)
    stretch = tall / (wide * work.thickness / work.depth)
    drawn = f", thickness drawn {stretch:.2g} times as large" if stretch > 1.05 else ""
    axes.set_title(f"Across the plate at {time_text(result.heat.times[row])}{drawn}")
    dress(axes, f"height [{length.unit}], front above, back below", f"[{length.unit}]")
    degrees = scale(result, "temperature")
    strip = (LEFT + wide + 0.18, 3.35, 0.13, tall)
    colour_strip(figure, strip, shades, f"[{degrees.unit}]")
    _curves(result, place(figure, LEFT, 0.85, WIDTH - LEFT - 0.6, 1.75), row, (x, y))
    foot_legend(figure, figure.axes[-1].get_legend_handles_labels()[0])
    return figure


def _map(
    result: SolidResult, axes: Axes, row: int, x: float, spot: float
) -> FloatArray:
    """Bands of temperature over height and thickness; their levels."""
    degrees, length = scale(result, "temperature"), scale(result, "length")
    work = result.geometry
    y = np.linspace(0.0, work.depth, ACROSS)
    z = np.linspace(-0.5, 0.5, DEEP) * work.thickness
    T = cut(result, row, x, y)
    shades = levels_to(result, float(T.min()), float(T.max()), "temperature")
    drawn = np.clip(degrees(T), shades[0], shades[-1])
    found = axes.contourf(length(y), length(z), drawn, levels=shades, cmap="cividis")
    found.set(edgecolor="face", linewidth=0.4)
    axes.axvline(float(length(spot)), color=RED, lw=1.2, ls=":")
    return shades


def moments_shown(result: SolidResult, row: int, x: float, y: float) -> list[int]:
    """Rows of the heat history with the hottest place half-way to its ``row``, at it,
    and after it.
    """
    times = result.heat.times
    wanted = times[row] + np.array(AFTER)
    rows = [int(np.argmin(np.abs(times - t))) for t in wanted if t <= times[-1]]
    hot = [float(cut(result, k, x, np.array([y])).max()) for k in range(row + 1)]
    half = 0.5 * (hot[0] + hot[-1])
    before = next(k for k, T in enumerate(hot) if half <= T)
    return list(dict.fromkeys([before, *rows]))


def _curves(
    result: SolidResult, axes: Axes, row: int, spot: tuple[float, float]
) -> None:
    """Temperature over the thickness at the hottest place at several times."""
    degrees, length = scale(result, "temperature"), scale(result, "length")
    z = length(np.linspace(-0.5, 0.5, DEEP) * result.geometry.thickness)
    heat = result.heat
    for k, at in enumerate(moments_shown(result, row, *spot)):
        T = degrees(cut(result, at, spot[0], np.array([spot[1]]))[:, 0])
        colour, dash = LINES[k % len(LINES)]
        gone = float(heat.times[at] - heat.times[row])
        what = "hottest" if at == row else f"{_near(abs(gone))} {_side(gone)}"
        axes.plot(T, z, color=colour, ls=dash, label=what)
    axes.set_ylim(float(z[0]), float(z[-1]))
    for limit, what in ((result.steel_limit, "limit"), (TRANSFORMATION, "transf.")):
        if float(heat.temperature.max()) > 0.95 * limit:
            _limit(axes, float(degrees(limit)), what)
    for side, where, up in (("front", 1.0, "top"), ("back", 0.0, "bottom")):
        axes.text(1.01, where, side, transform=axes.transAxes, va=up, weight="bold")
    axes.set_title("On the dotted line, from the back to the front")
    name = f"from the middle [{length.unit}]"
    dress(axes, f"temperature [{degrees.unit}]", name, grid="xy")


def _limit(axes: Axes, value: float, what: str) -> None:
    """An upright line at a limit, named along it."""
    axes.axvline(value, color=BLACK, lw=0.9)
    axes.text(
        value, 0.03, f"{what} {value:.0f}", transform=axes.get_xaxis_transform(),
        rotation=90, ha="right", va="bottom", fontsize=SMALL,
    )  # fmt: skip


def _near(seconds: float) -> str:
    """A short time in words."""
    return f"{seconds:.2g} s" if seconds < 10.0 else time_text(seconds)


def _side(gone: float) -> str:
    return "after" if gone > 0.0 else "before"

"""Bands of colour for fields on a mesh, their strip of colours and limit lines."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import RULES
from shrinksim.fem.mesh import Mesh
from shrinksim.page.axes import dress
from shrinksim.page.style import BLACK, place
from shrinksim.units.scales import scale
from shrinksim.views.result import AnyResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D
    from matplotlib.tri import Triangulation

TRANSFORMATION = 720.0
"""degC, about the lower transformation temperature of structural steel: Guide for
Heat-Straightening of Damaged Steel Bridge Members, FHWA 2008, 5.1 (1330 degF)."""

LEVELS = 13
"""Bands of colour at most: told apart by eye, and few lines to draw."""


def at_nodes(mesh: Mesh, values: FloatArray) -> FloatArray:
    """Nodal means (n,) of values (e, 3) at the interior points of a linear field."""
    corners = np.linalg.solve(RULES["interior 3"][0], values[: len(mesh.triangles)].T).T
    middles = 0.5 * (corners + np.roll(corners, -1, axis=1))
    every = np.hstack([corners, middles]).ravel()
    nodes = mesh.triangles.ravel()
    count = np.bincount(nodes, minlength=len(mesh.points))
    total = np.bincount(nodes, every, minlength=len(mesh.points))
    return total / np.maximum(count, 1)


def bands(
    axes: Axes, mesh: Triangulation, values: FloatArray, levels: FloatArray,
    colours: str = "cividis",
) -> None:  # fmt: skip
    """Bands of colour for nodal values (n,), each a hair over its neighbours' edge."""
    shades = axes.tricontourf(mesh, values, levels=levels, cmap=colours)
    shades.set(edgecolor="face", linewidth=0.4)


def colour_strip(
    figure: Figure, at: tuple[float, float, float, float], levels: FloatArray, name: str,
    colours: str = "cividis",
) -> None:  # fmt: skip
    """Key of the bands of colour: upright with its numbers on the right, or
    lying.  at : left, low, width, height in inches.
    """
    axes = place(figure, *at)
    upright = at[3] > at[2]
    ends, shades = np.array([0.0, 1.0]), 0.5 * (levels[:-1] + levels[1:])
    x, y, values = (
        (ends, levels, shades[:, None]) if upright else (levels, ends, shades[None])
    )
    axes.pcolormesh(
        x, y, values, cmap=colours, vmin=levels[0], vmax=levels[-1], edgecolors="face",
        linewidth=0.4,
    )  # fmt: skip
    if upright:
        dress(axes, None, name, right=True)
    else:
        dress(axes, name)


def levels_to(result: AnyResult, low: float, high: float, dimension: str) -> FloatArray:
    """Round levels in axis units that cover [low, high] (SI)."""
    from matplotlib.ticker import MaxNLocator

    ends = scale(result, dimension)([low, high])
    span = max(float(ends[1] - ends[0]), 1.0)
    locator = MaxNLocator(LEVELS, steps=[1, 2, 2.5, 5, 10])
    return np.asarray(locator.tick_values(float(ends[0]), float(ends[0]) + span))


def limits(
    result: AnyResult, axes: Axes, mesh: Triangulation, peak: FloatArray | None = None
) -> list[Line2D]:
    """Lines at the limits that were reached; their keys.

    peak : (n,) degC of what is drawn, None the peak of the whole member.
    """
    from matplotlib.lines import Line2D

    degrees = scale(result, "temperature")
    peak = result.heat.peak if peak is None else peak
    values = degrees(peak)
    keys = []
    for limit, dash, what in (
        (result.steel_limit, "-", "practice limit"),
        (TRANSFORMATION, (0, (3, 1.5)), "transformation"),
    ):
        shown, note = float(degrees(limit)), " (not reached)"
        if result.heat.peak.max() > limit:
            note = ""
        if peak.max() > limit:
            axes.tricontour(
                mesh, values, levels=[shown], colors=BLACK, linewidths=1.6,
                linestyles=[dash],
            )  # fmt: skip
        label = f"{what} {shown:.0f} {degrees.unit}{note}"
        keys.append(Line2D([], [], color=BLACK, ls=dash, lw=1.6, label=label))
    return keys

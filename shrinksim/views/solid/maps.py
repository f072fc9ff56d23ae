"""Pictures of the plate's faces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    GREY,
    HOT,
    SMALL,
    WIDTH,
    blank,
    place,
)
from shrinksim.units.scales import scale
from shrinksim.views.maps import bands, colour_strip, levels_to
from shrinksim.views.solid.faces import on_levels
from shrinksim.views.solid.result import SolidResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation


def setup(result: SolidResult) -> Figure:
    """The patch from the front with outlines and torch paths."""
    work, length = result.geometry, scale(result, "length")
    wide = WIDTH - 1.2
    tall = wide * work.depth / work.length
    figure = blank(tall + 0.9)
    axes = place(figure, 0.8, 0.5, wide, tall)
    half = 0.5 * work.length
    axes.fill(
        length([-half, half, half, -half]), length([0.0, 0.0, work.depth, work.depth]),
        fc="#eeeeee", ec=BLACK, lw=1.2,
    )  # fmt: skip
    _outlines(result, axes)
    for k, path in enumerate(work.paths):
        x, y = length(path.points).T
        axes.plot(x, y, color=HOT, lw=1.0)
        axes.annotate(str(k + 1), (x[0], y[0]), fontsize=SMALL, color=BLACK)
    dress(axes, f"along the member [{length.unit}]", f"height [{length.unit}]")
    return figure


def drawn_mesh(result: SolidResult) -> Triangulation:
    """The corners' triangles in axis units."""
    from matplotlib.tri import Triangulation

    x, y = scale(result, "length")(result.mesh.points).T
    return Triangulation(x, y, result.mesh.triangles[:, :3])


def _outlines(result: SolidResult, axes: Axes) -> None:
    """Patterns, solid on the front and dashed on the back."""
    length = scale(result, "length")
    for outline, face in zip(
        result.geometry.outlines, result.geometry.every_face, strict=True
    ):
        x, y = length(np.vstack([outline, outline[:1]])).T
        axes.plot(x, y, color=BLUE, lw=1.2, ls=DASHED if face == "back" else "-")


def peak(result: SolidResult) -> Figure:
    """Highest temperature that each place of both faces saw."""
    degrees, length = scale(result, "temperature"), scale(result, "length")
    work = result.geometry
    wide = WIDTH - 1.9
    tall = wide * work.depth / work.length
    figure = blank(2.0 * tall + 1.5)
    levels = on_levels(result, np.asarray(result.heat.peak))
    top, coldest = float(levels.max()), float(result.heat.temperature[0].min())
    scale_of = levels_to(result, coldest, top, "temperature")
    mesh = drawn_mesh(result)
    for k, (face, level) in enumerate((("back", 0), ("front", -1))):
        axes = place(figure, 0.7, 0.5 + k * (tall + 0.45), wide, tall)
        bands(axes, mesh, degrees(levels[level]), scale_of)
        for outline in work.outlines:
            x, y = length(np.vstack([outline, outline[:1]])).T
            axes.plot(x, y, color=GREY, lw=0.9, ls=DASHED)
        hottest = float(degrees(levels[level].max()))
        axes.set_title(f"{face}: hottest {hottest:.0f} {degrees.unit}")
        along = f"along the member [{length.unit}]" if k == 0 else None
        dress(axes, along, f"height [{length.unit}]")
    at = (0.7 + wide + 0.18, 0.5, 0.13, 2.0 * tall + 0.45)
    colour_strip(figure, at, scale_of, f"peak temperature [{degrees.unit}]")
    return figure

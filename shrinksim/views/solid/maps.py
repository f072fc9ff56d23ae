"""Maps of the plate's two faces: peak temperature and residual stress."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import RULES, locate
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    DASHED,
    GREY,
    LINES,
    RED,
    SMALL,
    WIDTH,
    blank,
    foot_legend,
    place,
)
from shrinksim.units.scales import scale, three_digits
from shrinksim.views.maps import at_nodes, bands, colour_strip, levels_to, limits
from shrinksim.views.result import folds
from shrinksim.views.solid.faces import along, on_levels
from shrinksim.views.solid.result import SolidResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

BESIDE = 0.9
"""Widths of the plate shown on each side of the patterns."""

LEFT, GAP = 0.66, 0.4
"""Inches: left of the maps, and between the two."""


@dataclass(frozen=True)
class FacePair:
    """Axes of the two maps, the front above the back, and their place in inches."""

    front: Axes
    back: Axes
    width: float
    height: float
    low: float

    @property
    def top(self) -> float:
        """Height of both together."""
        return 2.0 * self.height + GAP


def window(result: SolidResult) -> tuple[float, float]:
    """Left and right (m): the patterns and some of the plate on each side of them."""
    x = np.concatenate([outline[:, 0] for outline in result.geometry.outlines])
    beside, half = BESIDE * result.geometry.depth, 0.5 * result.geometry.length
    return max(float(x.min()) - beside, -half), min(float(x.max()) + beside, half)


def mid_pattern(result: SolidResult) -> float:
    """Middle (m) of all patterns along the member."""
    x = np.concatenate([outline[:, 0] for outline in result.geometry.outlines])
    return 0.5 * float(x.min() + x.max())


def drawn_mesh(result: SolidResult) -> Triangulation:
    """The corners' triangles in axis units, inside the window."""
    from matplotlib.tri import Triangulation

    left, right = window(result)
    mesh = result.mesh
    at = mesh.points[mesh.triangles[:, :3], 0]
    inside = (at.max(axis=1) > left) & (at.min(axis=1) < right)
    x, y = scale(result, "length")(mesh.points).T
    return Triangulation(x, y, mesh.triangles[inside, :3])


def outlines(result: SolidResult, axes: Axes, colour: str = GREY) -> None:
    """Outlines of the patterns of both faces, dashed."""
    length = scale(result, "length")
    for outline in result.geometry.outlines:
        x, y = length(np.vstack([outline, outline[:1]])).T
        axes.plot(x, y, color=colour, lw=0.9, ls=DASHED)


def _sizes(result: SolidResult, width: float, most: float) -> tuple[float, float]:
    """Width and height (inches) of a map in the window, to scale."""
    left, right = window(result)
    height = min(width * result.geometry.depth / (right - left), most)
    return height * (right - left) / result.geometry.depth, height


def _pair(figure: Figure, size: tuple[float, float], low: float) -> FacePair:
    """Axes for the two faces."""
    width, height = size
    back = place(figure, LEFT, low, width, height)
    front = place(figure, LEFT, low + height + GAP, width, height)
    return FacePair(front, back, width, height, low)


def _frame(result: SolidResult, pair: FacePair, titles: Sequence[str]) -> None:
    """Limits, headings and axes of the two maps, the front's first."""
    length = scale(result, "length")
    for axes, title in zip((pair.front, pair.back), titles, strict=True):
        axes.set_xlim(*length(window(result)))
        axes.set_ylim(0.0, float(length(result.geometry.depth)))
        axes.set_title(title)
        below = f"along the member [{length.unit}]" if axes is pair.back else None
        dress(axes, below, f"height [{length.unit}]")


def peak(result: SolidResult) -> Figure:
    """Highest temperature that each place of both faces saw, with the limits as lines."""
    from matplotlib.lines import Line2D

    degrees = scale(result, "temperature")
    size = _sizes(result, WIDTH - LEFT - 1.0, 2.6)
    figure = blank(2.0 * size[1] + GAP + 1.15)
    pair = _pair(figure, size, 0.82)
    levels = on_levels(result, np.asarray(result.heat.peak))
    coldest = float(result.heat.temperature[0].min())
    shades = levels_to(result, coldest, float(levels.max()), "temperature")
    mesh, titles, keys = drawn_mesh(result), [], []
    for axes, name, T in (
        (pair.front, "Front", levels[-1]),
        (pair.back, "Back", levels[0]),
    ):
        bands(axes, mesh, degrees(T), shades)
        outlines(result, axes)
        keys = limits(result, axes, mesh, T)
        titles.append(f"{name}: hottest {float(degrees(T.max())):.0f} {degrees.unit}")
    _frame(result, pair, titles)
    keys.append(
        Line2D([], [], color=GREY, lw=0.9, ls=DASHED, label="outline of the heat")
    )
    foot_legend(figure, keys)
    at = (LEFT + pair.width + 0.18, pair.low, 0.13, pair.top)
    colour_strip(figure, at, shades, f"peak temperature [{degrees.unit}]")
    return figure


def nodal_stress(result: SolidResult) -> tuple[FloatArray, FloatArray]:
    """Stress along the member (n,) Pa at the front and the back, as drawn."""
    front, back = (_three(stress) for stress in along(result))
    return at_nodes(result.mesh, front), at_nodes(result.mesh, back)


def _three(values: FloatArray) -> FloatArray:
    """Values (e, 3) of the fitting linear fields at the three interior points."""
    if values.shape[1] == 3:
        return values
    fitting = np.linalg.lstsq(RULES["interior 6"][0], values.T, rcond=None)[0]
    return (RULES["interior 3"][0] @ fitting).T


def residual(result: SolidResult) -> Figure:
    """Stress along the member that is left: both faces, and over the height."""
    stress, length = scale(result, "stress"), scale(result, "length")
    size = _sizes(result, 3.9, 2.2)
    figure = blank(2.0 * size[1] + GAP + 1.55)
    pair = _pair(figure, size, 1.22)
    front, back = nodal_stress(result)
    low, high = (float(f([front, back])) for f in (np.min, np.max))
    shades = levels_to(result, low, high, "stress")
    mesh, x = drawn_mesh(result), float(length(mid_pattern(result)))
    titles = []
    for axes, name, values, found in (
        (pair.front, "Front", front, along(result)[0]),
        (pair.back, "Back", back, along(result)[1]),
    ):
        bands(axes, mesh, stress(values), shades)
        axes.tricontour(mesh, values, levels=[0.0], colors="white", linewidths=0.7)
        outlines(result, axes, "#bbbbbb")
        axes.axvline(x, color=RED, lw=1.0, ls=":")
        state = ", when it stopped" * folds(result)
        titles.append(f"{name}: {_range(result, found)}{state}")
    _frame(result, pair, titles)
    name = f"stress along the member [{stress.unit}], + tension, - compression"
    colour_strip(figure, (LEFT, 0.62, pair.width, 0.12), shades, name)
    left = LEFT + pair.width + 0.55
    _profiles(result, place(figure, left, pair.low, WIDTH - left - 0.12, pair.top))
    return figure


def _range(result: SolidResult, values: FloatArray) -> str:
    """Lowest and highest stress in the reader's units."""
    stress = scale(result, "stress")
    low, high = (three_digits(float(stress(v))) for v in (values.min(), values.max()))
    return f"{low} to {high} {stress.unit}".replace("-", "\u2212")


def _profiles(result: SolidResult, axes: Axes) -> None:
    """Stress over the height at mid-pattern, on both faces."""
    stress, length = scale(result, "stress"), scale(result, "length")
    y = np.linspace(0.0, result.geometry.depth, 80)
    where = np.stack([np.full_like(y, mid_pattern(result)), y], axis=1)
    element, N = locate(result.mesh, where)
    nodes = result.mesh.triangles[element]
    axes.axvline(0.0, color=GREY, lw=0.7)
    for nodal, name, (colour, dash) in zip(
        nodal_stress(result), ("front", "back"), LINES, strict=False
    ):
        value = stress(np.sum(nodal[nodes] * N, axis=1))
        axes.plot(value, length(y), color=colour, ls=dash, label=name)
    axes.set_ylim(0.0, float(length(result.geometry.depth)))
    axes.set_title("On the dotted line")
    axes.legend(
        loc="upper left", bbox_to_anchor=(0.0, -0.11), ncols=2, borderaxespad=0.0,
        fontsize=SMALL, labelcolor=BLACK,
    )  # fmt: skip
    dress(axes, f"stress [{stress.unit}], + tension", "", grid="xy")

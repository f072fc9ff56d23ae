"""Pictures of fields on the member: temperature, its peak, residual stress."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.page.axes import dress
from shrinksim.page.style import BLACK, DASHED, GREY, RED, SMALL, WIDTH, blank, place
from shrinksim.units.scales import scale, time_text
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.maps import at_nodes, bands, colour_strip, levels_to, limits
from shrinksim.views.result import folds

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation


def window(result: ElevationResult) -> tuple[float, float, float, float]:
    """left, right, low, high (m): the patterns and a depth on each side of them."""
    x = np.concatenate([np.asarray(o)[:, 0] for o in result.geometry.outlines])
    depth = result.geometry.bands[-1].high - result.geometry.bands[0].low
    ends = result.mesh.points[:, 0]
    left = max(float(x.min()) - 0.9 * depth, float(ends.min()))
    right = min(float(x.max()) + 0.9 * depth, float(ends.max()))
    return left, right, result.geometry.bands[0].low, result.geometry.bands[-1].high


def corner_triangulation(result: ElevationResult) -> Triangulation:
    """Triangulation of the corner nodes in axis units, inside the window."""
    from matplotlib.tri import Triangulation

    left, right, *_ = window(result)
    mesh = result.mesh
    x = mesh.points[mesh.triangles[:, :3], 0]
    inside = (x.max(axis=1) > left) & (x.min(axis=1) < right)
    x, y = scale(result, "length")(mesh.points).T
    return Triangulation(x, y, mesh.triangles[inside, :3])


def paint(
    result: ElevationResult, axes: Axes, mesh: Triangulation, values: FloatArray,
    levels: FloatArray,
) -> None:  # fmt: skip
    """Bands of colour for nodal values (n,) in the window."""
    length = scale(result, "length")
    bands(axes, mesh, values, levels)
    left, right, low, high = map(float, length(window(result)))
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)
    for name in ("top", "right"):
        axes.spines[name].set_visible(True)


def outline(result: ElevationResult, axes: Axes, colour: str = "white") -> None:
    """The patterns' outlines and the borders of the bands."""
    length = scale(result, "length")
    for ring in result.geometry.outlines:
        x, y = length(np.vstack([ring, ring[:1]])).T
        axes.plot(x, y, color=colour, lw=0.8, ls=DASHED)
    for band in result.geometry.bands[:-1]:
        axes.axhline(float(length(band.high)), color=colour, lw=0.5)


def moments_of_interest(result: ElevationResult) -> tuple[int, ...]:
    """Rows of the heat history: half-way, last with a torch, and twice in cooling."""
    heat = result.heat
    on = np.flatnonzero(np.isfinite(heat.torch[:, 0]))
    if not len(on):
        on = np.array([int(np.argmax(heat.temperature.max(axis=1)))])
    last = int(on[-1])
    half = int(on[np.argmin(np.abs(heat.times[on] - 0.5 * heat.times[last]))])
    hottest = heat.temperature[last:].max(axis=1)
    ambient = float(heat.temperature[0].min())
    rows = [half, last]
    for share in (0.5, 0.2):
        goal = ambient + share * (hottest[0] - ambient)
        rows.append(last + int(np.argmin(np.abs(hottest - goal))))
    return tuple(rows)


def snapshots(result: ElevationResult) -> Figure:
    """Temperature at four times, on one scale of colour."""
    left, right, low, high = window(result)
    width = 2.7
    height = min(width * (high - low) / (right - left), 2.4)
    width = height * (right - left) / (high - low)
    row, floor = height + 0.45, 0.48
    figure = blank(2 * row + floor + 0.02)
    degrees, length = scale(result, "temperature"), scale(result, "length")
    heat = result.heat
    levels = levels_to(
        result, float(heat.temperature[0].min()), float(heat.peak.max()), "temperature"
    )
    along, up = f"along the member [{length.unit}]", f"height [{length.unit}]"
    mesh = corner_triangulation(result)
    for k, at in enumerate(moments_of_interest(result)):
        axes = place(
            figure, 0.62 + (k % 2) * (width + 0.2), floor + (1 - k // 2) * row,
            width, height,
        )  # fmt: skip
        paint(result, axes, mesh, degrees(heat.temperature[at]), levels)
        outline(result, axes)
        state = "torch on" if _ring(result, axes, at) else "cooling"
        hottest = float(degrees(heat.temperature[at].max()))
        axes.set_title(
            f"{time_text(heat.times[at])}, {state}, hottest {hottest:.0f} {degrees.unit}",
            pad=8,
        )  # fmt: skip
        dress(axes, along if k > 1 else None, up if k % 2 == 0 else None)
    at = (0.62 + 2 * width + 0.38, floor, 0.13, row + height)
    colour_strip(figure, at, levels, f"temperature [{degrees.unit}]")
    return figure


def _ring(result: ElevationResult, axes: Axes, row: int) -> bool:
    """A ring where the torch is; whether there is one."""
    x, y = scale(result, "length")(result.heat.torch[row])
    if not np.isfinite(x):
        return False
    for colour, width in ((BLACK, 3.4), ("white", 1.4)):
        axes.plot(x, y, "o", ms=8, mfc="none", mec=colour, mew=width, clip_on=False)
    return True


def peak(result: ElevationResult) -> Figure:
    """Peak temperature at each point, with the limits as lines."""
    from matplotlib.lines import Line2D

    left, right, low, high = window(result)
    width = 5.3
    height = min(width * (high - low) / (right - left), 3.4)
    width = height * (right - left) / (high - low)
    figure = blank(height + 1.15)
    axes = place(figure, 0.6, 0.5, width, height)
    degrees, length = scale(result, "temperature"), scale(result, "length")
    top = float(result.heat.peak.max())
    coldest = float(result.heat.temperature[0].min())
    levels = levels_to(result, coldest, top, "temperature")
    mesh = corner_triangulation(result)
    paint(result, axes, mesh, degrees(result.heat.peak), levels)
    outline(result, axes)
    keys = limits(result, axes, mesh)
    label = "outline of the heat"
    keys.append(Line2D([], [], color=GREY, lw=0.9, ls=DASHED, label=label))
    axes.legend(
        handles=keys, loc="lower left", bbox_to_anchor=(0, 1.0), ncols=3,
        borderaxespad=0.2, columnspacing=1.2, fontsize=SMALL,
    )  # fmt: skip
    title = f"Peak temperature: {float(degrees(top)):.0f} {degrees.unit}"
    axes.set_title(title, pad=20)
    dress(axes, f"along the member [{length.unit}]", f"height [{length.unit}]")
    at = (0.6 + width + 0.18, 0.5, 0.13, height)
    colour_strip(figure, at, levels, f"peak temperature [{degrees.unit}]")
    return figure


def residual(result: ElevationResult) -> Figure:
    """Residual stress along the member, as a map and over the depth at mid-pattern."""
    left, right, low, high = window(result)
    width = 4.0
    height = min(width * (high - low) / (right - left), 3.0)
    width = height * (right - left) / (high - low)
    figure = blank(height + 1.42)
    stress, length = scale(result, "stress"), scale(result, "length")
    nodal = at_nodes(result.mesh, result.strain.stress[..., 0])
    axes = place(figure, 0.6, 1.1, width, height)
    levels = levels_to(result, float(nodal.min()), float(nodal.max()), "stress")
    mesh = corner_triangulation(result)
    paint(result, axes, mesh, stress(nodal), levels)
    axes.tricontour(mesh, nodal, levels=[0.0], colors="white", linewidths=0.7)
    outline(result, axes, "#bbbbbb")
    stopped = folds(result)
    axes.set_title("When it stopped" if stopped else "Left, cold and released")
    dress(axes, f"along the member [{length.unit}]", f"height [{length.unit}]")
    name = f"stress along the member [{stress.unit}], + tension, - compression"
    colour_strip(figure, (0.6, 0.46, width, 0.12), levels, name)
    beside = place(figure, 0.6 + width + 0.3, 1.1, WIDTH - width - 1.1, height)
    _profile(result, beside, nodal)
    x = float(length(mid_pattern(result)))
    axes.axvline(x, color=RED, lw=1.0, ls=":")
    return figure


def mid_pattern(result: ElevationResult) -> float:
    """Middle (m) of all patterns along the member."""
    x = np.concatenate([np.asarray(o)[:, 0] for o in result.geometry.outlines])
    return 0.5 * float(x.min() + x.max())


def _profile(result: ElevationResult, axes: Axes, nodal: FloatArray) -> None:
    """Stress over the depth at mid-pattern, tension and compression shaded."""
    stress, length = scale(result, "stress"), scale(result, "length")
    y = np.linspace(result.geometry.bands[0].low, result.geometry.bands[-1].high, 80)
    x = mid_pattern(result)
    element, N = locate(result.mesh, np.stack([np.full_like(y, x), y], axis=1))
    value = stress(np.sum(nodal[result.mesh.triangles[element]] * N, axis=1))
    height = length(y)
    axes.fill_betweenx(height, value, 0.0, where=value > 0, color="#f3c9a8", lw=0)
    axes.fill_betweenx(height, value, 0.0, where=value < 0, color="#b9d4e8", lw=0)
    axes.plot(value, height, color=BLACK, lw=1.4)
    axes.axvline(0.0, color=GREY, lw=0.7)
    axes.set_ylim(float(height[0]), float(height[-1]))
    axes.set_title("On the dotted line")
    dress(axes, f"stress [{stress.unit}], + tension", grid="x")

"""Maps of fields in the section: temperature, peak, stress, plastic strain."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.fem.basis import locate
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    GREY,
    LARGE,
    LINES,
    SMALL,
    WIDTH,
    blank,
    box,
    foot_legend,
    place,
)
from shrinksim.shop.sections.shape import Midline
from shrinksim.units.scales import scale, time_text
from shrinksim.views.maps import LEVELS, at_nodes, colour_strip, levels_to, limits
from shrinksim.views.result import folds
from shrinksim.views.section.frame import (
    Frame,
    close_up,
    near_heats,
    paint,
    too_thick,
    triangles,
    whole,
)
from shrinksim.views.section.result import SectionResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.tri import Triangulation

LEFT, BAR = 0.62, 0.8
"""Inches beside a map: for the heights' numbers, and for the strip of colours."""

FLAT = 1.6
"""Width over height from which a map has its strip of colours under it."""

DIVERGING = "PuOr_r"
"""Purple compression, orange tension: told apart by every common colour vision."""


def moments_of_interest(result: SectionResult) -> tuple[int, ...]:
    """Rows of the heat history: half as hot, hottest, and twice in the cooling after."""
    highest = result.heat.temperature.max(axis=1)
    ambient = float(result.heat.temperature[0].min())
    top = int(np.argmax(highest))
    rise = float(highest[top]) - ambient
    rows = [int(np.argmax(highest >= ambient + 0.5 * rise)), top]
    for share in (0.5, 0.2):
        under = np.flatnonzero(highest[top:] <= ambient + share * rise)
        rows.append(top + int(under[0]) if len(under) else len(highest) - 1)
    return tuple(dict.fromkeys(rows))


def _grid(flat: float, count: int) -> tuple[int, int]:
    """Rows and columns for ``count`` pictures so many times as wide as high."""
    columns = 1 if flat > 4.0 else 2 if flat > 1.0 else count
    return -(-count // columns), columns


def snapshots(result: SectionResult) -> Figure:
    """Temperature at a few times, on one scale of colour."""
    frame, rows = near_heats(result), moments_of_interest(result)
    down, across = _grid(frame.flat, len(rows))
    room = (WIDTH - LEFT - BAR) / across - 0.16
    width, height = frame.fit(room, 2.6)
    step, floor = height + 0.56, 0.5
    figure = blank(down * step + floor + 0.05)
    degrees = scale(result, "temperature")
    heat = result.heat
    cold = float(heat.temperature[0].min())
    levels = levels_to(result, cold, float(heat.peak.max()), "temperature")
    parts = triangles(result)
    for k, row in enumerate(rows):
        i, j = divmod(k, across)
        low = floor + (down - 1 - i) * step
        axes = place(figure, LEFT + j * (width + 0.16), low, width, height)
        values = degrees(heat.temperature[row])
        paint(result, axes, frame, parts, values, levels)
        on = bool(np.isfinite(heat.torch[row, 0]))
        hot = float(values.max())
        end = ", " if across < 3 else "\n"
        axes.set_title(
            f"{time_text(heat.times[row])}, {'torch on' if on else 'cooling'}{end}"
            f"hottest {hot:.0f} {degrees.unit}",
            fontsize=LARGE if across < 3 else SMALL, pad=8,
        )  # fmt: skip
        last = i == down - 1
        _name_axes(result, axes, frame, last, j == 0)
    left = LEFT + across * (width + 0.16) + 0.06
    at = (left, floor, 0.13, (down - 1) * step + height)
    colour_strip(figure, at, levels, f"temperature [{degrees.unit}]")
    return figure


def peak(result: SectionResult) -> Figure:
    """Peak temperature at each point, with the limits as lines."""
    degrees = scale(result, "temperature")
    top = float(result.heat.peak.max())
    coldest = float(result.heat.temperature[0].min())
    levels = levels_to(result, coldest, top, "temperature")
    title = f"Hottest anywhere: {float(degrees(top)):.0f} {degrees.unit}"
    name = f"peak temperature [{degrees.unit}]"
    values = degrees(result.heat.peak)
    figure, axes, parts = _one_map(result, values, levels, title, name)
    figure.legend(
        handles=limits(result, axes, parts), loc="lower left", ncols=2, fontsize=SMALL,
        bbox_to_anchor=(LEFT / WIDTH, 0.0), borderaxespad=0.3,
    )  # fmt: skip
    return figure


def plastic(result: SectionResult) -> Figure:
    """Accumulated plastic strain, per cent."""
    from matplotlib.ticker import MaxNLocator

    count = len(result.mesh.triangles)
    values = 100.0 * at_nodes(result.mesh, result.strain.equivalent_plastic[:count])
    values = np.maximum(values, 0.0)
    top = max(float(values.max()), 1e-6)
    locator = MaxNLocator(LEVELS, steps=[1, 2, 2.5, 5, 10])
    levels = np.asarray(locator.tick_values(0.0, top))
    title = f"Largest: {top:.2g} %"
    return _one_map(result, values, levels, title, "plastic strain [%]")[0]


def _one_map(
    result: SectionResult, values: FloatArray, levels: FloatArray, title: str,
    name: str,
) -> tuple[Figure, Axes, Triangulation]:  # fmt: skip
    """One map close to the heats with its strip of colours; all of an I beside it."""
    frame, every = near_heats(result), whole(result)
    both = not result.geometry.shape.flat
    beside, tall = every.fit(1.7, 3.0) if both else (0.0, 0.0)
    left = LEFT + (beside + 0.85 if both else 0.0)
    flat = frame.flat > FLAT
    width, height = frame.fit(WIDTH - left - (0.15 if flat else 0.95), 3.4)
    low = 1.5 if flat else 0.85
    figure = blank(max(height + low, tall + 0.85) + 0.37)
    top = figure.get_figheight() - 0.37
    parts = triangles(result)
    if both:
        axes = place(figure, LEFT, top - tall, beside, tall)
        paint(result, axes, every, parts, values, levels)
        _name_axes(result, axes, every)
    axes = place(figure, left, top - height, width, height)
    paint(result, axes, frame, parts, values, levels)
    axes.set_title(title, pad=8)
    _name_axes(result, axes, frame)
    colours(figure, axes, levels, name, flat)
    return figure, axes, parts


def colours(
    figure: Figure, axes: Axes, levels: FloatArray, name: str, under: bool,
    scheme: str = "cividis",
) -> None:  # fmt: skip
    """The strip of colours of a map: under it when it is flat, else beside it."""
    left, low, wide, tall = box(axes)
    beside = (left + wide + 0.2, low, 0.13, tall)
    at = (left, low - 0.66, wide, 0.12) if under else beside
    colour_strip(figure, at, levels, name, scheme)


def _name_axes(
    result: SectionResult, axes: Axes, frame: Frame, x: bool = True, y: bool = True
) -> None:
    """Numbers and names of a map's axes, and a remark if it is not to scale."""
    unit = scale(result, "length").unit
    across = ", ".join(p for p in (f"across [{unit}]", too_thick(frame)) if p)
    dress(axes, across if x else None, f"height [{unit}]" if y else None)


def along_stress(result: SectionResult) -> FloatArray:
    """Residual stress (n,) Pa along the member at the nodes."""
    return at_nodes(result.mesh, result.strain.stress[..., 3])


def residual(result: SectionResult) -> Figure:
    """Residual stress along the member: a map, and along the middles of its parts."""
    nodal, stress = along_stress(result), scale(result, "stress")
    values = stress(nodal)
    most = max(float(np.abs(values).max()), 1e-3)
    one = stress.one
    spread = levels_to(result, -most * one, most * one, "stress")
    levels = np.union1d(spread, -spread)
    if result.geometry.shape.flat:
        return _of_plate(result, nodal, values, levels)
    return _of_member(result, nodal, values, levels)


def _stress_map(
    result: SectionResult, axes: Axes, values: FloatArray, levels: FloatArray,
    frame: Frame,
) -> None:  # fmt: skip
    """The map, white at zero, a line at half the yield strength (dashed: pressed)."""
    parts = triangles(result)
    paint(result, axes, frame, parts, values, levels, DIVERGING)
    half = 0.5 * float(scale(result, "stress")(result.geometry.steel.yield_stress))
    axes.tricontour(parts, values, levels=[-half, half], colors=BLACK, linewidths=0.8)
    axes.tricontour(parts, values, levels=[0.0], colors="white", linewidths=1.0)
    axes.set_title("When it stopped" if folds(result) else "Left, cold and released",
                   pad=8)  # fmt: skip
    _name_axes(result, axes, frame)


def _of_plate(
    result: SectionResult, nodal: FloatArray, values: FloatArray, levels: FloatArray
) -> Figure:
    """Map of a plate near its heats, under it the stress over its whole width."""
    frame = close_up(result)
    width, height = frame.fit(WIDTH - LEFT - 0.15, 2.0)
    figure = blank(height + 4.65)
    axes = place(figure, LEFT, 4.25, width, height)
    _stress_map(result, axes, values, levels, frame)
    colours(figure, axes, levels, _tension(result), True, DIVERGING)
    axes = place(figure, LEFT, 0.85, WIDTH - LEFT - 0.15, 1.85)
    every = whole(result)
    x = np.linspace(every.left, every.right, 240)
    lines = {
        name: np.stack([x, np.full_like(x, y)], axis=1)
        for name, y in (
            ("top face", every.high),
            ("middle", 0.5 * (every.low + every.high)),
            ("bottom face", every.low),
        )
    }
    _profiles(result, axes, nodal, lines, 0)
    axes.set_title("Over the width")
    foot_legend(figure, axes.get_legend_handles_labels()[0], 4)
    return figure


def _of_member(
    result: SectionResult, nodal: FloatArray, values: FloatArray, levels: FloatArray
) -> Figure:
    """Map of a rolled shape, beside it the stress along its walls."""
    frame = whole(result)
    width, height = frame.fit(2.0, 3.3)
    figure = blank(height + 1.5)
    axes = place(figure, LEFT, 1.05, width, height)
    _stress_map(result, axes, values, levels, frame)
    colours(figure, axes, levels, _tension(result), False, DIVERGING)
    left = LEFT + width + 1.75
    room = WIDTH - left - 0.15
    part = 0.5 * (height - 0.75)
    walls = result.geometry.shape.midlines
    across = {m.name: _points(m, 160) for m in walls if not m.upright}
    up = {m.name: _points(m, 240) for m in walls if m.upright}
    upper = place(figure, left, 1.05 + part + 0.75, room, part)
    _profiles(result, upper, nodal, across, 0)
    upper.set_title(f"Along the middle of the {_walls_of(across)}")
    lower = place(figure, left, 1.05, room, part)
    _profiles(result, lower, nodal, up, 1, 2)
    lower.set_title(f"Up the middle of the {_walls_of(up)}, from the bottom")
    handles, labels = upper.get_legend_handles_labels()
    more, words = lower.get_legend_handles_labels()
    keys = dict(zip(labels + words, handles + more, strict=True))
    foot_legend(figure, list(keys.values()), 4)
    return figure


def _points(wall: Midline, count: int) -> FloatArray:
    """Points (count, 2) m along the middle of a wall."""
    return np.linspace(wall.start, wall.end, count)


def _walls_of(lines: Mapping[str, FloatArray]) -> str:
    """The walls of a drawing in a word or two."""
    return next(iter(lines)) if len(lines) == 1 else "flanges"


def _tension(result: SectionResult) -> str:
    return f"stress along the member [{scale(result, 'stress').unit}]"


def _profiles(
    result: SectionResult, axes: Axes, nodal: FloatArray, lines: Mapping[str, FloatArray],
    axis: int, first: int = 0,
) -> None:  # fmt: skip
    """Stress along straight lines (k, 2) m, with the yield strength when cold."""
    stress, length = scale(result, "stress"), scale(result, "length")
    for k, (name, line) in enumerate(lines.items()):
        element, N = locate(result.mesh, line)
        value = stress(np.sum(nodal[result.mesh.triangles[element]] * N, axis=1))
        colour, dash = LINES[first + k]
        axes.plot(length(line[:, axis]), value, color=colour, ls=dash, label=name)
    axes.axhline(0.0, color=GREY, lw=0.8)
    strong = float(stress(result.geometry.steel.yield_stress))
    for sign, label in ((1.0, "yield strength, cold"), (-1.0, "_")):
        axes.axhline(sign * strong, color=BLACK, lw=0.9, ls=(0, (1, 1.5)), label=label)
    axes.margins(x=0)
    low, high = axes.get_ylim()
    axes.set_ylim(min(low, -1.12 * strong), max(high, 1.12 * strong))
    where = "across" if axis == 0 else "height"
    sign = ", + tension" if box(axes)[3] > 1.4 else ""
    name = f"stress [{stress.unit}]{sign}"
    dress(axes, f"{where} [{length.unit}]", name, grid="xy")

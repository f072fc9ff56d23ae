"""Drawings of the set-up and of the member's shape before and after."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    DIM,
    GREEN,
    GREY,
    HOT,
    LIGHT,
    POINTS,
    RED,
    SMALL,
    SOLID,
    WHITE,
    WIDTH,
    arrow,
    blank,
    numbered,
    place,
)
from shrinksim.units.quantity import show
from shrinksim.units.scales import is_nonzero, moment_in_units, scale, units_of
from shrinksim.views.elevation.dimensions import sizes
from shrinksim.views.elevation.result import ElevationResult
from shrinksim.views.load_words import loaded
from shrinksim.views.named_points import letter_of, named_points

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from shrinksim.arrays import FloatArray
    from shrinksim.shop.pattern import TorchPath
    from shrinksim.shop.sections.shape import Band

SIDE, ROOM = 0.62, 0.24
"""Inches of room beside the member for load arrows, and above and below for names."""

LINE = 0.17
"""Inches: height of a line of small type."""


def extent(result: ElevationResult) -> tuple[float, float, float, float]:
    """left, right, low, high (m) of the patch."""
    x = result.mesh.points[:, 0]
    low, high = result.geometry.bands[0].low, result.geometry.bands[-1].high
    return float(x.min()), float(x.max()), low, high


def setup(result: ElevationResult) -> Figure:
    """Member and load, to scale; under it the heat close up, with the torch path."""
    left, right, low, high = extent(result)
    frame = WIDTH - 0.7
    inch = max((right - left) / (frame - 2 * SIDE), (high - low) / 2.6)
    tall = (high - low) / inch + 2 * ROOM
    near = _close_up(result)
    near_inch = max((near[1] - near[0]) / 4.3, (near[3] - near[2]) / 2.8)
    near_tall = (near[3] - near[2]) / near_inch
    figure = blank(tall + near_tall + 1.05)
    width = (right - left) / inch + 2 * SIDE
    low_edge = near_tall + 1.0
    axes = place(figure, 0.6 + 0.5 * (frame - width), low_edge, width, tall)
    beside, above = SIDE * inch, ROOM * inch
    _view(result, axes, (left - beside, right + beside, low - above, high + above))
    _member(result, axes)
    handles = _outlines(result, axes) + _load(result, axes, inch)
    _dimensions(result, axes, below=sizes(result, axes, low, high, inch))
    axes.set_axis_off()
    axes = place(figure, 0.6, 0.45, (near[1] - near[0]) / near_inch, near_tall)
    _view(result, axes, near)
    _ground(result, axes)
    _outlines(result, axes)
    for k, path in enumerate(result.geometry.paths):
        way = _way(result, axes, path, k + 1)
        handles += way if k == 0 else []
    handles += _points(result, axes, near_inch)
    unit = scale(result, "length").unit
    dress(axes, f"along the member [{unit}]", f"height [{unit}]")
    axes.set_title("The heat, close up")
    edge = 0.6 + (near[1] - near[0]) / near_inch + 0.2
    middle = 0.45 + 0.5 * near_tall
    figure.legend(
        handles=handles, loc="center left",
        bbox_to_anchor=(edge / WIDTH, middle / figure.get_figheight()),
        labelspacing=0.8 if len(handles) < 10 else 0.2,
    )  # fmt: skip
    return figure


def _close_up(result: ElevationResult) -> tuple[float, float, float, float]:
    """left, right, low, high (m) around the patterns."""
    left, right, low, high = extent(result)
    x = np.concatenate([np.asarray(o)[:, 0] for o in result.geometry.outlines])
    reach = 0.35 * (high - low)
    a, b = max(float(x.min()) - reach, left), min(float(x.max()) + reach, right)
    return a, b, low - 0.04 * (high - low), high + 0.04 * (high - low)


def _view(
    result: ElevationResult, axes: Axes, box: tuple[float, float, float, float]
) -> None:
    left, right, low, high = scale(result, "length")(box)
    axes.set_xlim(float(left), float(right))
    axes.set_ylim(float(low), float(high))


def _ground(result: ElevationResult, axes: Axes) -> None:
    """The bands as fills with their border lines."""
    left, right, *_ = scale(result, "length")(extent(result))
    for band in result.geometry.bands:
        bottom, top = scale(result, "length")([band.low, band.high])
        shade = SOLID if outer(result, band) else LIGHT
        axes.fill_between([left, right], bottom, top, color=shade, lw=0)
        for y in (bottom, top):
            axes.plot([left, right], [y, y], color=GREY, lw=0.7)


def outer(result: ElevationResult, band: Band) -> bool:
    """Whether a band is a flange at the bottom or the top of the view."""
    ends = (result.geometry.bands[0].name, result.geometry.bands[-1].name)
    return len(result.geometry.bands) > 1 and band.name in ends


def _member(result: ElevationResult, axes: Axes) -> None:
    """The patch with the names of its bands: flanges outside, the rest inside."""
    _ground(result, axes)
    left, right, low, high = map(float, scale(result, "length")(extent(result)))
    for band in result.geometry.bands:
        if band.name.startswith("root"):
            continue
        y = float(scale(result, "length")(0.5 * (band.low + band.high)))
        spot, shift, up = y, (6, 0), "center"
        if outer(result, band):
            top = band.name == result.geometry.bands[-1].name
            spot, shift, up = (high, (0, 3), "bottom") if top else (low, (0, -3), "top")
        axes.annotate(
            _label(result, band), (left, spot), shift,
            textcoords="offset points", va=up, fontsize=SMALL, color=DIM,
            bbox={"fc": LIGHT, "ec": "none", "pad": 1.0} if up == "center" else None,
        )  # fmt: skip
    ring = [left, right, right, left, left], [low, low, high, high, low]
    axes.plot(*ring, color=BLACK, lw=1.2)


def _label(result: ElevationResult, band: Band) -> str:
    """A band's name and thickness.  In plan a flange's band is both flanges together."""
    flanges = ("flange low", "flange high")
    if band.name in flanges:
        each = show(0.5 * band.thickness, "length", units_of(result))
        return f"two flanges, {each} each"
    if result.geometry.bands[0].name in flanges and band.name == "web":
        return "web, seen on edge"
    thick = show(band.thickness, "length", units_of(result))
    edge = outer(result, band) and band.thickness > band.high - band.low
    return f"{band.name}: {thick} {'wide' if edge else 'thick'}"


def _dimensions(result: ElevationResult, axes: Axes, *, below: bool) -> None:
    """Length and depth of the patch in words under its right end.

    below : whether sizes of the heat stand under the member already.
    """
    left, right, low, high = extent(result)
    system = units_of(result)
    size = (
        f"drawn: {show(right - left, 'length', system)} of the member, "
        f"{show(high - low, 'length', system)} deep"
    )
    spot = scale(result, "length")([right, low])
    axes.annotate(
        size, (float(spot[0]), float(spot[1])), (0, -22 if below else -3),
        textcoords="offset points", va="top", ha="right", fontsize=SMALL, color=DIM,
    )  # fmt: skip


def _outlines(result: ElevationResult, axes: Axes) -> list[Any]:
    """Outlines of the patterns, shaded; returns the legend's handle."""
    from matplotlib.patches import Polygon

    length = scale(result, "length")
    shapes = []
    for ring in result.geometry.outlines:
        shape = Polygon(
            length(ring), closed=True, fc=HOT, ec=RED, lw=1.2, ls=DASHED,
            label="outline of the heat",
        )  # fmt: skip
        shapes.append(axes.add_patch(shape))
    return shapes[:1]


def _way(
    result: ElevationResult, axes: Axes, path: TorchPath, number: int
) -> list[Any]:
    """The torch path with arrows and a numbered start; handles for the legend."""
    from matplotlib.lines import Line2D

    length = scale(result, "length")
    x, y = length(path.points).T
    axes.plot(x, y, color=BLACK, lw=0.8)
    for tail, tip in _arrows(path):
        arrow(axes, length(tail), length(tip))
    numbered(axes, float(x[0]), float(y[0]), str(number))
    start = Line2D([], [], color=BLACK, marker="o", ms=8, ls="", label="torch starts")
    way = Line2D([], [], color=BLACK, lw=0.8, marker=">", ms=4, label="torch path")
    return [start, way]


def _arrows(path: TorchPath) -> list[tuple[FloatArray, FloatArray]]:
    """Tail and tip (2,) m of a few arrows on the long pieces of a path."""
    pieces = np.diff(path.points, axis=0)
    size = np.linalg.norm(pieces, axis=1)
    if not len(size):
        return []
    long = np.flatnonzero(size >= 0.4 * size.max())
    some = long[np.unique(np.linspace(0, len(long) - 1, 5).round().astype(int))]
    return [
        (path.points[k] + 0.6 * pieces[k], path.points[k] + 0.75 * pieces[k])
        for k in some
    ]


def _points(result: ElevationResult, axes: Axes, inch: float) -> list[Any]:
    """Crosses at the named points, lettered clear of each other; names for the legend."""
    from matplotlib.lines import Line2D

    length = scale(result, "length")
    points = sorted(named_points(result).items(), key=lambda item: -item[1][1])
    keys: list[Any] = []
    free = np.inf
    for k, (name, (x, y)) in enumerate(points):
        letter, spot = letter_of(k), (float(length(x)), float(length(y)))
        free = min(free - LINE * inch, y)
        axes.plot(*spot, "x", color=BLUE, ms=6, mew=1.8, zorder=5, clip_on=False)
        axes.annotate(
            letter, spot, (11.0, POINTS * (free - y) / inch), color=BLUE,
            textcoords="offset points", fontsize=SMALL, fontweight="bold", ha="center",
            va="center", zorder=8, bbox=WHITE, annotation_clip=False,
        )  # fmt: skip
        key = {"marker": "x", "ms": 6, "mew": 1.8, "ls": ""}
        keys.append(Line2D([], [], color=BLUE, label=f"{letter}: {name}", **key))
    return keys


def end_turn(result: ElevationResult, row: int) -> float:
    """Difference (m) between the top's and the bottom's movement at the right end."""
    left, right, low, high = extent(result)
    points = result.mesh.points
    near = 1e-6 * (right - left)
    end = points[:, 0] > right - near
    top = end & (points[:, 1] > high - near)
    bottom = end & (points[:, 1] < low + near)
    u = result.strain.displacement[row, :, 0]
    return float(u[top].mean() - u[bottom].mean())


def load_words(result: ElevationResult) -> list[str]:
    """The load as in the case."""
    load = result.resolved.get("load")
    parts = [result.load_kind]
    if isinstance(load, dict):
        for name in ("moment", "axial", "stiffness"):
            value = load.get(name)
            if is_nonzero(value):
                comes_to = moment_in_units(
                    result, value, result.movement.moment_history
                )
                parts.append(f"{name} {value}" + f" ({comes_to})" * bool(comes_to))
    return parts


def _load(result: ElevationResult, axes: Axes, inch: float) -> list[Any]:
    """Loads on the ends: turning arrows, or blocks that hold them."""
    from matplotlib.lines import Line2D

    if not loaded(result):
        return []
    left, right, low, high = extent(result)
    if result.load_kind == "held":
        for x in (left - 0.22 * inch, right):
            _block(result, axes, x, 0.22 * inch)
        label = "ends held"
    else:
        first = int(np.argmax(result.strain.fraction > 0))
        # the ends turn the way the load pushes when it goes on, before any heat
        upward = end_turn(result, first) < 0.0
        _arc(result, axes, right, 1.0, upward, 0.5 * (low + high), inch)
        _arc(result, axes, left, -1.0, upward, 0.5 * (low + high), inch)
        label = "load: " + "\n".join(load_words(result)).replace(" (", "\n(")
    return [Line2D([], [], color=GREEN, lw=2.2, label=label)]


def _block(result: ElevationResult, axes: Axes, x: float, width: float) -> None:
    """A wall that holds the end at x."""
    *_, low, high = scale(result, "length")(extent(result))
    near, far = scale(result, "length")([x, x + width])
    axes.fill(
        [near, far, far, near], [low, low, high, high], fc="white", ec=GREEN,
        hatch="////", lw=1.0,
    )  # fmt: skip


def _arc(
    result: ElevationResult, axes: Axes, x: float, side: float, upward: bool, middle: float,
    inch: float,
) -> None:  # fmt: skip
    """A turning arrow outside the end at x, its head up or down."""
    length = scale(result, "length")
    reach = min(
        0.42 * (result.geometry.bands[-1].high - result.geometry.bands[0].low),
        0.45 * inch,
    )
    turn = np.radians(np.linspace(-62.0, 62.0, 40)) * (1.0 if upward else -1.0)
    offset = 0.06 * inch
    points = np.stack(
        [
            x + side * (offset + reach * (np.cos(turn) - np.cos(turn[0]))),
            middle + reach * np.sin(turn),
        ],
        axis=1,
    )
    shown = length(points)
    axes.plot(shown[:-2, 0], shown[:-2, 1], color=GREEN, lw=2.2, clip_on=False)
    arrow(axes, shown[-5], shown[-1], colour=GREEN, width=2.2, head=14.0)

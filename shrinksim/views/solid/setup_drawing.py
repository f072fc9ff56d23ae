"""Drawing of the set-up: the plate with its load, the heat close up, and its end."""

from __future__ import annotations

from textwrap import wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.casefile.heating import StillAir
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    BLACK,
    BLUE,
    DASHED,
    DIM,
    GREEN,
    HOT,
    LIGHT,
    RED,
    SMALL,
    WHITE,
    WIDTH,
    arrow,
    blank,
    numbered,
    place,
)
from shrinksim.units.scales import scale
from shrinksim.views.load_words import loaded
from shrinksim.views.named_points import letter_of, named_points
from shrinksim.views.solid.loading import moments_of
from shrinksim.views.solid.preview import ON
from shrinksim.views.solid.result import SolidResult
from shrinksim.views.solid.words import load_words
from shrinksim.views.words import size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.lines import Line2D

    from shrinksim.shop.pattern import TorchPath

LEFT, SIDE, ROOM, LOW = 0.62, 0.6, 0.24, 0.48
"""Inches: left of the close-up, beside the plate for its load, over and under it, and
under the close-up."""

LINE = 0.16
"""Inches: height of a line of small type."""

END = 1.35
"""Inches: width of the view of the end."""

THINNEST = 0.12
"""Inches as which a thinner plate's end is drawn."""

COOLED = "#5aa5d6"


def setup(result: SolidResult) -> Figure:
    """Plate and load, to scale; under it the heat close up, and the plate's end."""
    work = result.geometry
    near = _near(result)
    # metres to an inch of the upper and of the lower drawing
    inch = max(work.length / (WIDTH - 0.6 - 2 * SIDE), work.depth / 1.9)
    close = max((near[1] - near[0]) / 3.3, work.depth / 2.6)
    tall, wide = work.depth / close, (near[1] - near[0]) / close
    thin, over = _edge_room(result), max(LINE * len(_said(result)) - 0.1, 0.0)
    figure = blank(work.depth / inch + 2 * ROOM + thin + tall + LOW + 0.45 + over)
    _plate(result, figure, LOW + tall + 0.45, inch)
    length = scale(result, "length")
    axes = place(figure, LEFT, LOW, wide, tall)
    keys = _close_up(result, axes, near)
    dress(axes, f"along the member [{length.unit}]", f"height [{length.unit}]")
    axes.set_title("The heat from the front", pad=8)
    end = place(figure, LEFT + wide + 0.12, LOW, END, tall)
    keys += _end(result, end, close)
    figure.legend(
        handles=keys, loc="center left", fontsize=SMALL, labelspacing=0.7,
        bbox_to_anchor=(
            (LEFT + wide + END + 0.2) / WIDTH, (LOW + 0.5 * tall) / figure.get_figheight()
        ),
    )  # fmt: skip
    return figure


def _near(result: SolidResult) -> tuple[float, float]:
    """Left and right (m) around the patterns."""
    work = result.geometry
    x = np.concatenate([outline[:, 0] for outline in work.outlines])
    reach, half = 0.35 * work.depth, 0.5 * work.length
    return max(float(x.min()) - reach, -half), min(float(x.max()) + reach, half)


def _flat(result: SolidResult) -> float:
    """Moment out of the plane, N m."""
    return moments_of(result.case, result.geometry)[1] if _pushed(result) else 0.0


def _pushed(result: SolidResult) -> bool:
    """Whether moments may act on the ends."""
    return loaded(result) and result.load_kind != "held"


def _edge_room(result: SolidResult) -> float:
    """Inches for the view of the top edge, drawn where something bends it flatwise."""
    return 0.95 if _flat(result) else 0.0


def _plate(result: SolidResult, figure: Figure, low: float, inch: float) -> None:
    """The modelled part with its load, from the front and, if needed, from above."""
    work, thin = result.geometry, _edge_room(result)
    wide = work.length / inch + 2 * SIDE
    left = 0.5 * (WIDTH - wide)
    half, room = 0.5 * work.length + SIDE * inch, ROOM * inch
    axes = place(figure, left, low + thin, wide, work.depth / inch + 2 * ROOM)
    axes.set_xlim(-half, half)
    axes.set_ylim(-room, work.depth + room)
    _slab(axes, work.length, 0.0, work.depth)
    _outlines(result, axes, 1.0)
    drawn = (
        f"drawn: {size(result, work.length)} of the plate, {size(result, work.depth)}"
    )
    _text(axes, (0.5 * work.length, 0.0), f"{drawn} wide", (0, -3), "right", "top")
    over = (-0.5 * work.length, work.depth)
    _text(axes, over, "\n".join(_said(result)), (0, 4), "left", "bottom")
    axes.set_axis_off()
    plane = moments_of(result.case, work)[0]
    if _pushed(result) and plane:
        _turns(axes, work.length, 0.5 * work.depth, plane * work.opens > 0.0, inch)
    if loaded(result) and result.load_kind == "held":
        _walls(axes, work.length, work.depth, 0.2 * inch)
    if thin:
        edge = place(figure, left, low, wide, thin - 0.1)
        edge.set_xlim(-half, half)
        edge.set_ylim(-0.5 * (thin - 0.1) * inch, 0.5 * (thin - 0.1) * inch)
        _slab(edge, work.length, -0.5 * work.thickness, 0.5 * work.thickness)
        _turns(edge, work.length, 0.0, _flat(result) < 0.0, inch)
        at = (0.0, -0.5 * work.thickness)
        _text(edge, at, "seen from above, front below", (0, -3), "center", "top")
        edge.set_axis_off()


def _said(result: SolidResult) -> list[str]:
    """The load in lines that fit over the plate."""
    if not loaded(result):
        return []
    return wrap("Load: " + "; ".join(load_words(result)), 100)


def _slab(axes: Axes, length: float, low: float, high: float) -> None:
    x = 0.5 * length * np.array([-1.0, 1.0, 1.0, -1.0])
    axes.fill(x, [low, low, high, high], fc=LIGHT, ec=BLACK, lw=1.2)


def _text(
    axes: Axes, at: tuple[float, float], said: str, shift: tuple[float, float],
    side: str, up: str,
) -> None:  # fmt: skip
    axes.annotate(
        said, at, shift, textcoords="offset points", ha=side, va=up, fontsize=SMALL,
        color=DIM, annotation_clip=False,
    )  # fmt: skip


def _turns(axes: Axes, length: float, middle: float, upward: bool, inch: float) -> None:
    """Turning arrows outside both ends, their heads up or down."""
    bow = np.radians(np.linspace(-60.0, 60.0, 40)) * (1.0 if upward else -1.0)
    reach = 0.33 * inch
    for side in (-1.0, 1.0):
        out = 0.08 * inch + reach * (np.cos(bow) - 0.5)
        line = np.stack([side * (0.5 * length + out), middle + reach * np.sin(bow)])
        axes.plot(*line[:, :-2], color=GREEN, lw=2.0, clip_on=False)
        arrow(axes, line[:, -5], line[:, -1], colour=GREEN, width=2.0, head=13.0)


def _walls(axes: Axes, length: float, depth: float, width: float) -> None:
    """Blocks that hold both ends."""
    for x in (-0.5 * length - width, 0.5 * length):
        axes.fill(
            [x, x + width, x + width, x], [0.0, 0.0, depth, depth], fc="white", ec=GREEN,
            hatch="////", lw=1.0,
        )  # fmt: skip


def _outlines(result: SolidResult, axes: Axes, one: float) -> None:
    """Patterns: filled and solid where the front is heated, dashed on the back.

    one : m to a unit of the axes.
    """
    work = result.geometry
    for outline, face in zip(work.outlines, work.every_face, strict=True):
        fill = "none" if face == "back" else HOT
        x, y = np.asarray(outline).T / one
        axes.fill(x, y, fc=fill, ec=RED, lw=1.2, ls=DASHED if face == "back" else "-")


def _close_up(result: SolidResult, axes: Axes, near: tuple[float, float]) -> list[Any]:
    """The patterns with the torch's paths and starts; keys for the legend."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    length, work = scale(result, "length"), result.geometry
    a, b, top = (float(length(v)) for v in (*near, work.depth))
    axes.fill([a, b, b, a], [0.0, 0.0, top, top], fc=LIGHT, lw=0)
    axes.plot([a, b, np.nan, a, b], [0.0, 0.0, np.nan, top, top], color=BLACK, lw=1.2)
    axes.set_xlim(a, b)
    axes.set_ylim(-0.02 * top, 1.02 * top)
    _outlines(result, axes, length.one)
    for k, path in enumerate(work.paths):
        _way(result, axes, path, str(k + 1))
    faces = set(work.every_face)
    keys: list[Any] = []
    if faces - {"back"}:
        keys.append(Patch(fc=HOT, ec=RED, label=f"heat {_where(faces - {'back'})}"))
    if "back" in faces:
        keys.append(Patch(fc="none", ec=RED, ls=DASHED, label="heat on the back"))
    keys.append(
        Line2D([], [], color=BLACK, lw=0.8, marker=">", ms=4, label="torch path")
    )
    dot = Line2D([], [], color=BLACK, marker="o", ms=7, ls="", label="torch starts")
    return [*keys, dot, *_points(result, axes)]


def _where(faces: set[Any]) -> str:
    """Faces that are heated from the front, in words."""
    if len(faces) > 1:
        return "on the front or both"
    return ON[next(iter(faces))].replace(" at", "\nat")


def _way(result: SolidResult, axes: Axes, path: TorchPath, number: str) -> None:
    """A torch path with arrows and its numbered start."""
    points = scale(result, "length")(path.points)
    axes.plot(*points.T, color=BLACK, lw=0.8)
    pieces = np.diff(points, axis=0)
    far = np.linalg.norm(pieces, axis=1)
    if len(far):
        long = np.flatnonzero(far >= 0.4 * far.max())
        for k in long[np.unique(np.linspace(0, len(long) - 1, 5).round().astype(int))]:
            arrow(axes, points[k] + 0.6 * pieces[k], points[k] + 0.75 * pieces[k])
    numbered(axes, float(points[0, 0]), float(points[0, 1]), number)


def _points(result: SolidResult, axes: Axes) -> list[Line2D]:
    """Lettered crosses at the named points; names for the legend."""
    from matplotlib.lines import Line2D

    length, keys = scale(result, "length"), []
    if not result.points:
        return []
    points = sorted(named_points(result).items(), key=lambda item: -item[1][1])
    for k, (name, (x, y)) in enumerate(points):
        spot = float(length(x)), float(length(y))
        style = {"color": BLUE, "marker": "x", "ms": 6, "mew": 1.8, "ls": ""}
        axes.plot(*spot, zorder=5, clip_on=False, **style)
        axes.annotate(
            letter_of(k), spot, (11, 0), color=BLUE, textcoords="offset points",
            fontsize=SMALL, fontweight="bold", ha="center", va="center", zorder=8,
            bbox=WHITE, annotation_clip=False,
        )  # fmt: skip
        keys.append(Line2D([], [], label=f"{letter_of(k)}: {name}", **style))
    return keys


def _end(result: SolidResult, axes: Axes, close: float) -> list[Any]:
    """The plate's right end with torches and cooling on its faces, in inches; keys."""
    from matplotlib.lines import Line2D

    work = result.geometry
    tall, middle = work.depth / close, 0.5 * END
    half = 0.5 * max(work.thickness / close, THINNEST)
    axes.set_xlim(0.0, END)
    axes.set_ylim(-0.02 * tall, 1.02 * tall)
    x = [middle - half, middle + half, middle + half, middle - half]
    axes.fill(x, [0.0, 0.0, tall, tall], fc=LIGHT, ec=BLACK, lw=1.2)
    for name, side in (("front", -1.0), ("back", 1.0)):
        _text(
            axes, (middle + side * (half + 0.28), 0.0), name, (0, 3), "center", "bottom"
        )
    axes.set_title("From the right end", pad=8, loc="center")
    axes.set_axis_off()
    for (side, y), names in _starts(result).items():
        tip, tail, up = middle + side * half, middle + side * (half + 0.32), y / close
        arrow(axes, (tail, up), (tip, up), colour=RED, width=2.0, head=13.0)
        said = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
        if len(names) < 4:
            said = ", ".join(names)
        _text(
            axes,
            (tail, up),
            said,
            (4 * side, 0),
            "left" if side > 0 else "right",
            "center",
        )
    keys = [Line2D([], [], color=RED, lw=2.0, label="torch at its start")]
    return keys + _cooling(result, axes, middle, half, tall)


def _starts(result: SolidResult) -> dict[tuple[float, float], list[str]]:
    """Numbers of the paths that start on a side (see `_sides`) at a height in m."""
    work, found = result.geometry, {}
    for k, (path, face) in enumerate(zip(work.paths, work.every_face, strict=True)):
        for side in _sides(face):
            y = round(float(path.points[0, 1]), 4)
            found.setdefault((side, y), []).append(str(k + 1))
    return found


def _sides(face: Any) -> tuple[float, ...]:
    """Where a face is in the view of the right end: -1 left, 1 right."""
    return {"front": (-1.0,), "back": (1.0,), "both": (-1.0, 1.0)}[face]


def _cooling(
    result: SolidResult, axes: Axes, middle: float, half: float, tall: float
) -> list[Any]:
    """Forced cooling as a band along its face; keys."""
    from matplotlib.patches import Patch

    keys: dict[str, Any] = {}
    for heat in result.case.heats:
        cooling = heat.cooling
        if isinstance(cooling, StillAir) or cooling.face is None:
            continue
        for side in _sides(cooling.face):
            edge = middle + side * half
            axes.fill_betweenx(
                [0.12 * tall, tall], edge, edge + 0.07 * side, color=COOLED, lw=0
            )
        label = f"{cooling.kind}\n{ON[cooling.face].removesuffix(' at once')}"
        keys[label] = Patch(color=COOLED, label=label)
    return list(keys.values())

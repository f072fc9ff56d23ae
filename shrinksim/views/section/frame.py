"""The section on the sheet: its outline, its window, and colours inside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.arrays import FloatArray
from shrinksim.page.style import BLACK, BLUE, FLATTEST, RED
from shrinksim.shop.outline import Piece, along_surface, surface_length, surfaces
from shrinksim.units.quantity import quantity
from shrinksim.units.scales import scale
from shrinksim.views.maps import bands
from shrinksim.views.section.heats_in_words import names
from shrinksim.views.section.result import SectionResult

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes
    from matplotlib.tri import Triangulation

CLOSE = 5.0
"""Thicknesses of the steel that maps show on each side of the heats."""


@dataclass(frozen=True)
class Frame:
    """A part of the section (m) and how many times too thick it is drawn."""

    left: float
    right: float
    low: float
    high: float
    thicker: float = 1.0

    @property
    def flat(self) -> float:
        """Width over height as drawn."""
        return (self.right - self.left) / (self.high - self.low) / self.thicker

    def fit(self, width: float, height: float) -> tuple[float, float]:
        """Width and height (inches) of the largest picture inside these."""
        wide = min(width, height * self.flat)
        return wide, wide / self.flat


def framed(left: float, right: float, low: float, high: float) -> Frame:
    """A part of the section, drawn thicker where it is very flat."""
    thicker = max((right - left) / (high - low) / FLATTEST, 1.0)
    return Frame(left, right, low, high, thicker)


def whole(result: SectionResult, pad: float = 0.0) -> Frame:
    """All of the section, and ``pad`` m around it."""
    low, high = result.mesh.points.min(axis=0), result.mesh.points.max(axis=0)
    x, y = (low[0] - pad, high[0] + pad), (low[1] - pad, high[1] + pad)
    return framed(float(x[0]), float(x[1]), float(y[0]), float(y[1]))


def hottest(result: SectionResult) -> int:
    """Number of the heated part of the outline that became hottest."""
    mesh, peak = result.mesh, result.heat.peak
    middles = [heated_line(result, k)[20] for k in range(len(result.geometry.spans))]
    gaps = [np.linalg.norm(mesh.points - middle, axis=1) for middle in middles]
    return int(np.argmax([peak[np.argmin(gap)] for gap in gaps]))


def close_up(result: SectionResult, only: int | None = None) -> Frame:
    """Window of the maps: the heats, or one of them, and their surroundings."""
    every, thick = whole(result), result.geometry.shape.wall
    wanted = range(len(result.geometry.spans)) if only is None else (only,)
    marks = np.concatenate([heated_line(result, k) for k in wanted])
    low, high = marks.min(axis=0) - CLOSE * thick, marks.max(axis=0) + CLOSE * thick
    return framed(
        max(every.left, float(low[0])),
        min(every.right, float(high[0])),
        max(every.low, float(low[1])),
        min(every.high, float(high[1])),
    )


def near_heats(result: SectionResult) -> Frame:
    """Window of close-ups: all heats, or where they are far apart the hottest one."""
    frame, every = close_up(result), whole(result)
    if result.geometry.shape.flat:
        return frame
    apart = frame.high - frame.low > 0.5 * (every.high - every.low)
    return close_up(result, hottest(result)) if apart or covers(frame, every) else frame


def covers(frame: Frame, other: Frame) -> bool:
    """Whether a frame shows most of another."""
    one, two = ((f.right - f.left) * (f.high - f.low) for f in (frame, other))
    return one > 0.6 * two


def too_thick(frame: Frame) -> str:
    """A remark on a frame that is not to scale, else nothing."""
    if frame.thicker <= 1.0:
        return ""
    return f"thickness drawn {frame.thicker:.2g} times as large"


def ring(pieces: Sequence[Piece]) -> FloatArray:
    """The closed outline (k, 2) m, arcs as short lines."""
    points: list[FloatArray] = []
    for piece in pieces:
        start = np.array(piece.start, float)
        if piece.centre is None:
            points.append(start[None])
            continue
        centre = np.array(piece.centre, float)
        angle = np.linspace(0.0, piece.turn, 9)[:-1]
        c, s = np.cos(angle), np.sin(angle)
        arm = start - centre
        turned = np.stack([c * arm[0] - s * arm[1], s * arm[0] + c * arm[1]], axis=1)
        points.append(centre + turned)
    closed = np.concatenate(points)
    return np.vstack([closed, closed[:1]])


def heated_line(result: SectionResult, number: int) -> FloatArray:
    """Points (k, 2) m along one heated part of the outline."""
    name, low, high = result.geometry.spans[number]
    return along_surface(result.geometry.pieces, name, np.linspace(low, high, 40))


def outward(result: SectionResult, line: FloatArray) -> FloatArray:
    """Unit vector (2,) away from the steel at the middle of a line on its outline."""
    from matplotlib.path import Path

    k = len(line) // 2
    along = line[k] - line[k - 1]
    away = np.array([along[1], -along[0]]) / np.hypot(*along)
    step = 1e-3 * float(np.ptp(result.mesh.points, axis=0).max())
    inside = Path(ring(result.geometry.pieces)).contains_point(line[k] + step * away)
    return -away if inside else away


def cooled_lines(result: SectionResult) -> list[FloatArray]:
    """Parts (k, 2) m of the outline that air, mist or water is put on."""
    lines, used = [], 0
    for heat in result.resolved.get("heat", ()):
        spans = sum(len(names(p["on"])) for p in heat["pattern"])
        own, cooling = result.geometry.spans[used : used + spans], heat["cooling"]
        used += spans
        if cooling["kind"] == "still air":
            continue
        wet = [(name, *_all_of(result, name)) for name in names(cooling.get("on", ()))]
        if cooling.get("everywhere"):
            every = surfaces(result.geometry.pieces)
            wet = [(name, *_all_of(result, name)) for name in every]
        elif not wet:
            reach = quantity(cooling.get("reach", "0 mm"), "length")
            wet = [(name, low - reach, high + reach) for name, low, high in own]
        for name, low, high in wet:
            s = np.linspace(low, high, 40)
            lines.append(along_surface(result.geometry.pieces, name, s))
    return lines


def _all_of(result: SectionResult, name: str) -> tuple[float, float]:
    half = 0.5 * surface_length(result.geometry.pieces, name)
    return -half, half


def look(result: SectionResult, axes: Axes, frame: Frame) -> None:
    """Limits of axes, in the reader's units."""
    box = (frame.left, frame.right, frame.low, frame.high)
    left, right, low, high = map(float, scale(result, "length")(box))
    axes.set_xlim(left, right)
    axes.set_ylim(low, high)


def triangles(result: SectionResult) -> Triangulation:
    """The corners' triangles of all of the section, in axis units."""
    from matplotlib.tri import Triangulation

    mesh = result.mesh
    x, y = scale(result, "length")(mesh.points).T
    return Triangulation(x, y, mesh.triangles[:, :3])


def paint(
    result: SectionResult, axes: Axes, frame: Frame, parts: Triangulation,
    values: FloatArray, levels: FloatArray, colours: str = "cividis",
) -> None:  # fmt: skip
    """Bands of colour for nodal values (n,) inside the outline, the heats in red."""
    bands(axes, parts, values, levels, colours)
    x, y = scale(result, "length")(ring(result.geometry.pieces)).T
    axes.plot(x, y, color=BLACK, lw=0.8)
    look(result, axes, frame)
    mark(result, axes)
    for name in ("top", "right", "left", "bottom"):
        axes.spines[name].set_visible(False)


def mark(result: SectionResult, axes: Axes, width: float = 2.6) -> None:
    """A red line along every heated part, just outside the steel."""
    for k in range(len(result.geometry.spans)):
        beside(result, axes, heated_line(result, k), RED, "-", width, 0.5 * width + 0.4)


def wet(result: SectionResult, axes: Axes) -> None:
    """A dotted blue line along every cooled part, outside the red ones."""
    for line in cooled_lines(result):
        beside(result, axes, line, BLUE, (0, (1, 1)), 2.2, 6.0)


def beside(
    result: SectionResult, axes: Axes, line: FloatArray, colour: str, dash: Any,
    width: float, away: float,
) -> None:  # fmt: skip
    """A line moved outward from the steel by ``away`` points."""
    from matplotlib.transforms import ScaledTranslation

    figure = axes.get_figure(root=True)
    assert figure is not None
    out = outward(result, line) * away / 72.0
    moved = axes.transData + ScaledTranslation(
        float(out[0]), float(out[1]), figure.dpi_scale_trans
    )
    x, y = scale(result, "length")(line).T
    axes.plot(
        x, y, color=colour, ls=dash, lw=width, transform=moved, clip_on=False,
        solid_capstyle="butt", scalex=False, scaley=False, zorder=4,
    )  # fmt: skip

"""The drawing sheet: sizes, colours and type that all figures share, and its file."""

from __future__ import annotations

import gc
import io
import re
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.arrays import FloatArray

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 7.2
"""Inches: the text width of A4 and of Letter, so that type prints at its own size."""

BLACK, BLUE, RED, GREEN, PINK, AMBER = (
    "#1a1a1a", "#0072b2", "#c44e00", "#00785a", "#a8527f", "#b37700",
)  # fmt: skip
"""Hues of Okabe & Ito 2008 (from memory), darkened to 4.5 : 1 on white."""

Dash = str | tuple[int, tuple[float, ...]]
"""A dash as the plotting library takes it: its sign, or where it starts and lengths."""

Ends = Sequence[float] | FloatArray
"""x and y of a place."""

LINES: tuple[tuple[str, Dash], ...] = (
    (BLUE, "-"), (RED, "--"), (GREEN, "-."), (PINK, ":"), (AMBER, (0, (6, 2))),
)  # fmt: skip
"""Colour and dash of successive curves; the dash tells them apart in grey."""

GREY, FAINT, DIM = "#5c5c5c", "#d9d9d9", "#333333"
HOT = "#fbe3d0"
LIGHT, SOLID = "#eceff1", "#c9d1d8"
"""Steel in drawings: a face, and what stands out of it."""
DASHED: Dash = (0, (4, 2))

SMALL, NORMAL, LARGE = 8.0, 8.5, 9.0
"""Sizes of type in points."""

POINTS = 72.0
"""Points in an inch."""

STYLE: dict[Any, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Segoe UI", "Arial"],
    "font.size": NORMAL,
    "axes.titlesize": LARGE,
    "axes.titlelocation": "left",
    "axes.titley": 1.0,  # a fixed height: finding one costs a third of the drawing
    "axes.labelsize": NORMAL,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": GREY,
    "axes.linewidth": 0.7,
    "lines.linewidth": 1.5,
    "legend.frameon": False,
    "legend.fontsize": NORMAL,
    "legend.handlelength": 2.6,
    "image.cmap": "cividis",
    "text.hinting": "none",
    "svg.hashsalt": "sheet",
    "svg.fonttype": "none",
    "text.parse_math": False,  # names and titles are the user's: "$" is no formula
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
}

FORBIDDEN = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML does not have."""

WHITE = {"fc": "white", "ec": "none", "alpha": 0.8, "pad": 0.8}
"""What is behind a text that stands on a drawing."""


@contextmanager
def drawing() -> Iterator[None]:
    """The style in force; glyphs that the font lacks are drawn as boxes, in silence.

    Collecting garbage among the thousands of small objects doubles the time.
    """
    collecting = gc.isenabled()
    gc.disable()
    try:
        import matplotlib

        with matplotlib.rc_context(STYLE), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message=".*Glyph.*")
            yield
    finally:
        if collecting:
            gc.enable()


FLATTEST = 9.0
"""Width over height up to which a section is drawn to scale; flatter ones are drawn
thicker than they are."""


def blank(height: float, width: float = WIDTH) -> Figure:
    """An empty figure, in inches."""
    from matplotlib.figure import Figure

    return Figure(figsize=(width, height))


def place(figure: Figure, left: float, low: float, width: float, height: float) -> Axes:
    """Axes at a place given in inches from the lower left corner."""
    w, h = figure.get_size_inches()
    return figure.add_axes((left / w, low / h, width / w, height / h))


def box(axes: Axes) -> tuple[float, float, float, float]:
    """Left, low, width and height of axes in inches."""
    figure = axes.get_figure(root=True)
    assert figure is not None
    w, h = figure.get_size_inches()
    left, low, wide, tall = axes.get_position().bounds
    return left * w, low * h, wide * w, tall * h


def svg(figure: Figure, title: str) -> bytes:
    """A finished figure as an SVG file with a title for who cannot see it."""
    from matplotlib.backends.backend_svg import FigureCanvasSVG

    file = io.StringIO()
    nothing = dict.fromkeys(("Creator", "Date", "Format", "Type"))
    FigureCanvasSVG(figure).print_svg(file, metadata=nothing | {"Title": title})
    return FORBIDDEN.sub("\ufffd", file.getvalue()).encode()


def foot_legend(figure: Figure, keys: Sequence[Artist], most: int = 5) -> None:
    """A legend along the foot, in as many columns (at most ``most``) as fit."""
    if not keys:
        return
    labels = [str(key.get_label()) for key in keys]
    columns = min(len(keys), most)
    while columns > 1 and _width(labels, columns) > figure.get_figwidth() - 0.1:
        columns -= 1
    figure.legend(
        list(keys), labels, loc="lower center", ncols=columns, columnspacing=1.3,
        borderaxespad=0.3,
    )  # fmt: skip


def _width(labels: Sequence[str], columns: int) -> float:
    """About how wide (inches) a legend is, filled column by column."""
    rows = -(-len(labels) // columns)
    longest = [
        max(len(line) for label in labels[k : k + rows] for line in label.split("\n"))
        for k in range(0, len(labels), rows)
    ]
    return sum(0.6 * n + 4.7 for n in longest) * NORMAL / POINTS


def numbered(
    axes: Axes, x: float, y: float, said: str, *, colour: str = BLACK,
    shift: tuple[float, float] = (0.0, 0.0),
) -> None:  # fmt: skip
    """A disc with a number in it, moved by ``shift`` points right and up."""
    disc = {"boxstyle": "circle,pad=0.25", "fc": colour, "ec": "none"}
    axes.annotate(
        said, (x, y), shift, textcoords="offset points", ha="center",
        va="center_baseline", color="white", fontsize=7.5, fontweight="bold", zorder=7,
        bbox=disc, annotation_clip=False,
    )  # fmt: skip


def drawn_at(
    axes: Axes, x: float, y: float, corners: Sequence[tuple[float, float]], **style: Any
) -> None:
    """A small shape with corners in points from a place in axis units."""
    size = 2.0 * max(abs(v) for corner in corners for v in corner)
    axes.plot([x], [y], marker=list(corners), ms=size, ls="", clip_on=False, **style)


def arrow(
    axes: Axes, tail: Ends, tip: Ends, *, colour: str = BLACK,
    width: float = 0.8, head: float = 9.0, both: bool = False, **more: Any,
) -> None:  # fmt: skip
    """A straight arrow; head : its size, as the plotting library counts it."""
    way = {
        "arrowstyle": "<|-|>" if both else "-|>", "color": colour, "lw": width,
        "mutation_scale": head, "shrinkA": 0, "shrinkB": 0,
    }  # fmt: skip
    (x, y), (u, v) = tip, tail
    axes.annotate("", (x, y), (u, v), arrowprops=way, annotation_clip=False, **more)


def round_factor(value: float) -> float:
    """The largest 1, 2 or 5 times a power of ten that is not over ``value``."""
    if not value > 0.0 or not np.isfinite(value):
        return 1.0
    power = 10.0 ** np.floor(np.log10(value))
    return float(max(m for m in (1.0, 2.0, 5.0) if m * power <= value * 1.0001) * power)

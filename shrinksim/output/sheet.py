"""The drawing sheet: sizes, colours and type that all figures share."""

from __future__ import annotations

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

WIDTH = 7.2
"""Inches: the text width of A4 and of Letter, so that type prints at its own size."""

BLACK, BLUE, RED, GREEN, PINK, AMBER = (
    "#1a1a1a", "#0072b2", "#c44e00", "#00785a", "#a8527f", "#b37700",
)  # fmt: skip
"""Hues of Okabe & Ito 2008 (from memory), darkened to 4.5 : 1 on white."""

LINES = ((BLUE, "-"), (RED, "--"), (GREEN, "-."), (PINK, ":"), (AMBER, (0, (6, 2))))
"""Colour and dash of successive curves; the dash tells them apart in grey."""

GREY, FAINT = "#5c5c5c", "#d9d9d9"
HOT = "#fbe3d0"

STYLE: dict[Any, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 8.5,
    "axes.titlesize": 9,
    "axes.titlelocation": "left",
    "axes.titley": 1.0,  # a fixed height: finding one costs a third of the drawing
    "axes.labelsize": 8.5,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.edgecolor": GREY,
    "axes.linewidth": 0.7,
    "lines.linewidth": 1.5,
    "legend.frameon": False,
    "legend.fontsize": 8.5,
    "legend.handlelength": 2.6,
    "image.cmap": "cividis",
    "text.hinting": "none",
    "svg.hashsalt": "sheet",
    "svg.fonttype": "none",
    "text.parse_math": False,  # names and titles are the user's: "$" is no formula
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
}


@contextmanager
def drawing() -> Iterator[None]:
    """The style in force; glyphs that the font lacks are drawn as boxes, in silence."""
    import matplotlib

    with matplotlib.rc_context(STYLE), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=".*Glyph.*")
        yield


def blank(height: float) -> Figure:
    """An empty figure of the sheet's width; height in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height))
    FigureCanvasAgg(figure)
    return figure


def place(figure: Figure, left: float, low: float, width: float, height: float) -> Axes:
    """Axes at a place given in inches from the lower left corner."""
    w, h = figure.get_size_inches()
    return figure.add_axes((left / w, low / h, width / w, height / h))


def round_factor(value: float) -> float:
    """The largest 1, 2 or 5 times a power of ten that is not over ``value``."""
    if not value > 0.0 or not np.isfinite(value):
        return 1.0
    power = 10.0 ** np.floor(np.log10(value))
    return float(max(m for m in (1.0, 2.0, 5.0) if m * power <= value * 1.0001) * power)

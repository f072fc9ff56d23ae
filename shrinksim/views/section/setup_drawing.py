"""Set-up drawing of a section: heated, cooled and held parts, and the torch path."""

from __future__ import annotations

from textwrap import shorten, wrap
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.page.style import (
    BLACK,
    BLUE,
    DIM,
    GREEN,
    GREY,
    HOT,
    LARGE,
    NORMAL,
    RED,
    SMALL,
    SOLID,
    WHITE,
    WIDTH,
    arrow,
    blank,
    box,
    numbered,
    place,
)
from shrinksim.units.quantity import show
from shrinksim.units.scales import scale, units_of
from shrinksim.views.load_words import loaded
from shrinksim.views.named_points import letter_of, named_points
from shrinksim.views.section.frame import (
    Frame,
    cooled_lines,
    heated_line,
    look,
    mark,
    outward,
    ring,
    too_thick,
    wet,
    whole,
)
from shrinksim.views.section.heats_in_words import (
    Burn,
    burns,
    dimensions,
    held_edges,
    load_words,
    pace,
)
from shrinksim.views.section.result import SectionResult

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

ROOM = 0.72
"""Inches around the section, for the torch and the names."""

MOST_ROWS = 6
"""Heats drawn along the member; the rest are counted."""

LETTERS = 104
"""Letters of a line of small type."""

TALL = 0.42
"""Inches of one of them."""


def setup(result: SectionResult) -> Figure:
    """The section with its heats; under it, each heat along the member."""
    every = whole(result)
    rows = burns(result)[:MOST_ROWS]
    beside_it = every.flat < 1.6
    width, height = every.fit(2.6 if beside_it else WIDTH - 2 * ROOM - 0.75, 3.0)
    foot = 0.62 + TALL * len(rows)
    keys_tall = 0.0 if beside_it else 0.75
    figure = blank(foot + keys_tall + height + 2 * ROOM + 0.62)
    left, low = 1.2, foot + keys_tall + ROOM + 0.2
    axes = place(figure, left, low, width, height)
    look(result, axes, every)
    x, y = scale(result, "length")(ring(result.geometry.pieces)).T
    axes.fill(x, y, fc=SOLID, ec=BLACK, lw=1.2)
    handles = [*_heats(result, axes), *_torches(result, axes)]
    handles += _cooling(result, axes) + _points(result, axes, every) + _load(result)
    axes.set_axis_off()
    _sizes(result, figure, axes, every)
    if beside_it:
        anchor = (left + width + ROOM - 0.15) / WIDTH, low + 0.5 * height
        figure.legend(
            handles=handles, loc="center left", labelspacing=0.8,
            bbox_to_anchor=(anchor[0], anchor[1] / figure.get_figheight()),
        )  # fmt: skip
    else:
        figure.legend(
            handles=handles, loc="upper center", ncols=3, columnspacing=1.3,
            bbox_to_anchor=(0.5, (foot + keys_tall + 0.1) / figure.get_figheight()),
        )  # fmt: skip
    _along(result, figure, rows)
    return figure


def _heats(result: SectionResult, axes: Axes) -> list[Any]:
    """Red lines on the heated parts; the key to them."""
    from matplotlib.lines import Line2D

    mark(result, axes, 4.0)
    return [Line2D([], [], color=RED, lw=4.0, label="heated")]


def _torches(result: SectionResult, axes: Axes) -> list[Any]:
    """A numbered arrow onto every heated part."""
    from matplotlib.lines import Line2D

    at = 0
    length = scale(result, "length")
    for number, burn in enumerate(burns(result)):
        for _ in burn.on:
            line = heated_line(result, at)
            tip, out = length(line[len(line) // 2]), outward(result, line)
            axes.annotate(
                str(number + 1), tuple(tip), tuple(30.0 * out),
                textcoords="offset points", ha="center", va="center_baseline",
                color="white", fontsize=7.5, fontweight="bold", zorder=7,
                bbox={"boxstyle": "circle,pad=0.25", "fc": BLACK, "ec": "none"},
                arrowprops={"arrowstyle": "-|>", "color": BLACK, "lw": 1.2,
                            "shrinkA": 2, "shrinkB": 5},
            )  # fmt: skip
            at += 1
    torch = Line2D([], [], color=BLACK, marker="o", ms=8, ls="", label="torch")
    return [torch]


def _cooling(result: SectionResult, axes: Axes) -> list[Any]:
    """Blue dots along the cooled parts; the key to them."""
    from matplotlib.lines import Line2D

    if not cooled_lines(result):
        return []
    wet(result, axes)
    kinds = dict.fromkeys(
        heat["cooling"]["kind"]
        for heat in result.resolved.get("heat", ())
        if heat["cooling"]["kind"] != "still air"
    )
    label = f"cooled: {', '.join(kinds)}"
    return [Line2D([], [], color=BLUE, lw=2.2, ls=(0, (1, 1)), label=label)]


def _points(result: SectionResult, axes: Axes, frame: Frame) -> list[Any]:
    """A crossed and lettered mark at every named point, named in the legend."""
    from matplotlib.lines import Line2D

    length, keys = scale(result, "length"), []
    middle = 0.5 * (frame.left + frame.right), 0.5 * (frame.low + frame.high)
    for k, (name, (x, y)) in enumerate(named_points(result).items()):
        letter = letter_of(k)
        spot = float(length(x)), float(length(y))
        axes.plot(*spot, "x", color=BLUE, ms=6, mew=1.8, zorder=5, clip_on=False)
        shift = (7 if x <= middle[0] else -7, -8 if y >= middle[1] else 8)
        axes.annotate(
            letter, spot, shift, textcoords="offset points", color=BLUE, fontsize=NORMAL,
            fontweight="bold", ha="center", va="center", zorder=8,
            bbox=WHITE,
        )  # fmt: skip
        label = f"{letter}: {name}"
        keys.append(
            Line2D([], [], color=BLUE, marker="x", ms=6, mew=1.8, ls="", label=label)
        )
    return keys


def _load(result: SectionResult) -> list[Any]:
    """The load and the supports in words."""
    from matplotlib.lines import Line2D

    label = "load: none"
    if loaded(result) or held_edges(result):
        lines = [wrap(text, 28) for text in load_words(result)]
        label = "load: " + "\n".join(line for part in lines for line in part)
    return [Line2D([], [], color=GREEN, lw=2.2 * (label != "load: none"), label=label)]


def _sizes(result: SectionResult, figure: Figure, axes: Axes, frame: Frame) -> None:
    """Width and depth as arrows, the rest in words above."""
    length, system = scale(result, "length"), units_of(result)
    left, right, low, high = map(
        float, length((frame.left, frame.right, frame.low, frame.high))
    )
    across = axes.get_xaxis_transform()
    _, _, wide, tall = box(axes)
    drop, away = -0.6 / tall, -0.55 / wide
    arrow(
        axes, (left, drop), (right, drop), colour=GREY, both=True, xycoords=across,
        textcoords=across,
    )  # fmt: skip
    axes.text(
        0.5 * (left + right), drop - 0.03 / tall,
        show(frame.right - frame.left, "length", system), transform=across,
        ha="center", va="top", color=DIM,
    )  # fmt: skip
    up = axes.get_yaxis_transform()
    arrow(
        axes, (away, low), (away, high), colour=GREY, both=True, xycoords=up,
        textcoords=up,
    )  # fmt: skip
    axes.text(
        away - 0.04 / wide, 0.5 * (low + high),
        show(frame.high - frame.low, "length", system), transform=up, ha="right",
        va="center", color=DIM, rotation=90 if tall > 0.8 else 0,
    )  # fmt: skip
    parts = [dimensions(result), too_thick(frame)]
    figure.text(
        0.1 / WIDTH, 1.0 - 0.1 / figure.get_figheight(),
        "The section: " + ", ".join(p for p in parts if p), va="top", fontsize=LARGE,
    )  # fmt: skip


def _along(result: SectionResult, figure: Figure, rows: list[Burn]) -> None:
    """Each heat along the member: its length, and the torch path over it."""
    longest = max(burn.length for burn in rows)
    axes = place(figure, 0.35, 0.42, WIDTH - 0.5, TALL * len(rows))
    axes.set_xlim(-0.04 * longest, 1.02 * longest)
    axes.set_ylim(-len(rows) + 0.15, 0.35)
    for k, burn in enumerate(rows):
        y = -k - 0.35
        axes.fill_between([0, burn.length], y - 0.2, y + 0.05, color=HOT, lw=0)
        _way(axes, burn, y - 0.075)
        numbered(axes, -0.02 * longest, y - 0.075, str(k + 1))
        axes.text(0.0, y + 0.1, _told(result, burn), fontsize=SMALL)
    axes.set_axis_off()
    more = len(burns(result)) - len(rows)
    length = show(longest, "length", units_of(result))
    note = f"Along the member, seen from the side: {length} heated"
    note += f"; {more} more heats not drawn" if more else ""
    figure.text(0.1 / WIDTH, (0.46 + TALL * len(rows)) / figure.get_figheight(), note,
                fontsize=LARGE)  # fmt: skip


def _told(result: SectionResult, burn: Burn) -> str:
    """A heat in a line."""
    what = burn.kind.removesuffix(" along")
    on = " and the ".join(burn.on)
    return shorten(f"{what} on the {on}: {pace(result, burn)}", LETTERS)


def _way(axes: Axes, burn: Burn, y: float) -> None:
    """An arrow for a torch that travels, rings for spots, a double one for at once."""
    if burn.kind == "spots along":
        shown = min(burn.spots, 40)
        x = burn.length * (np.arange(shown) + 0.5) / shown
        axes.plot(x, np.full(shown, y), "o", ms=5, mfc="none", mec=RED, mew=1.2)
        return
    arrow(
        axes, (0.0, y), (burn.length, y), colour=RED, width=1.6, head=11.0,
        both=burn.speed is None,
    )  # fmt: skip

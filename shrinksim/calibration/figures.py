"""Figures of a calibration: formula against runs, residuals, terms, published shape."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from shrinksim.calibration.formula_use import estimated
from shrinksim.calibration.variables import DEGREE, VeeHeat
from shrinksim.page.axes import dress
from shrinksim.page.style import (
    AMBER,
    BLACK,
    BLUE,
    GREEN,
    GREY,
    RED,
    SMALL,
    blank,
    drawing,
    foot_legend,
    place,
    svg,
)

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

    from shrinksim.arrays import FloatArray, IntArray
    from shrinksim.calibration.calibrate import Found
    from shrinksim.calibration.fitting import Computed
    from shrinksim.calibration.formula_use import Calibration

SHADE = "#e3e8ec"
DASHED = (0, (4, 2))
GROUPS = (
    ("weight, fitted", False, False, "o", BLUE),
    ("jack, fitted", True, False, "^", RED),
    ("weight, fresh", False, True, "x", GREEN),
    ("jack, fresh", True, True, "x", BLACK),
)
"""Name, with a jack, fresh, mark, colour: the marks tell them apart in grey."""


@dataclass(frozen=True)
class CalibrationFigure:
    """A figure: file name, heading, caption, text alternative, SVG."""

    name: str
    heading: str
    caption: str
    alt: str
    svg: bytes


def figures(found: Found) -> list[CalibrationFigure]:
    """The figures of one calibration."""
    with drawing():
        drawn = [_against(found), _residuals(found), _steps(found.calibration)]
        if found.calibration.of == "plates":
            drawn.append(_published(found.calibration))
    return drawn


def _predictions(found: Found) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rotation by formula and by model, and standard deviation, mrad, complete heats."""
    whole = [one for one in found.data if one.whole]
    said = [estimated(found.calibration, one.heat) for one in whole]
    return (
        np.array([1e3 * e.turn for e in said]),
        np.array([one.turn for one in whole]),
        np.array([1e3 * e.sigma for e in said]),
    )


def _groups(found: Found) -> list[tuple[str, IntArray, str, str]]:
    """Name, numbers of the whole heats, mark and colour."""
    whole = [one for one in found.data if one.whole]
    groups = []
    for name, jack, fresh, mark, colour in GROUPS:
        which = np.flatnonzero([_is(one, jack, fresh) for one in whole])
        if which.size:
            groups.append((name, which, mark, colour))
    return groups


def _is(one: Computed, jack: bool, fresh: bool) -> bool:
    return (one.heat.jack > 0.5) == jack and one.fresh == fresh


def _marked(axes: Axes, found: Found, x: FloatArray, y: FloatArray) -> list[Artist]:
    """The heats as marks; returns what a legend takes."""
    keys: list[Artist] = []
    for name, which, mark, colour in _groups(found):
        fill = "white" if mark in "o^" else colour
        keys += axes.plot(
            x[which], y[which], ls="", marker=mark, ms=4.5, color=colour, mfc=fill,
            mew=1.0, label=name,
        )  # fmt: skip
    return keys


def _against(found: Found) -> CalibrationFigure:
    """Rotation by the formula against the computed one."""
    formula, model, _ = _predictions(found)
    figure = blank(4.6)
    axes = place(figure, 0.75, 0.95, 6.1, 3.4)
    low = min(float(formula.min()), float(model.min()), 0.0)
    high = max(float(formula.max()), float(model.max()))
    ends = np.linspace(low, high, 200)
    deviation = 2.0 * found.calibration.scatter.sigma(ends)
    axes.fill_between(ends, ends - deviation, ends + deviation, color=SHADE, lw=0)
    axes.plot(ends, ends, color=GREY, lw=1.0)
    keys = _marked(axes, found, formula, model)
    axes.axhline(0.0, color=GREY, lw=0.6, ls=DASHED)
    dress(
        axes,
        "rotation by the formula [mrad]",
        "rotation by the model [mrad]",
        grid="xy",
    )
    foot_legend(figure, keys, 4)
    scatter = found.calibration.record["scatter"]
    caption = (
        "Shaded: two standard deviations of the model's results about the formula, "
        f"{scatter['absolute_mrad']:.2f} mrad and {scatter['relative']:.0%} of the "
        "rotation together. Crosses: heats that the formula was not fitted to."
    )
    alt = (
        f"Scatter plot of {len(model)} heats, computed rotations from {model.min():.2f} to "
        f"{model.max():.2f} mrad against those of the formula; root mean square "
        f"difference {scatter['rms_mrad']:.2f} mrad."
    )
    title = "Formula against model"
    return CalibrationFigure(
        "formula_against_model", title, caption, alt, svg(figure, title)
    )


def _residuals(found: Found) -> CalibrationFigure:
    """Residuals over the main variables."""
    formula, model, sigma = _predictions(found)
    whole = [one.heat for one in found.data if one.whole]
    over = (model - formula) / sigma
    figure = blank(4.75)
    keys: list[Artist] = []
    panels: Sequence[tuple[str, Sequence[float]]] = (
        ("M/Mp [1]", [h.moment_ratio for h in whole]),
        ("vee angle [deg]", [h.angle / DEGREE for h in whole]),
        ("temperature [degC]", [h.temperature for h in whole]),
        ("depth of the vee over radius of the torch [1]",
         [h.depth_ratio * h.depth / h.radius for h in whole]),
    )  # fmt: skip
    worst = max(3.0, float(np.abs(over).max()) * 1.05)
    for k, (name, x) in enumerate(panels):
        left, low = 0.75 + 3.3 * (k % 2), 2.9 - 2.05 * (k // 2)
        axes = place(figure, left, low, 2.9, 1.45)
        axes.set_ylim(-worst, worst)
        axes.axhspan(-2.0, 2.0, color=SHADE, lw=0)
        axes.axhline(0.0, color=GREY, lw=0.8)
        keys = _marked(axes, found, np.array(x), over)
        dress(axes, name, "" if k % 2 else "residual / standard deviation [1]")
    foot_legend(figure, keys, 4)
    caption = (
        "Rotation by the model less that by the formula, over its standard deviation by "
        "the formula. Shaded: two standard deviations. A trend here would be missing in "
        "the formula."
    )
    alt = (
        f"Four scatter plots of the residuals; {np.mean(np.abs(over) < 2.0):.0%} of the "
        f"heats lie within two standard deviations, the farthest is at "
        f"{np.abs(over).max():.1f}."
    )
    title = "Residuals of the formula"
    return CalibrationFigure("left", title, caption, alt, svg(figure, title))


def _steps(calibration: Calibration) -> CalibrationFigure:
    """Cross-validated error against the number of terms."""
    choice: Any = calibration.record["choice"]
    terms = np.array([step["terms"] for step in choice["steps"]])
    error = np.sqrt([step["error"] for step in choice["steps"]])
    spread = np.array([step["standard_error"] for step in choice["steps"]]) / (
        2.0 * error
    )
    scale = error[0]
    figure = blank(2.7)
    axes = place(figure, 0.75, 0.6, 6.1, 1.8)
    axes.set_ylim(0.0, 1.1 * float((error + spread).max() / scale))
    for t, e, s in zip(terms, error / scale, spread / scale, strict=True):
        axes.plot([t, t], [e - s, e + s], color=GREY, lw=1.0)
    axes.plot(terms, error / scale, ls="", marker="o", ms=5.0, color=BLUE, mfc="white")
    taken = terms == choice["taken"]
    at = float(terms[taken][0]), float((error / scale)[taken][0])
    axes.plot(*at, ls="", marker="o", ms=8.0, color=RED)
    axes.annotate(
        "chosen", at, (0.0, 16.0), textcoords="offset points", ha="center", color=RED,
        fontsize=SMALL,
    )  # fmt: skip
    marks = [(float(t), f"{t}") for t in terms]
    dress(axes, "terms of the formula", "error over that of two terms", x_marks=marks)
    caption = (
        "Error of heats that were left out of the fit (tenfold), with its standard "
        "error. Chosen: the fewest terms within one standard error of the least."
    )
    alt = (
        f"Plot of the cross-validated error: {error[taken][0] / scale:.2f} of that of "
        f"the two terms of the published shape with the {choice['taken']} terms taken."
    )
    title = "Number of terms"
    return CalibrationFigure("terms", title, caption, alt, svg(figure, title))


EXAMPLE = VeeHeat(
    "plates", 45.0 * DEGREE, 0.75, 0.1016, 0.00635, 650.0, 0.0, 0.012,
    1362.5, 248e6,
)  # fmt: skip
"""4 x 1/4 in plate of A36, the shipped welding tip on one face, still air."""


def _published(calibration: Calibration) -> CalibrationFigure:
    """Rotation by one heat over the moment, by our formula and the published relation."""
    a, b = calibration.record["published_shape"]["published"]
    m = np.linspace(0.0, 0.5, 51)
    figure = blank(3.2)
    axes = place(figure, 0.75, 0.95, 6.1, 2.0)
    keys: list[Artist] = []
    for name, jack, colour, dash in (
        ("formula, weight", 0.0, BLUE, "-"),
        ("formula, jack", 1.0, RED, DASHED),
    ):
        estimates = [estimated(calibration, _example(float(r), jack)) for r in m]
        turn = np.array([1e3 * e.turn for e in estimates])
        deviation = np.array([1e3 * e.sigma for e in estimates])
        if not jack:
            axes.fill_between(m, turn - deviation, turn + deviation, color=SHADE, lw=0)
        keys += axes.plot(m, turn, color=colour, lw=2.0, ls=dash, label=name)
    published = 14.7 * math.sin(EXAMPLE.angle / 3.0) * (a + b * m)
    keys += axes.plot(
        m, published, color=AMBER, lw=2.0, ls=(0, (6, 2, 1, 2)),
        label="published relation, with jacks (from memory)",
    )  # fmt: skip
    axes.set_xlim(0.0, 0.5)
    dress(axes, "M/Mp [1]", "rotation [mrad]", grid="y")
    foot_legend(figure, keys, 3)
    caption = (
        "One example: 45 degree vee 0.75 deep in a 4 x 1/4 in plate, 650 degC, A36, "
        "single-orifice tip, still air. Shaded: one standard deviation of the formula "
        "under a weight. The published relation is shown, not fitted to."
    )
    alt = (
        f"Curves of the rotation over M/Mp: published {published[0]:.1f} to "
        f"{published[-1]:.1f} mrad."
    )
    title = "One heat against the published relation"
    return CalibrationFigure("published", title, caption, alt, svg(figure, title))


def _example(ratio: float, jack: float) -> VeeHeat:
    return replace(EXAMPLE, moment_ratio=ratio, jack=jack)

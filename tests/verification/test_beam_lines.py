"""How far a member heated at its middle stands off its string: beam lines.

The theorem of the moment areas (O. Mohr 1868; any handbook of structures, from memory):
v(x) = integral of curvature times z (L - x) / L up to x and x (L - z) / L beyond.  Hence
a kink theta at a gives theta a (L - a) / L there, a curvature k all along k L2 / 8 in the
middle, and k s (2 L - s) / 8 when only the middle s of the length has it.
"""

from __future__ import annotations

import numpy as np
import pytest
from made_up_result import made_up
from made_up_section import CAMBER, LENGTH, SWEEP
from made_up_section import made_up as made_up_section
from scipy.integrate import quad

from shrinksim.views.bend_names import mid_offset
from shrinksim.views.elevation import words
from shrinksim.views.section import deformed as section_bent

SPAN = 6.0
"""m; the reports' own illustration."""


def mohr(x: float, turn: float, heated: float, span: float = SPAN) -> float:
    """v (m) at x from an end of the span: turn (rad) spread over its heated middle."""
    first, last = 0.5 * (span - heated), 0.5 * (span + heated)

    def share(z: float) -> float:
        return min(x, z) * (span - max(x, z)) / span

    at = np.clip(x, first, last)
    parts = [quad(share, a, b)[0] for a, b in ((first, at), (at, last))]
    return turn / heated * sum(parts)


# turn mrad, heated length m; mm in the middle
LINES = [(24.0, 6.0, 18.0), (4.8, 1.2, 6.48), (5.0, 1e-9, 7.5)]


@pytest.mark.parametrize(("turn", "heated", "middle"), LINES)
def test_middle_of_a_bent_member(turn, heated, middle):
    """E1: 4e-6 1/mm all along and over 1.2 m, and a kink of 5 mrad, of 6 m."""
    curvature = turn / heated
    closed = curvature * heated * (2.0 * SPAN - heated) / 8.0
    assert closed == pytest.approx(middle, rel=1e-9)
    assert mohr(0.5 * SPAN, turn, heated) == pytest.approx(middle, rel=1e-6)
    assert mid_offset(turn, heated, SPAN) == pytest.approx(middle, rel=1e-9)


def test_kink_of_the_elevation_report():
    """5 mrad at the middle of 6 m: theta a (L - a) / L, and the drift of an end."""
    result = made_up()
    assert result.movement.rotation == pytest.approx(5e-3)
    told = " ".join(words.details(result))
    assert "ends up 7.5 mm out of line there" in told
    assert "drifts by 5 mm for every metre, which is 15 mm at 3 m" in told


@pytest.mark.parametrize(("name", "curvature"), [("Camber", CAMBER), ("Sweep", SWEEP)])
def test_drawn_line_of_the_section_report(name, curvature):
    """The whole line over its middle, 2 m of 6 m heated."""
    figure = section_bent.shape(made_up_section())
    (axes,) = (a for a in figure.axes if a.get_title().startswith(name))
    lines = [np.array([one.get_xdata(), one.get_ydata()], float)
             for one in axes.lines if np.size(one.get_xdata()) > 100]  # fmt: skip
    ((x, height),) = (line for line in lines if np.ptp(line[1]) > 0.0)
    wanted = [mohr(SPAN * (0.5 + place), curvature * LENGTH, LENGTH) for place in x]
    middle = curvature * LENGTH * (2.0 * SPAN - LENGTH) / 8.0
    assert wanted[x.size // 2] == pytest.approx(middle, rel=1e-9)
    assert mohr(1.5, 4.8, 1.2) == pytest.approx(3.6, rel=1e-9)  # mm, beside the heat
    # a closing turn (+) makes the upper side hollow: the middle hangs
    assert height == pytest.approx(-np.array(wanted) / abs(middle), abs=1e-9)

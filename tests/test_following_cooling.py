"""Cooling that follows the torch: its law, its way, and what a case says of it.

References are laws of nature: what comes in less what leaves is stored, steel that is
cooled more is colder, and a symmetric problem has a symmetric answer.
"""

import functools
from pathlib import Path

import numpy as np
import pytest
from heat_media import convection
from jobs import BAR, job
from plain_case import VEE, only, with_cooling

from shrinksim.casefile.heating import Mist
from shrinksim.casefile.resolving import REACH, resolved
from shrinksim.fem.basis import locate
from shrinksim.fem.conduction import medium
from shrinksim.heat import Stepping, solve_heat
from shrinksim.heat.trailing_cooling import (
    CoolingPass,
    TrailingCooling,
    remaining_pass,
    smooth_cutoff,
    trailing_exchanges,
)
from shrinksim.shop.cooling import mist
from shrinksim.shop.pattern import point_along
from shrinksim.views.elevation.cautions import before
from shrinksim.views.elevation.loading import heat_phases
from shrinksim.views.reading import case_from, prepare
from shrinksim.views.workpiece import by_band, mesh_of, workpiece

pytestmark = pytest.mark.slow

LINE = {"kind": "line", "from": ["-80 mm", "50 mm"], "to": ["80 mm", "50 mm"]}
TRAVEL = {"power": "8 kW", "efficiency": 0.3, "radius": "22 mm"} | {
    "drive": "travel",
    "speed": "4 mm/s",
}


@functools.cache
def heated(*patterns, tolerance=1e-6, pause=None, **cooling):
    """The heat stage of a case; patterns "vee" or "line", after a pause each."""
    kinds = {"vee": (VEE, BAR["torch"]), "line": (LINE, TRAVEL)}
    drawn = [{**kinds[p][0], "torch": kinds[p][1]} for p in patterns]
    for pattern in drawn[1:] if pause else ():
        pattern["pause"] = pause
    fine = {"numerics": BAR["numerics"] | {"far_element": "30 mm"}}
    case = job({**BAR, **fine, "heat": [{"pattern": drawn, "cooling": {**cooling}}]})
    work = workpiece(case)
    mesh = mesh_of(work)
    table = work.steel.heat
    body = medium(
        mesh, by_band(work, mesh, "heat_thickness"), table.start, table.step,
        table.conductivity, table.heat_content,
    )  # fmt: skip
    steps = Stepping(tolerance=8.0, newton=tolerance)
    phases = heat_phases(case, work, body)
    return work, body, solve_heat(body, phases, initial=20.0, stepping=steps)


def torch_ends(heat):
    """Steps at which a torch has just gone out."""
    on = np.isfinite(heat.torch[:, 0])
    return np.flatnonzero(on[:-1] & ~on[1:])


def stored_between(body, T0, T1):
    """Heat (J) by quadrature of the table, apart from the march's own sum."""
    grid = body.start + body.step * np.arange(len(body.content))
    N, cells = body.quadrature.N, body.mesh.triangles
    held = [np.interp(T[cells] @ N.T, grid, body.content) for T in (T0, T1)]
    return float(np.sum((held[1] - held[0]) * body.volume))


# --- what enters less what leaves is stored


@pytest.mark.parametrize("kind", ["air jet", "mist", "water stream"])
@pytest.mark.parametrize("pattern", ["vee", "line"])
def test_nothing_is_missed(kind, pattern):
    _, body, heat = heated(pattern, kind=kind, behind="60 mm")
    assert abs(heat.imbalance) < 1e-6
    stored = stored_between(body, heat.temperature[0], heat.temperature[-1])
    assert heat.absorbed[-1] - heat.lost[-1] == pytest.approx(
        stored, abs=1e-4 * heat.absorbed[-1]
    )


def test_two_patterns_are_followed_and_nothing_is_missed():
    _, body, heat = heated("line", "vee", pause="3 s", kind="mist", behind="60 mm")
    assert abs(heat.imbalance) < 1e-6
    assert torch_ends(heat).size == 2
    names = [n.words for n in dict.fromkeys(heat.phases) if n.kind != "start"]
    assert names == [
        "heat 1: torch 1",
        "heat 1: pause",
        "heat 1: torch 2",
        "heat 1: mist to the end of the path",
        "heat 1: mist",
        "to cold",
    ]
    # a line at 4 mm/s is left 60 mm long: 15 s, of which the pause is but a part
    _, _, dry = heated("line", "vee", pause="3 s", kind="mist")
    begin = np.flatnonzero(
        np.array([n.words for n in heat.phases]) == "heat 1: torch 2"
    )[0]
    spot = np.argmin(np.linalg.norm(body.mesh.points - [0.08, 0.05], axis=1))
    ends = heat.times[torch_ends(heat)[0]]
    late = ends + 60.0 / 4.0
    T = [np.interp(late, h.times, h.temperature[:, spot]) for h in (heat, dry)]
    assert heat.times[begin] < late
    assert T[0] < T[1] - 30.0


# --- its way


def test_steel_behind_the_torch_is_colder():
    _, body, wet = heated("line", kind="mist", behind="60 mm")
    _, _, dry = heated("line", kind="mist")
    end = torch_ends(wet)[0]
    moment = wet.times[end]
    assert moment == pytest.approx(160.0 / 4.0, rel=1e-6)
    xy = body.mesh.points

    def at(heat, x):
        spot = np.argmin(np.linalg.norm(xy - [x, 0.05], axis=1))
        return np.interp(moment, heat.times, heat.temperature[:, spot])

    under = 0.08 - 0.06
    assert at(wet, under) < at(dry, under) - 30.0
    assert at(wet, -0.04) < at(dry, -0.04) - 60.0
    assert at(wet, 0.08) == pytest.approx(at(dry, 0.08), abs=10.0)
    assert wet.lost[end] > 1.3 * dry.lost[end]


def test_farther_behind_than_the_path_it_waits_for_the_torch_to_be_off():
    """Its reach is no less than the torch's, so the torch's own stride rules."""
    _, _, without = heated("line", kind="mist", reach="25 mm")
    _, _, far = heated("line", kind="mist", reach="25 mm", behind="170 mm")
    end = torch_ends(without)[0]
    assert torch_ends(far)[0] == end
    for name in ("times", "temperature", "lost"):
        one, other = (getattr(h, name)[: end + 1] for h in (without, far))
        np.testing.assert_array_equal(one, other)
    # 10 mm short of the path's start at 4 mm/s: nothing for 2.5 s, then it comes
    still = without.times[end] + 2.5
    rate = np.diff(far.lost) / np.diff(far.times)
    after = far.times[:-1] >= still - 1e-9
    before_it = (far.times[1:] <= still + 1e-9) & (far.times[:-1] >= far.times[end])
    assert before_it.any()
    assert rate[after][3] > 2.0 * rate[before_it].max()


def test_it_goes_to_the_end_of_the_path_before_the_rest():
    _, _, heat = heated("line", kind="mist", behind="60 mm", start_after="20 s")
    labels = np.array([n.words for n in heat.phases])
    ends = {name: heat.times[labels == name][-1] for name in dict.fromkeys(labels)}
    torch, tail = ends["heat 1: torch 1"], ends["heat 1: mist to the end of the path"]
    assert tail - torch == pytest.approx(60.0 / 4.0, rel=1e-6)
    assert ends["heat 1: still air"] - tail == pytest.approx(20.0)


def test_a_pass_stays_at_its_distance_and_goes_on_at_the_mean_speed():
    points = np.array([[0.0, 0.0], [0.1, 0.0], [0.1, 0.05]])
    spray = TrailingCooling(convection(100.0, 20.0), np.ones((1, 1)), 0.06, 0.02, 0.005)
    rest = remaining_pass(spray, points, 10.0, 40.0)
    assert rest is not None
    assert rest.speed == pytest.approx(0.15 / 30.0)
    assert rest.distance(40.0) == pytest.approx(0.09)
    assert rest.distance(rest.end) == pytest.approx(0.15)
    t = 45.0
    at = point_along(points, 0.09 + 5.0 * 0.005)
    near = at + np.array([[0.0, 0.0], [0.017, 0.0], [0.0, 0.0226], [0.02, 0.0]])
    np.testing.assert_allclose(rest.coverage(near, t), [1.0, 1.0, 0.0, 0.5])
    assert not rest.coverage(near, rest.end + 1.0).any()
    assert remaining_pass(spray, points[:1], 0.0, 1.0) is None


def test_cover_is_smooth_and_the_slope_is_the_derivative():
    gap = np.linspace(-0.01, 0.01, 4001)
    share = smooth_cutoff(gap, 0.005)
    assert np.abs(np.diff(share, 2)).max() < 1.1 * 6.0 * (5e-6 / 0.005) ** 2
    spray = TrailingCooling(
        lambda T, t: (T**2, 2.0 * T), np.ones((1, 1)), 0.06, 0.02, 0.005
    )
    passes = [
        CoolingPass(spray, np.array([[0.0, y], [0.1, y]]), lambda t: 0.01 * t)
        for y in (0.0, 0.01)
    ]
    xy = np.random.default_rng(1).uniform(0.0, 0.08, (50, 6, 2))
    (under,) = trailing_exchanges(passes, xy)
    T = np.full((50, 6), 300.0)
    q, slope = under.law(T, 4.0)
    rise = under.law(T + 1e-3, 4.0)[0] - under.law(T - 1e-3, 4.0)[0]
    np.testing.assert_allclose(slope, rise / 2e-3, atol=1e-4)
    most = np.maximum(*(one.coverage(xy, 4.0) for one in passes))
    np.testing.assert_allclose(q, most * 9e4)
    assert 0.0 < most.mean() < 1.0


def test_the_spray_takes_the_place_of_the_air():
    """Under it a face loses what the water takes, and not the still air's share too."""
    case = job(cooling__kind="mist", cooling__behind="60 mm")
    work, body, _ = heated("vee", kind="mist", behind="60 mm")
    first = heat_phases(case, work, body)[0]
    assert first.trailing_cooling is not None
    (calm,) = first.exchanges
    T = np.linspace(10.0, 900.0, 90)
    for total, water in zip(
        np.add(first.trailing_cooling.law(T, 0.0), calm.law(T, 0.0)),
        mist(15.0)(T, 0.0),
        strict=True,
    ):
        np.testing.assert_allclose(total, water, rtol=1e-9)
    assert np.all(first.trailing_cooling.faces <= calm.faces)


def test_symmetric_about_the_line():
    """A line at mid depth of a plate: top and bottom halves have the same field."""
    _, body, heat = heated("line", kind="mist", behind="60 mm")
    places = np.random.default_rng(2).uniform([-0.1, 0.01], [0.1, 0.045], (60, 2))
    both = [places, np.column_stack([places[:, 0], 0.1 - places[:, 1]])]
    T = []
    for xy in both:
        element, N = locate(body.mesh, xy)
        at = heat.temperature[torch_ends(heat)[0]]
        T.append(np.sum(at[body.mesh.triangles[element]] * N, axis=1))
    assert np.ptp(T[0]) > 100.0
    # the mesh itself is not symmetric; its error is what is left
    np.testing.assert_allclose(T[0], T[1], atol=0.01 * np.ptp(T[0]))


def test_a_spray_close_behind_makes_the_torch_burn_longer():
    def burnt(behind):
        heat = heated(
            "vee", tolerance=1e-2, kind="water stream", behind=behind, reach="22 mm"
        )[-1]
        assert heat.peak.max() == pytest.approx(640.0, abs=5.0)
        return heat.heating_time

    assert burnt("23 mm") > 2.0 * burnt("100 mm")


# --- what a case says


@pytest.mark.parametrize(
    ("cooling", "sentence"),
    [
        ({"kind": "still air"}, "behind = 60 mm: still air does not follow a torch"),
        ({}, "behind = 60 mm: still air does not follow a torch; leave behind out"),
        ({"kind": "wet rag"}, "behind = 60 mm: wet rag does not follow a torch"),
        (
            {"kind": "mist", "everywhere": True},
            "has both behind and everywhere = true; leave one out",
        ),
        (
            {"kind": "mist", "reach": "60 mm"},
            "behind = 60 mm is not more than the reach, 60 mm",
        ),
        ({"kind": "air jet", "reach": "2 mm"}, "reach = 2 mm is too small to follow"),
        ({"kind": "mist", "behind": "10 mm"}, "not more than the reach, 20 mm"),
        ({"kind": "mist", "behind": "0 mm"}, "heat[0].cooling.behind = "),
    ],
)
def test_a_following_that_cannot_be(cooling, sentence):
    found = only(with_cooling(**{"behind": "60 mm", **cooling}))
    assert "heat[0].cooling" in found
    assert sentence in found


def test_a_following_keeps_the_start_of_the_rest_and_reads_back():
    case = job(cooling__kind="mist", cooling__behind="60 mm")
    cooling = case.heats[0].cooling
    assert isinstance(cooling, Mist)
    assert (cooling.behind, cooling.reach, cooling.start_after) == (0.06, REACH, 0.0)
    tables = resolved(case)
    assert tables["heat"][0]["cooling"]["behind"] == "60 mm"
    assert case_from(tables, "again", Path()) == case
    late = job(
        cooling__kind="mist", cooling__behind="60 mm", cooling__start_below="315 degC"
    )
    rest = late.heats[0].cooling
    assert isinstance(rest, Mist)
    assert rest.start_below == 315.0
    assert "behind" not in resolved(job())["heat"][0]["cooling"]


def test_preview_and_cautions_tell_of_it():
    """Caltrans standard specifications, 55-1.02B(8): not before 600 degF by itself."""
    wet = job(cooling__kind="mist", cooling__behind="60 mm")
    assert any("mist 60 mm behind the torch" in line for line in prepare(wet).lines)
    assert not any("behind the torch" in line for line in prepare(job()).lines)
    said = {c.code: c.text for c in before(wet, workpiece(wet))}
    text = said["cooling behind the torch"]
    for word in ("55-1.02B(8)", "316", "quenched and tempered", "flame", "steam"):
        assert word in text
    jet = job(cooling__kind="air jet", cooling__behind="60 mm")
    said = {c.code: c.text for c in before(jet, workpiece(jet))}
    assert "steam" not in said["cooling behind the torch"]
    late = job(cooling__kind="mist", cooling__start_below="315 degC")
    codes = {c.code for c in before(late, workpiece(late))}
    assert "cooling behind the torch" not in codes

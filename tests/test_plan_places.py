"""Where the heats of a plan are, and of what pattern."""

import math

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_survey import survey
from plain_job import BEAM, changed, read
from quick_plan import bar, up

from shrinksim.member.line import Bend
from shrinksim.member.plan.patterns import (
    REPEAT,
    heat_spacing,
    open_end,
    pattern_words,
    patterns_of,
    vee_angles,
)
from shrinksim.member.plan.targets import heating_sites
from shrinksim.views.caution import OPEN_END


@settings(max_examples=40, deadline=None)
@given(
    section=st.sampled_from(["IPE 100", "IPE 300", "IPE 600", "HEA 200", "W36X150"]),
    plane=st.sampled_from(["camber", "sweep"]),
)
def test_no_vee_is_wider_than_practice(section, plane):
    """Open end at most 10 in (FHWA guide, AASHTO; from memory), 20 to 60 degrees."""
    job = read(changed(BEAM, member__section=section))
    for angle in vee_angles(job, plane):
        assert open_end(job, plane, angle) <= OPEN_END + 1e-9
        assert math.radians(10.0) <= angle <= math.radians(60.0)


def test_patterns_follow_practice():
    """Web vee then flange strip as wide as its open end; vees in both flanges (FHWA)."""
    beam, angle = read(BEAM), math.radians(30.0)
    vee, strip = patterns_of(beam, "camber", "bottom", angle)
    assert (vee["open"], strip["on"]) == ("bottom", "flange bottom")
    assert strip["width"] == f"{2e3 * (0.225 - 0.0107) * math.tan(angle / 2):.0f} mm"
    assert "across the bottom flange" in pattern_words(beam, "camber", "bottom", angle)
    (plan,) = patterns_of(beam, "sweep", "left", angle)
    assert (plan["kind"], plan["open"]) == ("vee", "bottom")
    assert "both flanges" in pattern_words(beam, "sweep", "left", angle)


@settings(max_examples=60, deadline=None)
@given(
    at=st.floats(1.0, 11.0),
    turn=st.floats(8e-3, 60e-3),
    length=st.sampled_from([0.0, 0.5, 2.0, 6.0]),
)
def test_places_keep_their_distance_and_are_heated_three_times_at_most(
    at, turn, length
):
    """Spacing of a set at least 12 in and a depth; a place some three times at most."""
    job = read(BEAM)
    found = survey(job, allowed=5e-3, camber=(Bend(at, turn, length),))
    (site,) = heating_sites(
        job, found, np.linspace(0, 12, 121), {"camber": np.array([1.5e-3])}
    )
    assert heat_spacing(job, "camber") >= 0.3048
    places = np.array(site.stations)
    assert np.all((places > 0.0) & (places < 12.0))
    for place in set(site.stations):
        assert site.stations.count(place) <= len(REPEAT)
        visits = [
            v for p, v in zip(site.stations, site.visits, strict=True) if p == place
        ]
        assert visits == sorted(visits) == list(range(len(visits)))
    inside = np.unique(places[(places > 0.2) & (places < 11.8)])
    assert np.all(np.diff(inside) >= 0.5 * heat_spacing(job, "camber") - 2e-3)


def test_places_heated_before_come_last():
    job = bar()
    found = survey(job, camber=up(10e-3), heated=[("top", 1.4), ("bottom", 1.2)])
    (site,) = heating_sites(
        job, found, np.linspace(0, 3, 121), {"camber": np.array([2e-3])}
    )
    assert site.stations[0] != 1.4
    first = site.stations.index(1.4)
    assert site.visits[first] == 1

"""What differs between cases, and what of their numbers may be ranked."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up_compare import FEWER, summary
from plain_case import PLATE, VEE, read, with_cooling

from shrinksim.compare.differences import differences
from shrinksim.compare.ranking import common_error, measures, ranked
from shrinksim.compare.words import decimals


def said(*tables, units="metric"):
    found = differences([read(t) for t in tables], units)
    return {d.what: d.values for d in found}


def one(runs, name):
    """A measure of runs called A, B, ..."""
    names = [chr(ord("A") + k) for k in range(len(runs))]
    return next(m for m in measures(runs, names) if m.name.startswith(name))


# what differs


def test_only_what_differs_is_told_and_in_the_words_of_the_case():
    assert said(PLATE, PLATE | {"title": "other", "print_units": "us"}) == {}
    assert said(PLATE, FEWER) == {"heat, pattern: angle": ("45 deg", "30 deg")}
    wide = PLATE | {"member": PLATE["member"] | {"width": "150 mm"}}
    told = said(PLATE, wide)
    assert told["member: width"] == ("101.6 mm", "150 mm")  # 4 in, exactly
    assert said(wide, PLATE, units="us")["member: width"][1] == "4 in"
    # the depth of a vee follows from its ratio: 0.75 of the width
    assert told["heat, pattern: depth"] == ("76.2 mm", "112.5 mm")


def test_a_thing_of_another_kind_is_told_whole():
    mist = with_cooling(kind="mist", start_below="315 degC", reach="20 mm")
    told = said(PLATE, mist)
    assert list(told) == ["heat, cooling"]
    air, wet = told["heat, cooling"]
    assert air.startswith("still air")
    assert wet.startswith("mist")
    assert "start below 315 degC" in wet
    loaded = PLATE | {"load": {"kind": "weight", "moment": "0.25 Mp"}}
    assert said(PLATE, loaded)["load"] == ("none", "weight, moment 0.25 Mp")


def test_a_torch_is_told_once_and_a_pattern_that_one_has_not_is_none():
    hot = PLATE | {"torch": {"target": "600 degC"}}
    assert said(PLATE, hot) == {"torch: target": ("640 degC", "600 degC")}
    spot = {"kind": "spot", "at": "90 mm", "height": "50 mm", "diameter": "20 mm"}
    more = PLATE | {"heat": [{"pattern": [VEE, spot]}]}
    told = said(PLATE, more)
    assert list(told) == ["heat, pattern 2"]
    assert told["heat, pattern 2"][0] == "none"
    assert told["heat, pattern 2"][1].startswith("spot, ")


def test_values_are_grouped_for_many_cases():
    (found,) = differences([read(t) for t in (PLATE, FEWER, PLATE)], "metric")
    assert found.groups == (("45 deg", (0, 2)), ("30 deg", (1,)))


@pytest.mark.slow
@given(st.floats(0.02, 0.4), st.floats(0.02, 0.4))
def test_two_lengths_that_differ_never_look_alike(a, b):
    tables = [
        PLATE | {"member": PLATE["member"] | {"width": f"{w!r} m"}} for w in (a, b)
    ]
    told = said(*tables)
    if a != b:
        assert len(set(told["member: width"])) == 2
    else:
        assert told == {}


# what may be ranked


@given(
    st.lists(st.floats(-50.0, 50.0), min_size=2, max_size=8),
    st.floats(0.0, 5.0),
    st.randoms(),
)
def test_noise_is_not_ranked(values, error, order):
    """The law: nothing is called better over a gap within both errors together, and
    the order in which cases are given changes nothing.
    """
    names = [f"c{k}" for k in range(len(values))]
    places, verdict = ranked(values, lambda a, b: 2.0 * error, names)
    if max(values) - min(values) <= 2.0 * error:
        assert verdict == "no difference"
        assert set(places) == {""}
    else:
        best = places.index("best")
        assert values[best] == max(values)
        for value, place in zip(values, places, strict=True):
            assert (place == "") == (max(values) - value > 2.0 * error)
    shuffled = list(range(len(values)))
    order.shuffle(shuffled)
    again, _ = ranked([values[k] for k in shuffled], lambda a, b: 2.0 * error, names)
    if len(set(values)) == len(values):
        assert again == tuple(places[k] for k in shuffled)


def test_a_gap_within_the_errors_is_no_difference():
    near = [summary(5.0, 0.1), summary(5.19, 0.1)]
    assert one(near, "permanent rotation").verdict == "no difference"
    far = [summary(5.0, 0.1), summary(5.21, 0.1)]
    turn = one(far, "permanent rotation")
    assert (turn.places, turn.verdict) == (("", "best"), "B is best")
    assert turn.errors == (0.1, 0.1)


def test_errors_that_two_runs_have_in_common_do_not_hide_a_difference():
    """With the torch on the same way, the change of the gap counts: 0.5 |0.2 - 0.2|,
    at least a tenth of both changes, 0.04.
    """
    assert common_error(0.2, 0.2) == pytest.approx(0.04)
    assert common_error(0.3, -0.3) == pytest.approx(0.3)
    assert common_error(None, 0.2) is None
    runs = [summary(5.0, 0.1, torch_way="w"), summary(5.05, 0.1, torch_way="w")]
    assert one(runs, "permanent rotation").verdict == "B is best"
    runs = [summary(5.0, 0.1, torch_way="w"), summary(5.03, 0.1, torch_way="w")]
    assert one(runs, "permanent rotation").verdict == "no difference"


def test_a_member_that_folds_is_never_the_best():
    runs = [
        summary(5.0),
        summary(90.0, outcome="hot hinge", refinement=None, hot_hinge_margin=1.0),
        summary(60.0, hot_hinge_margin=0.98),
        summary(6.0),
    ]
    turn = one(runs, "permanent rotation")
    assert turn.values[1] is None
    assert turn.places == ("", "", "", "best")
    assert turn.verdict == "D is best; B and C not ranked"
    margin = one(runs, "hot-hinge margin")
    assert margin.verdict == "A is best, D no different"


def test_without_an_error_nothing_is_ranked():
    runs = [summary(5.0), summary(50.0, refinement=None)]
    turn = one(runs, "permanent rotation")
    assert turn.verdict == "not ranked"
    assert turn.values == (5.0, 50.0)


def test_what_is_best_depends_on_the_measure():
    runs = [
        summary(5.0, burnt_J=3e5, shortening_mm=-0.3, peak_temperature_C=640.0),
        summary(4.0, burnt_J=2e5, shortening_mm=0.9, peak_temperature_C=600.0),
    ]
    best = {name: one(runs, name).places for name in ("short", "peak", "heat of")}
    assert best == {
        "short": ("best", ""), "peak": ("", "best"), "heat of": ("", "best"),
    }  # fmt: skip


def test_decimals_follow_the_error():
    assert [decimals(e) for e in (12.0, 0.9, 0.082, 0.0041, 0.0)] == [1, 2, 3, 4, 2]

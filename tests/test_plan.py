"""The plan: what is heated, how it goes, when it stops, and what it says before."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shrinksim.cautions import OPEN_END
from shrinksim.errors import CaseError
from shrinksim.member.aims import sites_of, way_of
from shrinksim.member.choice import (
    REPEAT,
    angles_of,
    open_end,
    patterns_of,
    spacing_of,
    words_of,
)
from shrinksim.member.forecast import forecast, learnt
from shrinksim.member.lay import lay, rigging_of
from shrinksim.member.line import Bend, offsets
from shrinksim.member.outlook import Belief, worth
from shrinksim.member.plan import make_plan, next_heat
from shrinksim.member.ways import curves_of, options
from tests.made_up_survey import survey
from tests.plain_job import BAR, BEAM, changed, read

QUICK = {"estimate": "quick"}
HEAVY = changed(
    BAR,
    heats=QUICK,
    member={
        "section": "plate",
        "width": "100 mm",
        "thickness": "10 mm",
        "length": "6 m",
    },
    support=[{"at": "200 mm"}, {"at": "5.8 m"}],
)
"""A bar that its own weight bends by some 0.07 of its plastic moment."""


def bar(base=BAR, **changes):
    return read(changed(base, **({"heats": QUICK} | changes)))


def planned(job, tmp_path, belief=None, **survey_of):
    found = survey(job, **survey_of)
    return make_plan(job, found, store=tmp_path, jobs=0, belief=belief)


def up(turn, at=1.4):
    return (Bend(at, turn),)


# ---- what a heat is worth, and the factor --------------------------------------------


@given(u=st.floats(0.0, 5.0), move=st.floats(-3.0, 5.0), sigma=st.floats(0.01, 2.0))
@settings(max_examples=60, deadline=None)
def test_worth_is_the_mean_of_many_heats(u, move, sigma):
    """Folded normal distribution; here by quadrature over 4001 equal shares."""
    share = (np.arange(4001) + 0.5) / 4001
    from scipy.stats import norm

    y = move + sigma * norm.ppf(share)
    mean = np.mean(u - np.abs(u - y))
    assert float(worth(np.array(u), np.array(move), np.array(sigma))) == pytest.approx(
        mean, abs=3e-3
    )


def test_worth_without_scatter_is_what_comes_nearer():
    one = np.ones(1)
    assert worth(2.0 * one, one, 0.0 * one) == pytest.approx([1.0])
    assert worth(0.5 * one, one, 0.0 * one) == pytest.approx([0.0], abs=1e-9)
    assert worth(one, one, 0.3 * one)[0] == pytest.approx(
        1.0 - 0.3 * math.sqrt(2 / math.pi)
    )


def test_the_factor_is_learnt_by_bayes():
    """Normal mean with known variance (Gelman et al., eq. 2.12), by the way of weights."""
    mean, var = np.array([1.0]), np.array([0.09])
    move, noise = np.array([2e-3]), np.array([(0.4e-3) ** 2])
    for seen in (2.6e-3, 2.9e-3, 2.4e-3):
        mean, var = learnt(mean, var, move, np.array([seen]), noise)
    weights = np.array([1 / 0.09, *[(2e-3 / 0.4e-3) ** 2] * 3])
    assert mean[0] == pytest.approx(weights @ [1.0, 1.3, 1.45, 1.2] / weights.sum())
    assert var[0] == pytest.approx(1.0 / weights.sum())


# ---- where and how -------------------------------------------------------------------


@settings(max_examples=40, deadline=None)
@given(
    section=st.sampled_from(["IPE 100", "IPE 300", "IPE 600", "HEA 200", "W36X150"]),
    plane=st.sampled_from(["camber", "sweep"]),
)
def test_no_vee_is_wider_than_practice(section, plane):
    """Open end at most 10 in (FHWA guide, AASHTO; from memory), 20 to 60 degrees."""
    job = read(changed(BEAM, member__section=section))
    for angle in angles_of(job, plane):
        assert open_end(job, plane, angle) <= OPEN_END + 1e-9
        assert math.radians(10.0) <= angle <= math.radians(60.0)


def test_patterns_follow_practice():
    """Web vee then flange strip as wide as its open end; vees in both flanges (FHWA)."""
    beam, angle = read(BEAM), math.radians(30.0)
    vee, strip = patterns_of(beam, "camber", "bottom", angle)
    assert (vee["open"], strip["on"]) == ("bottom", "flange bottom")
    assert strip["width"] == f"{2e3 * (0.225 - 0.0107) * math.tan(angle / 2):.0f} mm"
    assert "across the bottom flange" in words_of(beam, "camber", "bottom", angle)
    (plan,) = patterns_of(beam, "sweep", "left", angle)
    assert (plan["kind"], plan["open"]) == ("vee", "bottom")
    assert "both flanges" in words_of(beam, "sweep", "left", angle)


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
    (site,) = sites_of(
        job, found, np.linspace(0, 12, 121), {"camber": np.array([1.5e-3])}
    )
    assert spacing_of(job, "camber") >= 0.3048
    places = np.array(site.stations)
    assert np.all((places > 0.0) & (places < 12.0))
    for place in set(site.stations):
        assert site.stations.count(place) <= len(REPEAT)
        visits = [
            v for p, v in zip(site.stations, site.visits, strict=True) if p == place
        ]
        assert visits == sorted(visits) == list(range(len(visits)))
    inside = np.unique(places[(places > 0.2) & (places < 11.8)])
    assert np.all(np.diff(inside) >= 0.5 * spacing_of(job, "camber") - 2e-3)


def test_places_heated_before_come_last():
    job = bar()
    found = survey(job, camber=up(10e-3), heated=[("top", 1.4), ("bottom", 1.2)])
    (site,) = sites_of(job, found, np.linspace(0, 3, 121), {"camber": np.array([2e-3])})
    assert site.stations[0] != 1.4
    first = site.stations.index(1.4)
    assert site.visits[first] == 1


# ---- the plan ------------------------------------------------------------------------


def test_a_straight_member_gets_no_heat(tmp_path):
    plan = planned(bar(), tmp_path, allowed=4e-3, sigma=0.1e-3, camber=up(2e-3))
    assert plan.cards == ()
    assert (plan.least, plan.most) == (0, 0)
    assert plan.alternatives == ()


def test_the_line_after_is_the_sum_of_bends_and_heats(tmp_path):
    """Small turns add up: offsets of all kinks and of the bend, from the chord."""
    plan = planned(bar(), tmp_path, camber=up(16e-3))
    assert len(plan.cards) >= 3
    heats = [Bend(c.at, -c.move) for c in plan.cards]
    line = offsets([Bend(1.4, 16e-3), *heats], plan.x, 3.0)
    assert plan.cards[-1].line_after == pytest.approx(line, abs=1.5e-4)
    off = [np.abs(c.line_after).max() for c in plan.cards]
    assert all(a > b for a, b in pairwise(off))
    assert off[-1] <= 4e-3 - 0.5e-3
    assert plan.after["camber"] == pytest.approx(line, abs=1.5e-4)


def test_cards_say_what_their_heat_is(tmp_path):
    plan = planned(bar(), tmp_path, camber=up(16e-3))
    for number, card in enumerate(plan.cards, start=1):
        assert card.number == number
        assert (card.plane, card.side) == ("camber", "top")
        assert card.moment_ratio > 0.0
        assert card.drop > 0.0
        assert card.patterns[0]["open"] == "top"
        assert 0.2 * card.move < card.sigma < 0.5 * card.move
    assert plan.least <= len(plan.cards) <= plan.most
    assert plan.chance > 0.9
    assert any("Stop when the camber reads" in s for s in plan.stop)


def test_the_band_of_one_heat_by_hand(tmp_path):
    """Variances add: survey, common factor, scatter of the heat."""
    belief = Belief(1.0, 0.2, 0.25)
    job = bar(heats=QUICK | {"most": 1})
    plan = planned(job, tmp_path, belief, sigma=0.7e-3, camber=up(16e-3))
    (card,) = plan.cards
    unit = offsets([Bend(card.at, 1.0)], plan.x, 3.0)
    bend = offsets([Bend(1.4, 1.0)], plan.x, 3.0)
    var = (0.7e-3 * bend) ** 2 + (0.2**2 + 0.25**2) * (card.move * unit) ** 2
    assert card.band_after == pytest.approx(np.sqrt(var), rel=1e-6, abs=1e-9)
    assert card.sigma == pytest.approx(card.move * math.hypot(0.2, 0.25))


def test_bands_of_a_common_factor_grow_in_proportion(tmp_path):
    """With a factor alone the deviations of all heats add up, not their squares."""
    belief = Belief(1.0, 0.2, 1e-9)
    plan = planned(bar(), tmp_path, belief, sigma=1e-9, camber=up(16e-3))
    moved = sum(c.move * offsets([Bend(c.at, 1.0)], plan.x, 3.0) for c in plan.cards)
    assert plan.cards[-1].band_after == pytest.approx(0.2 * moved, rel=1e-6, abs=1e-8)


def test_without_any_error_the_range_is_one_number(tmp_path):
    belief = Belief(1.0, 1e-9, 1e-9)
    plan = planned(bar(), tmp_path, belief, sigma=1e-9, camber=up(16e-3))
    assert plan.most - plan.least <= 1
    assert plan.chance == 1.0


def test_mirrored_members_get_mirrored_plans(tmp_path):
    """Upside down, bend and member: the same plan on the other side."""
    one = planned(bar(), tmp_path, camber=up(16e-3))
    other = planned(bar(rig={"up": "bottom"}), tmp_path, camber=up(-16e-3))
    assert [c.side for c in other.cards] == ["bottom"] * len(one.cards)
    for a, b in zip(one.cards, other.cards, strict=True):
        assert a.at == b.at
        assert b.move == pytest.approx(a.move)
        assert b.line_after == pytest.approx(-a.line_after)
    assert (one.least, one.most) == (other.least, other.most)


def test_gravity_that_opposes_moves_less_and_is_told_before(tmp_path):
    helped = planned(bar(HEAVY), tmp_path, allowed=8e-3, camber=up(16e-3, 3.0))
    against = planned(
        bar(HEAVY, rig={"up": "bottom"}), tmp_path, allowed=8e-3, camber=up(16e-3, 3.0)
    )
    assert against.cards[0].moment_ratio == pytest.approx(
        -helped.cards[0].moment_ratio, rel=1e-6
    )
    assert against.cards[0].move < 0.75 * helped.cards[0].move
    assert any("Turn the member over" in text for text in against.cautions)
    assert not any("Turn the member over" in text for text in helped.cautions)
    assert "Gravity opposes here" in against.cards[0].cautions[0]
    rows = {a.name: a for a in against.alternatives}
    assert rows["turned over"].move_per_heat > rows["as laid"].move_per_heat
    assert "open the vee further" in rows["with a weight hung"].remark


def test_where_heats_would_go_backwards_there_are_none(tmp_path):
    """The published relation turns round at M/Mp = -0.3 (from memory)."""
    tables = changed(
        HEAVY, rig={"up": "bottom"}, weight=[{"at": "3 m", "mass": "150 kg"}]
    )
    plan = planned(read(tables), tmp_path, allowed=8e-3, camber=up(16e-3, 3.0))
    assert plan.cards == ()
    text = " ".join(plan.cautions)
    assert "goes the wrong way" in text
    assert "Turn the member over before heating" in text
    rows = {a.name: a for a in plan.alternatives}
    assert not rows["as laid"].possible
    assert rows["as laid"].move_per_heat < 0.0
    assert "no heat" in " ".join(plan.stop)


def test_a_way_near_to_folding_is_refused(tmp_path):
    tables = changed(HEAVY, weight=[{"at": "3 m", "mass": "500 kg"}])
    plan = planned(read(tables), tmp_path, allowed=8e-3, camber=up(16e-3, 3.0))
    row = plan.alternatives[0]
    assert not row.possible
    assert "near to folding" in row.remark
    assert plan.cards == ()


def test_a_weight_is_hung_for_more_movement(tmp_path):
    plan = planned(bar(HEAVY), tmp_path, allowed=8e-3, camber=up(16e-3, 3.0))
    rows = {a.name: a for a in plan.alternatives}
    assert list(rows) == ["as laid", "turned over", "with a weight hung"]
    hung = rows["with a weight hung"]
    assert hung.heats < rows["as laid"].heats
    assert 0.1 < hung.moment_ratio <= 0.2
    assert "kg hung at 3 m" in hung.remark


def test_bends_to_both_sides_are_told_to_be_turned(tmp_path):
    bends = (Bend(2.0, 18e-3), Bend(4.2, -15e-3))
    plan = planned(bar(HEAVY), tmp_path, allowed=5e-3, camber=bends)
    assert {c.side for c in plan.cards} == {"top", "bottom"}
    rows = {a.name: a for a in plan.alternatives}
    assert rows["each bulge up"].moment_ratio > 0.0 > rows["as laid"].moment_ratio


def test_a_large_vee_is_not_given_for_the_last_bit(tmp_path):
    """What is left is half of what the only vee moves: as likely to be overdone."""
    job = bar(heats=QUICK | {"angle": "60 deg"})
    plan = planned(job, tmp_path, allowed=0.5e-3, sigma=0.05e-3, camber=up(1.4e-3))
    assert plan.cards == ()
    assert any("as likely to overdo it" in s for s in plan.stop)


def test_finishing_heats_are_smaller(tmp_path):
    plan = planned(bar(), tmp_path, allowed=1e-3, sigma=0.1e-3, camber=up(10e-3))
    moves = [c.move for c in plan.cards]
    assert moves[-1] < 0.7 * moves[0]


def test_a_bow_is_heated_all_along(tmp_path):
    """Curved evenly from end to end: heats spread over the length, none on another."""
    plan = planned(bar(), tmp_path, camber=(Bend(1.5, 24e-3, 3.0),))
    places = [c.at for c in plan.cards]
    assert len(set(places)) == len(places) >= 4
    assert max(places) - min(places) > 1.0
    assert np.abs(plan.after["camber"]).max() <= 4e-3


def test_a_step_at_a_splice_stays(tmp_path):
    """Heats turn the line; a step in it they leave."""
    job = bar()
    found = survey(job, camber=up(16e-3))
    shape = found.shapes["camber"]
    shape.line = shape.line + np.where(shape.x > 2.0, 1e-3 * (3.0 - shape.x), 0.0)
    plan = make_plan(job, found, store=tmp_path, jobs=0)
    heats = [Bend(c.at, -c.move) for c in plan.cards]
    line = offsets([Bend(1.4, 16e-3), *heats], plan.x, 3.0)
    rest = np.interp(plan.x, shape.x, shape.line) - offsets(up(16e-3), plan.x, 3.0)
    assert plan.after["camber"] == pytest.approx(line + rest, abs=2e-4)
    assert np.abs(rest).max() > 5e-4


def test_a_plate_is_not_heated_out_of_its_plane(tmp_path):
    plan = planned(bar(), tmp_path, camber=up(12e-3), sweep=(Bend(1.0, 20e-3),))
    assert {c.plane for c in plan.cards} == {"camber"}
    assert any("its own plane only" in text for text in plan.cautions)


def test_a_crib_that_takes_the_load_takes_the_help(tmp_path):
    """When the member comes to rest on cribbing its weight helps no more there."""
    tables = changed(HEAVY, support=[*HEAVY["support"], {"at": "3 m", "gap": "6 mm"}])
    plan = planned(read(tables), tmp_path, allowed=6e-3, camber=up(16e-3, 3.0))
    ratios = [c.moment_ratio for c in plan.cards]
    assert ratios[0] > 0.05
    assert min(ratios) < 0.5 * ratios[0]
    assert sum(c.drop for c in plan.cards) == pytest.approx(6e-3, abs=1e-4)


def test_a_job_without_supports_cannot_be_planned(tmp_path):
    with pytest.raises(CaseError, match="at least two"):
        planned(bar(support=None), tmp_path, camber=up(12e-3))


def test_i_sections_are_not_planned_quickly(tmp_path):
    with pytest.raises(CaseError, match="no relation for I-sections"):
        planned(read(changed(BEAM, heats=QUICK)), tmp_path, camber=up(12e-3, 6.0))


def test_the_next_heat_is_the_first_card(tmp_path):
    job = bar()
    found = survey(job, camber=up(16e-3))
    card = next_heat(job, found, store=tmp_path, jobs=0)
    plan = make_plan(job, found, store=tmp_path, jobs=0)
    assert (card.at, card.move) == (plan.cards[0].at, plan.cards[0].move)
    straight = survey(job, sigma=0.1e-3, camber=up(1e-3))
    assert next_heat(job, straight, store=tmp_path, jobs=0) is None


def test_what_is_learnt_changes_the_plan(tmp_path):
    slow = Belief(0.6, 0.1, 0.25)
    one = planned(bar(), tmp_path, camber=up(16e-3))
    other = planned(bar(), tmp_path, slow, camber=up(16e-3))
    assert other.cards[0].move == pytest.approx(0.6 * one.cards[0].move)
    assert len(other.cards) > len(one.cards)


# ---- the range holds where the rule is carried out ------------------------------------


@pytest.mark.parametrize("seed", range(6))
def test_the_rule_carried_out_keeps_to_its_forecast(tmp_path, seed):
    """Members with their own truth, re-read after each heat, against the range."""
    job = bar()
    rng = np.random.default_rng(seed)
    found = survey(job, sigma=0.5e-3, camber=up(15e-3))
    way = _way(job, found, tmp_path)
    belief = Belief(1.0, 0.2, 0.25)
    told = forecast(way, belief, 60, seed=100 + seed)
    shop = rng.lognormal(-0.02, 0.2)
    true, heats = 15e-3 + 0.5e-3 * rng.standard_normal(), 0
    read_now, factor = 15e-3, (np.array([1.0]), np.array([0.04]))
    while heats < 60:
        seen = replace(found, shapes=survey(job, camber=up(max(read_now, 1e-6))).shapes)
        card = next_heat(
            job, seen, store=tmp_path, jobs=0,
            belief=Belief(factor[0][0], factor[1][0] ** 0.5, 0.25),
        )  # fmt: skip
        if card is None:
            break
        move = card.move / factor[0][0]
        true -= move * shop * rng.lognormal(-0.03, 0.25)
        heats += 1
        before, read_now = read_now, true + 0.5e-3 * rng.standard_normal()
        noise = np.array([2 * 0.5e-3**2 + (0.25 * move) ** 2])
        seen_move = np.array([before - read_now])
        factor = learnt(*factor, np.array([move]), seen_move, noise)
    assert told.least <= heats <= told.most
    assert abs(true) * way.sites[0].arm <= 4e-3 * 1.25


def _way(job, found, store):
    x = np.linspace(0.0, job.member.length, 241)
    sites = sites_of(job, found, x)
    laid = lay(rigging_of(job), found.bends, sites)
    first = list(options(job, laid, found.bends, sites))[:1]
    (curves,) = curves_of(job, first, sites, store, 0, None)
    return way_of(job, found, first[0].ratios, curves, x)


def test_forecasts_are_the_same_every_time(tmp_path):
    job = bar()
    way = _way(job, survey(job, camber=up(15e-3)), tmp_path)
    assert forecast(way, Belief(), 60) == forecast(way, Belief(), 60)

"""Ways of lying are checked before they are recommended, and bending across a heat."""

import re

import numpy as np
import pytest
from made_up_survey import survey
from plain_job import BAR, BEAM, changed, read

from shrinksim.errors import CaseError
from shrinksim.member.line import Bend
from shrinksim.member.plan.alternative_cautions import scheme_cautions
from shrinksim.member.plan.alternatives import arrangements, compared
from shrinksim.member.plan.cards import cards_of
from shrinksim.member.plan.estimate import OPPOSING_SIGMA_FACTOR, estimated_curves
from shrinksim.member.plan.forecast import forecast
from shrinksim.member.plan.minor_axis import (
    MOST,
    WARNED,
    hot_moment_share,
    hot_strength,
    other_axis_margin,
    other_axis_ratio,
)
from shrinksim.member.plan.next_heat import MovementFactor
from shrinksim.member.plan.patterns import heating_site
from shrinksim.member.plan.response import CurveRequest, ResponseCurve, response_at
from shrinksim.member.plan.targets import heating_scheme, heating_sites
from shrinksim.member.setup.cautions import rig_cautions, sideways_ratio
from shrinksim.member.setup.rig import rest_on_supports
from shrinksim.member.setup.setup import rigging_of, set_up

QUICK = {"estimate": "quick"}
BELIEF = MovementFactor()
PURLIN = changed(
    BEAM,
    member={"section": "IPE 300", "length": "12 m"},
    survey__sweep=[["0 m", "0 mm"], ["6 m", "50 mm"], ["12 m", "0 mm"]],
    survey__sweep_line="left",
)


def made_up_curve():
    ratio = np.array([-0.2, 0.0, 0.2, 0.5])
    flat = [np.full(4, v) for v in (1e-4, 650.0, 60.0, 1800.0, 2e5)]
    turn = np.array([1.0, 2.0, 3.5, 6.0]) * 1e-3
    return ResponseCurve(ratio, turn, *flat, np.abs(ratio), 0.2, "made up")


def worked_out(job, found):
    """The options of a job with made-up movements, their ways and rows."""
    x = np.linspace(0.0, job.member.length, 121)
    sites = heating_sites(job, found, x)
    setup = set_up(rigging_of(job), found.bends, [site.place for site in sites])
    curves = {p: (made_up_curve(),) * 3 for p in ("camber", "sweep")}
    rows = []
    for arrangement in arrangements(job, setup, found.bends, sites):
        scheme = None
        if arrangement.ratios is not None:
            scheme = heating_scheme(
                job, found, arrangement.ratios, curves, x, arrangement.barred
            )
        rows.append(
            (arrangement, scheme, compared(job, arrangement, scheme, BELIEF, None))
        )
    return setup, x, rows


def by_name(rows):
    return {
        arrangement.name: (arrangement, scheme, row)
        for arrangement, scheme, row in rows
    }


def test_a_weight_that_buckles_the_member_sideways_is_not_recommended():
    """A blade 12 mm thick: its critical moment is pi sqrt(E Iz G It) / L (Timoshenko)."""
    job = read(
        changed(
            BAR,
            member={
                "section": "plate",
                "width": "200 mm",
                "thickness": "12 mm",
                "length": "9 m",
            },
            support=[{"at": "300 mm"}, {"at": "8.7 m"}],
        )
    )
    found = survey(job, allowed=8e-3, camber=(Bend(4.5, 20e-3),))
    _, _, rows = worked_out(job, found)
    arrangement, scheme, row = by_name(rows)["with a weight hung"]
    ratio = sideways_ratio(arrangement.setups[0].standing)
    E, G, L = 210e9, 210e9 / 2.6, 8.4
    Iz = 0.2 * 0.012**3 / 12
    It = 0.2 * 0.012**3 / 3 * (1 - 0.63 * 0.06)
    moment = np.abs(arrangement.setups[0].standing.moment).max()
    critical = np.pi * np.sqrt(E * Iz * G * It) / L
    assert ratio == pytest.approx(moment / critical, rel=0.02)
    assert ratio >= 1.0
    assert not row.possible
    assert "buckles sideways" in row.remark
    assert scheme.sites[0].stations == ()


def test_a_way_that_falls_over_is_refused_unless_it_lies_so_already():
    job = read(changed(PURLIN, member__length="12 m"))
    bends = {"camber": (Bend(6.0, 30e-3),), "sweep": (Bend(6.0, 120e-3),)}
    found = survey(job, allowed=18e-3, **bends)
    setup, _, rows = worked_out(job, found)
    assert "rolls over" in {c.code for c in rig_cautions(setup.standing)}
    named = by_name(rows)
    assert "falls over" not in named["as laid"][2].remark
    assert not named["turned over"][2].possible
    assert "falls over unless held" in named["turned over"][2].remark


def test_a_hung_weight_says_slings_and_nobody_under_it():
    job = read(BAR)
    _, _, rows = worked_out(job, survey(job, camber=(Bend(1.4, 16e-3),)))
    _, _, row = by_name(rows)["with a weight hung"]
    assert "rated slings, and nobody under it" in row.remark


def test_turning_over_tells_how_to_lift():
    """Weight from EN 10365: IPE 300, 42.2 kg/m; slings at 0.207 L (equal moments)."""
    job = read(BEAM)
    found = survey(job, allowed=18e-3, camber=(Bend(6.0, -40e-3),))
    setup, _, rows = worked_out(job, found)
    row = by_name(rows)["turned over"][2]
    assert "slings at 2.485 m and 9.515 m" in row.remark
    assert "nobody under it" in row.remark
    mass = float(re.search(r"lifts ([\d.]+) kg", row.remark)[1])
    assert mass == pytest.approx(42.2 * 12.0, rel=3e-3)
    as_laid = by_name(rows)["as laid"][1]
    text = " ".join(scheme_cautions(job, setup, as_laid))
    assert "two slings" in text
    assert "Lifting needs rated gear" in text
    helped = survey(job, allowed=18e-3, camber=(Bend(6.0, 40e-3),))
    setup, _, rows = worked_out(job, helped)
    assert not any("sling" in said for said in scheme_cautions(job, setup, rows[0][1]))


# ---- bending across a heat -------------------------------------------------------------


def test_crossways_is_the_moment_about_the_other_axis():
    """w L2 / 8 over Wpl fy: IPE 300, 42.2 kg/m, Wpl = 628.4 cm3 (EN 10365)."""
    job = read(changed(PURLIN, support=[{"at": "0 m"}, {"at": "12 m"}]))
    standing = rest_on_supports(rigging_of(job))
    M = 42.2 * 9.81 * 12.0**2 / 8
    ratio = other_axis_ratio(standing, "sweep", 6.0)
    assert ratio == pytest.approx(M / (628.4e-6 * 235e6), rel=5e-3)
    assert other_axis_ratio(standing, "camber", 6.0) == 0.0
    bottom = rest_on_supports(rigging_of(job, "bottom"))
    assert other_axis_ratio(bottom, "sweep", 6.0) == pytest.approx(ratio)


def test_the_hot_section_carries_what_is_left_of_it():
    """EN 1993-1-2, table 3.1: ky = 0.47 at 600, 0.23 at 700 degC; flanges by areas."""
    beam, bar = read(BEAM), read(BAR)
    soft = hot_strength(beam, 650.0)
    assert soft == pytest.approx(0.35, abs=0.01)
    assert hot_moment_share(bar, "camber", 650.0) == pytest.approx(0.25 + 0.75 * soft)
    flanges = 150 * 10.7 * (300 - 10.7) / 628.4e3
    wanted = flanges * (0.25 + 0.75 * soft) + (1 - flanges) * soft
    assert hot_moment_share(beam, "sweep", 650.0) == pytest.approx(wanted, rel=5e-3)
    assert hot_moment_share(beam, "camber", 650.0) == pytest.approx(0.5 * (1 + soft))
    assert hot_moment_share(beam, "sweep", 20.0) == pytest.approx(1.0)
    assert other_axis_margin(beam, "sweep", 0.0, 650.0) is None


@pytest.mark.parametrize(("mass", "heated"), [(400, True), (2500, False)])
def test_sweep_heats_know_of_the_weight_across_them(mass, heated):
    job = read(changed(PURLIN, weight=[{"at": "6 m", "mass": f"{mass} kg"}]))
    found = survey(job, allowed=18e-3, sweep=(Bend(6.0, 15e-3),))
    setup, x, rows = worked_out(job, found)
    _, scheme, row = rows[0]
    cards = cards_of(job, scheme, setup, found.bends, x, BELIEF)
    across = other_axis_ratio(setup.standing, "sweep", 6.0)
    assert (across > MOST) != heated
    assert across > WARNED
    assert bool(cards) == row.possible == heated
    text = " ".join(scheme_cautions(job, setup, scheme))
    assert "Lifting needs" in text
    if not heated:
        assert f"across a heat with {across:.2f} Mp" in row.remark
        assert "Turn it on its side" in text
        assert forecast(scheme, BELIEF, 20).heats == 0
        return
    first = cards[0]
    assert first.moment_ratio == 0.0
    at = other_axis_ratio(setup.standing, "sweep", first.at)
    assert first.other_axis_ratio == pytest.approx(at)
    assert first.hinge_margin == pytest.approx(
        hot_moment_share(job, "sweep", 650.0) / at
    )
    assert any("both flanges are hot" in said for said in first.cautions)
    assert row.hinge_margin <= first.hinge_margin * (1 + 1e-9)


def test_without_weight_across_there_is_no_caution():
    job = read(changed(PURLIN, rig={"up": "right"}))
    found = survey(job, allowed=18e-3, sweep=(Bend(6.0, 15e-3),))
    setup, x, rows = worked_out(job, found)
    cards = cards_of(job, rows[0][1], setup, found.bends, x, BELIEF)
    assert {card.other_axis_ratio for card in cards} == {0.0}


# ---- places that are used up -----------------------------------------------------------


def test_when_all_places_had_their_heats_there_are_none():
    """Heats given wherever it says, until it says no more: three at a place."""
    job = read(BAR)
    x = np.linspace(0.0, 3.0, 121)
    places: list[float] = []
    while True:
        site = heating_site(job, "camber", Bend(1.4, 16e-3), x, 4e-3, 2e-3, places)
        if not site.stations:
            break
        places += site.stations
        assert len(places) < 200
    assert len(places) > 30
    assert max(places.count(at) for at in places) == 3
    assert site.visits == ()
    assert site.shares.shape == (0,)
    heated = [("top", at) for at in places]
    found = survey(job, camber=(Bend(1.4, 16e-3),), heated=heated)
    setup, x, rows = worked_out(job, found)
    _, scheme, row = rows[0]
    assert cards_of(job, scheme, setup, found.bends, x, BELIEF) == ()
    assert forecast(scheme, BELIEF, 20).heats == 0
    assert not row.possible
    assert "had its three heats" in row.remark
    assert any(
        "every place for one had its 3" in s
        for s in scheme_cautions(job, setup, scheme)
    )


def test_a_bend_that_needs_no_end_of_heats_gets_places_all_along():
    job, x = read(BAR), np.linspace(0.0, 3.0, 121)
    site = heating_site(job, "camber", Bend(1.4, 0.3), x, 4e-3, 1e-7)
    assert 0 < len(site.stations) <= job.heats.most


# ---- the published relation, and water ---------------------------------------------------


def test_the_relation_is_refused_for_other_cooling():
    job = read(changed(BAR, heats=QUICK, cooling={"kind": "air jet"}))
    found = survey(job, camber=(Bend(1.4, 16e-3),))
    asked = CurveRequest("camber", ({"angle": "45 deg"},), job.cooling, (0.0, 0.1))
    with pytest.raises(CaseError, match="knows no air jet"):
        estimated_curves(job, [asked])
    assert found.bends


def test_the_relation_is_half_as_sure_against_a_moment():
    job = read(changed(BAR, heats=QUICK))
    patterns = ({"angle": "45 deg"},)
    with_it, against = estimated_curves(
        job,
        [
            CurveRequest("camber", patterns, job.cooling, (0.0, 0.1)),
            CurveRequest("camber", patterns, job.cooling, (-0.05, 0.05)),
        ],
    )
    one, other = response_at(with_it, 0.05), response_at(against, 0.05)
    assert other.turn == pytest.approx(one.turn)
    scale = with_it.scale / against.scale
    assert other.sigma == pytest.approx(
        OPPOSING_SIGMA_FACTOR * one.sigma, rel=abs(scale - 1) + 1e-9
    )


def test_quick_cards_against_a_moment_say_so():
    job = read(changed(BAR, heats=QUICK, rig={"up": "bottom"}))
    found = survey(job, camber=(Bend(1.4, 16e-3),))
    setup, x, rows = worked_out(job, found)
    cards = cards_of(job, rows[0][1], setup, found.bends, x, BELIEF)
    assert any("is doubled here" in said for said in cards[0].cautions)


STEEL = """name = "tank plate"
family = "FAMILY"
yield_stress = "690 MPa"
yield_stress_source = "certificate"
"""


@pytest.fixture(params=["quenched and tempered", "A709-70W or A852", "carbon"])
def family(request, tmp_path):
    (tmp_path / "plate.toml").write_text(STEEL.replace("FAMILY", request.param))
    return request.param


@pytest.mark.parametrize("kind", ["mist", "wet rag", "water stream", "air jet"])
def test_no_water_on_quenched_steel(family, tmp_path, kind):
    from jobs import BAR as CASE

    from shrinksim.views.reading import case_from

    steel = {"file": "plate.toml"}
    job = changed(BAR, steel=steel, cooling={"kind": kind, "start_below": "200 degC"})
    heat = CASE["heat"][0] | {"cooling": {"kind": kind}}
    case = CASE | {"steel": steel, "heat": [heat]}
    wrong = family != "carbon" and kind != "air jet"
    for made in (
        lambda: read(job, tmp_path),
        lambda: case_from(case, "case", tmp_path),
    ):
        if wrong:
            with pytest.raises(CaseError, match=r"cooling\.kind .*can harden or crack"):
                made()
        else:
            made()


def test_mist_is_offered_with_its_danger_and_not_on_quenched_steel(family, tmp_path):
    job = read(changed(BAR, steel={"file": "plate.toml"}), tmp_path)
    _, _, rows = worked_out(job, survey(job, camber=(Bend(1.4, 16e-3),)))
    named = by_name(rows)
    assert ("mist cooling" in named) == (family == "carbon")
    if family == "carbon":
        assert "steam and spatter scald" in named["mist cooling"][0].remark

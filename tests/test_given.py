"""Heats in the log that the job's readings are older than: line, hold, cautions, hash."""

import numpy as np
import pytest
from made_up_survey import survey
from plain_job import BEAM, changed, read
from quick_plan import bar, planned, up
from test_plan_commands import TABLES

from shrinksim.casefile.resolving import toml_text
from shrinksim.commands.cli import main
from shrinksim.commands.plan import _known
from shrinksim.errors import CaseError
from shrinksim.member.job.read import load_job
from shrinksim.member.line import Bend, offsets
from shrinksim.member.log.file import append, log_path
from shrinksim.member.log.log import LoggedHeat, Reading
from shrinksim.member.plan import input_hash as hash_module
from shrinksim.member.plan.cautions import coarse_readings
from shrinksim.member.plan.input_hash import input_hash
from shrinksim.member.plan.next_heat import MovementFactor
from shrinksim.member.plan.plan import make_plan, next_heat
from shrinksim.member.plan.prior import SHOP_SIGMA, prior_sigma

M = 2.3e-3
"""rad that a heat is expected to take off."""


@pytest.fixture
def job_file(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "bar.toml"
    path.write_text(toml_text(TABLES))
    return path


def logged(path, number, turn=M, expected=M, at=1.4, side="top", read_it=True):
    """A heat in the log that turned ``turn``, read 0.1 m from it."""
    sense = 1.0 if side == "top" else -1.0
    fall = sense * offsets([Bend(at, turn)], np.array([1.5]), 3.0)[0]
    texts = ("1.5 m", "20 mm", f"{1e3 * (20e-3 - fall):.3f} mm")
    readings = (Reading("camber", 1.5, 20e-3, 20e-3 - fall, texts),) * read_it
    sigma = expected and 0.3 * expected
    heat = LoggedHeat(
        when="2026-03-02 14:10",
        number=number,
        at=at,
        side=side,
        pattern="vee",
        expected=expected,
        sigma=sigma,
        moment_ratio=0.01,
        readings=readings,
    )
    append(log_path(path), heat, "bar", "metric")


def after(path, number):
    path.write_text(toml_text(changed(TABLES, survey__after_heat=number)))
    return load_job(path)


def plan_of(path, tmp_path, job=None):
    found, movement_factor = _known(job or load_job(path), path)
    return found, make_plan(
        job or load_job(path),
        found,
        store=tmp_path,
        jobs=0,
        movement_factor=movement_factor,
    )


# ---- the line ------------------------------------------------------------------------


def test_heats_after_the_readings_are_off_the_line(job_file):
    """Kinks add up: the fitted line less that of each heat where it was."""
    before = _known(load_job(job_file), job_file)[0].shapes["camber"]
    logged(job_file, 1, 1.8e-3)
    logged(job_file, 2, 2.6e-3, expected=None, at=1.2)
    now = _known(load_job(job_file), job_file)[0].shapes["camber"]
    kinks = offsets([Bend(1.4, 1.8e-3), Bend(1.2, 2.6e-3)], before.x, 3.0)
    assert now.line == pytest.approx(before.line - kinks, abs=2e-6)
    assert len(now.bends) == len(before.bends) == 1
    assert now.bends[0].turn == pytest.approx(before.bends[0].turn - 4.4e-3, abs=2e-6)
    assert now.total == pytest.approx(before.total - 4.4e-3, abs=2e-6)


def test_doubts_of_read_heats_add_in_squares_and_of_unread_ones_in_proportion(job_file):
    """Errors of readings are independent; the factor is common to all heats (Gauss)."""
    before = _known(load_job(job_file), job_file)[0].shapes["camber"]
    logged(job_file, 1)
    logged(job_file, 2)
    lift = offsets([Bend(1.4, 1.0)], np.array([1.5]), 3.0)[0]
    of_reading = 0.5e-3 * 2**0.5 / lift
    read = _known(load_job(job_file), job_file)[0].shapes["camber"]
    unit = offsets([Bend(1.4, 1.0)], before.x, 3.0)
    var = before.band**2 + 2.0 * (of_reading * unit) ** 2
    assert read.band == pytest.approx(np.sqrt(var), rel=1e-6)
    for number in (3, 4):
        logged(job_file, number, read_it=False)
    found, movement_factor = _known(load_job(job_file), job_file)
    var += (2.0 * movement_factor.sigma_of(M) * unit) ** 2
    assert found.shapes["camber"].band == pytest.approx(np.sqrt(var), rel=1e-6)
    gone = before.bends[0].turn - found.shapes["camber"].bends[0].turn
    assert gone == pytest.approx(2 * M + 2 * movement_factor.mean * M, abs=3e-6)


def test_heats_done_are_not_planned_again_and_it_is_said_first(job_file, tmp_path):
    fresh = plan_of(job_file, tmp_path)[1]
    for number in (1, 2, 3):
        logged(job_file, number, read_it=number < 3)
    found, plan = plan_of(job_file, tmp_path)
    assert len(plan.cards) <= len(fresh.cards) - 2
    assert plan.before["camber"].max() < fresh.before["camber"].max() - 4e-3
    first = plan.cautions[0]
    assert "from before heats 1, 2 and 3" in first
    assert "as read after heats 1 and 2" in first
    assert "only as expected of heat 3" in first
    assert "after_heat = 3" in first
    assert found.verdicts[0].deviation == pytest.approx(plan.before["camber"].max())


def test_newer_readings_have_older_heats_in_them(job_file, tmp_path):
    before = _known(load_job(job_file), job_file)[0].shapes["camber"].line
    logged(job_file, 1)
    logged(job_file, 2)
    found, plan = plan_of(job_file, tmp_path, after(job_file, 2))
    assert found.shapes["camber"].line == pytest.approx(before)
    assert found.stale == ()
    assert found.heated == (("top", 1.4),) * 2
    assert "After 2 heats the member moves" in plan.cautions[0]
    found, _ = plan_of(job_file, tmp_path, after(job_file, 1))
    assert "from before heat 2." in found.stale[0]


def test_a_heat_on_the_other_side_makes_a_bend_of_its_own(job_file):
    logged(job_file, 1, expected=None, side="bottom", at=2.4)
    bends = _known(load_job(job_file), job_file)[0].shapes["camber"].bends
    assert [b.at for b in bends] == sorted(b.at for b in bends)
    assert bends[-1].at == 2.4
    assert bends[-1].turn == pytest.approx(M, abs=3e-6)


def test_readings_from_after_heats_that_are_in_no_log_are_refused(job_file, capsys):
    logged(job_file, 1)
    with pytest.raises(CaseError, match=r"after_heat = 2.*holds heats up to 1"):
        _known(after(job_file, 2), job_file)
    job_file.write_text(toml_text(changed(TABLES, survey__after_heat=-1)))
    assert main(["plan", str(job_file)]) == 2
    assert "is not between 0 and 999999" in " ".join(capsys.readouterr().err.split())


# ---- no heats while it goes backwards ------------------------------------------------


def test_a_member_that_goes_backwards_gets_no_cards(job_file, tmp_path, capsys):
    logged(job_file, 1)
    logged(job_file, 2, -3e-3)
    found, plan = plan_of(job_file, tmp_path)
    assert plan.cards == ()
    assert plan.alternatives == ()
    assert plan.chance == 0.0
    assert next_heat(load_job(job_file), found, store=tmp_path, jobs=0) is None
    first = plan.cautions[0]
    assert "heat 2 went backwards" in first
    assert "--strike 2" in first
    assert "after_heat = 2" in first
    assert plan.stop[0] == first
    assert any("Stop and find out why" in text for text in plan.cautions[1:4])
    assert any("read cold?" in text for text in plan.cautions)
    assert main(["plan", str(job_file), "--quiet"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("No heat is planned: heat 2 went backwards")


def test_new_readings_or_striking_the_heat_let_it_go_on(job_file, tmp_path):
    logged(job_file, 1)
    logged(job_file, 2, -3e-3)
    assert plan_of(job_file, tmp_path, after(job_file, 2))[1].cards
    job = after(job_file, 0)
    assert main(["log", str(job_file), "--strike", "2", "--note", "misread"]) == 0
    assert plan_of(job_file, tmp_path, job)[1].cards


def test_a_heat_of_which_nothing_is_known_stops_the_plan(job_file, tmp_path):
    logged(job_file, 1, expected=None, read_it=False)
    plan = plan_of(job_file, tmp_path)[1]
    assert plan.cards == ()
    assert "nobody knows what the line is now" in plan.cautions[0]


def test_what_is_amiss_in_the_log_is_in_the_plan(job_file, tmp_path):
    logged(job_file, 1)
    with log_path(job_file).open("a") as file:
        file.write("2026-03-02 15:10 | heat 2 | at 1.4 m, open at the t\n")
    plan = plan_of(job_file, tmp_path)[1]
    assert "is not finished" in plan.cautions[1]


# ---- what it is made from, and what is thought before ---------------------------------


def test_the_hash_sees_heats_and_physics(job_file, tmp_path, monkeypatch):
    before = plan_of(job_file, tmp_path)[1].input_hash
    assert before == input_hash(load_job(job_file))
    logged(job_file, 1)
    one = plan_of(job_file, tmp_path)[1].input_hash
    main(["log", str(job_file), "--strike", "1", "--note", "misread"])
    assert plan_of(job_file, tmp_path)[1].input_hash == before != one
    monkeypatch.setattr(hash_module, "PHYSICS", "another")
    assert input_hash(load_job(job_file)) != before


def test_the_prior_has_the_model_and_the_shop_in_it(job_file, capsys):
    """Variances of independent factors add."""
    beam = read(BEAM)
    assert prior_sigma(beam) ** 2 == pytest.approx(0.30**2 + SHOP_SIGMA**2)
    assert prior_sigma(bar(heats={})) ** 2 == pytest.approx(0.20**2 + SHOP_SIGMA**2)
    logged(job_file, 1, 1.5e-3)
    capsys.readouterr()
    found, _ = _known(load_job(job_file), job_file)
    assert main(["log", str(job_file)]) == 0
    assert found.log_remarks[0] in " ".join(capsys.readouterr().out.split())


# ---- the words tell the numbers of the rule -------------------------------------------


def test_the_share_of_straight_lines_is_that_of_the_margin(tmp_path):
    plan = planned(bar(), tmp_path, sigma=0.5e-3, camber=up(16e-3))
    assert "(95 in 100 lines that read just so are straight)" in plan.stop[0]
    assert not list(coarse_readings(bar(), survey(bar(), camber=up(16e-3))))
    coarse = planned(bar(), tmp_path, sigma=4e-3, camber=up(16e-3))
    line = 4e-3 * 1.4 * 1.6 / 3.0  # band: turn of 1 rad at 1.4 m lifts that far
    assert 1.645 * line > 2e-3
    assert "(75 in 100 lines" in coarse.stop[0]  # normal table: 2 / 2.99 -> 0.748
    assert any("read too coarsely for its tolerance" in c for c in coarse.cautions)


@pytest.mark.parametrize("mean", [0.5, 1.0, 1.6])
def test_the_spread_that_is_told_is_that_of_the_cards(tmp_path, mean):
    """A heat is told to hypot(sigma / mean, scatter) of what it moves."""
    plan = planned(bar(), tmp_path, MovementFactor(mean, 0.2, 0.25), camber=up(16e-3))
    share = (0.2**2 / mean**2 + 0.25**2) ** 0.5
    assert plan.cards[0].sigma == pytest.approx(share * plan.cards[0].move)
    assert f"a heat is told to {100 * share:.0f} %" in " ".join(plan.stop)
    small = next(s for s in plan.stop if "also when less than" in s)
    move, sigma = small.split("turns it by ")[1].split(", give or take ")
    told = float(sigma.split(" mrad")[0]) / float(move.split(" mrad")[0])
    assert told == pytest.approx(share, abs=0.02)

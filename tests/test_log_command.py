"""``shrinksim log``: what is typed, what is written, what is said, exit codes."""

from __future__ import annotations

import io
import shutil

import pytest
from made_up_plan import made_up_plan

from shrinksim.commands.cli import main
from shrinksim.member.job.read import load_job
from shrinksim.member.log.file import read_log
from shrinksim.member.plan.page import write_plan
from shrinksim.process import machine

JOB = """
title = "Shed purlin"
[member]
section = "IPE 300"
length = "12 m"
[steel]
grade = "S235"
[survey]
reading_error = "1 mm"
camber_line = "bottom"
camber = [["0 m", "50 mm"], ["6 m", "112 mm"], ["12 m", "50 mm"]]
[tolerance]
camber = "18 mm"
[[support]]
at = "1 m"
[[support]]
at = "11 m"
"""


@pytest.fixture
def job(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "purlin.toml"
    path.write_text(JOB, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    """A folder with the job and its plan, whose figures take their time."""
    folder = tmp_path_factory.mktemp("drawn")
    path = folder / "purlin.toml"
    path.write_text(JOB, encoding="utf-8")
    plan = made_up_plan(load_job(path), heats=4)
    write_plan(plan, load_job(path), folder / "results" / "purlin", path)
    return folder


@pytest.fixture
def planned(job, drawn, tmp_path):
    shutil.copytree(drawn, tmp_path, dirs_exist_ok=True)
    return job


def log_of(job):
    return read_log(job.with_name("purlin_log.txt"))


def test_a_heat_is_logged_with_what_the_plan_expected(planned, capsys):
    assert main(["log", "purlin.toml", "-r", "6 m: 112 mm to 98 mm", "3 m: 80 mm to 74 mm",
                 "--weather", "4 degC", "--note", "windy | cold"]) == 0  # fmt: skip
    said = " ".join(capsys.readouterr().out.split())
    assert "Heat 1 is in purlin_log.txt" in said
    assert "it behaves as predicted" in said
    (heat,) = log_of(planned).heats
    assert (heat.at, heat.side, heat.weather, heat.note) == (
        5.4, "top", "4 degC", "windy / cold",
    )  # fmt: skip
    assert heat.expected == pytest.approx(4.6e-3)
    assert heat.sigma == pytest.approx(1.84e-3)
    assert heat.moment_ratio == pytest.approx(0.06)
    assert len(heat.readings) == 2


def test_the_offset_before_comes_from_the_survey_and_then_from_the_log(planned):
    assert main(["log", "purlin.toml", "-r", "6 m: 98 mm"]) == 0
    assert main(["log", "purlin.toml", "-r", "6 m: 85 mm"]) == 0
    first, second = (heat.readings[0] for heat in log_of(planned).heats)
    assert (first.before, first.after) == pytest.approx((0.112, 0.098))
    assert (second.before, second.after) == pytest.approx((0.098, 0.085))


def test_backwards_is_said_with_what_to_look_at(planned, capsys):
    assert main(["log", "purlin.toml", "-r", "6 m: 112 mm to 125 mm"]) == 0
    out = capsys.readouterr().out
    assert "went backwards" in out
    assert "Look at this before the next heat" in out
    assert main(["log", "purlin.toml"]) == 0
    out = capsys.readouterr().out
    assert "heat 1 |" in out
    assert "went backwards" in out


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (["-r", "6 m: 5"], "has no unit"), (["-r", "6 m"], "is no reading"),
        (["-r", "13 m: 5 mm to 4 mm"], "off the member"),
        (["-r", "6 m: 98 mm", "--heat", "9"], "no plan in results/purlin has a heat 9"),
        (["-r", "6 m: 98 mm", "--heat", "0"], "heats count from 1"),
        (["-r", "6 m: 98 mm", "--at", "15 m", "--side", "top"], "off the member"),
        (["-r", "6 m: 98 mm", "--at", "6"], "has no unit"),
        (["-r", "5 m: 98 mm"], "no earlier camber reading at 5 m"),
        (["--strike", "3"], "no heat 3"),
    ],
)  # fmt: skip
def test_bad_input_writes_nothing_and_says_why(planned, capsys, typed, said):
    assert main(["log", "purlin.toml", *typed]) == 2
    assert said in capsys.readouterr().err
    assert log_of(planned).heats == ()


def test_all_faults_of_readings_at_once(planned, capsys):
    assert main(["log", "purlin.toml", "-r", "6 m: 5", "3 kg: 4 mm"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 2


def test_a_heat_without_a_plan_is_logged_but_not_learnt_from(job, capsys):
    assert main(["log", "purlin.toml", "-r", "6 m: 98 mm"]) == 2
    assert "--at" in capsys.readouterr().err
    typed = ["-r", "6 m: 112 mm to 98 mm", "--at", "6 m", "--side", "top"]
    assert main(["log", "purlin.toml", *typed]) == 0
    assert "nothing is learnt" in capsys.readouterr().out
    (heat,) = log_of(job).heats
    assert heat.expected is None


def test_elsewhere_than_planned_takes_nothing_from_the_card(planned):
    typed = ["-r", "6 m: 112 mm to 98 mm", "--at", "7 m"]
    assert main(["log", "purlin.toml", *typed]) == 0
    (heat,) = log_of(planned).heats
    assert (heat.at, heat.expected, heat.pattern) == (7.0, None, "")


def test_questions_are_answered_line_by_line(planned, monkeypatch):
    answers = "6 m\n112 mm\n98 mm\n3 m\n80\n75 mm\n3 m\n80 mm\n75 mm\n\n4 degC\nlong\n"
    monkeypatch.setattr("sys.stdin", io.StringIO(answers))
    assert main(["log", "purlin.toml", "--ask"]) == 0
    (heat,) = log_of(planned).heats
    assert [r.texts for r in heat.readings] == [
        ("6 m", "112 mm", "98 mm"), ("3 m", "80 mm", "75 mm"),
    ]  # fmt: skip
    assert (heat.weather, heat.note) == ("4 degC", "long")


def test_the_end_of_the_answers_leaves_the_log_alone(planned, monkeypatch):
    monkeypatch.setattr("sys.stdin", io.StringIO("6 m\n112 mm\n"))
    assert main(["log", "purlin.toml", "--ask"]) == 130
    assert not planned.with_name("purlin_log.txt").exists()


def test_a_struck_heat_is_given_again(planned, capsys):
    main(["log", "purlin.toml", "-r", "6 m: 112 mm to 89 mm"])
    assert main(["log", "purlin.toml", "--strike", "1", "--note", "misread"]) == 0
    assert "struck" in capsys.readouterr().out
    assert main(["log", "purlin.toml", "-r", "6 m: 98 mm"]) == 0
    (heat,) = log_of(planned).heats
    assert heat.number == 1
    assert heat.readings[0].before == pytest.approx(0.112)


def test_kernels_are_kept_where_one_may_write(job, monkeypatch, capsys):
    """On a read-only install numba refuses to load what has no place for its cache."""
    settled = []
    monkeypatch.setattr(machine, "set_up_process", lambda: settled.append(True))
    assert main(["log", "purlin.toml"]) == 0
    assert settled == [True]
